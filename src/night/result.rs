//! A night and the stretches of it in which a noise was present, in the words of the machine-readable result.
//!
//! Times in seconds count from the start of the night's first recording. Times of day are RFC 3339; without `Z`
//! they are the recorder's clock, whose zone nothing tells.

use serde::{Deserialize, Serialize};

use crate::contrast::Character;
use crate::contrast::comparison::ContrastResult;
use crate::findings::known_noise::Signature;
use crate::labels::State;
use crate::night::{Clock, StartFrom};
use crate::warning::{Trust, Warning};

/// A stretch of a night in which a noise is present.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Episode {
    /// Start, RFC 3339.
    pub start: Option<String>,
    /// End, RFC 3339.
    #[serde(default)]
    pub end: Option<String>,
    /// Start, from the beginning of the night.
    pub start_s: f64,
    /// End.
    pub end_s: f64,
    /// Whether it was there when the recording, or what follows a gap, began: `start_s` is no switching on then.
    #[serde(default)]
    pub from_before: bool,
    /// Whether it was there when the recording, or what precedes a gap, ended.
    #[serde(default)]
    pub until_after: bool,
    /// How much earlier than `start_s` it may have begun, where something hides its clicks there; `None` where the
    /// start is known.
    #[serde(default)]
    pub start_unsure_s: Option<f64>,
    /// How much later than `end_s` it may have ended.
    #[serde(default)]
    pub end_unsure_s: Option<f64>,
    /// Where it may as well have ended, by the level: a noise that overlaps it adds as much.
    #[serde(default)]
    pub or_end_s: Option<f64>,
    /// How far the noise level jumped when it came, by the timeline alone; where it was there from the beginning,
    /// how far it fell when it went. `None` for what stands in carriers alone: no noise came.
    #[serde(default)]
    pub jump_db: Option<f64>,
    /// The parts of it that were compared, begin and end.
    #[serde(default)]
    pub heard_s: Vec<[f64; 2]>,
    /// What lies beside it, without it, that it was compared with.
    #[serde(default)]
    pub quiet_s: Vec<[f64; 2]>,
    /// Numbers of the episodes that went on all the while on both sides of the comparison.
    #[serde(default)]
    pub beside: Vec<usize>,
    /// How many dB it would lift the quiet band, with all other noises off. Equal to the comparison's excess where
    /// nothing else was on.
    #[serde(default)]
    pub quiet_excess_db: Option<f64>,
    /// Its 95 % interval, wider by what taking the others off costs.
    #[serde(default)]
    pub quiet_excess_ci_db: Option<[f64; 2]>,
    /// This stretch against the quiet beside it.
    pub contrast: ContrastResult,
}

/// A source of noise: all episodes of a night that are one noise, told once.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Source {
    /// "n1" …, in the order in which they first came.
    pub id: String,
    /// Kind of its noise.
    pub character: Character,
    /// How sure of the kind, 0..1.
    pub confidence: f64,
    /// The known noise it resembles.
    #[serde(default)]
    pub known: Option<String>,
    /// What the log of what was switched explains it by (`SwitchLog::device_of`); it goes by this name first.
    #[serde(default)]
    pub logged: Option<String>,
    /// What its noise is like apart from its strength; `None` where the comparisons tell nothing to know it by.
    #[serde(default)]
    pub signature: Option<Signature>,
    /// Numbers of its episodes, from 1, in order of time.
    pub episodes: Vec<usize>,
    /// How many dB it lifts the quiet band, with all other sources off.
    pub excess_db: Option<f64>,
    /// Its 95 % interval.
    pub excess_ci_db: Option<[f64; 2]>,
    /// What these figures are worth.
    pub trust: Trust,
    /// Ids of the sources that were on at the same time, now or then.
    #[serde(default)]
    pub beside: Vec<String>,
    /// All its episodes together.
    pub on_s: f64,
    /// That over the time searched, 0..1.
    pub duty: f64,
    /// Mean length of those whose start and end were seen; of two or more.
    pub length_s: Option<f64>,
    /// Its standard deviation.
    pub length_sd_s: Option<f64>,
    /// Whether it comes evenly.
    pub told: Regularity,
    /// From one start to the next, where they are even.
    pub period_s: Option<f64>,
    /// Its 95 % interval.
    pub period_ci_s: Option<[f64; 2]>,
    /// First start of the even sequence, from the beginning of the night.
    #[serde(default)]
    pub even_from_s: Option<f64>,
    /// Comings of the even sequence that were not seen.
    pub missed: Option<usize>,
    /// Probability that starts without a rule are as even.
    pub chance: Option<f64>,
}

