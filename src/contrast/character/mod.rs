//! What kind of noise the added power is, judged from figures that are kept as evidence. Here: which kinds are
//! there and what share each has; `buzz` and `clicks` find theirs (`pulse_chance`: by chance?), `confidence` says
//! how sure (its numbers: `doubts`), `evidence` in words why.

pub(crate) mod buzz;
mod clicks;
mod confidence;
mod doubts;
mod evidence;
mod pulse_chance;

use serde::{Deserialize, Serialize};

use super::excess::is_too_wide;
use super::impulsive::Impulsive;
use super::skirts::NEAR_HZ;
use super::visitor::Visitor;
use crate::units::{Estimate, in_db};
use buzz::Buzz;
use clicks::{Clicks, Which};

pub use confidence::BLIND_DB;
pub use doubts::Doubt;
pub(super) use evidence::Facts;

/// A part below this share of the added power is not named. Chosen: a tenth of the power is half a decibel, below
/// which removing it would change nothing one hears.
const LEAST_SHARE: f64 = 0.1;
/// However small its share, a part is named that is worth a remedy by itself: noise of so many dB, the least step
/// that the ear tells (common practice), and carriers so far over the noise before in the width of a voice signal
/// (common practice: 2500 Hz), where they are heard as a clear whistle (chosen).
const REMEDY_DB: f64 = 1.0;
const REMEDY_CARRIER_DB: f64 = 10.0;
const SIGNAL_WIDTH_HZ: f64 = 2500.0;
/// Share of the added lines' power from which a family among them stands for all, and below which it stands for
/// nothing. Chosen: a family has strangers beside it, and of single carriers some fall into place; held by the
/// validation bench.
const NEARLY_ALL_COMB: f64 = 0.65;
const HARDLY_A_COMB: f64 = 0.25;
/// Depth of a usual buzz, by which its power is told where clicks stand beside it: |sin| has 0.67, gates 1 to 2.
/// Chosen in their middle.
const BUZZ_DEPTH: f64 = 1.2;
/// Pulses that come about as often as the mains pulses are the buzz itself. Chosen: only a part of a buzz's tops
/// stand out; held by the validation bench.
const PULSES_ARE_BUZZ: f64 = 0.4;

/// Noise that rose by less than this share of its rise in the quietest moments is not steady. Chosen in the middle:
/// steady noise rises by all of it then, a voice leaves none in its pauses.
const IN_QUIET_MOMENTS: f64 = 0.5;

/// What came for this share of the time did not come and go. Chosen: stretches lose their edges.
const ALL_THE_TIME: f64 = 0.9;

/// Noise whose quietest moments stand so far over the loudest with the device off has risen, dB. Measured apart from
/// this program: of a hundred pairs from hf-01 to hf-13 with nothing added two have more than 2.5, 4 and 21 dB.
const APART_DB: f64 = 3.0;

/// Kind of noise.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Character {
    /// No change found.
    None,
    /// Broadband, steady.
    Hash,
    /// Broadband, pulsing at the mains rate.
    Buzz,
    /// Short pulses with quiet between.
    Clicks,
    /// Single carriers.
    Carriers,
    /// A family of carriers.
    Comb,
    /// More than one of these.
    Mixed,
    /// Can't be told.
    Unclear,
}

impl Character {
    /// Whether it names a noise: neither nothing nor something that can't be told.
    pub fn is_a_noise(self) -> bool {
        match self {
            Self::None | Self::Unclear => false,
            Self::Hash | Self::Buzz | Self::Clicks | Self::Carriers | Self::Comb | Self::Mixed => true,
        }
    }

    /// Whether it is made of lines, which stand between or beside the noise.
    pub fn is_lines(self) -> bool {
        match self {
            Self::Carriers | Self::Comb => true,
            Self::None | Self::Hash | Self::Buzz | Self::Clicks | Self::Mixed | Self::Unclear => false,
        }
    }

    /// The name in the JSON contract.
    pub fn code(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::Hash => "hash",
            Self::Buzz => "buzz",
            Self::Clicks => "clicks",
            Self::Carriers => "carriers",
            Self::Comb => "comb",
            Self::Mixed => "mixed",
            Self::Unclear => "unclear",
        }
    }
}

