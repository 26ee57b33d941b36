//! Simulated evenings at the dial: combs of known spacing among unrelated carriers, and carriers that are no comb.

use std::collections::BTreeMap;

use super::random::Dice;
use noisetally::findings::switching_comb::{Answer, CALLED_BELOW, Carrier, Listening, Refusal, find};

/// Half of the width of an SSB passband and its middle, Hz.
const PASSBAND_HZ: (f64, f64) = (300.0, 2_700.0);

/// Minutes from one recording to the next, off and on, in hours.
const TAKE_H: f64 = 0.05;

/// Kinds of trial, in turn.
pub const KINDS: [&str; 14] = [
    "dial steps of 10 Hz",
    "dial steps of 100 Hz",
    "dial steps of 1000 Hz",
    "drift of 2 to 20 ppm",
    "with an offset",
    "few carriers",
    "random carriers only",
    "two devices mixed",
    "drifting evenly",
    "warming up",
    "wandering, in bands",
    "random, in bands",
    "random, planned dials",
    "comb, planned dials",
];

/// A true spacing over the evening.
#[derive(Debug, Clone, Copy, Default)]
pub struct Truth {
    /// At the beginning.
    pub spacing_hz: f64,
    /// Relative change an hour.
    rate: f64,
    /// Relative change while it warms up, and the time constant in hours.
    warming: (f64, f64),
    /// Waves: relative amplitude, period in hours, phase.
    waves: [(f64, f64, f64); 2],
}

impl Truth {
    /// The spacing at a time.
    pub fn at(&self, at: f64) -> f64 {
        let warming =
            if self.warming.1 > 0.0 { self.warming.0 * (1.0 - (-at / self.warming.1).exp()) } else { 0.0 };
        let wave = |&(amplitude, period_h, phase): &(f64, f64, f64)| {
            if period_h > 0.0 { amplitude * (std::f64::consts::TAU * (at / period_h + phase)).sin() } else { 0.0 }
        };
        self.spacing_hz * (1.0 + self.rate * at + warming + self.waves.iter().map(wave).sum::<f64>())
    }
}

/// A trial: what was heard, and what is true.
pub struct Trial {
    pub kind: &'static str,
    pub carriers: Vec<Carrier>,
    pub listenings: Vec<Listening>,
    /// Spacings that are true; none for random carriers.
    pub truths: Vec<Truth>,
}

/// A receiver whose dial is labelled in steps, with errors of its own.
struct Receiver {
    step_hz: f64,
    common_hz: f64,
}

impl Receiver {
    fn new(dice: &mut Dice, step_hz: f64) -> Self {
        Self { step_hz, common_hz: dice.between(-10.0, 10.0) }
    }

    /// The dial somewhere so that `true_hz` lies within the passband, and the carrier as labels and pitch tell it.
    fn hear(&self, dice: &mut Dice, true_hz: f64, trial: &mut Trial) {
        let dial_hz = self.tune(dice, true_hz, trial);
        let pitch_hz = true_hz - dial_hz + self.common_hz + dice.between(-1.0, 1.0);
        let labelled_hz = trial.listenings.last().expect("just tuned").dial_hz;
        trial.carriers.push(Carrier {
            listening: trial.listenings.len() - 1,
            places_hz: vec![labelled_hz + pitch_hz],
            mirrored_hz: Some(labelled_hz - pitch_hz),
        });
    }

    fn tune(&self, dice: &mut Dice, true_hz: f64, trial: &mut Trial) -> f64 {
        let dial_hz = true_hz - dice.between(PASSBAND_HZ.0 + 50.0, PASSBAND_HZ.1 - 50.0);
        let labelled_hz = (dial_hz / self.step_hz).round() * self.step_hz;
        trial.listenings.push(Listening {
            dial_hz: labelled_hz,
            half_step_hz: self.step_hz / 2.0,
            heard_hz: vec![(labelled_hz + PASSBAND_HZ.0, labelled_hz + PASSBAND_HZ.1)],
            at: TAKE_H * trial.listenings.len() as f64,
        });
        dial_hz
    }

