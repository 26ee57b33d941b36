//! How alike the carriers of two noises are: by the power at places both have, by the spacing of combs, and by
//! those that would have been heard and are not there.

use super::resemblance::{LEAST_WEIGHT, at, same_place};
use super::{CarrierTrait, Signature};
use crate::contrast::known_noise::Compared;
use crate::units::{in_db, ratio_of_db};

// How much a device's own carriers differ when it is heard again: our own choice, from simulated devices
// (`tests/findings/known.rs`, seed 1), as far as nothing else is said.

/// What is missing to 1 of the likeness of two sets of carriers. Chosen as said above, with seed 1.
const CARRIERS: f64 = 0.2;
/// How far a carrier may stand from where it stood, Hz: warm supplies and dials set by hand. Chosen as said above,
/// with seed 1.
const CARRIER_HZ: f64 = 5.0;
/// Difference of two drifts, Hz/s, and in parts of the faster one. Chosen as said above, with seed 1.
const DRIFT_HZ_PER_S: f64 = 0.5;
const DRIFT_SHARE: f64 = 0.3;
/// Difference of two spacings in parts of themselves. Chosen as said above, with seed 1.
const SPACING: f64 = 0.003;
/// A comb of the same spacing whose carriers stand elsewhere is less alike: its distance at least. Chosen as said
/// above, with seed 1.
const ELSEWHERE: f64 = 0.8;
/// A carrier is missed only where it would stand so much over the other's noise, dB-Hz. Bench: those of 20 dB-Hz
/// put on real bands are all found (`tests/validation/RESULTS.md`).
const MISSED_FROM_DB_HZ: f64 = 20.0;
/// Within this of its place a carrier is not gone, Hz. Common practice: a cheap quartz moves by a few parts in a
/// million from day to day (from memory), tens of hertz on short wave.
const STAYS_WITHIN_HZ: f64 = 60.0;
/// Distance where all of the carriers are missed, which stood still while they were recorded, as a quartz's do:
/// the device would have kept them where they were. Chosen: alone it keeps a known noise from being named, no
/// more, since a part of a device may be switched off.
const GONE: f64 = 2.0;
/// The same of those that wandered. Common practice: a free-running supply moves by parts in a thousand with
/// temperature and load (from memory), kilohertz on short wave, and out of the passband. Chosen: as traits usually
/// differ.
const WANDERED: f64 = 1.0;
/// A carrier that moves farther while it is recorded, or drifts faster, wanders. Chosen: a bin of the spectrum
/// (`contrast::added_lines`); a tenth of what warm supplies do (there: some tens of hertz in minutes).
const STANDS_HZ: f64 = 6.0;
const STANDS_HZ_PER_S: f64 = 0.02;

/// By their places where both were heard at one dial frequency, or by the spacing of combs.
pub(super) fn carriers_apart(now: &Signature, known: &Signature, here: bool) -> Option<(f64, Compared)> {
    let placed = (here && !now.carriers.is_empty() && !known.carriers.is_empty()).then(|| {
        let shared = shared_power(&now.carriers, &known.carriers);
        (carriers_z2(shared), Compared::Carriers { shared })
    });
    [placed, spacing_apart(now, known)].into_iter().flatten().min_by(|a, b| a.0.total_cmp(&b.0))
}

/// Squared distance of two sets of carriers that share so much.
pub(super) fn carriers_z2(shared: f64) -> f64 {
    ((1.0 - shared) / CARRIERS).powi(2)
}

pub(super) fn spacing_apart(now: &Signature, known: &Signature) -> Option<(f64, Compared)> {
    now.comb_spacing_hz.zip(known.comb_spacing_hz).map(|(hz, known_hz)| {
        let z = (hz / known_hz).ln() / SPACING;
        (z * z + ELSEWHERE.powi(2), Compared::Spacing { hz, known_hz })
    })
}

/// Carriers beside noise, however small their share: a strong carrier holds little of the power, and is well
/// known. Those that one has, and that would have been heard in the other, speak against it: squared distance, and
/// which. A family with its spacing in both may have moved as a whole: that is no evidence.
pub(super) fn carriers_beside(now: &Signature, known: &Signature) -> (f64, Vec<Compared>) {
    if spacing_apart(now, known).is_some() {
        return (0.0, Vec::new());
    }
    let (gone, new) = (missed(known, now), missed(now, known));
    let hz = |found: &Missed| (found.count, found.strongest_hz);
    let said = [
        gone.as_ref().map(hz).map(|(count, known_hz)| Compared::CarriersGone { count, known_hz }),
        new.as_ref().map(hz).map(|(count, hz)| Compared::CarriersNew { count, hz }),
    ];
    // One that moved is both gone and new: it counts once.
    let z2 = [&gone, &new].into_iter().flatten().map(|found| found.z2).fold(0.0, f64::max);
    (z2, said.into_iter().flatten().collect())
}

