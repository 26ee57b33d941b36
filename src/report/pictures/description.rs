//! The card of one recording described by itself: what stands in it at a glance.

use super::drawing::card::{CardFigure, PulsingFigure};
use super::drawing::envelope::EnvelopeFigure;
use super::drawing::excess::ExcessFigure;
use super::drawing::intervals::IntervalsFigure;
use super::drawing::spectra::{LineKind, MarkedLine, SpectraFigure};
use super::drawing::spectrogram::{SpectrogramFigure, Take};
use super::spectrum::{excerpt_image, floor_spectrum, image, mean_spectrum};
use crate::contrast::Character;
use crate::contrast::words::period;
use crate::findings::description::result::Described;
use crate::findings::description::words::{depth_in_short, headline, sentences};
use crate::findings::names::slug;
use crate::findings::picture::{FigureKind, Picture};
use crate::report::contract::Report;
use crate::signal::measure::{BEYOND, Measurement};
use crate::signal::recording_result::RecordingResult;
use crate::text::{label, number, rate};

/// Rates named in the spectrum of the pulsing: the mains rate and its multiples.
const NAMED: i32 = 4;

/// A card of each recording; `sounds` in the order of the report's.
pub fn cards(report: &Report, sounds: &[&Measurement]) -> Vec<Picture> {
    let each = report.recordings.iter().zip(sounds);
    each.filter_map(|(recording, sound)| {
        let found = report.described.iter().find(|found| found.recording == recording.id)?;
        let drawing = Scene { report, recording, sound, found }.card()?;
        let stem = recording.file.rsplit_once('.').map_or(recording.file.as_str(), |(stem, _)| stem);
        Some(Picture {
            file: format!("{}-{}card.png", recording.id, slug(stem)),
            kind: FigureKind::Card,
            contrast: None,
            caption: format!("{}: everything at a glance.", label(&recording.file)),
            drawing: Box::new(drawing),
        })
    })
    .collect()
}

struct Scene<'a> {
    report: &'a Report,
    recording: &'a RecordingResult,
    sound: &'a Measurement,
    found: &'a Described,
}

