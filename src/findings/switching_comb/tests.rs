//! Checks of the spacing, its interval and its refusals against worked values.

use approx::assert_abs_diff_eq;

use super::evidence::Explained;
use super::fitting::{Places, choices};
use super::search::Field;
use super::*;

/// Source: worked regression, derived independently with a statistics package: spacing 64 321 Hz, harmonic numbers
/// 55 … 331, residuals of a few Hz.
const CARRIERS_HZ: [f64; 8] =
    [3_537_657.1, 3_666_293.6, 3_730_618.7, 3_923_582.9, 7_010_986.8, 7_075_314.0, 14_021_977.4, 21_290_252.5];
const NUMBERS: [f64; 8] = [55.0, 57.0, 58.0, 61.0, 109.0, 110.0, 218.0, 331.0];

/// A window of 300 to 2700 Hz in USB around each carrier, dials in steps of 10 Hz.
fn listened(carriers_hz: &[f64]) -> (Vec<Carrier>, Vec<Listening>) {
    let listenings = carriers_hz.iter().map(|hz| {
        let dial_hz = ((hz - 1_000.0) / 10.0).round() * 10.0;
        Listening { dial_hz, half_step_hz: 5.0, heard_hz: vec![(dial_hz + 300.0, dial_hz + 2_700.0)], at: 0.0 }
    });
    let carriers = carriers_hz.iter().enumerate().map(|(listening, &hz)| Carrier {
        listening,
        places_hz: vec![hz],
        mirrored_hz: Some(hz - 2_000.0),
    });
    (carriers.collect(), listenings.collect())
}

fn told(carriers_hz: &[f64]) -> Answer {
    let (carriers, listenings) = listened(carriers_hz);
    find(&carriers, &listenings)
}

/// Source: worked values, derived with numpy and scipy.stats (Student's t). Tolerance: their last digit.
#[test]
fn regression_gives_the_worked_values() {
    let points: Vec<_> = NUMBERS.iter().zip(CARRIERS_HZ).map(|(k, f)| (*k, f, 15.0)).collect();
    let zero = regress(&points, Through::Zero).unwrap();
    assert_abs_diff_eq!(zero.spacing_hz, 64_321.003_31, epsilon = 1e-4);
    assert_abs_diff_eq!(zero.spacing_sd_hz, 0.005_514, epsilon = 1e-5);
    assert_abs_diff_eq!(zero.residual_sd_hz, 2.431_5, epsilon = 1e-4);
    assert_abs_diff_eq!(zero.spacing_hz - zero.t95 * zero.spacing_sd_hz, 64_320.990_27, epsilon = 1e-4);
    assert_abs_diff_eq!(zero.residuals_hz[0], 1.917_79, epsilon = 1e-4);
    let free = regress(&points, Through::Offset).unwrap();
    assert_abs_diff_eq!(free.spacing_hz, 64_321.002_08, epsilon = 1e-4);
    assert_abs_diff_eq!(free.offset_hz, 0.240_84, epsilon = 1e-4);
    assert_abs_diff_eq!(free.offset_sd_hz, 1.548_00, epsilon = 1e-4);
    assert_abs_diff_eq!(free.t95, 2.446_91, epsilon = 1e-4);
}

#[test]
fn regression_needs_a_degree_of_freedom_and_different_numbers() {
    assert_eq!(regress(&[], Through::Zero), None);
    assert_eq!(regress(&[(1.0, 5.0, 1.0)], Through::Zero), None);
    assert_eq!(regress(&[(1.0, 5.0, 1.0), (2.0, 10.0, 1.0)], Through::Offset), None);
    assert_eq!(regress(&[(2.0, 5.0, 1.0); 3], Through::Offset), None);
}

/// Source: the same worked values; 17 121 000 Hz is 11 614 Hz from the nearest multiple.
#[test]
fn the_worked_carriers_are_explained_by_the_largest_spacing_and_the_stray_one_is_outside() {
    let mut carriers = CARRIERS_HZ.to_vec();
    carriers.push(17_121_000.0);
    let told = told(&carriers);
    let [family] = told.families.as_slice() else { panic!("{told:?}") };
    assert_abs_diff_eq!(family.spacing_hz, 64_321.003_31, epsilon = 1e-3);
    let (low, high) = family.spacing_ci_hz;
    assert!(low < 64_321.0 && high > 64_321.0 && high - low < 0.3, "{low} {high}");
    let numbers: Vec<f64> = family.members.iter().map(|m| m.harmonic as f64).collect();
    assert_eq!(numbers, NUMBERS);
    assert_eq!(family.outsiders, [8]);
    assert!(matches!(family.offset, Offset::Harmonics { free_hz, .. } if free_hz.abs() < 2.0), "{family:?}");
}

