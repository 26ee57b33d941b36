//! Damaged and unfinished recordings give what is left of them, or are told by name; none makes the program panic.

use super::*;

/// A WAV of 1 s with its sizes as given, and what follows the samples.
fn wav_with_sizes(riff: u32, size: u32, tail: &[u8]) -> Vec<u8> {
    let mut bytes = b"RIFF....WAVEfmt \x10\0\0\0\x01\0\x01\0".to_vec();
    bytes.extend(12_000u32.to_le_bytes());
    bytes.extend(24_000u32.to_le_bytes());
    bytes.extend(b"\x02\0\x10\0data");
    bytes.extend(size.to_le_bytes());
    bytes[4..8].copy_from_slice(&riff.to_le_bytes());
    for x in noise(12_000, 16, 1) {
        bytes.extend(((x * 32_768.0) as i16).to_le_bytes());
    }
    bytes.extend(tail);
    bytes
}

fn read_bytes(name: &str, bytes: &[u8]) -> Result<Read, AudioError> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(name);
    fs::write(&path, bytes).unwrap();
    read_as(&path, ChannelChoice::Auto)
}

/// A power failure leaves sizes of 0, of ones, or of the last save: nothing of the sound is lost, and it is said.
#[test]
fn unfinished_wav_is_salvaged() {
    let all = noise(12_000, 16, 1);
    for (riff, size, words) in [
        (0, 0, Some("never got the length")),
        (u32::MAX, u32::MAX, Some("never got the length")),
        (36, 0, Some("never got the length")),
        (0, 24_000, None),
        (24_036, 24_000, None),
        (12_036, 12_000, Some("knows of 0.5 s only")),
        (48_036, 48_000, Some("ends after 1.0 s of the 2.0 s")),
    ] {
        let (_, samples, account) = read_bytes("night.wav", &wav_with_sizes(riff, size, b"")).unwrap();
        assert_eq!(samples, all, "{size}");
        let said = account.cut_short;
        assert!(
            words.map_or(said.is_none(), |w| said.as_deref().unwrap_or_default().contains(w)),
            "{size}: {said:?}"
        );
    }
}

#[test]
fn what_follows_the_samples_is_not_read_as_sound() {
    let list = b"LIST\x1a\0\0\0INFOICRD\x0e\0\0\0a note, no date";
    let tag = [&b"TAG"[..], &[b' '; 125]].concat();
    let id3 = [&b"ID3\x03\0\0\0\0\x10\0"[..], &[7; 5000]].concat();
    for tail in [&list[..], &tag, &id3, &[0; 9000], b"stray"] {
        let (_, samples, account) = read_bytes("tail.wav", &wav_with_sizes(0, 24_000, tail)).unwrap();
        assert_eq!((samples.len(), account.cut_short), (12_000, None), "{:?}", &tail[..3]);
    }
}

#[test]
fn cut_at_any_byte_a_wav_gives_its_whole_frames_or_an_error() {
    let whole = wav_with_sizes(24_036, 24_000, b"");
    let all = noise(12_000, 16, 1);
    for end in (1..60).chain([1043, 1044, 24_043]) {
        match read_bytes("cut.wav", &whole[..end]) {
            Ok((facts, samples, account)) => {
                assert_eq!(samples, all[..(end - 44) / 2], "cut at {end}");
                assert!(account.cut_short.unwrap().contains("of the 1.0 s"), "cut at {end}");
                assert_eq!(facts.promised_s, Some(1.0));
            }
            Err(e) => assert!(end < 46 && e.to_string().starts_with("cut.wav: "), "cut at {end}: {e}"),
        }
    }
}

/// 5 GB whose 32-bit size wrapped round: the file's length counts. Sparse, so it takes no room.
#[test]
fn wav_beyond_4_gib_is_not_wrapped() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("night.wav");
    let bytes = 5_000_000_000u64;
    fs::write(&path, wav_with_sizes(bytes as u32, bytes as u32, b"")).unwrap();
    let file = fs::OpenOptions::new().write(true).open(&path).unwrap();
    if file.set_len(44 + bytes).is_err() {
        // This file system holds no sparse file of 5 GB.
        return;
    }
    let mut mono = Mono::open(&path, ChannelChoice::Auto).unwrap();
    assert_eq!(mono.facts().promised_s, Some(bytes as f64 / 24_000.0));
    let mut samples = Vec::new();
    while samples.len() < 12_000 {
        assert!(mono.read_block(&mut samples).unwrap());
    }
    assert_eq!(samples[..12_000], noise(12_000, 16, 1));
}

