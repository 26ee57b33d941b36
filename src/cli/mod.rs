//! The roof: what can be typed, what is printed, which exit code it ends with. One file a command.

mod args;
mod capture;
mod check;
mod compare;
mod demo;
mod describe;
mod draft;
mod guide;
mod handout;
mod install;
mod interrupt;
mod night;
mod options;
mod output;
mod pair;
mod session;
mod sheet;
mod weeks;

use std::process::ExitCode;

use anyhow::Context;
use clap::Parser;

use args::{Cli, Command};
use output::Console;

/// How a command ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Exit {
    /// Everything done.
    Done,
    /// Done, with some recordings left out or a void contrast.
    Partly,
    /// Stopped by the user, with what was recorded kept.
    Stopped,
}

/// Wrong use, or nothing could be done. Common practice for wrong use; the guide `commands` promises it.
const FAILED: u8 = 2;

/// Parses the command line, runs the command, prints the error. Exit codes: 0 done; 1 done, with some recordings
/// left out or a void contrast; 2 wrong use or nothing could be done; 130 stopped by the user.
pub fn main() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        // Help and version go where clap sends them; a mistake may quote what was typed, so it takes our own door.
        Err(error) if !error.use_stderr() => error.exit(),
        Err(error) => {
            Console::new(false).say(&error.render().to_string());
            return ExitCode::from(FAILED);
        }
    };
    let console = Console::new(cli.quiet);
    interrupt::listen();
    let outcome = run(&cli, &console);
    match outcome {
        Ok(Exit::Done) => ExitCode::SUCCESS,
        Ok(Exit::Partly) => ExitCode::from(1),
        Ok(Exit::Stopped) => ExitCode::from(interrupt::INTERRUPTED),
        Err(error) => {
            console.error(&error);
            ExitCode::from(FAILED)
        }
    }
}

fn run(cli: &Cli, console: &Console) -> anyhow::Result<Exit> {
    if let Some(threads) = cli.threads {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build_global()
            .context("the threads could not be started")?;
    }
    match &cli.command {
        Command::Session(args) => session::run(args, console),
        Command::Pair(args) => pair::run(args, console),
        Command::Describe(args) => describe::run(args, console),
        Command::Draft(args) => draft::run(args, console),
        Command::Check(args) => check::run(args, console),
        Command::Sheet(args) => sheet::run(args, console),
        Command::Capture(args) => capture::run(args, console),
        Command::Night(args) => night::run(args, console),
        Command::Compare(args) => compare::run(args, console),
        Command::Weeks(args) => weeks::run(args, console),
        Command::Handout(args) => handout::run(args, console),
        Command::Completions(args) => install::completions(args, console),
        Command::Guide(args) => guide::run(args.topic, console),
        Command::Manual => install::manual(console),
        Command::Demo(args) => demo::run(args, console),
    }
}