    /// The dial where a plan says; heard is what stands in the passband.
    fn listen_at(&self, dice: &mut Dice, dial_hz: f64, carriers_hz: &[f64], trial: &mut Trial) {
        let heard_hz = (dial_hz + PASSBAND_HZ.0, dial_hz + PASSBAND_HZ.1);
        let at = TAKE_H * trial.listenings.len() as f64;
        trial.listenings.push(Listening {
            dial_hz,
            half_step_hz: self.step_hz / 2.0,
            heard_hz: vec![heard_hz],
            at,
        });
        for &true_hz in carriers_hz.iter().filter(|hz| (heard_hz.0..heard_hz.1).contains(*hz)) {
            let rf_hz = true_hz + self.common_hz + dice.between(-1.0, 1.0);
            let listening = trial.listenings.len() - 1;
            trial.carriers.push(Carrier {
                listening,
                places_hz: vec![rf_hz],
                mirrored_hz: Some(2.0 * dial_hz - rf_hz),
            });
        }
    }
}

/// A trial of a kind, from a seed.
pub fn trial(kind: &'static str, seed: u64, index: u64) -> Trial {
    let mut dice = Dice::new(seed, index, kind);
    let mut trial = Trial { kind, carriers: Vec::new(), listenings: Vec::new(), truths: Vec::new() };
    let step_hz = match kind {
        "dial steps of 10 Hz" => 10.0,
        "dial steps of 100 Hz" => 100.0,
        "dial steps of 1000 Hz" => 1000.0,
        _ => dice.pick(&[10.0, 100.0, 1000.0]),
    };
    let receiver = Receiver::new(&mut dice, step_hz);
    match kind {
        "drifting evenly" | "warming up" => {
            over_the_dial(&mut dice, &receiver, &mut trial);
            return trial;
        }
        "wandering, in bands" | "random, in bands" => {
            in_bands(&mut dice, &receiver, &mut trial);
            return trial;
        }
        "random, planned dials" | "comb, planned dials" => {
            planned(&mut dice, &receiver, &mut trial);
            return trial;
        }
        _ => {}
    }
    let drift = if kind == "drift of 2 to 20 ppm" { dice.log_between(2e-6, 2e-5) } else { 0.0 };
    let offset = if kind == "with an offset" { dice.between(0.05, 0.45) } else { 0.0 };
    let (members, unrelated) = match kind {
        "few carriers" => (dice.between(2.0, 4.0) as usize, dice.between(0.0, 2.0) as usize),
        "random carriers only" => (0, dice.between(4.0, 21.0) as usize),
        // Up to a third of all are unrelated.
        _ => {
            let members = dice.between(8.0, 15.0) as usize;
            (members, dice.between(0.0, members as f64 / 2.0 + 1.0) as usize)
        }
    };
    for _ in 0..if kind == "two devices mixed" { 2 } else { usize::from(members > 0) } {
        let spacing_hz = dice.log_between(18_000.0, 150_000.0);
        trial.truths.push(Truth { spacing_hz, ..Truth::default() });
        let (first, last) = ((1.8e6 / spacing_hz).ceil(), (29.7e6 / spacing_hz).floor());
        let mut numbers: Vec<f64> = Vec::new();
        while numbers.len() < members {
            let number = dice.between(first, last + 1.0).floor();
            if !numbers.contains(&number) {
                numbers.push(number);
            }
        }
        for number in numbers {
            // The supply is not where it was at the last recording.
            let now = 1.0 + drift * (dice.share() + dice.share() + dice.share() - 1.5) * 2.0;
            receiver.hear(&mut dice, (number + offset) * spacing_hz * now, &mut trial);
        }
        // Some settings where a harmonic is too weak to be heard, and some beside all harmonics.
        if members > 4 {
            for _ in 0..dice.between(0.0, 4.0) as usize {
                let number = dice.between(first, last + 1.0).floor();
                receiver.tune(&mut dice, (number + offset) * spacing_hz, &mut trial);
            }
            for _ in 0..dice.between(0.0, 4.0) as usize {
                let number = dice.between(first, last).floor() + dice.between(0.1, 0.9);
                receiver.tune(&mut dice, (number + offset) * spacing_hz, &mut trial);
            }
        }
    }
    for _ in 0..unrelated {
        let anywhere_hz = dice.between(1.8e6, 29.7e6);
        receiver.hear(&mut dice, anywhere_hz, &mut trial);
    }
    trial
}

