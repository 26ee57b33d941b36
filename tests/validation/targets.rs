//! What is asked of the judgement, beside what was found: one table over all parts.

use std::fmt::Write;

use super::share::share;

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
        if of > 0 {
            self.row(what, 100.0 * part as f64 / of as f64, &share(part, of), "%", bound);
        }
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
            self.row(what, value, &format!("{value:5.2} dB"), "dB", bound);
        }
    }

    fn row(&mut self, what: &str, value: f64, found: &str, unit: &str, bound: Bound) {
        let met = if bound.holds(value) { "met" } else { "MISSED" };
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
