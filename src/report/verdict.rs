//! What a contrast says, in plain sentences: the words of the report's head and of the figures' titles.
//!
//! How sure it sounds follows from two things. Trust: sound is stated, doubtful is hedged throughout and names its
//! causes, void gives no figure at all. Confidence in the kind of noise: [`SURE`] and above is stated, then
//! "probably", then "perhaps". Not here: tables and layout (`markdown`, `post`).

use super::contract::{AddedLine, ContrastResult, Part, Report};
use super::words::{
    and, capital, causes, count, db, hz, interval, label, number, percent, rate, s_units_of_change, shorten, signed,
};
use crate::health::{Trust, Warning};

/// Confidence from which a kind of noise is stated as such.
pub(super) const SURE: f64 = 0.9;
/// Confidence from which it is "probably" so; below, "perhaps".
const PROBABLE: f64 = 0.7;

/// Change from which its size in S-units helps: half a unit.
const WORTH_S_UNITS_DB: f64 = 3.0;

/// Lines and pulses are worth their own words when they lift the total this much above the noise between them.
const TOTAL_STANDS_OUT_DB: f64 = 1.0;

/// Columns for device and remedy in a title.
const TITLE_COLUMNS: usize = 32;

/// The verdict of a contrast in one to three plain sentences, without markup; signs are typeset (U+2212).
pub fn sentence(contrast: &ContrastResult, report: &Report) -> String {
    let told = Told { contrast, report };
    match contrast.trust {
        Trust::Void => told.void(),
        Trust::Doubtful => told.doubtful(),
        Trust::Sound => told.sound(),
    }
}

/// One short line, such as "Charger: +14.2 dB of buzz at 100 Hz"; a title for figures. No markup; typeset signs.
pub fn headline(contrast: &ContrastResult) -> String {
    let device = capital(&shorten(&label(&contrast.device), TITLE_COLUMNS));
    let who = match &contrast.remedy {
        Some(remedy) => format!("{device} ({})", shorten(&label(remedy), TITLE_COLUMNS)),
        None => device,
    };
    match contrast.trust {
        Trust::Void => format!("{who}: no result, the comparison is void"),
        Trust::Doubtful => format!("{who}: {} (doubtful)", short_verdict(contrast)),
        Trust::Sound => format!("{who}: {}", short_verdict(contrast)),
    }
}

/// How the noise between the lines changed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Change {
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
    /// Judged by the interval; without one, by the detection limit.
    pub(super) fn of(contrast: &ContrastResult) -> Self {
        let Some(excess) = contrast.excess_db else { return Self::Unknown };
        let ci = contrast.excess_ci_db;
        let limit = contrast.detection_limit_db.unwrap_or(0.0).abs();
        let [low, high] = ci.unwrap_or([excess - limit, excess + limit]);
        if low > 0.0 {
            Self::Up(excess, ci)
        } else if high < 0.0 {
            Self::Down(-excess, ci.map(|[a, b]| [-b, -a]))
        } else {
            Self::NotSure(excess, ci)
        }
    }
}

/// "14.2 dB (13.9 to 14.5)"; says so where there is no interval.
pub(super) fn with_interval(value: f64, ci: Option<[f64; 2]>) -> String {
    match ci {
        Some(ends) => format!("{} ({})", db(value), interval(ends)),
        None => format!("{} (interval not known)", db(value)),
    }
}

/// A kind of noise in one or two words, for titles and tables.
pub(super) fn kind_word(character: &str) -> &str {
    match character {
        "none" => "no change",
        known => known,
    }
}

fn short_verdict(c: &ContrastResult) -> String {
    let perhaps = if c.confidence < SURE { "perhaps " } else { "" };
    match (c.character.as_str(), Change::of(c)) {
        ("none", _) => match c.detection_limit_db {
            Some(limit) => format!("no change found (limit {})", db(limit)),
            None => "no change found".to_owned(),
        },
        ("carriers" | "comb", _) => format!("{perhaps}{}{}", new_lines_short(c), in_total(c)),
        ("clicks", _) => match c.pulse_rate_hz {
            Some(r) => format!("{perhaps}clicks, {} a second{}", rate(r), in_total(c)),
            None => format!("{perhaps}clicks{}", in_total(c)),
        },
        (_, Change::Unknown) => "change not measurable".to_owned(),
        (_, Change::Down(drop, _)) => format!("{} dB, quieter when on", signed(-drop, 1)),
        ("unclear", Change::Up(v, _) | Change::NotSure(v, _)) => format!("{} dB, kind unclear", signed(v, 1)),
        (_, Change::NotSure(v, _)) => format!("{} dB, no sure change", signed(v, 1)),
        ("buzz", Change::Up(v, _)) => match c.mains_rate_hz {
            Some(r) => format!("{} dB of {perhaps}buzz at {} Hz", signed(v, 1), rate(r)),
            None => format!("{} dB of {perhaps}buzz", signed(v, 1)),
        },
        ("mixed", Change::Up(v, _)) => format!("{} dB of {perhaps}mixed noise", signed(v, 1)),
        (kind, Change::Up(v, _)) => format!("{} dB of {perhaps}{kind}", signed(v, 1)),
    }
}

