//! A night's whole way: recordings in order of time, gone through once, each stretch in which a noise was there
//! compared with the quiet beside it, all of it put into the contract's words and into figures.
//!
//! Not here: the pass itself (`night`), what makes a comparison (`contrast`).

mod compare;
mod listen;
mod pieces;
mod results;
mod runs;

use crate::audio::ChannelChoice;
use crate::night::{self, NightError, NightSettings, Timeline};
use crate::report::contract::Report;
use crate::session::Dated;
use crate::spectrum::Passband;

use compare::Comparing;
use pieces::{Sides, choose};
use runs::{runs, spot};

/// What the user may lay down over what labels and sound tell.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct NightWishes {
    /// Passband.
    pub passband: Option<Passband>,
    /// Mains frequency.
    pub mains_hz: Option<f64>,
    /// Channel of recordings whose manifest names none.
    pub channel: ChannelChoice,
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
    /// None of the recordings can be used, or whoever watches ended it.
    pub fn of<W: night::Watch + super::Watch>(
        files: &[Dated],
        title: &str,
        wishes: &NightWishes,
        watch: &W,
    ) -> Result<Self, NightError> {
        let settings = NightSettings { passband: wishes.passband, channel: wishes.channel };
        let timeline = night::timeline(files, &settings, watch)?;
        let runs = runs(&timeline);
        let spotted = spot(&timeline, &runs);
        let sides: Vec<Sides> = (0..spotted.len()).map(|place| choose(&timeline, &runs, &spotted, place)).collect();
        let mains_hz = wishes.mains_hz.unwrap_or(super::USUAL_MAINS_HZ);
        let channels: Vec<ChannelChoice> =
            timeline.passages.iter().map(|passage| channel_of(files, &passage.file, wishes.channel)).collect();
        watch.begin("comparing", spotted.len());
        let comparing = Comparing { night: &timeline, channels: &channels, mains_hz };
        let contrasts = comparing.all(&sides, || super::Watch::done(watch, ""));
        let report = results::report(&results::Told {
            night: &timeline,
            title,
            mains_hz,
            spotted: &spotted,
            sides: &sides,
            contrasts,
        });
        Ok(Self { timeline, report })
    }

    /// Whether every recording was used and no episode's comparison is void.
    pub fn is_whole(&self) -> bool {
        self.report.left_out.is_empty()
            && self.report.episodes.iter().all(|episode| episode.contrast.trust != crate::health::Trust::Void)
    }
}

/// The channel that a recording was gone through with; its words were understood then.
fn channel_of(files: &[Dated], file: &str, wished: ChannelChoice) -> ChannelChoice {
    let dated = files.iter().find(|dated| dated.file == file);
    dated.and_then(|dated| dated.channel.as_deref()?.parse().ok()).unwrap_or(wished)
}
