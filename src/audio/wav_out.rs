//! Writing a recording as 16-bit mono WAV.

use std::path::Path;

use super::{AudioError, Problem};

/// Writes mono samples (full scale ±1) as 16-bit PCM WAV, rounded to the nearest step and held within full scale.
///
/// No dither: receiver noise is its own, being many steps high. What is no number is written as 0.
///
/// # Errors
/// The file can't be created or written.
pub fn write_wav_i16(path: &Path, rate: u32, samples: &[f32]) -> Result<(), AudioError> {
    let failed = |e: hound::Error| AudioError::new(path, Problem::NotWritten { why: e.to_string() });
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: rate,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut file = hound::WavWriter::create(path, spec).map_err(failed)?;
    for &x in samples {
        // The cast turns NaN into 0 and holds what lies outside within an i16.
        file.write_sample((x * 32_768.0).round() as i16).map_err(failed)?;
    }
    file.finalize().map_err(failed)
}
