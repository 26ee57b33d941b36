//! Recordings described by themselves, without an off: what is told to stand in each against what was put there.
//! The takes are those of the pairs, of the signals and of the real bands: the on take with a device in it, the off
//! take with none.

use std::collections::BTreeSet;
use std::fmt::Write;

use super::cases::Case;
use super::share::share;
use super::targets::{Bound, Targets};
use noisetally::contrast::{Character, DeviceLine};
use noisetally::demo::synth::Take;
use noisetally::findings::description::Heard;
use noisetally::signal::measure::{MeasureSettings, Measurement};
use noisetally::signal::spectrum::Line;

/// What can stand in a recording.
const KINDS: [Character; 4] = [Character::Buzz, Character::Clicks, Character::Carriers, Character::Comb];
/// Sizes of the columns: dB of excess up to these. Of a carrier in a real band it is dB-Hz.
const UP_TO_DB: [f64; 6] = [1.0, 2.0, 3.0, 6.0, 12.0, 40.0];
/// A rate is right within this share of it: mains stray by so much (common practice).
const RATE_WITHIN: f64 = 0.006;
/// A period is right within this share, as in comparisons.
const PERIOD_WITHIN: f64 = 0.01;

/// One recording, what stands in it and what was told.
pub struct Told {
    group: &'static str,
    /// What was put there.
    truth: BTreeSet<&'static str>,
    /// What the band may have of itself: no false claim, and none that is asked for.
    may: BTreeSet<&'static str>,
    size_db: f64,
    /// Kind and confidence.
    claims: Vec<(&'static str, f64)>,
    /// Whether the rate of pulsing, or the period of the beat, is as it was made; `None` where none was or is told.
    rate: Option<bool>,
    what: String,
}

impl Told {
    fn found(&self, kind: &str) -> bool {
        self.claims.iter().any(|claim| claim.0 == kind)
    }

