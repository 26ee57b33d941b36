//! What is asked of one comparison, decided once: did the noise rise, does it count clicks, of what kind is it and how
//! sure is that, how far can it be relied on. Not here: what is asked across comparisons (`comparisons`), words.

use super::character::Character;
use super::comparison::ContrastResult;
use super::pair::Figures;
use crate::units::Estimate;
use crate::warning::Trust;

/// Confidence from which a kind of noise is stated as such, chosen: of those told with it some nine in ten are right (the
/// validation bench's table).
const SURE: f64 = 0.9;
/// Confidence from which it is probably so, and below which it is no ground for more; chosen.
pub const PROBABLE: f64 = 0.7;

/// What stands for interval and detection limit where neither could be had, dB; chosen: what two takes with nothing
/// touched may differ by.
const CAREFUL_LIMIT_DB: f64 = 1.0;

/// How the noise between the lines changed, dB, with its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Change {
    /// It could not be had.
    Unknown,
    /// The interval includes no change at all.
    NotSure(f64, Option<[f64; 2]>),
    /// Louder with the device on.
    Up(f64, Option<[f64; 2]>),
    /// Quieter with the device on; value and interval as positive numbers.
    Down(f64, Option<[f64; 2]>),
}

impl Change {
    /// Judged by the interval; without one, by the detection limit; without either, by a limit taken with care.
    fn of(excess_db: Option<f64>, ci: Option<[f64; 2]>, limit_db: Option<f64>) -> Self {
        let Some(excess) = excess_db else { return Self::Unknown };
        let limit = limit_db.unwrap_or(CAREFUL_LIMIT_DB).abs();
        let [low, high] = ci.unwrap_or([excess - limit, excess + limit]);
        if low > 0.0 {
            Self::Up(excess, ci)
        } else if high < 0.0 {
            Self::Down(-excess, ci.map(|[a, b]| [-b, -a]))
        } else {
            Self::NotSure(excess, ci)
        }
    }

    /// Whether the noise rose.
    pub fn is_up(self) -> bool {
        matches!(self, Self::Up(..))
    }
}

/// How sure the kind of noise is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Certainty {
    /// It can be stated.
    Stated,
    /// It is probably so.
    Probable,
    /// It may be so.
    Perhaps,
}

impl ContrastResult {
    /// How the noise between the lines changed.
    pub fn change(&self) -> Change {
        Change::of(self.excess_db, self.excess_ci_db, self.detection_limit_db)
    }

    /// Whether a fall is large enough that a rise of its size would have been called.
    pub fn is_noticeable(&self, drop_db: f64) -> bool {
        drop_db >= self.detection_limit_db.unwrap_or(0.0)
    }

    /// Whether the excess is a mean over clicks and the quiet between them, not the noise that is always there.
    pub fn counts_clicks(&self) -> bool {
        self.character == Character::Clicks || self.pulse_rate_hz.is_some()
    }

    /// Whether the added power is of this kind, as a whole or in part.
    pub fn has(&self, kind: Character) -> bool {
        self.character == kind || self.parts.iter().any(|part| part.character == kind)
    }

    /// Whether what was added is lines alone: a family and others beside it.
    pub fn is_lines_only(&self) -> bool {
        !self.parts.is_empty() && self.parts.iter().all(|part| part.character.is_lines())
    }

    /// Number of new carriers beside the family that is a part of a mixture; 0 where there is none.
    pub fn beside_the_family(&self) -> usize {
        let family = self.comb.as_ref().filter(|_| self.parts.iter().any(|part| part.character == Character::Comb));
        family.map_or(0, |comb| self.added_lines.len().saturating_sub(comb.lines))
    }

    /// How sure the kind is, whatever the trust.
    pub fn certainty(&self) -> Certainty {
        match self.confidence {
            sure if sure < PROBABLE => Certainty::Perhaps,
            sure if sure < SURE => Certainty::Probable,
            _ => Certainty::Stated,
        }
    }

    /// Whether its figures mean nothing.
    pub fn is_void(&self) -> bool {
        self.trust == Trust::Void
    }

    /// Whether its figures may be off.
    pub fn is_doubtful(&self) -> bool {
        self.trust == Trust::Doubtful
    }

    /// Whether nothing was found that spoils its figures.
    pub fn is_sound(&self) -> bool {
        self.trust == Trust::Sound
    }

    /// All that the device adds, lines and clicks too, dB; `None` where that means nothing or could not be had.
    pub fn total_db(&self) -> Option<f64> {
        self.total_excess_db.filter(|_| !self.is_void())
    }
}

/// The one that adds most, lines and clicks too; of equals the first. `None` where none could be measured.
pub fn loudest<'a>(contrasts: impl IntoIterator<Item = &'a ContrastResult>) -> Option<&'a ContrastResult> {
    let usable = contrasts.into_iter().filter(|c| c.total_db().is_some());
    usable.reduce(|a, b| if b.total_excess_db > a.total_excess_db { b } else { a })
}

impl Figures {
    /// How the noise changed, as [`ContrastResult::change`] tells it.
    pub fn change(&self) -> Change {
        let excess = self.excess_db();
        let limit_db = Some(self.excess.limit_db).filter(|limit| limit.is_finite());
        Change::of(Some(excess.value), Some([excess.ci95.0, excess.ci95.1]), limit_db)
    }

    /// Whether the excess is a mean over clicks and the quiet between them, as [`ContrastResult::counts_clicks`] tells it.
    pub fn counts_clicks(&self) -> bool {
        self.verdict.pulse_rate_hz.is_some()
    }

    /// The excess to quote: by the mean where the noise comes in clicks, else by the steady level.
    pub fn excess_db(&self) -> Estimate {
        if self.counts_clicks() { self.excess.mean } else { self.excess.steady }
    }

    /// Noise density off and on, FS²/Hz, by the measure that the excess is quoted by.
    pub fn density(&self) -> (f64, f64) {
        if self.counts_clicks() { self.excess.mean_density } else { self.excess.density }
    }

    /// The gain of the on side over that of the off side, where a reference told it and it was taken off, dB.
    pub fn gain_db(&self) -> f64 {
        self.reference.filter(|_| self.corrected).map_or(0.0, |reference| reference.1)
    }

    /// Whether its kind is sure enough to be ground for more.
    pub fn is_kind_probable(&self) -> bool {
        self.verdict.confidence >= PROBABLE
    }
}
