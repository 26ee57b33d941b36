//! The takes of a receiver check, before those of the plan; what they show is said at once, while AGC can still be
//! switched off. `bench` and `unattended` ask or switch. Not here: the judgement (`findings::receiver_check`).

use std::fs;

use super::{Outcome, Walk, live_line, summary};
use crate::audio::ChannelChoice;
use crate::capture::{self, CHECK_DIR, CHECK_S, CheckTake, Ended, check_label, check_takes};
use crate::cli::{Exit, interrupt};
use crate::findings::receiver_check::of_recordings;
use crate::findings::receiver_check::words::sentences as receiver_check_sentences;
use crate::signal::measure::MeasureSettings;
use crate::text::wrapped;

impl Walk<'_> {
    /// The takes of the check still to be recorded.
    pub(super) fn missing_checks(&self) -> Vec<CheckTake> {
        let all = self.plan.words.receiver_check_db.map_or_else(Vec::new, check_takes);
        all.into_iter().filter(|take| !self.ledger.path(CHECK_DIR).join(&take.file).is_file()).collect()
    }

    /// Records one of them. `None`: it is there, whole; one that was broken off is not kept, it takes seconds to
    /// repeat.
    pub(super) fn record_check(&mut self, take: &CheckTake) -> anyhow::Result<Option<Outcome>> {
        let console = self.console;
        let show = |live: &capture::Live| console.live(&live_line(live));
        let dir = self.ledger.path(CHECK_DIR);
        fs::create_dir_all(&dir)?;
        let recorded = capture::record(&mut self.pump, &dir, &take.file, CHECK_S, None, interrupt::asked, show)?;
        console.live("");
        let is_clipped = recorded.live.is_some_and(|live| live.is_clipped);
        if recorded.ended == Ended::Whole && !is_clipped {
            self.ledger.keep_check(&recorded.path, &take.file)?;
            if let Some(live) = &recorded.live {
                console.say(&format!("  {CHECK_DIR}/{}\n  {}", take.file, summary(live)));
            }
            return Ok(None);
        }
        fs::remove_file(&recorded.path)?;
        Ok(Some(match recorded.ended {
            Ended::Stopped => Outcome::Over("stopped by hand; this take of the check is not kept.".to_owned()),
            Ended::NoMore(why) => Outcome::Over(format!("{why}; this take of the check is not kept.")),
            Ended::Silent => Outcome::Refused("only silence came; nothing was kept.".to_owned()),
            Ended::Whole => Outcome::Refused(
                "the tops are cut off; nothing was kept. Turn the recorder's level down, and leave it there."
                    .to_owned(),
            ),
        }))
    }

    /// What the check shows so far: the dummy load comes last.
    pub(super) fn say_check(&mut self) {
        let Some(attenuator_db) = self.plan.words.receiver_check_db else { return };
        let usual = MeasureSettings::default();
        let settings = MeasureSettings { mains_hz: self.plan.words.mains_hz.unwrap_or(usual.mains_hz), ..usual };
        let label = check_label(attenuator_db, &self.ledger.path(""));
        let (result, warnings) = of_recordings(&label, &[], ChannelChoice::Auto, &settings);
        self.console.say(&wrapped("  ", &receiver_check_sentences(&result)));
        warnings.iter().for_each(|w| self.console.say(wrapped("  ! ", &w.message).trim_end()));
        if !warnings.is_empty() {
            self.worst = Exit::Partly;
        }
    }
}
