//! The reports' fixed prose, by what it explains: the text is `prose.toml`, here is which of it a report calls for.
//! Not here: sentences with figures in them, cautions (`cautions`).

use std::collections::BTreeMap;
use std::sync::LazyLock;

use serde::Deserialize;

use crate::contrast::Character;
use crate::findings::picture::FigureKind;
use crate::report::contract::Report;
use crate::text::{Words, count, number};
use crate::warning::Code;

pub(crate) static PROSE: LazyLock<Prose> =
    LazyLock::new(|| toml::from_str(include_str!("prose.toml")).expect("tests read the same text"));

/// The file beside this one.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Prose {
    glossary: Vec<Entry>,
    method: Method,
    pub(crate) warnings: BTreeMap<Code, WarningWords>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Entry {
    explains: Explained,
    text: String,
}

#[derive(Deserialize)]
#[serde(rename_all = "snake_case")]
enum Explained {
    Session,
    Described,
    Night,
    Episodes,
    Comparisons,
    Kinds(Vec<Character>),
    Figure(FigureKind),
    SignalCosts,
    PublishedNoise,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Method {
    levels: String,
    session: String,
    described: String,
    night: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct WarningWords {
    pub(crate) cause: String,
    pub(crate) next_step: Option<String>,
}

impl Explained {
    /// Whether the report has what is explained.
    fn is_in(&self, report: &Report) -> bool {
        let is_night = report.night.is_some();
        let has_episodes = is_night && !report.episodes.is_empty();
        let has = |kind: &Character| match is_night {
            true => report.episodes.iter().any(|e| e.contrast.has(*kind)),
            false => report.contrasts.iter().any(|c| c.has(*kind)) || report.described.iter().any(|d| d.has(*kind)),
        };
        match self {
            Self::Session => !is_night && report.described.is_empty(),
            Self::Described => !report.described.is_empty(),
            Self::Night => is_night,
            Self::Episodes => has_episodes,
            Self::Comparisons => (!is_night && report.described.is_empty()) || has_episodes,
            Self::Kinds(kinds) => kinds.iter().any(has),
            Self::Figure(kind) => report.figures.iter().any(|f| f.kind == *kind),
            Self::SignalCosts => !report.listening.costs.is_empty(),
            Self::PublishedNoise => !report.listening.station_noise.is_empty(),
        }
    }
}

/// Only the words this report uses.
pub(crate) fn glossary(report: &Report) -> Vec<Words> {
    let used = PROSE.glossary.iter().filter(|entry| entry.explains.is_in(report));
    used.map(|entry| Words::prose(&entry.text)).collect()
}

/// How a session's or a night's figures came about.
pub(crate) fn method(report: &Report) -> String {
    let Method { levels, session, described, night } = &PROSE.method;
    let mains = format!("The mains is taken as {} Hz.", number(report.session.mains_hz, 0));
    if report.night.is_some() {
        return format!("{night} {levels} {mains}");
    }
    if !report.described.is_empty() {
        return format!("{described} {levels} {mains}");
    }
    let recordings = count(report.recordings.len(), "recording was", "recordings were");
    let comparisons = count(report.contrasts.len(), "comparison", "comparisons");
    format!("{recordings} measured and {comparisons} made. {levels} {session} {mains}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_text_is_whole_and_stands_on_one_line() {
        let files: [toml::Value; 2] =
            [include_str!("prose.toml"), include_str!("../notes.toml")].map(|text| toml::from_str(text).unwrap());
        let mut left: Vec<&toml::Value> = files.iter().collect();
        let mut texts = 0;
        while let Some(value) = left.pop() {
            match value {
                toml::Value::Table(table) => left.extend(table.values()),
                toml::Value::Array(array) => left.extend(array),
                toml::Value::String(text) => {
                    assert!(!text.is_empty() && text.trim() == text && !text.contains(['\n', '\\']), "{text:?}");
                    assert!(!text.contains("  "), "{text:?}");
                    texts += 1;
                }
                other => panic!("{other:?} is no text"),
            }
        }
        assert!(texts > 100, "{texts}");
    }

    #[test]
    fn every_warning_has_its_words() {
        // The refusal of an unknown code names all there are, each in backticks, after the refused one.
        let refused = serde_json::from_str::<Code>("\"?\"").unwrap_err().to_string();
        let codes: Vec<&str> = refused.split('`').skip(1).step_by(2).skip(1).collect();
        let known: Vec<Code> =
            codes.iter().map(|code| serde_json::from_str(&format!("\"{code}\"")).unwrap()).collect();
        assert!(known.contains(&Code::Clipped) && known.contains(&Code::ReceiverCheck), "{refused}");
        assert_eq!(PROSE.warnings.keys().copied().collect::<Vec<_>>(), known);
    }

    #[test]
    fn the_first_word_of_each_entry_is_marked() {
        for entry in &PROSE.glossary {
            assert!(entry.text.starts_with(['*', '`']), "{}", entry.text);
        }
    }
}