/// Eight to fourteen harmonics anywhere in any order, while the spacing drifts, and up to a third unrelated.
fn over_the_dial(dice: &mut Dice, receiver: &Receiver, trial: &mut Trial) {
    let members = dice.between(8.0, 15.0) as usize;
    let unrelated = dice.between(0.0, members as f64 / 2.0 + 1.0) as usize;
    let all = members + unrelated;
    let change = dice.log_between(0.001, 0.05) * if dice.chance(0.5) { 1.0 } else { -1.0 };
    let hours = TAKE_H * all as f64;
    let mut truth = Truth { spacing_hz: dice.log_between(18_000.0, 150_000.0), ..Truth::default() };
    if trial.kind == "warming up" {
        truth.warming = (change, hours * dice.between(0.3, 2.0));
    } else {
        truth.rate = change / hours;
    }
    trial.truths.push(truth);
    let mut is_member: Vec<bool> = (0..all).map(|i| i < members).collect();
    for i in (1..all).rev() {
        is_member.swap(i, (dice.share() * (i + 1) as f64) as usize);
    }
    for is_member in is_member {
        let spacing_hz = truth.at(TAKE_H * trial.listenings.len() as f64);
        let true_hz = if is_member {
            dice.between((1.8e6 / spacing_hz).ceil(), (29.7e6 / spacing_hz).floor() + 1.0).floor() * spacing_hz
        } else {
            dice.between(1.8e6, 29.7e6)
        };
        receiver.hear(dice, true_hz, trial);
    }
}

/// One to three bands are tuned through, upwards, downwards or to and fro, from carrier to carrier: four fifths of
/// the harmonics of a supply that wanders, or carriers anywhere.
fn in_bands(dice: &mut Dice, receiver: &Receiver, trial: &mut Trial) {
    let is_comb = trial.kind == "wandering, in bands";
    let mut truth = Truth { spacing_hz: dice.log_between(18_000.0, 60_000.0), ..Truth::default() };
    for wave in &mut truth.waves {
        *wave = (dice.log_between(0.0001, 0.01), dice.between(0.5, 3.0), dice.share());
    }
    let bands = dice.between(1.0, 4.0) as usize;
    for _ in 0..bands {
        let from_hz = dice.log_between(1.8e6, 14e6);
        let some = dice.between(5.0, 11.0) as usize;
        let mut steps: Vec<f64> = Vec::new();
        let mut at = 0.0;
        while steps.len() < some {
            at += if is_comb { 1.0 } else { 0.2 - dice.share().ln() };
            if !is_comb || dice.chance(0.8) {
                steps.push(at);
            }
        }
        match dice.between(0.0, 3.0) as usize {
            0 => {}
            1 => steps.reverse(),
            // Up by every other one, and back.
            _ => {
                let back: Vec<f64> = steps.iter().copied().skip(1).step_by(2).collect();
                steps = steps.into_iter().step_by(2).chain(back.into_iter().rev()).collect();
            }
        }
        for step in steps {
            let spacing_hz = truth.at(TAKE_H * trial.listenings.len() as f64);
            let number = (from_hz / truth.spacing_hz).round() + step;
            receiver.hear(dice, number * spacing_hz, trial);
        }
    }
    if is_comb {
        trial.truths.push(truth);
    }
}

/// Dials at steps of a plan; heard is what stands there of a comb, or of as many carriers anywhere.
fn planned(dice: &mut Dice, receiver: &Receiver, trial: &mut Trial) {
    let receiver = Receiver { step_hz: 10.0, ..*receiver };
    let spacing_hz = dice.log_between(9_000.0, 60_000.0);
    let is_comb = trial.kind == "comb, planned dials";
    let audible = dice.between(0.4, 1.0);
    let carriers_hz: Vec<f64> = if is_comb {
        trial.truths.push(Truth { spacing_hz, ..Truth::default() });
        let numbers = (1.8e6 / spacing_hz) as u64..(29.7e6 / spacing_hz) as u64;
        numbers.map(|k| k as f64 * spacing_hz).filter(|_| dice.chance(audible)).collect()
    } else {
        (0..(28e6 / spacing_hz) as usize).map(|_| dice.between(1.8e6, 29.7e6)).collect()
    };
    let step_hz = dice.pick(&[5_000.0, 20_000.0, 25_000.0, 50_000.0, 100_000.0]);
    for _ in 0..dice.between(2.0, 5.0) as usize {
        let from_hz = (dice.between(1.8e6, 29e6) / step_hz).round() * step_hz;
        for step in 0..dice.between(6.0, 25.0) as usize {
            receiver.listen_at(dice, from_hz + step as f64 * step_hz, &carriers_hz, trial);
        }
    }
}

