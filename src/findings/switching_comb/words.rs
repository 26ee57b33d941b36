//! Families of carriers over the dial: which spacing, what it rests on, where the next ones stand, or why none is
//! named; in a sentence, as a section, in the digest.

use jiff::Timestamp;

use crate::findings::switching_comb::result::{
    AlikeNeighbours, CombPlace, FinerSpacing, Placed, RefusedComb, RefusedFor, SwitchingComb,
};
use crate::signal::recording_result::RecordingResult;
use crate::text::{Column, Document, Table, Words, and, capital, count, label, number, signed};

/// Radio frequency or spacing in kHz.
pub(crate) fn khz(hz: f64, decimals: usize) -> String {
    number(hz / 1000.0, decimals)
}

/// Decimals of a spacing in kHz such that the ends of its interval differ.
pub(crate) fn spacing_decimals([low, high]: [f64; 2]) -> usize {
    let half_hz = (high - low).abs() / 2.0;
    if half_hz.is_finite() && half_hz > 0.0 { (3.0 - half_hz.log10().floor()).clamp(1.0, 6.0) as usize } else { 3 }
}

/// "Shed heater: carriers every 64.321 kHz over the dial (95 % interval …), heard at 8 places from 3.5 to 21.3
/// MHz."
pub(crate) fn sentence(comb: &SwitchingComb) -> String {
    let [low, high] = comb.spacing_ci_hz;
    let heard = match (comb.members.first(), comb.members.last()) {
        (Some(first), Some(last)) => format!(
            ", heard at {} places from {} to {} MHz",
            comb.members.len(),
            number(first.rf_hz / 1e6, 2),
            number(last.rf_hz / 1e6, 2)
        ),
        _ => String::new(),
    };
    let who = capital(&label(&comb.device));
    let decimals = spacing_decimals(comb.spacing_ci_hz);
    let spacing = khz(comb.spacing_hz, decimals);
    format!(
        "{who}: carriers every {spacing} kHz over the dial ({} to {}){}{}{heard}.",
        khz(low, decimals),
        khz(high, decimals),
        drift(comb),
        finer(comb)
    )
}

/// The part of the spacing that is likeliest to be the true one.
fn likeliest_part(comb: &SwitchingComb) -> Option<(&'static str, &FinerSpacing)> {
    let part = comb.finer.iter().max_by(|a, b| a.chance.total_cmp(&b.chance))?;
    Some((if part.divisor == 2 { "half" } else { "a third of" }, part))
}

/// ", or half that (1 in 12)", where that is not rare.
fn finer(comb: &SwitchingComb) -> String {
    match likeliest_part(comb).filter(|part| part.1.chance >= WORTH_SAYING) {
        Some((name, part)) => format!(", or {name} that (1 in {})", number(1.0 / part.chance, 0)),
        None => String::new(),
    }
}

/// " at 20:15, rising by 0.30 kHz an hour (0.28 to 0.32)".
fn drift(comb: &SwitchingComb) -> String {
    let of_time = comb.drift_hz_per_h.zip(comb.drift_ci_hz_per_h).map(|drift| (drift, "an hour"));
    let of_takes = comb.drift_hz_per_take.zip(comb.drift_ci_hz_per_take).map(|drift| (drift, "a take"));
    let Some(((rate, ci), each)) = of_time.or(of_takes) else { return String::new() };
    let way = if rate < 0.0 { "falling" } else { "rising" };
    let decimals = spacing_decimals(ci);
    let mut ends = ci.map(|end| end * rate.signum());
    ends.sort_by(f64::total_cmp);
    format!(
        "{}, {way} by {} kHz {each} ({} to {})",
        comb.at.as_deref().map_or(" midway through the takes".to_owned(), |at| format!(" at {}", hour(at))),
        khz(rate.abs(), decimals),
        khz(ends[0], decimals),
        khz(ends[1], decimals)
    )
}

/// The time of day of a date.
fn hour(at: &str) -> String {
    at.parse::<Timestamp>().map_or(at.to_owned(), |at| at.strftime("%H:%M").to_string())
}