/// One kind of noise in the added power.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Part {
    /// Its kind: hash, buzz, clicks, carriers or comb.
    pub character: Character,
    /// Share of the added power, 0..1.
    pub share: f64,
}

/// The judgement, with what it rests on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Verdict {
    /// Kind of the added power as a whole.
    pub character: Character,
    /// How sure, 0..1.
    pub confidence: f64,
    /// What keeps it from being surer.
    pub bound: Doubt,
    /// What it consists of, largest first.
    pub parts: Vec<Part>,
    /// Added power in the passband, FS²; lines and pulses included.
    pub added_power: f64,
    /// The rate of a buzz.
    pub mains_rate_hz: Option<f64>,
    /// Clicks a second.
    pub pulse_rate_hz: Option<f64>,
    /// Whether they come at even distances.
    pub pulses_regular: Option<bool>,
    /// From one to the next where they keep a beat, s.
    pub pulse_period_s: Option<Estimate>,
    /// What of the added noise stands above its Gaussian part; `None` where noise is no part of it.
    pub impulsive: Option<Impulsive>,
    /// Figures in plain sentences.
    pub evidence: Vec<String>,
}

/// Which kinds of noise came with the device.
struct Heard {
    /// Whether the noise rose for certain.
    noise_called: bool,
    /// Added noise by the level that most slices keep to, FS².
    steady_power: f64,
    buzz: Option<Buzz>,
    clicks: Option<Clicks>,
    /// A rate apart from the mains at which the noise pulses.
    pulsing_hz: Option<f64>,
    /// Whether pulses at random came that may be no clicks: the tops of longer bursts, or what a carrier makes that
    /// runs to and fro.
    bursts: bool,
}

impl Heard {
    fn bursts_sentence(&self) -> Option<String> {
        self.bursts.then(|| {
            "bursts at random came with the device on: listen to whether they are a voice, static, a carrier that runs to \
             and fro, or the device"
                .to_owned()
        })
    }

    /// Said where there were strong pulses beside what was heard, too few to be called clicks: the tops of a buzz
    /// are none.
    fn few_pulses(&self, case: &Facts<'_>) -> Option<String> {
        match (&self.clicks, &self.buzz) {
            (Some(_), _) => None,
            (None, Some(_)) => case.pulses_too_few(Which::Loud),
            (None, None) => case.pulses_too_few(Which::All).or_else(|| case.single_pulses()),
        }
    }
}