/// FLAC and Ogg cut in two: the first part is exact, and what is missing is said.
#[test]
fn packets_cut_short_give_what_is_whole() {
    let flac = fs::read(data("noise16-by-flac.flac")).unwrap();
    let (_, samples, account) = read_bytes("cut.flac", &flac[..800]).unwrap();
    assert!(samples.len() >= 256 && samples[..] == noise(500, 16, 1)[..samples.len()], "{}", samples.len());
    assert!(account.cut_short.is_some());

    for (name, end) in [("tones-opus.ogg", 4000), ("tones-vorbis.ogg", 4700), ("tones.mp3", 3000)] {
        let whole = read(name).1;
        let bytes = fs::read(data(name)).unwrap();
        let (_, samples, account) = read_bytes(name, &bytes[..end]).unwrap();
        assert!((4000..whole.len()).contains(&samples.len()), "{name}: {}", samples.len());
        assert_eq!(samples[..3000], whole[..3000], "{name}");
        assert!(account.cut_short.is_some(), "{name}");
    }
}

#[test]
fn what_is_no_recording_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let problem = |path: &Path| read_as(path, ChannelChoice::Auto).unwrap_err();
    assert_eq!(problem(&folder.path().join("gone.wav")).problem, Problem::NotFound);
    assert_eq!(problem(folder.path()).problem, Problem::IsFolder);
    let words = problem(&folder.path().join("gone.wav")).to_string();
    assert!(words.starts_with("gone.wav: not found"), "no folder in it: {words}");

    // Names with spaces, without an extension, in other scripts, and with control characters.
    for name in ["a b c.wav", "recording", "приём 1.wav", "bell\u{7}.wav"] {
        let path = folder.path().join(name);
        fs::copy(data("noise16-s16.wav"), &path).unwrap();
        assert_eq!(read_as(&path, ChannelChoice::Auto).unwrap().1.len(), 500, "{name}");
    }
    fs::write(folder.path().join("bell\u{7}.wav"), b"").unwrap();
    assert!(problem(&folder.path().join("bell\u{7}.wav")).to_string().starts_with("bell\u{fffd}.wav: is empty"));
}

/// Float samples: beyond full scale as they are, what is no number as 0, counted.
#[test]
fn what_is_no_number_is_silenced_and_counted() {
    let (_, samples, account) = read("hostile/not-a-number.wav");
    assert_eq!((samples, account.not_a_number), (vec![0.5, 0.0, 0.0, 0.0, 0.0, -0.5], 4));
    let (_, samples, account) = stereo("loud.wav", |n| (n as f32, n as f32), ChannelChoice::Auto).unwrap();
    assert_eq!((samples[95_999], account.not_a_number), (95_999.0, 0));
}

/// Every file that once hurt, or might: none panics, each gives finite samples or an error that names it.
#[test]
fn hostile_files_give_samples_or_their_name() {
    let mut seen = 0;
    for entry in fs::read_dir(data("hostile")).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap();
        match read_as(&path, ChannelChoice::Auto) {
            Ok((_, samples, _)) => assert!(!samples.is_empty() && samples.iter().all(|x| x.is_finite()), "{name}"),
            Err(e) => assert!(e.to_string().starts_with(&format!("{name}: ")), "{e}"),
        }
        seen += 1;
    }
    assert!(seen > 40, "{seen} files");
}

/// The reason is the right one.
#[test]
fn hostile_files_are_told_apart() {
    let reason = |name: &str| match read_as(&data("hostile").join(name), ChannelChoice::Auto) {
        Ok((_, samples, _)) => format!("{} samples", samples.len()),
        Err(e) => e.problem.to_string(),
    };
    for (name, begins) in [
        ("empty.wav", "is empty"),
        ("text.wav", "is no audio this tool knows"),
        ("noise.wav", "is no audio this tool knows"),
        ("zeros.flac", "is no audio this tool knows"),
        ("no-format.wav", "is damaged"),
        ("no-data.wav", "holds no samples"),
        ("no-samples.wav", "holds no samples"),
        ("no-samples-but-a-list.wav", "holds no samples"),
        ("half-a-sample.wav", "holds no samples"),
        ("one-sample.wav", "1 samples"),
        ("odd-bytes.wav", "15 samples"),
        ("block-0.wav", "32 samples"),
        ("no-channels.wav", "has a damaged header: it asks for 0 channels"),
        ("65535-channels.wav", "has a damaged header: it asks for 65535 channels"),
        ("4-billion-channels.au", "has a damaged header: it asks for 4294967295 channels"),
        ("rate-0.wav", "has a sample rate of 0 Hz"),
        ("rate-4-ghz.wav", "has a sample rate of 4000000000 Hz"),
        ("bits-64.wav", "holds sound in a coding that is not supported (PCM of 64 bits)"),
        ("mp3-inside.wav", "holds sound in a coding that is not supported (MP3 in WAV"),
        ("ds64-of-zeros.wav", "500 samples"),
        ("ds64-of-ones.wav", "500 samples"),
        ("size-of-ones.w64", "500 samples"),
        ("cut.aiff", "323 samples"),
        ("never-finished.aiff", "500 samples"),
        ("frames-of-ones.aiff", "500 samples"),
        ("cut.m4a", "is damaged: nothing of it could be decoded (its MP4 index"),
    ] {
        assert!(reason(name).starts_with(begins), "{name}: {}", reason(name));
    }
}