/// Why no spacing is named, and what to do.
pub(crate) fn refusal(comb: &RefusedComb) -> String {
    let who = capital(&label(&comb.device));
    match comb.reason {
        RefusedFor::TooFew => format!("{who}: too few carriers over the dial to tell a spacing."),
        RefusedFor::Chance if comb.neighbours.is_some() => {
            let told = comb.neighbours.as_ref().map(wandering).unwrap_or_default();
            format!("{who}: no one spacing explains the carriers over the dial: the supply wanders. {told}")
        }
        RefusedFor::Chance => format!(
            "{who}: no spacing explains the carriers over the dial better than it would explain as many carriers at random."
        ),
        RefusedFor::Ambiguous => ambiguous(&who, comb),
    }
}

/// What neighbours tell of a supply that wanders.
fn wandering(neighbours: &AlikeNeighbours) -> String {
    let [low, high] = neighbours.apart_hz.map(|hz| khz(hz, 1));
    let spacing = match neighbours.spacing_ci_hz {
        Some(ci) => {
            let [low, high] = ci.map(|hz| khz(hz, 1));
            format!(" Without what it moved in between, the spacing is {low} to {high} kHz (95 % interval).")
        }
        None => " What it moved in between is part of that.".to_owned(),
    };
    format!(
        "Neighbours stood {low} to {high} kHz apart ({} of {} distances; random carriers are as much alike in 1 of \
         {} evenings).{spacing}",
        neighbours.pairs,
        neighbours.of,
        number(1.0 / neighbours.chance.max(0.001), 0)
    )
}

fn ambiguous(who: &str, comb: &RefusedComb) -> String {
    let spacings: Vec<String> = comb.candidates.iter().take(3).map(|c| khz(c.spacing_hz, 2)).collect();
    let could = and(&spacings).replace(" and ", " or ");
    let tell = match &comb.listen_at {
        Some(at) => format!(
            " Listen at {} kHz (± {} Hz) to tell: a carrier there means {} kHz, none there speaks for {} kHz.",
            khz(at.rf_hz, 1),
            number(at.within_hz.max(1.0), 0),
            khz(at.carrier_means_hz, 2),
            khz(at.silence_means_hz, 2)
        ),
        None => " Record carriers at more dial settings, far from these, to tell.".to_owned(),
    };
    format!("{who}: the spacing of the carriers over the dial could be {could} kHz.{tell}")
}

/// A part of the spacing is named beside it from here on. Chosen: as rare as what is not named (`RIVALS_BELOW`).
const WORTH_SAYING: f64 = 0.01;
/// What to do with a supply that wanders.
const SOON_AFTER_EACH_OTHER: &str = "Let the device warm up, then record neighbouring carriers within minutes \
                                     of each other, up the dial and down again, and write down each time.";
/// So many carriers are enough for a supply that keeps its frequency: a dozen, with all others unrelated (bench of
/// combs).
const ENOUGH: usize = 12;
/// Rows of a table of carriers; the rest stands in the JSON.
const MOST_ROWS: usize = 24;

/// Lines of the verdict, one a family; then what was refused a name, where there were carriers enough for one.
pub(crate) fn verdicts(combs: &[SwitchingComb], refused: &[RefusedComb]) -> Vec<String> {
    let refused = refused.iter().filter(|comb| comb.reason != RefusedFor::TooFew);
    combs.iter().map(sentence).chain(refused.map(refusal)).collect()
}

/// `recordings` are those that the carriers were heard in.
pub(crate) fn section(
    doc: &mut Document,
    combs: &[SwitchingComb],
    refused: &[RefusedComb],
    recordings: &[RecordingResult],
) {
    if combs.is_empty() && refused.is_empty() {
        return;
    }
    doc.heading(2, "Families of carriers over the dial");
    summary(doc, combs);
    for comb in combs {
        of_comb(doc, comb, recordings);
    }
    for comb in refused {
        of_refused(doc, comb);
    }
}

