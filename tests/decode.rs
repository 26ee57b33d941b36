//! Recordings made by other programs come out as the samples that went in; damaged ones give what is left of them.
//!
//! `data/README.md` tells how the files were made. The noise and the tones are made again here, by the same
//! formulas, so that no program's output is compared with itself.

use std::f64::consts::TAU;
use std::fs;
use std::path::{Path, PathBuf};

use noisetally::audio::{AudioError, ChannelChoice, Mono, Parts, Problem, ReadAccount, StreamFacts, write_wav};

type Read = (StreamFacts, Vec<f32>, ReadAccount);

fn data(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data").join(name)
}

fn read_as(path: &Path, channel: ChannelChoice) -> Result<Read, AudioError> {
    let mut mono = Mono::open(path, channel)?;
    let mut samples = Vec::new();
    while mono.read_block(&mut samples)? {}
    assert_eq!(mono.account().frames, samples.len() as u64);
    assert!(!mono.read_block(&mut samples)?, "nothing after the end");
    Ok((mono.facts().clone(), samples, mono.account()))
}

fn read(name: &str) -> Read {
    read_as(&data(name), ChannelChoice::Auto).unwrap_or_else(|e| panic!("{e}"))
}

/// Noise of `bits` bits with full scale 1: the congruence of ISO C's example `rand`, its top bits.
fn noise(count: usize, bits: u32, seed: u64) -> Vec<f32> {
    let mut x = seed;
    let mut next = || {
        x = (x * 1_103_515_245 + 12_345) % (1 << 31);
        ((x >> (31 - bits)) as f64 / 2f64.powi(bits as i32 - 1) - 1.0) as f32
    };
    (0..count).map(|_| next()).collect()
}

/// 0.4 s of two tones at `rate`, 1000 Hz at 0.3 and 2345 Hz at 0.2.
fn tones(rate: u32) -> Vec<f64> {
    let tone = |n: usize, hz: f64| (TAU * hz * n as f64 / f64::from(rate)).sin();
    (0..rate as usize * 2 / 5).map(|n| 0.3 * tone(n, 1000.0) + 0.2 * tone(n, 2345.0)).collect()
}

/// Delay in samples and SNR in dB of `decoded` against `original`, the edges left out. The delay is the one with
/// the least error: the correlation of two tones has peaks almost as high as the right one.
fn match_up(original: &[f64], decoded: &[f32]) -> (usize, f64) {
    let span = original.len() / 4..original.len() * 3 / 4;
    let longest = 2400.min(decoded.len() - span.end);
    let error =
        |delay: usize| span.clone().map(|n| (original[n] - f64::from(decoded[n + delay])).powi(2)).sum::<f64>();
    let delay = (0..longest).min_by(|&a, &b| error(a).total_cmp(&error(b))).unwrap();
    let signal: f64 = span.clone().map(|n| original[n].powi(2)).sum();
    (delay, 10.0 * (signal / error(delay)).log10())
}

/// The same samples in every coding without loss, by ffmpeg, sox and flac: equal to the last bit.
#[test]
fn lossless_codings_are_exact() {
    for (name, bits, codec, container) in [
        ("noise8-u8.wav", 8, "pcm_u8", "wav"),
        ("noise8-s8.aiff", 8, "pcm_s8", "aiff"),
        ("noise8-s8.au", 8, "pcm_s8", "au"),
        ("noise16-s16.wav", 16, "pcm_s16le", "wav"),
        ("noise16-by-sox.wav", 16, "pcm_s16le", "wav"),
        ("noise16-rf64.wav", 16, "pcm_s16le", "rf64"),
        ("noise16-s16.w64", 16, "pcm_s16le", "w64"),
        ("noise16-s16.au", 16, "pcm_s16be", "au"),
        ("noise16-s16.aiff", 16, "pcm_s16be", "aiff"),
        ("noise16-sowt.aifc", 16, "pcm_s16le", "aiff"),
        ("noise24-f32.aifc", 24, "pcm_f32be", "aiff"),
        ("noise16-s16.caf", 16, "pcm_s16be", "caf"),
        ("noise16.flac", 16, "flac", "flac"),
        ("noise16-by-flac.flac", 16, "flac", "flac"),
        ("noise16-flac.ogg", 16, "flac", "ogg"),
        ("noise16-alac.m4a", 16, "alac", "mp4"),
        ("noise24-s24.wav", 24, "pcm_s24le", "wav"),
        ("noise24-extensible.wav", 24, "pcm_s24le", "wav"),
        ("noise24-s32.wav", 24, "pcm_s32le", "wav"),
        ("noise24-f32.wav", 24, "pcm_f32le", "wav"),
        ("noise24-f64.wav", 24, "pcm_f64le", "wav"),
        ("noise24-f32.au", 24, "pcm_f32be", "au"),
        ("noise24-s24.aiff", 24, "pcm_s24be", "aiff"),
        ("noise24.flac", 24, "flac", "flac"),
        ("noise24-alac.m4a", 24, "alac", "mp4"),
    ] {
        let (facts, samples, account) = read(name);
        assert!(samples == noise(500, bits, 1), "{name}: other samples than went in");
        assert_eq!((facts.codec.as_str(), facts.container.as_str()), (codec, container), "{name}");
        assert_eq!((facts.sample_rate_hz, facts.lossy), (12_000, false), "{name}");
        assert!((facts.promised_s.unwrap() - 500.0 / 12_000.0).abs() < 1e-9, "{name}");
        assert_eq!((account.cut_short, account.not_a_number, account.dead_channel), (None, 0, None), "{name}");
    }
}

