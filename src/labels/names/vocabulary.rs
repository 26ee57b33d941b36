//! The words that file names are read by. Sources: the English of workshop labels (common practice); bands below.

/// Before a number: the same thing once more.
pub(super) const REPEAT: &[&str] = &["take", "run", "repeat", "rep", "try", "part", "nr", "no", "copy"];
/// Without a number: the same.
pub(super) const REPEAT_ALONE: &[&str] = &["again", "repeat", "repeated", "copy"];

/// Mean that nothing is on, where no clearer word stands.
pub(super) const QUIET: &[&str] = &["ambient", "background", "unplugged"];

/// Before an `off` recording of everything.
pub(super) const EVERYTHING: &[&str] =
    &["all", "everything", "every", "device", "devices", "thing", "things", "ambient", "background", "baseline"];

/// Said about a state or a file, and tell nothing.
pub(super) const IDLE: &[&str] =
    &["is", "was", "switched", "turned", "the", "rec", "recording", "recorded", "track", "file"];

/// Phrases in which "on" is no state: clip-on ferrite.
pub(super) const BEFORE_ON: &[&str] = &["clip", "snap", "add", "bolt", "screw", "stick", "slip", "push", "based"];
/// On-board charger.
pub(super) const AFTER_ON: &[&str] = &["board", "line", "air", "site", "demand", "grid"];
/// Phrases in which "off" is no state: cut-off filter.
pub(super) const BEFORE_OFF: &[&str] = &["cut", "roll", "take", "hold", "lift", "stand", "trade", "drop", "spin"];
/// Off-centre-fed antenna, off-grid inverter.
pub(super) const AFTER_OFF: &[&str] = &["centre", "center", "grid", "peak", "road", "set", "shore", "line", "air"];

/// Can only be a remedy, also before the state.
pub(super) const STRONG_REMEDY: &[&str] = &[
    "ferrite", "ferrites", "choke", "choked", "chokes", "toroid", "toroids", "clamp", "clamps", "remedy",
    "unchoked",
];
/// Begin a remedy where they stand behind the state.
pub(super) const REMEDY: &[&str] = &[
    "linear",
    "supply",
    "psu",
    "battery",
    "batteries",
    "filter",
    "filtered",
    "moved",
    "shielded",
    "screened",
    "shield",
    "screen",
    "isolator",
    "isolated",
    "transformer",
    "earthed",
    "grounded",
    "earth",
    "ground",
    "lead",
    "cable",
    "shorter",
    "longer",
    "short",
    "long",
    "new",
    "other",
    "another",
    "different",
    "replaced",
    "swapped",
    "capacitor",
    "bypass",
    "bypassed",
    "snubber",
    "balun",
    "mains",
    "with",
    "without",
    "after",
    "no",
    "clip",
    "snap",
];
/// Alone behind the state: nothing changed yet.
pub(super) const NO_REMEDY: &[&str] =
    &["before", "none", "bare", "plain", "untreated", "original", "unmodified", "baseline", "unchoked"];

/// Beside a number of metres: a length, no band.
pub(super) const LENGTHS: &[&str] = &[
    "moved",
    "away",
    "cable",
    "lead",
    "leads",
    "wire",
    "apart",
    "closer",
    "further",
    "at",
    "from",
    "long",
    "length",
    "distance",
    "by",
    "high",
    "up",
    "mast",
    "coax",
    "cord",
    "extension",
];

/// Bands named by their wavelength: amateur (IARU Region 1 HF band plan) and broadcasting (common practice).
pub(super) const BANDS_M: &[u32] =
    &[160, 120, 90, 80, 75, 60, 49, 41, 40, 31, 30, 25, 22, 20, 19, 17, 16, 15, 13, 12, 11, 10];

/// Amateur bands in MHz, the widest of the three IARU regions (ITU Radio Regulations, article 5; from memory).
pub(super) const AMATEUR_MHZ: &[(f64, f64)] = &[
    (1.8, 2.0),
    (3.5, 4.0),
    (5.25, 5.45),
    (7.0, 7.3),
    (10.1, 10.15),
    (14.0, 14.35),
    (18.068, 18.168),
    (21.0, 21.45),
    (24.89, 24.99),
    (28.0, 29.7),
];