fn summary(doc: &mut Document, combs: &[SwitchingComb]) {
    let mut table = Table::new([
        Column::text("Device"),
        Column::number("Every, Hz"),
        Column::number("95 % interval, Hz"),
        Column::number("Offset, Hz"),
        Column::number("Carriers"),
        Column::number("Scatter, Hz"),
    ]);
    for comb in combs {
        let [low, high] = comb.spacing_ci_hz;
        let decimals = spacing_decimals(comb.spacing_ci_hz).saturating_sub(3).max(1);
        let offset = match comb.offset_half_hz {
            Some(half) => format!("{} ± {}", number(comb.offset_hz, 0), number(half, 0)),
            None => number(comb.offset_hz, 1),
        };
        table.row([
            label(&comb.device),
            number(comb.spacing_hz, decimals),
            format!("{} to {}", number(low, decimals), number(high, decimals)),
            offset,
            if comb.members.is_empty() { String::new() } else { comb.members.len().to_string() },
            number(comb.residual_hz, 0),
        ]);
    }
    doc.table(table);
}

fn of_comb(doc: &mut Document, comb: &SwitchingComb, recordings: &[RecordingResult]) {
    if comb.members.is_empty() {
        return;
    }
    doc.heading(3, format!("{}: every {} kHz", label(&comb.device), khz(comb.spacing_hz, 3)));
    doc.paragraph(what_it_means(comb));
    members(doc, comb, recordings);
    let mut sentences = Vec::new();
    let moving = drift(comb);
    if !moving.is_empty() {
        sentences.push(format!(
            "Every {} kHz{moving}: each place is reckoned for the time of its recording.",
            khz(comb.spacing_hz, spacing_decimals(comb.spacing_ci_hz))
        ));
    }
    if !comb.outsiders.is_empty() {
        let places: Vec<String> = comb.outsiders.iter().take(MOST_ROWS).map(|&hz| khz(hz, 2)).collect();
        sentences.push(format!("Not of this family: {} kHz.", places.join(", ")));
    }
    for hint in &comb.other_sideband {
        sentences.push(format!(
            "{} would fit as number {} had it been recorded in the other sideband: look its mode up.",
            file(recordings, &hint.recording),
            hint.harmonic
        ));
    }
    sentences.extend(silent(comb, recordings));
    sentences.extend(comb.notes.iter().map(|note| format!("{note}.")));
    doc.list(sentences);
    predicted(doc, comb);
}

fn what_it_means(comb: &SwitchingComb) -> String {
    let meaning = match comb.placed {
        Placed::Harmonics => format!(
            "The carriers are multiples of {} kHz, the frequency the supply switches at: the numbers below are the \
             multiples.",
            khz(comb.spacing_hz, 3)
        ),
        Placed::Beside => format!(
            "The carriers stand {} Hz above the multiples of the spacing. Either the switching mixes with another signal \
             of the device, or the receiver shows another frequency than it is tuned to (in CW, by its pitch).",
            number(comb.offset_hz, 0)
        ),
        Placed::Unknown => "The carriers lie so near together that their numbers can't be told, nor whether they are multiples of the \
              spacing: the spacing itself is sure. Listen far from these frequencies as well."
            .to_owned(),
    };
    let part = likeliest_part(comb).map_or(String::new(), |(name, part)| {
        format!(
            " That {name} the spacing is the true one, and only its multiples were heard, has a chance of 1 in {}.",
            number(1.0 / part.chance.max(1e-6), 0)
        )
    });
    format!(
        "{meaning} Random carriers would fit some spacing as well in less than 1 of {} such evenings.{part} \
         Frequencies are as the dial shows them: an error of its scale is one of the spacing too.",
        number(1.0 / comb.chance.max(0.001), 0)
    )
}

fn members(doc: &mut Document, comb: &SwitchingComb, recordings: &[RecordingResult]) {
    let mut table = Table::new([
        Column::number("Number"),
        Column::number("Heard at, kHz"),
        Column::number("Beside its place, Hz"),
        Column::text("Recording"),
    ]);
    for member in comb.members.iter().take(MOST_ROWS) {
        table.row([
            member.harmonic.to_string(),
            khz(member.rf_hz, 2),
            number(member.residual_hz, 0),
            file(recordings, &member.recording),
        ]);
    }
    doc.table(table);
    cut_note(doc, comb.members.len());
}