/// Hours of recordings, gone through from end to end.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NightFacts {
    /// When its first recording began.
    pub start: String,
    /// When its last one ended.
    pub end: String,
    /// What kind of time its times are.
    pub clock: Clock,
    /// Whether the labels of all recordings say that the gain was fixed; `false` where one says that an AGC was at
    /// work, `None` where neither is told.
    #[serde(default)]
    pub gain_fixed: Option<bool>,
    /// From first start to last end.
    pub duration_s: f64,
    /// How much of that was recorded.
    pub recorded_s: f64,
    /// How much was not read, since the user stopped it.
    #[serde(default)]
    pub unread_s: f64,
    /// How much of that was searched: recordings of less than a minute that stand alone are not.
    pub searched_s: f64,
    /// How much of that has an episode.
    pub noisy_s: f64,
    /// Noise level that 10 %, half and 90 % of the minutes' medians stay under, dBFS in the passband.
    pub noise_dbfs: Option<[f64; 3]>,
    /// Its recordings, in order of time.
    pub recordings: Vec<NightRecording>,
    /// Where they do not join.
    pub joins: Vec<NightJoin>,
    /// The night by minutes; those without sound are left out.
    pub minutes: Vec<NightMinute>,
    /// Carriers that stood for two minutes or more, stations' and devices' alike, the strongest first; at most 60.
    #[serde(default)]
    pub carriers: Vec<NightCarrier>,
    /// What a log of what was switched explains; `None` where there was none.
    #[serde(default)]
    pub switch_log: Option<SwitchLog>,
}

/// A carrier followed through the night.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NightCarrier {
    /// Where it stood when it was first seen, to half a bin of the spectrum (3 Hz).
    pub first_hz: f64,
    /// Where it stood at last.
    pub last_hz: f64,
    /// When it was first seen, from the beginning of the night, to the length of a spectrum (10 s).
    pub first_s: f64,
    /// When it was last seen.
    pub last_s: f64,
    /// How long it stood in between.
    pub stood_s: f64,
    /// Level that it stayed under for 10 %, half and 90 % of that.
    pub level_dbfs: [f64; 3],
    /// Numbers of the episodes that have it among their added lines.
    pub episodes: Vec<usize>,
}

/// Whether a noise comes back evenly.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Regularity {
    /// At even intervals.
    Even,
    /// No more evenly than chance makes it.
    Chance,
    /// Too few comings were seen.
    TooFew,
}

/// A log of what was switched, held against the episodes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SwitchLog {
    /// Its entries within the night, give or take what clocks may be off.
    pub entries: usize,
    /// How far the night's clock is ahead of the log's; `None` where nothing fits.
    pub offset_s: Option<f64>,
    /// Another offset at which as many starts and ends fit.
    pub rival_offset_s: Option<f64>,
    /// Probability that the same switchings at other times fit as many starts and ends, as nearly; `None` where
    /// nothing fits.
    pub chance: Option<f64>,
    /// Which entry explains which start or end, in order of time.
    pub matches: Vec<LogMatch>,
    /// Numbers of the episodes of which neither start nor end is explained.
    pub unexplained: Vec<usize>,
    /// Its entries that explain nothing, in order of time.
    #[serde(default)]
    pub unheard: Vec<LogEntry>,
}

/// Chance above which a log that fits is no explanation. Common practice.
pub(crate) const NO_EXPLANATION: f64 = 0.05;

impl SwitchLog {
    /// Whether what fits is more than chance.
    pub(crate) fn explains(&self) -> bool {
        self.chance.is_some_and(|chance| chance <= NO_EXPLANATION)
    }

    /// The device whose entries explain more than half of the starts and ends of these episodes. Of a single one that
    /// is both: with clocks free to be set, one alone fits by itself. `None` also where the log fits by chance.
    pub(crate) fn device_of(&self, episodes: &[usize]) -> Option<&str> {
        if !self.explains() {
            return None;
        }
        let of_these = |one: &&LogMatch| episodes.contains(&one.episode);
        let explained =
            |device: &str| self.matches.iter().filter(of_these).filter(|one| one.device == device).count();
        let devices = self.matches.iter().filter(of_these).map(|one| one.device.as_str());
        devices.into_iter().find(|device| explained(device) > episodes.len())
    }
}

