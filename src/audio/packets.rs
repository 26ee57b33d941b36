//! Recordings in containers that symphonia reads: FLAC, MP3, AAC, M4A, Ogg, WebM, CAF.
//!
//! Limits are checked before a decoder is made, the first packets are decoded when opening (the header of AAC may
//! lie about rate and channels), and packets without sound are counted, so that no file goes on for ever. Not here:
//! WAV and its kin (`header`), Opus (`opus`), catching panics (`guard`).

use std::fs::File;
use std::io::{ErrorKind, Seek, SeekFrom};
use std::path::Path;

use symphonia::core::codecs::audio::{
    AudioCodecId, AudioCodecParameters, AudioDecoder, AudioDecoderOptions, well_known,
};
use symphonia::core::errors::Error;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, SeekMode, SeekTo, Track, TrackType};
use symphonia::core::io::MediaSourceStream;
use symphonia::core::meta::{MetadataOptions, StandardTag};
use symphonia::core::packet::Packet;
use symphonia::core::units::Timestamp;

use super::opus::{self, Opus};
use super::{MAX_CHANNELS, MAX_FRAMES_PER_PACKET, Problem, Source, StreamFacts, date};

/// Packets in a row that may give no sound, being damaged, empty or of another track (video).
const MAX_SILENT_PACKETS: u32 = 10_000;
/// Samples from which on a block is given out (chosen).
const FULL_BLOCK: usize = 8192;
/// Frames that a lossy stream may stay behind its promise before that is called cut short: two frames of MP3, 1152
/// samples each (ISO 11172-3).
const PROMISE_SLACK: f64 = 2304.0;

/// Opens a file that the library knows.
/// `magic`: its first bytes.
pub(super) fn open(path: &Path, mut file: File, magic: &[u8]) -> Result<(StreamFacts, Box<dyn Source>), Problem> {
    file.seek(SeekFrom::Start(0))?;
    let mut hint = Hint::new();
    if let Some(extension) = path.extension().and_then(|e| e.to_str()) {
        hint.with_extension(extension);
    }
    let stream = MediaSourceStream::new(Box::new(file), Default::default());
    let format = symphonia::default::get_probe()
        .probe(&hint, stream, FormatOptions::default(), MetadataOptions::default())
        .map_err(|e| not_opened(e, magic))?;
    let mut packets = Packets::new(format)?;
    let started = packets.started();
    // Both come with the first samples; a file without any ends here.
    while packets.first.is_empty() {
        let mut first = Vec::new();
        if !packets.decode_next(&mut first)? {
            return Err(Problem::NoSamples { why: "its container has none".into() });
        }
        packets.first = first;
    }
    if packets.divisible().is_some() {
        // Only the second packet shows whether places are told right. What is wrong with it is told when its turn
        // comes.
        let mut second = Vec::new();
        if let Err(problem) = packets.decode_next(&mut second) {
            packets.pending = Some(problem);
        }
        packets.first.append(&mut second);
    }
    let facts = StreamFacts {
        sample_rate_hz: packets.rate_hz,
        channels: packets.channels,
        codec: packets.codec.0.clone(),
        container: packets.container.into(),
        lossy: packets.codec.1,
        promised_s: packets.promised_s,
        started,
    };
    Ok((facts, Box::new(packets)))
}

enum Decoder {
    Library(Box<dyn AudioDecoder>),
    Opus(Box<Opus>),
}

struct Packets {
    format: Box<dyn FormatReader>,
    track: u32,
    decoder: Decoder,
    /// Name, and whether it is lossy.
    codec: (String, bool),
    container: &'static str,
    /// 0 until the first packet is decoded.
    rate_hz: u32,
    channels: u16,
    promised_s: Option<f64>,
    promised_frames: Option<u64>,
    /// AAC without a container, and MP3 without an encoder's header frame, have an estimate only.
    promise_is_exact: bool,
    /// What opening decoded already.
    first: Vec<f32>,
    interleaved: Vec<f32>,
    frames: u64,
    damaged: u64,
    silent_in_a_row: u32,
    /// Damage come upon after good frames, told by the next call.
    pending: Option<Problem>,
    /// Frames decoded so far, and whether each packet so far stood where these end. A header that lies about the size
    /// of its blocks puts them elsewhere; then no place can be gone to.
    decoded: u64,
    is_placed_right: bool,
}

