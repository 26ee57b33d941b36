//! Noise that pulses at the mains rates: how deep, at which rate, how surely.

use super::confidence::BAND_MOVES_DB;
use super::evidence::Facts;
use crate::contrast::trust::GAIN_SHIFT_DB;
use crate::signal::envelope::modulation::MAINS_TOLERANCE;
use crate::signal::envelope::{AtOnce, Envelope, Modulation, RateLine};
use crate::units::{in_db, ratio_of_db};

/// Relative amplitude of the added noise's pulsing from which it is a buzz. Noise gated at any duty up to 60 % has
/// at least 1.0, full-wave ripple as |sin| 0.67; a well filtered supply leaves a few hundredths. Chosen between the
/// two; held by the validation bench.
pub(super) const BUZZ_AMPLITUDE: f64 = 0.25;
/// A buzz in noise whose rise is not certain must stand so many standard deviations above noise. Chosen: nothing
/// else says that anything came, so chance must be out of the question; held by the validation bench.
const BUZZ_ALONE_SIGMAS: f64 = 8.0;

/// Pulsing of the noise that is so many times as deep as any that off may have is not the band's. Chosen: 10 dB.
const FAR_DEEPER: f64 = 3.16;

/// Share of the pulsing at odd multiples of a rate from which that rate, not twice it, is meant. Chosen: of what
/// pulses at twice the rate, noise leaves a few per cent there.
const LEAST_ODD_SHARE: f64 = 0.1;

/// Share of the noise up to which what pulses is told from its pulsing. Chosen: 13 dB; narrow pulses reach it.
const MOST_SHARE: f64 = 0.95;

/// Stations are keyed as fast as this: dots of 60 words a minute come 25 times a second, teletype of 45 to 50 baud
/// alternates 23 to 25 times (common practice); with room, below the mains frequency.
const FASTEST_KEYING_HZ: f64 = 40.0;

/// The mains frequency of other countries.
pub(crate) fn other_mains_hz(mains_hz: f64) -> f64 {
    if mains_hz < 55.0 { 60.0 } else { 50.0 }
}

/// Which multiple of which mains frequency a rate is: half, once or twice. The session's own frequency first.
pub(crate) fn multiple_of_mains(rate_hz: f64, mains_hz: f64) -> Option<(f64, f64)> {
    [mains_hz, other_mains_hz(mains_hz)].into_iter().find_map(|mains_hz| {
        let near = |times: &f64| (rate_hz - times * mains_hz).abs() <= MAINS_TOLERANCE * times * mains_hz;
        [1.0, 2.0, 0.5].into_iter().find(near).map(|times| (times, mains_hz))
    })
}

/// Whether a rate is a multiple of half a mains frequency, of this country or another.
pub(super) fn is_of_the_mains(rate_hz: f64, mains_hz: f64) -> bool {
    [mains_hz, other_mains_hz(mains_hz)].into_iter().any(|mains_hz| {
        let step_hz = mains_hz / 2.0;
        let times = (rate_hz / step_hz).round();
        times >= 1.0 && (rate_hz - times * step_hz).abs() <= MAINS_TOLERANCE * rate_hz
    })
}

/// Pulsing at a mains rate that came with the device.
#[derive(Debug, Clone)]
pub(super) struct Buzz {
    /// The rate.
    pub rate_hz: f64,
    /// Amplitude of the pulsing, all multiples together, over the added noise's power; 1 where that is not known.
    pub depth: f64,
    /// Half of that amplitude, FS²: what noise has about at least that swings so far.
    pub least_power: f64,
    /// Share that stands at odd multiples of the rate only.
    odd_share: f64,
    /// Standard deviations above what plain noise leaves at the rate.
    pub sigmas: f64,
    /// Whether nothing like it stands at rates nearby.
    pub alone: bool,
    /// Whether no off recording has it, though each would have shown it.
    is_new: bool,
}

/// In which envelope it is looked for.
#[derive(Debug, Clone, Copy)]
enum Tops {
    Whole,
    Capped,
}

