//! From a timeline and its episodes to the words of the JSON contract.

use crate::night::compared::pieces::Piece;
use crate::night::compared::{Compared, of_recording, recording_id};
use crate::night::episodes::runs::Run;
use crate::night::lines::Followed;
use crate::night::recurrence;
use crate::night::recurrence::switch_log::Entry;
use crate::night::result::{
    Episode, NightCarrier, NightFacts, NightJoin, NightMinute, NightRecording, Source, SwitchLog, covered_s,
};
use crate::night::sources::sources;
use crate::night::{Minute, StartFrom, Timeline};
use crate::signal::spectrum::statistics::quantile;
use crate::text::count;
use crate::units::Dbfs;
use crate::warning::{Code, Warning};

/// Carriers named. Chosen: a night with more of them is full of stations, and nobody reads on.
const MOST_CARRIERS: usize = 60;
/// How near an added line of an episode lies to a carrier to be the same (chosen): two bins of the night's
/// spectra.
const SAME_LINE_HZ: f64 = 12.0;

/// All that is known.
pub(crate) struct Gathered<'a> {
    pub night: &'a Timeline,
    pub runs: &'a [Run],
    pub episodes: &'a [Compared],
    /// Lines followed, the strongest first.
    pub carriers: Vec<Followed>,
    /// What was switched, where a log tells it.
    pub log: Option<&'a [Entry]>,
    /// What the labels tell of the gain, as in [`NightFacts`].
    pub gain_fixed: Option<bool>,
}

