//! Checks of the spacing, its interval and its refusals against worked values.

use approx::assert_abs_diff_eq;

use super::drift::Point;
use super::evidence::Explained;
use super::finer::only_multiples;
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

/// Carriers `numbers` of a spacing over time, recorded one after another each three minutes.
fn told_of(numbers: &[f64], spacing: impl Fn(f64) -> f64) -> Answer {
    let at = |take: usize| 0.05 * take as f64;
    let carriers_hz: Vec<f64> = numbers.iter().enumerate().map(|(take, k)| k * spacing(at(take))).collect();
    let (carriers, mut listenings) = listened(&carriers_hz);
    listenings.iter_mut().enumerate().for_each(|(take, one)| one.at = at(take));
    find(&carriers, &listenings)
}

/// Numbers all over the dial, in no order.
const ANYWHERE: [f64; 12] = [652.0, 84.0, 331.0, 1111.0, 163.0, 840.0, 467.0, 166.0, 1300.0, 328.0, 977.0, 648.0];

/// Source: numpy.linalg.lstsq of f/e on the columns k/e and k·t/e, and the inverse of the normal matrix C for the
/// standard deviations; t₀ = −C₀₁/C₁₁, where both are uncorrelated. Tolerance: the last digit printed there.
#[test]
fn a_drifting_spacing_is_the_weighted_least_squares() {
    let numbers = [84, 163, 166, 328, 331, 467, 648, 652, 840, 977, 1111, 1300].map(f64::from);
    let hours = [0.0, 0.2, 0.45, 0.6, 0.9, 1.1, 1.3, 1.5, 1.75, 1.9, 2.2, 2.4];
    let carriers_hz = [
        1_784_162.1,
        3_471_896.6,
        3_548_250.7,
        7_025_761.9,
        7_119_807.8,
        10_073_194.0,
        14_016_239.4,
        14_141_881.5,
        18_282_597.2,
        21_308_373.1,
        24_330_898.3,
        28_548_000.9,
    ];
    let point = |i: usize| Point {
        number: numbers[i],
        at: hours[i],
        rf_hz: carriers_hz[i],
        error_hz: if i == 3 || i == 7 { 50.0 } else { 5.0 },
    };
    let points: Vec<Point> = (0..12).map(point).collect();
    let [at, spacing_hz, rate_hz, spacing_sd_hz, rate_sd_hz] = drift::regress(&points).unwrap();
    assert_abs_diff_eq!(at, 1.987_404_233, epsilon = 1e-8);
    assert_abs_diff_eq!(spacing_hz, 21_836.221_355_8, epsilon = 1e-6);
    assert_abs_diff_eq!(rate_hz, 300.000_209_3, epsilon = 1e-6);
    assert_abs_diff_eq!(spacing_sd_hz, 0.002_151_954, epsilon = 1e-8);
    assert_abs_diff_eq!(rate_sd_hz, 0.004_830_934, epsilon = 1e-8);
    assert_eq!(drift::regress(&points[..2]), None, "no degree of freedom is left");
    assert_eq!(drift::regress(&[points[0]; 5]), None, "all at one time");
}

/// Truth by construction: 21.6 kHz at first, rising by 0.3 kHz an hour; 0.55 h later the last carrier is recorded,
/// and number 650 stands at 650 · 21 765 Hz.
#[test]
fn an_even_drift_is_told_with_its_rate_and_the_next_places_go_with_it() {
    let told = told_of(&ANYWHERE, |at| 21_600.0 + 300.0 * at);
    let [family] = told.families.as_slice() else { panic!("{told:?}") };
    let drift = family.drift.expect("nothing keeps still");
    assert_abs_diff_eq!(drift.rate_hz, 300.0, epsilon = drift.half_hz);
    assert!(drift.half_hz < 1.0, "{drift:?}");
    let (low, high) = family.spacing_ci_hz;
    assert!((low..=high).contains(&(21_600.0 + 300.0 * drift.at)) && high - low < 1.0, "{family:?}");
    for member in &family.members {
        assert_eq!(member.harmonic as f64, ANYWHERE[member.carrier]);
    }
    let next = predictions(family, &[(14_140_000.0, 14_150_000.0)]);
    let [next] = next.as_slice() else { panic!("{next:?}") };
    assert_eq!(next.harmonic, 650);
    assert_abs_diff_eq!(next.rf_hz, 650.0 * 21_765.0, epsilon = next.within_hz);
    assert!(next.within_hz < 300.0, "{next:?}");
}

/// Truth by construction: the same carriers in an order that nobody wrote down fit no spacing.
#[test]
fn without_times_no_drift_is_told() {
    let hz: Vec<f64> =
        ANYWHERE.iter().enumerate().map(|(take, k)| k * (21_600.0 + 300.0 * 0.05 * take as f64)).collect();
    assert!(told(&hz).families.is_empty());
}