impl Packets {
    fn new(format: Box<dyn FormatReader>) -> Result<Self, Problem> {
        let container = match format.format_info().short_name {
            "isomp4" => "mp4",
            other => other,
        };
        let track = format
            .default_track(TrackType::Audio)
            .ok_or_else(|| Problem::NoSamples { why: "its container has no sound track".into() })?;
        let parameters = audio_parameters(track)?;
        let codec = codec_name(parameters.codec);
        let decoder = make_decoder(parameters, &codec.0)?;
        let promised_s = promised_s(track, parameters, &decoder);
        let promised_frames = track.num_frames;
        let promise_is_exact = container != "aac" && (container != "mp3" || track.delay.is_some());
        Ok(Self {
            track: track.id,
            codec,
            container,
            decoder,
            rate_hz: 0,
            channels: 0,
            promised_s,
            promised_frames,
            promise_is_exact,
            first: Vec::new(),
            interleaved: Vec::new(),
            frames: 0,
            damaged: 0,
            silent_in_a_row: 0,
            pending: None,
            decoded: 0,
            is_placed_right: true,
            format,
        })
    }

    /// The start that the tags tell.
    fn started(&mut self) -> Option<String> {
        let mut metadata = self.format.metadata();
        let tags = &metadata.skip_to_latest()?.media.tags;
        tags.iter().find_map(|tag| match tag.std.as_ref()? {
            StandardTag::RecordingDate(words)
            | StandardTag::OriginalRecordingDate(words)
            | StandardTag::ReleaseDate(words)
            | StandardTag::DigitizedDate(words) => date::from_tag(words),
            _ => None,
        })
    }

    /// Decodes one packet, which may give nothing; `false` at the end.
    fn decode_next(&mut self, out: &mut Vec<f32>) -> Result<bool, Problem> {
        let packet = match self.format.next_packet() {
            Ok(Some(packet)) => packet,
            Ok(None) => return Ok(false),
            Err(Error::ResetRequired) => return self.next_in_chain(),
            Err(e) => return Err(damaged(e)),
        };
        let before = out.len();
        if packet.track_id == self.track {
            self.decode(&packet, out)?;
        }
        self.silent_in_a_row = if out.len() > before { 0 } else { self.silent_in_a_row + 1 };
        if self.silent_in_a_row > MAX_SILENT_PACKETS {
            return Err(Problem::Damaged { why: "packet after packet without sound".into() });
        }
        Ok(true)
    }

    fn decode(&mut self, packet: &Packet, out: &mut Vec<f32>) -> Result<(), Problem> {
        match &mut self.decoder {
            Decoder::Opus(decoder) => {
                (self.rate_hz, self.channels) = (opus::RATE_HZ, decoder.channels());
                match decoder.decode(&packet.data, packet.trim_end.get()) {
                    Ok(frames) => {
                        self.decoded += (frames.len() / usize::from(self.channels.max(1))) as u64;
                        out.extend_from_slice(&frames);
                    }
                    Err(_) => self.damaged += 1,
                }
            }
            Decoder::Library(decoder) => match decoder.decode(packet) {
                Ok(decoded) => {
                    self.is_placed_right &= u64::try_from(packet.pts.get()).is_ok_and(|at| at == self.decoded);
                    self.decoded += decoded.frames() as u64;
                    let spec = decoded.spec();
                    let now = (spec.rate(), u16::try_from(spec.channels().count()).unwrap_or(u16::MAX));
                    if decoded.frames() == 0 {
                        return Ok(());
                    }
                    if self.rate_hz == 0 {
                        (self.rate_hz, self.channels) = now;
                    } else if now != (self.rate_hz, self.channels) {
                        return Err(Problem::Damaged {
                            why: "its sample rate or channels change on the way".into(),
                        });
                    }
                    decoded.copy_to_vec_interleaved::<f32>(&mut self.interleaved);
                    out.extend_from_slice(&self.interleaved);
                }
                // The library says of these two that the next packet may be sound again.
                Err(Error::DecodeError(_) | Error::IoError(_)) => self.damaged += 1,
                Err(e) => return Err(damaged(e)),
            },
        }
        if self.decoded == 0 {
            // MP3 that begins in the middle of a stream lacks what its first packets refer to: no damage.
            self.damaged = 0;
        }
        Ok(())
    }

    /// Ogg may chain streams; the next is read on if it is of the same kind.
    fn next_in_chain(&mut self) -> Result<bool, Problem> {
        let changed = || Problem::Damaged { why: "another stream follows that is not of the same kind".into() };
        let track = self.format.default_track(TrackType::Audio).ok_or_else(changed)?;
        let parameters = audio_parameters(track)?;
        let codec = codec_name(parameters.codec);
        if codec != self.codec {
            return Err(changed());
        }
        self.decoder = make_decoder(parameters, &codec.0)?;
        self.track = track.id;
        // The promise was of the first stream only.
        self.promised_s = None;
        self.silent_in_a_row += 1;
        if self.silent_in_a_row > MAX_SILENT_PACKETS {
            return Err(Problem::Damaged { why: "stream after stream without sound".into() });
        }
        Ok(true)
    }

