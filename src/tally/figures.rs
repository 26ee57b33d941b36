//! From measurements and contrasts to the data of the figures.

mod comb_figure;

use std::path::Path;

use anyhow::Context;

use super::Tally;
use crate::contrast::{Contrast, Figures};
use crate::envelope::AmplitudeDistribution;
use crate::health::Trust;
use crate::measure::Measurement;
use crate::plot::{
    ApdFigure, BudgetBar, BudgetFigure, CardFigure, CarrierTrace, EnvelopeFigure, ExcessFigure, Image, LadderBar,
    LadderFigure, LineKind, ManMadeFigure, MarkedLine, SpectraFigure, SpectrogramFigure, SwitchingCombFigure,
};
use crate::report::contract::{BudgetEntry, ContrastResult, FigureFile, Ladder, Report};
use crate::report::{headline, sentence};
use crate::session::Plan;
use crate::units::{Db, DbfsPerHz, counted};

/// How far beyond the passband the spectra are shown.
const BEYOND: f64 = 1.2;
/// Most points of a curve; more than pixels are of no use.
const MOST_POINTS: usize = 1600;

/// A figure ready to be drawn.
pub struct Picture {
    file: String,
    kind: &'static str,
    contrast: Option<String>,
    caption: String,
    data: Data,
}

enum Data {
    Card(Box<CardFigure>),
    Spectra(SpectraFigure),
    Excess(ExcessFigure),
    Spectrogram(SpectrogramFigure),
    Envelope(EnvelopeFigure),
    Apd(ApdFigure),
    Ladder(LadderFigure),
    SwitchingComb(SwitchingCombFigure),
    ManMade(ManMadeFigure),
    Budget(BudgetFigure),
}

impl Picture {
    /// Draws it into `dir`.
    ///
    /// # Errors
    /// If the file can't be written.
    pub fn draw(&self, dir: &Path) -> anyhow::Result<()> {
        let file = dir.join(&self.file);
        match &self.data {
            Data::Card(figure) => figure.draw(&file),
            Data::Spectra(figure) => figure.draw(&file),
            Data::Excess(figure) => figure.draw(&file),
            Data::Spectrogram(figure) => figure.draw(&file),
            Data::Envelope(figure) => figure.draw(&file),
            Data::Apd(figure) => figure.draw(&file),
            Data::Ladder(figure) => figure.draw(&file),
            Data::SwitchingComb(figure) => figure.draw(&file),
            Data::ManMade(figure) => figure.draw(&file),
            Data::Budget(figure) => figure.draw(&file),
        }
        .with_context(|| format!("{}: the picture could not be written", self.file))
    }

    /// Its file name.
    pub fn file(&self) -> &str {
        &self.file
    }

    /// Its line in the report.
    pub fn listed(&self) -> FigureFile {
        FigureFile {
            file: self.file.clone(),
            kind: self.kind.to_owned(),
            contrast: self.contrast.clone(),
            caption: self.caption.clone(),
        }
    }
}

/// All figures of a session: a card for every device, then the single figures of every contrast (fewer after remedies).
pub fn pictures(tally: &Tally) -> Vec<Picture> {
    let mut found = Vec::new();
    for (at, (plan, contrast)) in tally.contrasts.iter().enumerate() {
        let Some(figures) = &contrast.figures else { continue };
        let scene = Scene::new(tally, at, plan, contrast, figures);
        if scene.is_first_of_device() {
            found.push(scene.picture("card", Data::Card(Box::new(scene.card()))));
            if let Some(ladder) = scene.ladder() {
                found.push(scene.picture("ladder", Data::Ladder(ladder_figure(ladder, &tally.report))));
            }
        }
        found.push(scene.picture("spectra", Data::Spectra(scene.spectra())));
        if scene.trust != Trust::Void {
            found.push(scene.picture("excess", Data::Excess(scene.excess())));
        }
        // After a remedy the kind of noise rarely changes: the two figures that show how much are enough.
        if scene.is_first_of_device() {
            found.push(scene.picture("spectrogram", Data::Spectrogram(scene.spectrogram())));
            if let Some(envelope) = scene.envelope() {
                found.push(scene.picture("envelope", Data::Envelope(envelope)));
            }
            if let Some(apd) = scene.apd() {
                found.push(scene.picture("apd", Data::Apd(apd)));
            }
        }
    }
    found.extend(comb_figure::pictures(tally));
    found.extend(super::man_made_figure::figure(&tally.report).map(|figure| {
        Picture {
            file: "man-made-noise.png".to_owned(),
            kind: "man-made-noise",
            contrast: None,
            caption: "The station's noise against the man-made noise of ITU-R P.372, each kind of place by itself."
                .to_owned(),
            data: Data::ManMade(figure),
        }
    }));
    found.extend(budgets(&tally.report));
    found
}

