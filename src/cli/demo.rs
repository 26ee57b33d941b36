//! `demo`: the invented evening's recordings and manifest.

use std::path::PathBuf;

use clap::Args;

use super::output::Console;
use super::{Exit, interrupt};
use crate::demo::{self, Evening};
use crate::labels::typed;
use crate::text::count;

/// `demo`
#[derive(Debug, Args)]
pub struct DemoArgs {
    /// The evening to make
    #[arg(long, value_enum, default_value_t, value_name = "NAME")]
    pub evening: crate::demo::Evening,
    /// Folder to write into; made if need be
    pub dir: PathBuf,
    /// Another seed makes another evening of the same story
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
}

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
