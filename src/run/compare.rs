//! `compare`'s whole way: reports read back, held against each other, a short report written of it.

use std::path::{Path, PathBuf};

use anyhow::Context;

use crate::disk;
use crate::report::changes::result::Changes;
use crate::report::changes::{markdown, page, picture};
use crate::report::stored::Stored;
use crate::report::{REPORT_HTML, REPORT_JSON, REPORT_MD};

/// Reads reports and holds them against each other.
///
/// # Errors
/// A report that can't be used, or that nothing can be held against; the error names it.
pub fn compare(reports: &[PathBuf]) -> anyhow::Result<Changes> {
    let stored = reports.iter().map(|path| Stored::read(path)).collect::<Result<Vec<_>, _>>()?;
    Ok(Changes::of(stored)?)
}

/// Draws the picture into `dir` and writes the texts beside it.
///
/// # Errors
/// A file that can't be written; the error names it.
pub fn write_into(changes: &mut Changes, dir: &Path) -> anyhow::Result<()> {
    let picture = picture(changes);
    picture.draw(dir)?;
    changes.figures = vec![picture.listed()];
    for (name, text) in
        [(REPORT_MD, markdown(changes)), (REPORT_HTML, page(changes, dir)), (REPORT_JSON, changes.json())]
    {
        disk::write(&dir.join(name), text).with_context(|| format!("{name} could not be written"))?;
    }
    Ok(())
}
