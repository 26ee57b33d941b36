//! `draft`: the manifest from file names, for the user to finish.

use std::path::Path;

use anyhow::{Context, bail};

use super::args::DraftArgs;
use super::output::{Console, write_whole};
use super::{Exit, interrupt};
use crate::labels::{MANIFEST, draft};

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
    let text = draft(&args.dir)?;
    if to_screen {
        console.result(&text)?;
        return Ok(Exit::Done);
    }
    interrupt::writing(|| write_whole(&out, &text))
        .with_context(|| format!("{}: the manifest could not be written", out.display()))?;
    console.note(&format!(
        "wrote {}: check what is marked as guessed, then run: noisetally session {}",
        out.display(),
        args.dir.display()
    ));
    Ok(Exit::Done)
}
