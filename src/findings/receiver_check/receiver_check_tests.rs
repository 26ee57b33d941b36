use approx::assert_abs_diff_eq;

use super::*;

fn sure(value: f64) -> Estimate {
    Estimate { value, ci95: (value - 0.1, value + 0.1) }
}

fn db(ratio: f64) -> f64 {
    10.0 * ratio.log10()
}

/// Source: H. T. Friis, Proc. IRE 32, 419-422, 1944 (from memory): of two networks in a row the noise factor is
/// F1 + (F2 - 1)/G1, that of an attenuator at 290 K its loss; output noise is G k (Ta + (F - 1) T0). Antennas from
/// 6000 K to 6 million K are noise figures of 13 to 43 dB over 290 K, as ITU-R P.372 has them on short wave.
#[test]
fn steps_follow_the_cascade_of_friis() {
    const T0: f64 = 290.0;
    for antenna_k in [6e3, 6e4, 6e5, 6e6] {
        for receiver_nf_db in [3.0, 10.0, 20.0] {
            for attenuator_db in [3.0, 10.0, 20.0] {
                let (loss, factor) = (10f64.powf(attenuator_db / 10.0), 10f64.powf(receiver_nf_db / 10.0));
                let cascade = loss + (factor - 1.0) * loss;
                let out = antenna_k + (factor - 1.0) * T0;
                let in_ = (antenna_k + (cascade - 1.0) * T0) / loss;
                let dummy_load = T0 + (factor - 1.0) * T0;
                let foretold = step_db(attenuator_db, dummy_load / out);
                assert_abs_diff_eq!(foretold, db(out / in_), epsilon = 1e-9);
                assert_abs_diff_eq!(own_share(attenuator_db, foretold), dummy_load / out, epsilon = 1e-9);
            }
        }
    }
}

/// Two equal powers add to 3.01 dB: far down the attenuator leaves the receiver alone. And what it takes away then
/// is what a background correction takes off (ISO 3744:2010, 8.2.3, from memory; 1.26 dB at 6 dB, 0.46 dB at 10
/// dB).
#[test]
fn a_large_attenuator_leaves_the_receiver_alone() {
    assert_abs_diff_eq!(step_db(60.0, 0.5), 3.010, epsilon = 0.001);
    for (below_db, correction_db) in [(6.0, 1.256), (10.0, 0.458)] {
        assert_abs_diff_eq!(step_db(80.0, share_of(below_db)), below_db, epsilon = 0.001);
        // Of the power with the attenuator out, the antenna has all but the background's part.
        assert_abs_diff_eq!(-db(1.0 - share_of(below_db)), correction_db, epsilon = 0.001);
    }
    assert_abs_diff_eq!(step_db(10.0, 0.0), 10.0, epsilon = 1e-12);
    assert_abs_diff_eq!(step_db(10.0, 1.0), 0.0, epsilon = 1e-12);
}

/// Made from a known slope and a known share, both are found again.
#[test]
fn slope_and_own_noise_are_told_apart() {
    for truth in [0.1, 0.3, 0.7, 1.0, 1.5] {
        for below_db in [3.0, 8.0, 15.0, 25.0] {
            for attenuator_db in [6.0, 10.0, 20.0] {
                let step = truth * step_db(attenuator_db, share_of(below_db));
                let found = slope(attenuator_db, step, truth * below_db);
                assert_abs_diff_eq!(found, truth, epsilon = 1e-6);
            }
        }
    }
}

#[test]
fn a_linear_receiver_is_told_from_an_agc() {
    // Receiver noise 10 dB down: the step of a 10 dB attenuator is only 7.2 dB, and rightly so: -10 lg(0.9/10 +
    // 0.1).
    let step = step_db(10.0, share_of(10.0));
    assert_abs_diff_eq!(step, 7.212, epsilon = 0.001);
    let linear = judge(10.0, sure(step), Some(sure(10.0)));
    assert_eq!(linear.response, Response::Follows);
    assert_abs_diff_eq!(linear.slope.unwrap().value, 1.0, epsilon = 1e-6);
    assert_abs_diff_eq!(linear.own_by_step_db.0.unwrap(), 10.0, epsilon = 1e-6);
    // The same step where the dummy load is 25 dB quieter is an AGC's.
    let agc = judge(10.0, sure(step), Some(sure(25.0)));
    assert_eq!(agc.response, Response::Compressed);
    assert!(agc.slope.unwrap().ci95.1 < 0.8, "{agc:?}");
    // An AGC that holds everything level above its threshold.
    assert_eq!(judge(10.0, sure(0.1), Some(sure(12.0))).response, Response::Compressed);
    // Too large a step.
    assert_eq!(judge(10.0, sure(14.0), Some(sure(30.0))).response, Response::Expanded);
    // A step larger than the drop to the dummy load fits no slope.
    assert_eq!(judge(10.0, sure(8.0), Some(sure(6.0))).response, Response::Expanded);
}

#[test]
fn what_can_not_be_told_is_not_told() {
    let untold = |step: Estimate, drop: Option<Estimate>| match judge(10.0, step, drop).response {
        Response::Untold(why) => why,
        other => panic!("{other:?}"),
    };
    // A small step and no dummy load: the receiver's own noise or an AGC.
    assert_eq!(untold(sure(4.9), None), Untold::NoLoad);
    // A full step needs no dummy load.
    let full = judge(10.0, sure(9.9), None);
    assert_eq!(full.response, Response::Follows);
    assert!(full.own_by_step_db.0.is_none() && full.own_by_step_db.1.unwrap() > 10.0, "{full:?}");
    assert_eq!(judge(10.0, sure(12.0), None).response, Response::Expanded);
    // Nothing happens either way: no band, or a gain that levels all.
    assert_eq!(untold(sure(0.0), Some(sure(0.2))), Untold::BandTooWeak);
    assert_eq!(untold(sure(9.0), Some(sure(-3.0))), Untold::LoadLouder);
    let wide = Estimate { value: 9.0, ci95: (4.0, 14.0) };
    assert_eq!(untold(wide, None), Untold::Scatter);
    assert_eq!(untold(wide, Some(sure(20.0))), Untold::Scatter);
    // A band 1 dB above the receiver: the slope hardly changes the step. Nor does it well at 6 dB.
    assert_eq!(untold(sure(step_db(10.0, share_of(6.0))), Some(sure(6.0))), Untold::Scatter);
    assert_eq!(untold(sure(step_db(10.0, share_of(1.0))), Some(sure(1.0))), Untold::Scatter);
}
