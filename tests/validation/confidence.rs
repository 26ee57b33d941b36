//! The table of the confidence held against the truth: verdicts by the row that bound them.

use std::collections::BTreeMap;
use std::fmt::Write;

use super::judge::Judged;
use super::share::{interval, share};
use noisetally::contrast::Doubt;

/// Row by row: how many verdicts it bound, the share right, what the row leaves, and whether the confidence given
/// lies within the interval of that share. Rows that run from one value to another are cut in the middle of what
/// was given.
pub fn table<'a>(judged: impl Iterator<Item = &'a Judged>) -> String {
    let mut by_row: BTreeMap<Doubt, Vec<&Judged>> = BTreeMap::new();
    for one in judged {
        if let Some(bound) = one.bound {
            by_row.entry(bound).or_default().push(one);
        }
    }
    let mut text = format!(
        "\n{:46} {:>12} {:>6}  {:34} within\n",
        "what bound the confidence", "leaves", "given", "share right"
    );
    for (bound, mut of) in by_row {
        of.sort_by(|a, b| a.confidence.total_cmp(&b.confidence));
        let (worst, best) = bound.leaves();
        let leaves = if worst == best { format!("{best:.3}") } else { format!("{worst:.2} to {best:.2}") };
        let given = (of[0].confidence + of[of.len() - 1].confidence) / 2.0;
        let cut = if worst == best { 0 } else { of.partition_point(|one| one.confidence < given) };
        for group in [&of[..cut], &of[cut..]].into_iter().filter(|group| !group.is_empty()) {
            let right = group.iter().filter(|one| one.is_right() && one.called != "unclear").count();
            let mean = group.iter().map(|one| one.confidence).sum::<f64>() / group.len() as f64;
            let (low, high) = interval(right, group.len());
            let within = match (low..=high).contains(&mean) {
                _ if group.iter().all(|one| one.called == "unclear") => "(unclear is never counted as right)",
                true => "yes",
                false => "NO",
            };
            let _ = writeln!(
                text,
                "{:46} {leaves:>12} {mean:>6.2}  {:34} {within}",
                bound.says(),
                share(right, group.len())
            );
        }
    }
    text
}
