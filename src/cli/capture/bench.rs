//! With a listener at the terminal: says what to switch, waits, records, and asks what to do with the take.

use super::terminal::Terminal;
use super::{Kept, Outcome, Walk};
use crate::capture::{CHECKS, Take};
use crate::cli::{Exit, interrupt};
use crate::text::wrapped;

const BEFORE: &str = "  [Enter] record   s skip   q stop > ";
const AFTER: &str = "  [Enter] next   a again   n WORDS note   m S5 meter   q stop > ";
const FAULTY: &str = "  a again (advised)   [Enter] keep it, next   n WORDS   m S5   q stop > ";
const REFUSED: &str = "  [Enter] try again   s skip   q stop > ";

/// What the user wants next.
enum Wish {
    Next,
    Again,
    Stop,
}

/// Walks through the takes that are missing; whether it came to the end with all of them recorded or skipped.
pub fn run(walk: &mut Walk, terminal: &mut Terminal) -> anyhow::Result<bool> {
    if !check(walk, terminal)? {
        return Ok(false);
    }
    let count = walk.plan.takes.len();
    for take in walk.missing()? {
        walk.console.say(&wrapped(&format!("\nTake {} of {count}: ", take.number), &take.before));
        let mut prompt = BEFORE;
        loop {
            match terminal.ask(prompt, walk.console)?.as_ref().map(|(word, _)| word.as_str()) {
                None | Some("q") => return Ok(false),
                Some("s") => {
                    walk.worst = Exit::Partly;
                    break;
                }
                Some("") => {}
                Some(_) => continue,
            }
            // Ctrl-C while a take runs asks it to end and be kept; elsewhere it ends the program.
            match interrupt::writing(|| walk.record(&take))? {
                Outcome::Over(why) => {
                    walk.console.say(&wrapped("  ", &why));
                    return Ok(false);
                }
                Outcome::Refused(why) => {
                    walk.console.say(&wrapped("  ! ", &why));
                    prompt = REFUSED;
                    continue;
                }
                Outcome::Kept(kept) => match judged(walk, terminal, &take, kept)? {
                    Wish::Next => break,
                    Wish::Again => prompt = BEFORE,
                    Wish::Stop => return Ok(false),
                },
            }
        }
    }
    Ok(true)
}

/// The receiver check, where one is planned and not made; whether to go on.
fn check(walk: &mut Walk, terminal: &mut Terminal) -> anyhow::Result<bool> {
    let missing = walk.missing_checks();
    for take in &missing {
        walk.console.say(&wrapped(&format!("\nCheck {} of {}: ", take.number, CHECKS), &take.before));
        let mut prompt = BEFORE;
        loop {
            match terminal.ask(prompt, walk.console)?.as_ref().map(|(word, _)| word.as_str()) {
                None | Some("q") => return Ok(false),
                // Half a check is none.
                Some("s") => return Ok(true),
                Some("") => {}
                Some(_) => continue,
            }
            match interrupt::writing(|| walk.record_check(take))? {
                None => break,
                Some(Outcome::Over(why)) => {
                    walk.console.say(&wrapped("  ", &why));
                    return Ok(false);
                }
                Some(Outcome::Refused(why)) => {
                    walk.console.say(&wrapped("  ! ", &why));
                    prompt = REFUSED;
                }
                // A take of the check is never kept as a part.
                Some(Outcome::Kept(_)) => break,
            }
        }
    }
    if !missing.is_empty() {
        walk.say_check();
    }
    Ok(true)
}

/// Asks about a take that lies on disk already.
fn judged(walk: &mut Walk, terminal: &mut Terminal, take: &Take, mut kept: Kept) -> anyhow::Result<Wish> {
    let prompt = if kept.is_faulty { FAULTY } else { AFTER };
    loop {
        let Some((word, rest)) = terminal.ask(prompt, walk.console)? else { return Ok(Wish::Stop) };
        match word.as_str() {
            "" => return Ok(Wish::Next),
            "a" => return Ok(Wish::Again),
            "q" => return Ok(Wish::Stop),
            "n" if !rest.is_empty() => kept.facts.note = Some(rest),
            "m" if !rest.is_empty() => kept.facts.meter = Some(rest),
            _ => continue,
        }
        interrupt::writing(|| walk.ledger.label(take, &kept.file, &kept.facts))?;
    }
}
