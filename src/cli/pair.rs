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
use crate::report::contract::Report;
use crate::text::{first_sentence, full_sentence, label};
use crate::warning::{Code, Warning};

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
    }
    remarks(&run.report).iter().for_each(|line| text.push_str(&format!("  ! {line}\n")));
    console.result(&text)?;
    Ok(exit(&run))
}

/// What speaks against the comparison and its recordings; of one cause the advice once.
fn remarks(report: &Report) -> Vec<String> {
    let of_contrasts = report.contrasts.iter().flat_map(|c| &c.warnings);
    let mut found: Vec<(Code, String)> = of_contrasts.map(|w| (w.code, w.message.clone())).collect();
    for recording in &report.recordings {
        let named = |w: &Warning| (w.code, format!("{}: {}", label(&recording.file), w.message));
        found.extend(recording.warnings.iter().map(named));
    }
    let mut lines: Vec<String> = Vec::new();
    for (n, (code, message)) in found.iter().enumerate() {
        let (what, advice) = first_sentence(message);
        let earlier = || found[..n].iter().filter(|earlier| earlier.0 == *code);
        if earlier().any(|(_, said)| said == message) {
            continue;
        }
        let is_known = !advice.is_empty() && earlier().any(|(_, said)| first_sentence(said).1 == advice);
        lines.push(if is_known { full_sentence(what) } else { message.clone() });
    }
    lines
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
