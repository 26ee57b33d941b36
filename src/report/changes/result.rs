//! What changed between evenings, in the words of the machine-readable result of `compare`. Levels in dB, days from
//! start to start.

use serde::{Deserialize, Serialize};

use crate::contrast::Character;
use crate::findings::picture::FigureFile;
use crate::report::contract::Tool;
use crate::warning::Trust;

/// All that several reports tell when they are held against each other.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Changes {
    /// Version of this layout: 1.
    pub schema: u32,
    /// What made it.
    pub tool: Tool,
    /// The reports, in order of time; numbered from 1.
    pub reports: Vec<ComparedReport>,
    /// Devices that two reports or more have in one setting.
    pub changes: Vec<Change>,
    /// The noise with everything off, setting by setting.
    pub floors: Vec<FloorChange>,
    /// Families of carriers over the dial.
    pub switching_combs: Vec<SpacingChange>,
    /// What stands in one report only.
    pub only_in: Vec<OnlyIn>,
    /// What stands in several and can't be compared.
    pub not_compared: Vec<NotCompared>,
    /// What else there is to know, in sentences.
    pub notes: Vec<String>,
    /// The picture beside the report.
    pub figures: Vec<FigureFile>,
}

/// One of the reports.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ComparedReport {
    /// From 1, in order of time.
    pub number: usize,
    /// Name of its folder.
    pub name: String,
    /// Its title.
    pub title: String,
    /// When its first recording began, RFC 3339; null where no recording tells.
    pub started: Option<String>,
    /// Days since the first report; null where either has no time.
    pub days: Option<f64>,
}

/// One device in one setting.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Change {
    /// The device.
    pub device: String,
    /// The setting, in words.
    pub setting: String,
    /// Number of the first report that has it.
    pub then_report: usize,
    /// Number of the last one.
    pub now_report: usize,
    /// Days between them.
    pub days: Option<f64>,
    /// The remedy it had then; null: none.
    pub then_remedy: Option<String>,
    /// The remedy it has now.
    pub now_remedy: Option<String>,
    /// Excess then: on over off; null where it could not be had or is void.
    pub then_db: Option<f64>,
    /// Its 95 % interval.
    pub then_ci_db: Option<[f64; 2]>,
    /// Excess now.
    pub now_db: Option<f64>,
    /// Its 95 % interval.
    pub now_ci_db: Option<[f64; 2]>,
    /// Now less then.
    pub change_db: Option<f64>,
    /// Its 95 % interval: the two evenings' half-widths in quadrature.
    pub change_ci_db: Option<[f64; 2]>,
    /// What that says.
    pub shows: Shows,
    /// The same with lines and clicks, then; it has no interval.
    pub then_total_db: Option<f64>,
    /// And now.
    pub now_total_db: Option<f64>,
    /// How far the device's own power rose; null where the noise with everything off can't be compared, or where
    /// nothing is left that could be measured.
    pub own_change_db: Option<f64>,
    /// Its 95 % interval.
    pub own_change_ci_db: Option<[f64; 2]>,
    /// What it is at most, where only that can be told.
    pub own_change_at_most_db: Option<f64>,
    /// The kind of noise then.
    pub then_kind: Character,
    /// And now.
    pub now_kind: Character,
    /// Carriers that came with the device, then.
    pub then_carriers: usize,
    /// And now.
    pub now_carriers: usize,
    /// The family they form, where both evenings have one.
    pub comb: Option<CombChange>,
    /// The weaker trust of the two.
    pub trust: Trust,
    /// What speaks against it, report by report, in words.
    pub reasons: Vec<String>,
    /// Every report that has it, in order.
    pub series: Vec<Evening>,
}

/// What a change says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Shows {
    /// The device stands less far above the band.
    Less,
    /// It stands further above the band.
    More,
    /// The interval holds zero.
    NoChange,
    /// A side has no figure, or it is void, or says nothing.
    NotTold,
}

/// A device on one evening.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Evening {
    /// Number of the report.
    pub report: usize,
    /// Id of the comparison in it.
    pub contrast: String,
    /// The remedy.
    pub remedy: Option<String>,
    /// Excess; null where it could not be had or is void.
    pub excess_db: Option<f64>,
    /// Its 95 % interval.
    pub excess_ci_db: Option<[f64; 2]>,
    /// How far to rely on it.
    pub trust: Trust,
}

/// A family of added lines on two evenings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CombChange {
    /// Spacing then.
    pub then_spacing_hz: f64,
    /// Spacing now.
    pub now_spacing_hz: f64,
    /// Whether it moved by more than a line's place is known to.
    pub moved: bool,
}

/// A family of carriers over the dial on two evenings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SpacingChange {
    /// The device.
    pub device: String,
    /// Number of the first report that has it.
    pub then_report: usize,
    /// Number of the last one.
    pub now_report: usize,
    /// Spacing then.
    pub then_spacing_hz: f64,
    /// Its 95 % interval.
    pub then_spacing_ci_hz: [f64; 2],
    /// Spacing now.
    pub now_spacing_hz: f64,
    /// Its 95 % interval.
    pub now_spacing_ci_hz: [f64; 2],
    /// Now less then.
    pub change_hz: f64,
    /// Its 95 % interval.
    pub change_ci_hz: [f64; 2],
    /// Whether that interval leaves out zero.
    pub moved: bool,
}

/// What two evenings' noise with everything off is compared by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FloorBasis {
    /// A known power at the receiver's input, on both evenings.
    Dbm,
    /// The receiver's own noise with a dummy load, at one gain.
    ReceiverNoise,
}

/// The noise with everything off on two evenings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FloorChange {
    /// The setting, in words.
    pub setting: String,
    /// Number of the first report that has it.
    pub then_report: usize,
    /// Number of the last one.
    pub now_report: usize,
    /// What it is compared by; null where it can't be.
    pub basis: Option<FloorBasis>,
    /// Then: dBm in 1 Hz, or dB over the receiver's own noise.
    pub then_db: Option<f64>,
    /// And now.
    pub now_db: Option<f64>,
    /// Now less then.
    pub change_db: Option<f64>,
    /// Its 95 % interval, the calibrations' tolerances in it.
    pub change_ci_db: Option<[f64; 2]>,
    /// Why it can't be compared.
    pub why_not: Option<String>,
}

/// What one report alone has.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OnlyIn {
    /// Number of the report.
    pub report: usize,
    /// The device.
    pub device: String,
    /// Its remedy.
    pub remedy: Option<String>,
    /// The setting, in words.
    pub setting: String,
}

/// What several reports have, but not so that it could be compared.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NotCompared {
    /// The device.
    pub device: String,
    /// Numbers of the reports.
    pub in_reports: Vec<usize>,
    /// Why, without a stop.
    pub why: String,
}
