//! What the steps of a ladder come to together: what a choke can still do, which carriers stayed, what came to
//! light. Not here: the table of the steps (`table`).

use crate::contrast::comparison::ContrastResult;
use crate::findings::ladder::result::{
    Appeared, AppearedWhat, ChokeForecast, ChokeResult, ChokeVerdict, FollowedCarrier, Ladder, Origin,
};
use crate::notes::NOTES;
use crate::text::{
    Column, Document, Table, Words, and_at_most, capital, count, db, hz, interval, label, number, percent,
};

/// Frequencies named in one sentence; the rest are counted.
const MOST_NAMED: usize = 4;
/// Carriers in the table.
const MOST_FOLLOWED: usize = 6;

/// What choke theory advises, for the steps to do next: "More ferrite on this lead would buy little: …".
pub(crate) fn next_step(ladder: &Ladder) -> Option<Words> {
    let fit = ladder.choke_fit.as_ref()?;
    let said = match fit.verdict {
        ChokeVerdict::NoUse => NOTES.ferrite_no_use_short.clone(),
        ChokeVerdict::Flattens => NOTES.ferrite_flattens_short.clone(),
        ChokeVerdict::Worse => NOTES.ferrite_worse_short.clone(),
        ChokeVerdict::Fits if is_left_behind(ladder) => return None,
        ChokeVerdict::Fits => format!("{}.", more_pieces(fit.forecasts.first()?, ladder)),
        ChokeVerdict::Unsure | ChokeVerdict::PoorFit => return None,
    };
    Some(Words::strong(format!("{}:", capital(&label(&ladder.device)))).then(format!(" {said}")))
}

/// What came after a remedy, for the verdict: a sentence for what is new, one for what the noise had hidden.
pub(crate) fn appeared_in_short(ladder: &Ladder) -> Vec<String> {
    let of = |origin: Origin| things_counted(ladder, origin);
    let hidden = of(Origin::Unmasked).map(|what| format!("Hidden before by the louder noise: {what}."));
    let new = of(Origin::New).map(|what| format!("New after a remedy: {what}."));
    new.into_iter().chain(hidden).collect()
}

/// "2 carriers", "1 noise"; nothing where there are none.
fn things_counted(ladder: &Ladder, origin: Origin) -> Option<String> {
    let found: Vec<&Appeared> = ladder.unmasked.iter().filter(|a| a.origin == origin).collect();
    let carriers = found.iter().all(|a| a.freq_hz.is_some());
    let (one, many) = if carriers { ("carrier", "carriers") } else { ("noise", "noises") };
    (!found.is_empty()).then(|| count(found.len(), one, many))
}

/// Everything below the table of steps.
pub(crate) fn section(doc: &mut Document, ladder: &Ladder, contrasts: &[ContrastResult]) {
    if ladder.steps.iter().any(|step| step.s_reading.is_some()) {
        doc.paragraph(NOTES.s_values.as_str());
    }
    let mut items = ladder.notes.clone();
    items.extend(appeared(ladder, contrasts));
    doc.list(items);
    followed(doc, ladder);
    if let Some(fit) = &ladder.choke_fit {
        doc.paragraph(choke(fit, ladder));
        doc.paragraph(NOTES.ferrite_grades.as_str());
    }
}

fn choke(fit: &ChokeResult, ladder: &Ladder) -> String {
    let mut sentences = vec![match fit.verdict {
        ChokeVerdict::NoUse => NOTES.ferrite_no_use.clone(),
        ChokeVerdict::Flattens => flattened(fit),
        ChokeVerdict::Worse => NOTES.ferrite_worse.clone(),
        ChokeVerdict::PoorFit => NOTES.ferrite_poor_fit.clone(),
        ChokeVerdict::Unsure => NOTES.ferrite_unsure.clone(),
        ChokeVerdict::Fits => fits(fit),
    }];
    if !fit.forecasts.is_empty() {
        let said: Vec<String> = fit.forecasts.iter().map(|f| forecast(f, ladder)).collect();
        sentences.push(format!("{}.", capital(&said.join("; "))));
        sentences.push(NOTES.ferrite_forecast.clone());
        if fit.degrees_of_freedom == 0 {
            sentences.push(NOTES.ferrite_untested.clone());
        }
    }
    sentences.join(" ")
}