/// All 256 bytes of both laws. Source: ffmpeg's own decoding, kept beside the files.
#[test]
fn the_laws_agree_with_ffmpeg() {
    for (name, expected) in [("alaw.wav", "alaw.s16"), ("mulaw.wav", "mulaw.s16"), ("alaw.au", "alaw.s16")] {
        let (facts, samples, _) = read(name);
        let expected = fs::read(data(expected)).unwrap();
        let expected = expected.as_chunks::<2>().0.iter().map(|&b| f32::from(i16::from_le_bytes(b)) / 32_768.0);
        assert_eq!(samples, expected.collect::<Vec<_>>(), "{name}");
        assert!(facts.lossy, "{name}");
    }
}

/// Two tones through each lossy coding: delay, length, and the SNR that another decoder gives of the same file.
///
/// Source of the SNR: ffmpeg 5.1.9's own decoders, libopus 1.3.1 for Opus in SILK mode; 0.1 dB is left for the
/// decoders' rounding, the rest of the error is the coder's.
#[test]
fn lossy_codings_keep_the_tones() {
    for (name, codec, rate, delay, most_extra, others_snr_db) in [
        // Whole blocks: up to one block of 2036 or 2041 frames of padding. sox writes the true count.
        ("tones-adpcm-ms.wav", "adpcm_ms", 12_000, 0, 2036, 20.37),
        ("tones-adpcm-ms-piped.wav", "adpcm_ms", 12_000, 0, 2036, 20.37),
        ("tones-adpcm-ms-by-sox.wav", "adpcm_ms", 12_000, 0, 0, 24.52),
        ("tones-adpcm-ima.wav", "adpcm_ima_wav", 12_000, 0, 2041, 21.32),
        // Delay taken out by the header frame; without it 1105 samples and a frame or two of 1152.
        ("tones.mp3", "mp3", 48_000, 0, 0, 26.02),
        ("tones-no-header.mp3", "mp3", 48_000, 1105, 2304, 26.02),
        // The coder's first frame of 1024 stays in, and up to one after.
        ("tones.aac", "aac", 48_000, 1024, 2048, 33.67),
        ("tones.m4a", "aac", 48_000, 1024, 2048, 33.67),
        ("tones-vorbis.ogg", "vorbis", 48_000, 0, 0, 39.30),
        // Pre-skip taken out; WebM and MP4 keep up to a packet (960) of padding at the end.
        ("tones-opus.ogg", "opus", 48_000, 0, 0, 47.40),
        ("tones-opus-stereo.ogg", "opus", 48_000, 0, 0, 39.90),
        ("tones-opus.webm", "opus", 48_000, 0, 960, 47.40),
        ("tones-opus.mp4", "opus", 48_000, 0, 960, 47.40),
        // A speech coder shifts the phases of tones; libopus gives the same samples to the last bit.
        ("tones-opus-silk.ogg", "opus", 48_000, 1676, 0, 22.33),
    ] {
        let (facts, samples, account) = read(name);
        let original = tones(rate);
        assert_eq!((facts.codec.as_str(), facts.sample_rate_hz, facts.lossy), (codec, rate, true), "{name}");
        let extra = samples.len() as i64 - original.len() as i64;
        assert!((0..=most_extra).contains(&extra), "{name}: {extra} samples more than went in");
        let (found, snr_db) = match_up(&original, &samples);
        assert_eq!(found, delay, "{name}: delay");
        assert!(snr_db > others_snr_db - 0.1, "{name}: SNR {snr_db:.2} dB");
        assert_eq!(account.cut_short.is_some(), name.contains("piped"), "{name}");
    }
}

