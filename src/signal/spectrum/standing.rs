//! Whether a line stands: its power in windows of an eighth of a second, followed where it drifts. A carrier is
//! there in all of them; of a voice, keying, and tones that take turns, single ones or many, it is gone in most.
//! Not here: what is keyed faster than that (`keying`).

use rustfft::FftPlanner;
use rustfft::num_complex::Complex32;

use super::mixed_down::MixedDown;
use super::statistics::{median, quantile};
use super::window::{HANN_ENBW_BINS, hann};

/// Length of a window. Measured: in 0.12 s stations' tones of 54 recordings off the air (0.16 s and more each) have
/// at most 0.11 of their mean power in a tenth of the windows, carriers put on the same recordings 0.65 and more.
const WINDOW_S: f64 = 0.125;
/// A line weaker than this over the noise in a window (ratio of powers, 10 dB) is looked at in longer ones, up to
/// this length. Measured as above: from 10 dB on carriers and stations lie apart. Chosen: longer windows hold whole
/// words of a keyed station.
const LEAST_SNR: f64 = 10.0;
const LONGEST_S: f64 = 1.0;
/// What is weaker even in these can't be told from noise. Chosen: 7 dB; noise that is followed has up to 4 dB.
const LEAST_SNR_AT_LAST: f64 = 5.0;
/// A line with company, which beats with it, is looked at in windows of this length. Chosen: parts carriers 4 Hz
/// apart, and a tone of 0.16 s that takes turns with seven others is still absent for most of them.
const PARTED_S: f64 = 0.5;
/// There a carrier has this share in the weakest tenth. Chosen: parted, 20 dB-Hz leave 0.7; tones that several
/// stations take turns at are there more often than those of one.
const STANDS_APART: f64 = 0.65;
/// The weakest tenth of the windows has this share of the mean power: shown to stand. Simulated at 22 to 40 dB-Hz:
/// carriers (steady, hummed by 0.8, wandering by 2 Hz, drifting by 50 Hz/s) 0.48 to 0.93; phase keying at 31 baud
/// 0.26 to 0.58 (`keying` tells it), two tones, eight tones, keying by hand at most 0.25.
pub(super) const STANDS: f64 = 0.4;
/// From this on it may stand and fade; the same simulation: fading by ±3 dB leaves 0.28 to 0.47.
const MAY_STAND: f64 = 0.28;
/// The quantiles: the weakest tenth, and the strongest, which counts for no more than its least value: a crash of
/// static is no line. Chosen so.
const WEAK: f64 = 0.1;
const STRONG: f64 = 0.9;
/// Frequencies tried lie this part of a bin apart, or a little less, and from one window to the next (half a window
/// on) a line moves by at most so many of them. Chosen: the loss half-way is below 0.1 dB; moving faster smears it
/// over half a bin.
const STEPS_A_BIN: usize = 8;
const MOST_STEPS: usize = 2;
/// How far beside its straight line a line is looked for, bins, beyond what its places stray. Chosen: the Hann
/// window's half main lobe less the room that a neighbour needs.
const BESIDE_BINS: f64 = 1.5;
/// And at most so far, Hz. Chosen: a comb's members may stand 60 Hz apart.
const FURTHEST_HZ: f64 = 30.0;
/// What a step costs against ln(1 + power over noise), which counts up to a bound, or to what the middle one of all
/// windows has at its best. Chosen: noise must not pull the path, a strong window not buy a leap, and a strong line
/// not be lost on its own skirts.
const STEP_COST: f64 = 0.02;
const MOST_GAIN: f64 = 6.0;
/// Fewer windows tell nothing of a tenth of them. Chosen: two seconds.
const LEAST_WINDOWS: usize = 31;

/// Whether it was seen to stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Standing {
    /// It falls away.
    No,
    /// As far as can be told: it is weak, fades, or has company.
    Perhaps,
    /// At every moment.
    Shown,
}

