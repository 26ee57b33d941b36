//! Remedies of one device in order, in the words of the machine-readable result.

use serde::{Deserialize, Serialize};

use crate::contrast::Character;

/// One device and its remedies, in order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Ladder {
    /// The device.
    pub device: String,
    /// Id of the setting.
    pub setting: String,
    /// From no remedy onwards.
    pub steps: Vec<LadderStep>,
    /// What choke theory makes of steps that differ by ferrites or turns; null where there are none such.
    pub choke_fit: Option<ChokeResult>,
    /// Carriers and kinds of noise that appeared after a remedy.
    pub unmasked: Vec<Appeared>,
    /// Carriers followed from step to step, strongest first.
    #[serde(default)]
    pub carriers: Vec<FollowedCarrier>,
    /// What is odd about the order or the steps, in plain sentences.
    #[serde(default)]
    pub notes: Vec<String>,
}

/// What is left after one remedy, and what it bought against the step before.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct LadderStep {
    /// The remedy; null: none yet.
    pub remedy: Option<String>,
    /// Id of the contrast.
    pub contrast: String,
    /// Excess left.
    pub excess_db: Option<f64>,
    /// Its 95 % interval.
    pub excess_ci_db: Option<[f64; 2]>,
    /// Lines left.
    pub lines: Vec<StepLine>,
    /// Ferrite pieces on the lead, as labelled.
    #[serde(default)]
    pub ferrites: Option<u32>,
    /// Turns through them, as labelled.
    #[serde(default)]
    pub turns: Option<u32>,
    /// What the on state would read on an S-meter by IARU Region 1 recommendation R.1; null without an anchor.
    #[serde(default)]
    pub s_reading: Option<String>,
    /// Excess taken away since the step before that has figures; null at the first one.
    #[serde(default)]
    pub bought_db: Option<f64>,
    /// Its 95 % interval.
    #[serde(default)]
    pub bought_ci_db: Option<[f64; 2]>,
    /// Where that interval comes from.
    #[serde(default)]
    pub bought_by: Option<BoughtBy>,
    /// Fall of the device's own added power since that step; null where nothing is left that could be measured.
    #[serde(default)]
    pub attenuation_db: Option<f64>,
    /// Its 95 % interval.
    #[serde(default)]
    pub attenuation_ci_db: Option<[f64; 2]>,
    /// What it is at least, where only that can be told.
    #[serde(default)]
    pub attenuation_at_least_db: Option<f64>,
}

/// Where the interval of what a step bought comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum BoughtBy {
    /// The two on states compared.
    Direct,
    /// Both excesses' intervals.
    Quadrature,
}

/// A line at one step of a ladder.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StepLine {
    /// Audio frequency.
    pub freq_hz: f64,
    /// Level, dBFS.
    pub level_db: f64,
}

/// One carrier through the steps.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FollowedCarrier {
    /// Audio frequency where it was seen first.
    pub freq_hz: f64,
    /// One entry a step.
    pub steps: Vec<CarrierStep>,
}

/// A carrier at one step.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct CarrierStep {
    /// Audio frequency; null where it was not seen.
    pub freq_hz: Option<f64>,
    /// Level, dBFS.
    pub level_db: Option<f64>,
    /// Fall of its level since the last step that shows it.
    pub bought_db: Option<f64>,
    /// Its 95 % interval.
    pub bought_ci_db: Option<[f64; 2]>,
    /// Where it was not seen: the level from which it would have been, dBFS.
    pub needed_db: Option<f64>,
}

/// What can appear after a remedy.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AppearedWhat {
    /// A carrier.
    Carrier,
    /// Steady noise.
    Hash,
    /// Noise that pulses with the mains.
    Buzz,
    /// Clicks.
    Clicks,
}

impl AppearedWhat {
    /// The kind of noise as such; `None` for what is told line by line, or is no single kind.
    pub fn noise(kind: Character) -> Option<Self> {
        match kind {
            Character::Hash => Some(Self::Hash),
            Character::Buzz => Some(Self::Buzz),
            Character::Clicks => Some(Self::Clicks),
            Character::None | Character::Carriers | Character::Comb | Character::Mixed | Character::Unclear => None,
        }
    }
}

/// Something that appeared after a remedy.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Appeared {
    /// Id of the contrast that shows it first.
    pub contrast: String,
    /// What it is.
    pub what: AppearedWhat,
    /// Audio frequency of a carrier.
    pub freq_hz: Option<f64>,
    /// Level, dBFS.
    pub level_db: Option<f64>,
    /// For a carrier: the level it would have needed to be found before, dBFS.
    pub needed_db: Option<f64>,
    /// Where it came from.
    pub origin: Origin,
}

/// A choke's fit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChokeResult {
    /// What the steps say.
    pub verdict: ChokeVerdict,
    /// Ids of the contrasts it rests on, by number of pieces and turns.
    pub contrasts: Vec<String>,
    /// Impedance of one piece with one turn over that of the loop, both taken as resistive.
    pub ratio: Option<f64>,
    /// Its 95 % interval; the upper end is null where it is open.
    pub ratio_ci: Option<(f64, Option<f64>)>,
    /// Smallest chi² of the fit.
    pub chi2: f64,
    /// Its degrees of freedom; with none the fit can't be put to the test.
    pub degrees_of_freedom: usize,
    /// Share of the device's power that passes the choke by, where further pieces buy less than they should.
    pub bypass_share: Option<f64>,
    /// Its 95 % interval.
    pub bypass_ci: Option<[f64; 2]>,
    /// What more would buy.
    pub forecasts: Vec<ChokeForecast>,
}

/// What other windings than the last step's would buy.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChokeForecast {
    /// Pieces in all.
    pub ferrites: u32,
    /// Turns.
    pub turns: u32,
    /// Further fall of the device's own power, for a resistive choke on a resistive loop.
    pub attenuation_db: f64,
    /// All that the steps allow, for angles of 0 to 90° between choke and loop.
    pub attenuation_range_db: [f64; 2],
    /// Excess then left.
    pub excess_db: f64,
    /// All that the steps allow.
    pub excess_range_db: [f64; 2],
}

/// What the steps say of the choke.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ChokeVerdict {
    /// They go as a series impedance makes them.
    Fits,
    /// They would go so with and without any effect: nothing can be told yet.
    Unsure,
    /// Two or more steps took nothing off: the noise leaves by another way.
    NoUse,
    /// The first pieces helped, further ones less than a series impedance would: the rest leaves by another way, or
    /// the pieces have reached their limit.
    Flattens,
    /// A step made the device louder, as a choke can that resonates with its lead.
    Worse,
    /// They go otherwise than any of these.
    PoorFit,
}

/// Where something came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Origin {
    /// It would have stood above the earlier noise, and did not.
    New,
    /// It would not have been found under the earlier noise.
    Unmasked,
    /// Too near to call.
    Unclear,
}
