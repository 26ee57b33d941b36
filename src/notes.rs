//! Fixed paragraphs and items of the reports: the text is `notes.toml`. Each is used by the room whose topic it is.
//! Not here: glossary, method and words of warnings (`report::prose`), cautions (`cautions`).

use std::sync::LazyLock;

use serde::Deserialize;

pub(crate) static NOTES: LazyLock<Notes> = LazyLock::new(|| {
    toml::from_str(include_str!("notes.toml")).expect("the tests of the reports read the same text")
});

/// The file beside this one.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Notes {
    pub(crate) s_units: String,
    pub(crate) s_values: String,
    pub(crate) ferrite_grades: String,
    pub(crate) ferrite_forecast: String,
    pub(crate) shares: String,
    pub(crate) borrowed_spread: String,
    pub(crate) many_places: String,
    pub(crate) nothing_against: String,
    pub(crate) night_gain: String,
    pub(crate) night_neighbours: String,
    pub(crate) night_carriers: String,
}
