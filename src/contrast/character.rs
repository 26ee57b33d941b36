//! What kind of noise the added power is, judged from figures that are kept as evidence.

use serde::{Deserialize, Serialize};
use statrs::distribution::{Binomial, DiscreteCDF};

use super::added_lines::LineChanges;
use super::excess::Excess;
use super::impulsive::Impulsive;
use crate::envelope::{Envelope, RateLine};
use crate::spectrum::statistics::{median, normal_cdf};

/// Relative amplitude of the added noise's pulsing from which it is a buzz. Noise gated at any duty up to 60 % has at
/// least 1.0, full-wave ripple as |sin| 0.67; a well filtered supply leaves a few hundredths.
const BUZZ_AMPLITUDE: f64 = 0.25;
/// Pulses with the device on are called when chance alone would make so many more than with it off with at most this
/// probability: for short ones, and for longer ones, as static crashes are.
const CLICKS_CHANCE: f64 = 0.015;
const CRASHES_CHANCE: f64 = 0.001;
/// Median length up to which pulses count as short.
const SHORT_S: f64 = 0.012;
/// Standard deviation over mean of the distances of pulses that are evenly spaced.
const EVEN: f64 = 0.2;
/// Pulsing faster than this is heard as a tone of the noise, not as clicks.
const FASTER_THAN_CLICKS_HZ: f64 = 40.0;
/// Where pulses come with the device off too, so many times more must come with it on.
const FLOCKS: f64 = 3.0;
/// Pulses too few to tell a device from static are said, and the verdict left open, where they hold this share of the
/// noise power and chance would bring so many more with less than this probability.
const OPEN_SHARE: f64 = 0.25;
const OPEN_CHANCE: f64 = 0.15;
/// A steady rise smaller than this may be the band's own change from one recording to the next (common practice: the
/// noise of a band moves by some dB within minutes), and how sure a verdict can be then.
const BAND_MOVES_DB: f64 = 3.0;
const BAND_OR_DEVICE: f64 = 0.85;
/// A buzz in noise whose rise is not certain must stand so many standard deviations above noise.
const BUZZ_ALONE_SIGMAS: f64 = 8.0;
/// Concentration (0..1) of the pulses' places within the period of a buzz from which they are the buzz.
const LOCKED: f64 = 0.5;
/// Share of the added noise that must come in pulses for them to be a part of it.
const CLICKS_SHARE: f64 = 0.25;
/// From here on the rest is what lies between the pulses' limit and the noise: all of it clicks.
const ALL_CLICKS_SHARE: f64 = 0.4;
/// A part below this share of the added power is not named.
const LEAST_SHARE: f64 = 0.1;
/// Pulses that come about as often as the mains pulses are the buzz itself.
const PULSES_ARE_BUZZ: f64 = 0.4;

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

/// One kind of noise and its share of the added power.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Part {
    /// Its kind.
    pub character: Character,
    /// 0..1.
    pub share: f64,
}

/// The judgement, with what it rests on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Verdict {
    /// Kind of the added power as a whole.
    pub character: Character,
    /// How sure, 0..1.
    pub confidence: f64,
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
    /// What of the added noise stands above its Gaussian part; `None` where noise is no part of it.
    pub impulsive: Option<Impulsive>,
    /// Figures in plain sentences.
    pub evidence: Vec<String>,
}

/// Everything the judgement looks at.
pub struct Case<'a> {
    /// Noise without lines, gain changes taken off.
    pub excess: &'a Excess,
    /// Width of the common passband.
    pub width_hz: f64,
    /// Lines.
    pub lines: &'a LineChanges,
    /// Envelopes of the off recordings.
    pub off: Vec<&'a Envelope>,
    /// Envelopes of the on recordings.
    pub on: Vec<&'a Envelope>,
    /// What the on side's gain is above the off side's (ratio of powers).
    pub gain: f64,
    /// Mains frequency.
    pub mains_hz: f64,
}

