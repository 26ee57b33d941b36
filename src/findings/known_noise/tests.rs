use approx::assert_abs_diff_eq;

use super::*;
use crate::contrast::known_noise::Compared;
use crate::contrast::{ContrastSettings, contrast};
use crate::demo::synth::{Carrier, Carriers, Hash, Receiver, Scene};
use crate::signal::measure::{MeasureSettings, Measurement};
use crate::units::{Db, Dbfs};

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
    let random = Clicks { period_s: None, period_ci_s: None, ..beat(0.2857) };
    for clicks in [random, beat(1.2)] {
        let one = Signature { clicks: Some(clicks), ..hash(|hz| hz) };
        let text = toml::to_string(&one).unwrap();
        assert_eq!(toml::from_str::<Signature>(&text).unwrap(), one);
    }
    let rounded = Signature { clicks: Some(beat(1.2)), ..Signature::default() }.rounded();
    assert!(rounded.is_sane(), "an interval below a tenth of a millisecond is none of 0: {rounded:?}");
}

/// Clicks every so many seconds, known to 0.03 ms.
fn beat(period_s: f64) -> Clicks {
    let per_s = 1.0 / period_s;
    Clicks { per_s, count: 40, irregularity: 0.0, period_s: Some(period_s), period_ci_s: Some(3e-5) }
}

/// By construction: beats of 1.2 and 1.3 s are two devices', whose rates alone are too near to tell; 1 % is what
/// an oscillator of resistors and capacitors moves between days (common practice, as the rule has it).
#[test]
fn beats_are_told_apart_by_their_periods() {
    let clicks = |clicks: Clicks| Signature { clicks_share: 1.0, clicks: Some(clicks), ..Signature::default() };
    let pump = clicks(beat(1.2));
    assert!(value(&clicks(beat(1.3)), &pump) < 0.01, "{}", value(&clicks(beat(1.3)), &pump));
    assert!(value(&clicks(beat(1.212)), &pump) > 0.8, "{}", value(&clicks(beat(1.212)), &pump));
    // A file of an earlier version has the rate only.
    let earlier: Clicks = toml::from_str("per_s = 0.8333\ncount = 16\nirregularity = 0.0").unwrap();
    let found = resemblance(&clicks(beat(1.3)), &clicks(earlier)).unwrap();
    assert!(found.value > 0.9 && matches!(found.compared[..], [Compared::Clicks { .. }]), "{found:?}");
}

/// A buzz over 2300 Hz, whose carrier has a ninth of its noise's power: 10·lg(2300/9) = 24.1 dB-Hz over it.
fn lamp(carriers: Vec<CarrierTrait>, total_excess_db: f64) -> Signature {
    let carriers_share = if carriers.is_empty() { 0.0 } else { 0.1 };
    let noise_share = 1.0 - carriers_share;
    Signature { dial_khz: Some(7100.0), total_excess_db, noise_share, carriers_share, carriers, ..hash(|_| 1.0) }
}

/// By construction: 6 dB of that buzz leave the carrier 22.7 dB-Hz over noise and band, 1 dB 16.9 dB-Hz, where it
/// may as well have been missed.
#[test]
fn a_carrier_that_would_have_been_heard_speaks_against_it_both_ways() {
    let known = lamp(vec![carrier(900.0, 0.0)], 6.0);
    let said = |now: &Signature| resemblance(now, &known).unwrap();
    let gone = Compared::CarriersGone { count: 1, known_hz: 900.0 };
    let charger = said(&lamp(vec![], 5.5));
    assert!(charger.value < judge::NAMED_FROM && charger.compared.contains(&gone), "{charger:?}");
    let router = said(&lamp(vec![carrier(2100.0, 0.0)], 5.5));
    let new = Compared::CarriersNew { count: 1, hz: 2100.0 };
    assert!(router.value < judge::NAMED_FROM && router.compared.ends_with(&[gone, new]), "{router:?}");
    assert_eq!(resemblance(&known, &lamp(vec![], 5.5)).unwrap().value, charger.value, "the same both ways");
    let silent = [lamp(vec![], 1.0), lamp(vec![carrier(930.0, 0.0)], 5.5)];
    for now in silent {
        assert!(said(&now).value > 0.9, "too weak to be heard, or where a quartz may stand: {:?}", said(&now));
    }
    let elsewhere = Signature { dial_khz: Some(7105.0), ..lamp(vec![], 5.5) };
    assert_eq!(resemblance(&elsewhere, &known), None);
}

