//! A recording on disk, read once, from start to end, as blocks of mono samples in bounded memory.
//!
//! All that can be salvaged of a damaged file is, and what was lost is said ([`ReadAccount`]); what gives no
//! samples is an [`AudioError`] that names its file. No input makes it panic. Not here: anything measured on the
//! samples.

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
mod source;
mod wav_out;

use source::{MAX_CHANNELS, MAX_FRAMES_PER_PACKET, Source};

pub use channel::{ChannelChoice, UnknownChannel};
pub use error::{AudioError, Problem};
pub use mono::{Lost, Mono, ReadAccount};
pub use parts::Parts;
pub use source::{HIGHEST_RATE_HZ, LOWEST_RATE_HZ, StreamFacts};
pub use wav_out::write_wav;