impl Facts<'_> {
    /// Judges it.
    pub fn judge(&self) -> Verdict {
        let heard = self.hear();
        let (all, added_power) = self.shares(&heard);
        let beats = heard.clicks.as_ref().is_some_and(|clicks| clicks.beat.is_some());
        let mut parts = self.worth_naming(all, added_power, beats);
        let is_rise = |part: &Part| part.character == Character::Hash;
        let doubtful_rise = parts.iter().any(is_rise).then(|| self.doubtful_rise(beats)).flatten();
        parts.retain(|part| doubtful_rise.is_none() || !is_rise(part));
        let parts = shared_out(parts);
        let open = if parts.is_empty() { self.left_open(&heard) } else { None };
        // Where next to nothing would have shown, nothing is said of what was not found.
        let is_open = open.is_some()
            || doubtful_rise.is_some()
            || is_too_wide(self.excess.steady.ends())
            || self.uncounted.is_strong(self.excess, self.width_hz);
        let character = match parts.as_slice() {
            [] if is_open => Character::Unclear,
            [] => Character::None,
            [only] => only.character,
            _ => Character::Mixed,
        };
        let has = |wanted: Character| parts.iter().any(|part| part.character == wanted);
        let noise = [Character::Hash, Character::Buzz, Character::Clicks].into_iter().any(has);
        let heard = Heard {
            clicks: heard.clicks.filter(|_| has(Character::Clicks)),
            buzz: heard.buzz.filter(|_| has(Character::Buzz)),
            ..heard
        };
        let sure = self.confidence(character, &parts, &heard);
        let impulsive = Impulsive::of(&self.off, &self.on, self.gain).filter(|_| noise);
        Verdict {
            character,
            confidence: sure.value,
            bound: sure.bound,
            added_power,
            mains_rate_hz: heard.buzz.as_ref().map(|buzz| buzz.rate_hz),
            pulse_rate_hz: heard.clicks.as_ref().map(|clicks| clicks.rate_hz),
            pulses_regular: heard.clicks.as_ref().and_then(Clicks::are_regular),
            pulse_period_s: heard.clicks.as_ref().and_then(|clicks| clicks.beat).map(|beat| Estimate {
                value: beat.period_s,
                ci95: (beat.period_s - beat.period_ci_s, beat.period_s + beat.period_ci_s),
            }),
            evidence: open
                .into_iter()
                .chain(self.evidence(&heard, &parts, impulsive.as_ref()))
                .chain(doubtful_rise)
                .collect(),
            impulsive,
            parts,
        }
    }

    /// Whether the noise rose by more than it moves with the device off, however badly its level is known.
    fn rose_apart(&self) -> bool {
        self.quiet_moments.over_loud_db > APART_DB
    }

    fn hear(&self) -> Heard {
        let noise_called = self.excess.is_called() || self.rose_apart();
        let steady_power = (self.excess.density.1 - self.excess.density.0) * self.width_hz;
        let clicks = self.clicks(Which::All);
        // Evenly spaced clicks have multiples of their rate everywhere, at the mains rates too.
        let ticks_hz = clicks.as_ref().and_then(|clicks| clicks.beat).map(|beat| beat.rate_hz());
        let buzz = self
            .buzz(steady_power, noise_called)
            .or_else(|| clicks.as_ref().and_then(|_| self.buzz_beside_clicks(noise_called)))
            .filter(|buzz| buzz.alone || ticks_hz.is_none_or(|ticks_hz| ticks_hz > PULSES_ARE_BUZZ * buzz.rate_hz));
        let pulsing_hz = if buzz.is_none() && ticks_hz.is_none() { self.pulsing_hz() } else { None };
        let apart = |clicks: &Clicks, buzz: &Buzz, which| {
            let seldom = clicks.rate_hz < PULSES_ARE_BUZZ * buzz.rate_hz;
            // The tops of a buzz that stand out come at random; even clicks have a multiple near any rate.
            // Of enough tops some stand on a lattice of whole periods of the buzz.
            let beat = clicks.beat.as_ref();
            seldom
                && !beat.map_or_else(|| self.locked_to(buzz.rate_hz, which), |beat| beat.is_of_rate(buzz.rate_hz))
        };
        let clicks = clicks
            .filter(|clicks| {
                pulsing_hz.is_none() && buzz.as_ref().is_none_or(|buzz| apart(clicks, buzz, Which::All))
            })
            // The pulses are the tops of a buzz; clicks stand out even from these.
            .or_else(|| {
                self.clicks(Which::Loud)
                    .zip(buzz.as_ref())
                    .filter(|(c, b)| apart(c, b, Which::Loud))
                    .map(|both| both.0)
            });
        let bursts = clicks.as_ref().is_some_and(|clicks| buzz.is_none() && self.are_bursts(clicks));
        let clicks = clicks.filter(|_| !bursts);
        Heard { noise_called, steady_power, buzz, clicks, pulsing_hz, bursts }
    }

    /// Every kind that is there with its power as its share of all, and the sum of the powers, FS².
    fn shares(&self, heard: &Heard) -> (Vec<Part>, f64) {
        let noise_power = self.noise_power(heard.steady_power, heard.clicks.as_ref());
        let rest_power = if heard.clicks.is_some() { self.beside_clicks(heard, noise_power) } else { noise_power };
        let counted = heard.clicks.as_ref().map_or(0.0, |clicks| clicks.power.min(noise_power));
        let in_moments = noise_power - rest_power;
        // Pulses on a beat are known one by one: what else lifts the mean, a station or a crash, is not theirs.
        let all_theirs = heard.clicks.as_ref().is_none_or(|c| c.beat.is_none() || c.has_the_moments(in_moments));
        let click_power = if all_theirs { in_moments.max(counted) } else { counted };
        let rest_power = if all_theirs { noise_power - click_power } else { heard.steady_power.max(0.0) };
        let rest = if heard.buzz.is_some() { Character::Buzz } else { Character::Hash };
        let line_power = self.lines_power() / self.gain;
        let comb_power = self.lines.comb_power() / self.gain;

        let mut parts = Vec::new();
        if heard.noise_called || heard.buzz.is_some() {
            // Pulsing that is heard has a power of its own, whatever an AGC made of the level.
            let least = heard.buzz.as_ref().map_or(0.0, |buzz| buzz.least_power);
            parts.push(Part { character: rest, share: rest_power.max(least) });
        }
        if heard.clicks.is_some() {
            parts.push(Part { character: Character::Clicks, share: click_power });
        }
        // Beside a family that has most of the lines' power, or next to none of it, the rest is not worth a name.
        let comb_power = match comb_power / line_power.max(f64::MIN_POSITIVE) {
            share if share >= NEARLY_ALL_COMB => line_power,
            share if share < HARDLY_A_COMB && !self.is_a_signal(comb_power) => 0.0,
            _ => comb_power,
        };
        let lines = [(Character::Comb, comb_power), (Character::Carriers, line_power - comb_power)];
        parts.extend(
            lines.into_iter().filter(|line| line.1 > 0.0).map(|(character, share)| Part { character, share }),
        );
        let added_power = parts.iter().map(|part| part.share).sum();
        (shared_out(parts), added_power)
    }

    /// The parts that are more than a trifle beside the others, or worth a remedy by themselves, largest first.
    /// Clicks that keep a beat are heard however little power they have.
    fn worth_naming(&self, mut parts: Vec<Part>, added_power: f64, beats: bool) -> Vec<Part> {
        parts.retain(|part| {
            part.share >= LEAST_SHARE
                || self.is_worth_a_remedy(part, added_power)
                || (beats && part.character == Character::Clicks)
        });
        parts.sort_by(|a, b| b.share.total_cmp(&a.share));
        shared_out(parts)
    }

    /// Whether steady noise that rose between single takes may be the band's own motion: it wanders on as the band
    /// does, or its level moves while clicks keep a beat, of which these alone are sure.
    fn rise_may_be_the_band(&self, beats: bool) -> bool {
        let rise_db = self.excess.steady.value;
        self.wander.is_some_and(|wander| (beats && self.moves) || wander.is_the_bands(rise_db))
    }

    /// Why steady noise that rose is not called the device's.
    fn doubtful_rise(&self, beats: bool) -> Option<String> {
        let rise_db = self.excess.steady.value;
        let reads = format!("the noise reads {rise_db:.1} dB higher with the device on, but");
        if self.rise_may_be_the_band(beats) {
            Some(format!(
                "{reads} its level moves within the recordings, so that may be the band: record off and on several times"
            ))
        } else if self.quiet_moments.over_quiet_db < IN_QUIET_MOMENTS * rise_db {
            Some(format!(
                "{reads} only {:.1} dB in its quietest moments, so that is no steady noise but rather a voice or \
                 station that came: record again when it has gone",
                self.quiet_moments.over_quiet_db.max(0.0)
            ))
        } else if self.width_hz < 3.0 * NEAR_HZ && self.strong_visitor().is_some() {
            Some(format!(
                "{reads} a strong signal came, whose skirts reach through so narrow a passband: record again when it has \
                 gone"
            ))
        } else {
            None
        }
    }

    /// Whether a part would be worth a remedy were it alone: noise whose interval lies above a dB, carriers as
    /// strong as a signal.
    fn is_worth_a_remedy(&self, part: &Part, added_power: f64) -> bool {
        let before = self.excess.density.0;
        let power = part.share * added_power;
        let rise_db = in_db(1.0 + power / (before * self.width_hz));
        match part.character {
            Character::Carriers | Character::Comb => self.is_a_signal(power) && !self.stand_perhaps(),
            // Clicks lift the steady level too: what they leave of it is the noise.
            Character::Hash | Character::Buzz => self.excess.steady.ci95.0 >= REMEDY_DB && rise_db >= REMEDY_DB,
            Character::Clicks => rise_db >= REMEDY_DB,
            Character::None | Character::Mixed | Character::Unclear => false,
        }
    }

    /// Whether lines of this power, FS², are as strong as a signal.
    fn is_a_signal(&self, power: f64) -> bool {
        in_db(power / (self.excess.density.0 * SIGNAL_WIDTH_HZ)) >= REMEDY_CARRIER_DB
    }

    /// What of the added noise is no clicks, FS²: its Gaussian part, or what a buzz beside them must have.
    fn beside_clicks(&self, heard: &Heard, noise_power: f64) -> f64 {
        let gaussian = self.added.map_or(0.0, |added| added.gaussian_share()) * noise_power;
        let buzz = heard.buzz.as_ref().map_or(0.0, |buzz| buzz.depth / BUZZ_DEPTH * heard.steady_power.max(0.0));
        gaussian.max(buzz).min(noise_power)
    }

    /// Added noise power without lines, FS²: by the steady level, or by the mean where the noise comes in pulses,
    /// which a median over slices passes over when they are rare.
    fn noise_power(&self, steady: f64, clicks: Option<&Clicks>) -> f64 {
        let Some(clicks) = clicks else { return steady.max(0.0) };
        let mean = (self.excess.mean_density.1 - self.excess.mean_density.0) * self.width_hz;
        mean.max(steady).max(clicks.power)
    }

    /// Mean square of all carriers that came, those of a crowd that can't be parted included, FS².
    pub(super) fn lines_power(&self) -> f64 {
        self.lines.added_power() + self.cluster.map_or(0.0, |cluster| cluster.beside_lines)
    }

    /// Why the verdict is left open where no kind can be named.
    fn left_open(&self, heard: &Heard) -> Option<String> {
        self.surge
            .filter(|surge| surge.share < ALL_THE_TIME)
            .map(|surge| surge.sentence())
            .or_else(|| self.pulses_too_few(Which::All))
            .or_else(|| self.strong_visitor().map(Visitor::sentence))
            .or_else(|| self.lines.idling_sentence())
            .or_else(|| self.buzz_of_the_band())
            .or_else(|| heard.bursts_sentence())
    }
}

