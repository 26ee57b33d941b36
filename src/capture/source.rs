//! Sound as it comes in on a stream: a WAV stream with or without an end, or bare samples.
//!
//! Sources: Microsoft, Multiple Channel Audio Data and WAVE Files (2007); EBU Tech 3306 for RF64. Not here: a
//! thread that keeps the stream flowing (`pump`), files on disk (`audio`).

use std::io::{self, Read};

use crate::audio::pcm::{Coding, Order};
use crate::audio::{HIGHEST_RATE_HZ, LOWEST_RATE_HZ};

/// Chunks before the samples that are skipped (chosen): more than this is no recorder's doing.
const MOST_HEAD_BYTES: u64 = 1 << 20;
/// Most channels recorded. Chosen: sound cards at home have no more.
const MOST_CHANNELS: u16 = 8;

/// How the samples come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StreamFormat {
    /// Samples a second and channel.
    pub rate_hz: u32,
    /// Channels, interleaved.
    pub channels: u16,
    pub(super) coding: Coding,
    /// Bytes of samples; `None`: until the stream ends.
    pub(super) bytes: Option<u64>,
}

/// What raw samples are, as the user says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RawFormat {
    /// Samples a second; `None`: the stream must say.
    pub rate_hz: Option<u32>,
    /// `u8`, `s16`, `s24`, `s32` or `f32`, low byte first.
    pub coding: String,
    /// Channels, interleaved.
    pub channels: u16,
}

/// Why nothing can be recorded from a stream.
#[derive(Debug, thiserror::Error)]
pub enum SourceError {
    /// No samples at all.
    #[error(
        "standard input ended before any sound came\n  try: check that the recorder runs and writes to the pipe"
    )]
    Empty,
    /// Neither a WAV stream nor described.
    #[error(
        "standard input is no WAV stream, and nothing says what its samples are\n  try: --rate HZ, with --format \
         and --channels where they are not s16 and 1"
    )]
    NotDescribed,
    /// A WAV stream of something else than plain samples.
    #[error("the WAV stream can't be recorded: {0}\n  try: let the recorder write plain PCM of 16 bit")]
    Unfit(String),
    /// What was typed contradicts the stream.
    #[error(
        "the WAV stream says {stream_hz} samples a second, --rate says {typed_hz}\n  try: leave --rate out; a \
         WAV stream knows its own"
    )]
    WrongRate {
        /// By the stream.
        stream_hz: u32,
        /// By the user.
        typed_hz: u32,
    },
    /// The stream can't be read.
    #[error("standard input can't be read: {0}")]
    Io(#[from] io::Error),
}

/// Reads as far as the first sample. Returns the format, and the bytes already taken that are samples.
///
/// # Errors
/// When no sound can be had of the stream; each says what to do.
pub fn open(stream: &mut impl Read, raw: &RawFormat) -> Result<(StreamFormat, Vec<u8>), SourceError> {
    let mut first = [0; 4];
    let got = read_most(stream, &mut first)?;
    if got == 0 {
        return Err(SourceError::Empty);
    }
    if got == 4 && matches!(&first, b"RIFF" | b"RF64" | b"BW64") {
        let format = wav_head(stream)?;
        return match raw.rate_hz.filter(|typed| *typed != format.rate_hz) {
            Some(typed_hz) => Err(SourceError::WrongRate { stream_hz: format.rate_hz, typed_hz }),
            None => Ok((format, Vec::new())),
        };
    }
    let rate_hz = raw.rate_hz.ok_or(SourceError::NotDescribed)?;
    let coding = match raw.coding.as_str() {
        "u8" => Coding::U8,
        "s24" => Coding::S24,
        "s32" => Coding::S32,
        "f32" => Coding::F32,
        _ => Coding::S16,
    };
    let format = StreamFormat { rate_hz, channels: raw.channels.clamp(1, MOST_CHANNELS), coding, bytes: None };
    Ok((format, first[..got].to_vec()))
}

/// The chunks up to the samples. A length of 0, of all ones, or of a 64-bit file means: until the stream ends.
fn wav_head(stream: &mut impl Read) -> Result<StreamFormat, SourceError> {
    let cut = || SourceError::Unfit("it ends within its header".into());
    let mut head = [0; 8];
    if read_most(stream, &mut head)? < 8 || &head[4..] != b"WAVE" {
        return Err(SourceError::Unfit("it is RIFF, but not WAVE".into()));
    }
    let mut format = None;
    loop {
        if read_most(stream, &mut head)? < 8 {
            return Err(cut());
        }
        let len = u64::from(u32::from_le_bytes([head[4], head[5], head[6], head[7]]));
        if &head[..4] == b"data" {
            let mut format: StreamFormat = format.ok_or_else(cut)?;
            // Recorders that write to a pipe give 0, all ones, or the largest length they can think of.
            format.bytes = (1..0x7fff_0000).contains(&len).then_some(len);
            return Ok(format);
        }
        if len > MOST_HEAD_BYTES {
            return Err(SourceError::Unfit("its header makes no sense".into()));
        }
        let mut body = Vec::new();
        stream.take(len + len % 2).read_to_end(&mut body)?;
        if &head[..4] == b"fmt " {
            format = Some(of_chunk(&body)?);
        }
    }
}