/// A line to be looked at.
pub struct Seen<'a> {
    /// Its surroundings, its straight line taken off; [`MixedDown::WIDE_HZ`] values a second.
    pub line: &'a MixedDown,
    /// Density of the noise around it, FS²/Hz.
    pub floor: f64,
    /// How far its places lie from the straight line, both sides together.
    pub strays_hz: f64,
    /// Whether another line stands near enough to beat with it.
    pub has_company: bool,
}

/// Looks at the line.
pub fn standing(seen: &Seen<'_>) -> Standing {
    let mut window_s = WINDOW_S;
    let mut even = seen.evenness(window_s);
    while even.snr < LEAST_SNR && window_s < LONGEST_S {
        window_s *= 2.0;
        even = seen.evenness(window_s);
    }
    let shown = window_s == WINDOW_S && even.snr >= LEAST_SNR;
    if !shown {
        let told = even.snr >= LEAST_SNR_AT_LAST && even.share >= STANDS;
        return if told { Standing::Perhaps } else { Standing::No };
    }
    if even.share >= STANDS {
        Standing::Shown
    } else if if seen.has_company { stands_apart(seen) } else { even.share >= MAY_STAND } {
        Standing::Perhaps
    } else {
        Standing::No
    }
}

/// Whether it stands in windows that part it from its company: a carrier that beats with it does, and a station
/// that keys evenly; of one that keys by what it sends nothing is even.
pub fn stands_apart(seen: &Seen<'_>) -> bool {
    seen.evenness(PARTED_S).share >= STANDS_APART
}

/// How even a line's power is.
struct Even {
    /// The weak quantile over the mean.
    share: f64,
    /// Mean over the noise in a window.
    snr: f64,
}

impl Seen<'_> {
    /// In half-overlapped Hann windows of this length.
    fn evenness(&self, window_s: f64) -> Even {
        let powers = self.followed(window_s);
        if powers.len() < LEAST_WINDOWS.min((LEAST_WINDOWS as f64 * WINDOW_S / window_s) as usize + 6) {
            return Even { share: 0.0, snr: 0.0 };
        }
        let top = quantile(&mut powers.clone(), STRONG);
        let mean = powers.iter().map(|power| power.min(top)).sum::<f64>() / powers.len() as f64;
        Even { share: quantile(&mut powers.clone(), WEAK) / mean.max(f64::MIN_POSITIVE), snr: mean }
    }

    /// Power over the noise, window by window, along the path that holds most of it (R. Bellman's dynamic
    /// programming; as A. J. Viterbi, IEEE Trans. IT-13, 1967, finds a likeliest sequence; from memory).
    fn followed(&self, window_s: f64) -> Vec<f64> {
        let beside_hz = (BESIDE_BINS / window_s + self.strays_hz / 2.0).min(FURTHEST_HZ);
        let Rows { rows, .. } = Rows::of(self.line, self.floor, (window_s, 2), beside_hz);
        best_path(&rows).into_iter().zip(&rows).map(|(state, row)| row[state]).collect()
    }
}

/// Power over the noise in Hann windows, at frequencies that lie even steps apart.
pub(super) struct Rows {
    /// One for each window, from so far below the middle to as far above.
    pub rows: Vec<Vec<f64>>,
    /// Distance of two frequencies, Hz.
    pub step_hz: f64,
    /// Windows a second.
    pub rate_hz: f64,
}

