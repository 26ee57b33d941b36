//! What was measured of a recording, kept on disk for the next run: a night with one file more reads only that, and a run
//! that was stopped goes on where it was.
//!
//! A file's name in the cache is a hash of the recording's content, of all settings and of this very build of the program, so
//! a kept file never answers for anything else. It consists of blocks, each with a number and a checksum; what follows
//! the first block that is not as it was written is thrown away. Nothing in it tells names or places.
//! Not here: how rows are measured (`row`), merged (`store`).

use std::fs::{self, File, TryLockError};
use std::io::{BufReader, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::thread::sleep;
use std::time::{Duration, SystemTime};

use xxhash_rust::xxh3::{Xxh3, xxh3_64, xxh3_128};

use super::bytes::{Reader, Writer};
use super::row::Measured;
use crate::audio::ReadAccount;

/// Kept in all, bytes: some four hundred hours. Beyond, the files longest unused are thrown away.
const MOST_BYTES: u64 = 1 << 30;
/// Read at once while hashing.
const BLOCK: usize = 1 << 20;
/// Longest block believed: half an hour of rows at the highest rate is a tenth of it.
const LONGEST_BLOCK: usize = 1 << 28;

const HEADER: u8 = 1;
const ROWS: u8 = 2;
const END: u8 = 3;

/// A folder of kept measurements.
#[derive(Debug, Clone)]
pub struct Cache {
    dir: PathBuf,
    build: u128,
}

impl Cache {
    /// Uses a folder, which is made if need be. `None` where that can't be done or the program can't tell its own build:
    /// then nothing is kept.
    pub fn open(dir: &Path) -> Option<Self> {
        fs::create_dir_all(dir).ok()?;
        let cache = Self { dir: dir.to_owned(), build: build()? };
        cache.tidy();
        Some(cache)
    }

    /// The place for a recording measured with these settings; `None` where it can't be read or another run is at it.
    pub(crate) fn slot(&self, recording: &Path, settings: &str) -> Option<Slot> {
        let content = content(recording)?;
        let extension = recording.extension().unwrap_or_default().to_string_lossy();
        let words = format!("{:032x} {:032x} {extension} {settings}", self.build, content);
        let path = self.dir.join(format!("{:032x}.night", xxh3_128(words.as_bytes())));
        let file = File::options().read(true).write(true).create(true).truncate(false).open(&path).ok()?;
        lock(&file)?;
        // Used now: what is tidied away is what was not used for longest.
        let _ = file.set_modified(SystemTime::now());
        Slot::look(file)
    }

    fn tidy(&self) {
        let Ok(entries) = fs::read_dir(&self.dir) else { return };
        let mut kept: Vec<(SystemTime, u64, PathBuf)> = entries
            .flatten()
            .filter(|entry| entry.path().extension().is_some_and(|extension| extension == "night"))
            .filter_map(|entry| {
                let facts = entry.metadata().ok()?;
                Some((facts.modified().ok()?, facts.len(), entry.path()))
            })
            .collect();
        kept.sort();
        let mut bytes: u64 = kept.iter().map(|one| one.1).sum();
        for (_, length, path) in kept {
            if bytes <= MOST_BYTES {
                break;
            }
            if fs::remove_file(path).is_ok() {
                bytes -= length;
            }
        }
    }
}

/// How often and how long a lock is waited for: a run that was just killed may need a moment to let go of it.
const TRIES: u32 = 10;
const BETWEEN_TRIES: Duration = Duration::from_millis(20);

/// Locks a file against other runs; `None` where one is at it. Taken back when the file is closed, however that comes about.
fn lock(file: &File) -> Option<()> {
    for tried in 1..=TRIES {
        match file.try_lock() {
            Ok(()) => return Some(()),
            Err(TryLockError::WouldBlock) if tried < TRIES => sleep(BETWEEN_TRIES),
            Err(_) => return None,
        }
    }
    None
}

/// This build of the program: its file's length and date, and its version.
fn build() -> Option<u128> {
    let facts = fs::metadata(std::env::current_exe().ok()?).ok()?;
    let age = facts.modified().ok()?.duration_since(SystemTime::UNIX_EPOCH).ok()?;
    let words = format!("{} {} {}", env!("CARGO_PKG_VERSION"), facts.len(), age.as_nanos());
    Some(xxh3_128(words.as_bytes()))
}

/// Hash of all of a file.
fn content(path: &Path) -> Option<u128> {
    let mut file = File::open(path).ok()?;
    let mut hash = Xxh3::new();
    let mut block = vec![0; BLOCK];
    loop {
        match file.read(&mut block) {
            Ok(0) => return Some(hash.digest128()),
            Ok(got) => hash.update(&block[..got]),
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => {}
            Err(_) => return None,
        }
    }
}

/// What all rows of a recording share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Shared {
    pub passband_hz: (f64, f64),
    pub bins: usize,
    pub bin_hz: f64,
    pub modulation_bin_hz: f64,
}

