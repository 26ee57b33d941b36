//! The same noise at several places in words.

use crate::contrast::words::{kind_word, thing};
use crate::findings::picture::{FigureFile, FigureKind};
use crate::findings::places::result::PlaceResult;
use crate::text::{Column, Document, Table, Words, and_at_most, capital, db, interval, label, number};

/// Places named in a sentence.
const MOST_NAMED: usize = 4;

/// What a level tells by itself, and what it does not.
const CAUTION: &str = "A level alone points at nobody: how the antenna is held and which way it faces, wires, fences and \
    pipes that carry the noise, and a metre more or less change it. At each place turn the antenna for the loudest, \
    note the direction, and follow the level from place to place. Stay on ground that is open to you.";

/// Places of one walk.
pub(super) fn walks(places: &[PlaceResult]) -> Vec<&[PlaceResult]> {
    places.chunk_by(|a, b| a.setting == b.setting && a.device == b.device).collect()
}

/// "by the fence", "by the fence (40 m, 135°)".
fn named(place: &PlaceResult) -> String {
    let facts: Vec<String> = [
        place.distance_m.map(|m| format!("{} m", number(m, 0))),
        place.bearing_deg.map(|degrees| format!("{}°", number(degrees, 0))),
    ]
    .into_iter()
    .flatten()
    .collect();
    let name = label(&place.place);
    if facts.is_empty() { name } else { format!("{name} ({})", facts.join(", ")) }
}

/// Where it is loudest, by how much, and whether it is the same noise everywhere.
fn sentence(walk: &[PlaceResult]) -> (String, String) {
    let noise = walk[0].device.as_deref().map_or_else(|| "the noise".to_owned(), thing);
    let heard: Vec<&PlaceResult> = walk.iter().filter(|place| place.level_db.is_some()).collect();
    let (Some(loudest), of) = (heard.first(), walk.len()) else {
        return ("Not heard".to_owned(), format!(": {noise} shows at none of {} places.", walk.len()));
    };
    let head = format!("{}:", capital(&label(&loudest.place)));
    let over = match (heard.get(1), heard.last()) {
        (Some(second), Some(quietest)) => {
            let level = |place: &PlaceResult| place.level_db.unwrap_or_default();
            let first = level(loudest) - level(second);
            let sure = loudest.level_ci_db.zip(second.level_ci_db).is_none_or(|([low, _], [_, high])| low > high);
            let next = if sure {
                format!("{} above the next place, {}", db(first), label(&second.place))
            } else {
                format!("though not for certain louder than {}", label(&second.place))
            };
            if heard.len() > 2 {
                format!(
                    ", {next}, and {} above the quietest, {}",
                    db(level(loudest) - level(quietest)),
                    label(&quietest.place)
                )
            } else {
                format!(", {next}")
            }
        }
        _ => format!(", of {of} places the only one where it shows"),
    };
    let named = |same: Option<bool>| {
        let here = heard.iter().skip(1).filter(|place| place.same == same);
        here.map(|place| label(&place.place)).collect::<Vec<_>>()
    };
    let (alike, others, untold) = (named(Some(true)), named(Some(false)), named(None));
    let mut same = match (alike.len(), others.len() + untold.len()) {
        (0, _) => String::new(),
        (_, 0) => " By its traits it is the same noise at all of them.".to_owned(),
        _ => format!(" The same noise, by its traits: {}.", and_at_most(&alike, MOST_NAMED)),
    };
    if !others.is_empty() {
        same += &format!(" Another one: {}.", and_at_most(&others, MOST_NAMED));
    }
    if !untold.is_empty() {
        same += &format!(
            " Whether it is the same can't be told, as too much of the level is the band's: {}. An off would tell.",
            and_at_most(&untold, MOST_NAMED)
        );
    }
    let provided = if walk[0].gain_known { "" } else { ", if AGC was off (the labels don't say)" };
    (head, format!(" {noise} is loudest there{over}{provided}.{same}"))
}