impl Case<'_> {
    /// Judges it.
    pub fn judge(&self) -> Verdict {
        let steady_power = (self.excess.density.1 - self.excess.density.0) * self.width_hz;
        let noise_called = self.excess.is_called();
        let clicks = self.clicks();
        // Evenly spaced clicks have multiples of their rate everywhere, at the mains rates too.
        let ticks_hz = clicks.as_ref().and_then(|_| self.ticks_hz());
        let buzz = self
            .buzz(steady_power, noise_called)
            .filter(|buzz| ticks_hz.is_none_or(|ticks_hz| ticks_hz > PULSES_ARE_BUZZ * buzz.rate_hz));
        let pulsing_hz = if buzz.is_none() && ticks_hz.is_none() { self.pulsing_hz() } else { None };
        let clicks = clicks.filter(|_| pulsing_hz.is_none());
        let clicks = clicks.filter(|clicks| {
            buzz.as_ref()
                .is_none_or(|buzz| clicks.rate_hz < PULSES_ARE_BUZZ * buzz.rate_hz && !self.locked_to(buzz.rate_hz))
        });
        let noise_power = self.noise_power(steady_power, clicks.as_ref());
        let (click_power, rest_power) = split(noise_power, clicks.as_ref());
        let rest = if buzz.is_some() { Character::Buzz } else { Character::Hash };
        let line_power = self.lines.added_power() / self.gain;
        let comb_power = self.lines.comb_power() / self.gain;

        let mut parts = Vec::new();
        if noise_called || buzz.is_some() {
            parts.push(Part { character: rest, share: rest_power });
        }
        if clicks.is_some() {
            parts.push(Part { character: Character::Clicks, share: click_power });
        }
        if self.lines.comb.is_some() && comb_power >= 0.5 * line_power {
            parts.push(Part { character: Character::Comb, share: line_power });
        } else if line_power > 0.0 {
            parts.push(Part { character: Character::Carriers, share: line_power });
        }
        let added_power: f64 = parts.iter().map(|part| part.share).sum();
        parts.iter_mut().for_each(|part| part.share /= added_power.max(f64::MIN_POSITIVE));
        parts.retain(|part| part.share >= LEAST_SHARE);
        parts.sort_by(|a, b| b.share.total_cmp(&a.share));
        let kept: f64 = parts.iter().map(|part| part.share).sum();
        parts.iter_mut().for_each(|part| part.share /= kept.max(f64::MIN_POSITIVE));

        let open = self.pulses_too_few();
        let character = match parts.as_slice() {
            [] if open.is_some() => Character::Unclear,
            [] => Character::None,
            [only] => only.character,
            _ => Character::Mixed,
        };
        let has = |wanted: Character| parts.iter().any(|part| part.character == wanted);
        let clicks = clicks.filter(|_| has(Character::Clicks));
        let buzz = buzz.filter(|_| has(Character::Buzz));
        let noise = [Character::Hash, Character::Buzz, Character::Clicks].into_iter().any(has);
        let impulsive = Impulsive::of(&self.off, &self.on, self.gain).filter(|_| noise);
        Verdict {
            character,
            confidence: self.confidence(character, &parts, buzz.as_ref(), clicks.as_ref(), steady_power),
            added_power,
            mains_rate_hz: buzz.as_ref().map(|buzz| buzz.rate_hz),
            pulse_rate_hz: clicks.as_ref().map(|clicks| clicks.rate_hz),
            pulses_regular: clicks.as_ref().and_then(|clicks| clicks.irregularity).map(|spread| spread < 0.35),
            evidence: open
                .filter(|_| character == Character::Unclear)
                .or_else(|| {
                    pulsing_hz.map(|hz| format!("the added noise pulses at {hz:.1} Hz, which is no mains rate"))
                })
                .into_iter()
                .chain(self.evidence(buzz.as_ref(), clicks.as_ref(), pulsing_hz, &parts, steady_power))
                .chain(impulsive.filter(|_| buzz.is_some() || clicks.is_some()).and_then(|part| part.told()))
                .collect(),
            impulsive,
            parts,
        }
    }

    /// Added noise power without lines, FS²: by the steady level, or by the mean where the noise comes in pulses,
    /// which a median over slices passes over when they are rare.
    fn noise_power(&self, steady: f64, clicks: Option<&Clicks>) -> f64 {
        let Some(clicks) = clicks else { return steady.max(0.0) };
        let mean = (self.excess.mean_density.1 - self.excess.mean_density.0) * self.width_hz;
        mean.max(steady).max(clicks.power)
    }

    fn clicks(&self) -> Option<Clicks> {
        let (off, on) = (Counted::of(&self.off), Counted::of(&self.on));
        let rate_hz = on.rate() - off.rate();
        let power = on.power / self.gain - off.power;
        let steady = (self.excess.density.1 - self.excess.density.0).max(0.0) * self.width_hz;
        let mean = (self.excess.mean_density.1 - self.excess.mean_density.0).max(0.0) * self.width_hz;
        let enough = power > CLICKS_SHARE * steady.max(mean).max(power);
        let chance = on.chance_against(&off);
        // Crashes and voices come in flocks: where there are some anyway, twice as many mean nothing.
        let enough = enough && (off.count < 5.0 || on.rate() > FLOCKS * off.rate());
        let limit = if on.typical_length_s <= SHORT_S { CLICKS_CHANCE } else { CRASHES_CHANCE };
        (enough && chance < limit).then(|| Clicks {
            rate_hz,
            power,
            chance,
            irregularity: self.on.iter().filter_map(|e| e.pulses.irregularity()).reduce(f64::min),
        })
    }

    /// Said where strong pulses came with the device, but too few to tell them from static.
    fn pulses_too_few(&self) -> Option<String> {
        let (off, on) = (Counted::of(&self.off), Counted::of(&self.on));
        let noise = self.excess.density.0 * self.width_hz;
        let strong = on.power / self.gain - off.power > OPEN_SHARE * noise;
        (strong && on.chance_against(&off) < OPEN_CHANCE).then(|| {
            format!(
                "{} strong pulses with the device on against {} with it off: too few to tell a device from static. \
                 Record longer",
                on.count, off.count
            )
        })
    }

    /// Whether the pulses keep to one place within the periods of this rate in every on recording: the mean of
    /// e^(2πi·f·t) over their times, at the best rate nearby.
    fn locked_to(&self, rate_hz: f64) -> bool {
        let enough: Vec<_> = self.on.iter().filter(|e| e.pulses.kept.len() >= 8).collect();
        !enough.is_empty()
            && enough.iter().all(|e| {
                let times: Vec<f64> = e.pulses.kept.iter().map(|pulse| pulse.at_s).collect();
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
                concentration.fold(0.0, f64::max) > LOCKED
            })
    }

    /// The rate of evenly spaced pulses, seen one by one.
    fn ticks_hz(&self) -> Option<f64> {
        let even = |e: &&&Envelope| e.pulses.irregularity().is_some_and(|spread| spread < EVEN);
        self.on.iter().find(even).map(|e| {
            let (first, last) = (&e.pulses.kept[0], &e.pulses.kept[e.pulses.kept.len() - 1]);
            (e.pulses.kept.len() - 1) as f64 / (last.at_s - first.at_s).max(1e-3)
        })
    }

    /// A rate apart from the mains at which the noise comes in bursts, of which pulses are the tops.
    fn pulsing_hz(&self) -> Option<f64> {
        let seen = self.on.iter().find_map(|e| e.modulation.as_ref()?.strongest(FASTER_THAN_CLICKS_HZ))?;
        self.locked_to(seen.rate_hz).then_some(seen.rate_hz)
    }

    fn buzz(&self, steady_power: f64, noise_called: bool) -> Option<Buzz> {
        let rates = [self.mains_hz, 2.0 * self.mains_hz];
        // A rate at which every full wave pulses has the half waves' multiples too: the lower rate only counts where
        // it adds something of its own.
        let found: Vec<Buzz> = rates.iter().filter_map(|&rate| self.buzz_at(rate, steady_power)).collect();
        let best = match found.as_slice() {
            [half, full] if half.odd_share < 0.1 => full,
            [half, _] => half,
            [one] => one,
            _ => return None,
        };
        let deep = if noise_called { best.depth >= BUZZ_AMPLITUDE } else { best.sigmas > BUZZ_ALONE_SIGMAS };
        deep.then(|| best.clone())
    }

    fn buzz_at(&self, rate_hz: f64, steady_power: f64) -> Option<Buzz> {
        // Each recording's line at the rate, its amplitude in power rather than relative to its own mean.
        let seen = |side: &[&Envelope], gain: f64| -> Vec<RateLine> {
            let at_rate = |e: &&Envelope| {
                let line = e.modulation.as_ref()?.at_rate(rate_hz);
                let scale = e.mean / gain;
                Some(RateLine { amplitude: line.amplitude * scale, sigma: line.sigma * scale, ..line })
            };
            side.iter().filter_map(at_rate).collect()
        };
        let (on, off) = (seen(&self.on, self.gain), seen(&self.off, 1.0));
        let mean = |lines: &[RateLine], of: &dyn Fn(&RateLine) -> f64| {
            lines.iter().map(of).sum::<f64>() / lines.len().max(1) as f64
        };
        let squared = |lines: &[RateLine]| mean(lines, &|line| line.amplitude.powi(2));
        let present = on.iter().filter(|line| line.present).count() * 2 > on.len();
        if !present || squared(&on) < 2.0 * squared(&off) {
            return None;
        }
        let amplitude = (squared(&on) - squared(&off)).max(0.0).sqrt();
        Some(Buzz {
            rate_hz: mean(&on, &|line| line.rate_hz),
            depth: if steady_power > 0.0 { amplitude / steady_power } else { 1.0 },
            odd_share: mean(&on, &|line| line.odd_share),
            sigmas: amplitude / mean(&on, &|line| line.sigma).max(f64::MIN_POSITIVE),
        })
    }

    /// The smallest depth of pulsing that would have been seen in the added noise.
    fn least_depth_seen(&self, steady_power: f64) -> Option<f64> {
        let limits: Vec<f64> = self
            .on
            .iter()
            .filter_map(|e| e.modulation.as_ref().map(|m| m.limit_at(2.0 * self.mains_hz) * e.mean / self.gain))
            .collect();
        (!limits.is_empty()).then(|| limits.iter().copied().fold(f64::MAX, f64::min) / steady_power)
    }

    fn confidence(
        &self,
        character: Character,
        parts: &[Part],
        buzz: Option<&Buzz>,
        clicks: Option<&Clicks>,
        steady_power: f64,
    ) -> f64 {
        let sd = self.excess.sd_db.max(0.02);
        let over = normal_cdf((self.excess.steady.value - 0.7 * self.excess.limit_db) / sd);
        let line = || {
            let best = self.lines.added.first().map_or(0.0, |found| found.line.cnr_db_hz());
            0.6 + 0.38 * ((best - 10.0) / 8.0).clamp(0.0, 1.0)
        };
        let of = |kind: Character| match kind {
            Character::Hash => {
                let over = if self.may_be_the_band() { over.min(BAND_OR_DEVICE) } else { over };
                let blind = self.least_depth_seen(steady_power).map_or(0.5, |depth| (depth / 0.6).clamp(0.0, 1.0));
                over * (1.0 - 0.5 * blind * blind)
            }
            Character::Buzz => buzz.map_or(0.5, |buzz| {
                let margin = if self.excess.is_called() { (buzz.depth - 0.15) / 0.35 } else { 0.4 };
                0.55 + 0.44 * margin.clamp(0.0, 1.0) * ((buzz.sigmas - 3.0) / 4.0).clamp(0.0, 1.0)
            }),
            Character::Clicks => {
                clicks.map_or(0.5, |clicks| 0.98 - 0.3 * (clicks.chance / CLICKS_CHANCE).min(1.0).sqrt())
            }
            Character::Carriers => line(),
            Character::Comb => {
                self.lines.comb.as_ref().map_or(0.5, |comb| 0.99 - 0.3 * (comb.chance / 0.01).clamp(0.0, 1.0))
            }
            _ => 1.0,
        };
        let sure = match character {
            Character::None => {
                let room = (self.excess.limit_db - self.excess.steady.value.abs()) / sd;
                0.5 + 0.49 * normal_cdf(room - 0.5)
            }
            Character::Unclear => 0.3,
            _ => parts.iter().map(|part| of(part.character)).fold(1.0, f64::min),
        };
        // How near a part was to being named, or to not being named.
        let margin = parts.iter().map(|part| (part.share - LEAST_SHARE).abs() / 0.1).fold(1.0, f64::min);
        (sure * if character == Character::Mixed { 0.75 + 0.25 * margin } else { 1.0 }).clamp(0.05, 0.99)
    }

    /// Whether a rise of this size may as well be the band's own: steady, small, and seen once only.
    fn may_be_the_band(&self) -> bool {
        self.off.len() == 1 && self.excess.is_called() && self.excess.steady.value < BAND_MOVES_DB
    }

    fn evidence(
        &self,
        buzz: Option<&Buzz>,
        clicks: Option<&Clicks>,
        pulsing_hz: Option<f64>,
        parts: &[Part],
        steady_power: f64,
    ) -> Vec<String> {
        let mut said = Vec::new();
        if let Some(buzz) = buzz {
            let deep = match buzz.depth {
                _ if !self.excess.is_called() => "",
                depth if depth < 0.6 => ", by a part of its strength",
                depth if depth < 1.2 => ", all but dying away between the pulses",
                _ => ", in bursts with quiet between",
            };
            said.push(format!("the added noise pulses at {:.1} Hz{deep}", buzz.rate_hz));
        } else if pulsing_hz.is_none() && parts.iter().any(|part| part.character == Character::Hash) {
            match self.least_depth_seen(steady_power) {
                Some(depth) if depth < BUZZ_AMPLITUDE => said.push(format!(
                    "the added noise is steady: pulsing at the mains rate deeper than {depth:.2} would have been seen"
                )),
                _ => said.push(
                    "the added noise is too weak or the recording too short to say whether it pulses".to_owned(),
                ),
            }
        }
        if buzz.is_none() && clicks.is_none() && self.may_be_the_band() {
            said.push(
                "with one off recording only, the band itself may have changed by as much between the two: record \
                 off - on - off - on to be sure"
                    .to_owned(),
            );
        }
        if let Some(clicks) = clicks {
            let how = match clicks.irregularity {
                Some(spread) if spread < 0.35 => ", evenly spaced",
                Some(_) => ", at random",
                None => "",
            };
            said.push(format!("{:.1} pulses a second more than with the device off{how}", clicks.rate_hz));
        }
        if let Some(comb) = &self.lines.comb {
            said.push(format!(
                "{} added lines stand {:.1} Hz apart or at multiples of it (random lines would do so {})",
                comb.members.len(),
                comb.spacing_hz,
                odds(comb.chance)
            ));
        }
        if self.lines.unsteady > 0 {
            said.push(format!(
                "{} in the on state only that key or fade as stations do were not counted",
                if self.lines.unsteady == 1 { "1 line".into() } else { format!("{} lines", self.lines.unsteady) }
            ));
        }
        said
    }
}