/// Carriers of one that another noise has not.
struct Missed {
    count: usize,
    strongest_hz: f64,
    z2: f64,
}

/// `None` where none is missed.
fn missed(one: &Signature, other: &Signature) -> Option<Missed> {
    // Carriers too many to tell apart have no places.
    let unplaced = other.carriers.is_empty() && other.carriers_share > 0.0;
    let heard: Vec<&CarrierTrait> = one.carriers.iter().filter(|c| would_be_heard(c, one, other)).collect();
    let is_there = |c: &CarrierTrait| {
        let reach = |d: &CarrierTrait| STAYS_WITHIN_HZ + c.moved_hz + d.moved_hz;
        other.carriers.iter().any(|d| (c.hz - d.hz).abs() <= reach(d))
    };
    let lost: Vec<&CarrierTrait> = heard.iter().copied().filter(|c| !unplaced && !is_there(c)).collect();
    let strongest = lost.iter().max_by(|a, b| a.relative_db.total_cmp(&b.relative_db))?;
    let cost = |c: &CarrierTrait| if stands(c) { GONE.powi(2) } else { WANDERED.powi(2) };
    let all: f64 = heard.iter().map(|c| power(c)).sum();
    let z2 = lost.iter().map(|c| power(c) * cost(c)).sum::<f64>() / all;
    Some(Missed { count: lost.len(), strongest_hz: strongest.hz, z2 })
}

fn stands(carrier: &CarrierTrait) -> bool {
    carrier.moved_hz <= STANDS_HZ && carrier.drift_hz_per_s.abs() <= STANDS_HZ_PER_S
}

/// Where the strongest carrier of one stands, if the known one's strongest stood there. Of the strongest alone: among
/// many carriers some meet by chance.
pub(super) fn stands_where(now: &Signature, known: &Signature) -> Option<f64> {
    let (a, b) = (strongest(now)?, strongest(known)?);
    let is_there = (a.hz - b.hz).abs() <= CARRIER_HZ && stands(a) && stands(b);
    (is_there && same_place(now, known)).then_some(a.hz)
}

fn strongest(one: &Signature) -> Option<&CarrierTrait> {
    one.carriers.iter().max_by(|a, b| a.relative_db.total_cmp(&b.relative_db))
}

/// Whether a carrier of one would be heard in another of the same noise. Both are measured by their noise:
/// carriers keep their ratio to it, as long as they come the same way.
fn would_be_heard(carrier: &CarrierTrait, one: &Signature, other: &Signature) -> bool {
    if one.noise_share.min(other.noise_share) < LEAST_WEIGHT {
        return false;
    }
    let all: f64 = one.carriers.iter().map(power).sum();
    let to_noise = one.carriers_share * power(carrier) / all / one.noise_share;
    // Outside the passband heard, there is no density.
    let Some(local) = at(&other.shape, carrier.hz) else { return false };
    let width_hz = other.shape.last().zip(other.shape.first()).map_or(0.0, |(last, first)| last.hz - first.hz);
    // In units of the band's own noise.
    let added = other.noise_share * (ratio_of_db(other.total_excess_db) - 1.0).max(0.0);
    let there = 1.0 + added * local.relative.max(1.0);
    in_db(to_noise * added * width_hz / there) >= MISSED_FROM_DB_HZ
}

/// Power of a carrier over that of the strongest.
pub(super) fn power(one: &CarrierTrait) -> f64 {
    ratio_of_db(one.relative_db)
}

/// Cosine of the angle between the two sets of amplitudes, each carrier beside the one that stands where it does:
/// 1 where all are the same, 0 where none is.
fn shared_power(a: &[CarrierTrait], b: &[CarrierTrait]) -> f64 {
    let total = |set: &[CarrierTrait]| set.iter().map(power).sum::<f64>();
    let mut met = vec![false; b.len()];
    let mut product = 0.0;
    for one in a {
        let near = (0..b.len())
            .filter(|&i| !met[i])
            .map(|i| (i, place_alike(one, &b[i])))
            .max_by(|x, y| x.1.total_cmp(&y.1))
            .filter(|(_, alike)| *alike > 0.01);
        if let Some((i, alike)) = near {
            met[i] = true;
            product += alike * (power(one) * power(&b[i])).sqrt();
        }
    }
    product / (total(a) * total(b)).sqrt()
}

/// exp(−z²/2) of two carriers' places and drifts.
pub(super) fn place_alike(a: &CarrierTrait, b: &CarrierTrait) -> f64 {
    let place = (a.hz - b.hz) / (CARRIER_HZ + 0.25 * (a.moved_hz + b.moved_hz));
    let fastest = a.drift_hz_per_s.abs().max(b.drift_hz_per_s.abs());
    let drift = (a.drift_hz_per_s - b.drift_hz_per_s) / (DRIFT_HZ_PER_S + DRIFT_SHARE * fastest);
    (-0.5 * (place * place + drift * drift)).exp()
}
