//! A device in full: what each comparison says, its ladder, its figures and tables.

use crate::contrast::Character;
use crate::contrast::comparison::{AddedLine, ContrastResult};
use crate::contrast::words::{excess, kind, trust};
use crate::findings::known_noise::words::known_noise;
use crate::findings::ladder::{table as ladder, words as remedies};
use crate::findings::receiver_check::words as receiver;
use crate::report::contract::Report;
use crate::report::devices::Device;
use crate::report::verdict::sentence;
use crate::text::{
    Column, Document, Table, Words, capital, count, db, full_sentence, hz, label, number, or_dash, percent,
};

/// Added lines shown of each contrast; all are in the tables beside the report.
const LINES_SHOWN: usize = 6;
/// Below this a line stands still: less than a bin in a minute.
const STEADY_HZ_PER_S: f64 = 0.05;

impl Device<'_> {
    pub(crate) fn write(&self, doc: &mut Document, report: &Report) {
        doc.heading(2, capital(&label(self.name)));
        for ladder in &self.ladders {
            doc.heading(3, "Remedies in order");
            doc.table(ladder::table(ladder, &report.contrasts));
            remedies::section(doc, ladder, &report.contrasts);
        }
        if !self.ladders.is_empty() {
            doc.heading(3, "Comparisons");
        }
        if self.contrasts.iter().all(|c| c.is_void()) {
            doc.paragraph("No figures: what was compared is void. The causes are under \"Every warning\".");
        } else {
            doc.table(self.contrast_table(report));
        }
        doc.list(self.remarks(report));
        let shows = |c: &ContrastResult, id: &Option<String>| id.as_ref() == Some(&c.id);
        for contrast in &self.contrasts {
            report.figures.iter().filter(|f| shows(contrast, &f.contrast)).for_each(|f| doc.picture(f));
        }
        self.write_lines(doc, report);
    }

    fn contrast_table(&self, report: &Report) -> Table {
        let several = report.comparisons().are_of_several_settings();
        let mut table = Table::new([
            Column::text("Setting"),
            Column::text("Remedy"),
            Column::number("Excess, dB (95 %)"),
            Column::number("With lines and pulses, dB"),
            Column::number("Would have been noticed, dB"),
            Column::number("A signal loses, dB"),
            Column::text("Kind"),
            Column::number("How sure of the kind"),
            Column::text("Trust"),
        ]);
        for &c in &self.contrasts {
            let void = c.is_void();
            table.row([
                if several { report.comparisons().setting_name(&c.setting).into() } else { Words::default() },
                c.remedy.as_deref().map_or_else(|| "none".to_owned(), label).into(),
                excess(c).into(),
                or_dash(c.total_excess_db.filter(|_| !void)).into(),
                or_dash(c.detection_limit_db.filter(|_| !void)).into(),
                or_dash(c.snr_loss_db.filter(|_| !void)).into(),
                kind(c).into(),
                if void { "–".into() } else { percent(c.confidence).into() },
                trust(c),
            ]);
        }
        table
    }

    /// What the verdicts rest on, one item a comparison.
    fn remarks(&self, report: &Report) -> Vec<Words> {
        let mut remarks = Vec::new();
        for &c in &self.contrasts {
            if c.is_void() {
                remarks.push(sentence(c, report).into());
                continue;
            }
            // Of the others the tables and the short report have told what the sentence says.
            let in_full = c.is_doubtful() || c.character == Character::Unclear;
            let mut sentences: Vec<String> = in_full.then(|| sentence(c, report)).into_iter().collect();
            sentences.extend(c.evidence.iter().map(|e| capital(&full_sentence(e))));
            sentences.extend(over_frequency(c));
            sentences.extend(c.gain_reference.as_ref().map(|g| {
                format!(
                    "Levels are taken against the carrier at {}, which stands in both states (it moved by {}), so a \
                     gain that changed does not spoil them.",
                    hz(g.freq_hz),
                    db(g.shift_db)
                )
            }));
            sentences.extend(receiver::of_contrast(c));
            sentences.extend(known_noise(c));
            sentences.extend(lost_lines(c));
            if !sentences.is_empty() {
                remarks.push(self.which(c, report).then(sentences.join(" ")));
            }
        }
        remarks
    }

    /// Which of several comparisons is meant.
    fn which(&self, c: &ContrastResult, report: &Report) -> Words {
        let remedy = c.remedy.as_deref().map_or_else(|| "without a remedy".to_owned(), label);
        let words = match self.contrasts.iter().any(|other| other.setting != c.setting) {
            true => format!("{}, {remedy}", report.comparisons().setting_name(&c.setting)),
            false => remedy,
        };
        match self.contrasts.len() {
            1 => Words::default(),
            _ => Words::strong(format!("{}:", capital(&words))).then(" "),
        }
    }

    fn write_lines(&self, doc: &mut Document, report: &Report) {
        let mut table = Table::new([
            Column::text("Remedy"),
            Column::number("Audio, Hz"),
            Column::number("On the air, kHz"),
            Column::number("Level, dBFS"),
            Column::number("Over the noise in 1 Hz, dB"),
            Column::number("There in"),
            Column::number("Drift, Hz/s"),
            Column::text("Pulses with the mains"),
        ]);
        let several = self.contrasts.len() > 1;
        let mut hidden = 0;
        for c in self.contrasts.iter().filter(|c| !c.is_void()) {
            hidden += c.added_lines.len().saturating_sub(LINES_SHOWN);
            for line in c.added_lines.iter().take(LINES_SHOWN) {
                let remedy = c.remedy.as_deref().map_or_else(|| "none".to_owned(), label);
                let on_air = report
                    .comparisons()
                    .on_air_khz(&c.setting, line.freq_hz)
                    .map_or_else(String::new, |khz| number(khz, 3));
                let [audio, level, cnr, share, drift, mains] = line_cells(line);
                table.row([
                    if several { remedy } else { String::new() },
                    audio,
                    on_air,
                    level,
                    cnr,
                    share,
                    drift,
                    mains,
                ]);
            }
        }
        if table.is_empty() {
            return;
        }
        doc.heading(3, "Carriers that came with the device");
        doc.table(table);
        if hidden > 0 {
            let weaker = count(hidden, "weaker carrier", "weaker carriers");
            doc.paragraph(Words::prose(&format!("{weaker} in `report.json`.")));
        }
    }
}

