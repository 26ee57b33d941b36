//! Which channel of a recording is measured: the user's choice, or what the first seconds show.
//!
//! A stereo file of a receiver is mostly one signal twice, or one signal beside an open input. The mean of both
//! would halve the second and cancel a pair wired with opposite signs, so [`decide`] looks before it folds. Not
//! here: reading samples.

use std::fmt;
use std::str::FromStr;

use super::Problem;
use crate::units::in_db;

/// Which channel of a recording to measure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum ChannelChoice {
    /// What the first seconds show to be sensible; the account says what that was.
    #[default]
    Auto,
    /// The mean of all channels, whatever they hold.
    Mean,
    /// One channel, counted from 1 (1 is left, 2 is right).
    Index(u16),
}

/// Words that name no channel.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is no channel\n  try: auto, mean, left, right, or a number from 1")]
pub struct UnknownChannel(String);

impl FromStr for ChannelChoice {
    type Err = UnknownChannel;

    fn from_str(words: &str) -> Result<Self, UnknownChannel> {
        match words.trim().to_lowercase().as_str() {
            "auto" => Ok(Self::Auto),
            "mean" => Ok(Self::Mean),
            "left" => Ok(Self::Index(1)),
            "right" => Ok(Self::Index(2)),
            number => match number.parse() {
                Ok(index) if index > 0 => Ok(Self::Index(index)),
                _ => Err(UnknownChannel(words.into())),
            },
        }
    }
}

impl fmt::Display for ChannelChoice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Auto => f.write_str("auto"),
            Self::Mean => f.write_str("mean"),
            Self::Index(index) => write!(f, "{index}"),
        }
    }
}

/// A channel this far below the loudest carries nothing but the noise of an open input. Chosen: receivers'
/// two outputs differ by a few dB, while an open line input lies 50 dB and more below a signal.
const DEAD_BELOW_DB: f64 = 40.0;
/// From here on two channels are called the same. Our own choice: at 0.9 the mean loses 0.2 dB.
const ALIKE: f64 = 0.9;
/// Below here the mean would cancel more than half of the power (arithmetic: it keeps (1 + r)/2, of unlike channels
/// half).
const OPPOSED: f64 = -0.5;
/// An I/Q pair's parts have one level (chosen, dB) …
const IQ_LEVEL_DB: f64 = 1.0;
/// … and no correlation. (Chosen; noise in I and Q is independent, so this can be suspected, never proved, from
/// noise.)
const IQ_CORRELATION: f64 = 0.1;

/// How interleaved frames become one channel.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Fold {
    /// Counted from 0; at least one. More than one: their mean.
    used: Vec<usize>,
    /// In plain words.
    pub words: String,
    /// The channels that carry nothing, in plain words.
    pub dead: Option<String>,
}

impl Fold {
    /// Appends one sample for each frame of `frames`.
    pub fn fold(&self, frames: &[f32], channels: usize, out: &mut Vec<f32>) {
        match (channels, self.used.as_slice()) {
            (1, _) => out.extend_from_slice(frames),
            (2, [0, 1]) => out.extend(frames.as_chunks::<2>().0.iter().map(|[l, r]| 0.5 * l + 0.5 * r)),
            (_, [one]) => out.extend(frames.chunks_exact(channels).map(|frame| frame[*one])),
            (_, used) => {
                let share = 1.0 / used.len() as f32;
                out.extend(
                    frames.chunks_exact(channels).map(|frame| used.iter().map(|&c| frame[c] * share).sum::<f32>()),
                );
            }
        }
    }

    /// Whether several channels are averaged, and which.
    pub fn averaged(&self) -> Option<&[usize]> {
        (self.used.len() > 1).then_some(&self.used)
    }
}

/// Settles the fold from the choice and the first frames (interleaved, finite).
///
/// # Errors
/// The channel asked for is not there.
pub(super) fn decide(choice: ChannelChoice, channels: u16, peek: &[f32]) -> Result<Fold, Problem> {
    let count = usize::from(channels);
    let all: Vec<usize> = (0..count).collect();
    let plain = |used: Vec<usize>, words: String| Fold { used, words, dead: None };
    match choice {
        ChannelChoice::Index(asked) if asked == 0 || asked > channels => {
            Err(Problem::NoSuchChannel { asked, channels })
        }
        _ if channels == 1 => Ok(plain(all, "mono".into())),
        ChannelChoice::Index(asked) => {
            let index = usize::from(asked) - 1;
            Ok(plain(vec![index], name(index, count)))
        }
        ChannelChoice::Mean => Ok(plain(all, mean_of(count))),
        ChannelChoice::Auto => Ok(by_the_look(&Look::new(peek, count), count)),
    }
}

