//! Nights made of spectra alone: what stands in them is known.

use approx::assert_abs_diff_eq;

use super::*;
use crate::demo::synth::Gauss;

const BIN_HZ: f64 = 4.0;
const BINS: usize = 700;
const ROW_S: f64 = 9.0;
const ROWS: usize = 200;
const STEP_S: f64 = 0.9;
/// Independent spectra in a row: what nine seconds give.
const AVERAGES: f64 = 66.0;
/// Density of the noise; a passband of 2400 Hz has 2400 times that.
const NOISE: f64 = 1e-8;

/// A line: its bin, its power over that of the noise in the passband, as a function of time, and the share of it
/// that lies beside it.
struct Made<'a> {
    bin: usize,
    power: &'a dyn Fn(f64) -> f64,
    beside: f64,
}

/// What stands in a night with these lines; `noise`: the noise's density over [`NOISE`].
fn found(seed: u64, lines: &[Made<'_>], noise: impl Fn(f64) -> f64) -> Vec<LineStretch> {
    through(seed, lines, noise, line_stretches)
}

fn through<T>(
    seed: u64,
    lines: &[Made<'_>],
    noise: impl Fn(f64) -> f64,
    look: impl FnOnce(&LineSeries<'_>) -> Vec<T>,
) -> Vec<T> {
    let mut gauss = Gauss::new(seed, "rows");
    let band = 75..675;
    let in_band = NOISE * band.len() as f64 * BIN_HZ;
    let mean = |value: &dyn Fn(f64) -> f64, from_s: f64, for_s: f64| -> f64 {
        (0..90).map(|n| value(from_s + for_s * (f64::from(n) + 0.5) / 90.0)).sum::<f64>() / 90.0
    };
    let mut densities: Vec<Vec<f32>> = Vec::new();
    for row in 0..ROWS {
        let from_s = ROW_S * row as f64;
        let floor = NOISE * mean(&noise, from_s, ROW_S);
        let mut density = vec![floor; BINS];
        for line in lines {
            let power = in_band * mean(line.power, from_s, ROW_S);
            // Hann's window: the line's bin and half the amplitude to each side, 1.5 bins of noise bandwidth.
            for (bins, share) in
                [(line.bin..line.bin + 1, 1.0), (line.bin - 1..line.bin, 0.25), (line.bin + 1..line.bin + 2, 0.25)]
            {
                bins.for_each(|bin| density[bin] += share * power / 1.5 / BIN_HZ);
            }
            let near = (line.bin - 9..line.bin - 2).chain(line.bin + 3..line.bin + 10);
            near.for_each(|bin| density[bin] += line.beside * power / 14.0 / BIN_HZ);
        }
        let scatter = |value: f64| (value * (1.0 + gauss.normal() / AVERAGES.sqrt())) as f32;
        densities.push(density.into_iter().map(scatter).collect());
    }
    let at = |n: usize| STEP_S * n as f64;
    let steps = (ROW_S * ROWS as f64 / STEP_S) as usize;
    let noises: Vec<f64> =
        (0..steps).map(|n| in_band * mean(&noise, at(n), STEP_S) * (1.0 + 0.03 * gauss.normal())).collect();
    let total =
        |n: usize| noises[n] + lines.iter().map(|line| in_band * mean(line.power, at(n), STEP_S)).sum::<f64>();
    let totals: Vec<f64> = (0..steps).map(total).collect();
    let rows = densities
        .iter()
        .enumerate()
        .map(|(row, density)| SpectrumRow {
            from_s: ROW_S * row as f64,
            to_s: ROW_S * (row + 1) as f64,
            density,
            averages: AVERAGES,
        })
        .collect();
    look(&LineSeries { rows, band, bin_hz: BIN_HZ, noise: &noises, total: &totals, step_s: STEP_S })
}

fn while_on(power: f64, from_s: f64, to_s: f64) -> impl Fn(f64) -> f64 {
    move |at_s| if (from_s..to_s).contains(&at_s) { power } else { 0.0 }
}

fn even(_: f64) -> f64 {
    1.0
}

#[test]
fn plain_noise_and_what_stands_throughout_are_no_devices() {
    for seed in 0..10 {
        let standing = Made { bin: 300, power: &|_| 0.5, beside: 0.0 };
        assert_eq!(found(seed, &[standing], even), [], "seed {seed}");
    }
}

/// Tolerance: a spectrum of nine seconds in which a line of 20 dB over its bin's noise stands in part tells that
/// part to some hundredths.
#[test]
fn a_family_that_comes_and_goes_is_one_device_placed_to_a_second() {
    for (seed, (from_s, to_s)) in [(403.0, 1204.5), (410.4, 905.8), (700.2, 790.9)].into_iter().enumerate() {
        let power = while_on(0.1, from_s, to_s);
        let lines: Vec<Made<'_>> = (0..8).map(|n| Made { bin: 120 + 33 * n, power: &power, beside: 0.0 }).collect();
        let found = found(seed as u64, &lines, even);
        assert_eq!(found.len(), 1, "{found:?}");
        assert_abs_diff_eq!(found[0].start_s, from_s, epsilon = 1.0);
        assert_abs_diff_eq!(found[0].end_s, to_s, epsilon = 1.0);
        assert_eq!(found[0].freqs_hz.len(), 8);
    }
}

#[test]
fn what_fades_swells_or_is_keyed_is_no_device() {
    let on = while_on(0.5, 403.0, 1204.0);
    let fading = |at_s: f64| on(at_s) * 10f64.powf(0.4 * (std::f64::consts::TAU * at_s / 60.0).sin());
    let swelling = |at_s: f64| 0.5 * (-((at_s - 800.0) / 250.0).powi(4)).exp();
    // Dots and dashes half the time, by the second more or less.
    let keyed = |at_s: f64| on(at_s) * if (at_s * 0.37).fract() < 0.5 { 0.3 } else { 1.7 };
    for seed in 0..5 {
        for power in [&fading as &dyn Fn(f64) -> f64, &swelling, &keyed] {
            assert_eq!(found(seed, &[Made { bin: 300, power, beside: 0.0 }], even), [], "seed {seed}");
        }
        assert_eq!(found(seed, &[Made { bin: 300, power: &on, beside: 0.15 }], even), [], "seed {seed}");
    }
}

#[test]
fn what_was_there_at_the_beginning_is_open() {
    let found = found(3, &[Made { bin: 300, power: &while_on(0.5, 0.0, 700.0), beside: 0.0 }], even);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].from_before && !found[0].until_after);
    assert_abs_diff_eq!(found[0].end_s, 700.0, epsilon = 1.0);
}

/// A line hidden under a louder noise for a while is the same one after it.
#[test]
fn louder_noise_hides_and_does_not_end_it() {
    let louder = |at_s: f64| if (600.0..900.0).contains(&at_s) { 100.0 } else { 1.0 };
    let found = found(4, &[Made { bin: 300, power: &while_on(0.12, 303.0, 1404.0), beside: 0.0 }], louder);
    assert_eq!(found.len(), 1, "{found:?}");
    assert_abs_diff_eq!(found[0].start_s, 303.0, epsilon = 1.0);
    assert_abs_diff_eq!(found[0].end_s, 1404.0, epsilon = 1.0);
}

/// A carrier that pauses for ten minutes is one, with its level and how long it stood, whoever sends it. Truth:
/// what was made. Tolerance: a spectrum at each of its four edges; the level, that of chance in 100 spectra.
#[test]
fn carriers_are_followed_over_a_pause() {
    let (early, late) = (while_on(0.3, 180.0, 700.0), while_on(0.3, 1300.0, 1700.0));
    let power = |at_s: f64| early(at_s) + late(at_s);
    let lines = [Made { bin: 300, power: &power, beside: 0.15 }];
    let all = through(5, &lines, even, followed);
    let [one] = all.as_slice() else { panic!("not one line: {all:?}") };
    assert_abs_diff_eq!(one.place_hz.0, 300.0 * BIN_HZ, epsilon = BIN_HZ);
    assert_abs_diff_eq!(one.first_s, 180.0, epsilon = ROW_S);
    assert_abs_diff_eq!(one.last_s, 1700.0, epsilon = ROW_S);
    assert_abs_diff_eq!(one.stood_s, 920.0, epsilon = 4.0 * ROW_S);
    let in_band = NOISE * 600.0 * BIN_HZ;
    assert_abs_diff_eq!(one.power[1] / (0.3 * in_band), 1.0, epsilon = 0.1);
    assert!(through(6, &[], even, followed).is_empty(), "noise has no line");
}
