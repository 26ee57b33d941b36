//! The chunks of WAV, RF64, BW64 (32-bit sizes) and Wave64 (64-bit sizes).
//!
//! Sources: EBU Tech 3306 (RF64), ITU-R BS.2088 (BW64), EBU Tech 3285 (`bext`); Wave64 as ffmpeg and sox write it.

use super::super::{Problem, date};
use super::extent::{self, Extent, Tail};
use super::format::Format;
use super::{Bytes, Header, u32_at, u64_at};

/// The GUID that opens a Wave64 file.
pub(super) const W64_RIFF: [u8; 16] =
    [b'r', b'i', b'f', b'f', 0x2e, 0x91, 0xcf, 0x11, 0xa5, 0xd6, 0x28, 0xdb, 0x04, 0xc1, 0x00, 0x00];

/// More chunks than any recorder writes; ends the walk through a file of lies (chosen).
pub(super) const MAX_CHUNKS: usize = 1000;
/// How far into what follows the samples is looked, to tell zeros from sound (chosen).
const ZEROS_LOOKED_AT: usize = 64 * 1024;

/// Reads the chunks; `wide` for Wave64.
pub(super) fn read(bytes: &mut Bytes, wide: bool) -> Result<Header, Problem> {
    let mut found = Chunks::default();
    let mut at = if wide { 40 } else { 12 };
    for _ in 0..MAX_CHUNKS {
        let Some(chunk) = Chunk::at(bytes, at, wide)? else { break };
        match &chunk.id {
            b"data" => {
                if found.data.is_some() {
                    break;
                }
                let Some(format) = found.format else {
                    return Err(Problem::Damaged { why: "its samples come before their format".into() });
                };
                let extent = extent_of(bytes, &chunk, &found, format, wide)?;
                found.data = Some((chunk.body, extent));
                at = chunk.end_of(extent.len);
                continue;
            }
            _ => found.note(bytes, &chunk)?,
        }
        at = chunk.end_of(chunk.size);
    }
    found.header(&bytes.look(0, 4)?, wide)
}

/// One chunk's head.
struct Chunk {
    id: [u8; 4],
    /// Byte its contents begin at.
    body: u64,
    /// Bytes its head claims.
    size: u64,
    wide: bool,
}

impl Chunk {
    /// None at the end of the file.
    fn at(bytes: &mut Bytes, at: u64, wide: bool) -> Result<Option<Self>, Problem> {
        let head_len = if wide { 24 } else { 8 };
        if at.checked_add(head_len).is_none_or(|body| body > bytes.len) {
            return Ok(None);
        }
        let head = bytes.look(at, head_len as usize)?;
        let size = if wide { u64_at(&head, 16) } else { u32_at(&head, 4).map(u64::from) };
        let (Some(size), Some(id)) = (size, head.first_chunk::<4>()) else { return Ok(None) };
        // Wave64 counts the head; a placeholder of 0 or −1 stays one.
        let size = if wide && size != u64::MAX { size.saturating_sub(head_len) } else { size };
        Ok(Some(Self { id: *id, body: at + head_len, size, wide }))
    }

    /// Where the next chunk begins, after contents of `size` bytes.
    fn end_of(&self, size: u64) -> u64 {
        let end = self.body.saturating_add(size);
        let grain = if self.wide { 8 } else { 2 };
        end.checked_next_multiple_of(grain).unwrap_or(u64::MAX)
    }

    fn contents(&self, bytes: &mut Bytes, most: usize) -> Result<Vec<u8>, Problem> {
        bytes.look(self.body, usize::try_from(self.size).unwrap_or(most).min(most))
    }
}

/// What the walk has come upon.
#[derive(Default)]
struct Chunks {
    format: Option<Format>,
    data: Option<(u64, Extent)>,
    /// The size of the samples that `ds64` gives.
    wide_size: Option<u64>,
    /// `fact`: frames in all.
    frames: Option<u64>,
    started: Option<String>,
}

