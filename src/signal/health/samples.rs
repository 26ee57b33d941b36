//! What the bare samples tell: clipping, holes, silence, an offset. Looked at block by block as they stream by.

use crate::units::Dbfs;
use crate::warning::{Code, Warning};

/// Level below which a recording counts as silent: the last bit of 16 is at −96 dBFS. Chosen: one bit above that.
pub const SILENT: Dbfs = Dbfs(-90.0);
/// Shortest run of equal samples that is a hole. Sound never stands still that long unless it is digital silence.
/// Chosen so: half a period of 100 Hz.
pub const HOLE_S: f64 = 0.005;
/// From here on a sample stands at full scale. Chosen: a little below 1, for converters of 16 bit and more end
/// there and resampling rounds.
pub const FULL_SCALE: f32 = 0.9995;
/// So many samples at full scale count as clipping. Chosen: one or two may be a crash that just reached it.
pub const CLIPPED_SAMPLES: u64 = 4;
/// Mean over RMS from which an offset is worth a word. Chosen: it costs 0.04 dB of room and shows a fault of the
/// input.
const OFFSET_SHARE: f64 = 0.1;
/// Recordings shorter than this give no interval worth having. Chosen: twelve slices.
pub const SHORTEST_S: f64 = 3.0;
/// Peak over RMS of Gaussian noise reaches 4 within a second; noise cut off at the top does not. Mathematics: 4 is
/// exceeded once in 16 000 samples of Gaussian noise. Chosen a little below.
const CLIPPED_CREST: f64 = 3.9;

/// Watches samples go by.
pub struct SampleWatch {
    rate_hz: f64,
    count: u64,
    sum: f64,
    squares: f64,
    peak: f32,
    at_peak: u64,
    peak_runs: u64,
    full_scale: u64,
    last: f32,
    run: u64,
    holes: u64,
    hole_samples: u64,
}

impl SampleWatch {
    /// At the start of a recording of this sample rate.
    pub fn new(sample_rate_hz: u32) -> Self {
        Self {
            rate_hz: sample_rate_hz as f64,
            count: 0,
            sum: 0.0,
            squares: 0.0,
            peak: 0.0,
            at_peak: 0,
            peak_runs: 0,
            full_scale: 0,
            last: f32::NAN,
            run: 0,
            holes: 0,
            hole_samples: 0,
        }
    }

    /// Takes the next samples.
    pub fn push(&mut self, samples: &[f32]) {
        for &x in samples {
            self.count += 1;
            self.sum += x as f64;
            self.squares += (x as f64).powi(2);
            let size = x.abs();
            if size > self.peak {
                self.peak = size;
                self.at_peak = 0;
                self.peak_runs = 0;
            }
            self.full_scale += u64::from(size >= FULL_SCALE);
            if x == self.last {
                self.run += 1;
                if self.run == 2 && size == self.peak {
                    self.peak_runs += 1;
                }
            } else {
                self.end_run();
                self.run = 1;
                self.last = x;
            }
            self.at_peak += u64::from(size == self.peak);
        }
    }

    /// A run of equal samples that began after the recording did is a hole; at the very beginning it is the
    /// recorder's lead-in.
    fn end_run(&mut self) {
        if self.run as f64 >= HOLE_S * self.rate_hz && self.run + 1 < self.count {
            self.holes += 1;
            self.hole_samples += self.run;
        }
    }

    /// Length of what went by.
    pub fn seconds(&self) -> f64 {
        self.count as f64 / self.rate_hz
    }

    /// Samples that went by.
    pub fn count(&self) -> u64 {
        self.count
    }

    /// Mean square about the mean, FS².
    pub fn mean_square(&self) -> f64 {
        if self.count == 0 {
            return 0.0;
        }
        let mean = self.sum / self.count as f64;
        (self.squares / self.count as f64 - mean * mean).max(0.0)
    }

    /// Whether there is nothing to hear.
    pub fn is_silent(&self) -> bool {
        Dbfs::from_mean_square(self.mean_square()) < SILENT
    }

