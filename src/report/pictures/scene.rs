//! The figures of one comparison. Not here: the card that holds them all (`card`).

use super::spectrum::{Spectrum, floor_spectrum, image, mean_spectrum};
use crate::contrast::comparison::ContrastResult;
use crate::contrast::{Contrast, Figures, loudest};
use crate::findings::basis::Basis;
use crate::findings::ladder::result::Ladder;
use crate::findings::names::{named, slug};
use crate::findings::picture::{FigureKind, Picture};
use crate::labels::{Plan, Setting};
use crate::plot::Drawing;
use crate::report::contract::Report;
use crate::report::headline;
use crate::report::pictures::drawing::apd::ApdFigure;
use crate::report::pictures::drawing::envelope::EnvelopeFigure;
use crate::report::pictures::drawing::excess::ExcessFigure;
use crate::report::pictures::drawing::spectra::{LineKind, MarkedLine, SpectraFigure};
use crate::report::pictures::drawing::spectrogram::SpectrogramFigure;
use crate::signal::envelope::AmplitudeDistribution;
use crate::signal::measure::Measurement;
use crate::text::capital;
use crate::units::Db;
use crate::warning::Trust;

/// How far beyond the passband the spectra are shown.
const BEYOND: f64 = 1.2;

/// One contrast with all that its figures are made of.
pub(crate) struct Scene<'a> {
    pub(crate) report: &'a Report,
    pub(crate) result: &'a ContrastResult,
    figures: &'a Figures,
    pub(crate) trust: Trust,
    pub(crate) off: Vec<&'a Measurement>,
    pub(crate) on: Vec<&'a Measurement>,
}

impl<'a> Scene<'a> {
    pub(crate) fn new(
        basis: &Basis<'a>,
        report: &'a Report,
        at: usize,
        plan: &'a Plan,
        contrast: &'a Contrast,
        figures: &'a Figures,
    ) -> Self {
        let measured = basis.measured;
        let sound = |id: &String| &measured[id].measurement;
        let used = plan.off.iter().enumerate().filter(|(index, _)| !contrast.set_aside.contains(index));
        Self {
            report,
            result: &report.contrasts[at],
            figures,
            trust: contrast.trust,
            off: used.map(|(_, id)| sound(id)).collect(),
            on: plan.on.iter().map(sound).collect(),
        }
    }

    /// Whether it is the first of its device and setting: before any remedy, as a rule.
    pub(crate) fn is_first_of_setting(&self) -> bool {
        let contrasts = &self.report.contrasts;
        let first = contrasts.iter().find(|c| c.device == self.result.device && c.setting == self.result.setting);
        first.is_some_and(|first| first.id == self.result.id)
    }

    /// Whether, of all settings the device was recorded at, it stands out most here (the first, of equals).
    pub(crate) fn is_loudest_setting(&self) -> bool {
        let of_device = self.report.contrasts.iter().filter(|c| c.device == self.result.device);
        let loudest = loudest(of_device.clone()).or(of_device.clone().next());
        loudest.is_some_and(|loudest| loudest.setting == self.result.setting)
    }

