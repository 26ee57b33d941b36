//! One recording in sentences and as a row of a table.

use super::result::{CarrierFound, Described, NoiseFound};
use crate::contrast::Character;
use crate::contrast::words::{mains_multiple, period};
use crate::findings::known_noise::words as known;
use crate::findings::man_made::p372::Standing;
use crate::signal::recording_result::RecordingResult;
use crate::text::{Column, Table, and, capital, count, db, hz, interval, label, number, percent, rate, signed};

/// Carriers told one by one.
const CARRIERS: usize = 3;
/// Depth from which there is quiet between the pulses. Mathematics: a sine of 1 touches 0; gates have more.
const IN_BURSTS: f64 = 1.0;
/// Things named that it is typical of. Chosen: more are no help.
const TYPICAL: usize = 4;

/// What stands in it, surest first, then what is typical of it; not the next take, nor what speaks against it.
pub(crate) fn sentences(found: &Described, mains_hz: f64) -> Vec<String> {
    let mut said: Vec<String> = found.noise.iter().map(level).collect();
    for part in &found.parts {
        let sure = format!("{} sure", percent(part.confidence));
        said.extend(match part.character {
            Character::Buzz => pulsing(found, mains_hz, &sure),
            Character::Clicks => clicks(found, &sure),
            Character::Comb => comb(found, &sure),
            Character::Carriers => Some(carriers(found, &sure)),
            Character::None | Character::Hash | Character::Mixed | Character::Unclear => None,
        });
    }
    if found.parts.is_empty() {
        said.push(match found.pulsing_depth_limit {
            Some(_) => {
                "Nothing stands out of the noise: it may be the band's, the receiver's or a device's.".to_owned()
            }
            None => "It is too short, or has too little noise in it, to tell more.".to_owned(),
        });
    }
    if found.mains_rate_hz.is_none() {
        said.extend(found.pulsing_depth_limit.map(|limit| {
            format!(
                "Noise that pulses {} times a second would have shown from a depth of {} on.",
                rate(2.0 * mains_hz),
                percent(limit)
            )
        }));
    }
    said.extend(perhaps_keyed(found));
    said.extend(stations(found));
    if !found.typical_of.is_empty() {
        let shown: Vec<String> = found.typical_of.iter().take(TYPICAL).cloned().collect();
        said.push(format!("Typical of: {}.", shown.join("; ")));
    }
    said.extend(found.known_noise.as_ref().map(known::of_recording));
    said.extend(found.not_told.iter().cloned());
    said
}

/// What stands in it in a few words, for a title.
pub(crate) fn headline(found: &Described) -> String {
    let mut said: Vec<String> = Vec::new();
    for part in &found.parts {
        said.extend(match part.character {
            Character::Buzz => {
                found.mains_rate_hz.map(|hz| format!("noise that pulses {} times a second", rate(hz)))
            }
            Character::Clicks => match (found.pulse_period_s, found.pulse_rate_hz) {
                (Some(period_s), _) => Some(format!("a click every {} s", number(period_s, 2))),
                (None, at_random) => at_random.map(|hz| format!("clicks at random, {} a second", rate(hz))),
            },
            Character::Comb => {
                found.comb.as_ref().map(|c| format!("{} carriers every {}", c.lines, hz(c.spacing_hz)))
            }
            Character::Carriers => Some(match (found.clusters.first(), single(found)) {
                (Some(crowd), _) => format!("a crowd of {} or more carriers", crowd.at_least),
                (None, many) => count(many, "steady carrier", "steady carriers"),
            }),
            Character::None | Character::Hash | Character::Mixed | Character::Unclear => None,
        });
    }
    match (said.is_empty(), found.pulsing_depth_limit) {
        (true, None) => "Too short, or too little noise, to tell".to_owned(),
        (true, Some(_)) => "Nothing stands out of the noise".to_owned(),
        (false, _) => capital(&and(&said)),
    }
}

fn single(found: &Described) -> usize {
    let in_family = found.comb.as_ref().map_or(0, |comb| comb.lines);
    found.carriers.iter().filter(|one| !one.perhaps_keyed).count().saturating_sub(in_family).max(1)
}

/// "The noise is −85.0 dBm in 2400 Hz (±3 dB), 3.1 dB above the median …".
fn level(noise: &NoiseFound) -> String {
    let tied = match noise.tolerance_db {
        Some(tolerance) => format!("(±{} dB)", number(tolerance, 0)),
        None => "by a meter's reading, which is rough".to_owned(),
    };
    let is =
        format!("The noise is {} dBm in {} Hz {tied}", number(noise.noise_dbm, 1), number(noise.bandwidth_hz, 0));
    let Some(published) = &noise.published else { return format!("{is}.") };
    let over = published.over_median_db;
    let standing = match published.standing {
        Standing::Within => "as usual there",
        Standing::Above => "louder than nine in ten of them",
        Standing::Below => "quieter than nine in ten of them",
        Standing::Borderline => "at the edge of what is usual there",
    };
    format!(
        "{is}, {} {} the median of {} places in ITU-R P.372: {standing}.",
        db(over.abs()),
        if over < 0.0 { "below" } else { "above" },
        published.nearest.word()
    )
}

fn pulsing(found: &Described, mains_hz: f64, sure: &str) -> Option<String> {
    let (rate_hz, depth) = (found.mains_rate_hz?, found.pulsing_depth?);
    let [low, high] = found.pulsing_depth_ci?.map(|end| 100.0 * end);
    let deep = match depth {
        d if d >= IN_BURSTS => "in bursts with quiet between".to_owned(),
        d => format!("by {} % of its mean ({})", number(100.0 * d, 1), interval([low, high])),
    };
    let (often, times) = (rate(rate_hz), mains_multiple(rate_hz, mains_hz));
    Some(format!("The noise pulses {often} times a second{times}, {deep}, {sure}."))
}