/// A figure for each setting and stage of the budget.
fn budgets(report: &Report) -> Vec<Picture> {
    let mut groups: Vec<Vec<&BudgetEntry>> = Vec::new();
    for entry in &report.budget {
        match groups.iter_mut().find(|g| g[0].setting == entry.setting && g[0].stage == entry.stage) {
            Some(group) => group.push(entry),
            None => groups.push(vec![entry]),
        }
    }
    groups.iter().map(|group| budget_picture(group)).collect()
}

fn budget_picture(group: &[&BudgetEntry]) -> Picture {
    let first = group[0];
    let when = if first.stage == "now" { "with the last remedies" } else { "without remedies" };
    let with_ends = |value: f64, ci: Option<[f64; 2]>| ci.map(|[low, high]| (value, low, high));
    let bar = |entry: &&BudgetEntry| BudgetBar {
        label: entry.device.clone(),
        share: with_ends(entry.share, entry.share_ci),
        without: entry.without_db.and_then(|value| with_ends(value, entry.without_ci_db)),
    };
    Picture {
        file: format!("{}-{}-budget.png", first.setting, first.stage),
        kind: "budget",
        contrast: None,
        caption: format!(
            "Which device adds how much, {when}: shares of the added power with their 95 % intervals."
        ),
        data: Data::Budget(BudgetFigure {
            title: format!("{}: {:.0} % of what all devices add", capitalised(&first.device), 100.0 * first.share),
            subtitle: format!("{}, each device by itself; carriers included", capitalised(when)),
            bars: group.iter().map(bar).collect(),
        }),
    }
}

/// One contrast with all that its figures are made of.
struct Scene<'a> {
    tally: &'a Tally,
    result: &'a ContrastResult,
    figures: &'a Figures,
    trust: Trust,
    off: Vec<&'a Measurement>,
    on: Vec<&'a Measurement>,
}

impl<'a> Scene<'a> {
    fn new(tally: &'a Tally, at: usize, plan: &'a Plan, contrast: &'a Contrast, figures: &'a Figures) -> Self {
        let sound = |id: &String| &tally.measured[id].sound;
        let used = plan.off.iter().enumerate().filter(|(index, _)| !contrast.set_aside.contains(index));
        Self {
            tally,
            result: &tally.report.contrasts[at],
            figures,
            trust: contrast.trust,
            off: used.map(|(_, id)| sound(id)).collect(),
            on: plan.on.iter().map(sound).collect(),
        }
    }

    fn is_first_of_device(&self) -> bool {
        let first = self
            .tally
            .report
            .contrasts
            .iter()
            .find(|c| c.device == self.result.device && c.setting == self.result.setting);
        first.is_some_and(|first| first.id == self.result.id)
    }

