//! The machine-readable result: every name in here is a promise to whoever reads `report.json`. Add, do not rename.
//!
//! Levels in dB, frequencies in Hz, times in seconds or RFC 3339. A figure that could not be had is `null`, with a
//! warning that says why. Everything the other writers (Markdown, CSV, post digest) print comes from here, so the
//! words can't say what the JSON does not.

use serde::{Deserialize, Serialize};

use crate::contrast::Comparisons;
use crate::contrast::comparison::ContrastResult;
use crate::findings::bands::result::DeviceBands;
use crate::findings::budget::result::{BudgetEntry, JointResult};
use crate::findings::description::result::Described;
use crate::findings::ladder::result::Ladder;
use crate::findings::listening::result::Listening;
use crate::findings::picture::FigureFile;
use crate::findings::places::result::PlaceResult;
use crate::findings::ranking::result::Ranking;
use crate::findings::receiver_check::result::ReceiverCheckResult;
use crate::findings::switching_comb::result::{RefusedComb, SwitchingComb};
use crate::labels::Setting;
use crate::labels::facts::{LeftOut, SessionFacts};
use crate::night::result::{Episode, NightFacts, Source};
use crate::signal::recording_result::RecordingResult;
use crate::warning::Warning;

/// All of a session's results.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Report {
    /// Version of this layout: 1.
    pub schema: u32,
    /// What made it.
    pub tool: Tool,
    /// What it is about.
    pub session: SessionFacts,
    /// The settings recordings were compared within.
    pub settings: Vec<Setting>,
    /// Every recording that was measured.
    pub recordings: Vec<RecordingResult>,
    /// What stands in each recording; only where they were described one by one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub described: Vec<Described>,
    /// Every comparison of on against off.
    pub contrasts: Vec<ContrastResult>,
    /// Remedies of one device in order.
    pub ladders: Vec<Ladder>,
    /// What each of several devices contributes.
    pub budget: Vec<BudgetEntry>,
    /// Devices recorded together, held against each by itself.
    #[serde(default)]
    pub joint: Vec<JointResult>,
    /// Many devices in order, in the setting that has most of them; only where there are many, or everything but one
    /// was recorded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ranking: Option<Ranking>,
    /// The same in further settings.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub other_rankings: Vec<Ranking>,
    /// Devices that were recorded at several dials.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub device_bands: Vec<DeviceBands>,
    /// The same noise at several places, the loudest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub places: Vec<PlaceResult>,
    /// Families of carriers over the dial.
    pub switching_combs: Vec<SwitchingComb>,
    /// Carriers over the dial of which no spacing can be named, with the reason.
    pub switching_combs_refused: Vec<RefusedComb>,
    /// Stretches of a night in which a noise is present.
    pub episodes: Vec<Episode>,
    /// The sources of noise of a night, each once.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sources: Vec<Source>,
    /// The night they belong to; only in the report of a night.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub night: Option<NightFacts>,
    /// What the noise means to a listener.
    #[serde(default)]
    pub listening: Listening,
    /// Whether the receiver follows its input; only where the manifest has a check.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub receiver_check: Option<ReceiverCheckResult>,
    /// Files that could not be used, with the reason.
    pub left_out: Vec<LeftOut>,
    /// The pictures beside the report.
    pub figures: Vec<FigureFile>,
    /// What concerns the session as a whole, guesses among it.
    pub warnings: Vec<Warning>,
}

impl Report {
    /// Whether nothing came of it: no comparison, no ranking, no places.
    pub fn tells_nothing(&self) -> bool {
        self.contrasts.is_empty() && self.ranking.is_none() && self.places.is_empty()
    }

    /// The rankings of all settings.
    pub fn rankings(&self) -> Vec<Ranking> {
        self.ranking.iter().chain(&self.other_rankings).cloned().collect()
    }

    /// Its comparisons with what they refer to.
    pub fn comparisons(&self) -> Comparisons<'_> {
        Comparisons { settings: &self.settings, recordings: &self.recordings, contrasts: &self.contrasts }
    }
}

/// Name and version of this program.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Tool {
    /// "noisetally".
    pub name: String,
    /// Its version.
    pub version: String,
}

impl Tool {
    /// This program.
    pub fn this() -> Self {
        Self { name: env!("CARGO_PKG_NAME").to_owned(), version: env!("CARGO_PKG_VERSION").to_owned() }
    }
}
