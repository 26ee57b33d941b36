//! What each piece of a file name is: a frequency, a mode, a number, a state or a plain word.
//! Not here: which words are the device and which the remedy (`mod.rs`).

use std::ops::{Range, RangeInclusive};

use super::tokens::{Token, YEARS};
use super::vocabulary::{self, Role, Tongues, Word, says};
use crate::labels::fields::{Mode, State};

/// What may be a dial frequency with its unit, kHz. Chosen: from long wave to microwaves, whatever a receiver has.
const DIALS_KHZ: Range<f64> = 100.0..1e7;
/// What must be one without its unit, kHz: short wave, from the 160 m band on (common practice: 1.6 to 30 MHz).
const SHORT_WAVE_KHZ: Range<f64> = 1_600.0..30_000.0;
/// What may be a bandwidth, in kHz and in Hz. Chosen: filters of receivers; fewer hertz are mains or a tone.
const BANDWIDTHS_KHZ: RangeInclusive<f64> = 0.1..=10.0;
const BANDWIDTHS_HZ: RangeInclusive<f64> = 200.0..=1e4;
/// And glued to "bw", which leaves no doubt, Hz. Chosen: whatever a receiver has.
const SAID_BANDWIDTHS_HZ: RangeInclusive<f64> = 10.0..=1e5;
/// Colour temperatures that are sold, K (common practice): "2700K" on a lamp is no dial.
const COLOURS_K: &[u32] = &[2200, 2400, 2700, 3000, 3500, 4000, 4500, 5000, 5500, 5700, 6000, 6500];
/// Units that a name may have behind a number ("12 V", "50 ohm"), and metres, which may be a band.
const UNITS: &[&str] = &[
    "v", "volt", "volts", "w", "watt", "watts", "kw", "kva", "ma", "amp", "amps", "ohm", "ohms", "ω", "kelvin",
    "cm", "mm", "ghz", "ah", "mah", "rpm", "inch",
];
const METRES: &[&str] = &["m", "meter", "meters", "metre", "metres", "metro", "metros", "metri"];
/// A number with so many digits is no part of a name: a recorder's counter or its date ("260314_190212"). Chosen:
/// one more than years, watts and colour temperatures have.
const COUNTER_DIGITS: usize = 5;
/// Longest number read, in characters. Chosen: hertz of a microwave band with decimals; longer ones are serials.
const LONGEST_NUMBER: usize = 12;

/// A piece of a name with its meaning.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Meaning {
    /// Dial frequency.
    Dial(f64),
    /// Band in metres.
    Band(String),
    /// Demodulation.
    Mode(Mode),
    /// Bandwidth in Hz; whether the name says that it is one.
    Bandwidth(f64, bool),
    /// Off, on or terminated.
    State(State),
    /// A word that means "off" only where no clearer word stands.
    Quiet(String),
    /// "with" or "without".
    Link(Link, String),
    /// A word that tells a state or a link in a language that the folder may not have.
    Perhaps(&'static Word, String),
    /// The receiver's meter reading.
    Meter(String),
    /// A number without a unit: its value, its text, whether it stands in brackets.
    Number(f64, String, bool),
    /// Number of a repetition: the same thing once more.
    Repeat,
    /// A word.
    Word(String),
    /// Something that looks like a label and can't be read safely.
    Unread(String),
}

impl Meaning {
    /// Whether it can be part of a device's or remedy's name.
    pub fn is_wordy(&self) -> bool {
        matches!(self, Meaning::Word(_) | Meaning::Number(..) | Meaning::Link(..) | Meaning::Perhaps(..))
    }
}

/// What stands between a device and a remedy, or before either.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Link {
    With,
    Without,
}

/// Gives every piece its meaning, in a folder that shows these languages.
pub(super) fn classify(tokens: &[Token], tongues: &Tongues) -> Vec<Meaning> {
    let mut parts = Vec::new();
    let mut i = 0;
    while i < tokens.len() {
        let (part, used) = one(tokens, i);
        parts.extend(part);
        i += used;
    }
    settle(&mut parts, tongues);
    modes(parts)
}

/// Takes unsure words of the folder's languages for what they say. One that says "on" is looked at only where no
/// sure word does, and "ein" (on, or one) behind the others, where it does not begin the name.
fn settle(parts: &mut [Meaning], tongues: &Tongues) {
    let sure_on = parts.contains(&Meaning::State(State::On));
    let mut on: Vec<(bool, usize)> = Vec::new();
    let mut begun = false;
    for (i, part) in parts.iter_mut().enumerate() {
        let Meaning::Perhaps(word, text) = part else {
            begun |= matches!(part, Meaning::Word(_));
            continue;
        };
        if !vocabulary::meanings(&word.text).iter().any(|m| m.role == word.role && tongues.has(m)) {
            continue;
        }
        match link(word.role) {
            Some(link) => *part = Meaning::Link(link, text.clone()),
            None if !sure_on => {
                let counts = vocabulary::count(&word.text).is_some();
                on.extend((!counts || begun).then_some((counts, i)));
            }
            None => {}
        }
    }
    let sure_off = parts.contains(&Meaning::State(State::Off));
    if let Some((_, at)) = on.into_iter().filter(|(counts, _)| !(*counts && sure_off)).min() {
        parts[at] = Meaning::State(State::On);
    }
}

