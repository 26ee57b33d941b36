//! `capture`: walks through a plan at the bench, take by take. `bench` asks, `unattended` switches by itself.
//!
//! Sound comes on standard input or from a card (`source`); as it may be the former, keys come from the terminal
//! itself. Not here: recording (`crate::capture`).

pub mod args;
mod bench;
pub mod plan_args;
mod receiver_check;
mod source;
mod switch;
mod terminal;
mod unattended;

use anyhow::{Context, bail};

use super::output::Console;
use super::session::SessionArgs;
use super::{Exit, interrupt, session, sheet};
use crate::capture::{self, Ended, Facts, Ledger, Live, Lock, Plan, Pump, Recorded, Take};
use crate::labels::{State, typed};
use crate::text::{count, wrapped};
use crate::units::{Db, Dbfs};
use crate::warning::Code;
use args::CaptureArgs;
use switch::Switch;
use terminal::Terminal;

/// An on take this much quieter than off is worth a question, dB (chosen).
const MIXED_UP_DB: f64 = -1.0;
/// Off takes that differ by more than this, and by more than noise does, are worth a word, dB (chosen).
const JUMP_DB: f64 = 1.0;

/// Runs the command.
pub fn run(args: &CaptureArgs, console: &Console) -> anyhow::Result<Exit> {
    if args.list_cards {
        console.result(&source::list_cards()?)?;
        return Ok(Exit::Done);
    }
    let plan = plan(args)?;
    let switch = args.switch_command.as_deref().map(Switch::of).transpose()?;
    let terminal = if switch.is_none() { Terminal::open() } else { None };
    if switch.is_none() && terminal.is_none() && args.settle.is_none() {
        bail!(
            "there is no terminal to ask at. Nothing was recorded.\n  try: --switch-command \"COMMAND \
             {{state}}\" for a relay, or --settle SECONDS to switch by hand in that time"
        );
    }
    source::check(args)?;
    std::fs::create_dir_all(args.dir())
        .with_context(|| format!("{}: the folder can't be made", args.dir().display()))?;
    let _lock = Lock::of(args.dir())?;
    let (ledger, found) = interrupt::writing(|| Ledger::open(args.dir(), &plan))?;
    if sheet::read_plan(args.dir())?.is_none() {
        interrupt::writing(|| sheet::write_plan(args.dir(), &plan))?;
    }
    if !args.no_report {
        let out = session::out_folder(args.out.as_deref(), args.dir())?;
        session::check_out(&out, false, console)?;
    }
    found.iter().for_each(|found| console.say(&wrapped("  ", found)));
    let pump = source::open(args, console)?;
    let format = pump.format();
    let mut walk = Walk { plan: &plan, ledger, pump, last_off: None, worst: Exit::Done, console };
    console.say(&format!(
        "{} takes of {:.0} s, {} samples a second, {} into {}\n",
        plan.takes.len(),
        plan.seconds,
        format.rate_hz,
        if format.channels == 1 { "mono".to_owned() } else { format!("{} channels", format.channels) },
        args.dir().display()
    ));
    capture::walk_cautions(&plan.words).iter().for_each(|caution| console.say(&wrapped("  ", caution)));
    let settle = args.settle.unwrap_or(unattended::SETTLE_S);
    let is_complete = match terminal {
        Some(mut terminal) => bench::run(&mut walk, &mut terminal)?,
        None => interrupt::writing(|| unattended::run(&mut walk, switch.as_ref(), settle))?,
    };
    let worst = walk.worst;
    if !is_complete {
        let stopped = format!(
            "Stopped. What was recorded is safe in {}. The same command goes on from here; without the missing \
             takes:",
            args.dir().display()
        );
        // The command in a line of its own, which nothing breaks.
        console.say(&format!("{}\n  noisetally session {}", wrapped("", &stopped).trim_end(), typed(args.dir())));
        return Ok(if interrupt::asked() { Exit::Stopped } else { Exit::Partly });
    }
    if args.no_report {
        return Ok(worst);
    }
    let report = session::run(&SessionArgs::of(args.dir().to_owned(), args.out.clone()), console)?;
    Ok(if report == Exit::Done { worst } else { report })
}

