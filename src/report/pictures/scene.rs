//! The figures of one comparison. Not here: the card that holds them all (`card`).

use super::spectrum::{Spectrum, excerpt_image, floor_spectrum, image, mean_spectrum};
use crate::contrast::comparison::{BandExcess, ContrastResult};
use crate::contrast::words::period;
use crate::contrast::{Certainty, Character, Contrast, Figures, Impulsive, loudest};
use crate::findings::basis::Basis;
use crate::findings::ladder::result::Ladder;
use crate::findings::names::{named, slug};
use crate::findings::picture::{FigureKind, Picture};
use crate::labels::{Plan, Setting};
use crate::plot::Drawing;
use crate::report::contract::Report;
use crate::report::headline;
use crate::report::pictures::drawing::apd::ApdFigure;
use crate::report::pictures::drawing::card::PulsingFigure;
use crate::report::pictures::drawing::envelope::EnvelopeFigure;
use crate::report::pictures::drawing::excess::{ExcessFigure, ExcessStep};
use crate::report::pictures::drawing::intervals::IntervalsFigure;
use crate::report::pictures::drawing::spectra::{Bracket, LineKind, MarkedLine, SpectraFigure};
use crate::report::pictures::drawing::spectrogram::{SpectrogramFigure, Take};
use crate::signal::envelope::AmplitudeDistribution;
use crate::signal::measure::{BEYOND, Measurement};
use crate::text::{capital, count, label, rate, signed};
use crate::units::Db;
use crate::warning::Trust;

/// The bracket of the excess keeps this share of the passband away from lines and edges; chosen.
const CLEAR: f64 = 0.06;
/// It is drawn where the curves stand apart by as much, to this, dB. Chosen: the curves' own scatter.
const SEEN_DB: f64 = 1.5;
/// Of two recordings the longer one is shown for at most so many times the length of the other. Chosen: both keep
/// a third of the width.
const LONGER: f64 = 2.0;
/// Intervals between clicks from which on their spread can be seen; chosen.
const LEAST_INTERVALS: usize = 6;

