//! Sound clips: pieces of the takes without and with the noise in turn, faded into each other, all at one gain.
//! Which pieces, how they are joined, and the text of what is heard when. Not here: reading the takes
//! (`run::handout`).

use std::path::Path;

use serde::Serialize;

use crate::audio::{AudioError, write_wav};
use crate::labels::State;
use crate::text::{label, number, signed};

/// What is heard when, as text beside the clips.
pub const CLIPS_TXT: &str = "clips.txt";

/// Lengths of the clips, s, and of a piece of them: for ears, which compare what is close together, and for forms
/// (one of those read asks for 60 s). Lengths of pieces chosen: a breath, and long enough to show a rhythm.
pub const CLIPS: [(f64, f64); 2] = [(20.0, 5.0), (60.0, 10.0)];
/// A shorter piece tells the ear nothing; chosen.
const LEAST_PIECE_S: f64 = 2.0;
/// How long one piece fades into the next. Chosen: no click, and no time lost.
const FADE_S: f64 = 0.05;
/// The highest peak of all clips, dBFS. Common practice: a decibel below full scale, for what a player or a lossy
/// coding adds.
const PEAK_DBFS: f64 = -1.0;

/// Sound to cut from: one unbroken stretch.
#[derive(Debug, Clone)]
pub struct Stretch {
    /// Without the noise or with it.
    pub state: State,
    /// The recording's name in the report.
    pub file: String,
    /// Where in it the stretch begins, s.
    pub from_s: f64,
    /// Its samples, mono, full scale ±1.
    pub samples: Vec<f32>,
}

/// A clip ready to be written.
#[derive(Debug, Clone, Serialize)]
pub struct Clip {
    /// Its file.
    pub file: String,
    /// Its length.
    pub duration_s: f64,
    /// How much louder it is than the recordings, dB: the same for all clips and all of their pieces.
    pub gain_db: f64,
    /// What is heard when.
    pub pieces: Vec<Piece>,
    #[serde(skip)]
    samples: Vec<f32>,
    #[serde(skip)]
    rate_hz: u32,
}

/// A piece of a clip.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Piece {
    /// Where in the clip it begins: the middle of the fade.
    pub at_s: f64,
    /// Without the noise or with it.
    pub state: State,
    /// The recording.
    pub file: String,
    /// Where in that it begins.
    pub from_s: f64,
    /// Its length, the fades in it.
    pub length_s: f64,
    #[serde(skip)]
    stretch: usize,
    #[serde(skip)]
    first: usize,
    #[serde(skip)]
    count: usize,
}

impl Clip {
    /// Writes it as 16-bit mono WAV.
    ///
    /// # Errors
    /// It can't be written.
    pub fn write(&self, path: &Path) -> Result<(), AudioError> {
        write_wav(path, &self.samples, self.rate_hz, 1)
    }

    /// "clip-20s.wav (20 s)".
    pub(super) fn told(&self) -> String {
        format!("{} ({} s)", self.file, number(self.duration_s, 0))
    }

    /// Its samples, full scale ±1.
    pub fn samples(&self) -> &[f32] {
        &self.samples
    }
}

/// The clips that these stretches, all of one rate, can make; none where a state has too little sound, or only
/// silence.
pub fn cut(stretches: &[Stretch], rate_hz: u32) -> Vec<Clip> {
    let rate = f64::from(rate_hz);
    let mut clips: Vec<Clip> = Vec::new();
    for (length_s, piece_s) in CLIPS {
        let pieces = pieces(stretches, rate, length_s, piece_s);
        if pieces.is_empty() {
            continue;
        }
        let samples = joined(stretches, &pieces, fade(rate));
        clips.push(Clip {
            file: format!("clip-{length_s:.0}s.wav"),
            duration_s: samples.len() as f64 / rate,
            gain_db: 0.0,
            pieces,
            samples,
            rate_hz,
        });
    }
    let peak = clips.iter().flat_map(|clip| &clip.samples).fold(0f32, |peak, x| peak.max(x.abs()));
    if peak <= 0.0 {
        return Vec::new();
    }
    let gain_db = PEAK_DBFS - 20.0 * f64::from(peak).log10();
    let gain = 10f64.powf(gain_db / 20.0) as f32;
    for clip in &mut clips {
        clip.gain_db = gain_db;
        clip.samples.iter_mut().for_each(|x| *x *= gain);
    }
    clips
}

fn fade(rate: f64) -> usize {
    (FADE_S * rate).round() as usize
}

