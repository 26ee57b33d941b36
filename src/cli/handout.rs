//! `handout`: sheets for a regulator or a maker and for a neighbour, with sound clips where asked for.

use std::path::{Path, PathBuf};

use anyhow::bail;
use clap::Args;

use super::Exit;
use super::output::Console;
use super::session::{check_out_of, place_of};
use crate::report::Kind;
use crate::report::handout::{HANDOUT_HTML, Handout};
use crate::report::stored::Stored;
use crate::run::handout::{HandoutWishes, handout};

/// `handout`
#[derive(Debug, Args)]
pub struct HandoutArgs {
    /// Folder of a report that session, pair or night made
    pub report: PathBuf,
    /// About this device [default: the one that adds most]
    #[arg(long, value_name = "WORDS")]
    pub device: Option<String>,
    /// Take name, address, since when and the like from [case] in this manifest
    #[arg(long, value_name = "FILE")]
    pub case: Option<PathBuf>,
    /// Folder of the report's recordings; its session.toml is read for [case] unless --case names another
    #[arg(long, value_name = "FOLDER")]
    pub recordings: Option<PathBuf>,
    /// Cut sound clips of 20 s and 60 s from the recordings, without and with the noise in turn
    #[arg(long, requires = "recordings")]
    pub clips: bool,
    /// Folder to make [default: handouts/<name of the report's folder>]
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
    /// Replace an earlier handout even if you have put files of your own into it (they are kept)
    #[arg(long)]
    pub force: bool,
}

impl HandoutArgs {
    /// What was typed, as what will be done.
    pub fn wishes(&self) -> HandoutWishes {
        HandoutWishes {
            device: self.device.clone(),
            case: self.case.clone(),
            recordings: self.recordings.clone(),
            clips: self.clips,
        }
    }
}

/// Where handouts go if nothing else is said: not into the report, which is made to be posted.
const HANDOUTS: &str = "handouts";

/// Runs the command.
pub fn run(args: &HandoutArgs, console: &Console) -> anyhow::Result<Exit> {
    let stored = Stored::read(&args.report)?;
    let out = out_folder(args, &stored)?;
    check_out_of(Kind::Handout, &out, args.force, console)?;
    let progress = console.progress();
    let made = handout(stored, &args.wishes(), &progress);
    drop(progress);
    let made = made?;
    place_of(Kind::Handout, &out, args.force, |dir| made.write_into(dir))?;
    console.note(&format!("two sheets in {}: read {}", out.display(), out.join(HANDOUT_HTML).display()));
    console.result(&told(&made))?;
    Ok(Exit::Done)
}

/// The folder asked for, else one named after the report; never within the report.
fn out_folder(args: &HandoutArgs, stored: &Stored) -> anyhow::Result<PathBuf> {
    let out = args.out.clone().unwrap_or_else(|| Path::new(HANDOUTS).join(&stored.name));
    let whole = |path: &Path| path.canonicalize().unwrap_or_else(|_| path.to_owned());
    let report = whole(&stored.folder);
    // The nearest ancestor that is there: what is yet to be made lies in it.
    let ground = out.ancestors().find(|path| path.exists()).unwrap_or(Path::new("."));
    if whole(ground).starts_with(&report) {
        bail!(
            "{}: lies within the report, which is made to be posted; a handout holds names. Nothing was written.\n  \
             try: another place with --out",
            out.display()
        );
    }
    Ok(out)
}

/// What it is about, and what is to be filled in.
fn told(made: &Handout) -> String {
    let open = made.left_open();
    let mut text = format!("About: {}\n", made.about());
    if !open.is_empty() {
        text += &format!("To be filled in by hand, or in the manifest's [case]: {}\n", open.join(", "));
    }
    text
}