/// One contrast with all that its figures are made of.
pub(crate) struct Scene<'a> {
    pub(crate) report: &'a Report,
    pub(crate) result: &'a ContrastResult,
    figures: &'a Figures,
    pub(crate) trust: Trust,
    pub(crate) off: Vec<&'a Measurement>,
    pub(crate) on: Vec<&'a Measurement>,
    /// Their files, in the same order.
    off_files: Vec<&'a str>,
    on_files: Vec<&'a str>,
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
        let used: Vec<&String> = used.map(|(_, id)| id).collect();
        let file = |id: &String| report.recordings.iter().find(|r| r.id == *id).map_or("", |r| file_name(&r.file));
        Self {
            off_files: used.iter().map(|id| file(id)).collect(),
            on_files: plan.on.iter().map(file).collect(),
            report,
            result: &report.contrasts[at],
            figures,
            trust: contrast.trust,
            off: used.iter().map(|id| sound(id)).collect(),
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
            FigureKind::Card | FigureKind::Ladder | FigureKind::Excess => self.result.device.clone(),
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
            FigureKind::Excess => {
                let after = if self.ladder().is_some() { ", without remedy and after each" } else { "" };
                format!("{what}: excess over frequency with its 95 % interval{after}.")
            }
            FigureKind::Spectrogram if self.result.counts_clicks() => {
                format!("{what}: a few seconds off and on in short steps, so that each click stands for itself.")
            }
            FigureKind::Spectrogram => format!("{what}: spectrograms off and on, in one scale of colour."),
            FigureKind::Apd => format!("{what}: how often the noise power exceeds each level, off and on."),
            FigureKind::Envelope if matches!(self.pulsing(), Some(PulsingFigure::Intervals(_))) => {
                format!("{what}: how often each interval came from one click to the next.")
            }
            FigureKind::Envelope => format!("{what}: how the noise power in the passband pulses, off and on."),
            // Pictures of several comparisons have captions of their own.
            FigureKind::Ranking
            | FigureKind::SwitchingComb
            | FigureKind::ManMadeNoise
            | FigureKind::Budget
            | FigureKind::Bands
            | FigureKind::Places
            | FigureKind::Timeline
            | FigureKind::Waterfall
            | FigureKind::OnTimes
            | FigureKind::Changes
            | FigureKind::Calendar => format!("{what}."),
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
        let off_floor = floor_spectrum(&self.off);
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
        let mut lines: Vec<MarkedLine> = added.chain(lost).chain(both).collect();
        let named: Vec<f64> = lines.iter().map(|line| line.freq_hz).collect();
        let stations = off.standing_over(&off_floor, (inside.low_hz, inside.high_hz), &named);
        lines.extend(stations.iter().map(|hz| MarkedLine {
            label: None,
            level: off.level_near(*hz).max(on.level_near(*hz)),
            ..marks(*hz, LineKind::Station, &off)
        }));
        SpectraFigure {
            title: self.title(),
            subtitle: self.subtitle(),
            bracket: self.bracket(&off, &on, &lines),
            lines,
            off: off.points(0.0, top),
            on: on.points(0.0, top),
            floor: off_floor.median_within(inside.low_hz, inside.high_hz),
            passband_hz: (inside.low_hz, inside.high_hz),
        }
    }

    /// The excess at the band that has about as much as the whole passband, away from lines; `None` where there is
    /// no sure one, or where the curves stand otherwise apart because the gain moved.
    fn bracket(&self, off: &Spectrum, on: &Spectrum, lines: &[MarkedLine]) -> Option<Bracket> {
        let change = self.result.change();
        let excess = self.result.excess_db.filter(|_| change.is_up() || change.is_down())?;
        if !self.trust.is_unspoilt() || self.figures.gain_db() != 0.0 {
            return None;
        }
        let (low, high) = (self.figures.passband.low_hz, self.figures.passband.high_hz);
        let width = (high - low) * CLEAR;
        let is_clear = |hz: f64| {
            (low + width..=high - 3.0 * width).contains(&hz)
                && lines.iter().all(|line| (line.freq_hz - hz).abs() > width)
        };
        let bands = self.result.bands.iter().filter(|band| is_clear(band.freq_hz));
        let nearest = |b: &&BandExcess| (b.excess_db - excess).abs();
        let hz = bands.min_by(|a, b| nearest(a).total_cmp(&nearest(b)))?.freq_hz;
        let level = |side: &Spectrum| side.median_within(hz - width / 2.0, hz + width / 2.0);
        let (off, on) = (level(off)?, level(on)?);
        // A bracket beside the curves would speak against them.
        ((on - off - excess).abs() <= SEEN_DB).then(|| Bracket {
            freq_hz: hz,
            off,
            on: off + excess,
            words: format!("{} dB", signed(excess, 1)),
        })
    }

    /// Of the device at this setting: without remedy and after each.
    pub(crate) fn excess(&self) -> ExcessFigure {
        let of_setting = |c: &&ContrastResult| {
            c.device == self.result.device && c.setting == self.result.setting && !c.is_void()
        };
        let steps: Vec<&ContrastResult> = self.report.contrasts.iter().filter(of_setting).collect();
        let clicks = if self.result.counts_clicks() { ", clicks included" } else { "" };
        let noise = format!("Noise between the lines{clicks}, by bands");
        let limit = steps.iter().filter_map(|c| c.detection_limit_db).reduce(f64::max);
        let mut shown: Vec<ExcessStep> = steps.into_iter().map(excess_step).collect();
        if let [only] = shown.as_mut_slice()
            && self.result.remedy.is_none()
        {
            let lines = only.with_lines_db.is_some();
            only.label = if lines { "between its carriers" } else { "whole passband" }.to_owned();
        }
        let told = |step: &ExcessStep| step.overall.filter(|_| !step.doubtful && step.with_lines_db.is_none());
        let ends = shown.first().and_then(told).zip(shown.last().and_then(told));
        let device = capital(&label(&self.result.device));
        ExcessFigure {
            title: match ends.filter(|_| shown.len() > 1 && self.result.remedy.is_none()) {
                Some((first, last)) => {
                    format!("{device}: {} dB, with the last remedy {} dB", signed(first.0, 1), signed(last.0, 1))
                }
                None => self.title(),
            },
            subtitle: format!("{noise} · {}", self.subtitle()),
            detection_limit_db: limit,
            steps: shown,
            passband_hz: (self.figures.passband.low_hz, self.figures.passband.high_hz),
        }
    }

    /// Whether any comparison of the device at this setting has an excess to show.
    pub(crate) fn has_excess(&self) -> bool {
        self.excess().steps.iter().any(|step| step.overall.is_some())
    }

    /// Of one recording of each state; where the noise clicks, a few seconds in short steps.
    pub(crate) fn spectrogram(&self) -> SpectrogramFigure {
        let clicks = self.result.counts_clicks();
        let passband_hz = (self.figures.passband.low_hz, self.figures.passband.high_hz);
        let figure = |off: Take, on: Take, words: &str| SpectrogramFigure {
            title: self.title(),
            subtitle: format!("{words}{}", self.subtitle()),
            off,
            on,
            passband_hz,
        };
        let short = |m: &Measurement, file: &str| {
            let excerpt = m.excerpt.as_ref()?;
            let (from_s, image) = (excerpt.from_s, excerpt_image(excerpt));
            Some(Take { words: format!("{file}, from {from_s:.1} s"), image })
        };
        if clicks
            && let (Some(off), Some(on)) =
                (short(self.off[0], self.off_files[0]), short(self.on[0], self.on_files[0]))
        {
            return figure(off, on, "A few seconds, in steps of 10 ms · ");
        }
        let top = self.shown_to_hz();
        let [off_s, on_s] = [self.off[0], self.on[0]].map(|m| m.slices.len() as f64 * m.slices.slice_s);
        let most_s = LONGER * off_s.min(on_s);
        let whole = |m: &Measurement, file: &str| {
            let image = image(m, top);
            if image.duration_s <= most_s || most_s <= 0.0 {
                return Take { words: file.to_owned(), image };
            }
            Take { words: format!("{file}, the first {most_s:.0} s"), image: image.first(most_s) }
        };
        figure(whole(self.off[0], self.off_files[0]), whole(self.on[0], self.on_files[0]), "")
    }

    /// How the noise pulses: intervals between clicks, else the modulation spectrum; `None` where it does not.
    pub(crate) fn pulsing(&self) -> Option<PulsingFigure> {
        let verdict = &self.figures.verdict;
        let is_buzz = verdict.mains_rate_hz.is_some() && self.result.character != Character::Clicks;
        let intervals = || verdict.pulse_rate_hz.and_then(|_| self.intervals()).map(PulsingFigure::Intervals);
        if is_buzz { None } else { intervals() }.or_else(|| self.envelope().map(PulsingFigure::Modulation))
    }

    fn intervals(&self) -> Option<IntervalsFigure> {
        let pulses = || self.on.iter().filter_map(|m| Some(&m.envelope.as_ref()?.pulses));
        let intervals_s: Vec<f64> =
            pulses().flat_map(|p| p.kept.windows(2).map(|pair| pair[1].at_s - pair[0].at_s)).collect();
        if intervals_s.len() < LEAST_INTERVALS {
            return None;
        }
        let device = capital(&label(&self.result.device));
        let beat = self.result.pulse_period_s.zip(self.result.pulse_period_ci_s);
        let in_words = |(s, [low, high]): (f64, [f64; 2])| (s, period(s, (high - low) / 2.0));
        let beat = beat.map(in_words);
        let off: usize = self.off.iter().filter_map(|m| Some(m.envelope.as_ref()?.pulses.count)).sum();
        let title = match (&beat, self.result.pulses_regular) {
            _ if self.result.certainty() == Certainty::Perhaps => self.title(),
            (Some((_, words)), _) => format!("{device}: one click every {words}{}", self.doubt()),
            (None, Some(false)) => format!("{device}: its clicks keep no beat{}", self.doubt()),
            (None, _) => self.title(),
        };
        Some(IntervalsFigure {
            title,
            subtitle: format!(
                "From one click to the next · {} on, {} off · {}",
                count(intervals_s.len() + self.on.len(), "click", "clicks"),
                count(off, "click", "clicks"),
                self.subtitle()
            ),
            intervals_s,
            beat,
        })
    }

    /// The modulation spectrum, where the noise pulses.
    fn envelope(&self) -> Option<EnvelopeFigure> {
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
        let device = capital(&label(&self.result.device));
        let sure = self.result.certainty() != Certainty::Perhaps;
        let title = match verdict.mains_rate_hz.filter(|_| sure) {
            Some(hz) => format!("{device}: pulses {} times a second{}", rate(hz), self.doubt()),
            None => self.title(),
        };
        Some(EnvelopeFigure {
            title,
            subtitle: format!("How far the power swings at each rate · {}", self.subtitle()),
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
            subtitle: self.apd_subtitle(),
            bursts: self.figures.verdict.impulsive.map(|part| part.time_share).filter(|share| *share > 0.0),
            level_caption: "Over the mean with off (dB)".to_owned(),
            off: points(&off, reference),
            on: points(&on, reference + gain_db),
            on_gaussian: on.density_of_lowest().map(|density| Db::from_ratio(density).0 - reference - gain_db),
        })
    }

    /// "Drill charger: bursts a third of the time carry nearly all its noise".
    fn apd_title(&self) -> String {
        let Some(part) = self.figures.verdict.impulsive.filter(|part| part.time_share > 0.0) else {
            return self.title();
        };
        let power = match part.power_share {
            share if share > NEARLY => "nearly all".to_owned(),
            share if share > MOST => "most of".to_owned(),
            share => format!("{:.0} % of", 100.0 * share),
        };
        let device = capital(&label(&self.result.device));
        format!("{device}: bursts {} carry {power} its noise{}", time_share_words(&part), self.doubt())
    }

    /// Behind a title of the figure's own.
    fn doubt(&self) -> &'static str {
        if self.trust.is_doubtful() { ", doubtful" } else { "" }
    }

    fn apd_subtitle(&self) -> String {
        let exactly = self.figures.verdict.impulsive.filter(|part| part.time_share > 0.0).map(|part| {
            format!(
                "Bursts: at least {} of the time, {} of the added power · ",
                part.time_words(),
                part.power_words()
            )
        });
        format!("{}{}", exactly.unwrap_or_default(), self.subtitle())
    }
}

