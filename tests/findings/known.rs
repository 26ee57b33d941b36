//! Households of ten devices, each learnt once and heard again at another strength, gain and background; and
//! strangers.
//!
//! Devices are drawn so that they differ in what the truth says of them (`differ`); what is alike in truth nobody
//! can tell apart.

use rayon::prelude::*;

use super::random::Dice;
use noisetally::contrast::{ContrastSettings, contrast};
use noisetally::demo::synth::{Buzz, Carrier, Carriers, Clicks, Device, Hash, Receiver, Scene, Station};
use noisetally::findings::known_noise::{Resembles, Signature, resembling};
use noisetally::signal::measure::{MeasureSettings, Measurement};
use noisetally::units::{Db, Dbfs};

/// Excesses at which devices are heard again, dB.
pub const AGAIN_DB: [f64; 4] = [3.0, 6.0, 12.0, 24.0];
/// Devices known.
const HOUSEHOLD: usize = 10;
/// Edges within which shapes are held against each other.
const EDGES_HZ: (f64, f64) = (300.0, 2700.0);

/// A device by what is true of it.
#[derive(Debug, Clone)]
enum Truth {
    Hash(Spectrum),
    Buzz { rate_hz: f64, duty: f64, over: Spectrum },
    Clicks { sort: &'static str, rate_hz: f64 },
    Carrier { hz: f64, drift: f64 },
    Comb { spacing_hz: f64, offset_hz: f64, levels: u64 },
}

/// A spectrum by its slope and hump.
#[derive(Debug, Clone, Copy)]
struct Spectrum {
    slope_db_per_khz: f64,
    hump: Option<(f64, f64, f64)>,
}

impl Spectrum {
    fn draw(dice: &mut Dice) -> Self {
        let slope_db_per_khz = if dice.chance(0.3) { 0.0 } else { dice.between(-6.0, 6.0) };
        let hump = dice
            .chance(0.5)
            .then(|| (dice.between(500.0, 2500.0), dice.between(0.2, 0.6) * 2400.0, dice.between(6.0, 15.0)));
        Self { slope_db_per_khz, hump }
    }

    fn hash(self) -> Hash {
        let hash = Hash::sloping(self.slope_db_per_khz);
        self.hump.map_or(hash.clone(), |(hz, wide, high)| hash.humped(hz, wide, high))
    }

    /// Standard deviation of the difference over frequency, dB: what is left at the best ratio of strengths.
    fn apart_db(self, other: Self) -> f64 {
        let at = |i: usize| EDGES_HZ.0 + (i as f64 + 0.5) / 48.0 * (EDGES_HZ.1 - EDGES_HZ.0);
        let (a, b) = (self.hash(), other.hash());
        let differ: Vec<f64> = (0..48).map(|i| 20.0 * (a.shape(at(i)) / b.shape(at(i))).log10()).collect();
        let mean = differ.iter().sum::<f64>() / 48.0;
        (differ.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / 48.0).sqrt()
    }
}

impl Truth {
    fn draw(dice: &mut Dice, mains_hz: f64) -> Self {
        match dice.pick(&["hash", "hash", "buzz", "buzz", "clicks", "carrier", "comb"]) {
            "hash" => Self::Hash(Spectrum::draw(dice)),
            "buzz" => Self::Buzz {
                rate_hz: mains_hz * dice.pick(&[1.0, 2.0, 2.0]),
                duty: dice.between(0.1, 0.6),
                over: Spectrum::draw(dice),
            },
            "clicks" => match dice.pick(&["random", "regular", "bursts"]) {
                "regular" => Self::Clicks { sort: "regular", rate_hz: dice.log_between(0.8, 5.0) },
                "bursts" => Self::Clicks { sort: "bursts", rate_hz: dice.log_between(0.6, 2.0) },
                _ => Self::Clicks { sort: "random", rate_hz: dice.log_between(1.0, 30.0) },
            },
            "carrier" => Self::Carrier {
                hz: dice.between(400.0, 2600.0),
                drift: if dice.chance(0.3) { dice.between(-5.0, 5.0) } else { 0.0 },
            },
            _ => Self::Comb {
                spacing_hz: dice.log_between(80.0, 450.0),
                offset_hz: dice.between(340.0, 420.0),
                levels: dice.seed(),
            },
        }
    }