    fn short_of_promise(&self) -> Option<String> {
        let has_s = self.frames as f64 / f64::from(self.rate_hz.max(1));
        match self.promised_s {
            None if self.codec.0 == "flac" => Some(
                "its header never got the length (a recorder cut off, or written to a pipe): read to the file's end"
                    .into(),
            ),
            Some(promised_s) if self.promise_is_exact => {
                let slack = if self.codec.1 { PROMISE_SLACK } else { 0.5 };
                (has_s + slack / f64::from(self.rate_hz.max(1)) < promised_s)
                    .then(|| format!("it ends after {has_s:.1} s of the {promised_s:.1} s its header promises"))
            }
            Some(_) => None,
            None => None,
        }
    }
}

impl Source for Packets {
    fn next_frames(&mut self, out: &mut Vec<f32>) -> Result<bool, Problem> {
        if let Some(problem) = self.pending.take() {
            return Err(problem);
        }
        let before = out.len();
        out.append(&mut self.first);
        let mut more = true;
        while more && out.len() - before < FULL_BLOCK {
            more = match self.decode_next(out) {
                Ok(more) => more,
                Err(problem) if out.len() == before => return Err(problem),
                Err(problem) => {
                    self.pending = Some(problem);
                    break;
                }
            };
        }
        self.frames += ((out.len() - before) / usize::from(self.channels.max(1))) as u64;
        Ok(more)
    }

    fn cut_short(&self) -> Option<String> {
        let damaged = (self.damaged > 0).then(|| {
            let pieces = if self.damaged == 1 { "1 piece" } else { &format!("{} pieces", self.damaged) };
            format!("it is damaged: {pieces} of it had to be left out")
        });
        damaged.or_else(|| self.short_of_promise())
    }

    fn lacks(&self) -> bool {
        self.damaged > 0 || self.promised_s.is_some() && self.short_of_promise().is_some()
    }

    /// FLAC only: its packets bear the number of their first sample and stand alone. Packets of lossy codings lean
    /// on those before them, so a part would begin with other samples than the whole has there.
    fn divisible(&self) -> Option<u64> {
        let is_flac = self.container == "flac" && self.codec.0 == "flac";
        self.promised_frames.filter(|_| is_flac && self.is_placed_right)
    }

    fn go_to(&mut self, frame: u64) -> Result<Option<u64>, Problem> {
        let (Some(_), Ok(wanted), Decoder::Library(decoder)) =
            (self.promised_frames.filter(|_| self.container == "flac"), i64::try_from(frame), &mut self.decoder)
        else {
            return Ok(None);
        };
        let to = SeekTo::Timestamp { ts: Timestamp::new(wanted), track_id: self.track };
        let at = self.format.seek(SeekMode::Accurate, to).map_err(damaged)?.actual_ts.get();
        decoder.reset();
        self.first.clear();
        self.frames = u64::try_from(at).unwrap_or(0);
        Ok(Some(self.frames))
    }
}

fn audio_parameters(track: &Track) -> Result<&AudioCodecParameters, Problem> {
    let parameters = track.codec_params.as_ref().and_then(|parameters| parameters.audio());
    parameters.ok_or_else(|| Problem::UnsupportedCodec { codec: "unknown to its own container".into() })
}

fn make_decoder(parameters: &AudioCodecParameters, codec: &str) -> Result<Decoder, Problem> {
    let absurd = |what: String| Err(Problem::AbsurdHeader { what });
    if let Some(frames) = parameters.max_frames_per_packet.max(parameters.frames_per_block)
        && frames > MAX_FRAMES_PER_PACKET
    {
        return absurd(format!("packets of {frames} samples"));
    }
    if let Some(channels) = &parameters.channels
        && channels.count() > usize::from(MAX_CHANNELS)
    {
        return absurd(format!("{} channels", channels.count()));
    }
    if parameters.codec == well_known::CODEC_ID_OPUS {
        let head = parameters.extra_data.as_deref().unwrap_or_default();
        return Ok(Decoder::Opus(Box::new(Opus::new(head)?)));
    }
    symphonia::default::get_codecs()
        .make_audio_decoder(parameters, &AudioDecoderOptions::default())
        .map(Decoder::Library)
        .map_err(|e| match e {
            Error::Unsupported(_) => Problem::UnsupportedCodec { codec: codec.into() },
            e => damaged(e),
        })
}