/// A channel's name in plain words.
pub(super) fn name(index: usize, count: usize) -> String {
    match (count, index) {
        (2, 0) => "left".into(),
        (2, 1) => "right".into(),
        _ => format!("channel {}", index + 1),
    }
}

fn mean_of(count: usize) -> String {
    if count == 2 { "mean of both".into() } else { format!("mean of {count} channels") }
}

fn by_the_look(look: &Look, count: usize) -> Fold {
    let loudest = look.power.iter().copied().fold(0.0, f64::max);
    let live: Vec<usize> = (0..count).filter(|&c| !is_dead(look.power[c], loudest)).collect();
    if live.is_empty() {
        // All silent so far: nothing to choose by.
        return Fold { used: (0..count).collect(), words: mean_of(count), dead: None };
    }
    let dead: Vec<String> = (0..count).filter(|c| !live.contains(c)).map(|c| name(c, count)).collect();
    let dead = (!dead.is_empty()).then(|| dead.join(", "));
    match live.as_slice() {
        [one] => Fold { words: name(*one, count), used: live, dead },
        [a, b] => pair(look, (*a, *b), count, dead),
        many => Fold { words: mean_of(many.len()), used: live, dead },
    }
}

/// The fold of two live channels.
fn pair(look: &Look, (a, b): (usize, usize), count: usize, dead: Option<String>) -> Fold {
    let mean = if count == 2 { mean_of(2) } else { format!("mean of {} and {}", name(a, count), name(b, count)) };
    let r = look.correlation(a, b);
    let apart_db = in_db(look.power[a] / look.power[b]).abs();
    let (used, words) = if r >= ALIKE {
        (vec![a, b], mean)
    } else if r <= OPPOSED {
        let words = format!("{} ({} runs against it: their mean would cancel)", name(a, count), name(b, count));
        (vec![a], words)
    } else if r.abs() < IQ_CORRELATION && apart_db < IQ_LEVEL_DB {
        (
            vec![a, b],
            format!("{mean} (equal in level and unrelated: perhaps an I/Q pair, which is not a receiver's audio)"),
        )
    } else {
        (vec![a, b], format!("{mean} (they differ: correlation {r:.2}, {apart_db:.0} dB apart)"))
    };
    Fold { used, words, dead }
}

/// Whether a channel of this power (about its mean) carries nothing beside one of power `loudest`.
pub(super) fn is_dead(power: f64, loudest: f64) -> bool {
    power <= 0.0 || in_db(loudest / power) > DEAD_BELOW_DB
}

/// The first frames, and what each channel carries in them.
struct Look<'a> {
    peek: &'a [f32],
    mean: Vec<f64>,
    /// About the mean.
    power: Vec<f64>,
}

impl<'a> Look<'a> {
    fn new(peek: &'a [f32], count: usize) -> Self {
        let frames = (peek.len() / count).max(1) as f64;
        let mean =
            (0..count).map(|c| peek.chunks_exact(count).map(|frame| f64::from(frame[c])).sum::<f64>() / frames);
        let mut look = Self { peek, mean: mean.collect(), power: Vec::new() };
        look.power = (0..count).map(|c| look.covariance(c, c)).collect();
        look
    }

    fn covariance(&self, a: usize, b: usize) -> f64 {
        let count = self.mean.len();
        let frames = (self.peek.len() / count).max(1) as f64;
        let product = |frame: &[f32]| (f64::from(frame[a]) - self.mean[a]) * (f64::from(frame[b]) - self.mean[b]);
        let covariance = self.peek.chunks_exact(count).map(product).sum::<f64>() / frames;
        // A constant's power comes out as the rounding of its mean, not as 0: below that there is nothing.
        let rounding = 1e-14 * (self.mean[a] * self.mean[b]).abs();
        if covariance.abs() <= rounding { 0.0 } else { covariance }
    }

    fn correlation(&self, a: usize, b: usize) -> f64 {
        self.covariance(a, b) / (self.power[a] * self.power[b]).sqrt()
    }
}
