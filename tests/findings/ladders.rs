//! Ladders of known truth: what each step bought, the device's own power, the choke's verdict and its forecast.

use rayon::prelude::*;
use rustfft::num_complex::Complex64;

use super::evening::{Evening, at, band, share};
use super::random::Dice;
use noisetally::demo::synth::{Buzz, Carrier, Device, Hash, Scene};
use noisetally::findings::ladder::result::Ladder;
use noisetally::report::contract::Report;
use noisetally::units::{Db, Dbfs};

/// Pieces at each step.
const PIECES: [u32; 4] = [0, 1, 2, 4];
/// Pieces that the forecast is held against: twice the last.
const NEXT: u32 = 8;

/// What the lead does to ferrite.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A choke in series, resistive to half inductive.
    Series,
    /// Nothing leaves by this lead.
    Elsewhere,
    /// A part leaves by this lead.
    Partly,
}

impl Kind {
    pub const ALL: [Self; 3] = [Self::Series, Self::Elsewhere, Self::Partly];
}

/// One ladder's truth beside the answer.
pub struct Trial {
    pub kind: Kind,
    pub verdict: String,
    /// Bought less true, dB; whether the interval holds the truth.
    pub steps: Vec<(f64, bool)>,
    /// The same of the device's own power.
    pub own: Vec<(f64, bool)>,
    /// Whether the forecast's range holds the truth, and its width.
    pub forecast: Option<(bool, f64)>,
    /// Carrier followed through all steps that show it.
    pub followed: bool,
    pub told: String,
}

/// Power left with so many pieces.
fn left(kind: Kind, ratio: f64, degrees: f64, bypass: f64, pieces: u32) -> f64 {
    let z = Complex64::from_polar(ratio * f64::from(pieces), degrees.to_radians());
    let through = 1.0 / (Complex64::new(1.0, 0.0) + z).norm_sqr();
    match kind {
        Kind::Series => through,
        Kind::Elsewhere => 1.0,
        Kind::Partly => (1.0 - bypass) * through + bypass,
    }
}

/// Makes and judges one ladder.
pub fn trial(seed: u64, index: u64, kind: Kind) -> Trial {
    let mut dice = Dice::new(seed, index, "ladder");
    let own = Db(dice.between(6.0, 18.0)).ratio();
    let (ratio, degrees, bypass) = (dice.log_between(0.15, 2.5), dice.between(0.0, 60.0), dice.between(0.25, 0.6));
    let ratio = if kind == Kind::Partly { dice.between(2.0, 5.0) } else { ratio };
    let buzz = dice.chance(0.5);
    let (place_hz, level) = (dice.between(600.0, 2400.0), dice.between(-36.0, -30.0));
    let mut evening = Evening::new(2, || dice.seed());
    let mut dice = Dice::new(seed, index, "takes");
    let excess = |pieces: u32| 10.0 * (1.0 + own * left(kind, ratio, degrees, bypass, pieces)).log10();
    let mut hz = place_hz;
    for (order, pieces) in PIECES.into_iter().enumerate() {
        hz += dice.between(-15.0, 15.0);
        let fall_db = 10.0 * left(kind, ratio, degrees, bypass, pieces).log10();
        for _ in 0..2 {
            let noise: Device = if buzz { Buzz::gated(100.0, 0.4).into() } else { Hash::flat().into() };
            let scene: Scene = band()
                .seed(dice.seed())
                .device(noise, Db(excess(pieces)))
                .carriers(noisetally::demo::synth::Carriers::new([Carrier::at(hz)]), Dbfs(level + fall_db));
            let remedy = if pieces == 0 {
                String::new()
            } else {
                format!("remedy = \"{pieces} ferrites\"\nferrites = {pieces}\n")
            };
            evening.add(scene, &format!("state = \"on\"\ndevice = \"charger\"\norder = {order}\n{remedy}"));
        }
    }
    let truth: Vec<f64> = PIECES.iter().map(|&p| excess(p)).collect();
    let falls: Vec<f64> = PIECES.iter().map(|&p| -10.0 * left(kind, ratio, degrees, bypass, p).log10()).collect();
    let next = -10.0 * left(kind, ratio, degrees, bypass, NEXT).log10() - falls[PIECES.len() - 1];
    let told = format!("own {:.1} dB, r {ratio:.2}, {degrees:.0}°, bypass {bypass:.2}", 10.0 * own.log10());
    judged(kind, &evening.report(), &truth, &falls, next, told)
}

