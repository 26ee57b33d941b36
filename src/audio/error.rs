//! Why a file gave no samples: which file, what is so, what to try.
//! Not here: what was lost of a file that did give samples (`ReadAccount`).

use std::path::Path;

/// A file that could not be read or written; names the file only, never the folder it lies in.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{file}: {problem}")]
pub struct AudioError {
    /// The file's name, without control characters.
    pub file: String,
    /// What is so, and what to try.
    pub problem: Problem,
}

impl AudioError {
    pub(crate) fn new(path: &Path, problem: Problem) -> Self {
        Self { file: shown_name(path), problem }
    }
}

/// What keeps a file from being used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Problem {
    /// No such file.
    #[error("not found\n  try: check the name and the folder")]
    NotFound,
    /// The system does not let it be read.
    #[error("can't be read ({why})\n  try: check its permissions and the disk")]
    Unreadable {
        /// The system's reason.
        why: String,
    },
    /// A folder where a file is wanted.
    #[error("is a folder\n  try: name a recording in it")]
    IsFolder,
    /// A link to something that is not there.
    #[error("is a link that leads nowhere\n  try: copy the recording itself to this place")]
    DeadLink,
    /// A pipe, socket or device.
    #[error("is not an ordinary file\n  try: record to a file first")]
    NotAFile,
    /// Zero bytes.
    #[error("is empty (0 bytes)\n  try: copy it again from the recorder")]
    Empty,
    /// No known container.
    #[error("is no audio this tool knows ({why})\n  try: export the recording as WAV or FLAC")]
    NotAudio {
        /// What was found instead.
        why: String,
    },
    /// A known container around a codec that is not decoded here.
    #[error("holds sound in a coding that is not supported ({codec})\n  try: export the recording as WAV or FLAC")]
    UnsupportedCodec {
        /// The coding's name or number.
        codec: String,
    },
    /// A sample rate that no receiver's audio has.
    #[error(
        "has a sample rate of {rate_hz} Hz, outside 6 to 192 kHz\n  \
         try: record at 12 or 48 kHz, or mend the file's header"
    )]
    RateOutside {
        /// As the header has it.
        rate_hz: u32,
    },
    /// A sound file without sound.
    #[error("holds no samples ({why})\n  try: record it again")]
    NoSamples {
        /// Why none.
        why: String,
    },
    /// Sizes that would need more memory than any recording does.
    #[error("has a damaged header: it asks for {what}\n  try: copy it again from the recorder")]
    AbsurdHeader {
        /// The size asked for.
        what: String,
    },
    /// The channel asked for is not there.
    #[error("has {}, so there is no channel {asked}\n  try: {}", channels_in_words(*channels), channel_advice(*channels))]
    NoSuchChannel {
        /// 1-based.
        asked: u16,
        /// How many there are.
        channels: u16,
    },
    /// Damaged before the first sample.
    #[error("is damaged: nothing of it could be decoded ({why})\n  try: copy it again from the recorder")]
    Damaged {
        /// The decoder's reason.
        why: String,
    },
    /// The decoder broke down and was caught.
    #[error("is damaged in a way that made its decoder fail\n  try: export the recording as WAV or FLAC")]
    DecoderFailed,
    /// A file could not be written.
    #[error("can't be written ({why})\n  try: check the folder, its permissions and the free space")]
    NotWritten {
        /// The system's reason.
        why: String,
    },
}

impl From<std::io::Error> for Problem {
    fn from(error: std::io::Error) -> Self {
        match error.kind() {
            std::io::ErrorKind::NotFound => Self::NotFound,
            std::io::ErrorKind::IsADirectory => Self::IsFolder,
            _ => Self::Unreadable { why: error.to_string() },
        }
    }
}

fn channels_in_words(channels: u16) -> String {
    if channels == 1 { "1 channel".into() } else { format!("{channels} channels") }
}

fn channel_advice(channels: u16) -> String {
    if channels == 1 {
        "`auto`, or `1`".into()
    } else {
        format!("`auto`, `mean`, or a number from 1 to {channels}")
    }
}

/// The file's own name, harmless in a terminal.
pub(super) fn shown_name(path: &Path) -> String {
    let name = path.file_name().map_or_else(|| path.to_string_lossy(), |name| name.to_string_lossy());
    name.chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect()
}
