//! A night's whole way: recordings in order of time, gone through once, each stretch in which a noise was there
//! compared with the quiet beside it, all of it put into the contract's words and into figures.
//!
//! Not here: the pass itself (`night`), what makes a comparison (`contrast`).

use std::path::Path;

use crate::audio::ChannelChoice;
use crate::contrast::comparison::ContrastResult;
use crate::findings::known_noise::folder::KnownNoises;
use crate::labels::Dated;
use crate::night::{self, Cache, NightError, NightSettings, StartFrom, Timeline, switch_log};
use crate::report::contract::Report;
use crate::signal::spectrum::Passband;
use crate::units::counted;
use crate::warning::{Code, Trust, Warning};

use crate::night::compare::Comparing;
use crate::night::motion::Quiet;
use crate::night::pieces::{Sides, choose};
use crate::night::runs::{Run, Spotted, in_order, runs, spot};
use crate::night::standing::{carriers, standing};

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
    pub fn of<W: night::Watch + super::Watch>(
        files: &[Dated],
        title: &str,
        wishes: &NightWishes,
        cache: Option<&Cache>,
        watch: &W,
    ) -> Result<Self, NightError> {
        let settings = NightSettings { passband: wishes.passband, channel: wishes.channel };
        let timeline = night::timeline_with(files, &settings, watch, cache)?;
        // Its times of day are those of the night, so it can't be read before; it is, before the long work begins.
        let log = wishes.log.as_deref().map(|text| switch_log::read(text, timeline.origin, 0.0)).transpose()?;
        let runs = runs(&timeline);
        let channels: Vec<ChannelChoice> =
            timeline.passages.iter().map(|passage| channel_of(files, &passage.path, wishes.channel)).collect();
        let mut spotted = spot(&timeline, &runs);
        spotted.extend(standing(&timeline, &runs, &spotted, &channels));
        in_order(&mut spotted);
        let mut sides: Vec<Sides> =
            (0..spotted.len()).map(|place| choose(&timeline, &runs, &spotted, place)).collect();
        let mains_hz = wishes.mains_hz.unwrap_or(super::measuring::USUAL_MAINS_HZ);
        let quiet = Quiet::of(&timeline, &runs, &spotted);
        watch.begin("comparing", spotted.len());
        let comparing = Comparing {
            night: &timeline,
            channels: &channels,
            mains_hz,
            quiet: &quiet,
            known: wishes.known.as_ref(),
        };
        let mut contrasts = comparing.all(&sides, || super::Watch::done(watch, ""));
        keep_heard(&mut spotted, &mut sides, &mut contrasts);
        let report = crate::night::results::report(&crate::night::results::Told {
            night: &timeline,
            title,
            mains_hz,
            spotted: &spotted,
            sides: &sides,
            searched: runs.iter().filter(|run| run.is_long()).map(|run| run.span_s).collect(),
            contrasts,
            carriers: carriers(&timeline, &runs),
            log: log.as_deref(),
            warnings: warnings(&timeline, &runs),
        });
        Ok(Self { timeline, report })
    }

    /// Draws the report's pictures into `dir` and lists them in the report.
    ///
    /// # Errors
    /// A picture that can't be written; [`super::Stopped`].
    pub fn draw_into(&mut self, dir: &Path, watch: &dyn super::Watch) -> anyhow::Result<()> {
        // Words on pictures keep no path either.
        self.report = self.report.readable();
        watch.begin("drawing", crate::night::pictures::count(&self.report));
        let drawn = crate::night::pictures::draw(self, dir, |file| watch.done(file))?;
        if watch.is_stopped() {
            return Err(super::Stopped.into());
        }
        self.report.figures = drawn;
        Ok(())
    }

    /// Whether every recording was used and no episode's comparison is void.
    pub fn is_whole(&self) -> bool {
        self.report.left_out.is_empty()
            && self.report.episodes.iter().all(|episode| episode.contrast.trust != Trust::Void)
    }
}

/// What was spotted by its lines alone is an episode only if the comparison has them too: it looks at quarters of a second,
/// and so tells a line that stands from one that flutters.
fn keep_heard(spotted: &mut Vec<Spotted>, sides: &mut Vec<Sides>, contrasts: &mut Vec<ContrastResult>) {
    let heard: Vec<bool> = spotted
        .iter()
        .zip(&*contrasts)
        .map(|(one, contrast)| one.jump_db.is_some() || !contrast.added_lines.is_empty())
        .collect();
    let mut keep = [heard.iter(), heard.iter(), heard.iter()];
    let [of_spotted, of_sides, of_contrasts] = &mut keep;
    spotted.retain(|_| of_spotted.next() == Some(&true));
    sides.retain(|_| of_sides.next() == Some(&true));
    contrasts.retain(|_| of_contrasts.next() == Some(&true));
    for (place, contrast) in contrasts.iter_mut().enumerate() {
        contrast.id = crate::night::compare::episode_id(place);
    }
}

/// The channel that a recording was gone through with; its words were understood then.
fn channel_of(files: &[Dated], path: &Path, wished: ChannelChoice) -> ChannelChoice {
    let dated = files.iter().find(|dated| dated.path == path);
    dated.and_then(|dated| dated.channel.as_deref()?.parse().ok()).unwrap_or(wished)
}

/// What concerns the night as a whole.
fn warnings(night: &Timeline, runs: &[Run]) -> Vec<Warning> {
    let mut found = Vec::new();
    let short = runs.iter().filter(|run| !run.is_long()).map(|run| run.passages.len()).sum();
    if short > 0 {
        let (stand, no) = if short == 1 { ("stands", "it") } else { ("stand", "them") };
        found.push(Warning::new(
            Code::TooShort,
            format!(
                "{} of less than a minute {stand} alone: nothing was looked for in {no}. For single short recordings use \
                 session.",
                counted(short, "recording")
            ),
        ));
    }
    let guessed = night.passages.iter().filter(|passage| passage.start_from == StartFrom::FileTime).count();
    if guessed > 0 {
        found.push(Warning::new(
            Code::Guessed,
            format!(
                "the start of {} is told by nothing but the file's date, which copying changes: put date and time into the \
                 name, or `started` into a session.toml.",
                counted(guessed, "recording")
            ),
        ));
    }
    found
}
