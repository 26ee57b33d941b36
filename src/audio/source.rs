//! What every container and coding hands to the reader of blocks: facts, and samples in order. And what none may
//! ask for. Not here: any one of them (`header`, `packets`).

use super::error::Problem;

/// Lowest sample rate accepted, Hz: below it the audio of a receiver does not fit.
pub const LOWEST_RATE_HZ: u32 = 6_000;
/// Highest sample rate accepted, Hz: the highest a sound card gives.
pub const HIGHEST_RATE_HZ: u32 = 192_000;
/// Most channels accepted: what the largest sound interfaces record at once.
pub(super) const MAX_CHANNELS: u16 = 64;
/// Most frames accepted in one packet. FLAC, the largest in honest use, has 65 535; a decoder allocates this many
/// times the channels before it reads anything, so a lying header must be refused before its decoder is made.
pub(super) const MAX_FRAMES_PER_PACKET: u64 = 1 << 18;

/// What is known about a stream once it is open.
#[derive(Debug, Clone, PartialEq)]
pub struct StreamFacts {
    /// Frames a second.
    pub sample_rate_hz: u32,
    /// Channels in the file; what is read is always one.
    pub channels: u16,
    /// The coding's name as ffmpeg has it (common practice): `pcm_s16le`, `flac`, `mp3`, `opus` …
    pub codec: String,
    /// The container's name: `wav`, `rf64`, `w64`, `au`, `flac`, `ogg`, `mp4` …
    pub container: String,
    /// The coding throws away what it deems inaudible.
    pub lossy: bool,
    /// Seconds that the header promises; where it never got that far, seconds that fit into the file. An estimate
    /// in MP3 and AAC without a header of their own.
    pub promised_s: Option<f64>,
    /// RFC 3339 date and time, if the container carries a start; without an offset where the recorder left none.
    pub started: Option<String>,
}

/// Samples in a container or a coding, interleaved; what `Mono` folds into one channel.
pub(super) trait Source: Send {
    /// Appends some thousand interleaved samples, whole frames only; `false` at the end.
    fn next_frames(&mut self, out: &mut Vec<f32>) -> Result<bool, Problem>;
    /// Why the recording is shorter than its header says, or that its header never was completed; valid at the end.
    fn cut_short(&self) -> Option<String>;
    /// Whether some of the recording is missing, other than that nobody ever wrote how long it is; valid at the end.
    fn lacks(&self) -> bool;
    /// Whether its samples can be anything but finite numbers within full scale.
    fn is_float(&self) -> bool {
        true
    }
    /// Frames in all, if any of them can be gone to without reading what lies before it.
    fn divisible(&self) -> Option<u64> {
        None
    }
    /// Goes to frame `frame`, or to one shortly before it, and says which; before anything was read. `None`: this
    /// source can only be read through.
    fn go_to(&mut self, _frame: u64) -> Result<Option<u64>, Problem> {
        Ok(None)
    }
}
