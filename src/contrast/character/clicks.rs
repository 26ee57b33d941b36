//! Pulses with quiet between: do more of them come with the device than chance brings, are they evenly spaced, or
//! are they the tops of a pulsing at another rate?

use super::buzz::is_of_the_mains;
use super::evidence::Facts;
use super::pulse_chance::Counted;
use crate::signal::envelope::beat::FASTER_THAN_CLICKS_HZ;
use crate::signal::envelope::pulses::short_s;
use crate::signal::envelope::{Beat, Envelope, Pulses};

/// Pulses with the device on are called when chance alone would make so many more than with it off with at most
/// this probability: short ones, of which five against none are enough; short ones beside a voice, which makes such
/// pulses itself, in flocks; and longer ones, as static crashes are. Chosen: five of five in one half of the time
/// come by chance once in 32; the others rarer as what makes such pulses without a device is commoner. Held by the
/// validation bench.
pub(super) const CLICKS_CHANCE: f64 = 0.04;
const BESIDE_A_VOICE_CHANCE: f64 = 0.02;
const CRASHES_CHANCE: f64 = 0.002;
/// Pulses that are to count one by one must not all lie in one place: by stretches of time, chance may bring them
/// with at most this probability. More than one flock of them is enough for that. Chosen: one flock alone has more
/// (`a_flock_is_one_event` in `pulse_chance`); held by the validation bench.
const ONE_PLACE_CHANCE: f64 = 0.1;
/// Pulses that must be left of them when single flocks are passed over. Mathematics: the rate that is told is theirs,
/// and one pulse has none.
const LEAST_BESIDE_A_FLOCK: f64 = 1.5;
/// Pulses that can be called irregular, at least. Chosen: with fewer a beat may be there unseen.
const LEAST_FOR_IRREGULAR: f64 = 6.0;
/// Squared amplitude of the pulsing with the device on over that with it off from which it is the device's. Chosen:
/// as that of a buzz.
const PULSES_MORE: f64 = 2.0;
/// Pulses too few to tell a device from static are said, and the verdict left open, where they hold this share of
/// the noise power and chance would bring so many more with less than this probability: short ones, and such as
/// static brings. Chosen: wider than what is called, so that a single strong pulse is not passed over in silence;
/// held by the validation bench.
const OPEN_SHARE: f64 = 0.25;
const OPEN_CHANCE: f64 = 0.15;
const OPEN_CRASHES_CHANCE: f64 = 0.02;
/// Probability of so many more pulses by chance, if each stood for itself, below which "nothing" can't be sure.
/// Common practice: one in twenty.
const PERHAPS_CHANCE: f64 = 0.05;
/// Concentration (0..1) of the pulses' places within the period of a buzz from which they are the buzz; and the
/// probability, over all rates tried, that pulses at random are so much concentrated. Chosen: clicks beside a buzz
/// that fall into place by chance must not be lost; held by the validation bench.
const LOCKED: f64 = 0.5;
const LOCKED_CHANCE: f64 = 1e-3;
/// What lifts the mean above the steady level is laid to the pulses if they hold this share of it themselves.
/// Chosen: below a fifth something else lifts the mean, such as crashes too long for pulses; held by the validation
/// bench.
const MOMENTS_SHARE: f64 = 0.2;
/// Share of the added noise that must come in pulses for them to be a part of it. Chosen: a little above the least
/// share that is named; held by the validation bench.
const CLICKS_SHARE: f64 = 0.15;
/// The same where the level that most slices keep to has not risen: then all that was added came in moments, and
/// what of them stood out as pulses is only their top. Chosen: about half of the former; held by the validation
/// bench.
const CLICKS_ALONE_SHARE: f64 = 0.08;
/// Clicks alone take no more than so many times the time they stand above the limit, and this share of the time.
/// Chosen: a filter's ringing on both sides of the limit, and the scatter of a share of the time; held by the
/// validation bench.
const TAILS: f64 = 5.0;
const MOST_OF_CLICKS: f64 = 0.08;
/// Nor more than this for each. Chosen: a filter of 500 Hz rings for some 20 ms; twice as much lets voices through
/// (validation bench, seed 1802).
const LONGEST_CLICK_S: f64 = 0.02;

/// Which pulses are meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Which {
    /// All that stand above the noise; the tops of a buzz among them.
    All,
    /// Those that stand above a buzz as well.
    Loud,
}