/// How far a recording was gone through.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Done {
    /// Chunks.
    pub chunks: usize,
    /// The account so far.
    pub account: ReadAccount,
    /// Whether that is all of it.
    pub whole: bool,
}

/// One recording's place in the cache.
pub(crate) struct Slot {
    file: File,
    /// What all rows share, if anything is kept.
    pub shared: Option<Shared>,
    pub done: Done,
    /// Place and length of each block of rows.
    rows: Vec<(u64, usize)>,
    /// Blocks so far, and the file's length with them.
    blocks: u32,
    length: u64,
    /// A write failed: no more are tried.
    failed: bool,
}

impl Slot {
    /// Looks through a file, block by block; what is behind the first damage is not counted.
    fn look(file: File) -> Option<Self> {
        let reading = file.try_clone().ok()?;
        let mut slot = Self {
            file,
            shared: None,
            done: Done::default(),
            rows: Vec::new(),
            blocks: 0,
            length: 0,
            failed: false,
        };
        let mut reader = BufReader::with_capacity(BLOCK, reading);
        while !slot.done.whole {
            let Some((kind, payload, length)) = read_block(&mut reader, slot.blocks) else { break };
            if slot.understand(kind, &payload).is_none() {
                break;
            }
            slot.blocks += 1;
            slot.length += length;
        }
        Some(slot)
    }

    fn understand(&mut self, kind: u8, payload: &[u8]) -> Option<()> {
        let mut bytes = Reader::new(payload);
        match (kind, self.shared) {
            (HEADER, None) => {
                self.shared = Some(Shared {
                    passband_hz: (bytes.f64()?, bytes.f64()?),
                    bins: bytes.length()?,
                    bin_hz: bytes.f64()?,
                    modulation_bin_hz: bytes.f64()?,
                });
            }
            (ROWS | END, Some(_)) => {
                self.done = Done { chunks: bytes.length()?, account: account(&mut bytes)?, whole: kind == END };
                if kind == ROWS {
                    self.rows.push((self.length, payload.len()));
                }
            }
            _ => return None,
        }
        Some(())
    }

    /// Hands out the rows that are kept, in order. `false` if they can't be read again: then nothing of this is to be used.
    pub fn rows(&mut self, mut each: impl FnMut(u32, Measured)) -> bool {
        let Ok(mut file) = self.file.try_clone() else { return false };
        for &(at, length) in &self.rows {
            let mut payload = vec![0; length];
            let start = SeekFrom::Start(at + HEAD as u64);
            if file.seek(start).is_err() || file.read_exact(&mut payload).is_err() {
                return false;
            }
            let mut bytes = Reader::new(&payload);
            let read = bytes.length().and_then(|_| account(&mut bytes)).and_then(|_| bytes.length());
            let Some(count) = read else { return false };
            for _ in 0..count {
                let Some((place, row)) = row(&mut bytes) else { return false };
                each(place, row);
            }
        }
        true
    }

    /// Forgets all and begins anew.
    pub fn begin(&mut self, shared: Shared) {
        (self.shared, self.done, self.blocks, self.length) = (Some(shared), Done::default(), 0, 0);
        self.rows.clear();
        let mut bytes = Writer::default();
        bytes.f64(shared.passband_hz.0);
        bytes.f64(shared.passband_hz.1);
        bytes.length(shared.bins);
        bytes.f64(shared.bin_hz);
        bytes.f64(shared.modulation_bin_hz);
        self.write(HEADER, &bytes.bytes);
    }

    /// Keeps some rows and how far the recording is done with them.
    pub fn keep(&mut self, rows: &[(u32, Measured)], chunks: usize, so_far: &ReadAccount) {
        let mut bytes = Writer::default();
        bytes.length(chunks);
        put_account(&mut bytes, so_far);
        bytes.length(rows.len());
        rows.iter().for_each(|(place, row)| put_row(&mut bytes, *place, row));
        self.write(ROWS, &bytes.bytes);
    }

    /// The recording is done.
    pub fn end(&mut self, chunks: usize, whole: &ReadAccount) {
        let mut bytes = Writer::default();
        bytes.length(chunks);
        put_account(&mut bytes, whole);
        self.write(END, &bytes.bytes);
    }

    /// Forgets all: what was read is not to be relied on.
    pub fn forget(&mut self) {
        self.failed = true;
        let _ = self.file.set_len(0);
    }