/// For the head of the report.
pub(crate) fn verdict(places: &[PlaceResult]) -> Vec<Words> {
    let told = walks(places).into_iter().map(sentence);
    told.map(|(head, rest)| Words::strong(head).then(rest)).collect()
}

/// For the terminal.
pub(crate) fn terminal(places: &[PlaceResult]) -> Vec<String> {
    walks(places).into_iter().map(sentence).map(|(head, rest)| head + &rest).collect()
}

/// For the post.
pub(crate) fn digest(places: &[PlaceResult]) -> Vec<String> {
    let said = |place: &PlaceResult| match place.level_db {
        Some(level) => format!("{} {} dBFS", label(&place.place), number(level, 1)),
        None => format!("{} not heard", label(&place.place)),
    };
    let of = |walk: &[PlaceResult]| format!("by place: {}", walk.iter().map(said).collect::<Vec<_>>().join(", "));
    walks(places).into_iter().map(of).collect()
}

/// Picture and table, as the walk was the work of the day.
pub(crate) fn short_section(doc: &mut Document, places: &[PlaceResult], figures: &[FigureFile]) {
    if places.is_empty() {
        return;
    }
    doc.heading(2, "From place to place");
    figures.iter().filter(|f| f.kind == FigureKind::Places).for_each(|f| doc.picture(f));
    for walk in walks(places) {
        table(doc, walk);
    }
    doc.paragraph(CAUTION);
}

fn table(doc: &mut Document, walk: &[PlaceResult]) {
    let mut table = Table::new([
        Column::text("Place"),
        Column::number("Level, dBFS (95 %)"),
        Column::number("Above the quietest, dB"),
        Column::number("Likeness"),
        Column::text("Kind"),
        Column::text("Trust"),
    ]);
    let quietest = walk.iter().filter_map(|place| place.level_db).fold(f64::INFINITY, f64::min);
    for place in walk {
        table.row([
            named(place),
            match (place.level_db, place.level_ci_db, place.below_db) {
                (Some(level), Some(ci), _) => format!("{} ({})", number(level, 1), interval(ci)),
                (Some(level), None, _) => number(level, 1),
                (None, _, Some(below)) => format!("not heard, below {}", number(below, 1)),
                (None, _, None) => "–".to_owned(),
            },
            place.level_db.map_or_else(String::new, |level| number(level - quietest, 1)),
            place.likeness.map_or_else(String::new, |likeness| number(likeness, 2)),
            if place.level_db.is_some() { kind_word(place.character).to_owned() } else { String::new() },
            place.trust.word().to_owned(),
        ]);
    }
    doc.table(table);
}

/// What the levels are of, and how likeness is told.
pub(crate) fn section(doc: &mut Document, places: &[PlaceResult]) {
    if places.is_empty() {
        return;
    }
    doc.heading(2, "How the places compare");
    let off = match places.iter().find(|place| !place.off.is_empty()) {
        None => {
            "No recording without the noise was made, so each level is of the whole noise at its place, the band's and \
             the receiver's part too: places near the quietest differ more than they seem to."
        }
        Some(place) if place.off_is_there => {
            "Each level is of what on has more than off at the same place: the device's own part."
        }
        Some(_) => {
            "Each level is of what on has more than off. Off was not recorded at every place, so the band is taken to be \
             the same everywhere."
        }
    };
    doc.paragraph(format!("{off} dBFS: of the recording's full scale, with the gain the same at every place."));
    doc.paragraph(
        "Likeness is the resemblance of known noises, exp(−d²/2), to the loudest place: 1 where nothing differs, 0.61, \
         0.14 and 0.01 where shape, pulsing, clicks and carriers differ on the whole by once, twice and three times \
         what a device's own scatter when it is heard again. Below 0.25 it counts as another noise, where it stands clear of the band.",
    );
}