impl Tops {
    /// The modulation spectrum and the mean power it is relative to.
    fn of(self, envelope: &Envelope) -> Option<(&Modulation, f64)> {
        match self {
            Self::Whole => envelope.modulation.as_ref().map(|modulation| (modulation, envelope.modulated_mean)),
            Self::Capped => envelope.capped.as_ref().map(|capped| (&capped.modulation, capped.mean)),
        }
    }
}

impl Facts<'_> {
    pub(super) fn buzz(&self, steady_power: f64, noise_called: bool) -> Option<Buzz> {
        self.buzz_in(Tops::Whole, steady_power, noise_called)
    }

    /// Clicks lift the modulation spectrum at every rate, so that what pulses beside them drowns: with their tops
    /// cut off it comes to light. Depth is then that of the capped envelope.
    pub(super) fn buzz_beside_clicks(&self, noise_called: bool) -> Option<Buzz> {
        let mean = |side: &[&Envelope]| {
            let means: Vec<f64> = side.iter().filter_map(|e| Some(e.capped.as_ref()?.mean)).collect();
            means.iter().sum::<f64>() / means.len().max(1) as f64
        };
        self.buzz_in(Tops::Capped, mean(&self.on) / self.gain - mean(&self.off), noise_called)
    }

    fn buzz_in(&self, tops: Tops, steady_power: f64, noise_called: bool) -> Option<Buzz> {
        let best = self.strongest_buzz(tops, steady_power)?;
        if self.is_a_beat(best.rate_hz) {
            return None;
        }
        let deep = if noise_called { best.depth >= BUZZ_AMPLITUDE } else { best.sigmas > BUZZ_ALONE_SIGMAS };
        (deep && (noise_called || best.is_new)).then_some(best)
    }

    /// Whether what pulses at a rate stands in its own place of the passband in most of the on recordings: a station
    /// that is keyed or beats at a rate of the mains.
    fn is_a_beat(&self, rate_hz: f64) -> bool {
        let at_rate = |all: &&[AtOnce]| {
            all.iter().copied().min_by(|a, b| (a.rate_hz - rate_hz).abs().total_cmp(&(b.rate_hz - rate_hz).abs()))
        };
        let near = |one: &AtOnce| (one.rate_hz - rate_hz).abs() <= MAINS_TOLERANCE * rate_hz;
        let seen: Vec<AtOnce> = self.at_once.iter().filter_map(at_rate).filter(near).collect();
        // Few parts can't tell, and at half the mains frequency stations are keyed.
        let keyed = self.station && rate_hz < FASTEST_KEYING_HZ;
        let is_a_beat = |one: &&AtOnce| one.is_in_its_place() || (keyed && one.others.is_none());
        2 * seen.iter().filter(is_a_beat).count() > seen.len()
    }

    fn strongest_buzz(&self, tops: Tops, steady_power: f64) -> Option<Buzz> {
        self.buzz_of(tops, self.mains_hz, steady_power)
            .or_else(|| self.buzz_of(tops, other_mains_hz(self.mains_hz), steady_power))
    }

    /// Noise pulses anew, and did not rise by as much as it takes to pulse so: the gain fell, as an AGC's does. The
    /// rate, and the least rise, dB.
    ///
    /// Power that is added is never below zero, so each multiple of its rate has an amplitude of twice its mean at
    /// most (mathematics: a Fourier coefficient of what has one sign).
    pub(in crate::contrast) fn levelled(&self) -> Option<(f64, f64)> {
        let buzz = self.strongest_buzz(Tops::Whole, 0.0)?;
        let is_sure = buzz.is_new && buzz.sigmas > BUZZ_ALONE_SIGMAS && !self.is_a_beat(buzz.rate_hz);
        let share = |e: &&Envelope| {
            let modulation = e.modulation.as_ref()?;
            let least = |times: f64| {
                let (squared, sd) = modulation.squared_at(times * buzz.rate_hz);
                (squared - 2.0 * sd).max(0.0).sqrt()
            };
            Some(least(1.0).max(least(2.0)) / 2.0)
        };
        let shares = self.on.iter().filter_map(share);
        let least_db = -in_db(1.0 - shares.reduce(f64::min)?.min(MOST_SHARE));
        let rise_db = self.excess.steady.ci95.1;
        (is_sure && least_db > rise_db + GAIN_SHIFT_DB).then_some((buzz.rate_hz, least_db))
    }

    /// Said where noise that did not rise pulses more than before, as a neighbour's does in a band that fades: off
    /// has the same pulsing, or would not have shown it.
    pub(super) fn buzz_of_the_band(&self) -> Option<String> {
        let buzz = self.strongest_buzz(Tops::Whole, 0.0)?;
        (!self.excess.is_called() && buzz.sigmas > BUZZ_ALONE_SIGMAS && !buzz.is_new).then(|| {
            format!(
                "the noise pulses at {:.1} Hz more strongly with the device on, but it did not rise, and off pulses \
                 too or could not have shown it: it may be the band. Record off and on several times",
                buzz.rate_hz
            )
        })
    }

    /// Pulsing at half a mains frequency, at it or at twice it. What pulses at a rate stands at its multiples too:
    /// a lower rate only counts where it adds something of its own.
    fn buzz_of(&self, tops: Tops, mains_hz: f64, steady_power: f64) -> Option<Buzz> {
        let at = |rate_hz: f64| self.buzz_at(tops, rate_hz, steady_power);
        let of_its_own = |buzz: &Buzz| buzz.odd_share >= LEAST_ODD_SHARE;
        let half = at(mains_hz / 2.0).filter(of_its_own);
        half.or_else(|| match (at(mains_hz), at(2.0 * mains_hz)) {
            (Some(once), Some(_)) if of_its_own(&once) => Some(once),
            (_, Some(twice)) => Some(twice),
            (once, None) => once,
        })
    }

    fn buzz_at(&self, tops: Tops, rate_hz: f64, steady_power: f64) -> Option<Buzz> {
        // Each recording's line at the rate, its amplitude in power rather than relative to its own mean.
        let seen = |side: &[&Envelope], gain: f64| -> Vec<RateLine> {
            let at_rate = |e: &&Envelope| {
                let (modulation, mean) = tops.of(e)?;
                let line = modulation.at_rate(rate_hz);
                let scale = mean / gain;
                Some(RateLine { amplitude: line.amplitude * scale, sigma: line.sigma * scale, ..line })
            };
            side.iter().filter_map(at_rate).collect()
        };
        let (on, off) = (seen(&self.on, self.gain), seen(&self.off, 1.0));
        let mean = |lines: &[RateLine], of: &dyn Fn(&RateLine) -> f64| {
            lines.iter().map(of).sum::<f64>() / lines.len().max(1) as f64
        };
        let squared = |lines: &[RateLine]| mean(lines, &|line| line.amplitude.powi(2));
        // Multiples alone may be another rate's: 150 Hz is five times 30 Hz as well as three times 50 Hz.
        let present = on.iter().filter(|line| line.base_present).count() * 2 > on.len();
        if !present || squared(&on) < 2.0 * squared(&off) {
            return None;
        }
        let amplitude = (squared(&on) - squared(&off)).max(0.0).sqrt();
        // A band that fades takes its own pulsing along: relative to its noise that stays as deep.
        let depths = self.on.iter().filter_map(|e| Some(tops.of(e)?.0.at_rate(rate_hz).amplitude));
        let depth = depths.fold(0.0, f64::max);
        let has_none = |e: &Envelope| {
            tops.of(e).is_some_and(|(modulation, mean)| {
                let (line, limit) = (modulation.at_rate(rate_hz), modulation.limit_at(rate_hz));
                let most = limit.max(line.amplitude);
                (!line.base_present && limit < depth)
                    || depth > FAR_DEEPER * most
                    || amplitude > ratio_of_db(BAND_MOVES_DB) * most * mean
            })
        };
        Some(Buzz {
            is_new: self.off.iter().all(|e| has_none(e)),
            rate_hz: mean(&on, &|line| line.rate_hz),
            depth: if steady_power > 0.0 { amplitude / steady_power } else { 1.0 },
            least_power: amplitude / 2.0,
            odd_share: mean(&on, &|line| line.odd_share),
            alone: self
                .on
                .iter()
                .filter_map(|e| tops.of(e))
                .all(|(modulation, _)| modulation.stands_alone(rate_hz)),
            sigmas: amplitude / mean(&on, &|line| line.sigma).max(f64::MIN_POSITIVE),
        })
    }

    /// The smallest depth of pulsing that would have been seen in the added noise.
    pub(super) fn least_depth_seen(&self, steady_power: f64) -> Option<f64> {
        let limits: Vec<f64> = self
            .on
            .iter()
            .filter_map(|e| {
                e.modulation.as_ref().map(|m| m.limit_at(2.0 * self.mains_hz) * e.modulated_mean / self.gain)
            })
            .collect();
        (!limits.is_empty()).then(|| limits.iter().copied().fold(f64::MAX, f64::min) / steady_power)
    }
}