/// What ffmpeg, sox and flac leave when they write to a pipe: all samples are there, and where the length is
/// missing that is said.
#[test]
fn lengths_never_written_lose_nothing() {
    for (name, said) in [
        ("noise16-piped-by-ffmpeg.wav", true),
        ("noise16-piped-by-sox.wav", true),
        ("noise16-piped.flac", true),
        ("noise16-piped.au", false),
    ] {
        let (_, samples, account) = read(name);
        assert!(samples == noise(500, 16, 1), "{name}: other samples than went in");
        let words = account.cut_short.unwrap_or_default();
        assert_eq!(words.contains("never got the length"), said, "{name}: {words}");
    }
}

#[test]
fn starts_are_read() {
    assert_eq!(read("dated-bext.wav").0.started.as_deref(), Some("2026-03-14T19:02:00"));
    assert_eq!(read("dated-icrd.wav").0.started.as_deref(), Some("2026-03-14T19:02:00"));
    assert_eq!(read("dated.flac").0.started.as_deref(), Some("2026-03-14T19:02:00Z"));
    assert_eq!(read("noise16-s16.wav").0.started, None);
}

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

fn stereo(name: &str, pair: impl Fn(usize) -> (f32, f32), channel: ChannelChoice) -> Result<Read, AudioError> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(name);
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: 8000,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut wav = hound::WavWriter::create(&path, spec).unwrap();
    for n in 0..8000 * 12 {
        let (left, right) = pair(n);
        wav.write_sample(left).unwrap();
        wav.write_sample(right).unwrap();
    }
    wav.finalize().unwrap();
    read_as(&path, channel)
}

#[test]
fn auto_chooses_what_is_alive_and_says_so() {
    let (a, b) = (noise(96_000, 16, 1), noise(96_000, 16, 2));
    let auto = |pair: &dyn Fn(usize) -> (f32, f32)| stereo("pair.wav", pair, ChannelChoice::Auto).unwrap();
    let quiet = 10f32.powf(-60.0 / 20.0);

    let (_, samples, account) = auto(&|n| (a[n], a[n]));
    assert_eq!((account.channel_used.as_str(), account.dead_channel), ("mean of both", None));
    assert_eq!(samples, a);

    // An open input, a constant, and silence carry nothing.
    for right in [&|n: usize| b[n] * quiet, &|_| 0.01, &|_| 0.0] as [&dyn Fn(usize) -> f32; 3] {
        let (_, samples, account) = auto(&|n| (a[n], right(n)));
        assert_eq!((account.channel_used.as_str(), account.dead_channel.as_deref()), ("left", Some("right")));
        assert_eq!(samples, a);
    }
    let (_, samples, account) = auto(&|n| (0.0, a[n]));
    assert_eq!((account.channel_used.as_str(), account.dead_channel.as_deref()), ("right", Some("left")));
    assert_eq!(samples, a);

    // Wired with opposite signs the mean would be silence.
    let (_, samples, account) = auto(&|n| (a[n], -a[n]));
    assert!(account.channel_used.starts_with("left (right runs against it"), "{}", account.channel_used);
    assert_eq!(samples, a);

    // Unrelated: of one level it may be I and Q (here of a carrier); of two it is just said.
    let turn = |n: usize| TAU * 700.0 * n as f64 / 8000.0;
    let account = auto(&|n| (turn(n).cos() as f32, turn(n).sin() as f32)).2;
    assert!(account.channel_used.contains("perhaps an I/Q pair"), "{}", account.channel_used);
    let account = auto(&|n| (a[n], 0.3 * b[n])).2;
    assert!(account.channel_used.contains("they differ"), "{}", account.channel_used);

    // Silent on both sides at first: nothing to choose by.
    let account = auto(&|n| if n < 60_000 { (0.0, 0.0) } else { (a[n], a[n]) }).2;
    assert_eq!((account.channel_used.as_str(), account.dead_channel), ("mean of both", None));

    // A large constant on both sides hides neither.
    let account = auto(&|n| (0.9 + 0.01 * a[n], 0.9 + 0.01 * a[n])).2;
    assert_eq!((account.channel_used.as_str(), account.dead_channel), ("mean of both", None));

    // A channel that falls silent on the way makes the mean drop.
    let account = auto(&|n| if n < 70_000 { (a[n], a[n]) } else { (a[n], 0.0) }).2;
    assert!(account.dead_channel.as_deref().unwrap_or_default().starts_with("right (silent at "), "{account:?}");
}

