//! `pair`: two files, an answer in a second.

use super::Exit;
use super::args::PairArgs;
use super::console::Console;
use super::session::{answers, exit, measure, write};
use crate::report;
use crate::session::Session;

/// Runs the command.
pub fn run(args: &PairArgs, console: &Console) -> anyhow::Result<Exit> {
    if let Some(out) = &args.out {
        report::check_folder(out, args.force)?;
    }
    let session = Session::of_pair(&args.off, &args.on);
    let mut tally = measure(session, &args.wishes.wishes(), console)?;
    if let Some(out) = &args.out {
        tally = write(tally, out, args.force, console)?;
    }
    if args.json {
        console.result(&report::json(&tally.report))?;
        return Ok(exit(&tally));
    }
    let mut text = answers(&tally);
    for contrast in &tally.report.contrasts {
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
    console.result(&text)?;
    Ok(exit(&tally))
}
