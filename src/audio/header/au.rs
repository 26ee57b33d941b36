//! The header of Sun/NeXT AU files.
//!
//! Source: the manual page `audio(5)` of Solaris, as sox and ffmpeg read it; the numbers from memory, checked
//! against files made by both.

use super::super::Problem;
use super::super::pcm::{Coding, Order};
use super::extent::{self, Tail};
use super::format::{Format, Samples};
use super::{Bytes, Header};

/// The size of a file that was written to a pipe.
const UNKNOWN_SIZE: u32 = u32::MAX;

/// Reads the header; the samples reach to its size or the file's end.
pub(super) fn read(bytes: &mut Bytes) -> Result<Header, Problem> {
    let head = bytes.look(0, 24)?;
    let word = |index: usize| {
        let word = head.get(4 * index..4 * index + 4).and_then(|word| word.try_into().ok());
        word.map(u32::from_be_bytes).ok_or_else(|| Problem::Damaged { why: "its header is cut off".into() })
    };
    let (at, size, encoding, rate_hz, channels) = (word(1)?, word(2)?, word(3)?, word(4)?, word(5)?);
    let coding = match encoding {
        1 => Coding::MuLaw,
        2 => Coding::S8,
        3 => Coding::S16,
        4 => Coding::S24,
        5 => Coding::S32,
        6 => Coding::F32,
        7 => Coding::F64,
        27 => Coding::ALaw,
        other => return Err(Problem::UnsupportedCodec { codec: format!("AU encoding {other}") }),
    };
    let channels =
        u16::try_from(channels).map_err(|_| Problem::AbsurdHeader { what: format!("{channels} channels") })?;
    let rest = bytes.len.saturating_sub(u64::from(at));
    // AU has one run of samples and nothing after it; a size of "unknown" is proper.
    let mut extent = extent::judge(u64::from(size), false, rest, u64::MAX, |_| Tail::Samples);
    if size == UNKNOWN_SIZE {
        extent.cut = extent::Cut::Whole;
    }
    let format = Format { samples: Samples::Plain(coding, Order::Big), channels, rate_hz };
    Ok(Header { container: "au", format, at: u64::from(at), extent, started: None, frames: None })
}
