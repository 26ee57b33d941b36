use approx::assert_abs_diff_eq;

use super::*;
use crate::contrast::known_noise::Compared;

fn carrier(hz: f64, relative_db: f64) -> CarrierTrait {
    CarrierTrait { hz, relative_db, drift_hz_per_s: 0.0, moved_hz: 0.0 }
}

fn carriers_only(carriers: Vec<CarrierTrait>) -> Signature {
    Signature { carriers_share: 1.0, carriers, ..Signature::default() }
}

/// Hash of a density over frequency, as exactly known as 1 %.
fn hash(density: impl Fn(f64) -> f64) -> Signature {
    let points: Vec<(f64, f64)> =
        (0..24).map(|i| 350.0 + 100.0 * f64::from(i)).map(|hz| (hz, density(hz))).collect();
    let mean = points.iter().map(|p| p.1).sum::<f64>() / 24.0;
    let shape = points.into_iter().map(|(hz, v)| Point { hz, relative: v / mean, sd: 0.01 }).collect();
    Signature { kind: "hash".to_owned(), noise_share: 1.0, shape, ..Signature::default() }
}

fn value(now: &Signature, known: &Signature) -> f64 {
    resemblance(now, known).unwrap().value
}

/// Cosine of the angle between two spectra taken as vectors of amplitudes (the spectral angle of F. A. Kruse et
/// al., Remote Sens. Environ. 44, 145–163, 1993; from memory). Of two equal carriers each, one shared: 1/2; of 3 :
/// 4 against 4 : 3 in amplitude at the same places: 24/25.
#[test]
fn carriers_are_held_against_each_other_as_vectors() {
    let shared = |a: Vec<CarrierTrait>, b: Vec<CarrierTrait>| {
        let found = resemblance(&carriers_only(a), &carriers_only(b)).unwrap();
        match found.compared.as_slice() {
            [Compared::Carriers { shared }] => *shared,
            other => panic!("{other:?}"),
        }
    };
    let half =
        shared(vec![carrier(700.0, 0.0), carrier(1100.0, 0.0)], vec![carrier(700.0, 0.0), carrier(1900.0, 0.0)]);
    assert_abs_diff_eq!(half, 0.5, epsilon = 1e-9);
    let db = 20.0 * (3f64 / 4.0).log10();
    let swapped =
        shared(vec![carrier(700.0, db), carrier(1100.0, 0.0)], vec![carrier(700.0, 0.0), carrier(1100.0, db)]);
    assert_abs_diff_eq!(swapped, 24.0 / 25.0, epsilon = 1e-9);
}

/// The strength is no trait: both shapes are relative to their own mean. A slope of 3 dB/kHz against none is
/// another noise, a difference of half a dB is none.
#[test]
fn shapes_tell_and_strengths_do_not() {
    let flat = hash(|_| 1.0);
    assert_abs_diff_eq!(value(&flat, &hash(|_| 37.0)), 1.0, epsilon = 1e-6);
    let slope = |db_per_khz: f64| hash(move |hz| 10f64.powf(db_per_khz * hz / 10_000.0));
    assert!(value(&flat, &slope(3.0)) < judge::NAMED_FROM / 2.0, "{}", value(&flat, &slope(3.0)));
    assert!(value(&flat, &slope(0.4)) > 0.8, "{}", value(&flat, &slope(0.4)));
}

/// Noise gated for the share d of each period has lines at 2·sin(πmd)/(πmd) of its mean: 1.87 at d = 0.2, 1.27 at
/// 0.5 (Fourier series of a rectangular pulse train, any handbook).
#[test]
fn depths_of_pulsing_tell_duty_cycles_apart() {
    let gated = |duty: f64| {
        let depth = |m: f64| {
            let x = std::f64::consts::PI * m * duty;
            (2.0 * x.sin() / x).abs()
        };
        let pulsing = (1..=5).map(|m| Pulsing { hz: 100.0 * f64::from(m), depth: depth(f64::from(m)), sd: 0.05 });
        Signature { pulsing: pulsing.collect(), ..hash(|_| 1.0) }
    };
    assert!(value(&gated(0.2), &gated(0.5)) < 0.01);
    assert!(value(&gated(0.2), &gated(0.21)) > 0.7);
    assert!(value(&gated(0.3), &hash(|_| 1.0)) > 0.99, "without its pulsing known, the shape is all there is");
}

#[test]
fn at_another_dial_frequency_shape_and_places_say_nothing() {
    let at = |dial_khz: f64, one: Signature| Signature { dial_khz: Some(dial_khz), ..one };
    assert_eq!(resemblance(&at(7100.0, hash(|_| 1.0)), &at(14_200.0, hash(|_| 1.0))), None);
    let comb = |dial_khz: f64, offset: f64, spacing_hz: f64| Signature {
        comb_spacing_hz: Some(spacing_hz),
        ..at(dial_khz, carriers_only((0..6).map(|k| carrier(offset + f64::from(k) * spacing_hz, 0.0)).collect()))
    };
    let here = value(&comb(7100.0, 400.0, 312.5), &comb(7100.0, 400.0, 312.5));
    let elsewhere = value(&comb(7100.0, 400.0, 312.5), &comb(7120.0, 470.0, 312.5));
    assert!(here > 0.99 && elsewhere > 0.5 && elsewhere < 0.8, "{here} {elsewhere}");
    assert!(value(&comb(7100.0, 400.0, 312.5), &comb(7120.0, 470.0, 301.0)) < 0.01);
}

#[test]
fn what_two_known_noises_fit_as_well_is_either() {
    let known =
        [vec![hash(|_| 1.0)], vec![hash(|hz| 1.0 + hz / 40_000.0)], vec![carriers_only(vec![carrier(900.0, 0.0)])]];
    let Resembles::Either(both) = resembling(&hash(|_| 1.0), &known) else { panic!("not told apart") };
    assert_eq!(both.iter().map(|one| one.known).collect::<Vec<_>>(), [0, 1]);
    let Resembles::One(one) = resembling(&carriers_only(vec![carrier(902.0, 0.0)]), &known) else { panic!("one") };
    assert_eq!(one.known, 2);
    assert!(matches!(resembling(&carriers_only(vec![carrier(1400.0, 0.0)]), &known), Resembles::None(Some(_))));
    assert!(matches!(resembling(&hash(|_| 1.0), &[]), Resembles::None(None)));
}

#[test]
fn a_signature_comes_back_from_its_file_as_it_was() {
    let one = Signature { clicks: Some(Clicks { per_s: 3.5, count: 70, irregularity: 0.98 }), ..hash(|hz| hz) };
    let text = toml::to_string(&one).unwrap();
    assert_eq!(toml::from_str::<Signature>(&text).unwrap(), one);
}