fn link(role: Role) -> Option<Link> {
    match role {
        Role::With => Some(Link::With),
        Role::Without => Some(Link::Without),
        _ => None,
    }
}

/// The meaning of the piece at `i`, and how many pieces it takes up.
fn one(tokens: &[Token], i: usize) -> (Vec<Meaning>, usize) {
    let token = &tokens[i];
    let low = token.low.as_str();
    let next = tokens.get(i + 1).map_or("", |t| t.low.as_str());
    let before = i.checked_sub(1).map_or("", |j| tokens[j].low.as_str());
    // Before the states: "no 3" is the third, and "nog een keer" holds no number.
    if vocabulary::REPEAT.contains(&low) && is_number(next) {
        return (vec![Meaning::Repeat], 2);
    }
    if let Some(used) = once_more(tokens, i) {
        return (vec![Meaning::Repeat], used);
    }
    if let Some(found) = states(tokens, i) {
        return found;
    }
    if low.strip_prefix("take").or(low.strip_prefix("run")).is_some_and(is_number) {
        return (vec![Meaning::Repeat], 1);
    }
    if matches!(low, "bw" | "bandwidth" | "filter")
        && let Some((Meaning::Bandwidth(hz, _), used)) =
            tokens.get(i + 1).and_then(|n| quantity(n, tokens.get(i + 2), true))
    {
        return (vec![Meaning::Bandwidth(hz, true)], used + 1);
    }
    if let Some(hz) = low.strip_prefix("bw").and_then(value).filter(|hz| SAID_BANDWIDTHS_HZ.contains(hz)) {
        return (vec![Meaning::Bandwidth(hz, true)], 1);
    }
    if let Some(used) = clock(low, next) {
        return (vec![Meaning::Repeat], used);
    }
    if low == "ssb" {
        return (vec![Meaning::Unread(token.text.clone())], 1);
    }
    if is_band(low, before, next) {
        return (vec![Meaning::Band(low.to_owned())], 1);
    }
    if let Some(found) = with_unit(tokens, i) {
        return found;
    }
    if is_colour(low) && tokens.iter().any(|t| says(&t.low, Role::Lights)) {
        // A small k may be short for kHz.
        let sure = token.text.ends_with('K');
        let part = if sure { Meaning::Word(token.text.clone()) } else { Meaning::Unread(token.text.clone()) };
        return (vec![part], 1);
    }
    if low.len() == 2 && low.starts_with('s') && low.ends_with(|c: char| c.is_ascii_digit()) {
        return (vec![Meaning::Meter(token.text.to_uppercase())], 1);
    }
    if let Some((part, used)) = quantity(token, tokens.get(i + 1), false) {
        return (vec![part], used);
    }
    match value(low) {
        Some(_) if low.len() >= COUNTER_DIGITS && low.chars().all(|c| c.is_ascii_digit()) => {
            (vec![Meaning::Repeat], 1)
        }
        Some(number) => (vec![Meaning::Number(number, token.text.clone(), token.bracketed)], 1),
        None => (vec![Meaning::Word(token.text.clone())], 1),
    }
}

/// How many pieces from the one at `i` on say "once more": "again", "noch mal", "2nd time".
fn once_more(tokens: &[Token], i: usize) -> Option<usize> {
    let again = |span: &usize| {
        let phrase = tokens.get(i..i + span).unwrap_or_default();
        says(&phrase.iter().map(|t| t.low.as_str()).collect::<Vec<_>>().join(" "), Role::Again)
    };
    let takes = tokens.get(i + 1).is_some_and(|next| says(&next.low, Role::Takes));
    let counted = (takes && vocabulary::is_order(&tokens[i].low)).then_some(2);
    (1..=vocabulary::LONGEST_PHRASE).rev().find(again).or(counted)
}

