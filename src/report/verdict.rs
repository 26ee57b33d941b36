//! What a contrast says, in plain sentences: the words of the report's head and of the figures' titles.
//!
//! How sure it sounds follows from two things. Trust: sound is stated, doubtful is hedged throughout and names its
//! causes, void gives no figure at all. Certainty of the kind of noise: stated, then "probably", then "perhaps".
//! Not here: tables and layout (`markdown`, `post`).

pub mod short;
#[cfg(test)]
mod tests;

use crate::contrast::comparison::{AddedLine, ContrastResult};
use crate::contrast::words::{COUNTED_S, kind_word, mains_multiple, period, thing, with_interval};
use crate::contrast::{BLIND_DB, Certainty, Change, Character, Part};
use crate::night::result::Episode;
use crate::report::contract::Report;
use crate::report::night::words as night;
use crate::report::words::{causes, is_note, next_step, s_units_of_change};
use crate::text::{and, capital, count, db, hz, interval, label, number, percent, rate};
use crate::warning::{Code, Trust, Warning};

pub use short::headline;
pub(crate) use short::in_short;

/// Change from which its size in S-units helps: half a unit.
const WORTH_S_UNITS_DB: f64 = 3.0;

/// Orders in a verdict about what to do next; the report has them all.
const MOST_STEPS: usize = 2;

/// Lines are worth their own words when they lift the total this much above the noise between them.
const TOTAL_STANDS_OUT_DB: f64 = 1.0;

/// The verdict of a contrast in one to three plain sentences, without markup; signs are typeset (U+2212).
pub fn sentence(contrast: &ContrastResult, report: &Report) -> String {
    Verdict { contrast, report, occasion: None }.sentence()
}

/// What would mend a doubtful or void comparison, as orders without a stop; `None` where nothing speaks against it
/// or no simple step helps.
pub(crate) fn mend(contrast: &ContrastResult, report: &Report) -> Option<String> {
    let spoilt = contrast.is_doubtful() || contrast.is_void();
    Verdict { contrast, report, occasion: None }.next_steps().filter(|_| spoilt)
}

/// The verdict of an episode of a night, in the same words: "From 22:10 to 22:40, the noise rises by …".
pub fn episode_sentence(episode: &Episode, report: &Report) -> String {
    Verdict { contrast: &episode.contrast, report, occasion: Some(night::span(episode, report.night.as_ref())) }
        .sentence()
}

/// "0.2 dB, −0.3 to 0.7": where brackets stand around it already.
fn in_apposition(value: f64, ci: Option<[f64; 2]>) -> String {
    match ci {
        Some(ends) => format!("{}, {}", db(value), interval(ends)),
        None => format!("{}, interval not known", db(value)),
    }
}

/// A contrast about to be told, with what it refers to.
struct Verdict<'a> {
    contrast: &'a ContrastResult,
    report: &'a Report,
    /// When it was, where that is known of a noise and not what made it.
    occasion: Option<String>,
}

