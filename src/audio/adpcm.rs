//! MS and IMA ADPCM in WAV: cut into blocks here, so that a header without sizes is no obstacle; decoded by
//! symphonia.

use std::fs::File;
use std::io::{Read, Take};

use symphonia::core::audio::Channels;
use symphonia::core::codecs::audio::well_known::{CODEC_ID_ADPCM_IMA_WAV, CODEC_ID_ADPCM_MS};
use symphonia::core::codecs::audio::{AudioCodecParameters, AudioDecoder, AudioDecoderOptions};
use symphonia::core::packet::Packet;
use symphonia::core::units::{Duration, Timestamp};

use super::{Problem, Source};

/// The two schemes found in WAV.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Scheme {
    Ms,
    Ima,
}

impl Scheme {
    /// ffmpeg's name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Ms => "adpcm_ms",
            Self::Ima => "adpcm_ima_wav",
        }
    }
}

/// How the blocks are cut.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Blocks {
    pub scheme: Scheme,
    /// Bytes a block.
    pub bytes: u16,
    /// Frames a block gives.
    pub frames: u16,
}

impl Blocks {
    /// Source: Microsoft, New Multimedia Data Types and Data Techniques (1994): a block's head holds 7 bytes a
    /// channel and two frames (MS), or 4 bytes a channel and one frame (IMA); each byte after it two samples.
    pub fn new(scheme: Scheme, bytes: u16, channels: u16) -> Result<Self, Problem> {
        let (head, held) = match scheme {
            Scheme::Ms => (7, 2),
            Scheme::Ima => (4, 1),
        };
        if !(1..=2).contains(&channels) {
            return Err(Problem::UnsupportedCodec { codec: format!("{} of {channels} channels", scheme.name()) });
        }
        let frames = (bytes / channels).checked_sub(head).and_then(|coded| coded.checked_mul(2)?.checked_add(held));
        match frames {
            Some(frames) => Ok(Self { scheme, bytes, frames }),
            None => Err(Problem::AbsurdHeader { what: format!("blocks of {bytes} bytes") }),
        }
    }
}

/// Blocks read at a time (chosen: some thousand samples).
const BLOCKS_AT_ONCE: usize = 16;

/// An open file of ADPCM blocks.
pub(super) struct Adpcm {
    reader: Take<File>,
    blocks: Blocks,
    channels: usize,
    decoder: Box<dyn AudioDecoder>,
    /// Frames still to give out: the last block is padded.
    left: u64,
    cut_short: Option<String>,
    lacks: bool,
}

impl Adpcm {
    /// `frames`: how many there are, if the header knows; `cut_short`: what it already told, and whether it
    /// promises more.
    pub fn new(
        reader: Take<File>,
        blocks: Blocks,
        channels: u16,
        rate_hz: u32,
        frames: Option<u64>,
        (cut_short, lacks): (Option<String>, bool),
    ) -> Result<Self, Problem> {
        let mut parameters = AudioCodecParameters::new();
        parameters
            .for_codec(match blocks.scheme {
                Scheme::Ms => CODEC_ID_ADPCM_MS,
                Scheme::Ima => CODEC_ID_ADPCM_IMA_WAV,
            })
            .with_sample_rate(rate_hz)
            .with_bits_per_coded_sample(4)
            .with_channels(Channels::Discrete(channels))
            .with_max_frames_per_packet(u64::from(blocks.frames))
            .with_frames_per_block(u64::from(blocks.frames));
        let decoder = symphonia::default::get_codecs()
            .make_audio_decoder(&parameters, &AudioDecoderOptions::default())
            .map_err(|e| Problem::Damaged { why: e.to_string() })?;
        // A count that ends within the last block is believed, any other is not.
        let in_blocks = reader.limit() / u64::from(blocks.bytes) * u64::from(blocks.frames);
        let believed = |&frames: &u64| frames <= in_blocks && in_blocks - frames < u64::from(blocks.frames);
        let left = frames.filter(believed).unwrap_or(u64::MAX);
        Ok(Self { reader, blocks, channels: usize::from(channels), decoder, left, cut_short, lacks })
    }
}

impl Source for Adpcm {
    fn next_frames(&mut self, out: &mut Vec<f32>) -> Result<bool, Problem> {
        let from = out.len();
        let size = usize::from(self.blocks.bytes);
        let mut bytes = Vec::with_capacity(BLOCKS_AT_ONCE * size);
        (&mut self.reader).take((BLOCKS_AT_ONCE * size) as u64).read_to_end(&mut bytes)?;
        let mut interleaved = Vec::new();
        for block in bytes.chunks_exact(size) {
            let frames = Duration::new(u64::from(self.blocks.frames));
            let packet = Packet::new(0, Timestamp::new(0), frames, block);
            let decoded = self.decoder.decode(&packet).map_err(|e| Problem::Damaged { why: e.to_string() })?;
            decoded.copy_to_vec_interleaved::<f32>(&mut interleaved);
            let wanted = usize::try_from(self.left).unwrap_or(usize::MAX).saturating_mul(self.channels);
            let kept = &interleaved[..interleaved.len().min(wanted)];
            out.extend_from_slice(kept);
            self.left = self.left.saturating_sub((kept.len() / self.channels) as u64);
        }
        Ok(out.len() > from)
    }

    fn cut_short(&self) -> Option<String> {
        self.cut_short.clone()
    }

    fn lacks(&self) -> bool {
        self.lacks
    }
}
