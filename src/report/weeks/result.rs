//! Weeks of nights in the words of the machine-readable result of `weeks`.
//!
//! Times are RFC 3339; without `Z` they are the recorder's clock. Shares are of the time recorded, 0..1. A `chance`
//! minds how many were tried (Holm 1979); `chance_alone` does not.

use serde::{Deserialize, Serialize};

use crate::contrast::Character;
use crate::findings::picture::FigureFile;
use crate::night::Clock;
use crate::report::contract::Tool;
use crate::warning::Trust;

/// What several nights' reports tell together.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Weeks {
    /// Version of this layout: 1.
    pub schema: u32,
    /// What made it.
    pub tool: Tool,
    /// The weeks.
    pub weeks: WeeksFacts,
    /// The picture beside the report.
    pub figures: Vec<FigureFile>,
}

/// The weeks from the first night to the last.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WeeksFacts {
    /// When the first recording began.
    pub from: String,
    /// When the last one ended.
    pub until: String,
    /// What kind of time all times are.
    pub clock: Clock,
    /// The station, in its owner's words.
    pub station: Option<String>,
    /// All that was recorded, each hour once.
    pub recorded_s: f64,
    /// Days from noon to noon with enough recorded, an hour or half of the usual: what chances are reckoned by.
    pub days: usize,
    /// The reports, in order of time.
    pub nights: Vec<NightRead>,
    /// Days from noon to noon without a recording.
    pub gaps: Vec<Gap>,
    /// How the quiet level moves: median of the slopes between all pairs of days, time of day taken off.
    pub quiet_trend_db_per_week: Option<f64>,
    /// Its 95 % interval.
    pub quiet_trend_ci_db_per_week: Option<[f64; 2]>,
    /// Each source of noise once, in the order in which they first came.
    pub sources: Vec<WeekSource>,
    /// Conditions of the table; empty where none was named.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub conditions: Vec<Condition>,
    /// Habits, comings for the first or last time, and pairs of source and condition that were tried.
    pub tried: usize,
    /// Reports that were left out.
    pub left_out: Vec<NotUsed>,
    /// What else there is to know, in sentences without a stop.
    pub notes: Vec<String>,
}

/// A night's report.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NightRead {
    /// Name of its folder.
    pub name: String,
    /// When its first recording began.
    pub from: String,
    /// When its last one ended.
    pub until: String,
    /// What it adds to the time recorded.
    pub recorded_s: f64,
    /// Whether it tells its sources each once; reports of earlier versions do not.
    pub tells_sources: bool,
}

/// A report that was left out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct NotUsed {
    /// Name of its folder.
    pub name: String,
    /// Why.
    pub why: String,
}

/// Days without a recording.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Gap {
    /// First day, from its noon.
    pub from: String,
    /// Last day, until the noon after it.
    pub until: String,
    /// How many.
    pub days: u32,
}

/// A source of noise through the weeks.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WeekSource {
    /// "w1" …
    pub id: String,
    /// Kind of its noise, as most nights have it.
    pub character: Character,
    /// The known noise it resembles.
    pub known: Option<String>,
    /// Whether it is even hash, which many devices make: several may stand here as one.
    pub plain: bool,
    /// Other sources that it resembled as well on some night.
    pub may_be: Vec<String>,
    /// When it was first heard.
    pub first: String,
    /// When it was last heard.
    pub last: String,
    /// On how many days from noon to noon.
    pub days: usize,
    /// All its comings together.
    pub on_s: f64,
    /// That over the time recorded.
    pub duty: f64,
    /// How many dB it lifts the quiet band: median of the nights' figures.
    pub excess_db: Option<f64>,
    /// The least and the greatest of them.
    pub excess_range_db: Option<[f64; 2]>,
    /// How it moves; of five nights or more.
    pub excess_trend_db_per_week: Option<f64>,
    /// Its 95 % interval.
    pub excess_trend_ci_db_per_week: Option<[f64; 2]>,
    /// Each time it was there.
    pub comings: Vec<Coming>,
    /// What it keeps to.
    pub habits: Vec<Habit>,
    /// Whether it came new, or went for good.
    pub turns: Vec<Turn>,
    /// How it goes with each condition.
    pub conditions: Vec<Pairing>,
}

/// One time that a source was there.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Coming {
    /// Name of the report.
    pub report: String,
    /// Id of the source in there.
    pub source: String,
    /// Start.
    pub start: String,
    /// End.
    pub end: String,
    /// Whether it was there when the recording began.
    pub from_before: bool,
    /// Whether it was there when the recording ended.
    pub until_after: bool,
    /// How many dB it lifted the quiet band.
    pub excess_db: Option<f64>,
    /// Its 95 % interval.
    pub excess_ci_db: Option<[f64; 2]>,
    /// What these figures are worth.
    pub trust: Trust,
}

/// What a habit is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum HabitKind {
    /// The time of day.
    TimeOfDay,
    /// The day of the week.
    DayOfWeek,
}

/// A habit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Habit {
    /// Of what.
    pub kind: HabitKind,
    /// When: "18:00 to 22:00", "Saturday and Sunday".
    pub words: String,
    /// Share of the time recorded then that it was on.
    pub share_in: f64,
    /// Share of the rest.
    pub share_out: f64,
    /// Probability that comings without a habit keep to any time as well, all that was tried counted.
    pub chance: f64,
    /// The same for this one alone.
    pub chance_alone: f64,
}

/// How a source came or went.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TurnKind {
    /// It was not there at first.
    CameNew,
    /// It has not come any more.
    WentForGood,
}

/// A source that came new, or went for good.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Turn {
    /// Which.
    pub kind: TurnKind,
    /// When it first came, or was last heard.
    pub at: String,
    /// Days recorded before it came, or after it went.
    pub days_without: usize,
    /// Probability that a source that comes now and then stays away so long, all that was tried counted.
    pub chance: f64,
    /// The same for this one alone.
    pub chance_alone: f64,
}

/// A condition of the table.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Condition {
    /// Its word.
    pub word: String,
    /// Time recorded while it held.
    pub with_s: f64,
    /// Time recorded within the table while it did not.
    pub without_s: f64,
    /// Why it was not held against the sources.
    pub why_not: Option<String>,
}

/// A source and a condition.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Pairing {
    /// The condition's word.
    pub word: String,
    /// Share of the time recorded with the condition that the source was on.
    pub share_with: f64,
    /// Share of that without.
    pub share_without: f64,
    /// Days on which the condition held while recorded, those of them on which the source was on then, and days on
    /// which it was on without the condition.
    #[serde(default)]
    pub days_with: usize,
    /// See [`Self::days_with`].
    #[serde(default)]
    pub days_on_with: usize,
    /// See [`Self::days_with`].
    #[serde(default)]
    pub days_on_without: usize,
    /// With less without, time of day taken off.
    pub effect: f64,
    /// Its 95 % interval.
    pub effect_ci: Option<[f64; 2]>,
    /// Probability that what has nothing to do with it goes with it as well, all that was tried counted; null where
    /// there are too few spells to tell.
    pub chance: Option<f64>,
    /// The same for this one alone.
    pub chance_alone: Option<f64>,
    /// Whether that is small enough to say that they go together.
    pub told: bool,
}
