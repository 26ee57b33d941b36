//! What is written along an axis: a sound range, round ticks, numbers as people write them.
//! Not here: drawing (`chart`).

/// A range of values with its round places.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// Value at the left or lower end.
    pub lo: f64,
    /// Value at the other end; greater than `lo`.
    pub hi: f64,
    /// Places to mark, with their words, in order.
    pub ticks: Vec<(f64, String)>,
    /// What is counted, with its unit.
    pub caption: String,
}

impl Axis {
    /// From `lo` to `hi` with at most `most` ticks. A range that is empty, reversed or not finite is replaced by
    /// one that can be drawn.
    pub fn new(lo: f64, hi: f64, most: usize, caption: &str) -> Self {
        Self::scaled(lo, hi, most, 1.0, caption)
    }

    /// Frequencies in Hz, written in Hz or kHz; `caption` gets the unit.
    pub fn frequency(lo_hz: f64, hi_hz: f64, most: usize, caption: &str) -> Self {
        let (unit, per_unit) = if hi_hz.abs() > 1500.0 { ("kHz", 1000.0) } else { ("Hz", 1.0) };
        Self::scaled(lo_hz, hi_hz, most, per_unit, &format!("{caption} ({unit})"))
    }

    fn scaled(lo: f64, hi: f64, most: usize, per_unit: f64, caption: &str) -> Self {
        let (lo, hi) = sound_range(lo, hi);
        let step = round_step((hi - lo) / per_unit, most);
        let decimals = decimals_of(step);
        let first = (lo / per_unit / step - 1e-9).ceil();
        let ticks = (0..=most.max(1))
            .map(|i| (first + i as f64) * step)
            .take_while(|tick| *tick <= hi / per_unit + step * 1e-9)
            .map(|tick| (tick * per_unit, number(tick, decimals)))
            .collect();
        Self { lo, hi, ticks, caption: caption.to_owned() }
    }

    /// The value moved to the nearest end if it lies outside.
    pub fn clamp(&self, value: f64) -> f64 {
        value.clamp(self.lo, self.hi)
    }
}

/// No level, frequency or time of this tool is larger: what is, is broken, and would only push the rest aside.
/// Chosen above 30 MHz in kHz and a week in seconds.
const LARGEST: f64 = 1e6;

/// Whether a value can be drawn: a number, and not absurdly large.
pub fn is_sound(value: f64) -> bool {
    value.abs() <= LARGEST
}

/// Ends that are finite and apart, whatever came in.
fn sound_range(lo: f64, hi: f64) -> (f64, f64) {
    let (lo, hi) = if lo <= hi { (lo, hi) } else { (hi, lo) };
    let lo = if lo.is_finite() { lo.clamp(-LARGEST, LARGEST) } else { 0.0 };
    let hi = if hi.is_finite() { hi.clamp(-LARGEST, LARGEST) } else { lo };
    let least = (lo.abs().max(hi.abs()) * 1e-6).max(1e-9);
    if hi - lo >= least { (lo, hi) } else { (lo - least.max(0.5), lo + least.max(0.5)) }
}

/// The smallest step of 1, 2 or 5 times a power of ten that gives no more than `most` ticks.
fn round_step(span: f64, most: usize) -> f64 {
    let rough = span / most.max(1) as f64;
    let power = 10f64.powf(rough.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .map(|m| m * power)
        .into_iter()
        .find(|step| *step >= rough * 0.999_999)
        .unwrap_or(power * 10.0)
}

fn decimals_of(step: f64) -> usize {
    (-(step.log10() + 1e-9).floor()).clamp(0.0, 9.0) as usize
}

/// A number with a true minus sign, and no minus before zero.
pub fn number(value: f64, decimals: usize) -> String {
    let digits = format!("{:.decimals$}", value.abs());
    let is_zero = digits.chars().all(|c| c == '0' || c == '.');
    if value < 0.0 && !is_zero { format!("−{digits}") } else { digits }
}

/// Decibels with one decimal: "14.2 dB", "−0.3 dB".
pub fn decibels(value: f64) -> String {
    format!("{} dB", number(value, 1))
}

/// A value with the ends of its interval: "14.2 dB (13.9 to 14.5)".
pub fn estimate((value, lo, hi): (f64, f64, f64)) -> String {
    if is_sound(lo) && is_sound(hi) {
        format!("{} ({} to {})", decibels(value), number(lo, 1), number(hi, 1))
    } else {
        decibels(value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(axis: &Axis) -> Vec<&str> {
        axis.ticks.iter().map(|(_, words)| words.as_str()).collect()
    }

    #[test]
    fn ticks_are_round() {
        assert_eq!(words(&Axis::frequency(0.0, 3200.0, 8, "f")), ["0.0", "0.5", "1.0", "1.5", "2.0", "2.5", "3.0"]);
        assert_eq!(
            words(&Axis::frequency(300.0, 900.0, 7, "f")),
            ["300", "400", "500", "600", "700", "800", "900"]
        );
        assert_eq!(words(&Axis::new(-93.0, -41.0, 6, "y")), ["−90", "−80", "−70", "−60", "−50"]);
        assert_eq!(words(&Axis::new(-0.3, 0.3, 5, "y")), ["−0.2", "0.0", "0.2"]);
    }

    #[test]
    fn no_range_is_too_odd() {
        let odd =
            [0.0, -0.0, 1.0, -1.0, 1e-300, 1e300, f64::MAX, f64::MIN, f64::NAN, f64::INFINITY, f64::NEG_INFINITY];
        for lo in odd {
            for hi in odd {
                for most in [0, 1, 7] {
                    let axis = Axis::new(lo, hi, most, "");
                    assert!(axis.lo < axis.hi && axis.lo.is_finite() && axis.hi.is_finite(), "{lo} {hi}");
                    assert!(axis.ticks.len() <= most.max(1) + 1, "{lo} {hi}");
                }
            }
        }
    }

    #[test]
    fn numbers_as_people_write_them() {
        assert_eq!(number(-0.04, 1), "0.0");
        assert_eq!(decibels(-3.26), "−3.3 dB");
        assert_eq!(estimate((14.2, 13.94, 14.5)), "14.2 dB (13.9 to 14.5)");
        assert_eq!(estimate((14.2, f64::NEG_INFINITY, 14.5)), "14.2 dB");
    }
}
