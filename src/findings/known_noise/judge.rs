//! Which of several known noises one is: one of them, one of a few that can't be told apart, or none.

use super::Signature;
use super::resemblance::{Resemblance, resemblance};
use crate::contrast::known_noise::Compared;

/// Resemblance from which a known noise is named: a distance of 1.7 of what the traits scatter. Found on simulated
/// devices, seed 1 (`tests/findings/known.rs`).
pub const NAMED_FROM: f64 = 0.25;
/// Another known noise fits nearly as well that resembles it at least this much of the best one's. Chosen: half;
/// exp(−d²/2) falls to 0.61 with the distance that traits usually scatter.
const AS_WELL: f64 = 0.5;

/// A known noise and how far the one in question resembles it.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// Place among the known noises.
    pub known: usize,
    /// 0..1.
    pub resemblance: f64,
    /// By what.
    pub compared: Vec<Compared>,
}

/// The answer, with all that resemble it, best first.
#[derive(Debug, Clone, PartialEq)]
pub enum Resembles {
    /// This one, and no other.
    One(Candidate),
    /// One of these, which can't be told apart here.
    Either(Vec<Candidate>),
    /// None of them; the nearest, where anything could be compared.
    None(Option<Candidate>),
}

impl Resembles {
    /// Those that it may be.
    pub fn named(&self) -> &[Candidate] {
        match self {
            Self::One(one) => std::slice::from_ref(one),
            Self::Either(several) => several,
            Self::None(_) => &[],
        }
    }
}

/// Which of the known noises this is; each may have been heard at several settings, of which the most alike counts.
pub fn resembling(now: &Signature, known: &[Vec<Signature>]) -> Resembles {
    resembling_by(known, |one| resemblance(now, one))
}

/// The same by what tells how alike each is.
pub fn resembling_by(known: &[Vec<Signature>], alike: impl Fn(&Signature) -> Option<Resemblance>) -> Resembles {
    let mut candidates: Vec<Candidate> = known
        .iter()
        .enumerate()
        .filter_map(|(known, heard)| {
            let best = heard.iter().filter_map(&alike).max_by(|a, b| a.value.total_cmp(&b.value))?;
            Some(Candidate { known, resemblance: best.value, compared: best.compared })
        })
        .collect();
    candidates.sort_by(|a, b| b.resemblance.total_cmp(&a.resemblance).then(a.known.cmp(&b.known)));
    let Some(best) = candidates.first().map(|one| one.resemblance).filter(|best| *best >= NAMED_FROM) else {
        return Resembles::None(candidates.into_iter().next());
    };
    candidates.retain(|one| one.resemblance >= AS_WELL * best);
    match candidates.len() {
        1 => Resembles::One(candidates.remove(0)),
        _ => Resembles::Either(candidates),
    }
}