/// Scaled so that all shares make 1.
fn shared_out(mut parts: Vec<Part>) -> Vec<Part> {
    let all: f64 = parts.iter().map(|part| part.share).sum();
    parts.iter_mut().for_each(|part| part.share /= all.max(f64::MIN_POSITIVE));
    parts
}

#[cfg(test)]
mod tests {
    use super::Character;
    use crate::contrast::{ContrastSettings, contrast};
    use crate::demo::synth::{Receiver, Scene};
    use crate::signal::measure::{MeasureSettings, Measurement};
    use crate::units::Dbfs;

    /// By construction: a band that rises or falls by 24 dB in a take of seven seconds could hide almost anything.
    #[test]
    fn where_nothing_would_have_shown_it_is_not_said_that_there_is_nothing() {
        let take = |seed: u64, turns: f64| {
            let mut take = Scene::new(Receiver::ssb(12_000)).band_noise(Dbfs(-45.0)).seed(seed).render(7.0);
            let count = take.samples.len() as f64;
            for (n, sample) in take.samples.iter_mut().enumerate() {
                *sample *= 10f32.powf((1.2 * (turns * n as f64 / count).cos() / 2.0) as f32);
            }
            Measurement::of_samples(take.rate_hz, &take.samples, &MeasureSettings::default())
        };
        let (off, on) = (take(1, 3.1), take(2, 3.3));
        let figures = contrast(&[&off], &[&on], &ContrastSettings::default()).figures.expect("it is measured");
        assert!(figures.excess.limit_db > 6.0, "{:?}", figures.excess);
        assert_eq!(figures.verdict.character, Character::Unclear, "{:?}", figures.verdict);
    }
}