/// A small, fixed round of what was done by the million: mutated recordings never panic and always end.
#[test]
fn mutated_recordings_never_panic() {
    let mut x = 1u64;
    let mut random = |below: usize| {
        x = x.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (x >> 33) as usize % below
    };
    let folder = tempfile::tempdir().unwrap();
    let mut files: Vec<PathBuf> = fs::read_dir(data("")).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.retain(|path| path.is_file());
    files.sort();
    for round in 0..files.len() * 20 {
        let source = &files[round % files.len()];
        let mut bytes = fs::read(source).unwrap();
        for _ in 0..=random(4) {
            let near = if random(3) > 0 { 200 } else { usize::MAX };
            let at = random(bytes.len().min(near));
            match random(3) {
                0 => bytes[at] ^= 1 << random(8),
                1 => bytes[at] = random(256) as u8,
                _ => bytes[at..].iter_mut().take(4).for_each(|b| *b = 0xff),
            }
        }
        if random(4) == 0 {
            bytes.truncate(random(bytes.len()));
        }
        let path = folder.path().join(source.file_name().unwrap());
        fs::write(&path, bytes).unwrap();
        match read_as(&path, ChannelChoice::Auto) {
            Ok((_, samples, _)) => assert!(samples.iter().all(|x| x.is_finite())),
            Err(e) => assert!(e.to_string().starts_with(&e.file)),
        }
    }
}

/// Faults in the part that overlaps with the next stretch are counted there, so that none is counted twice.
#[test]
fn what_is_no_number_is_counted_once() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("shed.wav");
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: 12_000,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut writer = hound::WavWriter::create(&path, spec).unwrap();
    for n in 0..1000 {
        writer.write_sample(if n % 100 == 50 { f32::NAN } else { 0.25 }).unwrap();
    }
    writer.finalize().unwrap();
    let parts = Parts::open(&path, ChannelChoice::Auto).unwrap();
    let mut counted = 0;
    for start in [0, 250, 500, 750] {
        let mut stretch = parts.stretch(start, 400, 250).unwrap();
        let mut samples = Vec::new();
        while stretch.read_block(&mut samples).unwrap() {}
        assert!(samples.iter().all(|x| x.is_finite()));
        counted += stretch.account().not_a_number;
    }
    assert_eq!(counted, 10);
}

/// A header that lies about the size of its blocks puts every packet elsewhere (RFC 9639, 9.1.5: the number of a frame
/// times the size of the blocks): then nothing is read in stretches, and the samples are those of the honest file.
#[test]
fn a_flac_that_lies_about_its_blocks_is_read_through() {
    let honest = data("tones-long.flac");
    assert!(Parts::open(&honest, ChannelChoice::Auto).unwrap().frames().is_some());
    let (_, wanted, _) = read_as(&honest, ChannelChoice::Auto).unwrap();
    let dir = tempfile::tempdir().unwrap();
    let mut read = Vec::new();
    for (least, most) in [(4608u16, 4608u16), (640, 640), (16, 4608), (576, 4608)] {
        let mut bytes = fs::read(&honest).unwrap();
        // RFC 9639, 8.2: the smallest and the largest block, 16 bits each, begin the stream's own block of metadata.
        bytes[8..10].copy_from_slice(&least.to_be_bytes());
        bytes[10..12].copy_from_slice(&most.to_be_bytes());
        let path = dir.path().join("lies.flac");
        fs::write(&path, bytes).unwrap();
        // Sizes that contradict each other are refused with the file's name; nothing is read wrong.
        let Ok((_, samples, _)) = read_as(&path, ChannelChoice::Auto) else { continue };
        assert!(samples == wanted, "{least}, {most}");
        read.push((least, most));
        let parts = Parts::open(&path, ChannelChoice::Auto).unwrap();
        if let Some(frames) = parts.frames() {
            let mut stretch = parts.stretch(frames / 2, frames, frames).unwrap();
            let mut second = Vec::new();
            while stretch.read_block(&mut second).unwrap() {}
            assert!(second == wanted[frames as usize / 2..], "{least}, {most}");
        }
    }
    assert_eq!(read, [(4608, 4608), (640, 640)]);
}