    fn is_right(&self, (kind, _): (&'static str, f64)) -> bool {
        self.truth.contains(kind) || self.may.contains(kind)
    }

    fn false_claims(&self) -> impl Iterator<Item = &(&'static str, f64)> {
        self.claims.iter().filter(|claim| !self.is_right(**claim))
    }

    /// Whether something is told as 90 % sure or more that does not stand there.
    #[allow(dead_code)] // Asked by the part that runs with the tests.
    pub fn is_sure_and_wrong(&self) -> bool {
        self.false_claims().any(|claim| claim.1 >= 0.9)
    }

    /// Whether something put there at this size or more is not told.
    #[allow(dead_code)] // As above.
    pub fn misses_at(&self, size_db: f64) -> bool {
        self.size_db >= size_db && self.truth.iter().any(|kind| !self.found(kind))
    }

    /// Lines for the list of failures: claims that are false, and what was missed at 3 dB or more.
    pub fn failures(&self) -> Vec<String> {
        let wrong = self.false_claims().map(|(kind, sure)| format!("told {kind} ({sure:.2})"));
        let missed = self.truth.iter().filter(|kind| !self.found(kind) && self.size_db >= 3.0);
        let rate = self.rate.filter(|right| !right).map(|_| "wrong rate".to_owned());
        let said = wrong.chain(missed.map(|kind| format!("missed {kind}"))).chain(rate);
        said.map(|said| format!("described {said}: {}", self.what)).collect()
    }
}

/// Both takes of a case; `group`: the bench's part it is of.
pub fn described(group: &'static str, case: &Case) -> Vec<Told> {
    // What stands behind the size is the background.
    let (on, off) = (in_words(case.told.split(" dB, ").next().unwrap_or_default()), BTreeSet::new());
    let on = if case.kind == "none" && group == "pairs" { off.clone() } else { on };
    vec![of(group, case, &case.on, on, case.excess_db), of(group, case, &case.off, off, 0.0)]
}

fn of(group: &'static str, case: &Case, take: &Take, truth: BTreeSet<&'static str>, size_db: f64) -> Told {
    let settings = MeasureSettings { passband: None, mains_hz: case.mains_hz };
    let measured = Measurement::of_samples(take.rate_hz, &take.samples, &settings);
    let heard = Heard::of(&measured, case.mains_hz);
    let found = heard.told("r1");
    let claims: Vec<(&'static str, f64)> = found.parts.iter().map(|p| (p.character.code(), p.confidence)).collect();
    let rate = found.mains_rate_hz.zip(rate_in(&case.told)).filter(|_| truth.contains("buzz"));
    let rate = rate.map(|(told, made)| (told / made - 1.0).abs() <= RATE_WITHIN);
    let period = case.period_s.zip(found.pulse_period_s).filter(|_| truth.contains("clicks"));
    let period = period.map(|(made, told)| (told / made - 1.0).abs() <= PERIOD_WITHIN);
    let state = if size_db > 0.0 { "on" } else { "off" };
    Told {
        group,
        may: of_the_band(case),
        truth,
        size_db,
        claims,
        rate: rate.or(period),
        what: format!("{state} {}, {}; {}", case.told, case.background, evidence(&heard)),
    }
}

/// What the answer rests on, for the list of failures.
fn evidence(heard: &Heard) -> String {
    let lines = &heard.lines;
    let line = |found: &DeviceLine| {
        let Line { freq_hz, beats, .. } = found.line;
        format!("{freq_hz:.1} Hz {:.0} dB-Hz sure {} beats {beats}", found.line.cnr_db_hz(), found.sure)
    };
    let carriers: Vec<String> = lines.carriers.iter().take(4).map(line).collect();
    let crowd = lines.cluster.map_or_else(String::new, |crowd| format!("crowd of {}, ", crowd.at_least));
    let pulsing = heard.pulsing.map_or_else(String::new, |p| format!("{:.2} Hz {:.3}, ", p.rate_hz, p.depth));
    format!("{pulsing}{crowd}{} stations; {}", lines.stations, carriers.join("; "))
}

/// The kinds that the words of a case name as put there.
fn in_words(told: &str) -> BTreeSet<&'static str> {
    let mut kinds = BTreeSet::new();
    let has = |word: &str| told.contains(word);
    if has("buzz") {
        kinds.insert("buzz");
    }
    if has("clicks") || has("fence") {
        kinds.insert("clicks");
    }
    if has("comb") {
        kinds.insert("comb");
    }
    if has("carrier") || has("cluster") {
        kinds.insert("carriers");
    }
    kinds
}

/// What a band has of itself that is no mistake to tell: a station's carrier, static's clicks, members of a family
/// told as carriers or the other way round, and the pulsing of one receiver's real recordings.
fn of_the_band(case: &Case) -> BTreeSet<&'static str> {
    let mut may = BTreeSet::new();
    let has = |word: &str| case.told.contains(word);
    if case.background == "carrier" || has("warble") || has("warbling") {
        may.insert("carriers");
    }
    if case.background == "crashes" || has("fence under static") {
        may.insert("clicks");
    }
    // A carrier's sidebands at a mains rate stand at an even spacing; three of a family may be told as single ones.
    if has("comb") || has("cluster") {
        may.extend(["comb", "carriers"]);
    }
    // Measured apart from the program, in strips of 200 Hz: they pulse 120 times a second over the whole passband.
    if ["hf-19", "hf-20", "hf-21", "hf-22", "hf-26"].into_iter().any(has) {
        may.insert("buzz");
    }
    // Seen in their spectrograms: lines that stand from beginning to end.
    if ["hf-15", "hf-16", "hf-26"].into_iter().any(has) {
        may.insert("carriers");
    }
    may
}

/// The rate of the buzz that was put there.
fn rate_in(told: &str) -> Option<f64> {
    let after = told.split("buzz ").nth(1)?;
    after.split(' ').next()?.parse().ok().filter(|_| after.contains(" Hz "))
}

/// Found by kind and size, false claims by group, and how sure against how often right.
pub fn table(told: &[Told], targets: &mut Targets) -> String {
    let mut text = String::new();
    if told.is_empty() {
        return text;
    }
    let _ = writeln!(text, "\ndescribed by itself: found, by size in dB (real carriers: dB-Hz)");
    let _ = write!(text, "{:22}", "");
    UP_TO_DB.iter().for_each(|up_to| {
        let _ = write!(text, "{:>12}", format!("to {up_to}"));
    });
    let _ = writeln!(text);
    for group in ["pairs", "signals", "real"] {
        for kind in KINDS.map(Character::code) {
            let of: Vec<&Told> = told.iter().filter(|t| t.group == group && t.truth.contains(kind)).collect();
            if of.is_empty() {
                continue;
            }
            let _ = write!(text, "{:22}", format!("{group}, {kind}"));
            let mut from = 0.0;
            for up_to in UP_TO_DB {
                let here: Vec<&&Told> = of.iter().filter(|t| t.size_db > from && t.size_db <= up_to).collect();
                let found = here.iter().filter(|t| t.found(kind)).count();
                let cell = if here.is_empty() { "-".to_owned() } else { format!("{found} of {}", here.len()) };
                let _ = write!(text, "{cell:>12}");
                from = up_to;
            }
            let _ = writeln!(text);
        }
    }
    let _ = writeln!(text, "\ndescribed by itself: recordings with a false claim");
    for group in ["pairs", "signals", "real"] {
        let of: Vec<&Told> = told.iter().filter(|t| t.group == group).collect();
        let wrong = of.iter().filter(|t| t.false_claims().next().is_some()).count();
        let _ = write!(text, "{group:10} {}", share(wrong, of.len()));
        for kind in KINDS.map(Character::code) {
            let count = of.iter().filter(|t| t.false_claims().any(|claim| claim.0 == kind)).count();
            let _ = write!(text, "  {kind} {count}");
        }
        let _ = writeln!(text);
    }
    let _ = writeln!(text, "\ndescribed by itself: how sure, and the share that was right");
    let claims: Vec<(f64, bool)> =
        told.iter().flat_map(|t| t.claims.iter().map(|claim| (claim.1, t.is_right(*claim)))).collect();
    for (low, high) in [(0.0, 0.55), (0.55, 0.75), (0.75, 0.9), (0.9, 1.01)] {
        let of: Vec<&(f64, bool)> = claims.iter().filter(|claim| (low..high).contains(&claim.0)).collect();
        let right = of.iter().filter(|claim| claim.1).count();
        let mean = of.iter().map(|claim| claim.0).sum::<f64>() / of.len().max(1) as f64;
        let _ = writeln!(text, "{:4.0} % sure: right {}", 100.0 * mean, share(right, of.len()));
    }
    let (rates, right) =
        (told.iter().filter_map(|t| t.rate).count(), told.iter().filter(|t| t.rate == Some(true)).count());
    let _ = writeln!(text, "rates and periods right {}", share(right, rates));
    let sure: Vec<bool> = claims.iter().filter(|claim| claim.0 >= 0.9).map(|claim| claim.1).collect();
    let right = sure.iter().filter(|right| **right).count();
    targets.share("described: right of those 90 % sure or more", right, sure.len(), Bound::Least(90.0));
    let plain: Vec<&Told> = told.iter().filter(|t| t.truth.is_empty() && t.may.is_empty()).collect();
    let claimed = plain.iter().filter(|t| !t.claims.is_empty()).count();
    targets.share("described: nothing put there, something told", claimed, plain.len(), Bound::Most(3.0));
    text
}
