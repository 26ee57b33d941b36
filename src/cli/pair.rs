//! `pair`: two files, an answer in a second.

use std::path::{Path, PathBuf};

use anyhow::bail;
use clap::Args;

use super::Exit;
use super::options::{ResultArgs, WishArgs};
use super::output::Console;
use super::session::{answers, check_out, exit, measure, write};
use crate::labels::Session;
use crate::report;
use crate::text::label;

/// `pair`
#[derive(Debug, Args)]
pub struct PairArgs {
    /// Recording with the device off
    pub off: PathBuf,
    /// Recording with the device on
    pub on: PathBuf,
    /// AGC was off and no control touched from one recording to the other
    #[arg(long)]
    pub gain_fixed: bool,
    /// What becomes of the result.
    #[command(flatten)]
    pub result: ResultArgs,
    /// How to measure.
    #[command(flatten)]
    pub wishes: WishArgs,
}

/// Runs the command.
pub fn run(args: &PairArgs, console: &Console) -> anyhow::Result<Exit> {
    if let Some(out) = &args.result.out {
        check_out(out, args.result.force, console)?;
    }
    refuse_one_file(&args.off, &args.on)?;
    let mut session = Session::of_pair(&args.off, &args.on);
    if args.gain_fixed {
        session.settings.iter_mut().for_each(|setting| setting.gain = Some("fixed".to_owned()));
    }
    let mut run = measure(session, &args.wishes.wishes(), console)?;
    if let Some(unusable) = run.report.left_out.first() {
        bail!("{}", refusal(&unusable.file, &unusable.reason));
    }
    if let Some(out) = &args.result.out {
        run = write(run, out, args.result.force, console)?;
    }
    if args.result.json {
        console.result(&report::json(&run.report))?;
        return Ok(exit(&run));
    }
    let mut text = answers(&run);
    for contrast in &run.report.contrasts {
        for line in &contrast.evidence {
            text.push_str(&format!("  - {line}\n"));
        }
        for line in contrast.added_lines.iter().take(12) {
            text.push_str(&format!(
                "  added line {:8.1} Hz  {:6.1} dBFS  {:5.1} dB-Hz over the noise\n",
                line.freq_hz, line.level_db, line.cnr_db_hz
            ));
        }
        for warning in &contrast.warnings {
            text.push_str(&format!("  ! {}\n", warning.message));
        }
    }
    for recording in &run.report.recordings {
        for warning in &recording.warnings {
            let line = format!("  ! {}: {}\n", label(&recording.file), warning.message);
            if !text.contains(&line) {
                text.push_str(&line);
            }
        }
    }
    console.result(&text)?;
    Ok(exit(&run))
}

/// One file that can't be used is the end of a pair: what is so, what was done, and the advice in a line of its
/// own.
fn refusal(file: &str, reason: &str) -> String {
    match reason.split_once("; try: ") {
        Some((what, advice)) => format!("{file}: {what}. Nothing was compared.\n  try: {advice}"),
        None => format!("{file}: {reason}. Nothing was compared."),
    }
}

/// The same file twice would compare as "no change", which says nothing.
fn refuse_one_file(off: &Path, on: &Path) -> anyhow::Result<()> {
    // What can't be resolved is told when it is opened.
    if let (Ok(a), Ok(b)) = (off.canonicalize(), on.canonicalize())
        && a == b
    {
        bail!(
            "{}: given twice, so there is nothing to compare.\n  try: first the recording with the device off, \
             then the one with it on",
            on.display()
        );
    }
    Ok(())
}
