//! `handout`: sheets for a regulator or a maker and for a neighbour, with sound clips where asked for.

use std::path::{Path, PathBuf};

use anyhow::bail;

use super::Exit;
use super::args::HandoutArgs;
use super::output::Console;
use super::session::{check_out_of, place_of};
use crate::report::Kind;
use crate::report::handout::{HANDOUT_HTML, Handout};
use crate::report::stored::Stored;
use crate::run::handout::handout;

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