fn fits(fit: &ChokeResult) -> String {
    let ratio = match (fit.ratio, fit.ratio_ci) {
        (Some(r), Some((low, Some(high)))) => format!("{} times ({} to {})", two(r), two(low), two(high)),
        (Some(r), Some((low, None))) => format!("{} times (at least {})", two(r), two(low)),
        _ => "an unknown part of".to_owned(),
    };
    format!(
        "Ferrite: the steps fit a choke in series; one piece with one turn has {ratio} the impedance of the lead."
    )
}

fn flattened(fit: &ChokeResult) -> String {
    let share = match (fit.bypass_share, fit.bypass_ci) {
        (Some(share), Some([low, high])) => {
            format!("{} ({} to {})", percent(share), percent(low), percent(high))
        }
        _ => "much".to_owned(),
    };
    format!(
        "Ferrite: the first of it helped, more took off less than a choke in series must. So about {share} of the \
         device's noise power passes this ferrite by (by another lead, or radiated by the device itself), or the \
         ferrite has reached its limit at this frequency. More of the same would do little."
    )
}

fn two(value: f64) -> String {
    number(value, if value.abs() < 10.0 { 2 } else { 0 })
}

fn more_pieces(f: &ChokeForecast, ladder: &Ladder) -> String {
    let now = ladder.steps.iter().filter_map(|s| s.ferrites).max().unwrap_or(0);
    format!(
        "{} of the same would take a further {} to {} off the device's own noise",
        count(f.ferrites.saturating_sub(now) as usize, "more piece", "more pieces"),
        number(f.attenuation_range_db[0], 1),
        db(f.attenuation_range_db[1])
    )
}

fn forecast(f: &ChokeForecast, ladder: &Ladder) -> String {
    let now = ladder.steps.iter().filter_map(|s| s.ferrites).max().unwrap_or(0);
    let left = format!("and leave {} to {} of excess", number(f.excess_range_db[0], 1), db(f.excess_range_db[1]));
    if f.ferrites > now {
        return format!("{} {left}", more_pieces(f, ladder));
    }
    format!(
        "one more turn through each piece instead ({} in all) would take {} to {} off {left}",
        f.turns,
        number(f.attenuation_range_db[0], 1),
        db(f.attenuation_range_db[1])
    )
}

/// Origin, and what is said of one thing and of several.
const ORIGINS: [(Origin, &str, &str); 3] = [
    (
        Origin::New,
        "new: it would have stood out above the earlier noise, and did not",
        "new: they would have stood out above the earlier noise, and did not",
    ),
    (
        Origin::Unmasked,
        "come to light: the earlier, louder noise would have hidden it",
        "come to light: the earlier, louder noise would have hidden them",
    ),
    (
        Origin::Unclear,
        "there, and whether it is new or was hidden before can't be told",
        "there, and whether they are new or were hidden before can't be told",
    ),
];

/// A sentence for each step and origin.
fn appeared(ladder: &Ladder, contrasts: &[ContrastResult]) -> Vec<String> {
    let mut sentences = Vec::new();
    for step in &ladder.steps {
        let here = |origin: Origin| -> Vec<&Appeared> {
            ladder.unmasked.iter().filter(|a| a.contrast == step.contrast && a.origin == origin).collect()
        };
        let remedy = contrasts.iter().find(|c| c.id == step.contrast).and_then(|c| c.remedy.as_deref());
        let when = remedy.map_or_else(|| "Without a remedy".to_owned(), |r| format!("With \"{}\"", label(r)));
        for (origin, single, several) in ORIGINS {
            let found = here(origin);
            if !found.is_empty() {
                let one = found.len() == 1 && found[0].what != AppearedWhat::Clicks;
                let verb = match (origin, one) {
                    (Origin::Unmasked, true) => "has",
                    (Origin::Unmasked, false) => "have",
                    (Origin::New | Origin::Unclear, true) => "is",
                    (Origin::New | Origin::Unclear, false) => "are",
                };
                let words = if one { single } else { several };
                sentences.push(format!("{when}, {} {verb} {words}.", things(&found)));
            }
        }
    }
    sentences
}

