//! Whether a line is keyed faster than slices show: dots, phase reversals and tones that take turns make its power fall
//! away again and again for some hundredths of a second; a device's carrier stays where it is.

use rustfft::num_complex::Complex64;

use super::mixed_down::MixedDown;
use super::statistics::{normal_cdf, quantile};

/// Power below this part of what the line usually has nearby is a dip: 6 dB.
const DIP: f64 = 0.25;
/// Half the stretch, in seconds, in which "usually" is: longer than a dash, shorter than fading.
const NEARBY_S: f64 = 0.5;
/// What the line usually has is this quantile of its power there, for a keyed one is off about half of the time.
const USUAL: f64 = 0.75;
/// Dips in so much more of the time than noise makes are keying: reversals at random under a cosine dip in 0.17 of the
/// time, keying on and off in half of it. At least this, and so many standard deviations of chance.
const KEYED: f64 = 0.08;
const SIGMAS: f64 = 3.0;
/// With a line weaker than this over the noise in the filter (ratio of powers), noise itself dips.
const LEAST_SNR: f64 = 4.0;
/// So many values are taken together for a weak line: a filter as much narrower, in which voices and slow keying show.
const TOGETHER: usize = 4;
/// The line may leave its straight line by this part of the filter's bandwidth.
const STRAYS: f64 = 0.8;

/// Whether the line is keyed; `None` where it is too weak, too short, or strays too far to tell. `cnr_hz`: its power over
/// the density of the noise around it, Hz. `strays_hz`: how far its places lie from a straight line, both sides together.
pub fn is_keyed(line: &MixedDown, cnr_hz: f64, strays_hz: f64) -> Option<bool> {
    let told = |together: usize| {
        let bandwidth_hz = line.noise_bandwidth_hz() / together as f64;
        let snr = cnr_hz / bandwidth_hz;
        let powers: Vec<f64> =
            line.values.chunks_exact(together).map(|values| values.iter().sum::<Complex64>().norm_sqr()).collect();
        let half = (NEARBY_S * line.rate_hz / together as f64) as usize;
        let can_tell = snr >= LEAST_SNR && powers.len() >= 4 * half && strays_hz < STRAYS * bandwidth_hz;
        can_tell.then(|| {
            let expected = dips_of_noise(snr);
            // Half-overlapped blocks: every second value is independent.
            let chance = (0.1 * 0.9 / (powers.len() as f64 / 2.0)).sqrt();
            share_of_dips(&powers, half) > expected + KEYED.max(SIGMAS * chance)
        })
    };
    told(1).or_else(|| told(TOGETHER))
}

/// Share of the values that lie far below what is usual within `half` values on either side.
fn share_of_dips(powers: &[f64], half: usize) -> f64 {
    let dips = powers.iter().enumerate().filter(|&(at, &power)| {
        let mut nearby = powers[at.saturating_sub(half)..(at + half + 1).min(powers.len())].to_vec();
        power < DIP * quantile(&mut nearby, USUAL)
    });
    dips.count() as f64 / powers.len() as f64
}

/// Largest share of the time that a steady line is in a dip by noise alone: at most as often as the part of the noise
/// that is in phase with the line takes so much of its amplitude away.
fn dips_of_noise(snr: f64) -> f64 {
    // In units of the line's amplitude, by one of the noise's two parts; the usual power stands above the line's own.
    let sd = (0.5 / snr).sqrt();
    let usual = 1.0 + 0.674 * sd + 0.5 * sd * sd;
    normal_cdf((DIP.sqrt() * usual - 1.0) / sd)
}

#[cfg(test)]
mod tests {
    use std::f64::consts::{PI, TAU};

    use rand::{Rng, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    use super::*;

    const RATE: f64 = 8000.0;
    /// Carrier over noise density of the lines below, Hz: 25 dB-Hz, 8 dB over the noise in the filter.
    const CNR: f64 = 316.0;

    /// Ten seconds of a tone at 1000 Hz of mean square 0.5 times the square of `size(t)`, over white noise of that CNR.
    fn keyed(seed: u64, size: impl Fn(f64) -> f64) -> Option<bool> {
        keyed_at(1000.0, seed, size)
    }

    fn keyed_at(freq_hz: f64, seed: u64, size: impl Fn(f64) -> f64) -> Option<bool> {
        keyed_over(CNR, freq_hz, seed, size)
    }

    fn keyed_over(cnr_hz: f64, freq_hz: f64, seed: u64, size: impl Fn(f64) -> f64) -> Option<bool> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let mut unit = move || (rng.next_u64() >> 11) as f64 / (1u64 << 53) as f64;
        let mut gauss = move || (-2.0 * (1.0 - unit()).ln()).sqrt() * (TAU * unit()).cos();
        let sd = (0.5 / cnr_hz * RATE / 2.0).sqrt();
        let samples: Vec<f32> = (0..(10.0 * RATE) as usize)
            .map(|n| {
                let t = n as f64 / RATE;
                (size(t) * (TAU * 1000.3 * t).sin() + sd * gauss()) as f32
            })
            .collect();
        is_keyed(&MixedDown::of(&samples, RATE, freq_hz, 0.0), cnr_hz, 0.0)
    }

    /// Source: common practice: dots at 20 words a minute by the PARIS word last 1.2 s / 20 = 60 ms, and as long the
    /// pause between; phase keying at 31.25 baud reverses under a cosine (from memory).
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
    fn fading_hum_and_a_neighbour_are_no_keying() {
        let fading = |t: f64| 10f64.powf(3.0 / 20.0 * (TAU * t / 4.0).sin());
        assert_eq!(keyed(4, fading), Some(false));
        assert_eq!(keyed(5, |t| 1.0 + (TAU * 50.0 * t).sin()), Some(false));
        // Two carriers of equal power 60 Hz apart, as in the closest family: the upper one looked at.
        assert_eq!(keyed_at(1030.0, 6, |t| 2.0 * (PI * 60.0 * t).cos()), Some(false));
    }

    /// 20 dB-Hz: noise alone dips in the wide filter; syllables, four a second with pauses, show in the narrow one.
    #[test]
    fn of_a_weak_line_slow_keying_is_told() {
        for seed in 0..20 {
            assert_eq!(keyed_over(100.0, 1000.0, seed, |_| 1.0), Some(false), "seed {seed}");
        }
        let syllables = |t: f64| if (t * 2.0).fract() < 0.5 { 2f64.sqrt() } else { 0.0 };
        assert_eq!(keyed_over(100.0, 1000.0, 30, syllables), Some(true));
    }

    #[test]
    fn a_weak_or_short_line_cannot_be_told() {
        let silence = vec![0.0f32; 80_000];
        assert_eq!(is_keyed(&MixedDown::of(&silence, RATE, 1000.0, 0.0), 30.0, 0.0), None);
        assert_eq!(is_keyed(&MixedDown::of(&silence[..8000], RATE, 1000.0, 0.0), 1e4, 0.0), None);
    }
}