impl Which {
    fn of(self, envelope: &Envelope) -> &Pulses {
        match self {
            Self::All => &envelope.pulses,
            Self::Loud => &envelope.loud,
        }
    }
}

/// Pulses that came with the device.
pub(super) struct Clicks {
    /// So many a second more than with it off.
    pub rate_hz: f64,
    /// Their power, FS².
    pub power: f64,
    /// Probability that chance alone brings so many more, by count or by stretches, whichever is greater.
    pub chance: f64,
    /// Share of the time in which they stand, 0..1.
    pub time_share: f64,
    /// The beat they keep.
    pub beat: Option<Beat>,
    /// Pulses with the device on.
    count: f64,
}

impl Clicks {
    /// Whether they come at even distances; `None` for too few.
    pub fn are_regular(&self) -> Option<bool> {
        match self.beat {
            Some(_) => Some(true),
            None => (self.count >= LEAST_FOR_IRREGULAR).then_some(false),
        }
    }
}

/// Pulses of both states.
struct Seen {
    off: Counted,
    on: Counted,
    /// Probability that chance alone brings so many more with the device on; up to which it is called the device's,
    /// and up to which the verdict is left open.
    chance: f64,
    allowed: f64,
    open: f64,
    /// The same probability by stretches, whichever counts: pulses that all lie in two places are no sure thing.
    by_stretches: f64,
}

impl Seen {
    /// Mean power of the pulses that came, FS².
    fn added_power(&self) -> f64 {
        self.on.power - self.off.power
    }

    fn sentence(&self) -> String {
        let pulses = if self.on.count == 1.0 {
            "1 strong pulse".to_owned()
        } else {
            format!("{} strong pulses", self.on.count)
        };
        format!(
            "{pulses} with the device on against {} with it off: too few, or too close together, to tell a device \
             from static. Record longer",
            self.off.count
        )
    }
}

