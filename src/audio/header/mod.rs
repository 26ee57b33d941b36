//! Headers read here rather than by the decoder library: WAV, RF64, BW64, Wave64, AU and AIFF.
//!
//! Recorders that run all night and are cut off by a power failure write these, and a size that is 0, wrapped or
//! never written must not cost a night. [`riff`] walks chunks, [`aiff`] too, [`au`] reads its one header,
//! [`extent`] judges the sizes.

mod aiff;
mod au;
mod extent;
mod format;
mod riff;

use std::fs::File;
use std::io::{Read, Seek, SeekFrom};

use super::adpcm::Adpcm;
use super::raw::{Raw, Samples};
use super::{Problem, Source, StreamFacts};
use format::{Format, Samples as Written};

/// The containers read here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// `RIFF`, `RF64` or `BW64` around `WAVE`.
    Riff,
    /// Sony Wave64.
    W64,
    /// Sun/NeXT AU.
    Au,
    /// AIFF or AIFF-C.
    Aiff,
}

impl Kind {
    /// Tells by a file's first bytes.
    pub fn of(magic: &[u8]) -> Option<Self> {
        match (magic.get(..4)?, magic.get(8..12)) {
            (b"RIFF" | b"RF64" | b"BW64", Some(b"WAVE")) => Some(Self::Riff),
            (b"riff", _) if magic.get(..16)? == riff::W64_RIFF => Some(Self::W64),
            (b".snd", _) => Some(Self::Au),
            (b"FORM", Some(b"AIFF" | b"AIFC")) => Some(Self::Aiff),
            _ => None,
        }
    }
}

/// What a header told.
struct Header {
    container: &'static str,
    format: Format,
    /// Byte of the first sample.
    at: u64,
    extent: extent::Extent,
    started: Option<String>,
    /// Frames in all, where the coding's blocks don't tell (`fact`).
    frames: Option<u64>,
}

/// Opens a file of one of these kinds, `len` bytes long.
pub(super) fn open(kind: Kind, file: File, len: u64) -> Result<(StreamFacts, Box<dyn Source>), Problem> {
    let mut bytes = Bytes { file, len };
    let header = match kind {
        Kind::Riff => riff::read(&mut bytes, false)?,
        Kind::W64 => riff::read(&mut bytes, true)?,
        Kind::Au => au::read(&mut bytes)?,
        Kind::Aiff => aiff::read(&mut bytes)?,
    };
    let format = header.format;
    if format.channels == 0 || format.channels > super::MAX_CHANNELS {
        return Err(Problem::AbsurdHeader { what: format!("{} channels", format.channels) });
    }
    let bytes_per_s = format.bytes_per_s();
    let longest = header.extent.len.max(header.extent.promised);
    let facts = StreamFacts {
        sample_rate_hz: format.rate_hz,
        channels: format.channels,
        codec: format.codec(),
        container: header.container.into(),
        lossy: format.is_lossy(),
        promised_s: (bytes_per_s > 0.0).then(|| longest as f64 / bytes_per_s),
        started: header.started,
    };
    let cut_short = header.extent.in_words(bytes_per_s);
    let lacks = header.extent.cut == extent::Cut::Short;
    let source: Box<dyn Source> = match format.samples {
        Written::Plain(coding, order) => {
            let samples =
                Samples { coding, order, channels: format.channels, at: header.at, len: header.extent.len };
            Box::new(Raw::new(bytes.file, samples, cut_short, lacks)?)
        }
        Written::Blocks(blocks) => {
            bytes.file.seek(SeekFrom::Start(header.at))?;
            let reader = bytes.file.take(header.extent.len);
            Box::new(Adpcm::new(
                reader,
                blocks,
                format.channels,
                format.rate_hz,
                header.frames,
                (cut_short, lacks),
            )?)
        }
    };
    Ok((facts, source))
}

/// A file whose places can be looked at.
struct Bytes {
    file: File,
    len: u64,
}

impl Bytes {
    /// Up to `count` bytes from `at`; fewer at the file's end.
    fn look(&mut self, at: u64, count: usize) -> Result<Vec<u8>, Problem> {
        self.file.seek(SeekFrom::Start(at))?;
        let mut bytes = Vec::with_capacity(count.min(64 * 1024));
        (&mut self.file).take(count as u64).read_to_end(&mut bytes)?;
        Ok(bytes)
    }
}

fn u16_at(bytes: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_le_bytes(bytes.get(at..at + 2)?.try_into().ok()?))
}

fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_le_bytes(bytes.get(at..at + 4)?.try_into().ok()?))
}

fn u64_at(bytes: &[u8], at: usize) -> Option<u64> {
    Some(u64::from_le_bytes(bytes.get(at..at + 8)?.try_into().ok()?))
}