/// The words and phrases that tell a state, "on2" and "alloff" among them; "clip-on" and "off-centre" do not.
fn states(tokens: &[Token], i: usize) -> Option<(Vec<Meaning>, usize)> {
    let low = tokens[i].low.as_str();
    if matches!(low, "alloff" | "allon") {
        let state = if low == "alloff" { State::Off } else { State::On };
        return Some((vec![Meaning::Word("all".into()), Meaning::State(state)], 1));
    }
    let next = tokens.get(i + 1).map_or("", |t| t.low.as_str());
    let before = i.checked_sub(1).map_or("", |j| tokens[j].low.as_str());
    let word = low.trim_end_matches(|c: char| c.is_ascii_digit());
    let (joined_before, joined_after) = match word {
        "on" => (vocabulary::BEFORE_ON, vocabulary::AFTER_ON),
        "off" => (vocabulary::BEFORE_OFF, vocabulary::AFTER_OFF),
        _ => (&[][..], &[][..]),
    };
    let at_something = matches!(low, "an" | "aus" | "aan" | "uit") && vocabulary::ARTICLES.contains(&next);
    if joined_before.contains(&before) || joined_after.contains(&next) || at_something {
        return None;
    }
    (1..=vocabulary::LONGEST_PHRASE).rev().find_map(|span| {
        let phrase: Vec<&str> = tokens.get(i..i + span)?.iter().map(|t| t.low.as_str()).collect();
        let phrase = if span == 1 { word.to_owned() } else { phrase.join(" ") };
        let counted = span == 1 && word.len() < low.len();
        let text = || tokens[i].text.clone();
        let found = vocabulary::meanings(&phrase).iter().find_map(|meaning| {
            let part = match meaning.role {
                Role::Off | Role::On | Role::With | Role::Without if !meaning.is_sure => {
                    Meaning::Perhaps(meaning, text())
                }
                Role::Off => Meaning::State(State::Off),
                Role::On => Meaning::State(State::On),
                Role::Terminated => Meaning::State(State::Terminated),
                Role::Quiet => Meaning::Quiet(text()),
                role => Meaning::Link(link(role)?, text()),
            };
            Some(part)
        })?;
        match (&found, counted) {
            (Meaning::State(State::Off | State::On), true) => Some((vec![found, Meaning::Repeat], 1)),
            (_, true) => None,
            _ => Some((vec![found], span)),
        }
    })
}

/// "12 V" and "50 ohm" belong together, whatever they are; "40 m" is a band unless it is a length.
fn with_unit(tokens: &[Token], i: usize) -> Option<(Vec<Meaning>, usize)> {
    let (number, unit) = (&tokens[i], tokens.get(i + 1)?);
    let padded = number.low.len() > 1 && number.low.starts_with('0');
    value(&number.low).filter(|_| !padded)?;
    let in_one = format!("{} {}", number.text, unit.text);
    let low = unit.low.as_str();
    if METRES.contains(&low) {
        let before = i.checked_sub(1).map_or("", |j| tokens[j].low.as_str());
        let next = tokens.get(i + 2).map_or("", |t| t.low.as_str());
        let band = format!("{}m", number.low);
        let part = if is_band(&band, before, next) { Meaning::Band(band) } else { Meaning::Word(in_one) };
        return Some((vec![part], 2));
    }
    // An ampere has a capital; a small a is a word. So have kelvins, and kHz a small k.
    let capital = unit.text == "A" || (unit.text == "K" && is_colour(&format!("{}k", number.low)));
    (UNITS.contains(&low) || capital).then(|| (vec![Meaning::Word(in_one)], 2))
}

/// Whether this is a colour temperature: "2700k".
fn is_colour(low: &str) -> bool {
    low.strip_suffix('k').and_then(|n| n.parse().ok()).is_some_and(|n| COLOURS_K.contains(&n))
}

/// Whether a word is an amount and nothing else: "60W", "12 V", "2700K".
pub(super) fn is_amount(word: &str) -> bool {
    let low = vocabulary::fold(word);
    let unit = low.trim_start_matches(|c: char| c.is_ascii_digit() || matches!(c, '.' | ','));
    unit.len() < low.len() && (matches!(unit.trim(), "a" | "k") || UNITS.contains(&unit.trim()))
}

/// A number with its unit, in one piece ("14.1MHz") or two ("14.1 MHz"), or one that can only be a frequency.
/// `said`: the word before it says that it is a bandwidth.
fn quantity(number: &Token, unit: Option<&Token>, said: bool) -> Option<(Meaning, usize)> {
    let end =
        number.low.find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | ','))).unwrap_or(number.low.len());
    let (digits, glued) = number.low.split_at(end);
    let amount = value(digits)?;
    let (suffix, used) = match (glued, unit) {
        ("", Some(unit)) if matches!(unit.low.as_str(), "hz" | "khz" | "mhz") => (unit.low.as_str(), 2),
        (glued, _) => (glued, 1),
    };
    let part = match suffix {
        "khz" | "k" if DIALS_KHZ.contains(&amount) => Meaning::Dial(amount),
        "khz" if BANDWIDTHS_KHZ.contains(&amount) => Meaning::Bandwidth(tidy(amount * 1e3), said),
        "mhz" if DIALS_KHZ.contains(&(amount * 1e3)) => Meaning::Dial(tidy(amount * 1e3)),
        "hz" if DIALS_KHZ.contains(&(amount / 1e3)) => Meaning::Dial(tidy(amount / 1e3)),
        "hz" if BANDWIDTHS_HZ.contains(&amount) => Meaning::Bandwidth(amount, said),
        "khz" | "mhz" | "hz" => Meaning::Unread(number.text.clone()),
        "" if said && BANDWIDTHS_HZ.contains(&amount) => Meaning::Bandwidth(amount, true),
        "" => bare_dial(digits, amount)?,
        _ => return None,
    };
    Some((part, used))
}

