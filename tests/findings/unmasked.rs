//! Carriers near the limit of what a loud step hides. Truth by experiment: the same loud noise is made once more
//! with the carrier in it, and the tool is asked whether it finds it.

use rayon::prelude::*;

use super::evening::{BAND, Evening, WIDTH_HZ, band, share};
use super::random::Dice;
use noisetally::demo::synth::{Carrier, Carriers, Hash};
use noisetally::findings::ladder::floor::Floor;
use noisetally::units::{Db, Dbfs};

/// One carrier.
pub struct Trial {
    /// What the tool says: new, unmasked, unclear; none: it was followed, or not found at all.
    pub answer: Option<String>,
    /// Whether the loud noise shows such a carrier.
    pub would_show: bool,
    /// Whether it was there all along.
    pub was_there: bool,
    /// Level over what the tool says it needed, dB.
    pub margin_db: Option<f64>,
}

impl Trial {
    /// Whether a decided answer is right.
    pub fn is_right(&self) -> Option<bool> {
        match self.answer.as_deref()? {
            "new" => Some(self.would_show && !self.was_there),
            "unmasked" => Some(!self.would_show),
            _ => None,
        }
    }
}

/// Makes and judges one.
pub fn trial(seed: u64, index: u64) -> Trial {
    let mut dice = Dice::new(seed, index, "unmasked");
    let (loud, quiet) = (Db(dice.between(10.0, 24.0)), Db(dice.between(0.5, 5.0)));
    let hz = dice.between(600.0, 2400.0);
    let was_there = dice.chance(0.5);
    // Around the level that the loud noise hides, from the noise as it is made: bins of about 5 Hz, some 60
    // averages.
    let density = BAND.mean_square() * loud.ratio() / WIDTH_HZ;
    let limit = Floor::of(density, 5.0, 60.0, 480.0).map_or(-50.0, |f| f.needed_db);
    let level = Dbfs(limit + dice.between(-14.0, 14.0));
    let carrier = || Carriers::new([Carrier::at(hz)]);
    let mut evening = Evening::new(2, || dice.seed());
    let mut dice = Dice::new(seed, index, "takes");
    let on = "state = \"on\"\ndevice = \"charger\"\n";
    let loud_scene = |seed| band().seed(seed).device(Hash::flat(), loud);
    let first = loud_scene(dice.seed());
    evening.add(if was_there { first.carriers(carrier(), level) } else { first }, on);
    let second = band().seed(dice.seed()).device(Hash::flat(), quiet).carriers(carrier(), level);
    evening.add(second, &format!("{on}remedy = \"linear supply\"\norder = 1\n"));
    // What if: another loud take of another device, with the carrier in it.
    evening.add(loud_scene(dice.seed()).carriers(carrier(), level), "state = \"on\"\ndevice = \"what if\"\n");
    let report = evening.report();
    let near = |f: f64| (f - hz).abs() < 6.0;
    let what_if = report.contrasts.iter().find(|c| c.device == "what if").expect("it was compared");
    let told = report.ladders.first().and_then(|l| l.unmasked.iter().find(|a| a.freq_hz.is_some_and(near)));
    Trial {
        answer: told.map(|a| serde_json::to_value(a.origin).unwrap().as_str().unwrap().to_owned()),
        would_show: what_if.added_lines.iter().any(|l| near(l.freq_hz)),
        was_there,
        margin_db: told.and_then(|a| Some(a.level_db? - a.needed_db?)),
    }
}

/// So many.
pub fn trials(seed: u64, count: usize) -> Vec<Trial> {
    (0..count as u64).into_par_iter().map(|i| trial(seed, i)).collect()
}

/// The table.
pub fn table(trials: &[Trial]) -> String {
    let told: Vec<&Trial> = trials.iter().filter(|t| t.answer.is_some()).collect();
    let decided: Vec<bool> = told.iter().filter_map(|t| t.is_right()).collect();
    let mut text = format!(
        "unmasked or new: {} carriers, {} appeared, decided {:.1} %, right {:.1} % of {}\n",
        trials.len(),
        told.len(),
        share(decided.len(), told.len()),
        share(decided.iter().filter(|r| **r).count(), decided.len()),
        decided.len()
    );
    for (low, high) in
        [(-20.0, -8.0), (-8.0, -4.0), (-4.0, -2.0), (-2.0, 0.0), (0.0, 2.0), (2.0, 4.0), (4.0, 8.0), (8.0, 20.0)]
    {
        let of: Vec<&&Trial> = told.iter().filter(|t| t.margin_db.is_some_and(|m| m >= low && m < high)).collect();
        let said = |word: &str| of.iter().filter(|t| t.answer.as_deref() == Some(word)).count();
        text += &format!(
            "  {low:5.0} to {high:3.0} dB of what was needed: shows {:5.1} % of {:3}; new {}, unmasked {}, unclear {}\n",
            share(of.iter().filter(|t| t.would_show).count(), of.len()),
            of.len(),
            said("new"),
            said("unmasked"),
            said("unclear")
        );
    }
    text
}
