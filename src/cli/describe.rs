//! `describe`: recordings by themselves, what stands in each.

use anyhow::bail;

use super::Exit;
use super::args::DescribeArgs;
use super::output::Console;
use super::session::{check_out, known_noises, name_not_whole, note_made, nothing_used, place};
use crate::labels::single_files;
use crate::report;
use crate::report::described::terminal;
use crate::run::DescribeRun;
use crate::text::count;

/// Runs the command.
pub fn run(args: &DescribeArgs, console: &Console) -> anyhow::Result<Exit> {
    if let Some(out) = &args.result.out {
        check_out(out, args.result.force, console)?;
    }
    let known = args.known.as_deref().map(|folder| known_noises(folder, console)).transpose()?;
    let files = single_files(&args.files)?;
    files.again.iter().for_each(|file| console.note(&format!("{file}: given twice, described once")));
    let progress = console.progress();
    let mut run = DescribeRun::of(&files.recordings, &args.wishes(), known.as_ref(), &progress);
    drop(progress);
    if run.measured.is_empty() {
        bail!(nothing_used(&run.report));
    }
    name_not_whole(run.not_whole(), console);
    if let Some(out) = &args.result.out {
        place(out, args.result.force, |dir| {
            let progress = console.progress();
            run.draw_into(dir, &progress)?;
            drop(progress);
            report::write_described_texts(&run.report, dir)
        })?;
        note_made(&count(run.report.recordings.len(), "recording", "recordings"), out, console);
    }
    let text = if args.result.json { report::json(&run.report) } else { terminal(&run.report) };
    console.result(&text)?;
    Ok(if run.is_whole() { Exit::Done } else { Exit::Partly })
}
