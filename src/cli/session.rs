//! `session`: a folder of labelled recordings in, one report folder out.

use std::path::{Path, PathBuf};

use anyhow::bail;
use clap::Args;

use super::options::{ReportArgs, WishArgs, outside};
use super::output::Console;
use super::{Exit, interrupt};
use crate::findings::known_noise;
use crate::findings::known_noise::folder::{KnownNoises, make_folder};
use crate::labels::{Session, printable};
use crate::report::contract::Report;
use crate::report::{self, Kind};
use crate::run::measuring::Wishes;
use crate::run::session::SessionRun;
use crate::text::count;

/// `session`
#[derive(Debug, Args)]
pub struct SessionArgs {
    /// Folder of recordings, with or without a session.toml
    pub dir: PathBuf,
    /// What becomes of the report.
    #[command(flatten)]
    pub report: ReportArgs,
    /// Say which of the known noises in this folder each comparison resembles
    #[arg(long, value_name = "FOLDER")]
    pub known: Option<PathBuf>,
    /// Put what each device's noise is like, before any remedy, into this folder: a known noise from then on
    #[arg(long, value_name = "FOLDER")]
    pub remember: Option<PathBuf>,
    /// Let the manifest name recordings outside DIR, such as ../off.wav
    #[arg(long)]
    pub allow_outside: bool,
    /// How to measure.
    #[command(flatten)]
    pub wishes: WishArgs,
}

impl SessionArgs {
    /// As if nothing but the folders had been typed.
    pub fn of(dir: PathBuf, out: Option<PathBuf>) -> Self {
        let report = ReportArgs { out, ..ReportArgs::default() };
        Self { dir, report, known: None, remember: None, allow_outside: false, wishes: WishArgs::default() }
    }
}

/// Where reports go if nothing else is said.
pub const REPORTS: &str = "reports";

/// Runs the command.
pub fn run(args: &SessionArgs, console: &Console) -> anyhow::Result<Exit> {
    let session = Session::read_from(&args.dir, outside(args.allow_outside))?;
    let out = out_folder(args.report.out.as_deref(), &args.dir)?;
    // Refused now rather than after an hour of decoding.
    check_out(&out, args.report.force, console)?;
    let known = args.known.as_deref().map(|folder| known_noises(folder, console)).transpose()?;
    args.remember.as_deref().map(make_folder).transpose()?;
    let mut run = measure(session, &args.wishes.wishes(), console)?;
    if let Some(known) = &known {
        run.recognise(known);
    }
    let run = write(run, &out, args.report.force, console)?;
    if let Some(folder) = &args.remember {
        remember(&run, folder, console)?;
    }
    if args.report.json {
        console.result(&report::json(&run.report))?;
    } else {
        console.result(&answers(&run))?;
    }
    Ok(exit(&run))
}

/// The known noises of a folder; those that can't be used are named.
pub fn known_noises(folder: &Path, console: &Console) -> anyhow::Result<KnownNoises> {
    let known = KnownNoises::read(folder)?;
    for (file, reason) in &known.passed_over {
        console.note(&format!("passed over: {file}: {reason}"));
    }
    Ok(known)
}

/// Puts what each device is like into a folder.
fn remember(run: &SessionRun, folder: &Path, console: &Console) -> anyhow::Result<()> {
    let done = interrupt::writing(|| Ok(known_noise::folder::remember(&run.session, &run.contrasts, folder)?))?;
    for (file, what) in &done.wrecks {
        console.note(&format!("known noise {file}: {what}"));
    }
    for (device, file) in &done.written {
        console.note(&format!("remembered: {device}: {}", folder.join(file).display()));
    }
    if done.written.is_empty() {
        console.note("nothing to remember: no device without a remedy has a noise that could be described");
    }
    Ok(())
}

/// The report's folder: the one asked for, else one named after the folder of recordings, which must be there.
pub fn out_folder(asked: Option<&Path>, dir: &Path) -> anyhow::Result<PathBuf> {
    asked.map_or_else(|| Ok(Path::new(REPORTS).join(name_of(dir)?)), |out| Ok(out.to_owned()))
}

/// Refuses a report folder that could not be written; says what a killed run had left there.
pub fn check_out(out: &Path, force: bool, console: &Console) -> anyhow::Result<()> {
    check_out_of(Kind::Report, out, force, console)
}

/// The same for a folder of any kind.
pub fn check_out_of(kind: Kind, out: &Path, force: bool, console: &Console) -> anyhow::Result<()> {
    interrupt::writing(|| report::check_folder(kind, out, force))?.iter().for_each(|said| console.note(said));
    Ok(())
}

