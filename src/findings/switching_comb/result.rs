//! Families of carriers over the dial, in the words of the machine-readable result.

use serde::{Deserialize, Serialize};

/// Where a family's members stand against the multiples of its spacing.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Placed {
    /// At them: harmonics of the switching frequency.
    Harmonics,
    /// Beside them at a constant distance.
    Beside,
    /// Too near together to tell.
    #[default]
    Unknown,
}

/// Why no spacing is named.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RefusedFor {
    /// Fewer carriers than can tell anything.
    #[default]
    TooFew,
    /// Random carriers would fit some spacing as well.
    Chance,
    /// Several spacings explain the carriers about as well.
    Ambiguous,
}

/// Carriers of one switching supply over the dial.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct SwitchingComb {
    /// The device.
    pub device: String,
    /// Distance of neighbours; of a drifting family, at `at`.
    pub spacing_hz: f64,
    /// Its 95 % interval.
    pub spacing_ci_hz: [f64; 2],
    /// When a drifting spacing was as stated; null where it kept still, or times are not labelled.
    pub at: Option<String>,
    /// The recording nearest to that, its id.
    pub at_recording: Option<String>,
    /// How fast it drifts; null where it kept still, or times are not labelled.
    pub drift_hz_per_h: Option<f64>,
    /// Its 95 % interval.
    pub drift_ci_hz_per_h: Option<[f64; 2]>,
    /// The same from one take to the next, where times are not labelled.
    pub drift_hz_per_take: Option<f64>,
    /// Its 95 % interval.
    pub drift_ci_hz_per_take: Option<[f64; 2]>,
    /// Frequency above a multiple of the spacing; 0 for harmonics.
    pub offset_hz: f64,
    /// Half of its 95 % interval; null for harmonics.
    pub offset_half_hz: Option<f64>,
    /// Where its members stand against the multiples of the spacing.
    pub placed: Placed,
    /// Standard deviation of the members about their places.
    pub residual_hz: f64,
    /// How probable it is, at most, that random carriers fit some spacing as well; 0.001 stands for less, too.
    pub chance: f64,
    /// Half of the spacing and a third.
    pub finer: Vec<FinerSpacing>,
    /// Who belongs, in order of frequency.
    pub members: Vec<CombMember>,
    /// Radio frequencies of the device's carriers that belong to no family; in AM the one above the dial.
    pub outsiders: Vec<f64>,
    /// Outsiders that would belong had their recording been made in the other sideband.
    pub other_sideband: Vec<CombPlace>,
    /// Places that were listened to without hearing a member.
    pub missing: Vec<CombPlace>,
    /// Where further members should stand: in the bands named in the manifest, else beside the members; of a
    /// drifting family, when it was last listened to.
    pub predicted: Vec<PredictedCarrier>,
    /// When the places predicted of a drifting family were so; null where it kept still, or times are not labelled.
    pub predicted_at: Option<String>,
    /// What was not used, in sentences.
    pub notes: Vec<String>,
}

/// A part of a spacing that is named.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FinerSpacing {
    /// What the spacing is divided by.
    pub divisor: i64,
    /// The part.
    pub spacing_hz: f64,
    /// How probable it is that the part is the true spacing, and that only multiples of the whole one were heard of
    /// all that might have been.
    pub chance: f64,
}

/// A carrier of a family.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CombMember {
    /// Radio frequency as dial and pitch tell it.
    pub rf_hz: f64,
    /// Its number.
    pub harmonic: i64,
    /// How far it stands above its place.
    pub residual_hz: f64,
    /// Id of the recording.
    pub recording: String,
}

/// A place of a family within a recording.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CombPlace {
    /// Radio frequency.
    pub rf_hz: f64,
    /// Its number.
    pub harmonic: i64,
    /// Id of the recording.
    pub recording: String,
}

/// A carrier that should be there.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PredictedCarrier {
    /// Radio frequency.
    pub rf_hz: f64,
    /// How far off that may be at 95 %.
    pub within_hz: f64,
    /// Its number.
    pub harmonic: i64,
    /// Whether it was listened to and not heard.
    pub missing: bool,
}

/// Carriers over the dial of which no spacing can be named.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct RefusedComb {
    /// The device.
    pub device: String,
    /// How many carriers there are.
    pub carriers: usize,
    /// At how many dial settings it was listened to.
    pub settings: usize,
    /// Why.
    pub reason: RefusedFor,
    /// Spacings that would explain them, the likeliest first.
    pub candidates: Vec<CombCandidate>,
    /// Where to listen to tell the likeliest apart.
    pub listen_at: Option<ListenAt>,
    /// At which distance neighbours stood though no spacing explains all: the supply wanders. Null where distances
    /// of random carriers are as much alike.
    pub neighbours: Option<AlikeNeighbours>,
    /// What was not used, in sentences.
    pub notes: Vec<String>,
}

/// Neighbouring carriers, recorded soon after each other, at distances that are alike.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AlikeNeighbours {
    /// The least and the greatest of these distances.
    pub apart_hz: [f64; 2],
    /// 95 % interval of the spacing, with what the supply moved from one neighbour to the next taken out; null
    /// where nothing tells how much that was.
    pub spacing_ci_hz: Option<[f64; 2]>,
    /// How many they are.
    pub pairs: usize,
    /// Among so many distances of neighbours.
    pub of: usize,
    /// How often as many of random carriers are as much alike; 0.001 stands for less, too.
    pub chance: f64,
}

/// A spacing among others.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CombCandidate {
    /// The spacing.
    pub spacing_hz: f64,
    /// Its share of all that speaks for any of them, 0..1.
    pub share: f64,
}

/// A place on the dial that tells two spacings apart.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ListenAt {
    /// Radio frequency.
    pub rf_hz: f64,
    /// How far off that may be.
    pub within_hz: f64,
    /// A carrier there speaks for this spacing.
    pub carrier_means_hz: f64,
    /// None there speaks for this one.
    pub silence_means_hz: f64,
}
