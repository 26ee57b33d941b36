//! `compare`: reports of evenings months apart, and what changed.

use std::path::PathBuf;

use clap::Args;

use super::Exit;
use super::options::ResultArgs;
use super::output::Console;
use super::session::{check_out_of, note_made, place_of};
use crate::report::Kind;
use crate::report::changes::lines;
use crate::run::compare;
use crate::text::{count, wrapped};

/// `compare`
#[derive(Debug, Args)]
pub struct CompareArgs {
    /// Report folders, two or more
    #[arg(required = true, num_args = 2.., value_name = "REPORT")]
    pub reports: Vec<PathBuf>,
    /// What becomes of the result.
    #[command(flatten)]
    pub result: ResultArgs,
}

/// Runs the command.
pub fn run(args: &CompareArgs, console: &Console) -> anyhow::Result<Exit> {
    if let Some(out) = &args.result.out {
        check_out_of(Kind::Changes, out, args.result.force, console)?;
    }
    let mut changes = compare::compare(&args.reports)?;
    if let Some(out) = &args.result.out {
        place_of(Kind::Changes, out, args.result.force, |dir| compare::write_into(&mut changes, dir))?;
        note_made(&count(changes.reports.len(), "report", "reports"), out, console);
    }
    if args.result.json {
        console.result(&changes.json())?;
    } else {
        console.result(&lines(&changes).iter().map(|line| wrapped("", line)).collect::<String>())?;
    }
    Ok(if changes.is_whole() { Exit::Done } else { Exit::Partly })
}