/// An entry of the log.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LogEntry {
    /// What was switched, as the log says.
    pub device: String,
    /// On or off.
    pub switched: State,
    /// Line of the log, from 1.
    pub line: u64,
}

/// One end of an episode.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum EpisodeEdge {
    /// Its start.
    Start,
    /// Its end.
    End,
}

/// A start or end with the entry that explains it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LogMatch {
    /// Number of the episode.
    pub episode: usize,
    /// Which end of it.
    pub edge: EpisodeEdge,
    /// What was switched, as the log says.
    pub device: String,
    /// Line of the log, from 1.
    pub line: u64,
    /// How much later than the entry it was, the offset taken off.
    pub rest_s: f64,
}

/// One recording of a night.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NightRecording {
    /// "r1" …, in order of time.
    pub id: String,
    /// File name relative to the folder asked for.
    pub file: String,
    /// Start, RFC 3339.
    pub start: String,
    /// What tells it.
    pub start_from: StartFrom,
    /// Start, from the beginning of the night.
    pub start_s: f64,
    /// Length of what could be read.
    pub duration_s: f64,
    /// Samples a second.
    pub sample_rate_hz: u32,
    /// Codec, such as "pcm_s16le" or "flac".
    pub codec: String,
    /// Channels in the file.
    pub channels: u16,
    /// Which were used.
    pub channel_used: String,
    /// Edges of the passband.
    pub passband_hz: [f64; 2],
    /// What speaks against trusting it.
    pub warnings: Vec<Warning>,
}

/// A gap before a recording, or its overlap with those before.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NightJoin {
    /// Id of the later recording.
    pub recording: String,
    /// Seconds without a recording before it; negative: seconds it overlaps.
    pub gap_s: f64,
    /// The same as a sentence without a stop.
    pub told: String,
}

/// One minute of a night.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NightMinute {
    /// Its start.
    pub at_s: f64,
    /// Noise level that 10 % of its seconds stay under, dBFS in the passband.
    pub low_dbfs: f64,
    /// Half of them.
    pub median_dbfs: f64,
    /// 90 % of them.
    pub high_dbfs: f64,
    /// Share of the time in which stations, carriers or clicks stand clearly over the noise.
    pub busy_share: f64,
    /// Samples at full scale.
    pub clipped: u64,
    /// Seconds in holes of the sound.
    pub hole_s: f64,
}

/// Seconds that some spans cover together.
pub(crate) fn covered_s(mut spans: Vec<(f64, f64)>) -> f64 {
    spans.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut covered_s, mut until) = (0.0, f64::NEG_INFINITY);
    for (from, to) in spans {
        covered_s += (to - from.max(until)).max(0.0);
        until = until.max(to);
    }
    covered_s
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_overlaps_counts_once() {
        assert_eq!(covered_s(vec![(5.0, 9.0), (0.0, 2.0), (1.0, 3.0), (6.0, 7.0)]), 7.0);
        assert_eq!(covered_s(Vec::new()), 0.0);
    }

    /// By construction: the pump explains both ends of 1 and the start of 2, the lamp one end of 3.
    #[test]
    fn the_log_names_what_it_explains_most_of() {
        let one = |episode: usize, edge: EpisodeEdge, device: &str| LogMatch {
            episode,
            edge,
            device: device.into(),
            line: 2,
            rest_s: 0.0,
        };
        let (start, end) = (EpisodeEdge::Start, EpisodeEdge::End);
        let matches = vec![one(1, start, "pump"), one(1, end, "pump"), one(2, start, "pump"), one(3, end, "lamp")];
        let log = |chance: Option<f64>| SwitchLog {
            entries: 4,
            offset_s: Some(0.0),
            rival_offset_s: None,
            chance,
            matches: matches.clone(),
            unexplained: vec![],
            unheard: vec![],
        };
        let sure = log(Some(0.01));
        assert_eq!((sure.device_of(&[1, 2]), sure.device_of(&[1])), (Some("pump"), Some("pump")));
        assert_eq!((sure.device_of(&[3]), sure.device_of(&[1, 2, 3])), (None, None));
        assert_eq!((log(Some(0.2)).device_of(&[1]), log(None).device_of(&[1])), (None, None));
    }
}
