//! What the samples of a WAV-like file are: the `fmt ` chunk.
//!
//! Source: Microsoft, Multiple Channel Audio Data and WAVE Files (2007); RFC 2361 for the numbers.

use super::super::Problem;
use super::super::adpcm::{Blocks, Scheme};
use super::super::pcm::{Coding, Order};
use super::{u16_at, u32_at};

/// How the samples are written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Samples {
    Plain(Coding, Order),
    Blocks(Blocks),
}

/// What the samples are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Format {
    pub samples: Samples,
    pub channels: u16,
    pub rate_hz: u32,
}

impl Format {
    /// Reads a `fmt ` chunk.
    pub fn of_chunk(chunk: &[u8]) -> Result<Self, Problem> {
        let short = || Problem::Damaged { why: "its format chunk is cut off".into() };
        let tag = u16_at(chunk, 0).ok_or_else(short)?;
        let channels = u16_at(chunk, 2).ok_or_else(short)?;
        let rate_hz = u32_at(chunk, 4).ok_or_else(short)?;
        let block = u16_at(chunk, 12).ok_or_else(short)?;
        // The oldest writers of companded sound left the bits out.
        let bits = u16_at(chunk, 14).unwrap_or(8);
        // WAVE_FORMAT_EXTENSIBLE: the real tag opens the sub-format's GUID.
        let tag = if tag == 0xfffe { u16_at(chunk, 24).ok_or_else(short)? } else { tag };
        let samples = match tag {
            1 | 3 | 6 | 7 => Samples::Plain(plain(tag, channels, block, bits)?, Order::Little),
            2 => Samples::Blocks(Blocks::new(Scheme::Ms, block, channels)?),
            0x11 => Samples::Blocks(Blocks::new(Scheme::Ima, block, channels)?),
            other => return Err(Problem::UnsupportedCodec { codec: tag_name(other) }),
        };
        Ok(Self { samples, channels, rate_hz })
    }

    pub fn codec(&self) -> String {
        match self.samples {
            Samples::Plain(coding, order) => coding.name(order),
            Samples::Blocks(blocks) => blocks.scheme.name().into(),
        }
    }

    /// Companding and ADPCM add noise that follows the signal.
    pub fn is_lossy(&self) -> bool {
        matches!(self.samples, Samples::Blocks(_) | Samples::Plain(Coding::MuLaw | Coding::ALaw, _))
    }

    pub fn bytes_per_s(&self) -> f64 {
        let bytes_per_frame = match self.samples {
            Samples::Plain(coding, _) => coding.width() as f64 * f64::from(self.channels),
            Samples::Blocks(blocks) => f64::from(blocks.bytes) / f64::from(blocks.frames),
        };
        bytes_per_frame * f64::from(self.rate_hz)
    }
}

/// The coding of plain samples. The bytes a sample takes come from the block size where that makes sense: 24 bits
/// may stand in 4 bytes, and 20 in 3, always at the top.
fn plain(tag: u16, channels: u16, block: u16, bits: u16) -> Result<Coding, Problem> {
    let by_bits = bits.div_ceil(8);
    let width = match block.checked_div(channels) {
        Some(width) if block.is_multiple_of(channels) && width >= by_bits && (1..=8).contains(&width) => width,
        _ => by_bits,
    };
    match (tag, width) {
        (1, 1) => Ok(Coding::U8),
        (1, 2) => Ok(Coding::S16),
        (1, 3) => Ok(Coding::S24),
        (1, 4) => Ok(Coding::S32),
        (3, 4) => Ok(Coding::F32),
        (3, 8) => Ok(Coding::F64),
        (6, _) => Ok(Coding::ALaw),
        (7, _) => Ok(Coding::MuLaw),
        (1, _) => Err(Problem::UnsupportedCodec { codec: format!("PCM of {bits} bits") }),
        _ => Err(Problem::UnsupportedCodec { codec: format!("float of {bits} bits") }),
    }
}

fn tag_name(tag: u16) -> String {
    let known = match tag {
        0x31 => "GSM 6.10",
        0x40 => "G.721 ADPCM",
        0x50 => "MPEG audio in WAV",
        0x55 => "MP3 in WAV",
        0xff => "AAC in WAV",
        0x161 => "WMA",
        _ => return format!("WAV format 0x{tag:04x}"),
    };
    format!("{known}, WAV format 0x{tag:04x}")
}