/// The plan that lies in the folder, or the one typed; both only where they are the same.
fn plan(args: &CaptureArgs) -> anyhow::Result<Plan> {
    let typed = args.words.words();
    match (sheet::read_plan(args.dir())?, typed) {
        (Some(plan), None) => Ok(plan),
        (Some(plan), Some(typed)) if plan.words == typed => Ok(plan),
        (Some(_), Some(_)) => bail!(
            "{}: there is another plan already. Nothing was recorded.\n  try: no words of a plan, to follow the \
             one that is there; or another folder",
            args.dir().join(capture::PLAN).display()
        ),
        (None, typed) => Plan::of(typed.unwrap_or_default()).context("no plan can be made"),
    }
}

/// What goes on from take to take.
struct Walk<'a> {
    plan: &'a Plan,
    ledger: Ledger<'a>,
    pump: Pump,
    last_off: Option<Dbfs>,
    worst: Exit,
    console: &'a Console,
}

/// A take as it lies on disk.
struct Kept {
    file: String,
    facts: Facts,
    /// Whether anything speaks against it.
    is_faulty: bool,
}

/// How a take went.
enum Outcome {
    /// It is there, whole.
    Kept(Kept),
    /// There was nothing to keep; why, and what to do.
    Refused(String),
    /// A part was kept, or nothing; no more can come.
    Over(String),
}

