//! A plain mutator: seeds of every format, changed as wear, cuts and lies change them. Checksums of Ogg and FLAC are
//! made anew most of the time, so that a change gets past them to the decoder.

use std::fs;
use std::path::{Path, PathBuf};

/// Chance for mutations: the same seed makes the same inputs.
pub struct Chance(u64);

impl Chance {
    pub fn new(seed: u64) -> Self {
        // Any two seeds begin far apart: SplitMix64 (G. L. Steele et al., OOPSLA 2014).
        Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15))
    }

    /// A number below `below`, which is no 0.
    pub fn below(&mut self, below: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) % below as u64) as usize
    }
}

/// A file to begin with.
pub struct Seed {
    pub name: String,
    pub bytes: Vec<u8>,
}

/// The recordings of the tests' data.
pub fn recordings() -> Vec<Seed> {
    let wanted = ["wav", "w64", "au", "aiff", "aifc", "caf", "flac", "ogg", "mp3", "aac", "m4a", "mp4", "webm"];
    let is_wanted = |path: &PathBuf| path.extension().is_some_and(|e| wanted.contains(&&*e.to_string_lossy()));
    seeds("tests/data", is_wanted)
}

/// Files of a folder of the project, by name.
pub fn seeds(folder: &str, wanted: impl Fn(&PathBuf) -> bool) -> Vec<Seed> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let mut paths: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.retain(|path| path.is_file() && wanted(path));
    paths.sort();
    let seed = |path: PathBuf| Seed {
        name: path.file_name().unwrap().to_string_lossy().into_owned(),
        bytes: fs::read(path).unwrap(),
    };
    paths.into_iter().map(seed).collect()
}

/// Sizes and counts that lie.
const LIES: [u32; 8] = [0, 1, 0x7f, 0xff, 0xffff, 0x7fff_ffff, 0x8000_0000, 0xffff_ffff];

/// One input: the seed with one to three changes.
pub fn mutated(seed: &Seed, others: &[Seed], chance: &mut Chance) -> Vec<u8> {
    let mut bytes = seed.bytes.clone();
    for _ in 0..=chance.below(3) {
        change(&mut bytes, others, chance);
    }
    if chance.below(8) > 0 {
        repair_ogg(&mut bytes);
        repair_flac(&mut bytes);
    }
    bytes
}

fn change(bytes: &mut Vec<u8>, others: &[Seed], chance: &mut Chance) {
    if bytes.is_empty() {
        return;
    }
    // Headers are short and decide most; but with a broken one nothing behind it is read.
    let near = if chance.below(8) == 0 { 256 } else { usize::MAX };
    let at = chance.below(bytes.len().min(near));
    let length = 1 + chance.below(64);
    let end = (at + length).min(bytes.len());
    match chance.below(8) {
        0 | 1 => bytes[at] ^= 1 << chance.below(8),
        2 => bytes[at] = chance.below(256) as u8,
        3 => {
            let value = chance.below(256) as u8;
            bytes[at..end].fill(value);
        }
        4 => {
            let lie = LIES[chance.below(LIES.len())];
            let lie = if chance.below(2) == 0 { lie.to_le_bytes() } else { lie.to_be_bytes() };
            bytes.iter_mut().skip(at).zip(lie).for_each(|(byte, new)| *byte = new);
        }
        5 => {
            bytes.drain(at..end);
        }
        6 if chance.below(4) == 0 => bytes.truncate(at),
        6 => {
            let again = bytes[at..end].to_vec();
            bytes.splice(at..at, again);
        }
        _ => {
            let other = &others[chance.below(others.len())].bytes;
            let from = chance.below(other.len().max(1));
            let piece = other[from..(from + length).min(other.len())].to_vec();
            bytes.splice(at..end, piece);
        }
    }
}

/// Checksums of Ogg's pages (RFC 3533, 6: polynomial 0x04c11db7, the field itself taken as 0).
fn repair_ogg(bytes: &mut [u8]) {
    let mut at = 0;
    while let Some(found) = bytes[at..].windows(4).position(|magic| magic == b"OggS") {
        let page = at + found;
        at = page + 4;
        let Some(&segments) = bytes.get(page + 26) else { return };
        let body = page + 27 + usize::from(segments);
        let Some(lacing) = bytes.get(page + 27..body) else { return };
        let end = body + lacing.iter().map(|&size| usize::from(size)).sum::<usize>();
        if end > bytes.len() {
            return;
        }
        bytes[page + 22..page + 26].fill(0);
        let sum = bytes[page..end].iter().fold(0u32, |sum, &byte| {
            (0..8).fold(sum ^ (u32::from(byte) << 24), |sum, _| {
                (sum << 1) ^ if sum >> 31 == 1 { 0x04c1_1db7 } else { 0 }
            })
        });
        bytes[page + 22..page + 26].copy_from_slice(&sum.to_le_bytes());
    }
}

/// Checksums of FLAC's frames (RFC 9639, 9.1.8: polynomial 0x07 over the header; 9.3: 0x8005 over the frame). A frame
/// is taken to reach to where the next one begins.
fn repair_flac(bytes: &mut [u8]) {
    if !bytes.starts_with(b"fLaC") {
        return;
    }
    let starts: Vec<(usize, usize)> =
        (4..bytes.len().saturating_sub(16)).filter_map(|at| Some((at, header_of(bytes, at)?))).collect();
    for (n, &(start, header)) in starts.iter().enumerate() {
        let end = starts.get(n + 1).map_or(bytes.len(), |next| next.0);
        if start + header + 3 > end {
            continue;
        }
        bytes[start + header] = crc8(&bytes[start..start + header]);
        let sum = crc16(&bytes[start..end - 2]);
        bytes[end - 2..end].copy_from_slice(&sum.to_be_bytes());
    }
}

/// Length of the frame header at `at` without its checksum, if one stands there that fits it or nearly so.
fn header_of(bytes: &[u8], at: usize) -> Option<usize> {
    if bytes[at] != 0xff || bytes[at + 1] & 0xfe != 0xf8 {
        return None;
    }
    let number = (bytes[at + 4].leading_ones() as usize).max(1);
    let size = match bytes[at + 2] >> 4 {
        6 => 1,
        7 => 2,
        _ => 0,
    };
    let rate = match bytes[at + 2] & 15 {
        12 => 1,
        13 | 14 => 2,
        _ => 0,
    };
    let length = 4 + number + size + rate;
    let header = bytes.get(at..=at + length)?;
    // A wrong checksum in three headers of four is chance within a frame.
    (crc8(&header[..length]) == header[length]).then_some(length)
}

fn crc8(bytes: &[u8]) -> u8 {
    bytes
        .iter()
        .fold(0, |sum, &byte| (0..8).fold(sum ^ byte, |sum, _| (sum << 1) ^ if sum >> 7 == 1 { 0x07 } else { 0 }))
}

fn crc16(bytes: &[u8]) -> u16 {
    bytes.iter().fold(0, |sum, &byte| {
        (0..8).fold(sum ^ (u16::from(byte) << 8), |sum, _| (sum << 1) ^ if sum >> 15 == 1 { 0x8005 } else { 0 })
    })
}