    fn write(&mut self, kind: u8, payload: &[u8]) {
        if self.failed {
            return;
        }
        let mut block = Vec::with_capacity(payload.len() + HEAD + 8);
        block.extend_from_slice(&(payload.len() as u64).to_le_bytes());
        block.extend_from_slice(&self.blocks.to_le_bytes());
        block.push(kind);
        block.extend_from_slice(payload);
        let sum = xxh3_64(&block);
        block.extend_from_slice(&sum.to_le_bytes());
        let written = self
            .file
            .set_len(self.length)
            .and_then(|()| self.file.seek(SeekFrom::Start(self.length)))
            .and_then(|_| self.file.write_all(&block));
        match written {
            Ok(()) => {
                self.blocks += 1;
                self.length += block.len() as u64;
            }
            // A full disk is no reason to end the run, only to keep no more.
            Err(_) => self.forget(),
        }
    }
}

/// Bytes ahead of a block's payload: length, number, kind.
const HEAD: usize = 13;

/// The next block, if it is as it was written: kind, payload, length in the file.
fn read_block(from: &mut impl Read, number: u32) -> Option<(u8, Vec<u8>, u64)> {
    let mut block = vec![0; HEAD];
    from.read_exact(&mut block).ok()?;
    let length = usize::try_from(u64::from_le_bytes(block[..8].try_into().ok()?)).ok()?;
    let told = u32::from_le_bytes(block[8..12].try_into().ok()?);
    if length > LONGEST_BLOCK || told != number {
        return None;
    }
    // Read as far as there is something: a lying length must not be believed for its memory.
    from.by_ref().take(length as u64).read_to_end(&mut block).ok()?;
    let mut sum = [0; 8];
    from.read_exact(&mut sum).ok()?;
    if block.len() != HEAD + length || xxh3_64(&block) != u64::from_le_bytes(sum) {
        return None;
    }
    let kind = block[12];
    Some((kind, block.split_off(HEAD), (HEAD + length + sum.len()) as u64))
}

fn put_account(bytes: &mut Writer, account: &ReadAccount) {
    bytes.u64(account.frames);
    bytes.u64(account.not_a_number);
    bytes.words(account.cut_short.as_deref());
    bytes.words(account.dead_channel.as_deref());
    bytes.words(Some(&account.channel_used));
}

fn account(bytes: &mut Reader<'_>) -> Option<ReadAccount> {
    Some(ReadAccount {
        frames: bytes.u64()?,
        not_a_number: bytes.u64()?,
        cut_short: bytes.words()?,
        dead_channel: bytes.words()?,
        channel_used: bytes.words()??,
    })
}

fn put_row(bytes: &mut Writer, place: u32, row: &Measured) {
    bytes.u32(place);
    bytes.u32(row.sounding);
    bytes.u32(row.frames);
    bytes.length(row.steps.len());
    for step in &row.steps {
        bytes.floats(&[step.noise, step.total, step.level, step.peak, step.quiet_share]);
        bytes.u32(step.clipped);
        bytes.u32(step.hole);
    }
    bytes.length(row.density.len());
    bytes.floats(&row.density);
    let envelope = row.envelope.as_ref();
    bytes.length(envelope.map_or(0, |envelope| 1 + envelope.modulation.len()));
    if let Some(envelope) = envelope {
        bytes.floats(&envelope.modulation);
        bytes.u32(envelope.stretches);
        bytes.u32(envelope.pulses);
        bytes.floats(&[envelope.pulse_energy, envelope.seconds]);
    }
}

fn row(bytes: &mut Reader<'_>) -> Option<(u32, Measured)> {
    use super::timeline::{RowEnvelope, Step};
    let (place, sounding, frames) = (bytes.u32()?, bytes.u32()?, bytes.u32()?);
    let count = bytes.length()?;
    let mut steps = Vec::new();
    for _ in 0..count {
        let [noise, total, level, peak, quiet_share] = bytes.floats(5)?.try_into().ok()?;
        steps.push(Step { noise, total, level, peak, quiet_share, clipped: bytes.u32()?, hole: bytes.u32()? });
    }
    let count = bytes.length()?;
    let density = bytes.floats(count)?.into_boxed_slice();
    let envelope = match bytes.length()? {
        0 => None,
        count => Some(RowEnvelope {
            modulation: bytes.floats(count - 1)?.into_boxed_slice(),
            stretches: bytes.u32()?,
            pulses: bytes.u32()?,
            pulse_energy: bytes.floats(1)?[0],
            seconds: bytes.floats(1)?[0],
        }),
    };
    Some((place, Measured { steps, density, sounding, frames, envelope }))
}
