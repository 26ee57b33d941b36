//! Which spacing explains carriers heard all over the dial, or why none can be named.
//!
//! A switching supply radiates at the multiples of its switching frequency; mixed with something else, at a
//! constant distance beside them. A recording in SSB shows some 2.4 kHz at a dial setting, so most multiples are
//! never listened to, and every submultiple of the true spacing explains the same carriers. A spacing is named only
//! where random carriers would hardly fit it as well ([`CALLED_BELOW`]) and no other spacing explains the carriers
//! nearly as well ([`RIVALS_BELOW`]). Not here: families within one recording (`contrast::comb`).
//!
//! [`heard`] takes the comparisons; [`search`], [`judge`] and their helpers find and weigh spacings, [`drift`]
//! those that drift; [`finer`] tells how likely half of one is, [`neighbours`] what can be said where none is;
//! `result`, `words`, `rows` and `figure` are what is told of it in the JSON, the texts, the table and the picture.

pub mod drift;
pub mod evidence;
pub mod family;
pub mod figure;
pub mod finer;
pub mod fitting;
pub mod heard;
pub mod judge;
pub mod neighbours;
pub mod predict;
pub mod result;
pub mod rows;
pub mod search;
#[cfg(test)]
mod tests;
pub mod words;

pub(crate) use figure::figures;
pub use finer::Finer;
pub use fitting::{Line, Through, regress};
pub use heard::of;
pub use judge::{find, find_still};
pub use neighbours::Neighbours;
pub use predict::{Predicted, predictions};
pub(crate) use words::{digest, section, verdicts};

/// Spacings looked for. Supplies switch at some 18 to 150 kHz (common practice); below the lower end several
/// members stand in one SSB passband, where a single recording shows the family.
pub const SPACING_HZ: std::ops::RangeInclusive<f64> = 3_000.0..=500_000.0;

/// Random carriers are taken for a family less often than this.
pub const CALLED_BELOW: f64 = 0.001;

/// All other spacings together have less than this of the evidence for the one that is called: each that is named
/// is to be wrong in less than a hundredth of the cases, not only most of them.
pub const RIVALS_BELOW: f64 = 0.01;

/// Two carriers fit any spacing and three leave one coincidence: our own choice is one more.
pub const LEAST_MEMBERS: usize = 4;

/// Most carriers worked on; the search grows with their square.
pub const MOST_CARRIERS: usize = 48;

/// One dial setting at which the device was listened to.
#[derive(Debug, Clone, PartialEq)]
pub struct Listening {
    /// Dial frequency as labelled.
    pub dial_hz: f64,
    /// How far the true dial may lie from the label: half of its last printed digit.
    pub half_step_hz: f64,
    /// Stretches of radio frequency the passband showed (low, high): one in SSB and CW, both sides of the carrier
    /// in AM.
    pub heard_hz: Vec<(f64, f64)>,
    /// When: hours from some beginning, or the number of the take where times are not known. All the same: nothing
    /// is known of the order.
    pub at: f64,
}

/// A carrier that came with the device.
#[derive(Debug, Clone, PartialEq)]
pub struct Carrier {
    /// Index of the dial setting that showed it.
    pub listening: usize,
    /// Where it may stand, Hz; never empty. One place in SSB and CW, two in AM, of which one is true.
    pub places_hz: Vec<f64>,
    /// Where it would stand had the other sideband been used.
    pub mirrored_hz: Option<f64>,
}

/// What the carriers told.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Answer {
    /// Families found, the surest first.
    pub families: Vec<Family>,
    /// Why none is named; `None` where one is, or where there were no carriers.
    pub refusal: Option<Refusal>,
    /// Carriers left aside because they may be another one heard again at an overlapping setting.
    pub repeated: Vec<usize>,
    /// Where random carriers would fit as well: at which distance neighbours stood nevertheless.
    pub neighbours: Option<Neighbours>,
}

/// Carriers at one spacing.
#[derive(Debug, Clone, PartialEq)]
pub struct Family {
    /// Distance of neighbours, Hz; where it drifts, at [`Drift::at`].
    pub spacing_hz: f64,
    /// Its 95 % interval.
    pub spacing_ci_hz: (f64, f64),
    /// How the spacing changes, where no steady one explains the carriers.
    pub drift: Option<Drift>,
    /// What the members' distance from the multiples of the spacing is.
    pub offset: Offset,
    /// Standard deviation of the members about their places, Hz.
    pub residual_sd_hz: f64,
    /// Who belongs, in order of frequency.
    pub members: Vec<Member>,
    /// Indices of the carriers that do not.
    pub outsiders: Vec<usize>,
    /// Outsiders that would fit had the other sideband been used: (carrier, harmonic).
    pub other_sideband: Vec<(usize, i64)>,
    /// Places listened to where a member should stand and none was heard.
    pub missing: Vec<Missing>,
    /// Bound of the probability that random carriers speak as much for any spacing (`evidence`).
    pub chance: f64,
    /// Weight of all other spacings together against this one.
    pub rivals: f64,
    /// Half of the spacing and a third: the odds that only multiples of the whole one would have been heard.
    pub finer: Vec<Finer>,
}