/// Hash that lifts 2400 Hz of a band by 6 dB (by 2.98 of its power), with a carrier that alone would lift it by 0.95
/// dB (by 0.24): 10·lg(0.24·2400/3.98) = 21.7 dB-Hz over noise and band, and 0.24/3.22, less than a tenth, of the power.
fn box_with(carrier_hz: f64, seed: u64) -> Signature {
    let quiet = Scene::new(Receiver::ssb(8000)).band_noise(Dbfs(-45.0));
    let device = quiet.clone().device(Hash::flat(), Db(6.0));
    let noisy = device.device(Carriers::new([Carrier::at(carrier_hz)]), Db(0.95));
    let measured = |scene: &Scene, seed: u64| {
        let take = scene.clone().seed(seed).render(20.0);
        Measurement::of_samples(take.rate_hz, &take.samples, &MeasureSettings::default())
    };
    let off = [0, 1].map(|take| measured(&quiet, seed + take));
    let on = [2, 3].map(|take| measured(&noisy, seed + take));
    let (off, on) = (off.each_ref(), on.each_ref());
    let figures = contrast(&off, &on, &ContrastSettings::default()).figures.unwrap();
    assert_eq!(figures.verdict.character, Character::Hash, "{:?}", figures.verdict.parts);
    Signature { dial_khz: Some(7100.0), ..Signature::of(&figures).unwrap() }.rounded()
}

/// By construction: a box whose carrier is too weak beside its hash to be named in the verdict; the same box heard
/// again; and another box, whose carrier stands elsewhere.
#[test]
fn hash_with_another_carrier_is_another_device() {
    let known = box_with(1234.5, 1);
    assert_eq!((known.carriers.len(), known.carriers[0].moved_hz), (1, 0.0), "{:?}", known.carriers);
    assert!((known.carriers_share - 0.24 / 3.22).abs() < 0.02, "{}", known.carriers_share);
    let again = resemblance(&box_with(1234.5, 11), &known).unwrap();
    assert!(again.value > 0.6, "{again:?}");
    let other = resemblance(&box_with(2000.0, 21), &known).unwrap();
    let is_named = |of: fn(&Compared) -> bool| other.compared.iter().any(of);
    assert!(other.value < judge::NAMED_FROM, "{other:?}");
    assert!(is_named(|what| matches!(what, Compared::CarriersGone { count: 1, .. })), "{other:?}");
    assert!(is_named(|what| matches!(what, Compared::CarriersNew { count: 1, .. })), "{other:?}");
}

/// By construction: the box on a quiet supply keeps its carrier and loses its hash. That is no device's likeness, but
/// the carrier stands where it stood; at another dial, or 40 Hz off, it tells nothing.
#[test]
fn a_carrier_alone_is_told_where_a_known_one_stood() {
    let known = lamp(vec![carrier(1234.5, 0.0)], 4.0);
    let alone = |hz: f64| Signature { dial_khz: Some(7100.0), ..carriers_only(vec![carrier(hz, 0.0)]) };
    assert_eq!(carriers::stands_where(&alone(1235.5), &known), Some(1235.5));
    assert_eq!(carriers::stands_where(&alone(1275.0), &known), None);
    let elsewhere = Signature { dial_khz: Some(7101.0), ..alone(1234.5) };
    assert_eq!(carriers::stands_where(&elsewhere, &known), None);
}

/// By construction: the supply that moved by 40 Hz within a recording may be anywhere on another day.
#[test]
fn a_carrier_that_wanders_is_no_proof_wherever_it_is() {
    let wandering = CarrierTrait { moved_hz: 40.0, drift_hz_per_s: 1.5, ..carrier(900.0, 0.0) };
    let known = lamp(vec![wandering], 6.0);
    for now in [vec![], vec![CarrierTrait { hz: 2100.0, ..wandering }]] {
        let found = resemblance(&lamp(now, 5.5), &known).unwrap();
        assert!(found.value > judge::NAMED_FROM && found.value < 0.7, "{found:?}");
        assert!(found.compared.iter().any(|one| matches!(one, Compared::CarriersGone { .. })), "{found:?}");
    }
}
