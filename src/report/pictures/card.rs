//! The card of a device: its comparison at a glance, with the figures that tell most.

use super::scene::Scene;
use crate::contrast::words::how_often;
use crate::findings::ladder;
use crate::report::pictures::drawing::card::CardFigure;
use crate::report::pictures::drawing::envelope::EnvelopeFigure;
use crate::report::pictures::drawing::excess::ExcessFigure;
use crate::report::pictures::drawing::spectra::SpectraFigure;
use crate::report::pictures::drawing::spectrogram::SpectrogramFigure;
use crate::report::sentence;
use crate::text::{count, interval, number};
use crate::warning::Trust;

/// Power in no figure that the card names, dB over the noise. Chosen: as for a part that is worth a remedy.
const WORTH_A_FACT_DB: f64 = 1.0;

impl Scene<'_> {
    pub(crate) fn card(&self) -> CardFigure {
        let result = self.result;
        CardFigure {
            title: self.title(),
            subtitle: format!("{} · {}", self.report.session.title, self.subtitle()),
            facts: self.facts(),
            verdict: sentence(result, self.report),
            trust: trust_sentence(self.trust),
            trust_level: match self.trust {
                Trust::Sound | Trust::Unrepeated => 0,
                Trust::Doubtful => 1,
                Trust::Void => 2,
            },
            warnings: result.warnings.iter().map(|w| w.message.clone()).collect(),
            spectra: SpectraFigure { title: "Spectra".to_owned(), ..self.spectra() },
            excess: ExcessFigure { title: "Excess over frequency".to_owned(), ..self.excess() },
            spectrogram: SpectrogramFigure { title: "Spectrograms".to_owned(), ..self.spectrogram() },
            envelope: self
                .envelope()
                .map(|figure| EnvelopeFigure { title: "How the noise pulses".to_owned(), ..figure }),
            ladder: self.ladder().map(|ladder| ladder::figure(ladder, &self.report.contrasts)),
            footer: format!(
                "noisetally {} · levels re full scale (AES17), 95 % intervals · {} and {}",
                self.report.tool.version,
                count(self.off.len(), "off recording", "off recordings"),
                count(self.on.len(), "on recording", "on recordings"),
            ),
        }
    }

    fn facts(&self) -> Vec<(String, String)> {
        let mut facts = Vec::new();
        let mut say = |what: &str, value: String| facts.push((what.to_owned(), value));
        if self.trust.is_void() {
            say("Result", "void".to_owned());
            return facts;
        }
        let result = self.result;
        if let (Some(excess), Some([low, high])) = (result.excess_db, result.excess_ci_db) {
            say(
                if result.counts_clicks() { "Noise on average" } else { "Noise, on over off" },
                format!("{} dB", number(excess, 1)),
            );
            say("95 % interval", format!("{} dB", interval([low, high])));
        }
        if let Some(limit) = result.detection_limit_db {
            say("Would have been noticed", format!("{limit:.1} dB"));
        }
        say("Kind", format!("{} ({:.0} % sure)", result.character.code(), 100.0 * result.confidence));
        if let Some(rate) = result.mains_rate_hz {
            say("Pulses at", format!("{rate:.1} Hz"));
        }
        if let Some(rate) = result.pulse_rate_hz {
            say("Clicks", how_often(result, rate));
        }
        if let Some(comb) = &result.comb {
            say("Carriers every", format!("{:.1} Hz", comb.spacing_hz));
        }
        match &result.cluster {
            Some(cluster) => say("Added carriers", format!("at least {}, crowded", cluster.at_least)),
            None if result.added_lines.is_empty() => {}
            None => say("Added carriers", result.added_lines.len().to_string()),
        }
        if let Some(uncounted) = result.uncounted_db.filter(|db| *db >= WORTH_A_FACT_DB) {
            say("In no figure", format!("{uncounted:.1} dB"));
        }
        facts
    }
}

fn trust_sentence(trust: Trust) -> String {
    match trust {
        Trust::Sound => "Sound: nothing was found that spoils the figures.",
        Trust::Unrepeated => "Unrepeated: nothing else spoils the figures.",
        Trust::Doubtful => "Doubtful: the figures may be off.",
        Trust::Void => "Void: the figures mean nothing.",
    }
    .to_owned()
}