/// A product of decimal numbers without the binary dust: 14.1 · 1000 is 14100, not 14099.999….
fn tidy(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

/// What a number without a unit must be if it looks like a frequency. kHz: five digits from 10000 to 29999, or four
/// that are no year. MHz: three decimals, or fewer within an amateur band. What may be a time of the day as well
/// ("1902", "14.05") can't be read safely.
fn bare_dial(digits: &str, amount: f64) -> Option<Meaning> {
    let unread = || Meaning::Unread(digits.to_owned());
    if let Some((_, decimals)) = digits.split_once(['.', ',']) {
        let exact = decimals.len() == 3 && SHORT_WAVE_KHZ.contains(&(amount * 1e3));
        let in_band = vocabulary::AMATEUR_MHZ.iter().any(|(low, high)| (*low..=*high).contains(&amount));
        let clock = decimals.len() == 2 && amount < 24.0 && decimals.parse::<u32>().is_ok_and(|minute| minute < 60);
        return match (exact || in_band, clock) {
            (true, false) => Some(Meaning::Dial(tidy(amount * 1e3))),
            (true, true) => Some(unread()),
            (false, _) => None,
        };
    }
    let whole = digits.parse::<i32>().ok()?;
    let clock = whole / 100 < 24 && whole % 100 < 60;
    match digits.len() {
        5 if !digits.starts_with('0') && SHORT_WAVE_KHZ.contains(&amount) => Some(Meaning::Dial(amount)),
        4 if !SHORT_WAVE_KHZ.contains(&amount) || YEARS.contains(&whole) => None,
        4 if clock => Some(unread()),
        4 => Some(Meaning::Dial(amount)),
        _ => None,
    }
}

/// "9 am" and "10pm" are an hour and tell nothing; how many pieces they take up.
fn clock(low: &str, next: &str) -> Option<usize> {
    let hour = |text: &str| value(text).is_some_and(|hour| hour <= 12.0);
    let glued = low.strip_suffix("am").or(low.strip_suffix("pm")).is_some_and(hour);
    if glued {
        return Some(1);
    }
    (hour(low) && matches!(next, "am" | "pm")).then_some(2)
}

/// A word such as "40m" that names a band; not the length in "moved 2m" or "10m cable".
fn is_band(low: &str, before: &str, next: &str) -> bool {
    let metres = low.strip_suffix('m').and_then(|n| n.parse::<u32>().ok());
    metres.is_some_and(|m| vocabulary::BANDS_M.contains(&m))
        && !vocabulary::LENGTHS.contains(&before)
        && !vocabulary::LENGTHS.contains(&next)
}

/// USB, AM and FM are words too ("USB charger"): they are a mode only beside a frequency or where no word
/// follows. CW and LSB are nothing else.
fn modes(parts: Vec<Meaning>) -> Vec<Meaning> {
    let tuned =
        |part: Option<&Meaning>| matches!(part, Some(Meaning::Dial(_) | Meaning::Band(_) | Meaning::Bandwidth(..)));
    let mut out: Vec<Meaning> = Vec::with_capacity(parts.len());
    for (i, part) in parts.iter().enumerate() {
        let mode = match part {
            Meaning::Word(word) => Mode::from_word(word).filter(|mode| {
                let beside = tuned(i.checked_sub(1).and_then(|j| parts.get(j))) || tuned(parts.get(i + 1));
                // "USB 3 hub" is no mode either.
                let next = parts[i + 1..].iter().find(|p| !matches!(p, Meaning::Number(..)));
                let alone = !matches!(next, Some(Meaning::Word(_)));
                matches!(mode, Mode::Cw | Mode::Lsb) || beside || alone
            }),
            _ => None,
        };
        out.push(mode.map_or_else(|| part.clone(), Meaning::Mode));
    }
    out
}

/// The value of digits with at most one decimal point or comma.
fn value(text: &str) -> Option<f64> {
    let plain = !text.is_empty() && text.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ','));
    if !plain || text.len() > LONGEST_NUMBER {
        return None;
    }
    text.replace(',', ".").parse().ok()
}

fn is_number(text: &str) -> bool {
    value(text).is_some()
}