impl Scene<'_> {
    /// `None` where there is nothing to be heard.
    fn card(&self) -> Option<CardFigure> {
        let passband = self.sound.passband?;
        let passband_hz = (passband.low_hz, passband.high_hz);
        let mut said = sentences(self.found, self.report.session.mains_hz);
        said.push(format!("Next: {}", self.found.next_take));
        Some(CardFigure {
            title: headline(self.found),
            subtitle: self.subtitle(),
            facts: self.facts(),
            verdict: said.join(" "),
            warnings: self.recording.warnings.iter().map(|warning| warning.message.clone()).collect(),
            trust_level: u8::from(!self.recording.warnings.is_empty()),
            spectra: self.spectra(passband_hz),
            excess: ExcessFigure::default(),
            spectrogram: self.spectrogram(passband_hz),
            pulsing: self.pulsing(),
            footer: format!(
                "noisetally {} · levels re full scale (AES17) · one recording, compared with nothing: a station, the \
                 band or the receiver may have made what stands in it",
                self.report.tool.version
            ),
            ..CardFigure::default()
        })
    }

    fn subtitle(&self) -> String {
        let setting = self.report.settings.iter().find(|setting| setting.id == self.recording.setting);
        let mut parts = vec![label(&self.recording.file)];
        parts.extend(setting.and_then(|setting| setting.facts()));
        parts.push(format!("{} s", number(self.recording.duration_s, 1)));
        parts.join(" · ")
    }

    fn facts(&self) -> Vec<(String, String)> {
        let mut facts = Vec::new();
        let mut say = |what: &str, value: String| facts.push((what.to_owned(), value));
        match (&self.found.noise, self.recording.floor_db_per_hz) {
            (Some(noise), _) => say("Noise", format!("{} dBm", number(noise.noise_dbm, 1))),
            (None, Some(floor)) => say("Noise in 1 Hz, not calibrated", format!("{} dBFS", number(floor, 1))),
            (None, None) => {}
        }
        if let Some((hz, depth)) = self.found.mains_rate_hz.zip(self.found.pulsing_depth) {
            say("Pulsing", format!("{} Hz{}", rate(hz), depth_in_short(depth)));
        }
        match self.found.pulse_period_s {
            Some(period_s) => say("One click every", format!("{} s", number(period_s, 3))),
            None => {
                if let Some(rate_hz) = self.found.pulse_rate_hz {
                    say("Clicks at random", format!("{} a second", rate(rate_hz)));
                }
            }
        }
        if facts.len() < 3 && self.found.has(Character::Carriers) {
            facts.push(("Carriers".to_owned(), self.found.carriers.len().to_string()));
        }
        facts
    }

    fn spectra(&self, passband_hz: (f64, f64)) -> SpectraFigure {
        let side = [self.sound];
        let (mean, floor) = (mean_spectrum(&side), floor_spectrum(&side));
        let marked =
            |freq_hz: f64, kind, label| MarkedLine { freq_hz, level: mean.level_near(freq_hz), kind, label };
        let carriers = self.found.carriers.iter();
        let mut lines: Vec<MarkedLine> = carriers
            .map(|one| marked(one.freq_hz, LineKind::Added, Some(format!("{} Hz", number(one.freq_hz, 0)))))
            .collect();
        let named: Vec<f64> = lines.iter().map(|line| line.freq_hz).collect();
        let stations = mean.standing_over(&floor, passband_hz, &named);
        lines.extend(stations.into_iter().map(|hz| marked(hz, LineKind::Station, None)));
        let top_hz = (BEYOND * passband_hz.1).min(self.sound.sample_rate_hz as f64 / 2.0);
        SpectraFigure {
            title: "Spectrum".to_owned(),
            on: mean.points(0.0, top_hz),
            floor: floor.median_within(passband_hz.0, passband_hz.1),
            passband_hz,
            lines,
            ..SpectraFigure::default()
        }
    }

    fn spectrogram(&self, passband_hz: (f64, f64)) -> SpectrogramFigure {
        let top_hz = (BEYOND * passband_hz.1).min(self.sound.sample_rate_hz as f64 / 2.0);
        let excerpt = self.sound.excerpt.as_ref().filter(|_| self.found.has(Character::Clicks));
        let on = match excerpt {
            Some(excerpt) => Take {
                words: format!("from {} s, in steps of 10 ms", number(excerpt.from_s, 1)),
                image: excerpt_image(excerpt),
            },
            None => Take { words: String::new(), image: image(self.sound, top_hz) },
        };
        SpectrogramFigure { title: "Spectrogram".to_owned(), on, passband_hz, ..SpectrogramFigure::default() }
    }

    /// From click to click, where there are clicks and no pulsing; else how the noise pulses.
    fn pulsing(&self) -> Option<PulsingFigure> {
        let envelope = self.sound.envelope.as_ref()?;
        if self.found.has(Character::Clicks) && !self.found.has(Character::Buzz) {
            let times = envelope.pulses.kept.windows(2);
            let beat = self.found.pulse_period_s.zip(self.found.pulse_period_ci_s);
            return Some(PulsingFigure::Intervals(IntervalsFigure {
                title: "From one click to the next".to_owned(),
                subtitle: String::new(),
                intervals_s: times.map(|pair| pair[1].at_s - pair[0].at_s).collect(),
                beat: beat.map(|(s, [low, high])| (s, period(s, (high - low) / 2.0))),
            }));
        }
        let modulation = envelope.modulation.as_ref()?;
        let base_hz = self.found.mains_rate_hz;
        let rates = base_hz.into_iter().flat_map(|hz| (1..=NAMED).map(move |n| f64::from(n) * hz));
        Some(PulsingFigure::Modulation(EnvelopeFigure {
            title: "How the noise pulses".to_owned(),
            on: modulation.points().collect(),
            marks: rates.map(|hz| (hz, format!("{} Hz", number(hz, 0)))).collect(),
            threshold: self.found.pulsing_depth_limit,
            ..EnvelopeFigure::default()
        }))
    }
}