/// Off and on in turn until the length is reached or a state has no more sound; no sound is used twice. Each state
/// goes through its stretches by turns, so that all takes are heard.
fn pieces(stretches: &[Stretch], rate: f64, length_s: f64, piece_s: f64) -> Vec<Piece> {
    let fade = fade(rate);
    let least = (LEAST_PIECE_S * rate) as usize;
    // Each fade is in two pieces: so many more samples, and the clip has its length.
    let turns = (length_s / piece_s).round() as usize;
    let wanted = ((length_s * rate) as usize + (turns - 1) * fade).div_ceil(turns);
    let mut used = vec![0; stretches.len()];
    let mut next = [0usize; 2];
    let mut found: Vec<Piece> = Vec::new();
    let mut at = 0;
    for turn in 0..turns {
        let state = if turn % 2 == 0 { State::Off } else { State::On };
        let here: Vec<usize> = (0..stretches.len()).filter(|i| stretches[*i].state == state).collect();
        let left = |i: &usize| stretches[*i].samples.len() - used[*i];
        let by_turns = (0..here.len()).map(|k| here[(next[turn % 2] + k) % here.len()]);
        let whole = by_turns.clone().find(|i| left(i) >= wanted);
        let longest = here.iter().copied().max_by_key(left).filter(|i| left(i) >= least);
        let Some(stretch) = whole.or(longest) else { break };
        let count = left(&stretch).min(wanted);
        let from = used[stretch];
        found.push(Piece {
            at_s: (at as f64 + if turn == 0 { 0.0 } else { fade as f64 / 2.0 }) / rate,
            state,
            file: stretches[stretch].file.clone(),
            from_s: stretches[stretch].from_s + from as f64 / rate,
            length_s: count as f64 / rate,
            stretch,
            first: from,
            count,
        });
        at += count - fade;
        used[stretch] += count;
        next[turn % 2] = here.iter().position(|i| *i == stretch).map_or(0, |k| k + 1);
    }
    // Both are heard equally often.
    found.truncate(found.len() / 2 * 2);
    found
}

/// The pieces one after the other. Over a fade the one goes by a quarter of a cosine, the other comes by that of a
/// sine: their squares add to one, so that noises that have nothing to do with each other keep their power
/// (constant-power cross-fade).
fn joined(stretches: &[Stretch], pieces: &[Piece], fade: usize) -> Vec<f32> {
    let rising = |i: usize| ((i as f64 + 0.5) / fade as f64 * std::f64::consts::FRAC_PI_2).sin() as f32;
    let mut out: Vec<f32> = Vec::new();
    for piece in pieces {
        let mut samples = stretches[piece.stretch].samples[piece.first..piece.first + piece.count].to_vec();
        let last = samples.len() - fade;
        for i in 0..fade {
            samples[i] *= rising(i);
            samples[last + i] *= rising(fade - 1 - i);
        }
        let overlap = if out.is_empty() { 0 } else { fade };
        let from = out.len() - overlap;
        for (sum, x) in out[from..].iter_mut().zip(&samples) {
            *sum += x;
        }
        out.extend_from_slice(&samples[overlap..]);
    }
    out
}