/// Source: the same: two carriers fit 128 636.5, 64 318.25 … Hz alike.
#[test]
fn two_or_three_carriers_are_no_family() {
    assert_eq!(told(&CARRIERS_HZ[..2]).refusal, Some(Refusal::TooFew { carriers: 2 }));
    assert_eq!(told(&CARRIERS_HZ[..3]).refusal, Some(Refusal::TooFew { carriers: 3 }));
    assert_eq!(told(&[]), Answer::default());
}

/// Source: definition of a density; the parabola's variance is a fifth of its half width squared, the uniform one's
/// a third (handbook; derived).
#[test]
fn errors_have_a_density_of_their_standard_deviation() {
    let (carriers, listenings) = listened(&CARRIERS_HZ);
    for error in choices(&carriers, &listenings).iter().map(|errors| errors[7]) {
        let steps = (-10_000..=10_000).map(|i| f64::from(i) / 10_000.0 * error.reach_hz());
        let width_hz = error.reach_hz() / 10_000.0;
        let moment =
            |power: i32| steps.clone().map(|hz| hz.powi(power) * error.density(hz) * width_hz).sum::<f64>();
        assert_abs_diff_eq!(moment(0), 1.0, epsilon = 1e-6);
        assert_abs_diff_eq!(moment(2).sqrt() / error.sd_hz(), 1.0, epsilon = 1e-4);
    }
}

/// Source: derived: n carriers that are all members, with great odds r each, average to rⁿ/(n + 1) over the share,
/// and r is in proportion to the spacing.
#[test]
fn a_submultiple_has_less_evidence_by_its_number_to_the_power_of_the_members() {
    let (carriers, listenings) = listened(&CARRIERS_HZ);
    let field = Field { carriers: &carriers, listenings: &listenings, choices: choices(&carriers, &listenings) };
    let ln_evidence = |by: f64| {
        let places = Places { spacing_hz: 64_321.0 / by, origin_hz: 0.0, through: Through::Zero };
        Explained::new(&field, places, 0).expect("all fit").ln_evidence
    };
    for by in [2.0, 3.0] {
        assert_abs_diff_eq!(ln_evidence(1.0) - ln_evidence(by), 8.0 * by.ln(), epsilon = 0.05);
    }
}

/// Truth by construction: multiples of 31 250 Hz heard at dials labelled in whole kHz, which are wrong by up to
/// half of that, among four carriers from elsewhere.
#[test]
fn a_dial_in_whole_khz_will_do_for_a_dozen_carriers() {
    let members = [61, 83, 112, 127, 226, 230, 345, 451, 454, 571, 682, 901].map(|k| f64::from(k) * 31_250.0);
    let heard: Vec<f64> =
        members.into_iter().chain([2_410_870.0, 9_333_330.0, 12_345_670.0, 24_901_540.0]).collect();
    let (mut carriers, mut listenings) = listened(&heard);
    for (i, (carrier, listening)) in carriers.iter_mut().zip(&mut listenings).enumerate() {
        // Dials anywhere: the fractional parts of multiples of the golden section are evenly spread.
        let dial_hz = heard[i] - 400.0 - 2_000.0 * (i as f64 * 0.618_034).fract();
        listening.dial_hz = (dial_hz / 1000.0).round() * 1000.0;
        listening.half_step_hz = 500.0;
        listening.heard_hz = vec![(listening.dial_hz + 300.0, listening.dial_hz + 2_700.0)];
        carrier.places_hz = vec![listening.dial_hz + heard[i] - dial_hz];
    }
    let told = find(&carriers, &listenings);
    let [family] = told.families.as_slice() else { panic!("{told:?}") };
    let (low, high) = family.spacing_ci_hz;
    assert!(low < 31_250.0 && high > 31_250.0 && high - low < 2.0, "{low} {high}");
    assert_eq!(family.outsiders, [12, 13, 14, 15]);
}