fn cut_note(doc: &mut Document, rows: usize) {
    if rows > MOST_ROWS {
        doc.paragraph(Words::prose(&format!("{} more stand in `report.json`.", rows - MOST_ROWS)));
    }
}

/// Places listened to in vain are evidence too.
fn silent(comb: &SwitchingComb, recordings: &[RecordingResult]) -> Option<String> {
    let first: Vec<String> = comb.missing.iter().take(6).map(|m| place(m, recordings)).collect();
    let rest = comb.missing.len().saturating_sub(first.len());
    let more = if rest > 0 { format!(" and {rest} more") } else { String::new() };
    (!first.is_empty()).then(|| {
        format!("Listened to and not heard (weaker than the noise there, or missing): {}{more}.", first.join(", "))
    })
}

fn place(place: &CombPlace, recordings: &[RecordingResult]) -> String {
    format!("{} kHz ({})", khz(place.rf_hz, 2), file(recordings, &place.recording))
}

fn predicted(doc: &mut Document, comb: &SwitchingComb) {
    if comb.predicted.is_empty() {
        return;
    }
    let per_number = comb.drift_hz_per_h.or(comb.drift_hz_per_take);
    let each = if comb.drift_hz_per_h.is_some() { "an hour" } else { "a take" };
    doc.paragraph(match (per_number, &comb.predicted_at) {
        (None, _) => "Where the next ones should stand:".to_owned(),
        (_, Some(at)) => format!("Where the next ones stood at {}, if the drift went on evenly:", hour(at)),
        (_, None) => "Where the next ones stood at the last take, if the drift went on evenly:".to_owned(),
    });
    let mut table = Table::new([
        Column::number("Number"),
        Column::number("Expected at, kHz"),
        Column::number("Within, Hz"),
        Column::number(format!("Moves {each}, kHz")),
        Column::text(""),
    ]);
    for place in comb.predicted.iter().take(MOST_ROWS) {
        table.row([
            place.harmonic.to_string(),
            khz(place.rf_hz, 2),
            format!("± {}", number(place.within_hz.max(1.0), 0)),
            per_number.map_or(String::new(), |rate_hz| signed(rate_hz * place.harmonic as f64 / 1000.0, 2)),
            if place.missing { "listened to, not heard".to_owned() } else { String::new() },
        ]);
    }
    doc.table(table);
    cut_note(doc, comb.predicted.len());
}

fn of_refused(doc: &mut Document, comb: &RefusedComb) {
    let mut sentences = vec![refusal(comb)];
    sentences.extend(comb.notes.iter().map(|note| format!("{note}.")));
    let heard = count(comb.carriers, "carrier", "carriers");
    let at = count(comb.settings, "dial setting", "dial settings");
    let advice = match comb.reason {
        RefusedFor::Ambiguous => None,
        _ if comb.neighbours.is_some() => Some(format!("{heard} at {at}. {SOON_AFTER_EACH_OTHER}")),
        _ if comb.carriers >= ENOUGH => Some(format!(
            "{heard} at {at} are enough for one supply that keeps its frequency: this one wanders, or there are \
             several. {SOON_AFTER_EACH_OTHER}"
        )),
        _ => Some(format!(
            "{heard} at {at} so far. Tune on until carriers have been recorded at a dozen settings far apart, and write \
             down the dial with all the digits it shows."
        )),
    };
    sentences.extend(advice);
    doc.list(sentences);
}

fn file(recordings: &[RecordingResult], recording: &str) -> String {
    recordings.iter().find(|r| r.id == recording).map_or_else(|| label(recording), |r| label(&r.file))
}

/// A line a family.
pub(crate) fn digest(combs: &[SwitchingComb]) -> Vec<String> {
    let lines = combs.iter().map(|comb| {
        let more = drift(comb) + &finer(comb);
        let decimals = spacing_decimals(comb.spacing_ci_hz);
        let [low, high] = comb.spacing_ci_hz.map(|hz| number(hz / 1000.0, decimals));
        let spacing = number(comb.spacing_hz / 1000.0, decimals);
        let heard = comb.members.len();
        format!("{}: carriers every {spacing} kHz ({low} to {high}){more}, {heard} heard", label(&comb.device))
    });
    lines.collect()
}