impl Family {
    /// Frequency above a multiple of the spacing, in 0..spacing; 0 for harmonics.
    pub fn offset_hz(&self) -> f64 {
        match self.offset {
            Offset::Harmonics { .. } => 0.0,
            Offset::Beside { offset_hz, .. } | Offset::Unknown { offset_hz, .. } => offset_hz,
        }
    }

    /// The spacing at a time, Hz.
    pub fn spacing_at(&self, at: f64) -> f64 {
        self.spacing_hz + self.drift.map_or(0.0, |drift| drift.rate_hz * (at - drift.at))
    }

    /// The spacing when it was last listened to, Hz.
    pub fn last_spacing_hz(&self) -> f64 {
        self.drift.map_or(self.spacing_hz, |drift| self.spacing_at(drift.until))
    }

    /// Where its member of this number stands, or stood when it was last listened to.
    pub fn place_hz(&self, harmonic: i64) -> f64 {
        self.offset_hz() + harmonic as f64 * self.last_spacing_hz()
    }

    /// How far off that may be at 95 %, Hz, the dial's own error at the members included.
    pub fn place_error_hz(&self, harmonic: i64) -> f64 {
        let half = (self.spacing_ci_hz.1 - self.spacing_ci_hz.0) / 2.0;
        let drifted = self.drift.map_or(0.0, |drift| drift.half_hz * (drift.until - drift.at));
        let middle = match self.offset {
            Offset::Harmonics { .. } => 0.0,
            _ => self.members.iter().map(|m| m.harmonic as f64).sum::<f64>() / self.members.len().max(1) as f64,
        };
        ((harmonic as f64 - middle) * half.hypot(drifted)).hypot(2.0 * self.residual_sd_hz)
    }
}

/// A spacing that rises or falls evenly.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drift {
    /// By how much, Hz an hour, or from take to take where times are not known.
    pub rate_hz: f64,
    /// Its 95 % interval's half.
    pub half_hz: f64,
    /// When the spacing was as stated, on the clock of [`Listening::at`].
    pub at: f64,
    /// When it was last listened to.
    pub until: f64,
}

/// Where a family's members stand against the multiples of its spacing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Offset {
    /// At the multiples: harmonics of the switching frequency. With the offset left free it comes out as this, Hz.
    Harmonics {
        /// The offset if it is fitted too.
        free_hz: f64,
        /// Its 95 % interval's half.
        free_half_hz: f64,
    },
    /// At a constant distance above the multiples: sidebands of something that does not belong to the family.
    Beside {
        /// In 0..spacing.
        offset_hz: f64,
        /// Its 95 % interval's half.
        half_hz: f64,
    },
    /// The carriers lie so near together that their numbers can't be told: at the multiples or beside them.
    Unknown {
        /// The fitted one, in 0..spacing.
        offset_hz: f64,
        /// Its 95 % interval's half.
        half_hz: f64,
    },
}

/// A carrier of a family.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Member {
    /// Index of the carrier.
    pub carrier: usize,
    /// Which of its places is the true one, Hz.
    pub rf_hz: f64,
    /// Its number: how many spacings it stands above the offset.
    pub harmonic: i64,
    /// How far it stands above its place.
    pub residual_hz: f64,
}

/// A place of the family that was listened to without hearing anything.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Missing {
    /// Index of the dial setting.
    pub listening: usize,
    /// The place.
    pub rf_hz: f64,
    /// Its number.
    pub harmonic: i64,
}

/// Why no spacing is named.
#[derive(Debug, Clone, PartialEq)]
pub enum Refusal {
    /// Fewer carriers than can tell anything.
    TooFew {
        /// How many there are.
        carriers: usize,
    },
    /// Random carriers would fit some spacing as well.
    Chance {
        /// The best spacing, Hz, and the bound of the probability that random carriers speak as much for one.
        best: Option<(f64, f64)>,
    },
    /// Several spacings explain the carriers about as well.
    Ambiguous {
        /// Spacings, Hz, with their share of all the weight (0..1), the likeliest first.
        candidates: Vec<(f64, f64)>,
        /// Where to listen to tell the first two apart, if such a place is known.
        telling: Option<Telling>,
    },
}

/// A place on the dial where one of two spacings has a carrier and the other none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Telling {
    /// Radio frequency, Hz.
    pub rf_hz: f64,
    /// How far off that may be.
    pub within_hz: f64,
    /// A carrier there speaks for this spacing, Hz.
    pub speaks_for_hz: f64,
    /// None there speaks for this one, Hz.
    pub silence_for_hz: f64,
}
