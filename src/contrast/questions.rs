//! What is asked of one comparison, decided once: did the noise rise, does it count clicks, of what kind is it and
//! how sure is that, how far can it be relied on. Not here: what is asked across comparisons (`comparisons`),
//! words.

use super::character::Character;
use super::comparison::ContrastResult;
use super::excess::{Change, is_too_wide};
use super::known_noise::KnownCandidate;
use super::pair::Figures;
use crate::labels::tells_fixed_gain;
use crate::units::Estimate;

/// Confidence from which a kind of noise is stated as such, chosen: of those told with it some nine in ten are
/// right (the validation bench's table).
const SURE: f64 = 0.9;
/// Confidence from which it is probably so, and below which it is no ground for more; chosen.
pub const PROBABLE: f64 = 0.7;

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
        if self.is_too_wide() {
            return Change::Unknown;
        }
        Change::of(self.excess_db, self.excess_ci_db, self.detection_limit_db)
    }

    /// The one known noise that it is taken for.
    pub fn resembled(&self) -> Option<&KnownCandidate> {
        self.known_noise.as_ref().filter(|_| !self.is_void())?.one()
    }

    /// Whether nothing was added that would have shown, and nothing spoils that.
    pub fn adds_nothing(&self) -> bool {
        self.is_unspoilt() && self.character == Character::None && matches!(self.change(), Change::NotSure(..))
    }

    /// Whether anything came with the device: noise that rose, lines or clicks.
    pub fn adds_something(&self) -> bool {
        self.character.is_lines() || self.is_lines_only() || self.counts_clicks() || self.change().is_up()
    }

    /// Whether the interval of the excess is so wide that the figure says nothing.
    pub fn is_too_wide(&self) -> bool {
        self.excess_ci_db.is_some_and(is_too_wide)
    }

    /// Whether the excess is a mean over clicks and the quiet between them, not the noise that is always there.
    pub fn counts_clicks(&self) -> bool {
        self.pulse_rate_hz.is_some()
    }

    /// Where alone the noise rose, Hz, if that is half of the passband or less: there it rose for certain, and beyond
    /// the slopes on either side by less than half as many dB.
    pub fn confined_hz(&self) -> Option<[f64; 2]> {
        let half_db = self.bands.iter().map(|band| band.excess_db).fold(0.0, f64::max) / 2.0;
        let first = self.bands.iter().position(|band| band.excess_db > half_db)?;
        let last = self.bands.iter().rposition(|band| band.excess_db > half_db)?;
        let is_outside = |place: usize| place + 1 < first || place > last + 1;
        let is_confined = self.bands.iter().enumerate().all(|(place, band)| {
            let [low, high] = band.excess_ci_db;
            if (first..=last).contains(&place) { low > 0.0 } else { !is_outside(place) || high < half_db }
        });
        let step_hz = (self.bands.last()?.freq_hz - self.bands[0].freq_hz) / (self.bands.len() - 1).max(1) as f64;
        let edges = [self.bands[first].freq_hz - step_hz / 2.0, self.bands[last].freq_hz + step_hz / 2.0];
        (is_confined && 2 * (last + 1 - first) <= self.bands.len()).then_some(edges)
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
        self.trust.is_void()
    }

    /// Whether its figures may be off.
    pub fn is_doubtful(&self) -> bool {
        self.trust.is_doubtful()
    }

    /// Whether nothing was found that spoils its figures.
    pub fn is_unspoilt(&self) -> bool {
        self.trust.is_unspoilt()
    }

    /// Whether nothing was found either, but off or on stands alone.
    pub fn is_unrepeated(&self) -> bool {
        self.trust.is_unrepeated()
    }

    /// All that the device adds, lines and clicks too, dB; `None` where that means nothing or could not be had.
    pub fn total_db(&self) -> Option<f64> {
        self.total_excess_db.filter(|_| !self.is_void())
    }
}

/// Whether a label says that the gain was fixed, or a steady carrier in both states shows what it did. Otherwise an
/// AGC that held all levels alike would look just like a device without noise.
pub(super) fn is_gain_known(has_reference: bool, label: Option<&str>) -> bool {
    has_reference || label.is_some_and(tells_fixed_gain)
}

/// The one that adds most, lines and clicks too; of equals the first. `None` where none could be measured.
pub fn loudest<'a>(contrasts: impl IntoIterator<Item = &'a ContrastResult>) -> Option<&'a ContrastResult> {
    let usable = contrasts.into_iter().filter(|c| c.total_db().is_some());
    usable.reduce(|a, b| if b.total_excess_db > a.total_excess_db { b } else { a })
}

impl Figures {
    /// How the noise changed, as [`ContrastResult::change`] tells it.
    pub fn change(&self) -> Change {
        self.excess.change(self.counts_clicks())
    }

    /// Whether the excess is a mean over clicks and the quiet between them, as [`ContrastResult::counts_clicks`]
    /// tells it.
    pub fn counts_clicks(&self) -> bool {
        self.verdict.pulse_rate_hz.is_some()
    }

    /// The excess to quote: by the mean where the noise comes in clicks, else by the steady level.
    pub fn excess_db(&self) -> Estimate {
        self.excess.by(self.counts_clicks())
    }

    /// Noise density off and on, FS²/Hz, by the measure that the excess is quoted by.
    pub fn density(&self) -> (f64, f64) {
        self.excess.density_by(self.counts_clicks())
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
