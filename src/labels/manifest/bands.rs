//! Bands the user cares about, and what the last digit of a written dial frequency means.

use toml::de::DeValue;

use super::fields::{example, kind};
use super::{Reader, Value};

/// Chosen: more than all amateur and broadcasting bands together.
const MOST_BANDS: usize = 40;
/// Chosen: short waves with everything a receiver of theirs may reach, kHz.
const BANDS_KHZ: std::ops::RangeInclusive<f64> = 1.0..=1e6;

impl Reader<'_> {
    /// Pairs of a lower and an upper edge in kHz, in any order of bands.
    pub(super) fn bands(&mut self, value: &Value<'_>) -> Vec<(f64, f64)> {
        let name = "bands_khz";
        let advice = || format!("write it like this: `{}`", example(name).unwrap_or(name));
        let DeValue::Array(items) = value.get_ref() else {
            self.wrong_kind(name, value, "a list of bands");
            return Vec::new();
        };
        if items.len() > MOST_BANDS {
            self.fault(value.span(), format!("more than {MOST_BANDS} bands"), advice());
            return Vec::new();
        }
        let mut bands = Vec::new();
        for item in items {
            let edges = match item.get_ref() {
                DeValue::Array(edges) if edges.len() == 2 => edges,
                other => {
                    let found = format!("a band is a list of its two edges in kHz, and this is {}", kind(other));
                    self.fault(item.span(), found, advice());
                    continue;
                }
            };
            let low = self.number(name, &edges[0], BANDS_KHZ);
            let high = self.number(name, &edges[1], BANDS_KHZ);
            match (low, high) {
                (Some(low), Some(high)) if low < high => bands.push((low, high)),
                (Some(_), Some(_)) => {
                    self.fault(item.span(), "a band begins at its lower edge, and this one is empty", advice());
                }
                // Said already.
                _ => {}
            }
        }
        bands
    }
}

/// What one more in the last digit of a number of kHz means, Hz: "14100" has 1000, "14100.0" has 100, "14100.25"
/// 10.
pub(super) fn last_digit_hz(written: &str) -> Option<f64> {
    if written.contains(['e', 'E', 'x', 'o', 'b']) {
        return None;
    }
    let decimals =
        written.trim().split_once('.').map_or(0, |(_, digits)| digits.chars().filter(char::is_ascii_digit).count());
    Some(1000.0 / 10f64.powi(decimals.min(6) as i32))
}

/// The same of a dial read from a file name: as many decimals as it needs.
pub(in crate::labels) fn step_of_khz(khz: f64) -> Option<f64> {
    last_digit_hz(&khz.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_of_a_dial() {
        let told = ["14100", "14_100", "14100.0", "14100.25", "7.1e3"].map(last_digit_hz);
        assert_eq!(told, [Some(1000.0), Some(1000.0), Some(100.0), Some(10.0), None]);
    }
}
