//! What is asked of the judgement, beside what was found: one table over all parts.

use std::fmt::Write;

use super::share::{interval, share};

/// What a figure should be.
#[derive(Clone, Copy)]
pub enum Bound {
    /// At least this.
    Least(f64),
    /// At most this.
    Most(f64),
    /// Within these.
    Within(f64, f64),
}

impl Bound {
    fn holds(self, value: f64) -> bool {
        match self {
            Self::Least(least) => value >= least,
            Self::Most(most) => value <= most,
            Self::Within(low, high) => (low..=high).contains(&value),
        }
    }

    /// Whether some value of this range is what it should be.
    fn may_hold(self, low: f64, high: f64) -> bool {
        match self {
            Self::Least(least) => high >= least,
            Self::Most(most) => low <= most,
            Self::Within(from, to) => high >= from && low <= to,
        }
    }

    fn told(self) -> String {
        match self {
            Self::Least(least) => format!(">= {least}"),
            Self::Most(most) => format!("<= {most}"),
            Self::Within(low, high) => format!("{low} to {high}"),
        }
    }
}

/// The rows, in the order they are put in.
#[derive(Default)]
pub struct Targets(String);

impl Targets {
    /// A share, %; no row where there was no case.
    pub fn share(&mut self, what: &str, part: usize, of: usize, bound: Bound) {
        if of == 0 {
            return;
        }
        let (low, high) = interval(part, of);
        let met = match bound.holds(100.0 * part as f64 / of as f64) {
            true => "met",
            false if bound.may_hold(100.0 * low, 100.0 * high) => "missed, within chance",
            false => "MISSED",
        };
        self.row(what, met, &share(part, of), "%", bound);
    }

    /// The share of those that are kept for which something holds.
    pub fn share_of<T>(
        &mut self,
        what: &str,
        all: &[T],
        keep: impl Fn(&T) -> bool,
        is: impl Fn(&T) -> bool,
        bound: Bound,
    ) {
        let of: Vec<&T> = all.iter().filter(|one| keep(one)).collect();
        self.share(what, of.iter().filter(|one| is(one)).count(), of.len(), bound);
    }

    /// A figure in dB; no row where there is none.
    pub fn db(&mut self, what: &str, value: f64, bound: Bound) {
        if !value.is_nan() {
            let met = if bound.holds(value) { "met" } else { "MISSED" };
            self.row(what, met, &format!("{value:5.2} dB"), "dB", bound);
        }
    }

    fn row(&mut self, what: &str, met: &str, found: &str, unit: &str, bound: Bound) {
        let _ = writeln!(self.0, "{what:58} {:14} {found:36} {met}", format!("{} {unit}", bound.told()));
    }

    /// All of it.
    pub fn table(&self) -> String {
        if self.0.is_empty() {
            return String::new();
        }
        format!("\n{:58} {:14} found\n{}", "targets", "asked", self.0)
    }
}
