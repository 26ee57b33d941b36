//! `draft`: the manifest from file names, for the user to finish.

use std::path::{Path, PathBuf};

use anyhow::{Context, bail};
use clap::Args;

use super::output::Console;
use super::{Exit, interrupt};
use crate::audio::{ChannelChoice, Mono};
use crate::disk::write_whole;
use crate::labels::{Dated, Draft, MANIFEST, Made, Start, draft, typed};
use crate::night::{StartFrom, start_of};
use crate::text::count;

/// `draft`
#[derive(Debug, Args)]
pub struct DraftArgs {
    /// Folder of recordings
    pub dir: PathBuf,
    /// Where to write the manifest [default: DIR/session.toml]; - prints it
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Overwrite a manifest that is there
    #[arg(long)]
    pub force: bool,
}

/// Runs the command.
pub fn run(args: &DraftArgs, console: &Console) -> anyhow::Result<Exit> {
    let out = args.out.clone().unwrap_or_else(|| args.dir.join(MANIFEST));
    let to_screen = out == Path::new("-");
    if !to_screen && !args.force && out.exists() {
        bail!(
            "{}: already there. Nothing was written.\n  try: --force to overwrite it, or --out FILE",
            out.display()
        );
    }
    let drafted = draft(&args.dir, &made)?;
    if to_screen {
        console.result(&drafted.text)?;
        return Ok(Exit::Done);
    }
    interrupt::writing(|| Ok(write_whole(&out, &drafted.text)?))
        .with_context(|| format!("{}: the manifest could not be written", out.display()))?;
    console.note(&format!(
        "wrote {}: {}{}, then run: noisetally session {}",
        out.display(),
        to_do(&drafted),
        if out == args.dir.join(MANIFEST) { "" } else { ", put it into the folder as session.toml" },
        typed(&args.dir)
    ));
    Ok(Exit::Done)
}

/// What is left for the user.
fn to_do(drafted: &Draft) -> String {
    let mut steps = Vec::new();
    if drafted.has_guesses {
        steps.push("check what is marked as guessed".to_owned());
    }
    if drafted.untold > 0 {
        steps.push(format!("fill in state and device of {}", count(drafted.untold, "recording", "recordings")));
    }
    steps.join(", ")
}

/// When a recording began that its name does not date: by the tag of its recorder, else by the file's date.
fn made(path: &Path) -> Option<Made> {
    let facts = Mono::open(path, ChannelChoice::default()).ok().map(|mono| mono.facts().clone());
    let (tag, length_s) = facts.map_or((None, None), |facts| (facts.started, facts.promised_s));
    let (start, channel, gain, station) = Default::default();
    let dated = Dated { file: String::new(), path: path.to_owned(), start, channel, gain, station };
    let (start, from) = start_of(&dated, tag.as_deref(), length_s.unwrap_or(0.0)).ok()?;
    // No recorder's clock is better than a second.
    let start = Start { at: jiff::Timestamp::from_second(start.at.as_second()).ok()?, ..start };
    let is_label = from != StartFrom::FileTime;
    let from = match length_s {
        None if !is_label => "the file's date (copying may have changed it)".to_owned(),
        _ => from.to_string(),
    };
    Some(Made { start, from, is_label })
}
