//! `weeks`: reports of nights, and what keeps to which hours, days and weather.

use std::path::PathBuf;

use clap::Args;

use super::Exit;
use super::options::ResultArgs;
use super::output::Console;
use super::session::{check_out_of, note_made, place_of};
use crate::report::Kind;
use crate::report::weeks::lines;
use crate::run::weeks;
use crate::text::{count, wrapped};

/// `weeks`
#[derive(Debug, Args)]
pub struct WeeksArgs {
    /// Report folders of nights
    #[arg(required = true, value_name = "REPORT")]
    pub reports: Vec<PathBuf>,
    /// A table (CSV) of what held when, such as rain: a line each, from, until, word
    #[arg(long, value_name = "FILE")]
    pub conditions: Option<PathBuf>,
    /// What becomes of the result.
    #[command(flatten)]
    pub result: ResultArgs,
}

/// Runs the command.
pub fn run(args: &WeeksArgs, console: &Console) -> anyhow::Result<Exit> {
    if let Some(out) = &args.result.out {
        check_out_of(Kind::Weeks, out, args.result.force, console)?;
    }
    let mut found = weeks::weeks(&args.reports, args.conditions.as_deref())?;
    for one in &found.weeks.weeks.left_out {
        console.note(&format!("left out: {}: {}", one.name, one.why));
    }
    if let Some(out) = &args.result.out {
        place_of(Kind::Weeks, out, args.result.force, |dir| weeks::write_into(&mut found, dir))?;
        note_made(&count(found.weeks.weeks.nights.len(), "night", "nights"), out, console);
    }
    if args.result.json {
        console.result(&found.weeks.json())?;
    } else {
        console.result(&lines(&found.weeks).iter().map(|line| wrapped("", line)).collect::<String>())?;
    }
    Ok(if found.weeks.is_whole() { Exit::Done } else { Exit::Partly })
}
