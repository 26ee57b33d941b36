//! Intervals against the exact ones that statistics gives for Gaussian noise: of a density, and of an excess.

use statrs::distribution::{ChiSquared, ContinuousCDF, FisherSnedecor};

use noisetally::contrast::{ContrastSettings, TakeScatter, contrast};
use noisetally::demo::synth::{Receiver, Scene, Take};
use noisetally::signal::measure::{MeasureSettings, Measurement};
use noisetally::signal::spectrum::statistics::welch_dof;
use noisetally::signal::spectrum::{FramePlan, SlicesBuilder, Stft};
use noisetally::units::Dbfs;

fn noise(seed: u64, seconds: f64) -> Take {
    Scene::new(Receiver::ssb(8000)).band_noise(Dbfs(-40.0)).seed(seed).render(seconds)
}

/// Bins of the synthetic receiver's passband that its filter leaves alone.
const FLAT_HZ: std::ops::Range<f64> = 600.0..2400.0;

/// Source: P. D. Welch, IEEE Trans. AU-15(2), 70–73, 1967, with the degrees of freedom of D. B. Percival and A. T.
/// Walden, Spectral Analysis for Physical Applications, 1993, § 6.17 (36 K²/(19 K − 1) for Hann and half overlap;
/// from memory): the relative variance of a density is 2/ν, and [ν/χ²(0.975), ν/χ²(0.025)] times it holds the true
/// density in 95 %. Tolerance: three standard errors over bins of which every second is independent.
#[test]
fn a_density_scatters_and_its_interval_covers_as_chi_square_says() {
    let plan = FramePlan::for_rate(8000);
    let (mut relative, mut frames) = (Vec::new(), 0);
    for seed in 1..=12 {
        let mut builder = SlicesBuilder::new(&plan);
        Stft::new(&plan).push(&noise(seed, 4.0).samples, |spectrum| builder.add(spectrum));
        let slices = builder.finish();
        frames = slices.frames;
        let flat = slices.bin_of(FLAT_HZ.start)..slices.bin_of(FLAT_HZ.end);
        relative.push(slices.mean[flat].to_vec());
    }
    // Band noise of −40 dBFS lies in the receiver's passband; its density is the mean over all bins and takes.
    let count = relative.iter().map(Vec::len).sum::<usize>() as f64;
    let density = relative.iter().flatten().sum::<f64>() / count;
    let values: Vec<f64> = relative.iter().flatten().map(|value| value / density).collect();
    let dof = welch_dof(frames as f64);
    let variance = values.iter().map(|value| (value - 1.0).powi(2)).sum::<f64>() / count;
    assert!((variance / (2.0 / dof) - 1.0).abs() < 3.0 * (2.0 / (count / 2.0)).sqrt(), "{variance} for ν = {dof}");

    let chi = ChiSquared::new(dof).unwrap();
    let (low, high) = (dof / chi.inverse_cdf(0.975), dof / chi.inverse_cdf(0.025));
    let covered =
        values.iter().filter(|&&value| (low * value..=high * value).contains(&1.0)).count() as f64 / count;
    assert!((covered - 0.95).abs() < 3.0 * (0.95 * 0.05 / (count / 2.0)).sqrt(), "covered {covered}");
}

/// Source: the ratio of two powers of Gaussian noise of bandwidth B over T seconds follows F(2BT, 2BT) (radiometer
/// equation: R. H. Dicke, Rev. Sci. Instrum. 17, 268, 1946, from memory). For 2400 Hz and 10 s it reaches ±0.078 dB
/// at 95 %. Ours is made by resampling slices of a steady level, never narrower than that equation allows; wanted
/// is a median width of 0.7 to 1.5 times the exact one.
#[test]
fn the_interval_of_an_excess_is_about_as_wide_as_that_of_f() {
    let mut ratios: Vec<f64> = (1..=20)
        .map(|seed| {
            let measured = |seed| {
                let take = noise(seed, 10.0);
                Measurement::of_samples(take.rate_hz, &take.samples, &MeasureSettings::default())
            };
            let (off, on) = (measured(100 + seed), measured(200 + seed));
            // Within takes: that of takes which differ by nothing else.
            let scatter = TakeScatter { sd_db: 0.0, ..TakeScatter::default() };
            let settings = ContrastSettings { scatter, ..ContrastSettings::default() };
            let figures = contrast(&[&off], &[&on], &settings).figures.unwrap();
            let dof = 2.0 * figures.passband.width_hz() * 10.0;
            let reach = 10.0 * FisherSnedecor::new(dof, dof).unwrap().inverse_cdf(0.975).log10();
            let (low, high) = figures.excess_db().ci95;
            (high - low) / (2.0 * reach)
        })
        .collect();
    ratios.sort_by(f64::total_cmp);
    assert!((0.7..1.5).contains(&ratios[10]), "{ratios:?}");
    // Check value: derived, as above.
    let exact = FisherSnedecor::new(48_000.0, 48_000.0).unwrap().inverse_cdf(0.975);
    assert!((10.0 * exact.log10() - 0.078).abs() < 0.001);
}