/// "a carrier at 1318 Hz", "carriers at 900 Hz and 1318 Hz and some buzz".
fn things(found: &[&Appeared]) -> String {
    let places: Vec<String> = found.iter().filter_map(|a| a.freq_hz).map(hz).collect();
    let mut names: Vec<String> = Vec::new();
    match places.len() {
        0 => {}
        1 => names.push(format!("a carrier at {}", places[0])),
        _ => names.push(format!("carriers at {}", and_at_most(&places, MOST_NAMED))),
    }
    names.extend(found.iter().filter(|a| a.freq_hz.is_none()).map(|a| match a.what {
        AppearedWhat::Clicks => "clicks".to_owned(),
        AppearedWhat::Buzz => "some buzz".to_owned(),
        AppearedWhat::Hash => "some hash".to_owned(),
        AppearedWhat::Carrier => "some carrier".to_owned(),
    }));
    names.join(" and ")
}

/// The carriers that more than one step shows.
fn followed(doc: &mut Document, ladder: &Ladder) {
    let seen = |c: &&FollowedCarrier| c.steps.iter().filter(|s| s.level_db.is_some()).count() > 1;
    let mut table = Table::new([
        Column::number("Carrier, Hz"),
        Column::number("Step"),
        Column::number("Now at, Hz"),
        Column::number("Level, dBFS"),
        Column::number("Took off, dB (95 %)"),
    ]);
    for carrier in ladder.carriers.iter().filter(seen).take(MOST_FOLLOWED) {
        for (i, step) in carrier.steps.iter().enumerate() {
            let gone = || {
                step.needed_db
                    .map_or_else(|| "–".to_owned(), |needed| format!("not seen (below {})", number(needed, 1)))
            };
            table.row([
                number(carrier.freq_hz, 1),
                i.to_string(),
                step.freq_hz.map_or_else(|| "–".to_owned(), |f| number(f, 1)),
                step.level_db.map_or_else(gone, |level| number(level, 1)),
                match (step.bought_db, step.bought_ci_db) {
                    (Some(bought), Some(ci)) => format!("{} ({})", number(bought, 1), interval(ci)),
                    _ => "–".to_owned(),
                },
            ]);
        }
    }
    if !table.is_empty() {
        doc.paragraph(format!("Carriers of the {}, followed from step to step:", label(&ladder.device)));
        doc.table(table);
    }
}

/// Whether the last step is another remedy than ferrite, so that more of it is no next step.
fn is_left_behind(ladder: &Ladder) -> bool {
    ladder.steps.last().is_some_and(|step| step.ferrites.is_none())
}

/// What choke theory makes of the steps.
pub(crate) fn digest(ladder: &Ladder) -> Option<String> {
    let fit = ladder.choke_fit.as_ref()?;
    let device = label(&ladder.device);
    let what = match fit.verdict {
        ChokeVerdict::NoUse => "ferrite on this lead can't help".to_owned(),
        ChokeVerdict::Flattens => "more ferrite here would do little".to_owned(),
        ChokeVerdict::Worse => "ferrite made it worse".to_owned(),
        ChokeVerdict::Fits if is_left_behind(ladder) => return None,
        ChokeVerdict::Fits => {
            let f = fit.forecasts.first()?;
            let [low, high] = f.attenuation_range_db;
            format!(
                "{} ferrites in all would take off another {} to {} dB",
                f.ferrites,
                number(low, 1),
                number(high, 1)
            )
        }
        ChokeVerdict::Unsure | ChokeVerdict::PoorFit => return None,
    };
    Some(format!("{device}: {what}"))
}
