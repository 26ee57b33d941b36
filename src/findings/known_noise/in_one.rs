//! How alike what stands in one recording is to a known noise. Without an off the strength of a part, its share of
//! the power and the shape of the noise are not known: only carriers and clicks can be held against it, and noise
//! that is a known one's most part tells nothing, as many devices pulse alike. What stands there beside it may be
//! others'.

use super::carriers::{carriers_z2, place_alike, power, spacing_apart};
use super::resemblance::{LEAST_WEIGHT, NEEDS_SHAPE, Resemblance, clicks_apart, same_place};
use super::{CarrierTrait, Clicks, Signature};
use crate::contrast::known_noise::Compared;
use crate::findings::description::Heard;
use crate::signal::measure::Measurement;

/// The distance, squared, of a part that the known noise has and the recording has not. Chosen: three times what
/// traits scatter, far from being named.
const ABSENT: f64 = 9.0;

/// What was heard, as a signature without shares and shape.
pub fn signature(heard: &Heard, sound: &Measurement, dial_khz: Option<f64>, mode: Option<String>) -> Signature {
    let lines = &heard.lines;
    let strongest = lines.carriers.iter().map(|found| found.line.power).fold(0.0, f64::max);
    let irregularity = sound.envelope.as_ref().and_then(|envelope| envelope.irregularity());
    Signature {
        dial_khz,
        mode,
        comb_spacing_hz: lines.comb.as_ref().map(|family| family.comb.spacing_hz),
        clicks: heard.clicks.as_ref().zip(irregularity).map(|(clicks, irregularity)| Clicks {
            per_s: clicks.rate_hz,
            count: (clicks.rate_hz * sound.duration_s).round() as usize,
            irregularity,
            period_s: clicks.beat.map(|beat| beat.period_s),
            period_ci_s: clicks.beat.map(|beat| beat.period_ci_s),
        }),
        carriers: lines
            .carriers
            .iter()
            .map(|found| CarrierTrait::of(&found.line, found.line.power / strongest))
            .collect(),
        ..Signature::default()
    }
}

/// How alike; `None` where nothing of the known noise can tell.
pub fn resemblance_in_one(now: &Signature, known: &Signature) -> Option<Resemblance> {
    if known.noise_share >= NEEDS_SHAPE {
        return None;
    }
    let (mut squared, mut compared) = (0.0, Vec::new());
    let mut add = |found: Option<(f64, Compared)>| match found {
        Some((z2, what)) => {
            squared += z2;
            compared.push(what);
        }
        None => squared += ABSENT,
    };
    let clicks = known.clicks_share >= LEAST_WEIGHT && known.clicks.is_some();
    if clicks {
        add(clicks_apart(now, known));
    }
    let placed = same_place(now, known) && !known.carriers.is_empty();
    let carriers = known.carriers_share >= LEAST_WEIGHT && (placed || known.comb_spacing_hz.is_some());
    if carriers {
        let shared = placed.then(|| shared_of_known(now, known)).filter(|shared| *shared > 0.0);
        let by_place = shared.map(|shared| (carriers_z2(shared), Compared::Carriers { shared }));
        add([by_place, spacing_apart(now, known)].into_iter().flatten().min_by(|a, b| a.0.total_cmp(&b.0)));
    }
    (clicks || carriers).then(|| Resemblance { value: (-0.5 * squared).exp(), compared })
}

/// Of the known carriers' strength, the part that has a counterpart, 0..1, at the ratio of strengths that fits
/// best: the cosine of the angle between the known amplitudes and those at their places.
fn shared_of_known(now: &Signature, known: &Signature) -> f64 {
    let nearest = |one: &CarrierTrait| {
        let alike = now.carriers.iter().map(|other| (place_alike(one, other), power(other)));
        alike.filter(|(alike, _)| *alike > 0.01).max_by(|a, b| a.0.total_cmp(&b.0))
    };
    let (mut product, mut there, mut all) = (0.0, 0.0, 0.0);
    for one in &known.carriers {
        let (alike, found) = nearest(one).unwrap_or_default();
        product += alike * (power(one) * found).sqrt();
        there += found;
        all += power(one);
    }
    if there > 0.0 { product / (there * all).sqrt() } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn carrier(hz: f64, relative_db: f64) -> CarrierTrait {
        CarrierTrait { hz, relative_db, drift_hz_per_s: 0.0, moved_hz: 0.0 }
    }

    fn known(carriers: &[(f64, f64)]) -> Signature {
        let carriers = carriers.iter().map(|&(hz, db)| carrier(hz, db)).collect();
        Signature { dial_khz: Some(7100.0), carriers_share: 1.0, carriers, ..Signature::default() }
    }

    /// By construction: a known noise of two carriers is heard beside a station's stronger one; at another dial
    /// nothing can tell; of one that is not there the resemblance is as good as none.
    #[test]
    fn a_known_noise_is_told_beside_others() {
        let lamp = known(&[(800.0, 0.0), (1450.0, -6.0)]);
        let heard = known(&[(1900.0, 0.0), (801.0, -20.0), (1449.0, -26.0)]);
        let here = resemblance_in_one(&heard, &lamp).unwrap();
        assert!(here.value > 0.8, "{here:?}");
        let elsewhere = Signature { dial_khz: Some(7200.0), ..heard.clone() };
        assert_eq!(resemblance_in_one(&elsewhere, &lamp), None);
        assert!(resemblance_in_one(&known(&[(1900.0, 0.0)]), &lamp).unwrap().value < 0.05);
    }

    /// By construction: noise that pulses like a known one may be any device's.
    #[test]
    fn noise_alone_tells_nothing() {
        let buzz = Signature { noise_share: 1.0, ..Signature::default() };
        assert_eq!(resemblance_in_one(&known(&[(800.0, 0.0)]), &buzz), None);
    }
}
