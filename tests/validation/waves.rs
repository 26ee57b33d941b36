//! Sounds that `demo::synth` does not make: stations keyed faster than the tool's slices or by tones that take
//! turns, and a carrier that warbles.
//!
//! Each has a mean square of 1 and is meant for the middle of a passband; nothing of note lies more than 150 Hz
//! from its pitch.

use std::f64::consts::{PI, TAU};

use super::random::Dice;

/// What is sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wave {
    /// Dots without end, 25 a second, as from a key that hangs.
    Dots,
    /// Phase reversals at 31.25 baud under a cosine, idling or sending (as Varicode over PSK does; from memory).
    Phase,
    /// Two tones 170 Hz apart at 45.45 baud (radio teletype, common practice), phase unbroken.
    Shift,
    /// Eight tones that take turns, as far apart as they are sent a second (as such modes' are, common practice).
    Eight,
    /// A carrier whose pitch runs as a sawtooth over ±50 Hz twice a second, as a switching supply's does under
    /// ripple.
    Warble,
}

/// `len` samples at `rate_hz` about `pitch_hz`.
pub fn wave(what: Wave, rate_hz: f64, len: usize, pitch_hz: f64, dice: &mut Dice) -> Vec<f64> {
    let mut sound = match what {
        Wave::Dots => dots(rate_hz, len, pitch_hz, dice),
        Wave::Phase => reversals(rate_hz, len, pitch_hz, dice),
        Wave::Shift => tones(rate_hz, len, pitch_hz, (2, 45.45, 170.0), dice),
        Wave::Eight => {
            let baud = dice.pick(&[3.125, 6.25, 20.83]);
            tones(rate_hz, len, pitch_hz, (8, baud, baud), dice)
        }
        Wave::Warble => {
            let start = dice.share();
            running(rate_hz, len, dice, |t| pitch_hz + 100.0 * ((2.0 * t + start).fract() - 0.5))
        }
    };
    let power = sound.iter().map(|x| x * x).sum::<f64>() / len.max(1) as f64;
    sound.iter_mut().for_each(|x| *x /= power.sqrt());
    sound
}

/// A tone whose frequency at each time is `hz`.
fn running(rate_hz: f64, len: usize, dice: &mut Dice, hz: impl Fn(f64) -> f64) -> Vec<f64> {
    let mut turns = dice.share();
    (0..len)
        .map(|i| {
            turns = (turns + hz(i as f64 / rate_hz) / rate_hz).fract();
            (TAU * turns).sin()
        })
        .collect()
}

fn dots(rate_hz: f64, len: usize, pitch_hz: f64, dice: &mut Dice) -> Vec<f64> {
    const DOTS_HZ: f64 = 25.0;
    const EDGE_S: f64 = 0.005;
    let start = dice.share();
    let mut tone = running(rate_hz, len, dice, |_| pitch_hz);
    for (i, x) in tone.iter_mut().enumerate() {
        let at_s = (i as f64 / rate_hz * DOTS_HZ + start).fract() / DOTS_HZ;
        let to_edge = at_s.min(0.5 / DOTS_HZ - at_s);
        *x *= (PI / 2.0 * (to_edge / EDGE_S).clamp(0.0, 1.0)).sin();
    }
    tone
}

fn reversals(rate_hz: f64, len: usize, pitch_hz: f64, dice: &mut Dice) -> Vec<f64> {
    const BAUD: f64 = 31.25;
    let idling = dice.chance(0.3);
    let mut signs = vec![1.0f64];
    for _ in 0..(len as f64 / rate_hz * BAUD) as usize + 3 {
        let turns = idling || dice.chance(0.5);
        signs.push(signs[signs.len() - 1] * if turns { -1.0 } else { 1.0 });
    }
    let mut tone = running(rate_hz, len, dice, |_| pitch_hz);
    for (i, x) in tone.iter_mut().enumerate() {
        let place = i as f64 / rate_hz * BAUD;
        let (now, next) = (signs[place as usize], signs[place as usize + 1]);
        let between = 0.5 + 0.5 * (PI * place.fract()).cos();
        *x *= now * between + next * (1.0 - between);
    }
    tone
}

/// Tones that take turns at random: how many, how many a second, how far apart.
fn tones(
    rate_hz: f64,
    len: usize,
    pitch_hz: f64,
    (count, baud, apart_hz): (u32, f64, f64),
    dice: &mut Dice,
) -> Vec<f64> {
    let middle = f64::from(count - 1) / 2.0;
    let sent: Vec<f64> = (0..(len as f64 / rate_hz * baud) as usize + 2)
        .map(|_| (dice.share() * f64::from(count)).floor() - middle)
        .collect();
    running(rate_hz, len, dice, |t| pitch_hz + apart_hz * sent[(t * baud) as usize])
}