    fn device(&self) -> Device {
        match *self {
            Self::Hash(spectrum) => spectrum.hash().into(),
            Self::Buzz { rate_hz, duty, over } => Buzz::gated(rate_hz, duty).over(over.hash()).into(),
            Self::Clicks { sort: "regular", rate_hz } => Clicks::regular(rate_hz, 0.02).spread(2.0).into(),
            Self::Clicks { sort: "bursts", rate_hz } => Clicks::bursts(rate_hz, 5, 80.0).spread(2.0).into(),
            Self::Clicks { rate_hz, .. } => Clicks::poisson(rate_hz).spread(2.0).into(),
            Self::Carrier { hz, drift } => Carriers::new([Carrier::at(hz).drifting(drift)]).into(),
            Self::Comb { spacing_hz, offset_hz, levels } => {
                let members = ((2650.0 - offset_hz) / spacing_hz) as u32 + 1;
                Carriers::comb(spacing_hz, offset_hz, 0..members).levels_spread(3.0, levels).into()
            }
        }
    }

    /// Whether two can be told apart by what is true of them.
    fn differ(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Hash(a), Self::Hash(b)) => a.apart_db(*b) > 2.5,
            (Self::Buzz { rate_hz: r1, duty: d1, over: o1 }, Self::Buzz { rate_hz: r2, duty: d2, over: o2 }) => {
                r1 != r2 || (d1 - d2).abs() > 0.15 || o1.apart_db(*o2) > 2.5
            }
            (Self::Clicks { sort: s1, rate_hz: r1 }, Self::Clicks { sort: s2, rate_hz: r2 }) => {
                s1 != s2 || (r1 / r2).ln().abs() > 3f64.ln()
            }
            (Self::Carrier { hz: h1, drift: d1 }, Self::Carrier { hz: h2, drift: d2 }) => {
                (h1 - h2).abs() > 60.0 || (d1 - d2).abs() > 3.0
            }
            (Self::Comb { spacing_hz: s1, .. }, Self::Comb { spacing_hz: s2, .. }) => (s1 / s2).ln().abs() > 0.04,
            _ => true,
        }
    }

    fn kind(&self) -> &'static str {
        match self {
            Self::Hash(_) => "hash",
            Self::Buzz { .. } => "buzz",
            Self::Clicks { .. } => "clicks",
            Self::Carrier { .. } => "carriers",
            Self::Comb { .. } => "comb",
        }
    }
}

/// How one hearing came out.
pub struct Heard {
    /// Kind of the device.
    pub kind: &'static str,
    /// Excess at which it was heard.
    pub excess_db: f64,
    /// Whether it was among the ten.
    pub known: bool,
    /// "right", "either" (with the right one), "wrong", "none", or "silent" where the comparison found no noise to
    /// tell.
    pub told: &'static str,
    /// In words, for `--failures`.
    pub words: String,
}

/// The receiver's evening: what stays the same within a household.
struct Place {
    rate_hz: u32,
    mains_hz: f64,
}

impl Place {
    /// A device's signature from one pair of recordings; `None` where nothing could be told.
    fn hear(&self, truth: &Truth, excess_db: f64, dice: &mut Dice) -> Option<Signature> {
        let seconds = dice.between(15.0, 25.0);
        let quiet = Scene::new(Receiver::ssb(self.rate_hz)).band_noise(Dbfs(dice.between(-60.0, -35.0)));
        let pitch_hz = dice.between(500.0, 1400.0);
        let snr = Db(dice.between(0.0, 8.0));
        let quiet = match dice.pick(&["plain", "plain", "plain", "cw", "voice", "carrier"]) {
            "cw" => quiet.station(Station::random_cw(dice.between(12.0, 25.0), pitch_hz), snr),
            "voice" => quiet.station(Station::voice(dice.between(90.0, 220.0)), Db(snr.0 - 6.0)),
            "carrier" => quiet.station(Station::carrier(pitch_hz), snr),
            _ => quiet,
        };
        let noisy = quiet.clone().device(truth.device(), Db(excess_db));
        let settings = MeasureSettings { passband: None, mains_hz: self.mains_hz };
        let mut measure = |scene: Scene| {
            let take = scene.seed(dice.seed()).render(seconds);
            Measurement::of_samples(take.rate_hz, &take.samples, &settings)
        };
        let (off, on) = (measure(quiet), measure(noisy));
        let settings = ContrastSettings { mains_hz: self.mains_hz, ..ContrastSettings::default() };
        Signature::of(contrast(&[&off], &[&on], &settings).figures.as_ref()?)
    }
}