    fn ladder(&self) -> Option<&'a Ladder> {
        let of_device =
            |ladder: &&Ladder| ladder.device == self.result.device && ladder.setting == self.result.setting;
        self.tally.report.ladders.iter().find(of_device)
    }

    fn picture(&self, kind: &'static str, data: Data) -> Picture {
        let words = match kind {
            "card" | "ladder" => self.result.device.clone(),
            _ => format!("{} {}", self.result.device, self.result.remedy.as_deref().unwrap_or_default()),
        };
        Picture {
            file: format!("{}-{}{kind}.png", self.result.id, slug(&words)),
            kind,
            contrast: Some(self.result.id.clone()),
            caption: self.caption(kind),
            data,
        }
    }

    fn caption(&self, kind: &str) -> String {
        let what = named(self.result);
        match kind {
            "card" => format!("{what}: everything at a glance."),
            "ladder" => format!("{what}: the excess left after each remedy, with its 95 % interval."),
            "spectra" => format!("{what}: spectra with the device off and on."),
            "excess" => format!("{what}: excess over frequency with its 95 % interval."),
            "spectrogram" => format!("{what}: spectrograms off and on, in one scale of colour."),
            "apd" => format!("{what}: how often the noise power exceeds each level, off and on."),
            _ => format!("{what}: how the noise power in the passband pulses, off and on."),
        }
    }

    fn title(&self) -> String {
        headline(self.result)
    }

    fn subtitle(&self) -> String {
        let setting = self.tally.report.settings.iter().find(|s| s.id == self.result.setting);
        let mut parts = Vec::new();
        if let Some(setting) = setting {
            parts.extend(setting.dial_khz.map(|khz| format!("{khz} kHz")));
            parts.extend(setting.mode.clone());
        }
        let aside = self.result.off.len() - self.off.len();
        let aside = if aside > 0 { format!(" ({aside} set aside)") } else { String::new() };
        parts.push(format!("{} off{aside}, {} on", self.result.off.len(), self.result.on.len()));
        parts.push(format!("trust: {}", trust_word(self.trust)));
        parts.join(" · ")
    }

    fn shown_to_hz(&self) -> f64 {
        let nyquist = |m: &&Measurement| m.sample_rate_hz as f64 / 2.0;
        let all = self.off.iter().chain(&self.on);
        (self.figures.passband.high_hz * BEYOND).min(all.map(nyquist).fold(f64::MAX, f64::min))
    }

    fn spectra(&self) -> SpectraFigure {
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

    fn excess(&self) -> ExcessFigure {
        let overall = self.figures.excess_db();
        let bands = self.figures.excess.bands.iter();
        ExcessFigure {
            title: self.title(),
            subtitle: format!("Noise between the lines, on over off · {}", self.subtitle()),
            bands: bands.map(|b| (b.freq_hz, b.excess.value, b.excess.ci95.0, b.excess.ci95.1)).collect(),
            overall: Some((overall.value, overall.ci95.0, overall.ci95.1)),
            detection_limit_db: Some(self.figures.excess.limit_db).filter(|limit| limit.is_finite()),
            passband_hz: (self.figures.passband.low_hz, self.figures.passband.high_hz),
        }
    }

    fn spectrogram(&self) -> SpectrogramFigure {
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
    fn apd(&self) -> Option<ApdFigure> {
        let verdict = &self.figures.verdict;
        if self.trust == Trust::Void || (verdict.mains_rate_hz.is_none() && verdict.pulse_rate_hz.is_none()) {
            return None;
        }
        let together = |side: &[&Measurement]| {
            AmplitudeDistribution::together(side.iter().filter_map(|m| Some(&m.envelope.as_ref()?.apd)))
        };
        let (off, on) = (together(&self.off)?, together(&self.on)?);
        let reference = Db::from_ratio(off.gaussian()?.density).0;
        let gain_db = self.figures.reference.filter(|_| self.figures.corrected).map_or(0.0, |r| r.1);
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
            capitalised(&self.result.device),
            part.time_words(),
            part.power_words()
        )
    }

    fn card(&self) -> CardFigure {
        let result = self.result;
        CardFigure {
            title: self.title(),
            subtitle: format!("{} · {}", self.tally.report.session.title, self.subtitle()),
            facts: self.facts(),
            verdict: sentence(result, &self.tally.report),
            trust: trust_sentence(self.trust),
            trust_level: match self.trust {
                Trust::Sound => 0,
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
            ladder: self.ladder().map(|ladder| ladder_figure(ladder, &self.tally.report)),
            footer: format!(
                "noisetally {} · levels re full scale (AES17), 95 % intervals · {} and {}",
                self.tally.report.tool.version,
                counted(self.off.len(), "off recording"),
                counted(self.on.len(), "on recording"),
            ),
        }
    }

    fn facts(&self) -> Vec<(String, String)> {
        let mut facts = Vec::new();
        let mut say = |what: &str, value: String| facts.push((what.to_owned(), value));
        if self.trust == Trust::Void {
            say("Result", "void".to_owned());
            return facts;
        }
        let result = self.result;
        if let (Some(excess), Some([low, high])) = (result.excess_db, result.excess_ci_db) {
            say(
                if result.pulse_rate_hz.is_some() { "Noise on average" } else { "Noise, on over off" },
                format!("{excess:.1} dB").replace('-', "\u{2212}"),
            );
            say("95 % interval", format!("{low:.1} to {high:.1} dB").replace('-', "\u{2212}"));
        }
        if let Some(limit) = result.detection_limit_db {
            say("Would have been noticed", format!("{limit:.1} dB"));
        }
        say("Kind", format!("{} ({:.0} % sure)", result.character, 100.0 * result.confidence));
        if let Some(rate) = result.mains_rate_hz {
            say("Pulses at", format!("{rate:.1} Hz"));
        }
        if let Some(rate) = result.pulse_rate_hz {
            say("Clicks", format!("{rate:.1} a second"));
        }
        if let Some(comb) = &result.comb {
            say("Carriers every", format!("{:.1} Hz", comb.spacing_hz));
        }
        if !result.added_lines.is_empty() {
            say("Added carriers", result.added_lines.len().to_string());
        }
        facts
    }
}

fn trust_word(trust: Trust) -> &'static str {
    match trust {
        Trust::Sound => "sound",
        Trust::Doubtful => "doubtful",
        Trust::Void => "void",
    }
}

