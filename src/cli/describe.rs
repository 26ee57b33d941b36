//! `describe`: recordings by themselves, what stands in each.

use std::path::PathBuf;
use std::str::FromStr;

use anyhow::bail;
use clap::Args;

use super::Exit;
use super::options::{ResultArgs, mains, passband};
use super::output::Console;
use super::session::{check_out, known_noises, name_not_whole, note_made, nothing_used, place};
use crate::audio::ChannelChoice;
use crate::labels::single_files;
use crate::report;
use crate::report::described::terminal;
use crate::run::{DescribeRun, Wishes};
use crate::signal::spectrum::Passband;
use crate::text::count;

/// `describe`
#[derive(Debug, Args)]
pub struct DescribeArgs {
    /// Recordings, or folders of them
    #[arg(value_name = "FILE", required = true)]
    pub files: Vec<PathBuf>,
    /// What becomes of the result.
    #[command(flatten)]
    pub result: ResultArgs,
    /// Say which of the known noises in this folder each recording resembles; the command session makes them
    #[arg(long, value_name = "FOLDER")]
    pub known: Option<PathBuf>,
    /// Take this part of the audio passband only, such as 300-2700
    #[arg(long, value_name = "LOW-HIGH", value_parser = passband)]
    passband: Option<Passband>,
    /// Mains frequency, 50 or 60 [default: from the manifest, else from the sound]
    #[arg(long, value_name = "HZ", value_parser = mains)]
    mains: Option<f64>,
    /// Channel of stereo recordings: auto, mean, left, right or a number
    #[arg(long, value_name = "CHANNEL", default_value = "auto", value_parser = ChannelChoice::from_str)]
    channel: ChannelChoice,
}

impl DescribeArgs {
    /// What was typed, as what will be done.
    pub fn wishes(&self) -> Wishes {
        Wishes { passband: self.passband, mains_hz: self.mains, reference_hz: None, channel: self.channel }
    }
}

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