impl Facts<'_> {
    /// Pulses that came with the device: on a beat of their own, or more than chance brings.
    pub(super) fn clicks(&self, which: Which) -> Option<Clicks> {
        let seen = self.seen(which);
        let power = seen.added_power();
        if let Some(beat) = self.beat() {
            return Some(Clicks {
                rate_hz: beat.rate_hz(),
                power: power.max(beat.energy * beat.rate_hz() / self.gain),
                chance: beat.chance,
                time_share: seen.on.time_share.max(beat.width_s * beat.rate_hz()),
                beat: Some(beat),
                count: beat.hits as f64,
            });
        }
        let steady = (self.excess.density.1 - self.excess.density.0).max(0.0) * self.width_hz;
        let mean = (self.excess.mean_density.1 - self.excess.mean_density.0).max(0.0) * self.width_hz;
        let least = if self.excess.is_called() { CLICKS_SHARE } else { CLICKS_ALONE_SHARE };
        let moments = (mean - steady).max(0.0);
        let in_moments = if holds_the_moments(power, moments) { power.max(moments) } else { power };
        let enough = in_moments > least * steady.max(mean).max(power);
        // What came may be a voice, whose pulses keep no beat either.
        let voice_came = self.voice && self.strong_visitor().is_some();
        (enough && !voice_came && seen.chance < seen.allowed).then(|| Clicks {
            rate_hz: seen.on.typical_rate_hz() - seen.off.typical_rate_hz(),
            power,
            chance: seen.chance.max(seen.by_stretches),
            time_share: seen.on.time_share,
            beat: None,
            count: seen.on.count,
        })
    }

    /// The beat of short pulses that on recordings have and no off recording has.
    pub(super) fn beat(&self) -> Option<Beat> {
        let off: Vec<&Beat> = self.off.iter().filter_map(|e| e.beat.as_ref()).collect();
        let new = |beat: &Beat| beat.is_short() && !off.iter().any(|known| beat.is_of(known));
        let surest =
            self.on.iter().filter_map(|e| e.beat).filter(new).min_by(|a, b| a.chance.total_cmp(&b.chance))?;
        let surest = self.longer_beat.map_or(surest, |longer| surest.told_by(longer));
        let beat = Beat { chance: surest.chance * self.on.len() as f64, ..surest };
        (beat.is_believed() && beat.is_slow()).then_some(beat)
    }

    /// The pulses of both states, and how probably chance alone brings so many more with the device on.
    fn seen(&self, which: Which) -> Seen {
        let side = |envelopes: &[&Envelope], gain: f64| {
            Counted::of(&envelopes.iter().map(|e| which.of(e)).collect::<Vec<_>>(), gain)
        };
        let (off, on) = (side(&self.off, 1.0), side(&self.on, self.gain));
        let are_short = on.typical_width_s <= short_s(self.width_hz);
        let (by_count, by_stretches) = (on.chance_by_count(&off), on.chance_by_stretches(&off));
        // Short pulses count one by one, unless the band makes some itself, or a voice might: these come in flocks.
        // What is a single pulse beside a burst of static is no device's either.
        let one_by_one =
            off.count == 0.0 && by_stretches < ONE_PLACE_CHANCE && on.typical_count() >= LEAST_BESIDE_A_FLOCK;
        let chance = match are_short && !self.voice {
            true if one_by_one => by_count,
            true => by_count.max(by_stretches),
            false => by_stretches,
        };
        let (allowed, open) = match (are_short, self.voice) {
            (true, false) => (CLICKS_CHANCE, OPEN_CHANCE),
            (true, true) => (BESIDE_A_VOICE_CHANCE, BESIDE_A_VOICE_CHANCE),
            (false, false) => (CRASHES_CHANCE, OPEN_CRASHES_CHANCE),
            (false, true) => (CRASHES_CHANCE, CRASHES_CHANCE),
        };
        Seen { off, on, chance, allowed, open, by_stretches }
    }

    /// Whether more pulses came with the device than chance brings if each stood for itself.
    pub(super) fn pulses_perhaps(&self) -> bool {
        let seen = self.seen(Which::All);
        seen.on.chance_of_all(&seen.off) < PERHAPS_CHANCE
    }

    /// Said where strong pulses came with the device, but too few to tell them from static.
    pub(super) fn pulses_too_few(&self, which: Which) -> Option<String> {
        let seen = self.seen(which);
        let few = (seen.allowed..seen.open).contains(&seen.chance);
        (few && seen.added_power() > OPEN_SHARE * self.noise_power_before()).then(|| seen.sentence())
    }

    /// Said where the band has no pulses of its own and a strong one came, be it a single one. Strong against the
    /// louder noise of the two: such noise makes a pulse itself once in an hour.
    pub(super) fn single_pulses(&self) -> Option<String> {
        let seen = self.seen(Which::All);
        let noise = self.noise_power_before() * (self.excess.density.1 / self.excess.density.0).max(1.0);
        let single = seen.off.count == 0.0 && seen.chance >= seen.allowed;
        (single && seen.added_power() > OPEN_SHARE * noise).then(|| seen.sentence())
    }

    fn noise_power_before(&self) -> f64 {
        self.excess.density.0 * self.width_hz
    }

    /// Whether the pulses keep to one place within the periods of this rate in every on recording: the mean of
    /// e^(2πi·f·t) over their times, at the best rate nearby. Of n random times its magnitude exceeds R with the
    /// probability e^(−nR²) (Lord Rayleigh, 1880; the test of uniformity in K. V. Mardia, P. E. Jupp, Directional
    /// Statistics, 2000, 6.3.1; from memory).
    pub(super) fn locked_to(&self, rate_hz: f64, which: Which) -> bool {
        let enough: Vec<_> = self.on.iter().map(|e| which.of(e)).filter(|pulses| pulses.kept.len() >= 8).collect();
        !enough.is_empty()
            && enough.iter().all(|pulses| {
                let times: Vec<f64> = pulses.kept.iter().map(|pulse| pulse.at_s).collect();
                let span = (times[times.len() - 1] - times[0]).max(0.1);
                let steps = (0.5 * span / 0.2).ceil() as i32;
                let concentration = (-steps..=steps).map(|step| {
                    let rate = rate_hz + 0.5 * f64::from(step) / f64::from(steps);
                    let (re, im) = times.iter().fold((0.0, 0.0), |(re, im), t| {
                        let phase = std::f64::consts::TAU * rate * t;
                        (re + phase.cos(), im + phase.sin())
                    });
                    f64::hypot(re, im) / times.len() as f64
                });
                let by_chance = (f64::from(2 * steps + 1) / LOCKED_CHANCE).ln() / times.len() as f64;
                concentration.fold(0.0, f64::max) > LOCKED.max(by_chance.sqrt())
            })
    }

    /// A rate apart from the mains at which the noise comes in bursts, of which pulses are the tops; it is not the
    /// device's where off has it too.
    pub(super) fn pulsing_hz(&self) -> Option<f64> {
        let seen = self.on.iter().find_map(|e| e.modulation.as_ref()?.strongest(FASTER_THAN_CLICKS_HZ))?;
        let squared = |side: &[&Envelope], gain: f64| {
            let at_rate = |e: &&Envelope| {
                let line = e.modulation.as_ref()?.at_rate(seen.rate_hz);
                Some((line.amplitude * e.modulated_mean / gain).powi(2))
            };
            let each: Vec<f64> = side.iter().filter_map(at_rate).collect();
            each.iter().sum::<f64>() / each.len().max(1) as f64
        };
        let came = squared(&self.on, self.gain) > PULSES_MORE * squared(&self.off, 1.0);
        let known = is_of_the_mains(seen.rate_hz, self.mains_hz);
        (came && !known && self.locked_to(seen.rate_hz, Which::All)).then_some(seen.rate_hz)
    }
}