impl Chunks {
    fn note(&mut self, bytes: &mut Bytes, chunk: &Chunk) -> Result<(), Problem> {
        match &chunk.id {
            b"fmt " if self.format.is_none() => {
                self.format = Some(Format::of_chunk(&chunk.contents(bytes, 64)?)?);
            }
            b"ds64" => self.wide_size = u64_at(&chunk.contents(bytes, 24)?, 8),
            b"fact" => self.frames = u32_at(&chunk.contents(bytes, 4)?, 0).map(u64::from),
            b"bext" => {
                let contents = chunk.contents(bytes, 338)?;
                if let (Some(day), Some(time)) = (contents.get(320..330), contents.get(330..338)) {
                    self.started = date::from_bext(day, time).or_else(|| self.started.take());
                }
            }
            b"LIST" => {
                let contents = chunk.contents(bytes, 4096)?;
                self.started = self.started.take().or_else(|| date_in_list(&contents));
            }
            _ => {}
        }
        Ok(())
    }

    fn header(self, magic: &[u8], wide: bool) -> Result<Header, Problem> {
        let container = match magic {
            _ if wide => "w64",
            b"RF64" => "rf64",
            b"BW64" => "bw64",
            _ => "wav",
        };
        let format = self.format.ok_or_else(|| Problem::Damaged { why: "it has no format chunk".into() })?;
        let (at, extent) =
            self.data.ok_or_else(|| Problem::NoSamples { why: "the file ends before they begin".into() })?;
        Ok(Header { container, format, at, extent, started: self.started, frames: self.frames })
    }
}

/// `ICRD` in a `LIST` of kind `INFO`.
fn date_in_list(contents: &[u8]) -> Option<String> {
    let mut rest = contents.strip_prefix(b"INFO")?;
    while let (Some(id), Some(size)) = (rest.get(..4), u32_at(rest, 4)) {
        let size = size as usize;
        if id == b"ICRD" {
            return date::from_tag(std::str::from_utf8(rest.get(8..8 + size)?).ok()?);
        }
        rest = rest.get(8usize.checked_add(size.checked_next_multiple_of(2)?)?..)?;
    }
    None
}

/// How far the samples of the `data` chunk reach.
fn extent_of(
    bytes: &mut Bytes,
    data: &Chunk,
    found: &Chunks,
    format: Format,
    wide: bool,
) -> Result<Extent, Problem> {
    let rest = bytes.len - data.body;
    let (declared, wide) = match found.wide_size {
        Some(size) if data.size == u64::from(u32::MAX) => (size, true),
        _ => (data.size, wide),
    };
    // A tenth of a second of stray bytes after the samples is no reason to doubt the header.
    let tiny = (format.bytes_per_s() / 10.0) as u64;
    let mut failed = None;
    let extent = extent::judge(declared, wide, rest, tiny, |past| {
        tail_at(bytes, data.body.saturating_add(past), data.wide).unwrap_or_else(|problem| {
            failed = Some(problem);
            Tail::End
        })
    });
    failed.map_or(Ok(extent), Err)
}

/// What stands at a place where the samples may end.
fn tail_at(bytes: &mut Bytes, at: u64, wide: bool) -> Result<Tail, Problem> {
    if at >= bytes.len {
        return Ok(Tail::End);
    }
    let look = bytes.look(at, ZEROS_LOOKED_AT)?;
    if is_tag(&look) || look.get(1..).is_some_and(is_tag) {
        return Ok(Tail::Chunk);
    }
    if look.iter().all(|&b| b == 0) {
        return Ok(Tail::Zeros);
    }
    // Chunks stand at even places, but some writers forget the padding.
    let places = if wide { [at, at.checked_next_multiple_of(8).unwrap_or(at)] } else { [at, at + (at & 1)] };
    for place in places {
        if let Some(chunk) = Chunk::at(bytes, place, wide)? {
            let named = chunk.id.iter().all(|b| (b' '..=b'~').contains(b));
            // A byte more: the last chunk's padding may be missing.
            if named && chunk.body.checked_add(chunk.size).is_some_and(|end| end <= bytes.len + 1) {
                return Ok(Tail::Chunk);
            }
        }
    }
    Ok(Tail::Samples)
}

/// Tags that music programs append.
fn is_tag(bytes: &[u8]) -> bool {
    [&b"ID3"[..], b"TAG", b"APETAGEX"].iter().any(|tag| bytes.starts_with(tag))
}
