//! A night's whole way: recordings in order of time, gone through once, each stretch in which a noise was there
//! compared with the quiet beside it, all of it put into the contract's words and into figures.
//!
//! Not here: the pass itself (`night`), what makes a comparison (`contrast`).

use std::path::Path;
use std::time::{Duration, Instant};

use crate::audio::{ChannelChoice, Lost};
use crate::findings::known_noise::folder::KnownNoises;
use crate::findings::listening::result::Listening;
use crate::findings::picture::draw_all;
use crate::labels::facts::{LeftOut, SessionFacts};
use crate::labels::{Dated, tells_agc, tells_fixed_gain};
use crate::night::clicks;
use crate::night::compared::Comparing;
use crate::night::compared::listen::channels;
use crate::night::compared::motion::Quiet;
use crate::night::episodes::runs::{in_order, runs, spot};
use crate::night::figures::{Shown, figures};
use crate::night::gather::Gathered;
use crate::night::lines::standing::{carriers, standing};
use crate::night::recurrence::switch_log;
use crate::night::{self, NightError, NightSettings, Timeline};
use crate::report::contract::{Report, Tool};
use crate::report::night::brief::finding;
use crate::signal::spectrum::Passband;
use crate::text::db;
use crate::watch::Watch;

/// What the user may lay down over what labels and sound tell.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct NightWishes {
    /// Passband.
    pub passband: Option<Passband>,
    /// Mains frequency.
    pub mains_hz: Option<f64>,
    /// Channel of recordings whose manifest names none.
    pub channel: ChannelChoice,
    /// Noises to hold each episode against.
    pub known: Option<KnownNoises>,
    /// Text of a log of what was switched when.
    pub log: Option<String>,
}

/// A night gone through and judged.
pub struct Night {
    /// What was measured.
    pub timeline: Timeline,
    /// All of it in the contract's words; no figures yet.
    pub report: Report,
}

impl Night {
    /// Does the work. A recording that can't be used is named in the report; the others are done.
    ///
    /// # Errors
    /// None of the recordings can be used, the log can't be read, or whoever watches ended it.
    pub fn of(files: &[Dated], title: &str, wishes: &NightWishes, watch: &dyn Watch) -> Result<Self, NightError> {
        let settings = NightSettings { passband: wishes.passband, channel: wishes.channel };
        let mut on_the_way = OnTheWay { watch, next: Instant::now() + FIRST_WORD, told_s: 0.0 };
        let timeline = night::read_telling(files, &settings, watch, &mut |so_far| on_the_way.tell(so_far))?;
        // Its times of day are those of the night, so it can't be read before; it is, before the long work begins.
        let log = wishes.log.as_deref().map(|text| switch_log::read(text, timeline.origin, 0.0)).transpose()?;
        let runs = runs(&timeline);
        let channels = channels(files, &timeline, wishes.channel);
        let mut spotted = spot(&timeline, &runs);
        let (lines, clicks) = rayon::join(
            || standing(&timeline, &runs, &spotted, &channels),
            || clicks::spot(&timeline, &runs, &spotted),
        );
        spotted.extend(lines.into_iter().chain(clicks));
        in_order(&mut spotted);
        let mains_hz = wishes.mains_hz.unwrap_or(super::measuring::USUAL_MAINS_HZ);
        watch.begin("comparing", spotted.len());
        let comparing = Comparing {
            night: &timeline,
            channels: &channels,
            mains_hz,
            quiet: &Quiet::of(&timeline, &runs, &spotted),
            known: wishes.known.as_ref(),
        };
        let (episodes, carriers) =
            rayon::join(|| comparing.all(spotted, &runs, || watch.done("")), || carriers(&timeline, &runs));
        let gathered = Gathered {
            night: &timeline,
            runs: &runs,
            episodes: &episodes,
            carriers,
            log: log.as_deref(),
            gain_fixed: gain_fixed(files),
        };
        let station = files.iter().find_map(|file| file.station.clone());
        let session = SessionFacts { title: title.to_owned(), mains_hz, station };
        let report = report(&gathered, session);
        Ok(Self { timeline, report })
    }

    /// Recordings of which a part is missing: name, and what is missing.
    pub fn not_whole(&self) -> impl Iterator<Item = (&str, &str)> {
        self.timeline.passages.iter().filter_map(|passage| {
            let how = passage.account.cut_short.as_deref().filter(|_| passage.account.lost != Lost::Nothing)?;
            Some((passage.file.as_str(), how))
        })
    }

