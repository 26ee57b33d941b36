//! Simulated evenings at the dial: combs of known spacing among unrelated carriers, and carriers that are no comb.

use std::collections::BTreeMap;

use super::random::Dice;
use noisetally::findings::switching_comb::{Answer, CALLED_BELOW, Carrier, Listening, Refusal, find};

/// Half of the width of an SSB passband and its middle, Hz.
const PASSBAND_HZ: (f64, f64) = (300.0, 2_700.0);

/// Kinds of trial, in turn.
pub const KINDS: [&str; 8] = [
    "dial steps of 10 Hz",
    "dial steps of 100 Hz",
    "dial steps of 1000 Hz",
    "drift of 2 to 20 ppm",
    "with an offset",
    "few carriers",
    "random carriers only",
    "two devices mixed",
];

/// A trial: what was heard, and what is true.
pub struct Trial {
    pub kind: &'static str,
    pub carriers: Vec<Carrier>,
    pub listenings: Vec<Listening>,
    /// Spacings that are true; none for random carriers.
    pub spacings_hz: Vec<f64>,
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
        });
        dial_hz
    }
}

/// A trial of a kind, from a seed.
pub fn trial(kind: &'static str, seed: u64, index: u64) -> Trial {
    let mut dice = Dice::new(seed, index, kind);
    let mut trial = Trial { kind, carriers: Vec::new(), listenings: Vec::new(), spacings_hz: Vec::new() };
    let step_hz = match kind {
        "dial steps of 10 Hz" => 10.0,
        "dial steps of 100 Hz" => 100.0,
        "dial steps of 1000 Hz" => 1000.0,
        _ => dice.pick(&[10.0, 100.0, 1000.0]),
    };
    let receiver = Receiver::new(&mut dice, step_hz);
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
        trial.spacings_hz.push(spacing_hz);
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
    /// What was made and what was told, for `--failures`.
    pub told: String,
}

/// Scores what is told against what is true.
pub fn score(trial: &Trial) -> Score {
    let told: Answer = find(&trial.carriers, &trial.listenings);
    let mut score = Score { kind: trial.kind, refused: told.families.is_empty(), ..Score::default() };
    for family in &told.families {
        let (low, high) = family.spacing_ci_hz;
        let is_covered = trial.spacings_hz.iter().any(|true_hz| (low..=high).contains(true_hz));
        // The right numbers throughout, though the interval misses the truth.
        let highest = family.members.last().map_or(1.0, |m| m.rf_hz) / family.spacing_hz;
        let is_near = |true_hz: &f64| (family.spacing_hz - true_hz).abs() * highest < 0.5 * family.spacing_hz;
        if is_covered {
            score.covered += 1;
        } else if trial.spacings_hz.iter().any(is_near) {
            score.beside += 1;
        } else {
            score.wrong += 1;
        }
    }
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
            format!("{:.2} ({low:.2} to {high:.2}), {members} members, {:?}", f.spacing_hz, f.offset)
        })
        .collect();
    score.told = format!(
        "{}: true {:.2?}, {} carriers at {} settings, steps of {:.0} Hz; told {named:?} {:?}",
        trial.kind,
        trial.spacings_hz,
        trial.carriers.len(),
        trial.listenings.len(),
        trial.listenings.first().map_or(0.0, |l| 2.0 * l.half_step_hz),
        told.refusal,
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
    text += &format!(
        "random carriers: stated chance at most 10 % in {:.1} %, 1 % in {:.2} %, 0.1 % in {:.2} % of {}\n",
        below(0.1),
        below(0.01),
        below(CALLED_BELOW),
        random.len(),
    );
    text
}