fn line_cells(line: &AddedLine) -> [String; 6] {
    let still = line.drift_hz_per_s.abs() < STEADY_HZ_PER_S;
    [
        number(line.freq_hz, 1),
        number(line.level_db, 1),
        number(line.cnr_db_hz, 1),
        percent(line.presence),
        if still { "steady".to_owned() } else { number(line.drift_hz_per_s, 2) },
        if line.mains_sidebands { "yes".to_owned() } else { String::new() },
    ]
}

/// Where in the passband the excess is least and most, if that differs by more than the intervals allow.
fn over_frequency(c: &ContrastResult) -> Option<String> {
    let most = c.bands.iter().max_by(|a, b| a.excess_db.total_cmp(&b.excess_db))?;
    let least = c.bands.iter().min_by(|a, b| a.excess_db.total_cmp(&b.excess_db))?;
    (most.excess_ci_db[0] > least.excess_ci_db[1]).then(|| {
        format!(
            "Over frequency the excess goes from {} near {} Hz to {} near {} Hz.",
            db(least.excess_db),
            number(least.freq_hz, 0),
            db(most.excess_db),
            number(most.freq_hz, 0)
        )
    })
}

fn lost_lines(c: &ContrastResult) -> Option<String> {
    let strongest = c.lost_lines.first()?;
    let why = if c.lost_lines_masked { "; the louder noise may merely hide what is gone" } else { "" };
    let lines = count(c.lost_lines.len(), "line stands", "lines stand");
    Some(format!("{lines} in the off state only, the strongest at {}{why}.", hz(strongest.freq_hz)))
}
