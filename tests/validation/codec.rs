//! What lossy codecs do to noise: a transform codec's low-pass and its zeroed bins, made by the transform itself;
//! and companding, whose file says that it is lossy.

use std::f64::consts::PI;
use std::path::Path;
use std::{fs, io};

/// Half the frame of the transform: at 12 kHz 21 ms, as music codecs have it at 48 kHz (common practice).
const HALF: usize = 256;
/// Bins that share one step of quantisation.
const BAND: usize = 16;

/// The samples as a transform codec at a low rate gives them back: nothing above `top_hz`; and, of each band of
/// each frame, the bins rounded to `step` times the band's RMS, so that the weak ones vanish. A `step` of 0 rounds
/// nothing.
///
/// The modified discrete cosine transform under a sine window (J. P. Princen and A. B. Bradley, IEEE Trans.
/// ASSP-34, 1986), by its defining sum. Half a frame is lost at either end, where the frames' overlap does not
/// reach.
pub fn transcoded(samples: &[f32], rate_hz: f64, top_hz: f64, step: f64) -> Vec<f32> {
    let cosine: Vec<f64> = (0..8 * HALF).map(|i| (PI * i as f64 / (4 * HALF) as f64).cos()).collect();
    let window: Vec<f64> = (0..2 * HALF).map(|n| (PI * (n as f64 + 0.5) / (2 * HALF) as f64).sin()).collect();
    let turn = |n: usize, k: usize| cosine[((2 * n + 1 + HALF) * (2 * k + 1)) % (8 * HALF)];
    let last = ((top_hz / rate_hz * (2 * HALF) as f64) as usize).min(HALF);
    let mut out = vec![0.0f32; samples.len()];
    for start in (0..samples.len().saturating_sub(2 * HALF - 1)).step_by(HALF) {
        let frame: Vec<f64> =
            samples[start..start + 2 * HALF].iter().zip(&window).map(|(&x, w)| f64::from(x) * w).collect();
        let mut bins: Vec<f64> =
            (0..last).map(|k| frame.iter().enumerate().map(|(n, x)| x * turn(n, k)).sum()).collect();
        bins.chunks_mut(BAND).for_each(|band| round(band, step));
        for n in 0..2 * HALF {
            let sum: f64 = bins.iter().enumerate().map(|(k, bin)| bin * turn(n, k)).sum();
            out[start + n] += (2.0 / HALF as f64 * window[n] * sum) as f32;
        }
    }
    let whole = (samples.len() / HALF).saturating_sub(1) * HALF;
    out[HALF.min(whole)..whole].to_vec()
}

fn round(band: &mut [f64], step: f64) {
    let rms = (band.iter().map(|x| x * x).sum::<f64>() / band.len() as f64).sqrt();
    if step > 0.0 && rms > 0.0 {
        band.iter_mut().for_each(|x| *x = (*x / (step * rms)).round() * step * rms);
    }
}

/// Writes the samples as a WAV file of companded sound (ITU-T G.711, µ-law), format tag 7 (RFC 2361).
///
/// # Errors
/// Those of the file system.
pub fn write_companded(path: &Path, samples: &[f32], rate_hz: u32) -> io::Result<()> {
    let data: Vec<u8> = samples.iter().map(|&x| companded(x)).collect();
    let mut file: Vec<u8> = Vec::with_capacity(data.len() + 46);
    let mut put = |bytes: &[u8]| file.extend_from_slice(bytes);
    put(b"RIFF");
    put(&(data.len() as u32 + 38).to_le_bytes());
    put(b"WAVEfmt ");
    put(&18u32.to_le_bytes());
    put(&7u16.to_le_bytes());
    put(&1u16.to_le_bytes());
    put(&rate_hz.to_le_bytes());
    put(&rate_hz.to_le_bytes());
    put(&1u16.to_le_bytes());
    put(&8u16.to_le_bytes());
    put(&0u16.to_le_bytes());
    put(b"data");
    put(&(data.len() as u32).to_le_bytes());
    put(&data);
    fs::write(path, file)
}

/// One sample by G.711: sign, three bits of exponent, four of mantissa, all inverted; 14 bits with a bias of 33.
fn companded(x: f32) -> u8 {
    let size = (f64::from(x.abs()) * 8192.0).round().min(8158.0) as u32 + 33;
    let exponent = 31 - size.leading_zeros() - 5;
    let mantissa = (size >> (exponent + 1)) & 0x0f;
    let sign = if x < 0.0 { 0x80 } else { 0 };
    !(sign | (exponent << 4) as u8 | mantissa as u8)
}
