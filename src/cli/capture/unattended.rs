//! Without anyone to ask: a command switches, or the user has a fixed time for it; each take is recorded once.

use std::thread;
use std::time::{Duration, Instant};

use super::switch::Switch;
use super::{Outcome, Walk};
use crate::capture::CHECKS;
use crate::cli::{Exit, interrupt};
use crate::text::wrapped;

/// Time to settle after a command has switched, where nothing is said (chosen), s.
pub const SETTLE_S: f64 = 5.0;

/// Walks through the takes that are missing; whether it came to the end. Whatever ends it, everything is switched
/// off.
pub fn run(walk: &mut Walk, switch: Option<&Switch>, settle_s: f64) -> anyhow::Result<bool> {
    let outcome = takes(walk, switch, settle_s);
    let off = switch.map_or(Ok(()), Switch::all_off);
    // What went wrong first is what the user must hear of.
    let is_complete = outcome?;
    off.map(|()| is_complete)
}

fn takes(walk: &mut Walk, switch: Option<&Switch>, settle_s: f64) -> anyhow::Result<bool> {
    if !check(walk, switch, settle_s)? {
        return Ok(false);
    }
    let count = walk.plan.takes.len();
    for take in walk.missing()? {
        let time = if switch.is_none() { format!(" You have {settle_s:.0} s.") } else { String::new() };
        walk.console
            .say(&wrapped(&format!("Take {} of {count}: ", take.number), &format!("{}{time}", take.before)));
        if let Some(switch) = switch {
            switch.turn(&take)?;
        }
        if !settled(settle_s) {
            return Ok(false);
        }
        match walk.record(&take)? {
            Outcome::Kept(_) => {}
            Outcome::Refused(why) => {
                walk.console.say(&wrapped("  ! ", &why));
                walk.worst = Exit::Partly;
            }
            Outcome::Over(why) => {
                walk.console.say(&wrapped("  ", &why));
                return Ok(false);
            }
        }
    }
    Ok(true)
}

/// The receiver check, where one is planned and not made; whether to go on.
fn check(walk: &mut Walk, switch: Option<&Switch>, settle_s: f64) -> anyhow::Result<bool> {
    let missing = walk.missing_checks();
    for take in &missing {
        let time = if switch.is_none() { format!(" You have {settle_s:.0} s.") } else { String::new() };
        let lead = format!("Check {} of {CHECKS}: ", take.number);
        walk.console.say(&wrapped(&lead, &format!("{}{time}", take.before)));
        if let Some(switch) = switch {
            switch.attenuate(take.is_attenuated)?;
        }
        if !settled(settle_s) {
            return Ok(false);
        }
        match walk.record_check(take)? {
            None | Some(Outcome::Kept(_)) => {}
            Some(Outcome::Refused(why)) => {
                walk.console.say(&wrapped("  ! ", &why));
                walk.worst = Exit::Partly;
            }
            Some(Outcome::Over(why)) => {
                walk.console.say(&wrapped("  ", &why));
                return Ok(false);
            }
        }
    }
    if !missing.is_empty() {
        walk.say_check();
    }
    Ok(true)
}

/// Waits; false where the user wants to stop.
fn settled(seconds: f64) -> bool {
    let begun = Instant::now();
    while begun.elapsed().as_secs_f64() < seconds {
        if interrupt::asked() {
            return false;
        }
        thread::sleep(Duration::from_millis(50));
    }
    !interrupt::asked()
}