impl Rows {
    /// `floor`: density of the noise, FS²/Hz; of each window: its length, s, and how many begin within it.
    pub fn of(line: &MixedDown, floor: f64, (window_s, within): (f64, usize), reach_hz: f64) -> Self {
        let window = hann((window_s * line.rate_hz / 2.0).round() as usize * 2);
        let hop = (window.len() / within).max(1);
        // Zeros after the window bring the bins of the transform as near to each other as the frequencies tried are.
        let fft = FftPlanner::new().plan_fft_forward(fast_length(STEPS_A_BIN * window.len()));
        let step_hz = line.rate_hz / fft.len() as f64;
        let reach = ((reach_hz / step_hz).round() as usize).min(fft.len() / 2 - 1);
        // |value|² of a sine of mean square P is P/2, and of noise half its density times the bandwidth.
        let gain: f64 = window.iter().map(|&w| f64::from(w)).sum::<f64>().powi(2);
        let noise = gain * floor * HANN_ENBW_BINS * line.rate_hz / window.len() as f64 / 2.0;
        let mut bins = vec![Complex32::ZERO; fft.len()];
        let mut scratch = vec![Complex32::ZERO; fft.get_inplace_scratch_len()];
        let power = |bin: &Complex32| f64::from(bin.re).powi(2) + f64::from(bin.im).powi(2);
        let rows = (0..(line.values.len() + 1).saturating_sub(window.len()))
            .step_by(hop)
            .map(|start| {
                bins.fill(Complex32::ZERO);
                for ((bin, value), &weight) in bins.iter_mut().zip(&line.values[start..]).zip(&window) {
                    *bin = Complex32::new(value.re as f32, value.im as f32) * weight;
                }
                fft.process_with_scratch(&mut bins, &mut scratch);
                let below = &bins[bins.len() - reach..];
                below.iter().chain(&bins[..=reach]).map(|bin| power(bin) / noise).collect()
            })
            .collect();
        Self { rows, step_hz, rate_hz: line.rate_hz / hop as f64 }
    }
}

/// The next length from here on that transforms fast: without a factor but 2 and 3.
fn fast_length(least: usize) -> usize {
    let is_fast = |&length: &usize| {
        let mut rest = length;
        for factor in [2, 3] {
            while rest.is_multiple_of(factor) {
                rest /= factor;
            }
        }
        rest == 1
    };
    (least.max(1)..).find(is_fast).unwrap_or(least)
}

/// The state of each row on the path of most gain.
fn best_path(rows: &[Vec<f64>]) -> Vec<usize> {
    let best_of = |row: &Vec<f64>| row.iter().copied().fold(0.0, f64::max);
    let most = MOST_GAIN.max(median(&mut rows.iter().map(best_of).collect::<Vec<_>>()).ln_1p());
    let gain = |power: f64| power.ln_1p().min(most);
    let Some(first) = rows.first() else { return Vec::new() };
    let mut score: Vec<f64> = first.iter().map(|&power| gain(power)).collect();
    let mut came_from: Vec<Vec<usize>> = Vec::with_capacity(rows.len());
    for row in &rows[1..] {
        let best: Vec<(usize, f64)> = (0..row.len())
            .map(|state| {
                (state.saturating_sub(MOST_STEPS)..=(state + MOST_STEPS).min(row.len() - 1))
                    .map(|from| (from, score[from] - STEP_COST * (state.abs_diff(from) as f64).powi(2)))
                    .max_by(|a, b| a.1.total_cmp(&b.1))
                    .expect("the state itself is in the range")
            })
            .collect();
        score = best.iter().zip(row).map(|(best, &power)| best.1 + gain(power)).collect();
        came_from.push(best.into_iter().map(|best| best.0).collect());
    }
    let mut state = (0..score.len()).max_by(|&a, &b| score[a].total_cmp(&score[b])).unwrap_or(0);
    let mut path = vec![state];
    for from in came_from.iter().rev() {
        state = from[state];
        path.push(state);
    }
    path.reverse();
    path
}

#[cfg(test)]
pub(super) mod tests {
    use std::f64::consts::{PI, TAU};

    use rand::{Rng, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    use super::Standing::{No, Perhaps, Shown};
    use super::*;

    pub const RATE: f64 = 8000.0;
    const SECONDS: f64 = 10.0;

    /// `SECONDS` of `sound(t)` over white noise, over which a sine of amplitude 1 has that CNR, Hz.
    pub fn noisy(seed: u64, cnr_hz: f64, mut sound: impl FnMut(f64) -> f64) -> Vec<f32> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let mut unit = move || (rng.next_u64() >> 11) as f64 / (1u64 << 53) as f64;
        let mut gauss = move || (-2.0 * (1.0 - unit()).ln()).sqrt() * (TAU * unit()).cos();
        let sd = (0.5 / cnr_hz * RATE / 2.0).sqrt();
        (0..(SECONDS * RATE) as usize).map(|n| (sound(n as f64 / RATE) + sd * gauss()) as f32).collect()
    }

