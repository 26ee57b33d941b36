//! `sheet`: the plan of an evening on paper.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, bail};
use clap::Args;

use super::capture::plan_args::PlanArgs;
use super::output::Console;
use super::{Exit, interrupt};
use crate::capture::{PLAN, Paper, Plan, sheet};
use crate::disk::write_whole;
use crate::labels::typed;

/// `sheet`
#[derive(Debug, Args)]
pub struct SheetArgs {
    /// Folder to put sheet.md, sheet.txt and plan.toml into [default: print the sheet]
    pub dir: Option<PathBuf>,
    /// Print plain text of 80 columns instead of Markdown
    #[arg(long, conflicts_with = "dir")]
    pub plain: bool,
    /// Replace a sheet and a plan that are there
    #[arg(long)]
    pub force: bool,
    /// What to plan.
    #[command(flatten)]
    pub words: PlanArgs,
}

const SHEET_MD: &str = "sheet.md";
const SHEET_TXT: &str = "sheet.txt";

/// Runs the command.
pub fn run(args: &SheetArgs, console: &Console) -> anyhow::Result<Exit> {
    let plan = Plan::of(args.words.words().unwrap_or_default())?;
    let Some(dir) = &args.dir else {
        let paper = if args.plain { Paper::Plain } else { Paper::Markdown };
        console.result(&sheet(&plan, paper))?;
        return Ok(Exit::Done);
    };
    if !args.force && dir.join(PLAN).exists() {
        bail!(
            "{}: already there. Nothing was written.\n  try: --force to replace plan and sheet",
            dir.join(PLAN).display()
        );
    }
    interrupt::writing(|| {
        write_whole(&dir.join(SHEET_MD), &sheet(&plan, Paper::Markdown))?;
        write_whole(&dir.join(SHEET_TXT), &sheet(&plan, Paper::Plain))?;
        write_plan(dir, &plan)
    })?;
    console.note(&format!(
        "wrote {} to print; {} takes, some {:.0} min. Then: RECORDER | noisetally capture {}",
        dir.join(SHEET_TXT).display(),
        plan.takes.len(),
        plan.minutes().ceil(),
        typed(dir)
    ));
    Ok(Exit::Done)
}

/// Puts the plan's words into the folder of recordings.
pub fn write_plan(dir: &Path, plan: &Plan) -> anyhow::Result<()> {
    let head = "# What to record. sheet.txt shows the takes that follow from it; capture walks through them.\n\n";
    let words = toml::to_string(&plan.words).context("the plan can't be written as TOML")?;
    let path = dir.join(PLAN);
    write_whole(&path, &format!("{head}{words}")).with_context(|| format!("{} can't be written", path.display()))
}

/// The plan in a folder; `None` where there is none.
pub fn read_plan(dir: &Path) -> anyhow::Result<Option<Plan>> {
    let path = dir.join(PLAN);
    if !path.exists() {
        return Ok(None);
    }
    let text = fs::read_to_string(&path).with_context(|| format!("{} can't be read", path.display()))?;
    let words = toml::from_str(&text).with_context(|| format!("{}: a plan that can't be read", path.display()))?;
    Ok(Some(Plan::of(words).with_context(|| path.display().to_string())?))
}
