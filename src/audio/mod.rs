//! A recording on disk, read once, from start to end, as blocks of mono samples in bounded memory.
//!
//! All that can be salvaged of a damaged file is, and what was lost is said ([`ReadAccount`]); what gives no samples
//! is an [`AudioError`] that names its file. No input makes it panic.
//! Not here: anything measured on the samples.

mod adpcm;
mod channel;
mod date;
mod error;
mod guard;
mod header;
mod mono;
mod opus;
mod packets;
mod parts;
pub(crate) mod pcm;
mod raw;
mod wav_out;

pub use channel::{ChannelChoice, UnknownChannel};
pub use error::{AudioError, Problem};
pub use mono::{Mono, ReadAccount, StreamFacts};
pub use parts::Parts;
pub use wav_out::write_wav_i16;

/// Lowest sample rate accepted, Hz: below it the audio of a receiver does not fit.
pub const LOWEST_RATE_HZ: u32 = 6_000;
/// Highest sample rate accepted, Hz: the highest a sound card gives.
pub const HIGHEST_RATE_HZ: u32 = 192_000;
/// Most channels accepted: what the largest sound interfaces record at once.
const MAX_CHANNELS: u16 = 64;
/// Most frames accepted in one packet. FLAC, the largest in honest use, has 65 535; a decoder allocates this many times
/// the channels before it reads anything, so a lying header must be refused before its decoder is made.
const MAX_FRAMES_PER_PACKET: u64 = 1 << 18;

/// Samples in a container or a coding, interleaved; what [`Mono`] folds into one channel.
trait Source: Send {
    /// Appends some thousand interleaved samples, whole frames only; `false` at the end.
    fn next_frames(&mut self, out: &mut Vec<f32>) -> Result<bool, Problem>;
    /// Why the recording is shorter than its header says, or that its header never was completed; valid at the end.
    fn cut_short(&self) -> Option<String>;
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
