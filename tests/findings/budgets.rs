//! Budgets of known truth: two to four devices by themselves and all together, some of which act together.

use rayon::prelude::*;

use super::evening::{BAND, Evening, at, band, share};
use super::random::Dice;
use noisetally::demo::synth::{Buzz, Carrier, Carriers, Hash, Scene};
use noisetally::units::{Db, Dbfs};

const NAMES: [&str; 4] = ["charger", "strip", "pump", "clock"];

/// One budget.
pub struct Trial {
    /// Share less the true one; whether its interval holds it.
    pub shares: Vec<(f64, bool)>,
    /// The same of how much quieter the band would be, dB.
    pub without: Vec<(f64, bool)>,
    /// True and told balance.
    pub balance: (&'static str, String),
}

/// One device's noise: its added power over the band's noise, and whether it is a carrier.
#[derive(Clone, Copy)]
struct Source {
    added: f64,
    sort: u64,
    hz: f64,
}

impl Source {
    fn into_scene(self, scene: Scene) -> Scene {
        let excess = Db(10.0 * (1.0 + self.added).log10());
        match self.sort {
            0 => scene.device(Hash::flat(), excess),
            1 => scene.device(Buzz::gated(100.0, 0.4), excess),
            _ => scene.carriers(
                Carriers::new([Carrier::at(self.hz)]),
                Dbfs::from_mean_square(BAND.mean_square() * self.added),
            ),
        }
    }
}

/// Makes and judges one.
pub fn trial(seed: u64, index: u64) -> Trial {
    let mut dice = Dice::new(seed, index, "budget");
    let count = dice.pick(&[2usize, 3, 4]);
    let sources: Vec<Source> = (0..count)
        .map(|i| Source {
            added: Db(dice.between(-6.0, 14.0)).ratio(),
            sort: dice.pick(&[0, 1, 2]),
            hz: 600.0 + 450.0 * i as f64 + dice.between(0.0, 200.0),
        })
        .collect();
    let truth_balance = dice.pick(&["adds_up", "adds_up", "more"]);
    let mut evening = Evening::new(3, || dice.seed());
    let mut dice = Dice::new(seed, index, "takes");
    for (source, name) in sources.iter().zip(NAMES) {
        for _ in 0..2 {
            let scene = source.into_scene(band().seed(dice.seed()));
            evening.add(scene, &format!("state = \"on\"\ndevice = \"{name}\"\n"));
        }
    }
    let sum: f64 = sources.iter().map(|s| s.added).sum();
    for _ in 0..2 {
        let mut scene = band().seed(dice.seed());
        for source in &sources {
            scene = source.into_scene(scene);
        }
        if truth_balance == "more" {
            // As loud again as all that is there: 3 dB more.
            scene = scene.device(Hash::flat(), Db(10.0 * (2.0 + sum).log10()));
        }
        evening.add(scene, &format!("state = \"on\"\ndevice = \"{}\"\n", NAMES[..count].join(" + ")));
    }
    let report = evening.report();
    let held = |found: f64, ci: Option<[f64; 2]>, value: f64| {
        (found - value, ci.is_some_and(|[low, high]| (low..=high).contains(&value)))
    };
    let mut result = Trial { shares: vec![], without: vec![], balance: (truth_balance, "none".to_owned()) };
    for (source, name) in sources.iter().zip(NAMES) {
        let Some(entry) = report.budget.iter().find(|e| e.device == name) else { continue };
        result.shares.push(held(entry.share, entry.share_ci, source.added / sum));
        let quieter = 10.0 * ((1.0 + sum) / (1.0 + sum - source.added)).log10();
        result.without.extend(entry.without_db.map(|v| held(v, entry.without_ci_db, quieter)));
    }
    if let Some(joint) = report.joint.first() {
        result.balance.1 = serde_json::to_value(joint.balance).unwrap().as_str().unwrap().to_owned();
    }
    result
}

/// So many.
pub fn trials(seed: u64, count: usize) -> Vec<Trial> {
    (0..count as u64).into_par_iter().map(|i| trial(seed, i)).collect()
}

/// The table.
pub fn table(trials: &[Trial]) -> String {
    let mut text = format!("budgets: {} of two to four devices, and all together\n", trials.len());
    for (name, pick, unit) in [("share", true, ""), ("quieter without", false, " dB")] {
        let all: Vec<(f64, bool)> =
            trials.iter().flat_map(|t| if pick { &t.shares } else { &t.without }).copied().collect();
        let mut sizes: Vec<f64> = all.iter().map(|e| e.0.abs()).collect();
        text += &format!(
            "{name:16} n {:4}  95 % within {:.3}{unit}  covered {:.1} %\n",
            all.len(),
            at(&mut sizes, 0.95),
            share(all.iter().filter(|e| e.1).count(), all.len())
        );
    }
    for truth in ["adds_up", "more"] {
        let of: Vec<&Trial> = trials.iter().filter(|t| t.balance.0 == truth).collect();
        let right = of.iter().filter(|t| t.balance.1 == truth).count();
        text += &format!("{truth}: told so {:.1} % of {}\n", share(right, of.len()), of.len());
    }
    text
}
