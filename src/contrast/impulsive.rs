//! How much of the added noise stands above its Gaussian part, in time and in power: the impulsive part as opposed
//! to the white Gaussian one of ITU-R SM.1753-2. Not here: the distribution itself (`envelope::apd`), the verdict.

use serde::{Deserialize, Serialize};

use crate::signal::envelope::{Envelope, GaussianPart};

/// A share of power whose standard deviation is larger than this is not told. Chosen: so that "30 %" is told from
/// "50 %".
const MOST_DOUBT: f64 = 0.1;
/// Standard deviations beyond which a Gaussian part of the added noise is believed. Chosen: more than three, for
/// the two levels it is the difference of may each move a little.
const GAUSSIAN_SIGMAS: f64 = 4.0;
/// Off recordings that themselves hold this share of the added power in impulses (voices, crashes) tell nothing.
/// Chosen: with as much before as came, the difference of two scattering shares says nothing.
const MOST_OFF: f64 = 0.5;

/// The impulsive part of the added noise, as opposed to the white Gaussian one (ITU-R SM.1753-2). Both shares are
/// the least there is: impulses hardly stronger than the noise are counted to the Gaussian part.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Impulsive {
    /// Share of the time in which it is there, 0..1, beyond that with the device off.
    pub time_share: f64,
    /// Its share of the added noise power, 0..1; lines left out.
    pub power_share: f64,
}

impl Impulsive {
    /// From the envelopes of both states; `gain`: what the on side's gain is above the off side's (ratio of
    /// powers). `None` where nothing is added, or too little to tell its share.
    pub fn of(off: &[&Envelope], on: &[&Envelope], gain: f64) -> Option<Self> {
        let added = AddedNoise::of(off, on, gain)?;
        if added.mean <= 0.0 || added.doubt > MOST_DOUBT * added.mean || added.above_before > MOST_OFF * added.mean
        {
            return None;
        }
        Some(Self { time_share: added.time_share, power_share: (added.above / added.mean).clamp(0.0, 1.0) })
    }

    /// As a sentence, where such noise is there for a time.
    pub fn sentence(&self) -> Option<String> {
        (self.time_share > 0.0).then(|| {
            format!(
                "bursts, at least {} of the time, carry {} of the added noise",
                self.time_words(),
                self.power_words()
            )
        })
    }

    /// The share of time: "31 %", "0.4 %", "0.07 %".
    pub fn time_words(&self) -> String {
        let percent = 100.0 * self.time_share;
        match percent {
            _ if percent < 0.095 => format!("{percent:.2} %"),
            _ if percent < 9.5 => format!("{percent:.1} %"),
            _ => format!("{percent:.0} %"),
        }
    }

    /// The share of power; what is all within its doubt is not given a number.
    pub fn power_words(&self) -> String {
        if self.power_share > 0.97 {
            "nearly all".to_owned()
        } else {
            format!("at least {:.0} %", 100.0 * self.power_share)
        }
    }
}

/// What the on state has beyond the off state, by the amplitude distributions; densities in FS²/Hz.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AddedNoise {
    /// All of it.
    pub mean: f64,
    /// What stands above the Gaussian part.
    pub above: f64,
    /// The Gaussian part.
    pub gaussian: f64,
    /// Standard deviation of both parts.
    pub doubt: f64,
    /// Share of the time in which something stands above the Gaussian part, 0..1.
    pub time_share: f64,
    /// What stood above the Gaussian part with the device off.
    above_before: f64,
}

impl AddedNoise {
    /// From the envelopes of both states; `None` where one has too few values.
    pub fn of(off: &[&Envelope], on: &[&Envelope], gain: f64) -> Option<Self> {
        let (off, on) = (State::of(off, 1.0)?, State::of(on, gain)?);
        Some(Self {
            mean: on.mean - off.mean,
            above: on.above - off.above,
            gaussian: (on.mean - on.above) - (off.mean - off.above),
            doubt: off.sigma.hypot(on.sigma),
            time_share: (on.time_share - off.time_share).max(0.0),
            above_before: off.above,
        })
    }

