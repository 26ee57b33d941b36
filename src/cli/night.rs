//! `night`: hours of recordings in, what noise came and went out.

use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::str::FromStr;

use anyhow::{Context, anyhow, bail};
use clap::Args;
use jiff::Timestamp;

use super::options::{ReportArgs, mains, passband};
use super::output::Console;
use super::session::{REPORTS, check_out, known_noises, name_left_out, name_not_whole, name_of, note_made, place};
use super::{Exit, interrupt};
use crate::audio::ChannelChoice;
use crate::labels::dated_files;
use crate::night::NightError;
use crate::night::recurrence::switch_log;
use crate::report;
use crate::run::{Night, NightWishes};
use crate::signal::spectrum::Passband;
use crate::text::{count, wrapped};

/// `night`
#[derive(Debug, Args)]
pub struct NightArgs {
    /// Recordings, or folders of them
    #[arg(required = true)]
    pub paths: Vec<PathBuf>,
    /// What becomes of the report.
    #[command(flatten)]
    pub report: ReportArgs,
    /// Say which of the known noises in this folder each episode resembles; the command session makes them
    #[arg(long, value_name = "FOLDER")]
    pub known: Option<PathBuf>,
    /// A table (CSV) of what was switched when, such as "21:30, pump, on": which entry explains which episode
    #[arg(long, value_name = "FILE")]
    pub log: Option<PathBuf>,
    /// Take this part of the audio passband only, such as 300-2700
    #[arg(long, value_name = "LOW-HIGH", value_parser = passband)]
    passband: Option<Passband>,
    /// Mains frequency, 50 or 60 [default: 50]
    #[arg(long, value_name = "HZ", value_parser = mains)]
    mains: Option<f64>,
    /// Channel of stereo recordings: auto, mean, left, right or a number
    #[arg(long, value_name = "CHANNEL", default_value = "auto", value_parser = ChannelChoice::from_str)]
    channel: ChannelChoice,
}

impl NightArgs {
    /// What was typed, as what will be done.
    pub fn wishes(&self) -> NightWishes {
        NightWishes { passband: self.passband, mains_hz: self.mains, channel: self.channel, known: None, log: None }
    }
}

/// Runs the command.
pub fn run(args: &NightArgs, console: &Console) -> anyhow::Result<Exit> {
    refuse_missing(&args.paths)?;
    let files = dated_files(&args.paths)?;
    let name = name_of_night(&args.paths)?;
    let out = args.report.out.clone().unwrap_or_else(|| Path::new(REPORTS).join(&name));
    // Refused now rather than after an hour of decoding.
    check_out(&out, args.report.force, console)?;
    let known = args.known.as_deref().map(|folder| known_noises(folder, console)).transpose()?;
    let log = args.log.as_deref().map(read_log).transpose()?;
    let wishes = NightWishes { known, log, ..args.wishes() };
    let progress = console.progress();
    let night = interrupt::ending_early(|| Night::of(&files, &name.to_string_lossy(), &wishes, &progress));
    drop(progress);
    let mut night = match night {
        Err(NightError::Stopped(_)) => interrupt::end(),
        other => other?,
    };
    name_left_out(&night.report, console);
    name_not_whole(night.not_whole(), console);
    place(&out, args.report.force, |dir| {
        let progress = console.progress();
        night.draw_into(dir, &progress)?;
        drop(progress);
        crate::report::write_night_texts(&night.report, dir)
    })?;
    let episodes = count(night.report.episodes.len(), "episode", "episodes");
    note_made(
        &format!("{} and {episodes}", count(night.timeline.passages.len(), "recording", "recordings")),
        &out,
        console,
    );
    if args.report.json {
        console.result(&report::json(&night.report))?;
    } else {
        console.result(&answers(&night))?;
    }
    Ok(match night.is_whole() {
        _ if night.timeline.unread_s > 0.0 => Exit::Stopped,
        true => Exit::Done,
        false => Exit::Partly,
    })
}

/// The log's text. Whether its rows can be understood shows before the long work; their times only with the
/// night's.
fn read_log(file: &Path) -> anyhow::Result<String> {
    let mut text = String::new();
    File::open(file)
        .and_then(|file| file.take(switch_log::MOST_BYTES + 1).read_to_string(&mut text))
        .with_context(|| format!("{}: the log can't be read. Nothing was written.", file.display()))?;
    if text.len() as u64 > switch_log::MOST_BYTES {
        bail!(
            "{}: over {} MiB, which is no log of what was switched. Nothing was written.\n  try: a table of time, \
             device, on or off",
            file.display(),
            switch_log::MOST_BYTES >> 20
        );
    }
    switch_log::read(&text, Timestamp::UNIX_EPOCH, 0.0)
        .map_err(|error| anyhow!("{}: {error}. Nothing was written.", file.display()))?;
    Ok(text)
}

/// The answer, then each episode in a line of its own.
fn answers(night: &Night) -> String {
    let lines = crate::report::night::brief::night_lines(&night.report);
    let Some((answer, episodes)) = lines.split_first() else { return String::new() };
    let mut text = wrapped("", answer);
    episodes.iter().for_each(|line| text.push_str(&wrapped("  ", line)));
    text
}

/// A path that is not there is a slip of the hand, not a recording to be left out.
fn refuse_missing(paths: &[PathBuf]) -> anyhow::Result<()> {
    match paths.iter().find(|path| !path.exists()) {
        Some(path) => bail!("{}: there is no such file or folder. Nothing was written.", path.display()),
        None => Ok(()),
    }
}

/// The name of the only path, without a recording's extension; of several, of the folder all are in, else of the
/// first.
fn name_of_night(paths: &[PathBuf]) -> anyhow::Result<PathBuf> {
    let first = &paths[0];
    let parent = |path: &Path| path.canonicalize().ok().and_then(|path| path.parent().map(Path::to_owned));
    let of_all = parent(first).filter(|folder| paths.iter().all(|path| parent(path).as_ref() == Some(folder)));
    match of_all {
        Some(folder) if paths.len() > 1 => name_of(&folder),
        _ if first.is_dir() => name_of(first),
        _ => Ok(first.file_stem().map_or_else(|| "night".into(), PathBuf::from)),
    }
}