    fn setting(&self) -> Option<&'a Setting> {
        self.report.comparisons().setting(&self.result.setting)
    }

    /// Settings the device was recorded at.
    pub(crate) fn settings(&self) -> usize {
        let of_device = self.report.contrasts.iter().filter(|c| c.device == self.result.device);
        let mut settings: Vec<&str> = of_device.map(|c| c.setting.as_str()).collect();
        settings.sort_unstable();
        settings.dedup();
        settings.len()
    }

    pub(crate) fn ladder(&self) -> Option<&'a Ladder> {
        let of_device =
            |ladder: &&Ladder| ladder.device == self.result.device && ladder.setting == self.result.setting;
        self.report.ladders.iter().find(of_device)
    }

    pub(crate) fn picture(&self, kind: FigureKind, drawing: impl Drawing + 'static) -> Picture {
        let words = match kind {
            FigureKind::Card | FigureKind::Ladder => self.result.device.clone(),
            _ => format!("{} {}", self.result.device, self.result.remedy.as_deref().unwrap_or_default()),
        };
        Picture {
            file: format!("{}-{}{}.png", self.result.id, slug(&words), kind.word()),
            kind,
            contrast: Some(self.result.id.clone()),
            caption: self.caption(kind),
            drawing: Box::new(drawing),
        }
    }

    fn caption(&self, kind: FigureKind) -> String {
        let dial_khz = self.setting().and_then(|setting| setting.dial_khz).filter(|_| self.settings() > 1);
        let at = dial_khz.map_or_else(String::new, |khz| format!(", {khz:.1} kHz"));
        let what = format!("{}{at}", named(self.result));
        match kind {
            FigureKind::Card => format!("{what}: everything at a glance."),
            FigureKind::Ladder => format!("{what}: the excess left after each remedy, with its 95 % interval."),
            FigureKind::Spectra => format!("{what}: spectra with the device off and on."),
            FigureKind::Excess => format!("{what}: excess over frequency with its 95 % interval."),
            FigureKind::Spectrogram => format!("{what}: spectrograms off and on, in one scale of colour."),
            FigureKind::Apd => format!("{what}: how often the noise power exceeds each level, off and on."),
            FigureKind::Envelope => format!("{what}: how the noise power in the passband pulses, off and on."),
            // Pictures of several comparisons have captions of their own.
            FigureKind::SwitchingComb
            | FigureKind::ManMadeNoise
            | FigureKind::Budget
            | FigureKind::Timeline
            | FigureKind::Waterfall
            | FigureKind::OnTimes => format!("{what}."),
        }
    }

    pub(crate) fn title(&self) -> String {
        headline(self.result)
    }

    pub(crate) fn subtitle(&self) -> String {
        let mut parts = Vec::new();
        if let Some(setting) = self.setting() {
            parts.extend(setting.dial_khz.map(|khz| format!("{khz} kHz")));
            parts.extend(setting.mode.map(|mode| mode.to_string()));
        }
        let aside = self.result.off.len() - self.off.len();
        let aside = if aside > 0 { format!(" ({aside} set aside)") } else { String::new() };
        parts.push(format!("{} off{aside}, {} on", self.result.off.len(), self.result.on.len()));
        parts.push(format!("trust: {}", self.trust.word()));
        parts.join(" · ")
    }

    fn shown_to_hz(&self) -> f64 {
        let nyquist = |m: &&Measurement| m.sample_rate_hz as f64 / 2.0;
        let all = self.off.iter().chain(&self.on);
        (self.figures.passband.high_hz * BEYOND).min(all.map(nyquist).fold(f64::MAX, f64::min))
    }

    pub(crate) fn spectra(&self) -> SpectraFigure {
        let top = self.shown_to_hz();
        let inside = &self.figures.passband;
        let (off, on) = (mean_spectrum(&self.off), mean_spectrum(&self.on));
        let marks = |freq_hz: f64, kind: LineKind, side: &Spectrum| MarkedLine {
            freq_hz,
            level: side.level_near(freq_hz),
            kind,
            label: Some(format!("{freq_hz:.0} Hz")),
        };
        let lines = &self.figures.lines;
        let added = lines.added.iter().map(|found| marks(found.line.freq_hz, LineKind::Added, &on));
        let lost = lines.lost.iter().map(|line| marks(line.freq_hz, LineKind::Lost, &off));
        let both = self.figures.reference.iter().map(|r| marks(r.0, LineKind::Both, &on));
        SpectraFigure {
            title: self.title(),
            subtitle: self.subtitle(),
            lines: added.chain(lost).chain(both).collect(),
            off: off.points(0.0, top),
            on: on.points(0.0, top),
            off_floor: floor_spectrum(&self.off).points(inside.low_hz, inside.high_hz),
            on_floor: floor_spectrum(&self.on).points(inside.low_hz, inside.high_hz),
            passband_hz: (inside.low_hz, inside.high_hz),
        }
    }

    pub(crate) fn excess(&self) -> ExcessFigure {
        let overall = self.figures.excess_db();
        let bands = self.figures.excess.bands.iter();
        ExcessFigure {
            title: self.title(),
            subtitle: format!(
                "Noise between the lines{}, on over off · {}",
                if self.figures.counts_clicks() { ", clicks included" } else { "" },
                self.subtitle()
            ),
            bands: bands
                .map(|band| {
                    let excess = band.by(self.figures.counts_clicks());
                    (band.freq_hz, excess.value, excess.ci95.0, excess.ci95.1)
                })
                .collect(),
            overall: Some((overall.value, overall.ci95.0, overall.ci95.1)),
            detection_limit_db: Some(self.figures.excess.limit_db).filter(|limit| limit.is_finite()),
            passband_hz: (self.figures.passband.low_hz, self.figures.passband.high_hz),
        }
    }

    pub(crate) fn spectrogram(&self) -> SpectrogramFigure {
        let top = self.shown_to_hz();
        SpectrogramFigure {
            title: self.title(),
            subtitle: self.subtitle(),
            off: image(self.off[0], top),
            on: image(self.on[0], top),
            passband_hz: (self.figures.passband.low_hz, self.figures.passband.high_hz),
        }
    }

    /// The modulation spectrum, where the noise pulses.
    pub(crate) fn envelope(&self) -> Option<EnvelopeFigure> {
        let verdict = &self.figures.verdict;
        if verdict.mains_rate_hz.is_none() && verdict.pulse_rate_hz.is_none() {
            return None;
        }
        let points = |side: &[&Measurement]| -> Option<Vec<(f64, f64)>> {
            side.iter().find_map(|m| Some(m.envelope.as_ref()?.modulation.as_ref()?.points().collect()))
        };
        let mut marks: Vec<(f64, String)> = Vec::new();
        if let Some(rate_hz) = verdict.mains_rate_hz {
            marks.extend((1..=4).map(|n| f64::from(n) * rate_hz).map(|hz| (hz, format!("{hz:.0} Hz"))));
        }
        if let Some(rate_hz) = verdict.pulse_rate_hz.filter(|_| verdict.pulses_regular == Some(true)) {
            marks.push((rate_hz, format!("{rate_hz:.1} Hz")));
        }
        Some(EnvelopeFigure {
            title: self.title(),
            subtitle: format!("How the noise power in the passband pulses · {}", self.subtitle()),
            off: points(&self.off)?,
            on: points(&self.on)?,
            marks,
            threshold: None,
        })
    }

    /// The amplitude distribution, where the added noise comes as clicks or buzz.
    pub(crate) fn apd(&self) -> Option<ApdFigure> {
        let verdict = &self.figures.verdict;
        if self.trust.is_void() || (verdict.mains_rate_hz.is_none() && verdict.pulse_rate_hz.is_none()) {
            return None;
        }
        let together = |side: &[&Measurement]| {
            AmplitudeDistribution::together(side.iter().filter_map(|m| Some(&m.envelope.as_ref()?.apd)))
        };
        let (off, on) = (together(&self.off)?, together(&self.on)?);
        let reference = Db::from_ratio(off.gaussian()?.density).0;
        let gain_db = self.figures.gain_db();
        let points = |side: &AmplitudeDistribution, shift_db: f64| -> Vec<(f64, f64)> {
            side.exceeded().map(|(level, probability)| (probability, level - shift_db)).collect()
        };
        Some(ApdFigure {
            title: self.apd_title(),
            subtitle: format!("How often the noise exceeds each level · {}", self.subtitle()),
            level_caption: "Power over the mean noise off (dB)".to_owned(),
            off: points(&off, reference),
            on: points(&on, reference + gain_db),
            on_gaussian: on.density_of_lowest().map(|density| Db::from_ratio(density).0 - reference - gain_db),
        })
    }

    fn apd_title(&self) -> String {
        let Some(part) = self.figures.verdict.impulsive.filter(|part| part.time_share > 0.0) else {
            return self.title();
        };
        format!(
            "{}: impulsive for at least {} of the time, with {} of the added noise",
            capital(&self.result.device),
            part.time_words(),
            part.power_words()
        )
    }
}