    /// Share of the Gaussian part, 0..1; 0 where it can't be told from chance.
    pub fn gaussian_share(&self) -> f64 {
        if self.mean > 0.0 && self.gaussian > GAUSSIAN_SIGMAS * self.doubt {
            (self.gaussian / self.mean).clamp(0.0, 1.0)
        } else {
            0.0
        }
    }
}

/// The recordings of a state, on average; densities in FS²/Hz.
struct State {
    mean: f64,
    above: f64,
    sigma: f64,
    time_share: f64,
}

impl State {
    fn of(side: &[&Envelope], gain: f64) -> Option<Self> {
        let parts: Vec<GaussianPart> = side.iter().filter_map(|envelope| envelope.apd.gaussian()).collect();
        let n = parts.len() as f64;
        let average = |of: &dyn Fn(&GaussianPart) -> f64| parts.iter().map(of).sum::<f64>() / n;
        (!parts.is_empty()).then(|| Self {
            mean: average(&|part| part.mean / gain),
            above: average(&|part| part.above() / gain),
            sigma: average(&|part| (part.sigma * part.density / gain).powi(2)).sqrt() / n.sqrt(),
            time_share: average(&|part| part.time_share),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo::synth::{Buzz, Clicks, Hash, Receiver, Scene};
    use crate::signal::measure::{MeasureSettings, Measurement};
    use crate::units::{Db, Dbfs};
    use approx::assert_abs_diff_eq;

    fn envelope(scene: Scene) -> Envelope {
        let take = scene.render(20.0);
        Measurement::of_samples(12_000, &take.samples, &MeasureSettings::default()).envelope.unwrap()
    }

    fn quiet(seed: u64) -> Scene {
        Scene::new(Receiver::ssb(12_000)).band_noise(Dbfs(-45.0)).seed(seed)
    }

    fn added(on: Scene) -> Option<Impulsive> {
        let off = envelope(quiet(1));
        Impulsive::of(&[&off], &[&envelope(on)], 1.0)
    }

    /// Truth by construction: hash is Gaussian; a gate open for 30 % of the time lets its noise through for 30 %;
    /// clicks hold all of the added power in moments of about 1/bandwidth.
    #[test]
    fn each_kind_of_noise_has_its_shares() {
        let hash = added(quiet(2).device(Hash::flat(), Db(10.0))).unwrap();
        assert_abs_diff_eq!(hash.time_share, 0.0, epsilon = 0.005);
        assert_abs_diff_eq!(hash.power_share, 0.0, epsilon = 0.05);
        let buzz = added(quiet(3).device(Buzz::gated(100.0, 0.3), Db(12.0))).unwrap();
        assert_abs_diff_eq!(buzz.time_share, 0.3, epsilon = 0.06);
        assert_abs_diff_eq!(buzz.power_share, 1.0, epsilon = 0.05);
        let clicks = added(quiet(4).device(Clicks::poisson(5.0), Db(6.0))).unwrap();
        assert!((0.001..0.03).contains(&clicks.time_share), "{}", clicks.time_share);
        assert_abs_diff_eq!(clicks.power_share, 1.0, epsilon = 0.1);
    }

    #[test]
    fn nothing_added_has_no_shares() {
        assert_eq!(added(quiet(5)), None);
        assert_eq!(Impulsive::of(&[], &[&envelope(quiet(6))], 1.0), None);
    }

    #[test]
    fn shares_as_they_are_said() {
        let told = |time_share, power_share| Impulsive { time_share, power_share }.sentence();
        assert_eq!(told(0.0, 0.9), None);
        let sentence = "bursts, at least 3.1 % of the time, carry at least 84 % of the added noise";
        assert_eq!(told(0.031, 0.84).unwrap(), sentence);
        assert!(told(0.0007, 0.99).unwrap().starts_with("bursts, at least 0.07 % of"));
        assert!(told(0.31, 0.99).unwrap().ends_with("carry nearly all of the added noise"));
    }
}