fn in_total(c: &ContrastResult) -> String {
    c.total_excess_db.map_or_else(String::new, |total| format!(" ({} dB in total)", signed(total, 1)))
}

fn new_lines_short(c: &ContrastResult) -> String {
    match &c.comb {
        Some(comb) => format!("a comb of {} carriers every {}", comb.lines, hz(comb.spacing_hz)),
        None => match c.added_lines.as_slice() {
            [] => "new carriers".to_owned(),
            [only] => format!("1 new carrier at {}", hz(only.freq_hz)),
            [strongest, ..] => {
                format!("{} new carriers, strongest at {}", c.added_lines.len(), hz(strongest.freq_hz))
            }
        },
    }
}

/// A contrast about to be told, with what it refers to.
struct Told<'a> {
    contrast: &'a ContrastResult,
    report: &'a Report,
}

impl Told<'_> {
    fn sound(&self) -> String {
        let mut text = capital(&self.body());
        text.push('.');
        text.push_str(&self.signal());
        text
    }

    fn doubtful(&self) -> String {
        let why = match self.reasons() {
            reasons if reasons.is_empty() => "the recordings do not bear it".to_owned(),
            reasons => and(&reasons),
        };
        format!("Doubtful: {}. Do not lean on this, because of {why}.", self.body())
    }

    fn void(&self) -> String {
        let why = match self.reasons() {
            reasons if reasons.is_empty() => String::new(),
            reasons => format!(" because of {}", and(&reasons)),
        };
        format!(
            "No result for the {}: the comparison is void{why}. It says neither that there is noise nor that there \
             is none; mend the cause and record again.",
            self.name_of_case()
        )
    }

    /// The causes named with the contrast, else those of its recordings.
    fn reasons(&self) -> Vec<String> {
        let own = causes(&self.contrast.warnings);
        if own.is_empty() { causes(self.warnings_of_recordings()) } else { own }
    }

    fn warnings_of_recordings(&self) -> impl Iterator<Item = &Warning> {
        let used = |id: &String| self.contrast.off.contains(id) || self.contrast.on.contains(id);
        self.report.recordings.iter().filter(move |r| used(&r.id)).flat_map(|r| &r.warnings)
    }

    /// The verdict without its first capital and last stop.
    fn body(&self) -> String {
        match self.contrast.character.as_str() {
            "none" => self.no_change(),
            "unclear" => self.unclear(),
            "carriers" | "comb" | "clicks" => self.something_new(),
            _ => self.louder(),
        }
    }

    fn no_change(&self) -> String {
        let found = if self.is_doubtful() { "no change was found" } else { "no change found" };
        let limit = match self.contrast.detection_limit_db {
            Some(limit) if self.is_doubtful() => {
                format!("an excess of {} or more should have been noticed, but may have been hidden", db(limit))
            }
            Some(limit) => format!("an excess of {} or more would have been noticed", db(limit)),
            None => "how small an excess would have been noticed is not known".to_owned(),
        };
        let unsure = if self.contrast.confidence < PROBABLE { " Even that is far from sure" } else { "" };
        let stop = if unsure.is_empty() { "" } else { "." };
        format!("{found} {}; {limit}{stop}{unsure}", self.with_it_on())
    }

    fn unclear(&self) -> String {
        let why = self.why_unclear();
        let on = self.with_it_on();
        match Change::of(self.contrast) {
            Change::Unknown => format!("what the noise does {on} can't be told{why}"),
            Change::NotSure(v, ci) => format!(
                "{on}, the noise shows no sure change ({}), and whether something came with it can't be told{why}",
                with_interval(v, ci)
            ),
            Change::Up(v, ci) => format!(
                "{on}, the noise {} {}, but of what kind it is can't be told{why}",
                self.rises(),
                with_interval(v, ci)
            ),
            Change::Down(v, ci) => self.quieter(v, ci),
        }
    }

    /// From the warnings, else from what the verdict rests on.
    fn why_unclear(&self) -> String {
        let reasons = self.reasons();
        if !reasons.is_empty() {
            return if self.is_doubtful() { String::new() } else { format!(", because of {}", and(&reasons)) };
        }
        match self.contrast.evidence.first() {
            Some(evidence) => format!(": {}", label_sentence(evidence)),
            None => ": the figures fit no single kind".to_owned(),
        }
    }

    /// Carriers and clicks: told as what came, then how the noise between changed.
    fn something_new(&self) -> String {
        let kind = self.hedged(&self.kind());
        let between = if self.contrast.added_lines.len() == 1 && self.contrast.comb.is_none() {
            "beside it"
        } else {
            "between them"
        };
        let noise = match Change::of(self.contrast) {
            Change::Unknown => format!("the noise {between} could not be compared"),
            Change::NotSure(..) => format!("the noise {between} shows no sure change"),
            Change::Up(v, ci) => format!("the noise {between} {} {}", self.rises(), with_interval(v, ci)),
            Change::Down(v, ci) => format!("the noise {between} reads {} lower", with_interval(v, ci)),
        };
        format!("{}, there is something new: {kind}; {}{noise}", self.with_it_on(), self.total())
    }

    /// "all in all the level rises by 8.2 dB, ", where lines or pulses make that much of it.
    fn total(&self) -> String {
        match self.contrast.total_excess_db {
            Some(total) if total - self.contrast.excess_db.unwrap_or(0.0) >= TOTAL_STANDS_OUT_DB => {
                format!("all in all the level {} {}, ", self.rises(), db(total))
            }
            _ => String::new(),
        }
    }

    /// Hash, buzz and mixtures: told as a rise of the noise.
    fn louder(&self) -> String {
        let on = self.with_it_on();
        let kind = self.hedged(&self.kind());
        match Change::of(self.contrast) {
            Change::Unknown => {
                format!("{on}, there is something new: {kind}; how many dB it adds could not be measured")
            }
            Change::NotSure(v, ci) => format!(
                "{on}, the noise shows no sure change ({}); what little is added looks like {kind}",
                with_interval(v, ci)
            ),
            Change::Down(v, ci) => self.quieter(v, ci),
            Change::Up(v, ci) => {
                let total = match self.contrast.total_excess_db {
                    Some(t) if t - v >= TOTAL_STANDS_OUT_DB => format!("; with lines and pulses, {}", db(t)),
                    _ => String::new(),
                };
                format!(
                    "{on}, the noise {} {}{}: {kind}{total}",
                    self.rises(),
                    with_interval(v, ci),
                    self.s_units(v)
                )
            }
        }
    }

    fn quieter(&self, drop: f64, ci: Option<[f64; 2]>) -> String {
        format!(
            "{}, the noise reads {} lower, not higher. A device seldom takes noise away: look for a gain that moved \
             (AGC), labels that were swapped, or another noise that stopped meanwhile",
            self.with_it_on(),
            with_interval(drop, ci)
        )
    }

    /// ", about two and a half S-units"; in doubt rather not.
    fn s_units(&self, change_db: f64) -> String {
        if self.is_doubtful() || change_db < WORTH_S_UNITS_DB {
            return String::new();
        }
        s_units_of_change(change_db).map_or_else(String::new, |units| format!(", about {units}"))
    }

    /// What became of a signal, in a round figure that is surely lost; nothing where the loss is small or in doubt.
    fn signal(&self) -> String {
        let c = self.contrast;
        if matches!(c.character.as_str(), "none" | "unclear") {
            return String::new();
        }
        let (Some(loss), Change::Up(excess, ci)) = (c.snr_loss_db, Change::of(c)) else { return String::new() };
        let uncertainty = ci.map_or(1.0, |[low, _]| (excess - low).max(0.0));
        [30.0, 20.0, 15.0, 10.0, 6.0, 3.0]
            .iter()
            .find(|&&stood| loss - uncertainty > stood)
            .map_or_else(String::new, |stood| {
                format!(" A signal that was {stood:.0} dB above the noise is now under it.")
            })
    }

    /// The added noise as a noun.
    fn kind(&self) -> String {
        let c = self.contrast;
        match c.character.as_str() {
            "mixed" => self.mixture(&c.parts),
            other => self.noun(other),
        }
    }

    fn mixture(&self, parts: &[Part]) -> String {
        if parts.is_empty() {
            return "a mixture of several kinds".to_owned();
        }
        let told: Vec<_> =
            parts.iter().map(|p| format!("{} ({})", self.noun(&p.character), percent(p.share))).collect();
        format!("a mixture of {}", and(&told))
    }

    fn noun(&self, character: &str) -> String {
        let c = self.contrast;
        match character {
            "hash" => "broadband hash".to_owned(),
            "buzz" => match c.mains_rate_hz {
                Some(r) => format!("hash that pulses {} times a second{}", rate(r), self.mains_multiple(r)),
                None => "hash that pulses at the mains rate".to_owned(),
            },
            "clicks" => {
                let often = c.pulse_rate_hz.map_or_else(String::new, |r| format!(", about {} a second", rate(r)));
                let even = match c.pulses_regular {
                    Some(true) => ", evenly spaced",
                    Some(false) => ", at random distances",
                    None => "",
                };
                format!("clicks{often}{even}")
            }
            "carriers" => carriers(&c.added_lines),
            "comb" => match &c.comb {
                Some(comb) => format!(
                    "a family of {} every {}",
                    count(comb.lines, "carrier", "carriers"),
                    hz(comb.spacing_hz)
                ),
                None => "a family of carriers at one spacing".to_owned(),
            },
            other => label(other),
        }
    }

    /// ", twice the 50 Hz mains": where the rate is once or twice the mains frequency.
    fn mains_multiple(&self, rate_hz: f64) -> String {
        let mains = self.report.session.mains_hz;
        let near = |multiple: f64| (rate_hz - multiple * mains).abs() <= 0.01 * multiple * mains;
        if near(1.0) {
            format!(" (the {} Hz mains)", number(mains, 0))
        } else if near(2.0) {
            format!(" (twice the {} Hz mains)", number(mains, 0))
        } else {
            String::new()
        }
    }

    fn hedged(&self, kind: &str) -> String {
        let confidence = self.contrast.confidence;
        if confidence < PROBABLE {
            format!("perhaps {kind}, but the kind is far from sure")
        } else if confidence < SURE || self.is_doubtful() {
            format!("probably {kind}")
        } else {
            kind.to_owned()
        }
    }

    fn rises(&self) -> &'static str {
        match (self.is_doubtful(), &self.contrast.remedy) {
            (true, _) => "seems to rise by about",
            (false, Some(_)) => "still rises by",
            (false, None) => "rises by",
        }
    }

    /// "with the lamp on (remedy: ferrite)". "With … on" spares asking whether a label is one thing or several.
    fn with_it_on(&self) -> String {
        let name = thing(&self.contrast.device);
        format!("with {name} on{}", self.in_brackets())
    }

    fn name_of_case(&self) -> String {
        format!("{}{}", thing(&self.contrast.device).trim_start_matches("the "), self.in_brackets())
    }

    fn in_brackets(&self) -> String {
        let mut said = Vec::new();
        if let Some(remedy) = &self.contrast.remedy {
            said.push(format!("remedy: {}", label(remedy)));
        }
        if self.several_settings() {
            said.push(self.setting());
        }
        if said.is_empty() { String::new() } else { format!(" ({})", said.join("; ")) }
    }

    fn several_settings(&self) -> bool {
        self.report.contrasts.iter().any(|c| c.setting != self.report.contrasts[0].setting)
    }

    fn setting(&self) -> String {
        let id = &self.contrast.setting;
        match super::csv_tables::setting_of(self.report, id).and_then(|s| s.dial_khz) {
            Some(khz) => format!("{} kHz", number(khz, 1)),
            None => format!("setting {}", label(id)),
        }
    }

    fn is_doubtful(&self) -> bool {
        self.contrast.trust == Trust::Doubtful
    }
}

/// "the lamp"; a label that brings its own article or owner gets none.
fn thing(device: &str) -> String {
    let name = label(device);
    let first = name.split(' ').next().unwrap_or_default().to_lowercase();
    let owned =
        matches!(first.as_str(), "the" | "a" | "an" | "my" | "our" | "his" | "her" | "their" | "all" | "both")
            || first.ends_with("'s")
            || first.ends_with("’s");
    if owned || name.is_empty() {
        if name.is_empty() { "the device".to_owned() } else { name }
    } else {
        format!("the {name}")
    }
}

fn carriers(lines: &[AddedLine]) -> String {
    match lines {
        [] => "single carriers (birdies)".to_owned(),
        [only] => format!("a single carrier (birdie) at {}", hz(only.freq_hz)),
        [strongest, ..] => {
            format!("{} single carriers (birdies), the strongest at {}", lines.len(), hz(strongest.freq_hz))
        }
    }
}

/// A sentence of another room inside one of ours: first letter small where it is a plain word, no stop at the end.
fn label_sentence(text: &str) -> String {
    super::words::one_line(text).trim_end_matches('.').to_owned()
}
