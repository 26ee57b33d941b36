//! `demo`: the invented evening's recordings and manifest.

use super::args::DemoArgs;
use super::output::Console;
use super::{Exit, interrupt};
use crate::demo::{self, Evening};
use crate::labels::typed;
use crate::text::count;

/// Runs the command.
pub fn run(args: &DemoArgs, console: &Console) -> anyhow::Result<Exit> {
    let files =
        interrupt::writing(|| Ok(demo::write_evening(&args.dir, args.evening, args.seed, &interrupt::asked)?))?;
    console.note(&format!(
        "wrote {} to {}; now run: noisetally {} {}",
        count(files.len(), "file", "files"),
        args.dir.display(),
        if args.evening == Evening::Night { "night" } else { "session" },
        typed(&args.dir)
    ));
    Ok(Exit::Done)
}
