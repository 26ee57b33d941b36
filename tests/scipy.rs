//! Window, Welch density and median floor against SciPy's numbers, on one signal that both make from the same
//! formula.
//!
//! Source of every expected value: SciPy 1.17.1 and NumPy (versions in `data/scipy/scipy.json`), by
//! `data/scipy/make.py`.

use approx::{assert_abs_diff_eq, assert_relative_eq};
use serde::Deserialize;

use noisetally::signal::spectrum::{
    FramePlan, HANN_ENBW_BINS, SlicesBuilder, Stft, frame_len, hann, median_over_slices,
};

#[derive(Deserialize)]
struct Reference {
    first_samples: Vec<f64>,
    rows: usize,
    window_first_9_of_16: Vec<f64>,
    bins: Vec<usize>,
    density: Vec<f64>,
    power: Vec<f64>,
    median_over_slices: Vec<f64>,
}

fn reference() -> Reference {
    serde_json::from_str(include_str!("data/scipy/scipy.json")).expect("the reference is well-formed")
}

const RATE: u32 = 12_000;

/// Noise by xorshift64* (S. Vigna, ACM TOMS 42(4), 2016) and Box–Muller, seed 1, with two sines.
fn signal() -> Vec<f32> {
    let mut state = 1u64;
    let mut draw = || {
        state ^= state >> 12;
        state ^= state << 25;
        state ^= state >> 27;
        (state.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64
    };
    let unit = 2f64.powi(-53);
    let mut noise = Vec::with_capacity(65_536);
    while noise.len() < 65_536 {
        let (u1, u2) = ((draw() + 1.0) * unit, draw() * unit);
        let (radius, angle) = ((-2.0 * u1.ln()).sqrt(), std::f64::consts::TAU * u2);
        noise.extend([radius * angle.cos(), radius * angle.sin()]);
    }
    let sine = |freq: f64, n: usize, phase: f64| (std::f64::consts::TAU * freq * n as f64 / 12_000.0 + phase).sin();
    let mix = |(n, z): (usize, f64)| 0.05 * z + 0.02 * sine(1000.1, n, 0.3) + 0.004 * sine(1734.5, n, 1.1);
    noise.into_iter().enumerate().map(mix).map(|x| x as f32).collect()
}

#[test]
fn both_sides_have_the_same_samples_and_window() {
    let reference = reference();
    for (ours, theirs) in signal().iter().zip(&reference.first_samples) {
        assert_abs_diff_eq!(*ours as f64, theirs, epsilon = 1e-8);
    }
    for (ours, theirs) in hann(16).iter().zip(&reference.window_first_9_of_16) {
        assert_abs_diff_eq!(*ours as f64, theirs, epsilon = 1e-7);
    }
    assert_eq!(frame_len(RATE), 2048);
}

#[test]
fn welch_density_and_power_agree() {
    let reference = reference();
    let plan = FramePlan::for_rate(RATE);
    let (mut sum, mut frames) = (vec![0f64; plan.bins()], 0);
    Stft::new(&plan).push(&signal(), |spectrum| {
        frames += 1;
        sum.iter_mut().zip(spectrum).enumerate().for_each(|(k, (sum, &v))| *sum += f64::from(plan.density(k, v)));
    });
    for (place, &bin) in reference.bins.iter().enumerate() {
        let density = sum[bin] / f64::from(frames);
        assert_relative_eq!(density, reference.density[place], max_relative = 1e-4);
        let power = density * HANN_ENBW_BINS * plan.bin_hz();
        assert_relative_eq!(power, reference.power[place], max_relative = 1e-4);
    }
}

#[test]
fn median_over_slices_agrees() {
    let reference = reference();
    let plan = FramePlan::for_rate(RATE);
    let mut builder = SlicesBuilder::new(&plan);
    Stft::new(&plan).push(&signal(), |spectrum| builder.add(spectrum));
    let slices = builder.finish();
    assert_eq!((slices.len(), slices.frames_per_slice), (reference.rows, 3));
    let medians = median_over_slices(&slices);
    for (place, &bin) in reference.bins.iter().enumerate() {
        assert_relative_eq!(medians[bin], reference.median_over_slices[place], max_relative = 1e-4);
    }
}
