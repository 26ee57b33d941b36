//! Opus packets to samples: what the identification header asks for around the decoder (pre-skip, gain, streams).
//!
//! Source: RFC 7845 (header, section 5.1; pre-skip, 4.2); Encapsulation of Opus in ISO Base Media File Format
//! 0.6.8, section 4.3.2 for the header in MP4, which is big-endian and has version 0. Not here: containers
//! (`packets`).

use opus_rs::multistream::{ChannelMappingTable, MultistreamDecoder};

use super::Problem;

/// Opus is always decoded at this rate (RFC 7845, section 5.1: the rate in the header is of the original only).
pub(super) const RATE_HZ: u32 = 48_000;
/// The longest packet, 120 ms (RFC 6716, section 2.1.4), in frames.
const LONGEST_PACKET: usize = 5760;

/// A decoder and what is still to be skipped.
pub(super) struct Opus {
    decoder: MultistreamDecoder,
    channels: u16,
    gain: f32,
    /// Frames at the start that only let the decoder settle.
    skip: usize,
    decoded: Vec<f32>,
}

impl Opus {
    /// From the identification header, `OpusHead` and what follows.
    pub fn new(head: &[u8]) -> Result<Self, Problem> {
        let bad = |why: &str| Problem::Damaged { why: format!("Opus header: {why}") };
        let (Some(b"OpusHead"), Some(&fields)) =
            (head.get(..8), head.get(8..19).and_then(|h| h.first_chunk::<11>()))
        else {
            return Err(bad("cut off"));
        };
        let [version, channels, skip_a, skip_b, _, _, _, _, gain_a, gain_b, family] = fields;
        let u16_of = |a, b| if version == 0 { u16::from_be_bytes([a, b]) } else { u16::from_le_bytes([a, b]) };
        let table = match family {
            0 if (1..=2).contains(&channels) => ChannelMappingTable {
                channels,
                stream_count: 1,
                coupled_count: channels - 1,
                mapping: (0..channels).collect(),
            },
            0 => return Err(bad("channels")),
            _ => ChannelMappingTable::parse(family, channels, &head[19..]).ok_or_else(|| bad("channels"))?,
        };
        // A stream that feeds no channel has no use; the ceiling keeps a lying header from making 255 decoders.
        if table.stream_count == 0 || table.stream_count > channels || u16::from(channels) > super::MAX_CHANNELS {
            return Err(Problem::AbsurdHeader { what: format!("{} Opus streams", table.stream_count) });
        }
        let gain_db = f32::from(u16_of(gain_a, gain_b).cast_signed()) / 256.0;
        Ok(Self {
            decoder: MultistreamDecoder::new(RATE_HZ.cast_signed(), table).map_err(bad)?,
            channels: channels.into(),
            gain: 10f32.powf(gain_db / 20.0),
            skip: u16_of(skip_a, skip_b).into(),
            decoded: Vec::new(),
        })
    }

    pub fn channels(&self) -> u16 {
        self.channels
    }

    /// Frames to be skipped at the start.
    pub fn pre_skip(&self) -> usize {
        self.skip
    }

    /// The interleaved samples of a packet but for its last `trim_end` frames.
    pub fn decode(&mut self, packet: &[u8], trim_end: u64) -> Result<&[f32], Problem> {
        let channels = usize::from(self.channels);
        if packet.is_empty() {
            return Ok(&[]);
        }
        self.decoded.resize(LONGEST_PACKET * channels, 0.0);
        let frames = self
            .decoder
            .decode(packet, LONGEST_PACKET, &mut self.decoded)
            .map_err(|why| Problem::Damaged { why: why.into() })?
            .min(LONGEST_PACKET);
        let from = self.skip.min(frames);
        self.skip -= from;
        let to = frames.saturating_sub(usize::try_from(trim_end).unwrap_or(usize::MAX)).max(from);
        let kept = &mut self.decoded[from * channels..to * channels];
        if self.gain != 1.0 {
            kept.iter_mut().for_each(|x| *x *= self.gain);
        }
        Ok(kept)
    }
}
