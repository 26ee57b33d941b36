//! What a rise of the noise costs a listener: SNR in the trade's reference bandwidths, the transmitter power it is
//! worth, and how strong a signal must be to be copied. Not here: the excess itself (`contrast`), sentences
//! (`report`).

use crate::units::{Db, Estimate, in_db};

/// The narrow bandwidth of the trade's comparisons: a filter for Morse. Common practice.
pub const NARROW_BANDWIDTH_HZ: f64 = 500.0;
/// A passband narrower than this says nothing of speech in 2500 Hz (our own choice: the usual filters for speech
/// are 1.8 to 3 kHz wide).
pub const LEAST_SPEECH_HZ: f64 = 1800.0;
/// The power that is spoken of. Common practice: the usual transmitter's.
pub const SPOKEN_POWER_W: f64 = 100.0;
/// SNR in 2500 Hz at which speech is copied with ease: the 10 dB at which the trade states the sensitivity of a
/// receiver (common practice).
pub const SPEECH_NEEDS_DB: f64 = 10.0;
/// SNR in 500 Hz at which Morse is copied by ear with ease (common practice; practised ears do with less).
pub const MORSE_NEEDS_DB: f64 = 3.0;

/// As what power a station of 100 W is heard where the noise stands `excess` higher, W: 100 W / 10^(excess/10). The
/// larger excess gives the smaller power, so the interval's ends change sides.
pub fn heard_as_w(excess: Estimate) -> Estimate {
    let heard = |excess_db: f64| SPOKEN_POWER_W / Db(excess_db).ratio();
    Estimate { value: heard(excess.value), ci95: (heard(excess.ci95.1), heard(excess.ci95.0)) }
}

/// The level a signal needs, dBm, over noise of a given level, dBm in 1 Hz.
pub fn needed_dbm(noise_dbm_per_hz: f64, bandwidth_hz: f64, snr_db: f64) -> f64 {
    noise_dbm_per_hz + in_db(bandwidth_hz) + snr_db
}

/// Noise in one part of the passband.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Its middle.
    pub freq_hz: f64,
    /// Noise density off, in any unit that all parts share.
    pub off_density: f64,
    /// Excess, dB.
    pub excess: Estimate,
}

/// The SNR lost in the best and the worst stretch of [`NARROW_BANDWIDTH_HZ`] in the passband, dB.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NarrowLoss {
    /// Where the noise rose least.
    pub best: Estimate,
    /// Middle of that stretch.
    pub best_hz: f64,
    /// Where it rose most.
    pub worst: Estimate,
    /// Middle of that stretch.
    pub worst_hz: f64,
}

impl NarrowLoss {
    /// Whether the two differ by more than their intervals allow.
    pub fn differs(&self) -> bool {
        self.worst.ci95.0 > self.best.ci95.1
    }
}

/// The loss stretch by stretch over adjoining parts, each `width_hz` wide, by rising frequency. `None` where the
/// passband is narrower than the stretch, or a gap leaves no whole stretch.
///
/// The interval of a stretch spans what all its parts' intervals allow together: never too narrow, whether or not
/// their errors are independent.
pub fn narrow_loss(parts: &[Stretch], width_hz: f64) -> Option<NarrowLoss> {
    let usable = width_hz.is_finite() && width_hz > 0.0;
    // A stretch within a tenth of the bandwidth is that bandwidth: 0.4 dB.
    let together = usable.then(|| (NARROW_BANDWIDTH_HZ / width_hz).round().max(1.0) as usize)?;
    if (together as f64 * width_hz / NARROW_BANDWIDTH_HZ - 1.0).abs() > 0.1 {
        return None;
    }
    let adjoining = |run: &&[Stretch]| run.windows(2).all(|p| p[1].freq_hz - p[0].freq_hz < 1.5 * width_hz);
    let stretches: Vec<(f64, Estimate)> =
        parts.windows(together).filter(adjoining).filter_map(|run| Some((middle(run), loss(run)?))).collect();
    let by_value = |a: &&(f64, Estimate), b: &&(f64, Estimate)| a.1.value.total_cmp(&b.1.value);
    let (best_hz, best) = *stretches.iter().min_by(by_value)?;
    let (worst_hz, worst) = *stretches.iter().max_by(by_value)?;
    Some(NarrowLoss { best, best_hz, worst, worst_hz })
}

fn middle(run: &[Stretch]) -> f64 {
    run.iter().map(|part| part.freq_hz).sum::<f64>() / run.len() as f64
}