/// Whether what lifts the mean above the steady level is the pulses'.
fn holds_the_moments(pulses_power: f64, moments: f64) -> bool {
    pulses_power > MOMENTS_SHARE * moments
}

impl Clicks {
    /// Whether what lifts the mean, FS², is theirs.
    pub fn has_the_moments(&self, moments: f64) -> bool {
        holds_the_moments(self.power, moments)
    }

    /// Whether the noise stands above its Gaussian part for much longer than clicks do: then there is more than
    /// clicks.
    pub fn leave_time_over(&self, above_for: f64) -> bool {
        above_for > MOST_OF_CLICKS + (TAILS * self.time_share).min(LONGEST_CLICK_S * self.rate_hz)
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use crate::contrast::{Character, ContrastSettings, contrast};
    use crate::demo::synth::{Clicks, Receiver, Scene};
    use crate::signal::measure::{MeasureSettings, Measurement};
    use crate::units::{Db, Dbfs};
    use crate::warning::Trust;

    /// By construction: noise that is 18 dB louder for a moment, 15 times at random. Moments of 3 ms are clicks; of
    /// those of 150 ms, as syllables have them, the tops alone are no reason to say so.
    #[test]
    fn tops_of_long_bursts_are_no_clicks() {
        let measured = |seed: u64, length_s: f64| {
            let mut take = Scene::new(Receiver::ssb(12_000)).band_noise(Dbfs(-45.0)).seed(seed).render(15.0);
            let mut state = seed;
            for second in 0..15 {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                let begin = second * 12_000 + (state >> 33) as usize % 9_000;
                let burst = &mut take.samples[begin..][..(length_s * 12_000.0) as usize];
                burst.iter_mut().for_each(|x| *x *= 8.0);
            }
            Measurement::of_samples(take.rate_hz, &take.samples, &MeasureSettings::default())
        };
        let off = measured(1, 0.0);
        let kind = |on: &Measurement| {
            let found = contrast(&[&off], &[on], &ContrastSettings::default());
            found.figures.expect("both can be measured").verdict.character
        };
        assert_eq!(kind(&measured(2, 0.003)), Character::Clicks);
        assert_ne!(kind(&measured(2, 0.15)), Character::Clicks);
    }

    /// By construction: a pulse every 1.25 s, in a take that is 3 dB quieter. No level can be compared then; the
    /// beat is told all the same.
    #[test]
    fn a_beat_needs_no_level() {
        let quiet = || Scene::new(Receiver::ssb(12_000)).band_noise(Dbfs(-45.0));
        let measured = |scene: Scene, seed: u64, gain: f32| {
            let mut take = scene.seed(seed).render(15.0);
            take.samples.iter_mut().for_each(|x| *x *= gain);
            Measurement::of_samples(take.rate_hz, &take.samples, &MeasureSettings::default())
        };
        let (off, fence) = (measured(quiet(), 1, 1.0), quiet().device(Clicks::regular(0.8, 0.002), Db(1.0)));
        let found = contrast(&[&off], &[&measured(fence, 2, 0.7)], &ContrastSettings::default());
        assert_eq!(found.trust, Trust::Void);
        let verdict = found.figures.expect("both can be measured").verdict;
        assert_eq!(verdict.character, Character::Clicks);
        assert_abs_diff_eq!(verdict.pulse_period_s.expect("a beat").value, 1.25, epsilon = 0.01);
        assert!(verdict.confidence <= 0.3);
    }
}
