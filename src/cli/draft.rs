//! `draft`: the manifest from file names, for the user to finish.

use std::fs;
use std::io::Write;
use std::path::Path;

use anyhow::{Context, bail};

use super::Exit;
use super::args::DraftArgs;
use super::console::Console;
use super::interrupt;
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

/// Written beside and renamed into place, so that an earlier manifest is never half overwritten.
pub fn write_whole(out: &Path, text: &str) -> anyhow::Result<()> {
    let parent = out.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."));
    fs::create_dir_all(parent)?;
    let mut file = tempfile::NamedTempFile::new_in(parent)?;
    file.write_all(text.as_bytes())?;
    file.persist(out)?;
    Ok(())
}