/// Of a supply that keeps still no drift is told, though all takes have times.
#[test]
fn a_steady_spacing_has_no_drift() {
    let told = told_of(&ANYWHERE, |_| 21_600.0);
    let [family] = told.families.as_slice() else { panic!("{told:?}") };
    assert_eq!(family.drift, None);
    assert_abs_diff_eq!(family.spacing_hz, 21_600.0, epsilon = 0.01);
}

/// Truth by construction: a supply tuned through in one band while it falls by 0.2 % an hour: neighbours stand
/// 21 600 Hz apart less what number 330 falls by meanwhile, 330 · 2.16 Hz. That is no spacing, and none is named.
#[test]
fn carriers_of_one_band_one_after_another_name_no_spacing_if_a_drift_explains_them() {
    let numbers: Vec<f64> = (0..12).map(|m| 324.0 + f64::from(m)).collect();
    let told = told_of(&numbers, |at| 21_600.0 - 43.2 * at);
    let is_true = |f: &Family| (f.spacing_at(0.275) - 21_588.1).abs() < 5.0;
    assert!(told.families.iter().all(is_true), "{told:?}");
}

/// Truth by construction: 21.6 kHz, wandering to and fro by 40 Hz within the hours; two bands, up and down again.
/// The distances are alike, and the range holds the spacing.
#[test]
fn a_supply_that_wanders_is_told_by_its_neighbours() {
    let up = (0..9).map(f64::from);
    let numbers: Vec<f64> = up.clone().map(|m| 166.0 + m).chain(up.rev().map(|m| 90.0 + m)).collect();
    let told = told_of(&numbers, |at| 21_600.0 + 20.0 * (9.0 * at).sin() + 8.0 * (31.0 * at).cos());
    assert!(matches!(told.refusal, Some(Refusal::Chance { .. })), "{told:?}");
    let neighbours = told.neighbours.expect("distances are alike");
    let (low, high) = neighbours.apart_hz;
    assert!(20_000.0 < low && high < 23_000.0 && 2 * neighbours.pairs > neighbours.of, "{neighbours:?}");
    assert!(neighbours.chance < 0.001, "{neighbours:?}");
    if let Some((low, high)) = neighbours.spacing_hz {
        assert!((low..=high).contains(&21_600.0), "{neighbours:?}");
    }
}

/// Source: counting all ways to draw 4 of 11 places and 8 of 17 (itertools.combinations): 15 of 330 and 1 of 24 310
/// keep to the first 6 and 8.
#[test]
fn the_odds_of_only_multiples_are_counted() {
    assert_abs_diff_eq!(only_multiples(6, 11, 4), 15.0 / 330.0, epsilon = 1e-12);
    assert_abs_diff_eq!(only_multiples(8, 17, 8), 1.0 / 24_310.0, epsilon = 1e-12);
    assert_abs_diff_eq!(only_multiples(8, 8, 8), 1.0, epsilon = 1e-12);
}

/// Derived: tuned by ear, each of eight carriers might have been odd: about 1 in 2⁸ for half, 1 in 3⁸ for a third.
#[test]
fn half_of_the_spacing_has_its_odds() {
    let told = told(&CARRIERS_HZ);
    let [family] = told.families.as_slice() else { panic!("{told:?}") };
    let chances: Vec<f64> = family.finer.iter().map(|part| part.chance).collect();
    assert!(chances[0] > 1.0 / 300.0 && chances[0] < 1.0 / 250.0, "{chances:?}");
    assert!(chances[1] > 1.0 / 8_000.0 && chances[1] < 1.0 / 6_000.0, "{chances:?}");
}

/// Truth by construction: dials at each 50 kHz can't hear the odd multiples of 25 kHz and a bit, so half of the
/// spacing that fits is as likely: it is named as well, not the one alone.
#[test]
fn a_plan_of_dials_that_passes_every_other_harmonic_by_names_both() {
    let carriers_hz: Vec<f64> = (0..10).map(|k| 50_004.0 * f64::from(140 + k)).collect();
    let (carriers, mut listenings) = listened(&carriers_hz);
    for (one, hz) in listenings.iter_mut().zip(&carriers_hz) {
        one.dial_hz = (hz / 50_000.0).floor() * 50_000.0;
        one.heard_hz = vec![(one.dial_hz + 300.0, one.dial_hz + 2_700.0)];
    }
    let told = find(&carriers, &listenings);
    let Some(Refusal::Ambiguous { candidates, .. }) = &told.refusal else { panic!("{told:?}") };
    assert_abs_diff_eq!(candidates[0].0, 50_004.0, epsilon = 1.0);
    assert!(candidates.iter().any(|c| (c.0 - 25_002.0).abs() < 1.0), "{candidates:?}");
}
