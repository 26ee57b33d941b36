//! Numbers, counts and the user's labels as text. Not here: what the sentences say (`verdict`).

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

use crate::warning::{Code, Warning};

/// The minus of typeset text; [`plain`] turns it back into the one of the keyboard.
const MINUS: char = '\u{2212}';

/// Columns a label may take in running text and tables; JSON and CSV have it whole.
const LABEL_COLUMNS: usize = 72;

/// A number with so many decimals and a typeset minus; never "−0.0".
pub(crate) fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(digits) if digits.bytes().all(|b| b == b'0' || b == b'.') => digits.to_owned(),
        Some(digits) => format!("{MINUS}{digits}"),
        None => text,
    }
}

/// The same with a plus where it is above zero.
pub(crate) fn signed(value: f64, decimals: usize) -> String {
    let text = number(value, decimals);
    let zero = text.bytes().all(|b| b == b'0' || b == b'.');
    if text.starts_with(MINUS) || zero { text } else { format!("+{text}") }
}

/// A figure with one decimal, or a dash where it could not be had.
pub(crate) fn or_dash(value: Option<f64>) -> String {
    value.map_or_else(|| "–".to_owned(), |v| number(v, 1))
}

/// "14.2 dB".
pub(crate) fn db(value: f64) -> String {
    format!("{} dB", number(value, 1))
}

/// "13.9 to 14.5".
pub(crate) fn interval(ends: [f64; 2]) -> String {
    format!("{} to {}", number(ends[0], 1), number(ends[1], 1))
}

/// A frequency of a line: "1234.5 Hz".
pub(crate) fn hz(value: f64) -> String {
    format!("{} Hz", number(value, 1))
}

/// A rate as it is spoken: whole where it is whole, else one decimal; below one a second, two.
pub(crate) fn rate(value: f64) -> String {
    if value < 0.95 {
        number(value, 2)
    } else if (value - value.round()).abs() < 0.05 {
        number(value, 0)
    } else {
        number(value, 1)
    }
}

/// A share as whole percent; what is not all is never printed as all, nor what is not nothing as nothing.
pub(crate) fn percent(share: f64) -> String {
    let whole = (share * 100.0).round();
    if whole >= 100.0 && share < 0.9995 {
        "over 99 %".to_owned()
    } else if whole <= 0.0 && share > 0.0005 {
        "under 1 %".to_owned()
    } else {
        format!("{} %", number(whole, 0))
    }
}

/// "1 recording", "2 recordings".
pub(crate) fn count(n: usize, one: &str, many: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {many}") }
}

/// "once", "twice", "3 times".
pub(crate) fn times(n: usize) -> String {
    match n {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        n => format!("{n} times"),
    }
}

