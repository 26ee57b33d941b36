//! When each recording of a night began, what tells so, and what lies between them.
//!
//! The manifest speaks first, then date and time in the file's name, then the container's own tag, then the file's
//! date. A time without an offset from UTC is the recorder's clock as it stands, never shifted by the zone of the
//! machine this runs on: the same files give the same report everywhere.

use std::fmt;
use std::path::Path;

use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};

use crate::labels::{Dated, DatedBy, Start};

/// What tells when a recording began.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum StartFrom {
    /// `started` in the manifest.
    #[serde(rename = "the manifest")]
    Manifest,
    /// Date and time in the file's name.
    #[serde(rename = "the file's name")]
    Name,
    /// The tag that the recorder wrote into the file.
    #[serde(rename = "the recorder's tag in the file")]
    Container,
    /// The date of the file's last change, less its length: copying can spoil it.
    #[serde(rename = "the file's date, less its length (copying may have changed it)")]
    FileTime,
}

impl fmt::Display for StartFrom {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Manifest => "the manifest",
            Self::Name => "the file's name",
            Self::Container => "the recorder's tag in the file",
            Self::FileTime => "the file's date, less its length (copying may have changed it)",
        })
    }
}

/// What kind of time the night's times are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Clock {
    /// All are UTC, or were given with their offset from it.
    Utc,
    /// None has an offset: the time of the recorder's clock, most often local time.
    Local,
    /// Some have one and some have not; the latter were taken as UTC, so the order may be wrong by some hours.
    Mixed,
}

impl Clock {
    pub(crate) fn of(zoned: impl Iterator<Item = bool>) -> Self {
        let (mut with, mut without) = (false, false);
        zoned.for_each(|zoned| if zoned { with = true } else { without = true });
        match (with, without) {
            (true, true) => Self::Mixed,
            (false, true) => Self::Local,
            _ => Self::Utc,
        }
    }
}

impl fmt::Display for Clock {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Utc => "UTC",
            Self::Local => "the recorder's clock (no zone given, most often local time)",
            Self::Mixed => "UTC, and for some recordings a clock without a zone, taken as UTC: check their order",
        })
    }
}

/// What lies between two recordings that do not join.
#[derive(Debug, Clone, PartialEq)]
pub struct Join {
    /// Place of the later one in the timeline.
    pub at: usize,
    /// Its name.
    pub file: String,
    /// Seconds without a recording before it; negative: seconds it overlaps with those before it.
    pub gap_s: f64,
}

impl fmt::Display for Join {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let length = in_words(self.gap_s.abs());
        if self.gap_s > 0.0 {
            write!(f, "nothing was recorded for {length} before {}", self.file)
        } else {
            write!(f, "the recording ahead of {} ends {length} after it begins", self.file)
        }
    }
}

/// "45 s", "12 min", "3 h 5 min".
fn in_words(seconds: f64) -> String {
    let minutes = (seconds / 60.0).round() as u64;
    match minutes {
        _ if seconds < 100.0 => format!("{seconds:.0} s"),
        0..=119 => format!("{minutes} min"),
        _ if minutes.is_multiple_of(60) => format!("{} h", minutes / 60),
        _ => format!("{} h {} min", minutes / 60, minutes % 60),
    }
}

/// When a recording began. `tag`: what its container tells; `length_s`: how long it is.
///
/// # Errors
/// Words: nothing tells it, not even the file system.
pub(crate) fn start(dated: &Dated, tag: Option<&str>, length_s: f64) -> Result<(Start, StartFrom), String> {
    if let Some((start, by)) = dated.start {
        let from = match by {
            DatedBy::Manifest => StartFrom::Manifest,
            DatedBy::Name => StartFrom::Name,
        };
        return Ok((start, from));
    }
    if let Some(start) = tag.and_then(Start::of_tag) {
        return Ok((start, StartFrom::Container));
    }
    of_file(&dated.path, length_s).map(|at| (Start { at, zoned: true }, StartFrom::FileTime))
}

fn of_file(path: &Path, length_s: f64) -> Result<Timestamp, String> {
    let unknown = || "nothing tells when it began; give it a `started` in session.toml".to_owned();
    let changed = std::fs::metadata(path).and_then(|facts| facts.modified()).map_err(|_| unknown())?;
    let changed = Timestamp::try_from(changed).map_err(|_| unknown())?;
    let length = SignedDuration::try_from_secs_f64(length_s).map_err(|_| unknown())?;
    changed.checked_sub(length).map_err(|_| unknown())
}
