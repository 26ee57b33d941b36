//! Opus packets to samples: what the identification header asks for around the decoder (pre-skip, gain, streams).
//!
//! Source: RFC 7845 (header, section 5.1; pre-skip, 4.2); Encapsulation of Opus in ISO Base Media File Format
//! 0.6.8, section 4.3.2 for the header in MP4, which is big-endian and has version 0. Not here: containers
//! (`packets`).

use ruopus::MultistreamDecoder;

use super::Problem;

/// Opus is always decoded at this rate (RFC 7845, section 5.1: the rate in the header is of the original only).
pub(super) const RATE_HZ: u32 = 48_000;
/// A decoder and what is still to be skipped.
pub(super) struct Opus {
    decoder: MultistreamDecoder,
    channels: u16,
    gain: f32,
    /// Frames at the start that only let the decoder settle.
    skip: usize,
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
        // Streams, how many of them stereo, and which of their channels each channel of the file is (255: silence).
        let (streams, stereo, mapping) = match (family, head.get(19..)) {
            (0, _) if (1..=2).contains(&channels) => (1, channels - 1, (0..channels).collect()),
            (1.., Some([streams, stereo, mapping @ ..])) if mapping.len() >= channels.into() => {
                (*streams, *stereo, mapping[..channels.into()].to_vec())
            }
            _ => return Err(bad("channels")),
        };
        // A stream that feeds no channel has no use; the ceiling keeps a lying header from making 255 decoders.
        if streams == 0 || streams > channels || u16::from(channels) > super::MAX_CHANNELS {
            return Err(Problem::AbsurdHeader { what: format!("{streams} Opus streams") });
        }
        if stereo > streams || mapping.iter().any(|&from| from != 255 && from >= streams + stereo) {
            return Err(bad("channels"));
        }
        let gain_db = f32::from(u16_of(gain_a, gain_b).cast_signed()) / 256.0;
        Ok(Self {
            decoder: MultistreamDecoder::with_rate(RATE_HZ, streams.into(), stereo.into(), &mapping),
            channels: channels.into(),
            gain: 10f32.powf(gain_db / 20.0),
            skip: u16_of(skip_a, skip_b).into(),
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
    pub fn decode(&mut self, packet: &[u8], trim_end: u64) -> Result<Vec<f32>, Problem> {
        let channels = usize::from(self.channels);
        if packet.is_empty() {
            return Ok(Vec::new());
        }
        let mut decoded =
            self.decoder.decode_packet(packet).map_err(|why| Problem::Damaged { why: why.to_string() })?;
        let frames = decoded.len() / channels;
        let from = self.skip.min(frames);
        self.skip -= from;
        let to = frames.saturating_sub(usize::try_from(trim_end).unwrap_or(usize::MAX)).max(from);
        decoded.truncate(to * channels);
        decoded.drain(..from * channels);
        if self.gain != 1.0 {
            decoded.iter_mut().for_each(|x| *x *= self.gain);
        }
        Ok(decoded)
    }
}