impl Gathered<'_> {
    pub(crate) fn episodes(&self) -> Vec<Episode> {
        let spans = |pieces: &[Piece]| pieces.iter().map(|piece| [piece.from_s, piece.to_s]).collect();
        self.episodes
            .iter()
            .map(|Compared { spotted, sides, over_quiet, or_end_s, contrast, .. }| Episode {
                start: Some(self.night.time_of(spotted.start_s)),
                end: Some(self.night.time_of(spotted.end_s)),
                start_s: spotted.start_s,
                end_s: spotted.end_s,
                from_before: spotted.from_before,
                until_after: spotted.until_after,
                start_unsure_s: Some(spotted.unsure_s[0]).filter(|unsure_s| *unsure_s > 0.0),
                or_end_s: *or_end_s,
                end_unsure_s: Some(spotted.unsure_s[1]).filter(|unsure_s| *unsure_s > 0.0),
                jump_db: spotted.jump_db,
                heard_s: spans(&sides.on),
                quiet_s: spans(&sides.off),
                beside: sides.beside.iter().map(|place| place + 1).collect(),
                quiet_excess_db: over_quiet.map(|excess| excess.value),
                quiet_excess_ci_db: over_quiet.map(|excess| [excess.ci95.0, excess.ci95.1]),
                contrast: contrast.clone(),
            })
            .collect()
    }

    /// Named by what the log explains.
    pub(crate) fn sources(&self, log: Option<&SwitchLog>) -> Vec<Source> {
        let mut found = sources(self.episodes, self.searched_s());
        for source in &mut found {
            source.logged = log.and_then(|log| log.device_of(&source.episodes)).map(str::to_owned);
        }
        found
    }

    fn searched_s(&self) -> f64 {
        covered_s(self.runs.iter().filter(|run| run.is_long()).map(|run| run.span_s).collect())
    }

    /// What concerns the night as a whole.
    pub(crate) fn warnings(&self) -> Vec<Warning> {
        let mut found = Vec::new();
        let short = self.runs.iter().filter(|run| !run.is_long()).map(|run| run.passages.len()).sum();
        if short > 0 {
            let (stand, no) = if short == 1 { ("stands", "it") } else { ("stand", "them") };
            found.push(Warning::new(
                Code::TooShort,
                format!(
                    "{} of less than a minute {stand} alone: nothing was looked for in {no}. For single short recordings use \
                     session.",
                    count(short, "recording", "recordings")
                ),
            ));
        }
        let guessed =
            self.night.passages.iter().filter(|passage| passage.start_from == StartFrom::FileTime).count();
        if guessed > 0 {
            found.push(Warning::new(
                Code::Guessed,
                format!(
                    "the start of {} is told by nothing but the file's date, which copying changes: put date and time into the \
                     name, or `started` into a session.toml.",
                    count(guessed, "recording", "recordings")
                ),
            ));
        }
        found.extend(self.log_elsewhere());
        found
    }

    /// A log that does not touch the night can explain nothing.
    fn log_elsewhere(&self) -> Option<Warning> {
        let entries = self.log?;
        let (first, last) = entries.first().zip(entries.last())?;
        if entries.iter().any(|entry| recurrence::is_within(entry, self.night.duration_s())) {
            return None;
        }
        let [from, to] = [first.at_s, last.at_s].map(|at_s| self.night.time_of(at_s).replace('T', " "));
        Some(Warning::new(
            Code::Label,
            format!(
                "none of the log's {} lies within the night (the log: {from} to {to}), so it explains nothing: check its \
                 date and time zone.",
                count(entries.len(), "entry", "entries")
            ),
        ))
    }

    fn carrier(&self, line: &Followed) -> NightCarrier {
        let near =
            |hz: f64| [line.place_hz.0, line.place_hz.1].iter().any(|place| (place - hz).abs() < SAME_LINE_HZ);
        let shows = |one: &Compared| {
            one.spotted.start_s < line.last_s
                && one.spotted.end_s > line.first_s
                && one.contrast.added_lines.iter().any(|added| near(added.freq_hz))
        };
        let episodes = self.episodes.iter().enumerate();
        NightCarrier {
            first_hz: line.place_hz.0,
            last_hz: line.place_hz.1,
            first_s: line.first_s,
            last_s: line.last_s,
            stood_s: line.stood_s,
            level_dbfs: line.power.map(|power| Dbfs::from_mean_square(power.max(f64::MIN_POSITIVE)).0),
            episodes: episodes.filter(|(_, one)| shows(one)).map(|(at, _)| at + 1).collect(),
        }
    }

    pub(crate) fn facts(&self) -> NightFacts {
        let night = self.night;
        let minutes = night.minutes();
        let mut medians: Vec<f64> = minutes.iter().map(|minute| minute.noise[1]).collect();
        let level = |power: f64| Dbfs::from_mean_square(power).0;
        let of_minutes = |medians: &mut Vec<f64>| [0.1, 0.5, 0.9].map(|q| level(quantile(medians, q)));
        NightFacts {
            start: self.night.time_of(0.0),
            end: self.night.time_of(night.duration_s()),
            clock: night.clock,
            gain_fixed: self.gain_fixed,
            duration_s: night.duration_s(),
            unread_s: night.unread_s,
            recorded_s: covered_s(night.passages.iter().map(|p| (p.start_s, p.start_s + p.duration_s)).collect()),
            searched_s: self.searched_s(),
            noisy_s: covered_s(self.episodes.iter().map(|one| (one.spotted.start_s, one.spotted.end_s)).collect()),
            noise_dbfs: (!medians.is_empty()).then(|| of_minutes(&mut medians)),
            recordings: self.recordings(),
            joins: night
                .joins
                .iter()
                .map(|join| NightJoin {
                    recording: recording_id(join.at),
                    gap_s: join.gap_s,
                    told: join.to_string(),
                })
                .collect(),
            minutes: minutes.iter().map(minute).collect(),
            carriers: self.carriers.iter().take(MOST_CARRIERS).map(|line| self.carrier(line)).collect(),
            switch_log: self
                .log
                .map(|entries| recurrence::held_against(self.episodes, entries, night.duration_s())),
        }
    }

    fn recordings(&self) -> Vec<NightRecording> {
        let passages = self.night.passages.iter().enumerate();
        passages
            .map(|(at, passage)| NightRecording {
                id: recording_id(at),
                file: passage.file.clone(),
                start: self.night.time_of(passage.start_s),
                start_from: passage.start_from,
                start_s: passage.start_s,
                duration_s: passage.duration_s,
                sample_rate_hz: passage.facts.sample_rate_hz,
                codec: passage.facts.codec.clone(),
                channels: passage.facts.channels,
                channel_used: passage.account.channel_used.clone(),
                passband_hz: [passage.passband.low_hz, passage.passband.high_hz],
                warnings: of_recording(passage),
            })
            .collect()
    }
}

fn minute(minute: &Minute) -> NightMinute {
    let [low_dbfs, median_dbfs, high_dbfs] = minute.noise.map(|power| Dbfs::from_mean_square(power).0);
    NightMinute {
        at_s: minute.at_s,
        low_dbfs,
        median_dbfs,
        high_dbfs,
        busy_share: minute.busy_share,
        clipped: minute.clipped,
        hole_s: minute.hole_s,
    }
}
