//! Writing a take as a 16-bit WAV file.

use std::path::Path;

/// Writes samples (full scale ±1, channels interleaved) as 16-bit PCM. Rounds to the nearest step; what is beyond
/// full scale is held there, as a sound card holds it. Errors are those of the file system.
pub fn write_wav(path: &Path, samples: &[f32], rate_hz: u32, channels: u16) -> Result<(), hound::Error> {
    let spec = hound::WavSpec {
        channels,
        sample_rate: rate_hz,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(path, spec)?;
    for &x in samples {
        writer.write_sample((x * 32768.0).round().clamp(-32768.0, 32767.0) as i16)?;
    }
    writer.finalize()
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
