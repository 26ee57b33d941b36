//! Fixed paragraphs, sentences and items of the reports: the text is `notes.toml`. Each is used by the
//! room whose topic it is. Not here: glossary, method and words of warnings (`report::prose`), cautions
//! (`cautions`).

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
    pub(crate) ferrite_no_use: String,
    pub(crate) ferrite_no_use_short: String,
    pub(crate) ferrite_flattens_short: String,
    pub(crate) ferrite_worse: String,
    pub(crate) ferrite_worse_short: String,
    pub(crate) ferrite_poor_fit: String,
    pub(crate) ferrite_unsure: String,
    pub(crate) ferrite_untested: String,
    pub(crate) shares: String,
    pub(crate) borrowed_spread: String,
    pub(crate) many_places: String,
    pub(crate) noise_dipole: String,
    pub(crate) noise_other_antenna: String,
    pub(crate) noise_tolerance: String,
    pub(crate) noise_no_loss: String,
    pub(crate) noise_no_dummy_load: String,
    pub(crate) receiver_compressed: String,
    pub(crate) receiver_expanded: String,
    pub(crate) receiver_no_load: String,
    pub(crate) receiver_band_too_weak: String,
    pub(crate) receiver_load_louder: String,
    pub(crate) receiver_scatter: String,
    pub(crate) one_recording: String,
    pub(crate) nothing_against: String,
    pub(crate) night_gain: String,
    pub(crate) night_neighbours: String,
    pub(crate) night_carriers: String,
    pub(crate) night_resemblances: String,
    pub(crate) night_sources: String,
}