impl Walk<'_> {
    /// The takes still to be recorded. The last off take before the first of them is what it is compared with.
    fn missing(&mut self) -> anyhow::Result<Vec<Take>> {
        let mut missing = Vec::new();
        for take in &self.plan.takes {
            if !self.ledger.is_done(take)? {
                missing.push(take.clone());
            } else if missing.is_empty() && take.state == State::Off {
                self.last_off = capture::noise_of(&self.ledger.path(&take.file)).unwrap_or(self.last_off);
            }
        }
        let done = self.plan.takes.len() - missing.len();
        if done > 0 && !missing.is_empty() {
            self.console.say(&format!(
                "{} {} there already; going on with take {}\n",
                count(done, "take", "takes"),
                if done == 1 { "is" } else { "are" },
                missing[0].number
            ));
        }
        Ok(missing)
    }

    /// Records a take, keeps it, and says what it shows.
    fn record(&mut self, take: &Take) -> anyhow::Result<Outcome> {
        let dir = self.ledger.path("");
        let console = self.console;
        let last_off = self.last_off.filter(|_| take.state != State::Terminated);
        let show = |live: &Live| console.live(&live_line(live));
        let seconds = self.plan.seconds;
        let recorded =
            capture::record(&mut self.pump, &dir, &take.file, seconds, last_off, interrupt::asked, show)?;
        console.live("");
        match &recorded.ended {
            Ended::Silent => {
                std::fs::remove_file(&recorded.path)?;
                Ok(Outcome::Refused(
                    "only silence came; nothing was kept. Check the lead, the recorder's input and the \
                     receiver's volume."
                        .to_owned(),
                ))
            }
            Ended::Whole => self.keep(take, &recorded, None).map(Outcome::Kept),
            Ended::Stopped => self.keep_part(take, &recorded, "stopped by hand"),
            Ended::NoMore(why) => self.keep_part(take, &recorded, why),
        }
    }

    fn keep_part(&mut self, take: &Take, recorded: &Recorded, why: &str) -> anyhow::Result<Outcome> {
        if !recorded.is_sound() {
            std::fs::remove_file(&recorded.path)?;
            return Ok(Outcome::Over(format!("{why}; of this take there was nothing to keep.")));
        }
        let part = format!("part of a take: {:.1} s of {:.0} s, {why}", recorded.seconds, self.plan.seconds);
        let kept = self.keep(take, recorded, Some(part))?;
        Ok(Outcome::Over(format!("{why}; {:.1} s were kept as {}.", recorded.seconds, kept.file)))
    }

    fn keep(&mut self, take: &Take, recorded: &Recorded, part: Option<String>) -> anyhow::Result<Kept> {
        let facts = Facts { started: recorded.started, part, ..Facts::default() };
        let file = self.ledger.keep(take, &recorded.path, &facts)?;
        let remarks = self.remarks(take, recorded, &file);
        if let Some(live) = &recorded.live {
            self.console.say(&format!("  {file}\n  {}", summary(live)));
            if take.state == State::Off && facts.part.is_none() {
                self.last_off = Some(live.noise);
            }
        }
        let is_faulty = !remarks.is_empty();
        remarks.iter().for_each(|remark| self.console.say(wrapped("  ! ", remark).trim_end()));
        if is_faulty {
            self.worst = Exit::Partly;
        }
        Ok(Kept { file, facts, is_faulty })
    }

    /// What speaks against a take, each with what to do.
    fn remarks(&self, take: &Take, recorded: &Recorded, file: &str) -> Vec<String> {
        let mut remarks = recorded.remarks.clone();
        match capture::faults(&self.ledger.path(file), self.plan.words.mains_hz) {
            // A narrow filter was chosen: no take recorded again will be wider.
            Ok(faults) => remarks.extend(
                faults.into_iter().filter(|fault| fault.code != Code::NarrowPassband).map(|fault| fault.message),
            ),
            Err(error) => remarks.push(format!("the take can't be read back ({error}). Record it again.")),
        }
        if let Some(Db(over)) = recorded.live.and_then(|live| live.over_off) {
            // What two takes of noise differ by in one of a thousand cases.
            let by_chance = self.plan.limit_db(1.0, 1, 0.0).max(JUMP_DB);
            if take.state == State::Off && over.abs() > by_chance {
                remarks.push(format!(
                    "off differs by {over:+.1} dB from the off take before: the band moved, or dial, gain, \
                     volume or antenna were touched. Look them over, and record it again."
                ));
            }
            if take.state == State::On && over < MIXED_UP_DB {
                remarks.push(format!(
                    "on is {:.1} dB quieter than off. Were off and on mixed up, is AGC on, was the volume \
                     touched? Look, and record it again.",
                    -over
                ));
            }
        }
        remarks
    }
}

/// At most 80 columns. Where tops are cut off, nothing else matters.
fn live_line(live: &Live) -> String {
    if live.is_clipped {
        return format!("{:.0} s left, CLIPS: turn the recorder's level down, begin all takes anew", live.left_s);
    }
    format!("{:.0} s, level {:.1}, {}", live.left_s, tenths(live.level.0), summary(live))
}

fn summary(live: &Live) -> String {
    let over = live.over_off.map_or_else(String::new, |Db(over)| format!(", over off {:+.1} dB", tenths(over)));
    format!("noise {:.1} dBFS, head-room {:.0} dB{over}", tenths(live.noise.0), live.head_room.0.max(0.0))
}

/// As it will be printed, without a negative zero.
fn tenths(db: f64) -> f64 {
    (db * 10.0).round() / 10.0 + 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_live_line_fits_a_screen() {
        let loud = Live {
            left_s: 3600.0,
            level: Dbfs(-100.5),
            head_room: Db(100.0),
            noise: Dbfs(-100.5),
            over_off: Some(Db(-100.5)),
            is_clipped: false,
        };
        for live in [loud, Live { is_clipped: true, ..loud }] {
            assert!(live_line(&live).chars().count() < 80, "{}", live_line(&live));
        }
        let even = Live { over_off: Some(Db(-0.04)), is_clipped: false, ..loud };
        assert!(summary(&even).ends_with("over off +0.0 dB"), "{}", summary(&even));
    }
}