    pub fn sine(hz: f64, t: f64) -> f64 {
        (TAU * hz * t).sin()
    }

    /// A tone of amplitude 1 that has the frequency `hz(t)`.
    pub fn running(hz: impl Fn(f64) -> f64) -> impl FnMut(f64) -> f64 {
        let mut turns = 0.0f64;
        move |t| {
            turns = (turns + hz(t) / RATE).fract();
            (TAU * turns).sin()
        }
    }

    /// One of `count` numbers, another for each `slot`.
    pub fn drawn(seed: u64, slot: f64, count: u64) -> f64 {
        // SplitMix64's last step (G. L. Steele et al., OOPSLA 2014; from memory).
        let mut z = (1000 * seed + slot as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) % count) as f64
    }

    fn seen(samples: &[f32], hz: f64, drift: f64, cnr_hz: f64, strays_hz: f64, has_company: bool) -> Standing {
        let line = MixedDown::of(samples, RATE, MixedDown::WIDE_HZ, hz, drift);
        standing(&Seen { line: &line, floor: 0.5 / cnr_hz, strays_hz, has_company })
    }

    /// What a line at 1000 Hz that is made so stands like, at this many dB-Hz.
    fn at(db_hz: f64, seed: u64, sound: impl FnMut(f64) -> f64) -> Standing {
        let cnr_hz = 10f64.powf(db_hz / 10.0);
        seen(&noisy(seed, cnr_hz, sound), 1000.0, 0.0, cnr_hz, 0.0, false)
    }

    /// Source: what a device's carrier does: it stands, with hum upon it, wavering, drifting (common practice).
    #[test]
    fn carriers_stand() {
        for seed in 0..2 {
            for db_hz in [23.0, 25.0, 40.0, 60.0] {
                assert_eq!(at(db_hz, seed, |t| sine(1000.7, t)), Shown, "{db_hz} dB-Hz");
                for hum_hz in [50.0, 100.0] {
                    let hummed = |t: f64| (1.0 + 0.8 * (TAU * hum_hz * t).cos()) * sine(999.4, t);
                    assert_eq!(at(db_hz, seed, hummed), Shown, "{db_hz} dB-Hz, hum {hum_hz} Hz");
                }
                let wandering = running(|t| 1000.0 + 3.0 * (TAU * 0.2 * t).sin() + 1.5 * (TAU * 0.47 * t).sin());
                assert_eq!(at(db_hz, seed, wandering), Shown, "{db_hz} dB-Hz, wandering");
                let warbling = running(|t| 1000.0 + 5.0 * (TAU * t).sin());
                assert_eq!(at(db_hz, seed, warbling), Shown, "{db_hz} dB-Hz, warbling");
                let cnr_hz = 10f64.powf(db_hz / 10.0);
                let drifting = noisy(seed, cnr_hz, running(|t| 1000.0 + 50.0 * (t - SECONDS / 2.0)));
                assert_eq!(seen(&drifting, 1000.0, 50.0, cnr_hz, 5.0, false), Shown, "{db_hz} dB-Hz, drifting");
            }
        }
    }

    /// Below some 21 dB-Hz longer windows are needed, and then it is "perhaps"; of two lines 5 Hz apart too.
    #[test]
    fn weak_carriers_and_such_with_company_stand_perhaps() {
        for seed in 0..4 {
            for db_hz in [14.0, 17.0, 20.0] {
                assert_eq!(at(db_hz, seed, |t| sine(1000.3, t)), Perhaps, "{db_hz} dB-Hz");
            }
            let pair = noisy(seed, 1e3, |t| sine(1000.3, t) + sine(1006.3, t));
            assert_eq!(seen(&pair, 1000.0, 0.0, 1e3, 0.0, true), Perhaps);
        }
    }

    /// Source: common practice: keying by hand at 20 words a minute (dots of 60 ms); a voice's syllables, four a
    /// second with pauses; teletype at 45.45 baud and shifts of 170, 450 and 850 Hz (ITU-R F.246 and amateur use;
    /// from memory); eight tones 6.25 Hz apart each 0.16 s, four 20.8 Hz apart each 48 ms, sixteen 15.6 Hz apart
    /// each 64 ms, sixty-five 2.7 Hz apart each 0.37 s with every second one at the lowest, as digital modes send
    /// them (from memory).
    #[test]
    fn keying_voices_and_tones_that_take_turns_do_not_stand() {
        for seed in 0..2 {
            for db_hz in [20.0, 25.0, 40.0] {
                let told = |what: &str| format!("{what}, {db_hz} dB-Hz, seed {seed}");
                let dots = |t: f64| if drawn(seed, t / 0.12, 3) > 0.0 { 1.2 * sine(1000.3, t) } else { 0.0 };
                assert_eq!(at(db_hz, seed, dots), No, "{}", told("keying"));
                let syllables = |t: f64| if (t * 2.0).fract() < 0.5 { 1.4 * sine(1000.3, t) } else { 0.0 };
                assert_eq!(at(db_hz, seed, syllables), No, "{}", told("syllables"));
                for shift_hz in [170.0, 450.0, 850.0] {
                    let teletype = running(|t| 1000.0 + shift_hz * drawn(seed, t * 45.45, 2));
                    assert_eq!(at(db_hz, seed, teletype), No, "{}", told("teletype"));
                }
                for (tones, apart_hz, each_s) in [(8, 6.25, 0.16), (4, 20.8, 0.048), (16, 15.6, 0.064)] {
                    let turns = running(|t| 1000.0 + apart_hz * (drawn(seed, t / each_s, tones) - 2.0));
                    assert_eq!(at(db_hz, seed, turns), No, "{}", told(&format!("{tones} tones")));
                }
                let often = |t: f64| drawn(seed, t / 0.372, 2) * (2.0 + drawn(seed + 1, t / 0.372, 63));
                let turns = running(|t| 1000.0 + 2.7 * often(t));
                assert_eq!(at(db_hz, seed, turns), No, "{}", told("every second tone"));
            }
            // In a crowd of its own kind that overlap by half.
            let crowd = noisy(seed, 1e4, |t| {
                let one = |k: u32| 950.0 + 25.0 * f64::from(k) + 6.25 * drawn(seed + u64::from(k), t / 0.16, 8);
                (0..4).map(|k| sine(one(k), t)).sum()
            });
            assert_eq!(seen(&crowd, 1000.0, 0.0, 1e4, 0.0, true), No, "crowd, seed {seed}");
        }
    }

    /// Phase keying is even enough in windows of its own length and more; `keying` tells it.
    #[test]
    fn phase_keying_is_never_shown_below_30_db_hz() {
        for seed in 0..4 {
            let signs = |t: f64| {
                let (slot, part) = ((t * 31.25).floor(), (t * 31.25).fract());
                let sign = |slot: f64| 2.0 * drawn(seed, slot, 2) - 1.0;
                let share = 0.5 + 0.5 * (PI * part).cos();
                sign(slot) * share + sign(slot + 1.0) * (1.0 - share)
            };
            assert_ne!(at(25.0, seed, |t| 1.3 * signs(t) * sine(1000.3, t)), Shown, "seed {seed}");
        }
    }

    /// By the definition: nothing but noise has ln(1/0.9) = 0.105 of its mean in the weakest tenth. Tolerance: what
    /// following it adds in eighty independent windows.
    #[test]
    fn noise_does_not_stand() {
        for seed in 0..4 {
            let line = MixedDown::of(&noisy(seed, 100.0, |_| 0.0), RATE, MixedDown::WIDE_HZ, 1000.0, 0.0);
            let seen = Seen { line: &line, floor: 0.5 / 100.0, strays_hz: 0.0, has_company: false };
            assert_eq!(standing(&seen), No, "seed {seed}");
            assert!(seen.evenness(WINDOW_S).share < 0.25, "{}", seen.evenness(WINDOW_S).share);
        }
    }
}