/// "a", "a and b", "a, b and c".
pub(crate) fn and(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [only] => only.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// The same with the tail counted, so that a long list stays one line.
pub(crate) fn and_at_most(items: &[String], limit: usize) -> String {
    if items.len() <= limit {
        return and(items);
    }
    let rest = items.len() - limit;
    let mut shown = items[..limit].to_vec();
    shown.push(format!("{rest} more"));
    and(&shown)
}

/// How many S-units a change is, to the nearest half, in words; nothing below a quarter of a unit.
///
/// Source: 6 dB a unit, IARU Region 1 Technical Recommendation R.1. A change needs no anchor; a reading would.
pub(crate) fn s_units_of_change(change_db: f64) -> Option<String> {
    const WORDS: [&str; 11] = ["", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"];
    let halves = (change_db.abs() / 3.0).round();
    if !(1.0..=21.0).contains(&halves) {
        return None;
    }
    let (whole, half) = (halves as usize / 2, halves as usize % 2 == 1);
    Some(match (whole, half) {
        (0, _) => "half an S-unit".to_owned(),
        (1, false) => "one S-unit".to_owned(),
        (n, false) => format!("{} S-units", WORDS[n]),
        (n, true) => format!("{} and a half S-units", WORDS[n]),
    })
}

/// The first letter large.
pub(crate) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// A user's label on one line: control and direction characters gone, runs of blanks as one, cut where very long.
pub(crate) fn label(text: &str) -> String {
    shorten(&one_line(text), LABEL_COLUMNS)
}

/// Text on one line, whatever its length.
pub(crate) fn one_line(text: &str) -> String {
    let visible: String =
        text.chars().map(|c| if c.is_control() { ' ' } else { c }).filter(|&c| !steers(c)).collect();
    visible.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Characters that turn or hide the text around them.
fn steers(c: char) -> bool {
    matches!(c, '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2060}'..='\u{2069}' | '\u{FEFF}')
}

/// Cut to so many columns, with "..." where something is gone. Also bounds the characters, since marks that take no
/// column could go on for ever.
pub(crate) fn shorten(text: &str, columns: usize) -> String {
    if text.width() <= columns && text.chars().count() <= 2 * columns {
        return text.to_owned();
    }
    let room = columns.saturating_sub(3);
    let mut kept = String::new();
    let mut used = 0;
    for (i, c) in text.chars().enumerate() {
        used += c.width().unwrap_or(0);
        if used > room || i >= 2 * room {
            break;
        }
        kept.push(c);
    }
    format!("{}...", kept.trim_end())
}

/// Text that any forum and any mail keeps: typeset signs as their keyboard forms; letters of other scripts stay.
pub(crate) fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            MINUS | '\u{2010}'..='\u{2015}' => out.push('-'),
            '\u{2018}' | '\u{2019}' => out.push('\''),
            '\u{201C}' | '\u{201D}' => out.push('"'),
            '…' => out.push_str("..."),
            'µ' | 'μ' => out.push('u'),
            '×' => out.push('x'),
            '±' => out.push_str("+/-"),
            '\u{A0}' | '\u{2009}' | '\u{202F}' => out.push(' '),
            _ => out.push(c),
        }
    }
    out
}

/// What a warning is about, in a few words that can follow "because of".
pub(crate) fn cause(code: Code) -> &'static str {
    match code {
        Code::Clipped => "clipping",
        Code::Dropouts => "dropouts",
        Code::Silent => "silence",
        Code::DcOffset => "a DC offset",
        Code::TooShort => "too short a recording",
        Code::Truncated => "a file cut short",
        Code::LossyCodec => "a lossy codec",
        Code::GainMoving => "a moving gain (AGC or fading)",
        Code::GainChanged => "a gain that differs between recordings",
        Code::MainsHum => "hum from the audio cabling",
        Code::DeadChannel => "a dead channel",
        Code::SettingsDiffer => "settings that differ",
        Code::OffNotRepeatable => "off recordings that differ",
        Code::NarrowPassband => "a narrow passband",
        Code::NotANumber => "samples that are no numbers",
        Code::Label => "labels that contradict",
        Code::Guessed => "a guess to confirm",
        Code::SetAside => "an off recording set aside",
        Code::NoRecording => "a missing recording",
        Code::SameSound => "two files with the same sound",
        Code::NoReference => "a reference carrier that is not there",
        Code::OutsidePassband => "a passband outside the receiver's own",
        Code::GainUnknown => "a gain that nothing shows to be fixed",
        Code::ReceiverNoise => "a receiver about as loud as the band",
        Code::ReceiverCheck => "a receiver that does not follow its input",
    }
}

/// Whether a warning merely notes what was done, and speaks against no figure.
pub(crate) fn is_note(code: Code) -> bool {
    matches!(code, Code::SetAside | Code::Guessed)
}

