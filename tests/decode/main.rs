//! Recordings made by other programs come out as the samples that went in.
//!
//! `data/README.md` tells how the files were made. The noise and the tones are made again here, by the same
//! formulas, so that no program's output is compared with itself.

mod damaged;

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
