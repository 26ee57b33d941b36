//! Shares with what chance makes of them, so that a reader sees which differences are none.

/// 95 % interval of a share by Wilson's score (E. B. Wilson, J. Am. Stat. Assoc. 22, 209–212, 1927), 0..1.
pub fn interval(part: usize, of: usize) -> (f64, f64) {
    let (n, z2) = (of as f64, 1.96f64.powi(2));
    let share = part as f64 / n;
    let middle = share + z2 / (2.0 * n);
    let reach = (z2 * (share * (1.0 - share) / n + z2 / (4.0 * n * n))).sqrt();
    ((middle - reach) / (1.0 + z2 / n), (middle + reach) / (1.0 + z2 / n))
}

/// "97.2 % of 864 (95.9 to 98.1)".
pub fn share(part: usize, of: usize) -> String {
    if of == 0 {
        return "-".to_owned();
    }
    let (low, high) = interval(part, of);
    let percent = |share: f64| 100.0 * share;
    format!(
        "{:5.1} % of {of:<5} ({:.1} to {:.1})",
        percent(part as f64 / of as f64),
        percent(low).max(0.0),
        percent(high)
    )
}

/// Value below which `share` of them lie; NaN of none.
pub fn quantile(values: impl IntoIterator<Item = f64>, share: f64) -> f64 {
    let mut sorted: Vec<f64> = values.into_iter().collect();
    sorted.sort_by(f64::total_cmp);
    let place = (share * sorted.len() as f64) as usize;
    sorted.get(place.min(sorted.len().saturating_sub(1))).copied().unwrap_or(f64::NAN)
}