/// Measures and compares, with progress.
///
/// # Errors
/// If not one recording could be used.
pub fn measure(session: Session, wishes: &Wishes, console: &Console) -> anyhow::Result<SessionRun> {
    let progress = console.progress();
    let run = SessionRun::of(session, wishes, &progress);
    drop(progress);
    if run.measured.is_empty() {
        bail!(nothing_used(&run.report));
    }
    run.check()?;
    name_not_whole(run.not_whole(), console);
    Ok(run)
}

/// Not one recording could be used, and why.
pub fn nothing_used(report: &Report) -> String {
    let mut text = "no recording could be used. Nothing was written.".to_owned();
    for left_out in &report.left_out {
        text.push_str(&format!("\n  {}: {}", left_out.file, left_out.reason));
    }
    text
}

/// Says which recordings were measured without all of them.
pub fn name_not_whole<'a>(files: impl Iterator<Item = (&'a str, &'a str)>, console: &Console) {
    files.for_each(|(file, how)| console.note(&format!("not whole: {}: {how}", printable(file))));
}

/// Writes the report folder, complete or not at all.
pub fn write(mut run: SessionRun, out: &Path, force: bool, console: &Console) -> anyhow::Result<SessionRun> {
    name_left_out(&run.report, console);
    place(out, force, |dir| {
        let progress = console.progress();
        run.draw_into(dir, &progress)?;
        drop(progress);
        report::write_texts(&run.report, dir)
    })?;
    let report = &run.report;
    let compared = count(report.contrasts.len(), "comparison", "comparisons");
    note_made(
        &format!("{} and {compared}", count(report.recordings.len(), "recording", "recordings")),
        out,
        console,
    );
    Ok(run)
}

/// Says which files could not be used, and why.
pub fn name_left_out(report: &Report, console: &Console) {
    report.left_out.iter().for_each(|one| console.note(&format!("left out: {}: {}", one.file, one.reason)));
}

/// Has `fill` write a report folder, which Ctrl-C leaves complete or absent.
pub fn place(out: &Path, force: bool, fill: impl FnOnce(&Path) -> anyhow::Result<()>) -> anyhow::Result<()> {
    place_of(Kind::Report, out, force, fill)
}

/// The same of a folder of any kind.
pub fn place_of(
    kind: Kind,
    out: &Path,
    force: bool,
    fill: impl FnOnce(&Path) -> anyhow::Result<()>,
) -> anyhow::Result<()> {
    interrupt::writing(|| report::write_folder(kind, out, force, fill))
}

/// Says what was made of what, and where it is to be read.
pub fn note_made(what: &str, out: &Path, console: &Console) {
    console.note(&format!("{what} in {}: read {}", out.display(), out.join(report::REPORT_MD).display()));
}

/// The verdict on every contrast, in sentences.
pub fn answers(run: &SessionRun) -> String {
    let report = &run.report.published();
    let mut text = String::new();
    let many = report.ranking.is_some();
    if many {
        report::of_many_devices(report).iter().for_each(|line| text.push_str(&format!("{line}\n")));
    }
    for contrast in &report.contrasts {
        let remedy = contrast.remedy.as_ref().map_or_else(String::new, |remedy| format!(", {remedy}"));
        let known = known_noise::words::known_noise(contrast);
        if !many || known.is_some() {
            text.push_str(&format!("{}{remedy}: {}\n", contrast.device, report::sentence(contrast, report)));
        }
        if let Some(known) = known {
            text.push_str(&format!("  {known}\n"));
        }
    }
    if report.tells_nothing() {
        report::of_no_comparison(report).iter().for_each(|line| text.push_str(&format!("{line}\n")));
    }
    crate::report::findings::terminal_lines(report).iter().for_each(|line| text.push_str(&format!("{line}\n")));
    text
}

/// 0, or 1 where something was left out or is void.
pub fn exit(run: &SessionRun) -> Exit {
    if run.is_whole() && !run.report.tells_nothing() { Exit::Done } else { Exit::Partly }
}

/// The folder's own name, also for `.` and the like.
pub fn name_of(dir: &Path) -> anyhow::Result<PathBuf> {
    let whole = dir.canonicalize()?;
    match whole.file_name() {
        Some(name) => Ok(name.into()),
        None => bail!("{}: a folder without a name.\n  try: name the report's folder with --out", dir.display()),
    }
}