/// Noise power on over off in a stretch, dB.
fn loss(run: &[Stretch]) -> Option<Estimate> {
    let off: f64 = run.iter().map(|part| part.off_density).sum();
    let over = |pick: &dyn Fn(&Estimate) -> f64| {
        Db::from_ratio(run.iter().map(|p| p.off_density * Db(pick(&p.excess)).ratio()).sum::<f64>() / off).0
    };
    let found = Estimate { value: over(&|e| e.value), ci95: (over(&|e| e.ci95.0), over(&|e| e.ci95.1)) };
    (found.value.is_finite() && found.ci95.0.is_finite() && found.ci95.1.is_finite()).then_some(found)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn estimate(value: f64) -> Estimate {
        Estimate { value, ci95: (value - 0.5, value + 0.5) }
    }

    /// Source: the defining ratio of powers, P = 100 W / 10^(dB/10): 3.01 dB is half, 10 dB a tenth, 13.98 dB a
    /// 25th.
    #[test]
    fn power_as_it_is_heard() {
        for (excess, heard) in [(0.0, 100.0), (3.0103, 50.0), (10.0, 10.0), (13.9794, 4.0), (20.0, 1.0)] {
            assert_abs_diff_eq!(heard_as_w(estimate(excess)).value, heard, epsilon = 1e-3);
        }
        let heard = heard_as_w(Estimate { value: 10.0, ci95: (9.0, 13.0103) });
        assert_abs_diff_eq!(heard.ci95.0, 5.0, epsilon = 1e-3);
        assert_abs_diff_eq!(heard.ci95.1, 12.589, epsilon = 1e-3);
    }

    /// Source: k·T₀ = −173.98 dBm/Hz, so 2500 Hz hold −140.0 and 500 Hz −147.0 dBm: bandwidth conversion 33.979 and
    /// 26.990 dB, ΔdB = 10·lg B.
    #[test]
    fn the_level_a_signal_needs() {
        assert_abs_diff_eq!(needed_dbm(-173.975, 2500.0, SPEECH_NEEDS_DB), -129.996, epsilon = 0.001);
        assert_abs_diff_eq!(needed_dbm(-173.975, NARROW_BANDWIDTH_HZ, MORSE_NEEDS_DB), -143.985, epsilon = 0.001);
    }

    fn parts(excess: impl Fn(usize) -> f64) -> Vec<Stretch> {
        (0..24)
            .map(|i| Stretch { freq_hz: 350.0 + 100.0 * i as f64, off_density: 1.0, excess: estimate(excess(i)) })
            .collect()
    }

    /// The answer follows from sums of powers: 10 dB below 1550 Hz, 0 dB above.
    #[test]
    fn coloured_noise_costs_least_where_it_is_weakest() {
        let found = narrow_loss(&parts(|i| if i < 12 { 10.0 } else { 0.0 }), 100.0).unwrap();
        assert_abs_diff_eq!(found.worst.value, 10.0, epsilon = 1e-9);
        assert_abs_diff_eq!(found.best.value, 0.0, epsilon = 1e-9);
        assert!(found.differs() && found.worst_hz < 1300.0 && found.best_hz > 1700.0, "{found:?}");
        // One part of five at 10 dB: (4 + 10)/5.
        let one = narrow_loss(&parts(|i| if i == 12 { 10.0 } else { 0.0 }), 100.0).unwrap();
        assert_abs_diff_eq!(one.worst.value, 10.0 * f64::log10(14.0 / 5.0), epsilon = 1e-9);
        // Where the band itself is louder, a rise counts for more.
        let mut loud = parts(|i| if i == 12 { 10.0 } else { 0.0 });
        loud[12].off_density = 4.0;
        assert_abs_diff_eq!(
            narrow_loss(&loud, 100.0).unwrap().worst.value,
            10.0 * f64::log10(44.0 / 8.0),
            epsilon = 1e-9
        );
    }

    #[test]
    fn even_noise_costs_the_same_everywhere() {
        let found = narrow_loss(&parts(|i| 6.0 + 0.3 * (i % 2) as f64), 100.0).unwrap();
        assert!(!found.differs(), "{found:?}");
    }

    #[test]
    fn what_can_not_be_told_is_none() {
        assert_eq!(narrow_loss(&[], 100.0), None);
        assert_eq!(narrow_loss(&parts(|_| 1.0)[..4], 100.0), None);
        assert_eq!(narrow_loss(&parts(|_| f64::NAN), 100.0), None);
        assert_eq!(narrow_loss(&parts(|_| 1.0), 0.0), None);
        let gap: Vec<Stretch> =
            parts(|_| 1.0).into_iter().enumerate().filter(|(i, _)| i % 3 != 0).map(|(_, p)| p).collect();
        assert_eq!(narrow_loss(&gap, 100.0), None);
    }
}