/// How a trial came out.
#[derive(Debug, Clone, Default)]
pub struct Score {
    pub kind: &'static str,
    /// Families named whose spacing is a true one within its interval.
    pub covered: usize,
    /// Named within a hundredth of the distance to a wrong numbering, but outside the interval.
    pub beside: usize,
    /// Named, and wrong.
    pub wrong: usize,
    /// Nothing named.
    pub refused: bool,
    /// The chance that is stated, or its bound.
    pub chance: f64,
    /// Of a family with a drift: whether it has a true one, and the true rate within its interval.
    pub drift: Option<bool>,
    /// Of a refused one of which neighbours tell something: whether the range of the spacing holds the true one, as
    /// the mean of the evening, if there is such a range.
    pub range: Option<Option<bool>>,
    /// Of every family: the probability stated that a half or a third is true, and whether it is.
    pub finer: Vec<(f64, bool)>,
    /// What was made and what was told, for `--failures`.
    pub told: String,
}

/// Scores what is told against what is true.
pub fn score(trial: &Trial) -> Score {
    let told: Answer = find(&trial.carriers, &trial.listenings);
    let mut score = Score { kind: trial.kind, refused: told.families.is_empty(), ..Score::default() };
    for family in &told.families {
        let (low, high) = family.spacing_ci_hz;
        let at = family.drift.map_or(0.0, |drift| drift.at);
        let true_hz: Vec<f64> = trial.truths.iter().map(|truth| truth.at(at)).collect();
        let is_covered = true_hz.iter().any(|true_hz| (low..=high).contains(true_hz));
        // The right numbers throughout, though the interval misses the truth.
        let highest = family.members.last().map_or(1.0, |m| m.rf_hz) / family.spacing_hz;
        let is_near = |true_hz: &f64| (family.spacing_hz - true_hz).abs() * highest < 0.5 * family.spacing_hz;
        if is_covered {
            score.covered += 1;
        } else if true_hz.iter().any(is_near) {
            score.beside += 1;
        } else {
            score.wrong += 1;
        }
        if let Some(drift) = family.drift {
            let rate = |truth: &Truth| (truth.at(at + 0.01) - truth.at(at - 0.01)) / 0.02;
            let is_held = |truth: &Truth| (rate(truth) - drift.rate_hz).abs() <= drift.half_hz;
            score.drift = Some(trial.truths.iter().any(is_held));
        }
        for part in &family.finer {
            let is_true = |hz: &f64| (family.spacing_hz / part.divisor as f64 / hz - 1.0).abs() < 1e-3;
            score.finer.push((part.chance, true_hz.iter().any(is_true)));
        }
    }
    score.range = told.neighbours.filter(|_| told.families.is_empty()).map(|found| {
        let mean_hz = |truth: &Truth| {
            trial.listenings.iter().map(|one| truth.at(one.at)).sum::<f64>() / trial.listenings.len() as f64
        };
        let holds = |(low, high): (f64, f64)| trial.truths.iter().any(|t| (low..=high).contains(&mean_hz(t)));
        found.spacing_hz.map(holds)
    });
    score.chance = match &told.refusal {
        Some(Refusal::Chance { best: Some((_, chance)) }) => *chance,
        Some(Refusal::Ambiguous { .. }) => CALLED_BELOW,
        Some(_) => 1.0,
        None => told.families.iter().map(|family| family.chance).fold(1.0, f64::min),
    };
    let named: Vec<String> = told
        .families
        .iter()
        .map(|f| {
            let ((low, high), members) = (f.spacing_ci_hz, f.members.len());
            format!("{:.2} ({low:.2} to {high:.2}), {members} members, {:?} {:?}", f.spacing_hz, f.offset, f.drift)
        })
        .collect();
    score.told = format!(
        "{}: true {:.2?}, {} carriers at {} settings, steps of {:.0} Hz; told {named:?} {:?} {:?}",
        trial.kind,
        trial.truths,
        trial.carriers.len(),
        trial.listenings.len(),
        trial.listenings.first().map_or(0.0, |l| 2.0 * l.half_step_hz),
        told.refusal,
        told.neighbours,
    );
    score
}

