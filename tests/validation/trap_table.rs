//! Traps caught, and codes cried without reason on clean pairs.

use std::fmt::Write;

use super::judge::Judged;
use super::share::share;
use super::targets::{Bound, Targets};
use super::traps::{ROWS, Trapped};
use noisetally::warning::Code;

/// The table of traps.
pub fn table(trapped: &[Trapped], judged: &[Judged], targets: &mut Targets) -> String {
    let mut text = String::new();
    if !trapped.is_empty() {
        rows(trapped, &mut text);
        agc(trapped, &mut text);
        volume_up(trapped, &mut text);
    }
    targets.share_of(
        "all traps but those marked (+): caught",
        trapped,
        |t| t.row.counts,
        Trapped::is_caught,
        Bound::Least(95.0),
    );
    false_cries(judged, &mut text, targets);
    text
}

fn rows(trapped: &[Trapped], text: &mut String) {
    let _ = writeln!(
        text,
        "\ntraps                            caught  right code  not sound  spoilt and sound  within 1 dB, worst"
    );
    for row in ROWS {
        let of: Vec<&Trapped> = trapped.iter().filter(|t| t.row.name == row.name).collect();
        let count = |keep: &dyn Fn(&&&Trapped) -> bool| of.iter().filter(keep).count();
        let mark = if row.counts { "" } else { " (+)" };
        let _ = write!(
            text,
            "{:28} {:>4} of {:<3} {:>8} {:>10} {:>14}",
            format!("{}{mark}", row.name),
            count(&|t| t.is_caught()),
            of.len(),
            count(&|t| t.is_named()),
            count(&|t| !t.leans()),
            count(&|t| t.is_spoilt() && t.leans()),
        );
        let errors: Vec<f64> = of.iter().filter_map(|t| t.error_db).map(f64::abs).collect();
        if !errors.is_empty() {
            let within = errors.iter().filter(|error| **error <= 1.0).count();
            let worst = errors.iter().copied().fold(0.0, f64::max);
            let _ = write!(text, "           {within:>3} of {:<3} {worst:5.2} dB", errors.len());
        }
        text.push('\n');
    }
    let caught = trapped.iter().filter(|t| t.is_caught()).count();
    let _ = writeln!(text, "all, with those marked (+)                   {}", share(caught, trapped.len()));
}

/// For which excess the user of an AGC is warned.
fn agc(trapped: &[Trapped], text: &mut String) {
    let _ = writeln!(
        text,
        "agc without a carrier, by what the device adds:  sound alone  |  as the user is told: not sound, gain_unknown"
    );
    for size_db in [0.0, 3.0, 6.0, 12.0] {
        let of = |name: &str| -> Vec<&Trapped> {
            trapped.iter().filter(|t| t.row.name == name && t.size_db == size_db).collect()
        };
        let unsound = |of: &[&Trapped]| of.iter().filter(|t| !t.leans()).count();
        let (sound, user) = (of("agc, by the sound alone"), of("agc, as the user is told"));
        let unknown = user.iter().filter(|t| t.cried.contains(&Code::GainUnknown)).count();
        let _ = writeln!(
            text,
            "  {size_db:>4} dB {:>48} of {:<3} | {:>21} of {:<3} {:>4}",
            unsound(&sound),
            sound.len(),
            unsound(&user),
            user.len(),
            unknown
        );
    }
}

/// What a volume turned up is taken for: raised gain multiplies every frequency alike, and that is what flat hash
/// does to noise; nothing in one pair of recordings without a carrier tells them apart.
fn volume_up(trapped: &[Trapped], text: &mut String) {
    let of: Vec<&Trapped> = trapped.iter().filter(|t| t.row.name == "volume up").collect();
    let _ = write!(text, "volume up is the same to noise as flat hash is; called hash and sound:");
    for size_db in [1.0, 3.0, 6.0] {
        let of: Vec<&&Trapped> = of.iter().filter(|t| t.size_db == size_db).collect();
        let taken = of.iter().filter(|t| t.called == "hash" && t.leans()).count();
        let _ = write!(text, "  {taken} of {} at {size_db} dB", of.len());
    }
    text.push('\n');
}

fn false_cries(judged: &[Judged], text: &mut String, targets: &mut Targets) {
    let clean: Vec<&Judged> = judged.iter().filter(|j| j.background == "plain").collect();
    if clean.is_empty() {
        return;
    }
    let crying = clean.iter().filter(|j| !j.codes.is_empty()).count();
    targets.share("clean pairs: a code cried", crying, clean.len(), Bound::Most(2.0));
    let _ = writeln!(text, "codes cried on clean pairs");
    let mut by_code: Vec<(Code, usize)> = Vec::new();
    for code in clean.iter().flat_map(|j| &j.codes) {
        match by_code.iter_mut().find(|(known, _)| known == code) {
            Some((_, count)) => *count += 1,
            None => by_code.push((*code, 1)),
        }
    }
    let _ = writeln!(text, "  {by_code:?}");
}