#[test]
fn the_users_choice_wins() {
    let (left, right) = (noise(500, 16, 1), noise(500, 16, 2));
    let read = |name: &str, words: &str| read_as(&data(name), words.parse().unwrap());
    for name in ["stereo-s16.wav", "stereo.flac"] {
        for (words, used, expected) in [("left", "left", &left), ("2", "right", &right), ("right", "right", &right)]
        {
            let (facts, samples, account) = read(name, words).unwrap();
            assert_eq!(
                (&samples, account.channel_used.as_str(), facts.channels),
                (expected, used, 2),
                "{name} {words}"
            );
        }
        let mean: Vec<f32> = left.iter().zip(&right).map(|(l, r)| (l + r) / 2.0).collect();
        assert_eq!(read(name, "mean").unwrap().1, mean);
        let missing = read(name, "3").unwrap_err();
        assert_eq!(missing.problem, Problem::NoSuchChannel { asked: 3, channels: 2 });
        assert!(missing.to_string().starts_with(&format!("{name}: has 2 channels, so there is no channel 3")));
    }
    assert!(read("noise16-s16.wav", "right").unwrap_err().to_string().contains("has 1 channel,"));
    for words in ["0", "-1", "both", "", "70000"] {
        assert!(words.parse::<ChannelChoice>().is_err(), "{words}");
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

#[test]
fn what_is_written_reads_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("made.wav");
    let mut samples = noise(1000, 16, 1);
    write_wav(&path, &samples, 12_000, 1).unwrap();
    assert_eq!(read_as(&path, ChannelChoice::Auto).unwrap().1, samples);

    samples = vec![2.0, -2.0, f32::NAN, 0.4 / 32_768.0];
    write_wav(&path, &samples, 12_000, 1).unwrap();
    assert_eq!(read_as(&path, ChannelChoice::Auto).unwrap().1, [32_767.0 / 32_768.0, -1.0, 0.0, 0.0]);
    let error = write_wav(&folder.path().join("gone/made.wav"), &samples, 12_000, 1).unwrap_err();
    assert!(error.to_string().starts_with("made.wav: can't be written"), "{error}");
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

/// A stretch gives the very samples that the whole has there: plain samples in every container, FLAC of many
/// packets, and what can only be read through.
#[test]
fn a_stretch_is_a_piece_of_the_whole() {
    let (plain, through) = (true, false);
    for (name, divisible) in [
        ("noise16-s16.wav", plain),
        ("noise24-s24.wav", plain),
        ("noise24-extensible.wav", plain),
        ("noise24-f32.wav", plain),
        ("noise24-f64.wav", plain),
        ("noise8-u8.wav", plain),
        ("noise16-rf64.wav", plain),
        ("noise16-s16.w64", plain),
        ("noise16-s16.au", plain),
        ("noise24-f32.au", plain),
        ("noise16-s16.aiff", plain),
        ("noise16-piped-by-ffmpeg.wav", plain),
        ("stereo-s16.wav", plain),
        ("tones-long.flac", plain),
        ("noise24.flac", plain),
        ("stereo.flac", plain),
        ("noise16-piped.flac", through),
        ("noise16-flac.ogg", through),
        ("noise16-alac.m4a", through),
        ("tones.mp3", through),
        ("tones-vorbis.ogg", through),
        ("tones-opus.ogg", through),
        ("tones-adpcm-ms.wav", through),
    ] {
        let (_, whole, account) = read(name);
        let parts = Parts::open(&data(name), ChannelChoice::Auto).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(parts.frames(), divisible.then_some(whole.len() as u64), "{name}");
        let all = whole.len();
        let mut spans = vec![(0, all), (0, 100), (1, 1), (all / 3, all / 3), (all - 7, 7), (all / 2, 10 * all)];
        spans.extend((0..all - 100).step_by(all / 17).map(|start| (start, 100)));
        for (start, length) in spans {
            let mut stretch = parts.stretch(start as u64, length as u64, length as u64).unwrap();
            let mut samples = Vec::new();
            while stretch.read_block(&mut samples).unwrap_or_else(|e| panic!("{name} {start}: {e}")) {}
            let end = all.min(start + length);
            assert!(samples == whole[start..end], "{name}: {start}..{end}");
            assert_eq!(stretch.account().frames, (end - start) as u64, "{name}");
        }
        // At the end the file tells what it tells after a whole reading, if its header is at fault.
        if divisible {
            let mut last = parts.stretch(all as u64 / 2, u64::MAX, u64::MAX).unwrap();
            let mut samples = Vec::new();
            while last.read_block(&mut samples).unwrap() {}
            assert_eq!(last.account().cut_short, account.cut_short, "{name}");
            assert_eq!(last.account().channel_used, account.channel_used, "{name}");
            // Behind the end there is nothing; FLAC can't even go there.
            samples.clear();
            let behind = parts.stretch(all as u64 + 5, 10, 10).and_then(|mut s| s.read_block(&mut samples));
            assert!(!behind.unwrap_or(false) && samples.is_empty(), "{name}");
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