/// What is heard when, to go with the clips; nothing personal.
pub(super) fn words(clips: &[Clip], about: &str) -> String {
    let Some(first) = clips.first() else { return String::new() };
    let mut text = format!(
        "Sound clips: {about}\n\nWithout the noise and with it in turn, cut from the recordings and faded over {} ms. \
         All at one\ngain: {} dB against the recordings. WAV, 16 bit, mono, {} samples a second.\n",
        number(1000.0 * FADE_S, 0),
        signed(first.gain_db, 1),
        first.rate_hz
    );
    for clip in clips {
        text += &format!("\n{}, {} s\n", clip.file, number(clip.duration_s, 1));
        for piece in &clip.pieces {
            let state = if piece.state == State::Off { "without" } else { "with" };
            text += &format!(
                "  {:>5} s  {state:<8} {}, from {} s\n",
                number(piece.at_s, 1),
                label(&piece.file),
                number(piece.from_s, 1)
            );
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stretch(state: State, file: &str, samples: Vec<f32>) -> Stretch {
        Stretch { state, file: file.into(), from_s: 0.0, samples }
    }

    /// Noise of a standard deviation, by a linear congruence and the sum of twelve (common practice).
    fn noise(seed: u64, sd: f32, count: usize) -> Vec<f32> {
        let mut state = seed;
        let mut unit = move || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 40) as f32 / (1u64 << 24) as f32
        };
        (0..count).map(|_| sd * ((0..12).map(|_| unit()).sum::<f32>() - 6.0)).collect()
    }

    const RATE: u32 = 8000;

    /// The takes' samples come through times one gain, at the places that the pieces name.
    #[test]
    fn each_sample_is_the_takes_own_times_one_gain() {
        let takes = [
            stretch(State::Off, "1.wav", noise(1, 0.01, 21 * 8000)),
            stretch(State::On, "2.wav", noise(2, 0.05, 21 * 8000)),
            stretch(State::Off, "3.wav", noise(3, 0.01, 21 * 8000)),
            stretch(State::On, "4.wav", noise(4, 0.05, 21 * 8000)),
        ];
        let clips = cut(&takes, RATE);
        assert_eq!(
            clips.iter().map(|c| (c.file.as_str(), c.pieces.len())).collect::<Vec<_>>(),
            [("clip-20s.wav", 4), ("clip-60s.wav", 6)]
        );
        assert_eq!(clips[0].gain_db, clips[1].gain_db);
        let gain = 10f64.powf(clips[0].gain_db / 20.0) as f32;
        for (clip, length_s) in clips.iter().zip([20.0, 60.0]) {
            assert!((clip.duration_s - length_s).abs() < 0.001, "{}", clip.duration_s);
            let files: Vec<&str> = clip.pieces.iter().map(|p| p.file.as_str()).collect();
            assert_eq!(files[..4], ["1.wav", "2.wav", "3.wav", "4.wav"]);
            for piece in &clip.pieces {
                let take = takes.iter().find(|t| t.file == piece.file).unwrap();
                // A second behind the beginning: beyond the fade.
                let (in_clip, in_take) = ((piece.at_s + 1.0) * 8000.0, (piece.from_s + 1.0) * 8000.0);
                let lead = if piece.at_s == 0.0 { 0 } else { fade(8000.0) / 2 };
                let (a, b) = (in_clip.round() as usize - lead, in_take.round() as usize);
                for i in 0..1000 {
                    assert!((clip.samples[a + i] - take.samples[b + i] * gain).abs() < 1e-7);
                }
            }
        }
        // No sound twice.
        let mut seen: Vec<(&str, f64)> = clips[1].pieces.iter().map(|p| (p.file.as_str(), p.from_s)).collect();
        seen.sort_by(|a, b| a.partial_cmp(b).unwrap());
        assert!(seen.windows(2).all(|w| w[0].0 != w[1].0 || w[1].1 >= w[0].1 + 9.9), "{seen:?}");
        // One gain for all, so that nothing clips: the highest peak of all lies 1 dB below full scale.
        let peak = clips.iter().flat_map(|c| &c.samples).fold(0f32, |m, x| m.max(x.abs()));
        assert!((20.0 * f64::from(peak).log10() + 1.0).abs() < 1e-4, "{peak}");
    }

    /// Source: the law of a constant-power cross-fade, sin² + cos² = 1: of two independent noises of one power the
    /// power stays the same over the fade. Of constants, which are alike, the sum is cos + sin: √2 in the middle.
    #[test]
    fn the_cross_fade_keeps_the_power() {
        let fade = fade(8000.0);
        let rising = |i: usize| ((i as f64 + 0.5) / fade as f64 * std::f64::consts::FRAC_PI_2).sin();
        for i in 0..fade {
            assert!((rising(i).powi(2) + rising(fade - 1 - i).powi(2) - 1.0).abs() < 1e-12);
        }
        let ones = [stretch(State::Off, "1", vec![1.0; 16_000]), stretch(State::On, "2", vec![1.0; 16_000])];
        let pieces = pieces(&ones, 8000.0, 20.0, 5.0);
        let out = joined(&ones, &pieces, fade);
        let middle = pieces[1].at_s * 8000.0;
        assert!((out[middle as usize] - std::f32::consts::SQRT_2).abs() < 0.001, "{}", out[middle as usize]);
        assert!(out[0] < 0.005 && out[out.len() - 1] < 0.005 && (out[8000] - 1.0).abs() < 1e-6);
        // Two noises: power over the fades of many joints against that beside them.
        let (mut inside, mut beside) = (0.0, 0.0);
        for seed in 0..60 {
            let pair = [
                stretch(State::Off, "1", noise(2 * seed + 1, 0.1, 16_000)),
                stretch(State::On, "2", noise(2 * seed + 2, 0.1, 16_000)),
            ];
            let out = joined(&pair, &super::pieces(&pair, 8000.0, 20.0, 5.0), fade);
            let power = |from: usize| out[from..from + fade].iter().map(|x| f64::from(*x).powi(2)).sum::<f64>();
            let joint = middle as usize - fade / 2;
            inside += power(joint);
            beside += power(joint - 2 * fade);
        }
        // 60 joints of 400 samples: their power is known to 4.34·√(2/24 000) = 0.04 dB on either side; 4 of these.
        assert!((10.0 * (inside / beside).log10()).abs() < 0.23, "{}", 10.0 * (inside / beside).log10());
    }

    #[test]
    fn short_takes_make_a_shorter_clip_and_none_is_used_twice() {
        let short =
            [stretch(State::Off, "1", noise(1, 0.1, 8000 * 4)), stretch(State::On, "2", noise(2, 0.1, 8000 * 7))];
        let clips = cut(&short, RATE);
        assert_eq!(clips.iter().map(|c| c.pieces.len()).collect::<Vec<_>>(), [2, 2]);
        assert!(clips[0].duration_s < 10.0);
        assert!(cut(&short[..1], RATE).is_empty(), "one state alone");
        let silent = [stretch(State::Off, "1", vec![0.0; 80_000]), stretch(State::On, "2", vec![0.0; 80_000])];
        assert!(cut(&silent, RATE).is_empty());
        assert!(cut(&[], RATE).is_empty());
        let tiny = [stretch(State::Off, "1", vec![0.1; 100]), stretch(State::On, "2", vec![0.1; 100])];
        assert!(cut(&tiny, RATE).is_empty());
    }
}