    /// What speaks against the recording.
    pub fn warnings(self) -> Vec<Warning> {
        // A run that lasts to the end is the recorder's lead-out, not a hole: it is left uncounted.
        let mut found = Vec::new();
        if self.is_silent() {
            found.push(Warning::new(
                Code::Silent,
                "there is nothing to hear (below -90 dBFS). Check the lead, the recorder's input and the \
                 receiver's volume.",
            ));
            return found;
        }
        if self.seconds() < SHORTEST_S {
            found.push(Warning::new(
                Code::TooShort,
                format!(
                    "only {:.1} s long; figures from less than {SHORTEST_S:.0} s can't be trusted. Record at \
                     least 20 s.",
                    self.seconds()
                ),
            ));
        }
        found.extend(self.clipping());
        found.extend(self.holes());
        let mean = self.sum / self.count as f64;
        if mean.abs() > OFFSET_SHARE * self.mean_square().sqrt() && mean.abs() > 1e-3 {
            found.push(Warning::new(
                Code::DcOffset,
                format!(
                    "the zero line is off by {:.2} % of full scale. The figures are not touched, but head-room \
                     is lost and the sound card's input may be faulty.",
                    100.0 * mean
                ),
            ));
        }
        found
    }

    fn clipping(&self) -> Option<Warning> {
        let share = self.full_scale as f64 / self.count as f64;
        let crest = self.peak as f64 / self.mean_square().sqrt();
        let flat_tops = self.peak_runs >= 4 && self.at_peak as f64 > 1e-5 * self.count as f64;
        let below_full_scale = flat_tops && crest < CLIPPED_CREST;
        let at_full_scale =
            self.full_scale >= CLIPPED_SAMPLES && (share > 1e-6 || flat_tops) && self.peak_runs >= 1;
        (below_full_scale || at_full_scale).then(|| {
            Warning::new(
                Code::Clipped,
                format!(
                    "the tops are cut off ({} samples at the limit), so the loudest noise reads too low. Record it \
                     again with the recorder's input turned down; off and on at the same setting.",
                    self.at_peak.max(self.full_scale)
                ),
            )
        })
    }

    fn holes(&self) -> Option<Warning> {
        (self.holes > 0).then(|| {
            Warning::new(
                Code::Dropouts,
                format!(
                    "{} of silence in the sound ({:.2} s altogether): the recorder or the sound card lost samples. \
                     Record it again with nothing else running.",
                    if self.holes == 1 { "1 hole".to_owned() } else { format!("{} holes", self.holes) },
                    self.hole_samples as f64 / self.rate_hz
                ),
            )
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn codes(samples: &[f32]) -> Vec<Code> {
        let mut watch = SampleWatch::new(8000);
        samples.chunks(1000).for_each(|block| watch.push(block));
        watch.warnings().into_iter().map(|w| w.code).collect()
    }

    /// Noise as the sum of twelve uniforms, standard deviation `sd`, rounded to 16 bit.
    fn noise(n: usize, sd: f32) -> Vec<f32> {
        let mut state = 1u64;
        let mut uniform = || {
            state ^= state >> 12;
            state ^= state << 25;
            state ^= state >> 27;
            (state.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 40) as f32 / (1u64 << 24) as f32
        };
        (0..n).map(|_| ((0..12).map(|_| uniform()).sum::<f32>() - 6.0) * sd).map(quantised).collect()
    }

    fn quantised(x: f32) -> f32 {
        (x * 32768.0).round().clamp(-32768.0, 32767.0) / 32768.0
    }

    #[test]
    fn clean_noise_at_any_level_is_not_complained_of() {
        for sd in [0.15, 0.02, 0.001, 0.0001] {
            assert_eq!(codes(&noise(80_000, sd)), [], "standard deviation {sd}");
        }
    }

    #[test]
    fn each_fault_is_named() {
        let clean = noise(80_000, 0.1);
        let clipped: Vec<f32> = clean.iter().map(|x| quantised(x * 5.0)).collect();
        assert_eq!(codes(&clipped), [Code::Clipped]);
        let clipped_early: Vec<f32> = clean.iter().map(|x| quantised(x.clamp(-0.2, 0.2))).collect();
        assert_eq!(codes(&clipped_early), [Code::Clipped]);
        let mut holed = clean.clone();
        holed[4000..4100].fill(0.0);
        assert_eq!(codes(&holed), [Code::Dropouts]);
        let offset: Vec<f32> = clean.iter().map(|x| x + 0.05).collect();
        assert_eq!(codes(&offset), [Code::DcOffset]);
        assert_eq!(codes(&clean[..16_000]), [Code::TooShort]);
        assert_eq!(codes(&vec![0.0; 80_000]), [Code::Silent]);
        assert_eq!(codes(&[]), [Code::Silent]);
    }
}