fn clicks(found: &Described, sure: &str) -> Option<String> {
    Some(match found.pulse_period_s.zip(found.pulse_period_ci_s) {
        Some((s, [low, high])) => format!("One click every {}, {sure}.", period(s, (high - low) / 2.0)),
        None => format!("Clicks at random, {} a second, {sure}.", rate(found.pulse_rate_hz?)),
    })
}

fn comb(found: &Described, sure: &str) -> Option<String> {
    let (comb, [low, high]) = (found.comb.as_ref()?, found.comb_spacing_ci_hz?);
    Some(format!(
        "{} carriers stand {} Hz apart (±{}) or at multiples of it, {sure}.",
        comb.lines,
        number(comb.spacing_hz, 2),
        number((high - low) / 2.0, 2)
    ))
}

fn carriers(found: &Described, sure: &str) -> String {
    if let Some(crowd) = found.clusters.first() {
        return format!(
            "At least {} carriers crowd between {} and {} Hz, {sure}.",
            crowd.at_least,
            number(crowd.low_hz, 0),
            number(crowd.high_hz, 0)
        );
    }
    let single: Vec<&CarrierFound> = found.carriers.iter().filter(|one| !one.perhaps_keyed).collect();
    let shown: Vec<String> = single
        .iter()
        .take(CARRIERS)
        .map(|one| format!("{} ({} dB over the noise in 1 Hz)", hz(one.freq_hz), number(one.cnr_db_hz, 0)))
        .collect();
    let more = single.len() - shown.len();
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    let (noun, whose) = match single.len() {
        1 => ("A steady carrier at", "a station's or a device's"),
        _ => ("Steady carriers at", "stations' or devices'"),
    };
    format!("{noun} {}{more}: {whose}, {sure}.", shown.join(", "))
}

/// Said of lines that may be a station's, where no family holds them.
fn perhaps_keyed(found: &Described) -> Option<String> {
    let lines = found.carriers.iter().filter(|one| one.perhaps_keyed).count();
    (lines > 0 && found.comb.is_none() && found.clusters.is_empty()).then(|| {
        format!(
            "{} so near others that they rise and fall together: an evenly keyed station's, or carriers side by side.",
            if lines == 1 { "1 line stands".to_owned() } else { format!("{lines} lines stand") }
        )
    })
}

fn stations(found: &Described) -> Option<String> {
    match (found.crowded, found.stations) {
        (true, _) => {
            Some("Voices or many stations fill much of the passband: little of the noise is heard.".to_owned())
        }
        (false, 0) => None,
        (false, 1) => Some("A station is heard, and left out of the noise.".to_owned()),
        (false, n) => Some(format!("Stations are heard at {n} places, and left out of the noise.")),
    }
}

/// All recordings in one table, a row each.
pub(crate) fn table(described: &[Described], recordings: &[RecordingResult]) -> Table {
    let mut table = Table::new([
        Column::text("File"),
        Column::number("Length"),
        Column::number("Noise, dBm"),
        Column::number("Over P.372's nearest, dB"),
        Column::text("Pulsing"),
        Column::text("Clicks"),
        Column::text("Carriers"),
        Column::number("Stations"),
        Column::text("Mind"),
    ]);
    for found in described {
        let Some(recording) = recordings.iter().find(|r| r.id == found.recording) else { continue };
        let noise = found.noise.as_ref();
        let over = noise.and_then(|noise| noise.published.as_ref()).map(|p| signed(p.over_median_db, 1));
        table.row([
            label(&recording.file),
            format!("{} s", number(recording.duration_s, 0)),
            noise.map_or_else(String::new, |noise| number(noise.noise_dbm, 1)),
            over.unwrap_or_default(),
            found.mains_rate_hz.map_or_else(String::new, |hz| {
                format!("{} Hz{}", rate(hz), found.pulsing_depth.map_or_else(String::new, depth_in_short))
            }),
            match (found.pulse_period_s, found.pulse_rate_hz) {
                (Some(period_s), _) => format!("every {} s", number(period_s, 2)),
                (None, Some(rate_hz)) => format!("{} a second", rate(rate_hz)),
                (None, None) => String::new(),
            },
            lines_in_short(found),
            if found.crowded { "crowded".to_owned() } else { or_nothing(found.stations) },
            crate::text::each_once(recording.warnings.iter().map(|w| w.code.word().replace('_', " "))).join(", "),
        ]);
    }
    table
}

/// ", 37 %".
pub(crate) fn depth_in_short(depth: f64) -> String {
    if depth >= IN_BURSTS { ", in bursts".to_owned() } else { format!(", {} %", number(100.0 * depth, 0)) }
}

fn or_nothing(count: usize) -> String {
    if count == 0 { String::new() } else { count.to_string() }
}

fn lines_in_short(found: &Described) -> String {
    match (&found.comb, found.clusters.first()) {
        (Some(comb), _) => format!("{}, every {}", comb.lines, hz(comb.spacing_hz)),
        (None, Some(crowd)) => format!("a crowd, {} or more", crowd.at_least),
        (None, None) => {
            let mut single = found.carriers.iter().filter(|one| !one.perhaps_keyed);
            match (single.next(), single.count()) {
                (None, _) => String::new(),
                (Some(only), 0) => hz(only.freq_hz),
                (Some(_), more) => count(more + 1, "carrier", "carriers"),
            }
        }
    }
}
