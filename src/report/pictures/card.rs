//! The card of a device: its comparison at a glance, with the figures that tell most.

use super::scene::Scene;
use crate::contrast::Character;
use crate::contrast::comparison::ContrastResult;
use crate::contrast::words::{kind, with_interval};
use crate::findings::ladder;
use crate::findings::ladder::figure::LadderFigure;
use crate::report::pictures::drawing::card::{CardFigure, PulsingFigure};
use crate::report::pictures::drawing::excess::ExcessFigure;
use crate::report::pictures::drawing::spectra::SpectraFigure;
use crate::report::pictures::drawing::spectrogram::SpectrogramFigure;
use crate::report::sentence;
use crate::text::{count, db};
use crate::units::ratio_of_db;
use crate::warning::{Code, Trust};

/// Power in no figure that the card names: so many dB over the noise, and this share of what the figures hold.
/// Chosen: as for a part that is worth a remedy, and enough to move the figures by a decibel.
const WORTH_A_FACT_DB: f64 = 1.0;
const WORTH_A_SHARE: f64 = 0.25;

impl Scene<'_> {
    pub(crate) fn card(&self) -> CardFigure {
        let result = self.result;
        CardFigure {
            title: self.title(),
            subtitle: format!("{} · {}", self.report.session.title, self.subtitle()),
            facts: self.facts(),
            verdict: sentence(result, self.report),
            trust: trust_sentence(self.trust, result),
            trust_level: match self.trust {
                Trust::Sound | Trust::Unrepeated => 0,
                Trust::Doubtful => 1,
                Trust::Void => 2,
            },
            warnings: result.warnings.iter().map(|w| w.message.clone()).collect(),
            spectra: SpectraFigure { title: "Spectra".to_owned(), ..self.spectra() },
            excess: ExcessFigure { title: "Excess over frequency".to_owned(), ..self.excess() },
            spectrogram: SpectrogramFigure { title: "Spectrograms".to_owned(), ..self.spectrogram() },
            pulsing: self.pulsing().map(|figure| {
                let clicks = matches!(figure, PulsingFigure::Intervals(_));
                figure.titled(if clicks { "From one click to the next" } else { "How the noise pulses" })
            }),
            ladder: self.ladder().map(|ladder| LadderFigure {
                title: "What each remedy left".to_owned(),
                ..ladder::figure(ladder, &self.report.contrasts)
            }),
            footer: format!(
                "noisetally {} · levels re full scale (AES17), 95 % intervals · {} and {}",
                self.report.tool.version,
                count(self.off.len(), "off recording", "off recordings"),
                count(self.on.len(), "on recording", "on recordings"),
            ),
        }
    }

    /// How much and of what kind; title and verdict say the rest.
    fn facts(&self) -> Vec<(String, String)> {
        let result = self.result;
        let mut facts = Vec::new();
        let mut say = |what: &str, value: String| facts.push((what.to_owned(), value));
        if self.trust.is_void() {
            return facts;
        }
        let lines = result.character.is_lines() || result.is_lines_only();
        let total = result.total_db().filter(|_| lines);
        let doubt = if self.trust.is_doubtful() { ", in doubt" } else { "" };
        match (total, result.excess_db.zip(result.excess_ci_db)) {
            (Some(total), _) => say("Noise and carriers, on over off", format!("{}{doubt}", db(total))),
            (None, Some(_)) if result.is_too_wide() => say("Noise, on over off", "can't be told".to_owned()),
            (None, Some((excess, ci))) => say(
                if result.counts_clicks() { "Noise on average, on over off" } else { "Noise, on over off" },
                format!("{}{doubt}", with_interval(excess, Some(ci))),
            ),
            (None, None) => {}
        }
        match result.detection_limit_db {
            Some(limit) if result.character == Character::None => say("Would have been noticed", db(limit)),
            _ => say("Kind of noise", self.kind()),
        }
        if let Some(uncounted) = result.uncounted_db.filter(|db| is_worth_a_fact(*db, result.total_db())) {
            say("Counted in no figure", db(uncounted));
        }
        facts
    }

    /// The kind and how sure it is; of a doubtful comparison no percentage, which would say that it can be sure.
    fn kind(&self) -> String {
        let kind = kind(self.result);
        match self.trust {
            Trust::Doubtful | Trust::Void => format!("{kind}, in doubt"),
            Trust::Sound | Trust::Unrepeated => format!("{kind}; {:.0} % sure", 100.0 * self.result.confidence),
        }
    }
}

fn is_worth_a_fact(uncounted_db: f64, total_db: Option<f64>) -> bool {
    let added = |db: f64| ratio_of_db(db) - 1.0;
    uncounted_db >= WORTH_A_FACT_DB
        && added(uncounted_db) >= WORTH_A_SHARE * added(total_db.unwrap_or(0.0).max(0.0))
}

/// The verdict says itself what an unrepeated comparison lacks, what is wrong with a doubtful or void one, and on what
/// the figures hang where the gain may have moved.
fn trust_sentence(trust: Trust, result: &ContrastResult) -> String {
    let is_sound = trust == Trust::Sound && result.warnings.iter().all(|w| w.code != Code::GainUnknown);
    if is_sound { "Sound: nothing was found that spoils the figures.".to_owned() } else { String::new() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn little_beside_much_is_no_fact() {
        assert!(is_worth_a_fact(4.4, Some(1.0)) && is_worth_a_fact(10.0, None));
        assert!(!is_worth_a_fact(4.4, Some(24.0)) && !is_worth_a_fact(0.5, Some(0.0)));
    }
}
