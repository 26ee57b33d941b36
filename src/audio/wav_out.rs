//! Writing a recording as 16-bit WAV.

use std::path::Path;

use super::error::{AudioError, Problem};

/// Writes samples (full scale ±1, channels interleaved) as 16-bit PCM WAV, rounded to the nearest step and held
/// within full scale, as a sound card holds them.
///
/// No dither: receiver noise is its own, being many steps high. What is no number is written as 0.
///
/// # Errors
/// The file can't be created or written.
pub fn write_wav(path: &Path, samples: &[f32], rate_hz: u32, channels: u16) -> Result<(), AudioError> {
    let failed = |e: hound::Error| AudioError::new(path, Problem::NotWritten { why: e.to_string() });
    let spec = hound::WavSpec {
        channels,
        sample_rate: rate_hz,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let new = crate::disk::create(path).map_err(|e| failed(e.into()))?;
    let mut file = hound::WavWriter::new(std::io::BufWriter::new(new), spec).map_err(failed)?;
    for &x in samples {
        // The cast turns NaN into 0 and holds what lies outside within an i16.
        file.write_sample((x * 32_768.0).round() as i16).map_err(failed)?;
    }
    file.finalize().map_err(failed)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn samples_come_back_as_written() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("eight.wav");
        let exact = [2i16, -3, 5, -7, 11, -13, 32767, -32768];
        let samples: Vec<f32> = exact.iter().map(|&i| f32::from(i) / 32768.0).chain([1.5, -1.5]).collect();
        write_wav(&path, &samples, 8000, 1).unwrap();
        let mut reader = hound::WavReader::open(&path).unwrap();
        assert_eq!((reader.spec().sample_rate, reader.spec().channels), (8000, 1));
        let back: Vec<i16> = reader.samples().collect::<Result<_, _>>().unwrap();
        assert_eq!(back, exact.iter().copied().chain([32767, -32768]).collect::<Vec<_>>());
    }
}
