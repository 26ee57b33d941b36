//! `demo`: the invented evening's recordings and manifest.

use super::Exit;
use super::args::DemoArgs;
use super::output::Console;
use crate::demo::{self, Evening};
use crate::labels::typed;
use crate::text::count;

/// Runs the command.
pub fn run(args: &DemoArgs, console: &Console) -> anyhow::Result<Exit> {
    let files = demo::write_evening(&args.dir, args.evening, args.seed)?;
    console.note(&format!(
        "wrote {} to {}; now run: noisetally {} {}",
        count(files.len(), "file", "files"),
        args.dir.display(),
        if args.evening == Evening::Night { "night" } else { "session" },
        typed(&args.dir)
    ));
    Ok(Exit::Done)
}