fn of_chunk(chunk: &[u8]) -> Result<StreamFormat, SourceError> {
    let u16_at = |at: usize| chunk.get(at..at + 2).map(|b| u16::from_le_bytes([b[0], b[1]]));
    let cut = || SourceError::Unfit("its format chunk is cut off".into());
    let (tag, channels, bits) =
        (u16_at(0).ok_or_else(cut)?, u16_at(2).ok_or_else(cut)?, u16_at(14).ok_or_else(cut)?);
    let rate_hz = chunk.get(4..8).map(|b| u32::from_le_bytes([b[0], b[1], b[2], b[3]])).ok_or_else(cut)?;
    // WAVE_FORMAT_EXTENSIBLE: the real tag opens the sub-format's GUID.
    let tag = if tag == 0xfffe { u16_at(24).ok_or_else(cut)? } else { tag };
    let coding = match (tag, bits) {
        (1, 8) => Coding::U8,
        (1, 16) => Coding::S16,
        (1, 24) => Coding::S24,
        (1, 32) => Coding::S32,
        (3, 32) => Coding::F32,
        (3, 64) => Coding::F64,
        _ => return Err(SourceError::Unfit(format!("its samples are of kind {tag} with {bits} bit"))),
    };
    if !(1..=MOST_CHANNELS).contains(&channels) {
        return Err(SourceError::Unfit(format!("{channels} channels; 1 to {MOST_CHANNELS} can be recorded")));
    }
    if !(LOWEST_RATE_HZ..=HIGHEST_RATE_HZ).contains(&rate_hz) {
        return Err(SourceError::Unfit(format!(
            "{rate_hz} samples a second; {LOWEST_RATE_HZ} to {HIGHEST_RATE_HZ} can be recorded"
        )));
    }
    Ok(StreamFormat { rate_hz, channels, coding, bytes: None })
}

impl StreamFormat {
    pub(super) fn frame_bytes(&self) -> usize {
        self.coding.width() * usize::from(self.channels)
    }

    pub(super) fn decode(&self, bytes: &[u8], out: &mut Vec<f32>) {
        self.coding.decode(Order::Little, bytes, out);
    }

    /// How the takes are written: whole numbers as they came, all else as floats.
    pub(super) fn wav_spec(&self) -> hound::WavSpec {
        let (bits_per_sample, sample_format) = match self.coding {
            Coding::S32 | Coding::F32 | Coding::F64 => (32, hound::SampleFormat::Float),
            Coding::S24 => (24, hound::SampleFormat::Int),
            _ => (16, hound::SampleFormat::Int),
        };
        hound::WavSpec { channels: self.channels, sample_rate: self.rate_hz, bits_per_sample, sample_format }
    }
}

/// Fills the buffer, or as much of it as the stream still has.
fn read_most(stream: &mut impl Read, buffer: &mut [u8]) -> io::Result<usize> {
    let mut got = 0;
    while got < buffer.len() {
        match stream.read(&mut buffer[got..]) {
            Ok(0) => break,
            Ok(n) => got += n,
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => return Err(e),
        }
    }
    Ok(got)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wav(tag: u16, channels: u16, rate: u32, bits: u16, data_len: u32) -> Vec<u8> {
        let mut bytes = b"RIFF\xff\xff\xff\xffWAVELIST\x03\x00\x00\x00abc\0fmt \x10\0\0\0".to_vec();
        bytes.extend(tag.to_le_bytes());
        bytes.extend(channels.to_le_bytes());
        bytes.extend(rate.to_le_bytes());
        bytes.extend((rate * u32::from(channels * bits / 8)).to_le_bytes());
        bytes.extend((channels * bits / 8).to_le_bytes());
        bytes.extend(bits.to_le_bytes());
        bytes.extend(b"data");
        bytes.extend(data_len.to_le_bytes());
        bytes
    }

    fn raw(rate_hz: Option<u32>) -> RawFormat {
        RawFormat { rate_hz, coding: "s16".into(), channels: 1 }
    }

    /// Lengths as recorders write them into pipes: common practice.
    #[test]
    fn endless_wav_streams_are_read_to_their_end() {
        for (len, bytes) in [(0, None), (u32::MAX, None), (0x7fff_fffe, None), (96_000, Some(96_000))] {
            let (format, rest) = open(&mut wav(1, 2, 48_000, 16, len).as_slice(), &raw(None)).unwrap();
            assert_eq!((format.rate_hz, format.channels, format.coding), (48_000, 2, Coding::S16));
            assert_eq!((format.bytes, rest.len()), (bytes, 0));
        }
    }

    #[test]
    fn what_can_not_be_recorded_is_refused_with_advice() {
        let refused = |bytes: &[u8], rate| match open(&mut &bytes[..], &raw(rate)) {
            Err(error) => error.to_string(),
            Ok(format) => panic!("{format:?}"),
        };
        assert!(refused(&[], Some(8000)).contains("ended before any sound"));
        assert!(refused(b"OggS....", None).contains("--rate"));
        assert!(refused(&wav(1, 1, 44_100, 16, 0), Some(48_000)).contains("44100"));
        assert!(refused(&wav(2, 1, 44_100, 4, 0), None).contains("kind 2"));
        assert!(refused(&wav(1, 1, 4_000, 16, 0), None).contains("4000"));
        assert!(refused(&wav(1, 1, 8_000, 16, 0)[..30], None).contains("header"));
    }

    #[test]
    fn raw_samples_lose_none_to_the_look_for_a_header() {
        let bytes: Vec<u8> = [1i16, -2, 3, -4].iter().flat_map(|x| x.to_le_bytes()).collect();
        let (format, first) = open(&mut bytes.as_slice(), &raw(Some(8000))).unwrap();
        let mut samples = Vec::new();
        format.decode(&first, &mut samples);
        assert_eq!(samples, [1.0 / 32_768.0, -2.0 / 32_768.0]);
    }
}