impl Verdict<'_> {
    fn sentence(&self) -> String {
        match self.contrast.trust {
            Trust::Void => self.void(),
            Trust::Doubtful => self.doubtful(),
            Trust::Sound | Trust::Unrepeated => self.sound(),
        }
    }

    fn sound(&self) -> String {
        let (body, provided) = (capital(&self.body()), self.provided());
        format!("{body}{provided}.{}{}", self.too_wide(), self.unrepeated())
    }

    /// ", if AGC was off (the labels don't say)": on what the figures hang where nothing shows the gain.
    fn provided(&self) -> &'static str {
        match self.contrast.warnings.iter().any(|w| w.code == Code::GainUnknown) {
            true => ", if AGC was off (the labels don't say)",
            false => "",
        }
    }

    /// Why no figure is told where its interval would say nothing, and the takes that would mend it.
    fn too_wide(&self) -> String {
        let c = self.contrast;
        let Some([low, high]) = c.excess_ci_db.filter(|_| c.is_too_wide()) else { return String::new() };
        let moves = self.speaking_against().iter().any(|w| w.code == Code::GainMoving);
        let is_of_two = c.off.len() == 1 && c.on.len() == 1;
        let (why, mend) = match moves || is_of_two {
            true => ("the level moves within them", "record longer ones when band and device are steady"),
            false => ("those of one state differ too much", "record three of each, in turn"),
        };
        format!(" The interval of these takes is {} wide: {why}; {mend}.", db(high - low))
    }

    /// What would look the same where off or on stands alone, and what one take more would settle.
    fn unrepeated(&self) -> String {
        let c = self.contrast;
        if !c.is_unrepeated() || self.occasion.is_some() {
            return String::new();
        }
        let (alone, again) = match (c.off.len(), c.on.len()) {
            (1, 1) => ("Off and on stand", "one more of each"),
            (1, _) => ("Off stands", "one more"),
            _ => ("On stands", "one more"),
        };
        let so = match c.character {
            Character::None => "show whether a touched control or a moving band hides it",
            _ => "tell it from a touched control or a moving band",
        };
        format!(" {alone} alone: {again} would {so}.")
    }

    fn doubtful(&self) -> String {
        let why = match self.reasons() {
            reasons if reasons.is_empty() => String::new(),
            reasons => format!(", because of {}", and(&reasons)),
        };
        let mend = self.next_steps().map_or_else(String::new, |steps| format!(" To settle it, {steps}."));
        format!("Doubtful{why}: {}.{}{mend}", self.body(), self.too_wide())
    }

    fn void(&self) -> String {
        let why = match self.reasons() {
            reasons if reasons.is_empty() => String::new(),
            reasons => format!(" because of {}", and(&reasons)),
        };
        if self.occasion.is_some() {
            // That there is nothing to compare with is said in full beside it.
            let is_it = |w: &Warning| matches!(w.code, Code::NoRecording | Code::NoQuiet | Code::Overlapped);
            let alone = self.contrast.warnings.iter().all(is_it);
            return night::void(&self.with_it_on(), if alone { "" } else { &why });
        }
        let mend = self.next_steps().unwrap_or_else(|| "mend the cause and record again".to_owned());
        format!(
            "No result for the {}: the comparison is void{why}. That says neither noise nor quiet. To get a result, \
             {mend}.",
            self.name_of_case()
        )
    }

    /// The causes named with the contrast, else those of its recordings; notes are none.
    fn reasons(&self) -> Vec<String> {
        causes(self.speaking_against())
    }

    fn speaking_against(&self) -> Vec<&Warning> {
        let against = |w: &&Warning| !is_note(w.code);
        let own: Vec<&Warning> = self.contrast.warnings.iter().filter(against).collect();
        if own.is_empty() { self.warnings_of_recordings().filter(against).collect() } else { own }
    }

    /// What to do about the causes, as orders: "turn the recorder's input down and record again".
    fn next_steps(&self) -> Option<String> {
        let mut codes: Vec<Code> = Vec::new();
        let mut steps: Vec<String> = Vec::new();
        for code in self.speaking_against().iter().map(|w| w.code) {
            if let Some(step) =
                next_step(code).filter(|step| !codes.contains(&code) && !steps.iter().any(|s| s == step))
            {
                codes.push(code);
                steps.push(step.to_owned());
            }
        }
        steps.truncate(MOST_STEPS);
        if self.occasion.is_some() {
            return night::steps(steps);
        }
        // A fall for certain is what swapped labels look like.
        if self.contrast.change().is_down() {
            steps.insert(0, "check that on and off are not swapped".to_owned());
        }
        if steps.is_empty() {
            return None;
        }
        // What is to be recorded comes after what is to be changed.
        let (records, changes): (Vec<_>, Vec<_>) = steps.into_iter().partition(|step| step.starts_with("record "));
        let record = if records.is_empty() { "record again".to_owned() } else { and(&records) };
        Some(if changes.is_empty() { record } else { format!("{}; then {record}", changes.join("; ")) })
    }

    fn warnings_of_recordings(&self) -> impl Iterator<Item = &Warning> {
        self.report.comparisons().recordings_of(self.contrast).flat_map(|r| &r.warnings)
    }

    /// The verdict without its first capital and last stop.
    fn body(&self) -> String {
        let c = self.contrast;
        match c.character {
            Character::None => self.no_change(),
            Character::Unclear => self.unclear(),
            Character::Carriers | Character::Comb => self.something_new(),
            Character::Clicks => self.clicks(),
            Character::Mixed if c.is_lines_only() || !c.change().is_up() => self.something_new(),
            Character::Mixed | Character::Hash | Character::Buzz => self.louder(),
        }
    }

    fn no_change(&self) -> String {
        let c = self.contrast;
        let on = self.with_it_on();
        match c.change() {
            Change::Down(drop, ci) => return self.quieter(drop, ci),
            Change::Unknown => return format!("no new line was found {on}, but the noise could not be compared"),
            Change::NotSure(..) | Change::Up(..) => {}
        }
        let limit = match c.detection_limit_db {
            Some(limit) if self.is_doubtful() || limit > BLIND_DB => {
                format!("one of less than {} would not have shown", db(limit))
            }
            Some(limit) => format!("a rise of {} would have shown", db(limit)),
            None => "how small a rise would have shown is not known".to_owned(),
        };
        let unsure = if c.certainty() == Certainty::Perhaps { ", and even that is far from sure" } else { "" };
        format!("no change {on}: {limit}{unsure}")
    }

    fn unclear(&self) -> String {
        let why = self.why_unclear();
        let on = self.with_it_on();
        match self.contrast.change() {
            Change::Unknown => format!("what the noise does {on} can't be told{why}"),
            Change::NotSure(v, ci) => format!(
                "{on}, the noise shows no sure change ({}); whether something came with it can't be told{why}",
                in_apposition(v, ci)
            ),
            Change::Up(v, ci) => format!(
                "{on}, the noise {} {}, but of what kind it is can't be told{why}",
                self.rises(),
                self.figure(v, ci)
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

    /// Carriers: told as what came, then how the noise between them changed.
    fn something_new(&self) -> String {
        let kind = self.hedged(&self.kind());
        let noise = match (self.contrast.character, self.contrast.added_lines.len()) {
            _ if self.contrast.counts_clicks() => "on average the noise between the lines",
            (Character::Mixed, _) => "the noise between the lines",
            (Character::Carriers, 1) => "the noise beside it",
            (Character::Carriers | Character::Comb, _) => "the noise between them",
            (Character::None | Character::Hash | Character::Buzz | Character::Clicks | Character::Unclear, _) => {
                "the noise"
            }
        };
        let noise = match self.contrast.change() {
            Change::Unknown => format!("{noise} could not be compared"),
            Change::NotSure(..) => format!("{noise} shows no sure change"),
            Change::Up(v, ci) => format!("{noise} {} {}", self.rises(), self.figure(v, ci)),
            Change::Down(v, ci) => format!("{noise} reads {} lower", self.figure(v, ci)),
        };
        format!("{}, {}: {kind}; {}{noise}", self.with_it_on(), self.is_new(), self.total())
    }

    /// "with its carriers the power rises by 1.6 dB in all, while ", where lines make that much of it.
    fn total(&self) -> String {
        match self.contrast.total_excess_db {
            Some(total) if total - self.contrast.excess_db.unwrap_or(0.0) >= TOTAL_STANDS_OUT_DB => {
                format!("{} the power {} {} in all, while ", self.with_its_lines(), self.rises(), db(total))
            }
            _ => String::new(),
        }
    }

    fn with_its_lines(&self) -> &'static str {
        match self.contrast.added_lines.len() {
            0 => "with all that came",
            1 => "with its carrier",
            _ => "with its carriers",
        }
    }

    /// "; beside it, a single carrier (birdie) at 1234.5 Hz", where the kind does not tell of lines.
    fn beside_it(&self) -> String {
        let lines = &self.contrast.added_lines;
        let is_told = lines.is_empty() || self.is_doubtful() || self.contrast.character == Character::Mixed;
        if is_told { String::new() } else { format!("; beside it, {}", carriers(lines)) }
    }

    /// Clicks: their excess is a mean over the clicks and the quiet between, so nothing is said of "between".
    fn clicks(&self) -> String {
        let (on, kind) = (self.with_it_on(), self.hedged(&self.kind()));
        let stated = self.contrast.certainty() == Certainty::Stated && !self.is_doubtful();
        let came = if stated { format!("there are {kind}") } else { format!("{}: {kind}", self.is_new()) };
        let raise = match (self.is_doubtful(), &self.contrast.remedy) {
            (true, _) => "they seem to raise the noise by about",
            (false, Some(_)) => "they still raise the noise by",
            (false, None) => "they raise the noise by",
        };
        let average = match self.contrast.change() {
            Change::Unknown => "how many dB they add on average could not be measured".to_owned(),
            Change::NotSure(v, ci) => {
                format!("on average the noise shows no sure change ({})", in_apposition(v, ci))
            }
            Change::Up(v, ci) => format!("on average {raise} {}", self.figure(v, ci)),
            Change::Down(v, ci) => format!("on average the noise reads {} lower all the same", self.figure(v, ci)),
        };
        format!("{on}, {came}; {average}{}{}", self.beside_it(), self.in_all())
    }

    /// "; with its carriers, 16.3 dB in all", where they make that much of it.
    fn in_all(&self) -> String {
        match (self.contrast.total_excess_db, self.contrast.excess_db) {
            (Some(total), Some(excess)) if total - excess >= TOTAL_STANDS_OUT_DB => {
                format!("; {}, {} in all", self.with_its_lines(), db(total))
            }
            _ => String::new(),
        }
    }

    /// Hash, buzz and mixtures: told as a rise of the noise.
    fn louder(&self) -> String {
        let on = self.with_it_on();
        let kind = self.hedged(&self.kind());
        match self.contrast.change() {
            Change::Unknown => {
                format!("{on}, {}: {kind}; how many dB it adds could not be measured", self.is_new())
            }
            Change::NotSure(v, ci) => format!(
                "{on}, the noise shows no sure change ({}); what may be added looks like {kind}",
                in_apposition(v, ci)
            ),
            Change::Down(v, ci) => self.quieter(v, ci),
            Change::Up(v, ci) => {
                let (rises, figure) = (self.rises(), self.figure(v, ci));
                let units = self.s_units(v);
                let mean = if self.contrast.counts_clicks() { " on average, clicks included" } else { "" };
                format!(
                    "{on}, the noise {rises} {figure}{units}{mean}: {kind}{}{}",
                    self.beside_it(),
                    self.in_all()
                )
            }
        }
    }

    fn quieter(&self, drop: f64, ci: Option<[f64; 2]>) -> String {
        format!(
            "{}, the noise reads {} lower. A device seldom takes noise away: look for a gain that moved (AGC), swapped \
             labels, or another noise that stopped meanwhile",
            self.with_it_on(),
            self.figure(drop, ci)
        )
    }

    /// A figure with its interval; in doubt without, since the interval knows nothing of what spoils the figure.
    fn figure(&self, value: f64, ci: Option<[f64; 2]>) -> String {
        if self.is_doubtful() { db(value) } else { with_interval(value, ci) }
    }

    /// A remedy leaves what was there before it, and what it brought: the ladder tells them apart.
    fn is_new(&self) -> &'static str {
        match (self.is_doubtful(), &self.contrast.remedy) {
            (true, Some(_)) => "this seems to be added",
            (false, Some(_)) => "this is added",
            (true, None) => "there seems to be something new",
            (false, None) => "there is something new",
        }
    }

    /// ", about two and a half S-units"; in doubt rather not, nor of a mean over clicks, which no meter
    /// shows.
    fn s_units(&self, change_db: f64) -> String {
        if self.is_doubtful() || self.contrast.counts_clicks() || change_db < WORTH_S_UNITS_DB {
            return String::new();
        }
        s_units_of_change(change_db).map_or_else(String::new, |units| format!(", about {units}"))
    }

    /// The added noise as a noun.
    fn kind(&self) -> String {
        let c = self.contrast;
        match c.character {
            Character::Mixed if c.is_lines_only() => {
                format!("{}, and {}", self.noun(Character::Comb), self.noun(Character::Carriers))
            }
            Character::Mixed => self.mixture(&c.parts),
            other => self.noun(other),
        }
    }

    fn mixture(&self, parts: &[Part]) -> String {
        if parts.is_empty() {
            return "a mixture of several kinds".to_owned();
        }
        let kinds: Vec<_> =
            parts.iter().map(|p| format!("{} in {}", percent(p.share), self.noun(p.character))).collect();
        format!("a mixture, {}", and(&kinds))
    }

    fn noun(&self, character: Character) -> String {
        let c = self.contrast;
        match character {
            Character::Hash => match c.confined_hz() {
                Some([low, high]) => {
                    format!("hash between about {} and {} kHz", number(low / 1e3, 1), number(high / 1e3, 1))
                }
                None => "broadband hash".to_owned(),
            },
            Character::Buzz => match c.mains_rate_hz {
                Some(r) => format!(
                    "hash that pulses {} times a second{}",
                    rate(r),
                    mains_multiple(r, self.report.session.mains_hz)
                ),
                None => "hash that pulses at the mains rate".to_owned(),
            },
            Character::Clicks => {
                let Some(rate_hz) = c.pulse_rate_hz else { return "clicks".to_owned() };
                match (c.pulse_period_s, c.pulse_period_ci_s) {
                    (Some(period_s), Some([low, high])) => {
                        let every = format!("one every {}", period(period_s, (high - low) / 2.0));
                        if period_s >= COUNTED_S {
                            format!("clicks, {every}")
                        } else {
                            format!("clicks, {} a second, evenly spaced ({every})", rate(rate_hz))
                        }
                    }
                    _ => {
                        let random = if c.pulses_regular == Some(false) { ", at random distances" } else { "" };
                        format!("clicks, about {} a second{random}", rate(rate_hz))
                    }
                }
            }
            Character::Carriers => match (c.beside_the_family(), &c.cluster) {
                (0, Some(cluster)) => format!(
                    "a crowd of at least {} carriers (birdies) between {} and {}",
                    cluster.at_least,
                    hz(cluster.low_hz),
                    hz(cluster.high_hz)
                ),
                (0, None) => carriers(&c.added_lines),
                (others, _) => count(others, "carrier", "carriers") + " beside it",
            },
            Character::Comb => match &c.comb {
                Some(comb) => format!(
                    "a family of {} every {}",
                    count(comb.lines, "carrier", "carriers"),
                    hz(comb.spacing_hz)
                ),
                None => "a family of carriers at one spacing".to_owned(),
            },
            Character::None | Character::Mixed | Character::Unclear => kind_word(character).to_owned(),
        }
    }

    fn hedged(&self, kind: &str) -> String {
        match self.contrast.certainty() {
            Certainty::Perhaps => format!("perhaps {kind}, but the kind is far from sure"),
            Certainty::Probable => format!("probably {kind}"),
            Certainty::Stated if self.is_doubtful() => format!("probably {kind}"),
            Certainty::Stated => kind.to_owned(),
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
        if let Some(occasion) = &self.occasion {
            return occasion.clone();
        }
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
        if self.report.comparisons().are_of_several_settings() {
            said.push(self.setting());
        }
        if said.is_empty() { String::new() } else { format!(" ({})", said.join("; ")) }
    }

    fn setting(&self) -> String {
        self.report.comparisons().setting_name(&self.contrast.setting)
    }

    fn is_doubtful(&self) -> bool {
        self.contrast.is_doubtful()
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
    crate::text::one_line(text).trim_end_matches('.').to_owned()
}
