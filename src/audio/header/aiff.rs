//! The chunks of AIFF and AIFF-C, big-endian.
//!
//! Sources: Apple, Audio Interchange File Format 1.3 (1989) and AIFF-C draft (1991). Read here and not by the
//! decoder library, which gives nothing of a file that was cut off.

use super::super::Problem;
use super::super::pcm::{Coding, Order};
use super::extent::{self, Extent, Tail};
use super::format::{Format, Samples};
use super::riff::MAX_CHUNKS;
use super::{Bytes, Header};

/// Reads the chunks; they may come in any order.
pub(super) fn read(bytes: &mut Bytes) -> Result<Header, Problem> {
    let compressed = bytes.look(8, 4)? == b"AIFC";
    let (mut format, mut data) = (None, None);
    let mut at = 12u64;
    for _ in 0..MAX_CHUNKS {
        let head = bytes.look(at, 8)?;
        let (Some(id), Some(size)) = (head.first_chunk::<4>(), u32_at(&head, 4)) else { break };
        let body = at + 8;
        let mut size = u64::from(size);
        match id {
            b"COMM" => format = Some(format_of(&bytes.look(body, 64)?, compressed)?),
            b"SSND" if data.is_none() => {
                // The samples may begin some bytes on, to fit a disk's blocks.
                let offset = u64::from(u32_at(&bytes.look(body, 8)?, 0).unwrap_or(0));
                let (from, extent) = extent_of(bytes, body, size, offset)?;
                size = from - body + extent.len;
                data = Some((from, extent));
            }
            _ => {}
        }
        at = body + size + (size & 1);
    }
    let format = format.ok_or_else(|| Problem::Damaged { why: "it has no format chunk".into() })?;
    let (at, extent) = data.ok_or_else(|| Problem::NoSamples { why: "the file ends before they begin".into() })?;
    Ok(Header { container: "aiff", format, at, extent, started: None, frames: None })
}

fn extent_of(bytes: &mut Bytes, body: u64, size: u64, offset: u64) -> Result<(u64, Extent), Problem> {
    let from = body + 8 + offset;
    let rest = bytes.len.saturating_sub(from);
    let declared = size.saturating_sub(8 + offset);
    let mut failed = None;
    let extent = extent::judge(declared, false, rest, 1, |past| match bytes.look(from + past, 4) {
        Ok(next) if next.is_empty() => Tail::End,
        // A size that was written is believed; only one of 0 is doubted, unless a chunk follows.
        Ok(next) if past > 0 || next.iter().all(|b| (b' '..=b'~').contains(b)) => Tail::Chunk,
        Ok(_) => Tail::Samples,
        Err(problem) => {
            failed = Some(problem);
            Tail::End
        }
    });
    failed.map_or(Ok((from, extent)), Err)
}

/// Reads a `COMM` chunk.
fn format_of(chunk: &[u8], compressed: bool) -> Result<Format, Problem> {
    let short = || Problem::Damaged { why: "its format chunk is cut off".into() };
    let channels = u16_at(chunk, 0).ok_or_else(short)?;
    let bits = u16_at(chunk, 6).ok_or_else(short)?;
    let rate_hz = extended(chunk.get(8..18).ok_or_else(short)?).ok_or_else(short)?;
    let integer = match bits.div_ceil(8) {
        1 => Ok(Coding::S8),
        2 => Ok(Coding::S16),
        3 => Ok(Coding::S24),
        4 => Ok(Coding::S32),
        _ => Err(Problem::UnsupportedCodec { codec: format!("PCM of {bits} bits") }),
    };
    let kind = if compressed { chunk.get(18..22).ok_or_else(short)? } else { b"NONE" };
    let (coding, order) = match kind {
        b"NONE" | b"twos" => (integer?, Order::Big),
        b"sowt" => (integer?, Order::Little),
        b"raw " => (Coding::U8, Order::Big),
        b"in24" => (Coding::S24, Order::Big),
        b"in32" => (Coding::S32, Order::Big),
        b"fl32" | b"FL32" => (Coding::F32, Order::Big),
        b"fl64" | b"FL64" => (Coding::F64, Order::Big),
        b"alaw" | b"ALAW" => (Coding::ALaw, Order::Big),
        b"ulaw" | b"ULAW" => (Coding::MuLaw, Order::Big),
        other => {
            let codec = format!("AIFF-C coding {}", other.escape_ascii());
            return Err(Problem::UnsupportedCodec { codec });
        }
    };
    Ok(Format { samples: Samples::Plain(coding, order), channels, rate_hz })
}

/// A sample rate written as an 80-bit float (IEEE 754 extended): sign and exponent, then 64 bits with an explicit
/// 1.
fn extended(bytes: &[u8]) -> Option<u32> {
    let exponent = i32::from(u16_at(bytes, 0)?) - 16_383;
    let mantissa = u64::from_be_bytes(bytes.get(2..10)?.try_into().ok()?);
    // Beyond any rate the cast stays at the largest u32, which is refused as a rate.
    Some((mantissa as f64 * 2f64.powi(exponent - 63)).round() as u32)
}

fn u16_at(bytes: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_be_bytes(bytes.get(at..at + 2)?.try_into().ok()?))
}

fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_be_bytes(bytes.get(at..at + 4)?.try_into().ok()?))
}
