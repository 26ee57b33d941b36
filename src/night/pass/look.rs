//! A look at a recording before it is gone through: its passband and the shape of its noise, from short spots
//! spread over all of it, so that neither a station nor a crash at one time decides.
//!
//! Where stretches can't be gone to the spots are the recording's first minutes.

use crate::audio::{AudioError, Parts};
use crate::signal::spectrum::{
    FramePlan, Passband, SlicesBuilder, Stft, find_passband, frequency_floor, median_over_slices,
};

/// Share of the recording that is looked at, within bounds: the upper one is what slices hold unmerged. Chosen: it
/// adds little to the time of the pass; ten seconds are the least that show a passband.
const SHARE: f64 = 1.0 / 24.0;
const LEAST_S: f64 = 10.0;
const MOST_S: f64 = 128.0;
/// Length of a spot. Chosen: many short spots see more of a night than few long ones, and one of this length still
/// has some twenty spectra.
const SPOT_S: f64 = 2.5;

/// What was seen.
pub(crate) struct Look {
    pub passband: Passband,
    /// Noise density per bin, FS²/Hz, above 0 within the passband.
    pub floor: Vec<f64>,
}

impl Look {
    /// Looks at a recording of about `length_s`. `None` where there is nothing to hear in any spot.
    ///
    /// # Errors
    /// Its beginning can't be read.
    pub fn at(
        parts: &Parts,
        rate_hz: u32,
        length_s: f64,
        wished: Option<Passband>,
    ) -> Result<Option<Self>, AudioError> {
        let plan = FramePlan::for_rate(rate_hz);
        let mut slices = SlicesBuilder::new(&plan);
        let rate_hz = f64::from(rate_hz);
        let seconds = (SHARE * length_s).clamp(LEAST_S, MOST_S);
        match parts.frames() {
            Some(frames) if frames as f64 > seconds * rate_hz => {
                let spots = (seconds / SPOT_S) as u64;
                let spot = (SPOT_S * rate_hz) as u64;
                for n in 0..spots {
                    let start = (frames - spot) * n / (spots - 1).max(1);
                    // A damaged place is no reason to give up the others; the beginning is.
                    if let Err(error) = listen(parts, &plan, (start, spot), &mut slices)
                        && n == 0
                    {
                        return Err(error);
                    }
                }
            }
            _ => listen(parts, &plan, (0, (seconds * rate_hz) as u64), &mut slices)?,
        }
        let slices = slices.finish();
        if slices.is_empty() {
            return Ok(None);
        }
        let medians = median_over_slices(&slices);
        let Some(passband) = wished.or_else(|| find_passband(&medians, slices.bin_hz)) else { return Ok(None) };
        let floor = frequency_floor(&medians, &slices, &passband);
        let sounds = floor[passband.bins(slices.bin_hz, slices.bins)].iter().all(|&density| density > 0.0);
        Ok(sounds.then_some(Self { passband, floor }))
    }
}

/// Adds one spot.
fn listen(
    parts: &Parts,
    plan: &FramePlan,
    (start, frames): (u64, u64),
    slices: &mut SlicesBuilder,
) -> Result<(), AudioError> {
    let mut audio = parts.stretch(start, frames, frames)?;
    let mut samples = Vec::with_capacity(usize::try_from(frames).unwrap_or(0));
    while audio.read_block(&mut samples)? {}
    Stft::new(plan).push(&samples, |spectrum| slices.add(spectrum));
    Ok(())
}
