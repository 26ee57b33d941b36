//! `weeks`' whole way: nights' reports read one by one, put together, a report written of it.

use std::fs::{self, File};
use std::io::{BufWriter, Read, Write};
use std::path::{Path, PathBuf};

use anyhow::{Context, anyhow, bail};
use rayon::prelude::*;

use crate::disk;
use crate::labels::printable;
use crate::report::stored::Stored;
use crate::report::weeks::conditions::{Conditions, MOST_BYTES};
use crate::report::weeks::night::Night;
use crate::report::weeks::result::NotUsed;
use crate::report::weeks::{
    COMINGS_CSV, Found, MINUTES_CSV, clock_of, comings_csv, markdown, page, picture, post, write_minutes,
};
use crate::report::{POST_TXT, REPORT_HTML, REPORT_JSON, REPORT_MD};

/// Reads reports of nights and puts them together; one that can't be used is left out by name.
///
/// # Errors
/// A table of conditions that can't be read, with its lines; or no night at all, or several stations'.
pub fn weeks(reports: &[PathBuf], conditions: Option<&Path>) -> anyhow::Result<Found> {
    let table = conditions.map(|path| Ok::<_, anyhow::Error>((path, text_of(path)?))).transpose()?;
    let read: Vec<Result<Night, NotUsed>> = reports.par_iter().map(|path| night(path)).collect();
    let (mut nights, mut left_out) = (Vec::new(), Vec::new());
    for one in read {
        match one {
            Ok(night) => nights.push(night),
            Err(not_used) => left_out.push(not_used),
        }
    }
    let clock = clock_of(&nights);
    let conditions = table
        .map(|(path, text)| {
            Conditions::read(&text, clock)
                .map_err(|wrong| anyhow!("{}: {wrong}\nNothing was written.", path.display()))
        })
        .transpose()?;
    Ok(Found::of(nights, conditions.as_ref(), left_out)?)
}

fn night(path: &Path) -> Result<Night, NotUsed> {
    let named = |why: String| {
        let name = path.canonicalize().ok().and_then(|whole| Some(whole.file_name()?.to_owned()));
        let name = name.unwrap_or_else(|| path.as_os_str().to_owned());
        NotUsed { name: printable(&name.to_string_lossy()), why }
    };
    let stored = Stored::read(path).map_err(|unusable| named(unusable.why().to_owned()))?;
    Night::of(&stored).map_err(named)
}

fn text_of(path: &Path) -> anyhow::Result<String> {
    let named = || format!("{}: can't be read. Nothing was written.", path.display());
    // Opening a pipe would wait for ever.
    if !fs::metadata(path).with_context(named)?.is_file() {
        bail!("{}: is no ordinary file. Nothing was written.", path.display());
    }
    let mut bytes = Vec::new();
    File::open(path).with_context(named)?.take(MOST_BYTES + 1).read_to_end(&mut bytes).with_context(named)?;
    if bytes.len() as u64 > MOST_BYTES {
        bail!(
            "{}: over {} MiB, which no table of conditions is. Nothing was written.",
            path.display(),
            MOST_BYTES >> 20
        );
    }
    String::from_utf8(bytes).map_err(|_| anyhow!("{}: is no UTF-8 text. Nothing was written.", path.display()))
}

/// Draws the calendar into `dir` and writes texts and tables beside it.
///
/// # Errors
/// A file that can't be written; the error names it.
pub fn write_into(found: &mut Found, dir: &Path) -> anyhow::Result<()> {
    let picture = picture(found);
    picture.draw(dir)?;
    found.weeks.illustrated(picture.listed());
    let unwritten = |name: &str| format!("{name} could not be written");
    let file = disk::create(&dir.join(MINUTES_CSV)).with_context(|| unwritten(MINUTES_CSV))?;
    let mut minutes = BufWriter::new(file);
    write_minutes(found, &mut minutes).and_then(|()| minutes.flush()).with_context(|| unwritten(MINUTES_CSV))?;
    for (name, text) in [
        (REPORT_MD, markdown(&found.weeks)),
        (REPORT_HTML, page(&found.weeks, dir)),
        (POST_TXT, post(&found.weeks)),
        (COMINGS_CSV, comings_csv(found).context(COMINGS_CSV)?),
        (REPORT_JSON, found.weeks.json()),
    ] {
        disk::write(&dir.join(name), text).with_context(|| unwritten(name))?;
    }
    Ok(())
}
