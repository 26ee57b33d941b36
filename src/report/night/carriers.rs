//! The carriers that stood through a night: where, from when to when, how strong. Whose they are, the reader may
//! know.

use crate::night::result::{NightCarrier, NightFacts};
use crate::notes::NOTES;
use crate::report::night::words::{hours, time_of};
use crate::text::{Column, Document, Table, Words, and, clock, number};

/// Rows of the table. Chosen: it is read on one screen; the rest stands in the JSON.
const MOST_ROWS: usize = 16;
/// A carrier that moved by less did not move as far as the spectra tell: a bin (`FramePlan`: at most 6 Hz).
const MOVED_HZ: f64 = 6.0;

pub(crate) fn write(doc: &mut Document, night: &NightFacts) {
    if night.carriers.is_empty() {
        return;
    }
    doc.heading(2, "Carriers through the night");
    doc.paragraph(NOTES.night_carriers.as_str());
    let mut table = Table::new([
        Column::number("Pitch, Hz"),
        Column::text("First heard"),
        Column::text("Last heard"),
        Column::number("Stood for"),
        Column::number("Level, dBFS"),
        Column::number("Eight tenths of the time within, dB"),
        Column::text("Added in episode"),
    ]);
    let dated = night.duration_s >= 86_400.0;
    let time = |at_s: f64| hours(Some(&time_of(night, at_s)), at_s, true, dated);
    for carrier in night.carriers.iter().take(MOST_ROWS) {
        let [low, middle, high] = carrier.level_dbfs;
        let episodes: Vec<String> = carrier.episodes.iter().map(ToString::to_string).collect();
        table.row([
            pitch(carrier),
            time(carrier.first_s),
            time(carrier.last_s),
            clock(carrier.stood_s),
            number(middle, 1),
            number((high - low).max(0.0), 1),
            and(&episodes),
        ]);
    }
    doc.table(table);
    let more = night.carriers.len().saturating_sub(MOST_ROWS);
    if more > 0 {
        doc.paragraph(Words::prose(&format!("{more} more stand in `report.json`.")));
    }
}

/// "1204", or "1204 to 1188" for one that drifted.
fn pitch(carrier: &NightCarrier) -> String {
    let first = number(carrier.first_hz, 0);
    match (carrier.last_hz - carrier.first_hz).abs() >= MOVED_HZ {
        true => format!("{first} to {}", number(carrier.last_hz, 0)),
        false => first,
    }
}