/// A small probability in words.
fn odds(chance: f64) -> String {
    if chance < 1e-6 {
        return "less than once in a million cases".to_owned();
    }
    format!("once in {:.0} cases", (1.0 / chance).min(1e6))
}

/// Power in clicks, and the rest.
fn split(noise_power: f64, clicks: Option<&Clicks>) -> (f64, f64) {
    let Some(clicks) = clicks else { return (0.0, noise_power) };
    let share = (clicks.power / noise_power.max(f64::MIN_POSITIVE)).min(1.0);
    if share >= ALL_CLICKS_SHARE { (noise_power, 0.0) } else { (share * noise_power, (1.0 - share) * noise_power) }
}

#[derive(Debug, Clone)]
struct Buzz {
    rate_hz: f64,
    /// Amplitude of the pulsing, all multiples together, over the added noise's power; 1 where that is not known.
    depth: f64,
    /// Share that stands at odd multiples of the rate only.
    odd_share: f64,
    sigmas: f64,
}

struct Clicks {
    rate_hz: f64,
    power: f64,
    chance: f64,
    irregularity: Option<f64>,
}

/// Pulses of all recordings of a state.
struct Counted {
    count: f64,
    seconds: f64,
    power: f64,
    typical_length_s: f64,
}

impl Counted {
    fn of(side: &[&Envelope]) -> Self {
        let seconds: f64 = side.iter().map(|e| e.pulses.seconds).sum();
        let energy: f64 = side.iter().map(|e| e.pulses.energy).sum();
        let mut lengths: Vec<f64> = side.iter().flat_map(|e| &e.pulses.kept).map(|pulse| pulse.length_s).collect();
        Self {
            count: side.iter().map(|e| e.pulses.count as f64).sum(),
            seconds: seconds.max(1e-3),
            power: energy / seconds.max(1e-3),
            typical_length_s: if lengths.is_empty() { 0.0 } else { median(&mut lengths) },
        }
    }

    fn rate(&self) -> f64 {
        self.count / self.seconds
    }

    /// Probability that as many pulses or more of all those counted fall into this state's time by chance: the
    /// conditional test of two Poisson rates (J. Przyborowski, H. Wilenski, Biometrika 31, 1940; from memory).
    fn chance_against(&self, other: &Self) -> f64 {
        let share = self.seconds / (self.seconds + other.seconds);
        let (here, all) = (self.count.round() as u64, (self.count + other.count).round() as u64);
        match Binomial::new(share, all) {
            Ok(_) if here == 0 => 1.0,
            Ok(binomial) => binomial.sf(here - 1),
            Err(_) => 1.0,
        }
    }
}
