//! Whether a line is keyed faster than slices show: dots, phase reversals and tones that take turns make its power
//! fall away again and again for some hundredths of a second; a device's carrier stays where it is.

use super::mixed_down::MixedDown;
use super::statistics::{normal_cdf, quantile};

/// Power below this part of what the line usually has nearby is a dip: 6 dB. Chosen: fading within half a second
/// does not reach it, keying goes to nothing.
const DIP: f64 = 0.25;
/// Half the stretch, in seconds, in which "usually" is: longer than a dash, shorter than fading. Common practice:
/// at 12 words a minute a dash takes 0.3 s; fading takes seconds.
const NEARBY_S: f64 = 0.5;
/// What the line usually has is this quantile of its power there, for a keyed one is off about half of the time.
/// Chosen in the middle of the other half.
const USUAL: f64 = 0.75;
/// Dips in so much more of the time than noise makes are keying: reversals at random under a cosine dip in 0.17 of
/// the time, keying on and off in half of it. At least this, and so many standard deviations of chance. Mathematics
/// for both shares; chosen at half of the smaller one.
const KEYED: f64 = 0.08;
const SIGMAS: f64 = 3.0;
/// With a line weaker than this over the noise in the filter (ratio of powers), noise itself dips. Chosen: below,
/// keying hides among them.
const LEAST_SNR: f64 = 4.0;
/// The line may leave its straight line by this part of the filter's bandwidth. Chosen: to the filter's edge,
/// nearly.
const STRAYS: f64 = 0.8;

/// A line to be looked at.
pub struct Looked<'a> {
    /// Its surroundings.
    pub line: &'a MixedDown,
    /// Its power over the density of the noise around it, Hz.
    pub cnr_hz: f64,
    /// How far its places lie from a straight line, both sides together.
    pub strays_hz: f64,
}

/// Whether it dips more than noise explains; `None` where it is too weak, too short, or strays too far to tell.
pub fn is_keyed(looked: &Looked<'_>) -> Option<bool> {
    let (values, rate_hz) = (&looked.line.values, looked.line.rate_hz);
    let bandwidth_hz = looked.line.noise_bandwidth_hz();
    let snr = looked.cnr_hz / bandwidth_hz;
    let half = (NEARBY_S * rate_hz) as usize;
    if snr < LEAST_SNR || values.len() < 4 * half || looked.strays_hz > STRAYS * bandwidth_hz {
        return None;
    }
    let powers: Vec<f64> = values.iter().map(|value| value.norm_sqr()).collect();
    // Half-overlapped blocks: every second value is independent.
    let chance = (0.1 * 0.9 / (powers.len() as f64 / 2.0)).sqrt();
    Some(share_of_dips(&powers, half) > dips_of_noise(snr) + KEYED.max(SIGMAS * chance))
}

/// Share of the values that lie far below what is usual within `half` values on either side.
fn share_of_dips(powers: &[f64], half: usize) -> f64 {
    let dips = powers.iter().enumerate().filter(|&(at, &power)| {
        let mut nearby = powers[at.saturating_sub(half)..(at + half + 1).min(powers.len())].to_vec();
        power < DIP * quantile(&mut nearby, USUAL)
    });
    dips.count() as f64 / powers.len() as f64
}

/// Largest share of the time that a steady line is in a dip by noise alone: at most as often as the part of the
/// noise that is in phase with the line takes so much of its amplitude away.
fn dips_of_noise(snr: f64) -> f64 {
    // In units of the line's amplitude, by one of the noise's two parts; the usual power stands above the line's
    // own.
    let sd = (0.5 / snr).sqrt();
    let usual = 1.0 + 0.674 * sd + 0.5 * sd * sd;
    normal_cdf((DIP.sqrt() * usual - 1.0) / sd)
}

#[cfg(test)]
mod tests {
    use std::f64::consts::{PI, TAU};

    use super::super::standing::tests::{RATE, noisy, sine};
    use super::*;

    /// Carrier over noise density of the lines below, Hz: 25 dB-Hz, 8 dB over the noise in the filter.
    const CNR: f64 = 316.0;

    fn looked(samples: &[f32], cnr_hz: f64) -> Option<bool> {
        let line = MixedDown::of(samples, RATE, MixedDown::NARROW_HZ, 1000.0, 0.0);
        is_keyed(&Looked { line: &line, cnr_hz, strays_hz: 0.0 })
    }

    /// A tone at 1000.3 Hz of amplitude `size(t)`.
    fn keyed(seed: u64, size: impl Fn(f64) -> f64) -> Option<bool> {
        looked(&noisy(seed, CNR, |t| size(t) * sine(1000.3, t)), CNR)
    }

    /// Source: common practice: dots at 20 words a minute by the PARIS word last 1.2 s / 20 = 60 ms, and as long
    /// the pause between; phase keying at 31.25 baud reverses under a cosine (from memory).
    #[test]
    fn keying_on_and_off_and_reversals_are_told_from_a_steady_carrier() {
        for seed in 0..20 {
            assert_eq!(keyed(seed, |_| 1.0), Some(false), "seed {seed}");
        }
        let on = 2f64.sqrt();
        assert_eq!(keyed(1, |t| if (t / 0.12).fract() < 0.5 { on } else { 0.0 }), Some(true));
        assert_eq!(keyed(2, |t| if (t * 25.0).fract() < 0.5 { on } else { 0.0 }), Some(true));
        assert_eq!(keyed(3, |t| on * (PI * 31.25 * t).cos()), Some(true));
    }

    #[test]
    fn fading_hum_and_a_family_are_no_keying() {
        let fading = |t: f64| 10f64.powf(3.0 / 20.0 * (TAU * t / 4.0).sin());
        assert_eq!(keyed(4, fading), Some(false));
        assert_eq!(keyed(5, |t| 1.0 + (TAU * 50.0 * t).sin()), Some(false));
        // Carriers of equal power 60 Hz apart, as in the closest family.
        let family = |t| sine(940.3, t) + sine(1000.3, t) + sine(1060.3, t);
        assert_eq!(looked(&noisy(6, CNR, family), CNR), Some(false));
    }

    #[test]
    fn a_weak_or_short_line_cannot_be_told() {
        let silence = vec![0.0f32; 80_000];
        assert_eq!(looked(&silence, 30.0), None);
        assert_eq!(looked(&silence[..8000], 1e4), None);
    }
}