/// One household: ten learnt, each heard again, as many strangers.
pub fn household(seed: u64, index: u64) -> Vec<Heard> {
    let mut dice = Dice::new(seed, index, "household");
    let place = Place { rate_hz: dice.pick(&[8000, 12_000, 16_000]), mains_hz: dice.pick(&[50.0, 60.0]) };
    let mut devices: Vec<Truth> = Vec::new();
    let mut signatures: Vec<Vec<Signature>> = Vec::new();
    while devices.len() < HOUSEHOLD {
        let one = Truth::draw(&mut dice, place.mains_hz);
        if devices.iter().all(|other| one.differ(other)) {
            // Learnt with care: loud enough to be described at all.
            let learnt = dice.between(6.0, 20.0);
            if let Some(signature) = place.hear(&one, learnt, &mut dice) {
                devices.push(one);
                signatures.push(vec![signature]);
            }
        }
    }
    let mut heard = Vec::new();
    for (place_of, one) in devices.iter().enumerate() {
        let excess_db = dice.pick(&AGAIN_DB);
        let answer =
            place.hear(one, excess_db, &mut dice).map(|signature| (resembling(&signature, &signatures), signature));
        heard.push(score(one, excess_db, Some(place_of), answer, &devices));
    }
    let mut strangers = 0;
    while strangers < HOUSEHOLD {
        let one = Truth::draw(&mut dice, place.mains_hz);
        if devices.iter().all(|other| one.differ(other)) {
            strangers += 1;
            let excess_db = dice.pick(&AGAIN_DB);
            let answer = place
                .hear(&one, excess_db, &mut dice)
                .map(|signature| (resembling(&signature, &signatures), signature));
            heard.push(score(&one, excess_db, None, answer, &devices));
        }
    }
    heard
}

fn score(
    truth: &Truth,
    excess_db: f64,
    right: Option<usize>,
    answer: Option<(Resembles, Signature)>,
    devices: &[Truth],
) -> Heard {
    let is_right = |candidate: &noisetally::findings::known_noise::Candidate| Some(candidate.known) == right;
    let word = match answer.as_ref().map(|(told, _)| told) {
        None => "silent",
        Some(Resembles::None(_)) => "none",
        Some(Resembles::One(one)) if is_right(one) => "right",
        Some(Resembles::Either(several)) if several.iter().any(is_right) => "either",
        Some(_) => "wrong",
    };
    let words = match &answer {
        None => String::new(),
        Some((told, signature)) => {
            let nearest: Vec<String> = match told {
                Resembles::None(nearest) => nearest.iter().collect::<Vec<_>>(),
                other => other.named().iter().collect(),
            }
            .iter()
            .map(|c| format!("{:?} {:.3} by {:?}", devices[c.known], c.resemblance, c.compared))
            .collect();
            format!(
                "called {} of {:.2?} as {}",
                signature.kind,
                [signature.noise_share, signature.clicks_share, signature.carriers_share],
                nearest.join(" or ")
            )
        }
    };
    Heard {
        kind: truth.kind(),
        excess_db,
        known: right.is_some(),
        told: word,
        words: format!("{truth:?} {excess_db} dB {word}: {words}"),
    }
}

/// So many households.
pub fn households(seed: u64, count: usize) -> Vec<Heard> {
    (0..count as u64).into_par_iter().flat_map_iter(|i| household(seed, i)).collect()
}

/// The table.
pub fn table(heard: &[Heard]) -> String {
    let share = |part: usize, of: usize| 100.0 * part as f64 / of.max(1) as f64;
    let count = |known: bool, wanted: &dyn Fn(&Heard) -> bool| {
        heard.iter().filter(|h| h.known == known && wanted(h)).count()
    };
    let mut text = "known noises: households of ten, each heard again; as many strangers\n".to_owned();
    text += "                     right  either   wrong    none  silent | strangers  taken for a known one\n";
    let mut row = |name: &str, of: &dyn Fn(&Heard) -> bool| {
        let told = |word: &'static str| count(true, &|h| of(h) && h.told == word);
        let strangers = count(false, of);
        let taken = count(false, &|h| of(h) && (h.told == "wrong" || h.told == "either"));
        text += &format!(
            "{name:18} {:7} {:7} {:7} {:7} {:7} | {strangers:9} {taken:12}\n",
            told("right"),
            told("either"),
            told("wrong"),
            told("none"),
            told("silent")
        );
    };
    for kind in ["hash", "buzz", "clicks", "carriers", "comb"] {
        row(kind, &|h| h.kind == kind);
    }
    for excess_db in AGAIN_DB {
        row(&format!("at {excess_db} dB"), &|h| h.excess_db == excess_db);
    }
    row("all", &|_| true);
    let all = count(true, &|_| true);
    let right = count(true, &|h| h.told == "right");
    let strangers = count(false, &|_| true);
    let taken = count(false, &|h| h.told == "wrong" || h.told == "either");
    text += &format!(
        "right {:.1} % of {all} (at least 90 %); strangers taken for a known one {:.1} % of {strangers} (under 2 %)\n",
        share(right, all),
        share(taken, strangers)
    );
    text
}