#[cfg(test)]
mod tests {
    use crate::contrast::{Character, ContrastSettings, Verdict, contrast};
    use crate::demo::synth::{Buzz, Receiver, Scene};
    use crate::signal::measure::{MeasureSettings, Measurement};
    use crate::units::{Db, Dbfs};
    use crate::warning::{Code, Trust};

    /// What is said of two takes of 10 s with a buzz that adds so many dB to each.
    fn said(off_db: f64, on_db: f64) -> Verdict {
        let measured = |added_db: f64, seed: u64| {
            let quiet = Scene::new(Receiver::ssb(12_000)).band_noise(Dbfs(-45.0));
            let scene = if added_db > 0.0 { quiet.device(Buzz::gated(100.0, 0.3), Db(added_db)) } else { quiet };
            let take = scene.seed(seed).render(10.0);
            Measurement::of_samples(take.rate_hz, &take.samples, &MeasureSettings::default())
        };
        let (off, on) = (measured(off_db, 1), measured(on_db, 2));
        contrast(&[&off], &[&on], &ContrastSettings::default()).figures.expect("both can be measured").verdict
    }

    /// By construction: a buzz of 6 dB, and the gain so much lower that the level is as before. With the gain as it
    /// was nothing is said; nor of 1 dB, which a band may hide.
    #[test]
    fn a_buzz_that_lifts_nothing_tells_of_an_agc() {
        let measured = |added_db: f64, gain_db: f64, seed: u64| {
            let quiet = Scene::new(Receiver::ssb(12_000)).band_noise(Dbfs(-45.0));
            let scene = if added_db > 0.0 { quiet.device(Buzz::gated(100.0, 0.3), Db(added_db)) } else { quiet };
            let mut take = scene.seed(seed).render(10.0);
            take.samples.iter_mut().for_each(|x| *x *= 10f32.powf(gain_db as f32 / 20.0));
            Measurement::of_samples(take.rate_hz, &take.samples, &MeasureSettings::default())
        };
        let off = measured(0.0, 0.0, 1);
        let told = |added_db: f64, gain_db: f64| {
            let found = contrast(&[&off], &[&measured(added_db, gain_db, 2)], &ContrastSettings::default());
            (found.trust == Trust::Doubtful && found.warnings.iter().any(|w| w.code == Code::GainChanged), found)
        };
        let (is_told, found) = told(6.0, -6.0);
        assert!(is_told, "{:?}", found.warnings);
        assert_eq!(found.figures.expect("both can be measured").verdict.character, Character::Buzz);
        assert!(!told(6.0, 0.0).0 && !told(1.0, -1.0).0);
    }

    /// By construction: a rise of 1 dB is not called between single takes. Pulsing that is new tells of a device
    /// all the same; pulsing that off has too may be a neighbour's in a band that fades.
    #[test]
    fn without_a_rise_only_pulsing_that_is_new_is_a_buzz() {
        assert_eq!(said(0.0, 1.0).character, Character::Buzz);
        let open = said(1.0, 2.0);
        assert_eq!(open.character, Character::Unclear, "{open:?}");
        assert!(open.evidence[0].contains("it may be the band"), "{open:?}");
    }
}