fn trust_sentence(trust: Trust) -> String {
    match trust {
        Trust::Sound => "Sound: nothing was found that spoils the figures.",
        Trust::Doubtful => "Doubtful: the figures may be off.",
        Trust::Void => "Void: the figures mean nothing.",
    }
    .to_owned()
}

fn ladder_figure(ladder: &Ladder, report: &Report) -> LadderFigure {
    let contrast = |id: &str| report.contrasts.iter().find(|c| c.id == id);
    let first = ladder.steps.first().and_then(|step| step.excess_db);
    let last = ladder.steps.last().and_then(|step| step.excess_db);
    let title = match (first, last) {
        (Some(first), Some(last)) => {
            format!("{}: from {first:.1} to {last:.1} dB of excess", capitalised(&ladder.device))
        }
        _ => format!("{}: excess left after each remedy", capitalised(&ladder.device)),
    };
    LadderFigure {
        title,
        subtitle: "Excess left after each remedy, with its 95 % interval".to_owned(),
        steps: ladder
            .steps
            .iter()
            .map(|step| LadderBar {
                label: step.remedy.clone().unwrap_or_else(|| "no remedy".to_owned()),
                excess: step
                    .excess_db
                    .zip(step.excess_ci_db)
                    .filter(|_| contrast(&step.contrast).is_some_and(|c| c.trust != Trust::Void))
                    .map(|(excess, [low, high])| (excess, low, high)),
                bought: step.bought_db.zip(step.bought_ci_db).map(|(bought, [low, high])| (bought, low, high)),
                doubtful: contrast(&step.contrast).is_some_and(|c| c.trust == Trust::Doubtful),
            })
            .collect(),
        detection_limit_db: ladder
            .steps
            .iter()
            .filter_map(|step| contrast(&step.contrast)?.detection_limit_db)
            .reduce(f64::max),
        carriers: ladder
            .carriers
            .iter()
            .map(|carrier| CarrierTrace {
                label: format!("{:.0} Hz", carrier.freq_hz),
                levels: carrier.steps.iter().map(|step| step.level_db).collect(),
            })
            .collect(),
    }
}