fn judged(kind: Kind, report: &Report, truth: &[f64], falls: &[f64], next: f64, told: String) -> Trial {
    let ladder: &Ladder = report.ladders.first().expect("four steps make a ladder");
    let held = |value: f64, found: f64, ci: [f64; 2]| (found - value, (ci[0]..=ci[1]).contains(&value));
    let steps = (1..truth.len()).filter_map(|i| {
        let step = ladder.steps.get(i)?;
        Some(held(truth[i - 1] - truth[i], step.bought_db?, step.bought_ci_db?))
    });
    let own = (1..truth.len()).filter_map(|i| {
        let step = ladder.steps.get(i)?;
        Some(held(falls[i] - falls[i - 1], step.attenuation_db?, step.attenuation_ci_db?))
    });
    let fit = ladder.choke_fit.as_ref();
    let forecast = fit.and_then(|f| f.forecasts.iter().find(|f| f.ferrites == NEXT)).map(|f| {
        let [low, high] = f.attenuation_range_db;
        ((low..=high).contains(&next), high - low)
    });
    let strong = ladder.carriers.first();
    let shown = ladder.steps.iter().filter(|s| !s.lines.is_empty()).count();
    Trial {
        kind,
        verdict: fit.map_or_else(
            || "none".to_owned(),
            |f| serde_json::to_value(f.verdict).unwrap().as_str().unwrap().to_owned(),
        ),
        steps: steps.collect(),
        own: own.collect(),
        forecast,
        followed: shown == 0
            || strong.is_some_and(|c| c.steps.iter().filter(|s| s.level_db.is_some()).count() == shown),
        told,
    }
}

/// So many ladders of each kind.
pub fn trials(seed: u64, count: usize) -> Vec<Trial> {
    let all: Vec<(u64, Kind)> = (0..count as u64).flat_map(|i| Kind::ALL.map(|kind| (i, kind))).collect();
    all.into_par_iter().map(|(i, kind)| trial(seed, i * 3 + kind as u64, kind)).collect()
}

/// The table.
pub fn table(trials: &[Trial]) -> String {
    let mut text = format!("ladders: {} of four steps, two takes of 10 s each, two off\n", trials.len());
    for (name, pick) in [("step sizes", true), ("own power", false)] {
        let all: Vec<(f64, bool)> =
            trials.iter().flat_map(|t| if pick { &t.steps } else { &t.own }).copied().collect();
        let mut sizes: Vec<f64> = all.iter().map(|e| e.0.abs()).collect();
        let within = sizes.iter().filter(|e| **e <= 0.5).count();
        text += &format!(
            "{name:12} n {:5}  within 0.5 dB {:5.1} %  95 % within {:.2} dB  covered {:.1} %\n",
            all.len(),
            share(within, all.len()),
            at(&mut sizes, 0.95),
            share(all.iter().filter(|e| e.1).count(), all.len())
        );
    }
    for kind in Kind::ALL {
        let of: Vec<&Trial> = trials.iter().filter(|t| t.kind == kind).collect();
        text += &format!("{kind:?}:");
        for verdict in ["fits", "unsure", "no_use", "flattens", "worse", "poor_fit", "none"] {
            let count = of.iter().filter(|t| t.verdict == verdict).count();
            if count > 0 {
                text += &format!(" {verdict} {:.1} %", share(count, of.len()));
            }
        }
        text += "\n";
    }
    let wrong = |t: &&Trial| match t.kind {
        Kind::Series => !["fits", "unsure"].contains(&t.verdict.as_str()),
        Kind::Elsewhere => !["no_use", "unsure"].contains(&t.verdict.as_str()),
        Kind::Partly => !["flattens", "fits", "unsure"].contains(&t.verdict.as_str()),
    };
    for trial in trials.iter().filter(wrong).take(8) {
        text += &format!("  {:?} called {}: {}\n", trial.kind, trial.verdict, trial.told);
    }
    let told: Vec<(bool, f64)> =
        trials.iter().filter(|t| t.kind == Kind::Series).filter_map(|t| t.forecast).collect();
    let mut widths: Vec<f64> = told.iter().map(|f| f.1).collect();
    text += &format!(
        "forecast for twice the pieces (series): n {}, holds the truth {:.1} %, median width {:.2} dB\n",
        told.len(),
        share(told.iter().filter(|f| f.0).count(), told.len()),
        at(&mut widths, 0.5)
    );
    text += &format!(
        "carrier followed through all steps that show lines: {:.1} %\n",
        share(trials.iter().filter(|t| t.followed).count(), trials.len())
    );
    text
}