/// Common practice: a supply heard each 21.5 kHz from 10 to 30 MHz.
#[test]
fn carriers_each_21_5_khz_are_found_from_a_dozen_of_them() {
    let numbers = [466, 479, 512, 555, 601, 650, 655, 777, 842, 903, 1111, 1394];
    let told = told(&numbers.map(|k| f64::from(k) * 21_500.0));
    let [family] = told.families.as_slice() else { panic!("{told:?}") };
    assert_abs_diff_eq!(family.spacing_hz, 21_500.0, epsilon = 0.01);
    assert_eq!(family.members.len(), 12);
    // Source: counting: multiples of 21.5 kHz from 14.0 to 14.35 MHz are 652 (14 018 kHz) to 667 (14 340.5 kHz).
    let predicted = predictions(family, &[(14_000_000.0, 14_350_000.0)]);
    let numbers: Vec<i64> = predicted.iter().map(|p| p.harmonic).collect();
    assert_eq!(numbers, [652, 653, 654].into_iter().chain(656..=667).collect::<Vec<_>>());
    assert_abs_diff_eq!(predicted[0].rf_hz, 14_018_000.0, epsilon = 5.0);
}

/// Five harmonics that happen to be even: the doubled spacing fits as well as it can, and half of it can't be
/// excluded.
#[test]
fn a_few_even_harmonics_name_both_spacings_and_where_to_listen() {
    let told = told(&[50, 68, 94, 166, 232].map(|k| f64::from(k) * 43_000.0));
    let Some(Refusal::Ambiguous { candidates, telling }) = &told.refusal else { panic!("{told:?}") };
    assert_abs_diff_eq!(candidates[0].0, 86_000.0, epsilon = 1.0);
    assert_abs_diff_eq!(candidates[1].0, 43_000.0, epsilon = 1.0);
    assert!(candidates[0].1 > 0.9 && candidates[1].1 > 0.01, "{candidates:?}");
    let place = telling.expect("odd multiples tell");
    assert_abs_diff_eq!((place.rf_hz / 43_000.0).rem_euclid(2.0), 1.0, epsilon = 0.01);
}

/// A supply's harmonics mixed with a carrier 7.3 kHz above: an offset, no harmonics.
#[test]
fn sidebands_beside_the_multiples_are_told_with_their_offset() {
    let told = told(&[55, 57, 58, 61, 109, 110, 218, 331, 340].map(|k| f64::from(k) * 64_321.0 + 7_300.0));
    let [family] = told.families.as_slice() else { panic!("{told:?}") };
    assert_abs_diff_eq!(family.spacing_hz, 64_321.0, epsilon = 0.1);
    assert!(matches!(family.offset, Offset::Beside { offset_hz, .. } if (offset_hz - 7_300.0).abs() < 20.0));
}

/// In AM a tone stands for a carrier above or below the dial: the true one is found.
#[test]
fn either_side_of_an_am_dial_will_do() {
    let (mut carriers, listenings) = listened(&CARRIERS_HZ);
    for (carrier, listening) in carriers.iter_mut().zip(&listenings) {
        let hz = carrier.places_hz[0];
        carrier.places_hz = vec![2.0 * listening.dial_hz - hz, hz];
    }
    let told = find(&carriers, &listenings);
    let [family] = told.families.as_slice() else { panic!("{told:?}") };
    assert_abs_diff_eq!(family.spacing_hz, 64_321.0, epsilon = 0.1);
    assert!(family.members.iter().zip(CARRIERS_HZ).all(|(m, hz)| m.rf_hz == hz));
}

/// A dial labelled LSB that was USB: the tone lands twice its pitch too low.
#[test]
fn a_wrong_sideband_is_an_outsider_that_would_fit_the_other_way() {
    let (mut carriers, listenings) = listened(&CARRIERS_HZ);
    let right = carriers[2].places_hz[0];
    carriers[2].places_hz = vec![2.0 * listenings[2].dial_hz - right];
    carriers[2].mirrored_hz = Some(right);
    let told = find(&carriers, &listenings);
    let [family] = told.families.as_slice() else { panic!("{told:?}") };
    assert_eq!(
        (family.outsiders.as_slice(), family.other_sideband.as_slice()),
        ([2].as_slice(), [(2, 58)].as_slice())
    );
}

#[test]
fn odd_input_is_left_aside() {
    let (mut carriers, listenings) = listened(&CARRIERS_HZ);
    carriers.push(Carrier { listening: 99, places_hz: vec![1e6], mirrored_hz: None });
    carriers.push(Carrier { listening: 0, places_hz: vec![f64::NAN], mirrored_hz: None });
    carriers.push(Carrier { listening: 0, places_hz: vec![], mirrored_hz: None });
    assert_eq!(find(&carriers, &listenings).families.len(), 1);
    let same = vec![carriers[0].clone(); 12];
    assert!(find(&same, &listenings).families.is_empty(), "one place twelve times tells nothing");
}