/// Seconds that the container promises.
fn promised_s(track: &Track, parameters: &AudioCodecParameters, decoder: &Decoder) -> Option<f64> {
    let skipped = match decoder {
        Decoder::Opus(decoder) => decoder.pre_skip() as f64,
        Decoder::Library(_) => 0.0,
    };
    match (track.num_frames, parameters.sample_rate) {
        (Some(frames), Some(rate)) if rate > 0 => Some((frames as f64 - skipped).max(0.0) / f64::from(rate)),
        _ => Some(track.time_base?.calc_duration(track.duration?)?.as_secs_f64()),
    }
}

fn damaged(e: Error) -> Problem {
    match e {
        Error::IoError(e) if e.kind() != ErrorKind::UnexpectedEof => Problem::Unreadable { why: e.to_string() },
        Error::IoError(_) => Problem::Damaged { why: "it ends in the middle of a packet".into() },
        Error::Unsupported(what) => Problem::UnsupportedCodec { codec: what.into() },
        e => Problem::Damaged { why: e.to_string() },
    }
}

/// Why a file was not opened; one that begins like a known container is damaged rather than no audio.
fn not_opened(e: Error, magic: &[u8]) -> Problem {
    let container = match magic {
        [b'f', b'L', b'a', b'C', ..] => Some("FLAC"),
        [b'O', b'g', b'g', b'S', ..] => Some("Ogg"),
        [b'c', b'a', b'f', b'f', ..] => Some("CAF"),
        [0x1a, 0x45, 0xdf, 0xa3, ..] => Some("Matroska/WebM"),
        [_, _, _, _, b'f', b't', b'y', b'p', ..] => Some("MP4"),
        _ => None,
    };
    match (e, container) {
        (Error::IoError(e), _) if e.kind() != ErrorKind::UnexpectedEof => {
            Problem::Unreadable { why: e.to_string() }
        }
        // MP4 recorders write the index last.
        (_, Some("MP4")) => Problem::Damaged { why: "its MP4 index is missing or damaged: cut off?".into() },
        (_, Some(container)) => Problem::Damaged { why: format!("its {container} header is cut off or damaged") },
        (Error::IoError(_) | Error::Unsupported(_), None) => {
            Problem::NotAudio { why: "no known header in it".into() }
        }
        (e, None) => Problem::NotAudio { why: e.to_string() },
    }
}

/// ffmpeg's name of a codec (common practice), and whether it is lossy.
fn codec_name(codec: AudioCodecId) -> (String, bool) {
    use well_known as id;
    let (name, lossy) = match codec {
        id::CODEC_ID_FLAC => ("flac", false),
        id::CODEC_ID_ALAC => ("alac", false),
        id::CODEC_ID_MP1 => ("mp1", true),
        id::CODEC_ID_MP2 => ("mp2", true),
        id::CODEC_ID_MP3 => ("mp3", true),
        id::CODEC_ID_AAC => ("aac", true),
        id::CODEC_ID_VORBIS => ("vorbis", true),
        id::CODEC_ID_OPUS => ("opus", true),
        id::CODEC_ID_SPEEX => ("speex", true),
        id::CODEC_ID_AC3 => ("ac3", true),
        id::CODEC_ID_EAC3 => ("eac3", true),
        id::CODEC_ID_WAVPACK => ("wavpack", false),
        id::CODEC_ID_ADPCM_MS => ("adpcm_ms", true),
        id::CODEC_ID_ADPCM_IMA_WAV => ("adpcm_ima_wav", true),
        id::CODEC_ID_ADPCM_IMA_QT => ("adpcm_ima_qt", true),
        id::CODEC_ID_PCM_ALAW => ("pcm_alaw", true),
        id::CODEC_ID_PCM_MULAW => ("pcm_mulaw", true),
        id::CODEC_ID_PCM_S8 => ("pcm_s8", false),
        id::CODEC_ID_PCM_U8 => ("pcm_u8", false),
        id::CODEC_ID_PCM_S16LE => ("pcm_s16le", false),
        id::CODEC_ID_PCM_S16BE => ("pcm_s16be", false),
        id::CODEC_ID_PCM_S24LE => ("pcm_s24le", false),
        id::CODEC_ID_PCM_S24BE => ("pcm_s24be", false),
        id::CODEC_ID_PCM_S32LE => ("pcm_s32le", false),
        id::CODEC_ID_PCM_S32BE => ("pcm_s32be", false),
        id::CODEC_ID_PCM_F32LE => ("pcm_f32le", false),
        id::CODEC_ID_PCM_F32BE => ("pcm_f32be", false),
        id::CODEC_ID_PCM_F64LE => ("pcm_f64le", false),
        id::CODEC_ID_PCM_F64BE => ("pcm_f64be", false),
        // Unknown: the noise of a lossy one would pass for the receiver's, so doubt.
        other => return (format!("codec {other}"), true),
    };
    (name.into(), lossy)
}
