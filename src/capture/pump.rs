//! A thread that keeps the stream flowing: what comes between takes is thrown away, so that a take begins with the
//! sound of now and no recorder is held up. Not here: what the bytes mean (`source`), what is done with a take
//! (`take`).

use std::io::Read;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, TrySendError, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::Duration;

use super::source::StreamFormat;

/// Bytes asked for at once (chosen).
const BLOCK_BYTES: usize = 8192;
/// Blocks that may wait for a slow disk: many seconds (chosen).
const WAITING_BLOCKS: usize = 1024;

/// What the stream gives.
#[derive(Debug, PartialEq)]
pub(super) enum Flow {
    /// Interleaved samples, whole frames.
    Samples(Vec<f32>),
    /// Nothing yet.
    Nothing,
    /// No more, and why.
    End(String),
}

/// Where the stream comes from.
#[derive(Debug, Clone)]
pub struct Origin {
    /// Its name in a sentence.
    pub name: &'static str,
    /// How often it lost samples by its own account.
    pub losses: Arc<AtomicU64>,
}

impl Origin {
    /// Standard input, which tells of no loss.
    pub fn standard_input() -> Self {
        Self { name: "standard input", losses: Arc::default() }
    }
}

#[derive(Default)]
struct Shared {
    is_open: AtomicBool,
    lost_frames: AtomicU64,
    end: Mutex<Option<String>>,
}

/// The reading end.
pub struct Pump {
    format: StreamFormat,
    blocks: Receiver<Vec<f32>>,
    shared: Arc<Shared>,
    origin: Origin,
    /// Its losses when the take began.
    losses_before: u64,
    at_speed: bool,
    /// Read, but beyond the end of the take before: only where nothing is thrown away.
    rest: Vec<f32>,
}

impl Pump {
    /// Starts reading. `first`: bytes already taken from the stream. `at_speed`: the stream waits between takes,
    /// nothing is thrown away: for files.
    pub fn start(
        mut stream: impl Read + Send + 'static,
        format: StreamFormat,
        first: Vec<u8>,
        at_speed: bool,
        origin: Origin,
    ) -> Self {
        let name = origin.name;
        let (sender, blocks) = sync_channel(if at_speed { 4 } else { WAITING_BLOCKS });
        let shared = Arc::new(Shared::default());
        let theirs = Arc::clone(&shared);
        thread::spawn(move || {
            let why = read_all(&mut stream, name, &format, first, at_speed, &theirs, &sender);
            *theirs.end.lock().unwrap_or_else(PoisonError::into_inner) = Some(why);
        });
        Self { format, blocks, shared, origin, losses_before: 0, at_speed, rest: Vec::new() }
    }

    /// How the samples come.
    pub fn format(&self) -> StreamFormat {
        self.format
    }

    /// Whether the stream waits between takes.
    pub(super) fn is_at_speed(&self) -> bool {
        self.at_speed
    }

    /// From now on samples are kept.
    pub(super) fn open(&mut self) {
        if !self.at_speed {
            while self.blocks.try_recv().is_ok() {}
        }
        self.shared.lost_frames.store(0, Ordering::SeqCst);
        self.losses_before = self.origin.losses.load(Ordering::SeqCst);
        self.shared.is_open.store(true, Ordering::SeqCst);
    }

    /// From now on they are thrown away again. `rest`: those taken and not used.
    pub(super) fn close(&mut self, rest: Vec<f32>) {
        self.shared.is_open.store(false, Ordering::SeqCst);
        if self.at_speed {
            self.rest = rest;
        }
    }

    /// Frames that came while the disk could not follow.
    pub(super) fn lost_frames(&self) -> u64 {
        self.shared.lost_frames.load(Ordering::SeqCst)
    }

    /// How often the source lost samples by its own account since [`Pump::open`], and its name.
    pub(super) fn losses(&self) -> (u64, &'static str) {
        (self.origin.losses.load(Ordering::SeqCst).saturating_sub(self.losses_before), self.origin.name)
    }

    /// What comes next, waiting so long at most.
    pub(super) fn next(&mut self, wait: Duration) -> Flow {
        if !self.rest.is_empty() {
            return Flow::Samples(std::mem::take(&mut self.rest));
        }
        match self.blocks.recv_timeout(wait) {
            Ok(samples) => Flow::Samples(samples),
            Err(RecvTimeoutError::Timeout) => Flow::Nothing,
            Err(RecvTimeoutError::Disconnected) => {
                Flow::End(self.end().unwrap_or_else(|| "the stream ended".to_owned()))
            }
        }
    }

    /// Why the stream ended, if it did.
    pub fn end(&self) -> Option<String> {
        self.shared.end.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }
}

/// Reads to the end; returns why it ended, with the stream's `name`.
fn read_all(
    stream: &mut impl Read,
    name: &str,
    format: &StreamFormat,
    first: Vec<u8>,
    at_speed: bool,
    shared: &Shared,
    sender: &SyncSender<Vec<f32>>,
) -> String {
    let frame = format.frame_bytes();
    let mut left = format.bytes.unwrap_or(u64::MAX);
    let mut bytes = first;
    let mut buffer = vec![0; BLOCK_BYTES];
    loop {
        let whole = bytes.len() - bytes.len() % frame;
        if whole > 0 {
            let mut samples = Vec::with_capacity(whole / format.coding.width());
            format.decode(&bytes[..whole], &mut samples);
            bytes.drain(..whole);
            if at_speed {
                if sender.send(samples).is_err() {
                    return "nobody listens".into();
                }
            } else if shared.is_open.load(Ordering::SeqCst) {
                match sender.try_send(samples) {
                    Ok(()) => {}
                    Err(TrySendError::Full(lost)) => {
                        let frames = lost.len() as u64 / u64::from(format.channels);
                        shared.lost_frames.fetch_add(frames, Ordering::SeqCst);
                    }
                    Err(TrySendError::Disconnected(_)) => return "nobody listens".into(),
                }
            }
        }
        let most = usize::try_from(left).unwrap_or(usize::MAX).min(BLOCK_BYTES);
        match stream.read(&mut buffer[..most]) {
            Ok(0) => return format!("the stream on {name} ended"),
            Ok(got) => {
                left -= got as u64;
                bytes.extend_from_slice(&buffer[..got]);
            }
            Err(e) if e.kind() == std::io::ErrorKind::Interrupted => {}
            Err(e) => return format!("{name} can't be read: {e}"),
        }
    }
}
