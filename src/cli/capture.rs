//! `capture`: the dialogue at the bench.

use super::Exit;
use super::args::CaptureArgs;
use super::console::Console;

/// Runs the command.
pub fn run(_args: &CaptureArgs, _console: &Console) -> anyhow::Result<Exit> {
    anyhow::bail!("not yet")
}