/// The table, a row a kind.
pub fn table(scores: &[Score]) -> String {
    let mut text = String::from(
        "\nswitching combs over the dial\nkind                     trials   right, covered   right, not   wrong   refused\n",
    );
    let mut of_kind: BTreeMap<usize, Vec<&Score>> = BTreeMap::new();
    for score in scores {
        let place = KINDS.iter().position(|kind| *kind == score.kind).unwrap_or(0);
        of_kind.entry(place).or_default().push(score);
    }
    let sum = |of: &dyn Fn(&Score) -> usize, some: &[&Score]| some.iter().map(|s| of(s)).sum::<usize>();
    for (place, some) in &of_kind {
        text += &format!(
            "{:<24} {:>6}   {:>14}   {:>10}   {:>5}   {:>7}\n",
            KINDS[*place],
            some.len(),
            sum(&|s| s.covered, some),
            sum(&|s| s.beside, some),
            sum(&|s| s.wrong, some),
            sum(&|s| usize::from(s.refused), some),
        );
    }
    let all: Vec<&Score> = scores.iter().collect();
    let (covered, beside, wrong) = (sum(&|s| s.covered, &all), sum(&|s| s.beside, &all), sum(&|s| s.wrong, &all));
    let named = (covered + beside + wrong).max(1) as f64;
    text += &format!(
        "named: {named}, of them right within the interval {:.1} % (95 %), wrong {:.2} % (at most 1 %)\n",
        100.0 * covered as f64 / named,
        100.0 * wrong as f64 / named,
    );
    let combs: Vec<&Score> = scores.iter().filter(|s| KINDS[..5].contains(&s.kind)).collect();
    let right = combs.iter().filter(|s| s.covered > 0 && s.wrong == 0).count();
    text += &format!(
        "combs of 8 to 14 carriers, up to a third more unrelated: right within the interval {:.1} % of {}\n",
        100.0 * right as f64 / combs.len().max(1) as f64,
        combs.len(),
    );
    let refused = combs.iter().filter(|s| s.refused).count();
    let by_chance = combs.iter().filter(|s| s.refused && s.chance > CALLED_BELOW).count();
    text += &format!("refused of these: {by_chance} may be chance, {} have a rival spacing\n", refused - by_chance);
    let random: Vec<&Score> = scores.iter().filter(|s| s.kind == "random carriers only").collect();
    let below = |chance: f64| {
        100.0 * random.iter().filter(|s| s.chance <= chance).count() as f64 / random.len().max(1) as f64
    };
    text += &of_drift(scores);
    text += &of_neighbours(scores);
    text += &of_finer(scores);
    text += &format!(
        "random carriers: stated chance at most 10 % in {:.1} %, 1 % in {:.2} %, 0.1 % in {:.2} % of {}\n",
        below(0.1),
        below(0.01),
        below(CALLED_BELOW),
        random.len(),
    );
    text
}

fn of_drift(scores: &[Score]) -> String {
    let mut text = String::new();
    for kind in ["drifting evenly", "warming up"] {
        let some: Vec<bool> = scores.iter().filter(|s| s.kind == kind).filter_map(|s| s.drift).collect();
        let held = some.iter().filter(|held| **held).count();
        text +=
            &format!("{kind}: {} named with a drift, the true one within its interval for {held}\n", some.len());
    }
    let still = |s: &&Score| !["drifting evenly", "warming up", "wandering, in bands"].contains(&s.kind);
    let drifting = scores.iter().filter(still).filter(|s| s.drift.is_some()).count();
    text + &format!("with a drift that is none, in all other kinds but the wandering: {drifting}\n")
}

fn of_neighbours(scores: &[Score]) -> String {
    let of = |wanted: &dyn Fn(&str) -> bool| -> (usize, Vec<Option<bool>>) {
        let some: Vec<&Score> = scores.iter().filter(|s| wanted(s.kind)).collect();
        (some.len(), some.iter().filter_map(|s| s.range).collect())
    };
    let (trials, said) = of(&|kind| kind == "wandering, in bands");
    let held = said.iter().filter(|held| **held == Some(true)).count();
    let ranges = said.iter().flatten().count();
    let (random, by_chance) = of(&|kind| kind.starts_with("random"));
    format!(
        "wandering: neighbours' distances said for {} of {trials}, a range of the spacing for {ranges}, it holds \
         the true one for {held} ({:.1} %, at least 90 %); said of random carriers: {} of {random} (at most 1 %)\n",
        said.len(),
        100.0 * held as f64 / ranges.max(1) as f64,
        by_chance.len(),
    )
}

fn of_finer(scores: &[Score]) -> String {
    let mut text = String::new();
    for (low, high) in [(0.05, 1.0), (0.01, 0.05), (0.001, 0.01), (0.0, 0.001)] {
        let some: Vec<(f64, bool)> =
            scores.iter().flat_map(|s| &s.finer).copied().filter(|f| f.0 >= low && f.0 < high).collect();
        text += &format!(
            "half or a third is true, said {low} to {high}: {} times, {:.1} expected of these, true {}\n",
            some.len(),
            some.iter().map(|f| f.0).sum::<f64>(),
            some.iter().filter(|f| f.1).count(),
        );
    }
    text
}