/// What to do before the next try, as an order without its stop; nothing where no simple step helps.
pub(crate) fn next_step(code: Code) -> Option<&'static str> {
    Some(match code {
        Code::Clipped => "turn the recorder's input down",
        Code::Silent => "check the lead, the recorder's input and the volume",
        Code::TooShort => "record at least 20 s of each state",
        Code::Truncated => "let the recorder finish its file",
        Code::LossyCodec => "record WAV or FLAC",
        Code::ReceiverCheck => "switch AGC and noise reduction off and check the receiver again",
        Code::GainMoving | Code::GainChanged => "switch AGC off and touch no control between off and on",
        Code::SettingsDiffer => "use the same settings for off and on, at a quiet spot on the dial",
        Code::OffNotRepeatable => "record off and on in turn, several times",
        Code::NarrowPassband => "use a wider filter",
        Code::Dropouts => "let nothing else run on the recorder",
        Code::DeadChannel => "check the channel that carries nothing",
        Code::ReceiverNoise => "use a better antenna or less attenuation",
        Code::Label => "look the labels over",
        Code::DcOffset | Code::MainsHum | Code::NotANumber | Code::GainUnknown | Code::SetAside | Code::Guessed => {
            return None;
        }
        Code::NoRecording | Code::SameSound | Code::NoReference | Code::OutsidePassband => return None,
    })
}

/// The causes of some warnings, each once, in the order they came.
pub(crate) fn causes<'a>(warnings: impl IntoIterator<Item = &'a Warning>) -> Vec<String> {
    let mut found: Vec<&str> = Vec::new();
    for words in warnings.into_iter().map(|warning| cause(warning.code)) {
        if !found.contains(&words) {
            found.push(words);
        }
    }
    found.into_iter().map(str::to_owned).collect()
}

/// A stretch of time: "12.0 s", "3 min 05 s", "2 h 07 min".
pub(crate) fn clock(seconds: f64) -> String {
    let whole = seconds.max(0.0).round() as u64;
    match whole {
        0..60 => format!("{} s", number(seconds, 1)),
        60..3600 => format!("{} min {:02} s", whole / 60, whole % 60),
        _ => format!("{} h {:02} min", whole / 3600, whole % 3600 / 60),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_a_proper_minus_and_no_negative_zero() {
        assert_eq!(number(-0.04, 1), "0.0");
        assert_eq!(number(-2.06, 1), "−2.1");
        assert_eq!(signed(14.2, 1), "+14.2");
        assert_eq!(signed(-0.01, 1), "0.0");
        assert_eq!(signed(0.01, 1), "0.0");
        assert_eq!(signed(0.06, 1), "+0.1");
    }

    #[test]
    fn shares_never_claim_all_or_nothing_wrongly() {
        let told: Vec<_> = [0.0, 0.003, 0.61, 0.997, 1.0].map(percent).into();
        assert_eq!(told, ["0 %", "under 1 %", "61 %", "over 99 %", "100 %"]);
    }

    /// Source: IARU Region 1 Technical Recommendation R.1: one S-unit is 6 dB.
    #[test]
    fn changes_are_told_in_s_units_of_6_db() {
        let told = [1.0, 3.0, 6.0, 9.1, 14.2, -12.0, 60.0, 90.0].map(s_units_of_change);
        let told: Vec<_> = told.iter().map(|t| t.as_deref().unwrap_or("-")).collect();
        assert_eq!(
            told,
            [
                "-",
                "half an S-unit",
                "one S-unit",
                "one and a half S-units",
                "two and a half S-units",
                "two S-units",
                "ten S-units",
                "-"
            ]
        );
    }

    #[test]
    fn counted_words_agree() {
        assert_eq!(count(1, "recording", "recordings"), "1 recording");
        assert_eq!(count(0, "recording", "recordings"), "0 recordings");
        let names: Vec<String> = ["a", "b", "c", "d"].map(String::from).into();
        assert_eq!(and(&names[..3]), "a, b and c");
        assert_eq!(and_at_most(&names, 2), "a, b and 2 more");
    }

    #[test]
    fn labels_stay_on_one_line_and_within_their_columns() {
        assert_eq!(label("a\r\n\tb\u{202E}c"), "a bc");
        assert_eq!(shorten("aquarium lamp", 10), "aquariu...");
        assert!(shorten(&"e\u{301}".repeat(500), 10).chars().count() < 40);
        assert_eq!(shorten(&"灯".repeat(20), 10).width(), 9);
    }
}