fn named(result: &ContrastResult) -> String {
    match &result.remedy {
        Some(remedy) => format!("{}, {remedy}", capitalised(&result.device)),
        None => capitalised(&result.device),
    }
}

fn capitalised(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// A density spectrum, FS²/Hz per bin.
struct Spectrum {
    bin_hz: f64,
    density: Vec<f64>,
}

impl Spectrum {
    /// Mean over those recordings that have the first one's bins.
    fn mean_of(side: &[&Measurement], pick: impl Fn(&Measurement) -> &Vec<f64>) -> Self {
        let first = side[0];
        let alike: Vec<&&Measurement> = side.iter().filter(|m| m.slices.bin_hz == first.slices.bin_hz).collect();
        let mut density = vec![0.0; first.slices.bins];
        for m in &alike {
            density.iter_mut().zip(pick(m)).for_each(|(sum, value)| *sum += value / alike.len() as f64);
        }
        Self { bin_hz: first.slices.bin_hz, density }
    }

    /// (Hz, dBFS in 1 Hz) between two frequencies; where there are more bins than points, each point is the largest
    /// of its bins, so that no line is lost.
    fn points(&self, from_hz: f64, to_hz: f64) -> Vec<(f64, f64)> {
        let first = (from_hz / self.bin_hz).ceil() as usize;
        let end = ((to_hz / self.bin_hz).floor() as usize + 1).min(self.density.len());
        if first >= end {
            return Vec::new();
        }
        let together = (end - first).div_ceil(MOST_POINTS);
        (first..end)
            .step_by(together)
            .map(|start| {
                let bins = &self.density[start..(start + together).min(end)];
                let largest = bins.iter().copied().fold(0.0, f64::max);
                ((start as f64 + (bins.len() - 1) as f64 / 2.0) * self.bin_hz, DbfsPerHz::from_density(largest).0)
            })
            .collect()
    }

    fn level_near(&self, freq_hz: f64) -> f64 {
        let middle = (freq_hz / self.bin_hz).round() as usize;
        let (from, to) = (middle.saturating_sub(2), (middle + 3).min(self.density.len()));
        let largest = self.density.get(from..to).unwrap_or_default().iter().copied().fold(0.0, f64::max);
        DbfsPerHz::from_density(largest).0
    }
}

fn mean_spectrum(side: &[&Measurement]) -> Spectrum {
    Spectrum::mean_of(side, |m| &m.slices.mean)
}

fn floor_spectrum(side: &[&Measurement]) -> Spectrum {
    Spectrum::mean_of(side, |m| &m.floor)
}

fn image(measurement: &Measurement, top_hz: f64) -> Image {
    let slices = &measurement.slices;
    let cols = (slices.bin_of(top_hz) + 1).min(slices.bins);
    Image {
        rows: slices.len(),
        cols,
        db: slices
            .rows()
            .flat_map(|row| row[..cols].iter().map(|&density| DbfsPerHz::from_density(density as f64).0 as f32))
            .collect(),
        duration_s: slices.len() as f64 * slices.slice_s,
        freq_hz: (0.0, (cols - 1) as f64 * slices.bin_hz),
    }
}

/// Words as a part of a file name: lower-case letters and digits joined by hyphens, with a hyphen behind; empty where
/// nothing is left of them.
fn slug(words: &str) -> String {
    let mut out = String::new();
    for letter in words.chars().flat_map(char::to_lowercase) {
        if letter.is_ascii_alphanumeric() {
            out.push(letter);
        } else if !out.is_empty() && !out.ends_with('-') {
            out.push('-');
        }
        if out.len() >= 40 {
            break;
        }
    }
    let out = out.trim_end_matches('-');
    if out.is_empty() { String::new() } else { format!("{out}-") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn file_names_are_plain_whatever_the_labels() {
        assert_eq!(slug("Drill charger, 2x ferrite"), "drill-charger-2x-ferrite-");
        assert_eq!(slug("../../etc | \"x\""), "etc-x-");
        assert_eq!(slug("лампа"), "");
    }
}