    /// Draws the report's pictures into `dir` and lists them in the report. Texts need neither levels nor spectra
    /// any more: those are let go of.
    ///
    /// # Errors
    /// A picture that can't be written; [`crate::watch::Stopped`].
    pub fn draw_into(&mut self, dir: &Path, watch: &dyn Watch) -> anyhow::Result<()> {
        // Words on pictures keep no path either.
        self.report = self.report.published();
        let Report { session, night, episodes, sources, .. } = &self.report;
        let Some(facts) = night else { return Ok(()) };
        let finding = finding(&self.report, facts);
        let shown = Shown { finding, title: &session.title, facts, episodes, sources };
        self.report.figures = draw_all(&figures(&self.timeline, &shown), dir, watch)?;
        for passage in &mut self.timeline.passages {
            (passage.steps, passage.rows, passage.ticks) = Default::default();
        }
        Ok(())
    }

    /// Whether every recording was used and no episode's comparison is void.
    pub fn is_whole(&self) -> bool {
        self.not_whole().next().is_none()
            && self.report.left_out.is_empty()
            && self.report.episodes.iter().all(|episode| !episode.contrast.is_void())
    }
}

/// Nothing is told on the way before this: a night that is gone through sooner has its report by then. Chosen.
const FIRST_WORD: Duration = Duration::from_secs(2);
/// Looking for what to tell takes at most this share of the time. Chosen: it hardly costs.
const SHARE_OF_LOOKING: u32 = 20;
/// What ended this long before the end of what was read stays as it is told; s. Chosen: much longer than the edges of
/// a change are looked for on either side.
const SETTLED_S: f64 = 600.0;

/// Tells of noises that came and went while the night is still being read.
struct OnTheWay<'a> {
    watch: &'a dyn Watch,
    next: Instant,
    told_s: f64,
}

impl OnTheWay<'_> {
    fn tell(&mut self, so_far: &Timeline) {
        let begun = Instant::now();
        if begun < self.next {
            return;
        }
        let until_s = so_far.duration_s() - SETTLED_S;
        for one in spot(so_far, &runs(so_far)) {
            let Some(jump_db) = one.jump_db.filter(|_| one.start_s >= self.told_s && one.end_s <= until_s) else {
                continue;
            };
            let [from, to] = [one.start_s, one.end_s].map(|at_s| so_far.time_of(at_s).replace('T', " "));
            self.watch.found(&format!("{from} to {to}: the noise rose by {}", db(jump_db)));
            self.told_s = one.end_s;
        }
        let now = Instant::now();
        self.next = now + SHARE_OF_LOOKING * (now - begun);
    }
}

/// Whether the gain was fixed, by the labels of all recordings.
fn gain_fixed(files: &[Dated]) -> Option<bool> {
    let labels = || files.iter().map(|file| file.gain.as_deref().unwrap_or_default());
    match labels().any(tells_agc) {
        true => Some(false),
        false => labels().all(tells_fixed_gain).then_some(true),
    }
}

/// The night's results, without figures.
fn report(gathered: &Gathered<'_>, session: SessionFacts) -> Report {
    let left_out = gathered.night.left_out.iter();
    let facts = gathered.facts();
    Report {
        schema: 1,
        tool: Tool::this(),
        session,
        settings: Vec::new(),
        recordings: Vec::new(),
        device_bands: Vec::new(),
        places: Vec::new(),
        ranking: None,
        other_rankings: Vec::new(),
        receiver_check: None,
        described: Vec::new(),
        contrasts: Vec::new(),
        ladders: Vec::new(),
        budget: Vec::new(),
        joint: Vec::new(),
        switching_combs: Vec::new(),
        switching_combs_refused: Vec::new(),
        episodes: gathered.episodes(),
        sources: gathered.sources(facts.switch_log.as_ref()),
        night: Some(facts),
        listening: Listening::default(),
        left_out: left_out.map(|one| LeftOut { file: one.file.clone(), reason: one.reason.clone() }).collect(),
        figures: Vec::new(),
        warnings: gathered.warnings(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_gain_was_fixed_where_all_labels_say_so() {
        let told = |gains: &[Option<&str>]| {
            let dated = |gain: &Option<&str>| Dated {
                file: "a.wav".into(),
                path: "a.wav".into(),
                start: None,
                channel: None,
                gain: gain.map(str::to_owned),
                station: None,
            };
            gain_fixed(&gains.iter().map(dated).collect::<Vec<_>>())
        };
        assert_eq!(told(&[Some("AGC off, RF gain 60"), Some("manual")]), Some(true));
        assert_eq!(told(&[Some("AGC off"), None]), None);
        assert_eq!(told(&[Some("AGC off"), Some("AGC fast")]), Some(false));
    }
}