/// Shares of the added power that are called "nearly all" and "most". Chosen: nine tenths, and clearly above half.
const NEARLY: f64 = 0.9;
const MOST: f64 = 0.6;
/// A fraction is called by its name where the share is within this of it. Chosen: 34 % is a third, 40 % is not.
const NAMED_WITHIN: f64 = 0.12;

/// "a third of the time", else "14 % of the time".
fn time_share_words(part: &Impulsive) -> String {
    let named = [
        (2.0, "half"),
        (3.0, "a third of"),
        (4.0, "a quarter of"),
        (5.0, "a fifth of"),
        (10.0, "a tenth of"),
        (100.0, "a hundredth of"),
        (1000.0, "a thousandth of"),
    ];
    let share = part.time_share;
    let near = named.into_iter().find(|(of, _)| (share * of - 1.0).abs() <= NAMED_WITHIN);
    match near {
        Some((_, words)) => format!("{words} the time"),
        None if share > MOST => "most of the time".to_owned(),
        None => format!("{} of the time", part.time_words()),
    }
}

/// The name of a file without its folders.
fn file_name(path: &str) -> &str {
    path.rsplit(['/', '\\']).next().unwrap_or(path)
}

/// One comparison in the figure of the excess. Where lines alone came, their power is all that the headline tells.
fn excess_step(c: &ContrastResult) -> ExcessStep {
    let told = c.excess_db.zip(c.excess_ci_db).filter(|_| !c.is_too_wide());
    let lines = c.character.is_lines() || c.is_lines_only();
    ExcessStep {
        label: c.remedy.as_deref().map_or_else(|| "no remedy".to_owned(), label),
        bands: c.bands.iter().map(|b| (b.freq_hz, b.excess_db, b.excess_ci_db[0], b.excess_ci_db[1])).collect(),
        overall: told.map(|(excess, [low, high])| (excess, low, high)),
        with_lines_db: c.total_db().filter(|_| lines),
        doubtful: c.is_doubtful(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_of_time_in_words() {
        let words = |time_share| time_share_words(&Impulsive { time_share, power_share: 0.9 });
        assert_eq!(words(0.34), "a third of the time");
        assert_eq!(words(0.0103), "a hundredth of the time");
        assert_eq!(words(0.48), "half the time");
        assert_eq!(words(0.07), "7.0 % of the time");
        assert_eq!(words(0.8), "most of the time");
    }
}
