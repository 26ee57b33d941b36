//! A file name cut into pieces: date and time first, then words and numbers.
//! Not here: what the pieces mean (`parts`).

use jiff::civil::{Date, DateTime};
use unicode_normalization::char::is_combining_mark;

use super::vocabulary::{self, Role};
use crate::labels::printable::is_harmful;
use crate::labels::start::Start;

/// What four digits must be to be a year. Chosen: sound files are no older, and 2100 kHz is a dial again.
pub(super) const YEARS: std::ops::Range<i32> = 1990..2100;

/// A piece of a name between separators.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Token {
    /// As it stands in the name.
    pub text: String,
    /// The same in small letters without accents.
    pub low: String,
    /// Whether it stands in brackets.
    pub bracketed: bool,
}

/// The pieces of a name without its extension, and the date and time in it.
pub(super) fn split(stem: &str) -> (Vec<Token>, Option<Start>) {
    let mut chars: Vec<char> = stem.chars().collect();
    let started = take_date(&mut chars);
    let mut tokens = Vec::new();
    let mut word = String::new();
    let mut depth = 0usize;
    for (i, &c) in chars.iter().enumerate() {
        if is_part(&chars, i, &word) {
            word.push(c);
            continue;
        }
        push(&mut tokens, &mut word, depth > 0);
        match c {
            '(' | '[' | '{' | '（' | '【' => depth += 1,
            ')' | ']' | '}' | '）' | '】' => depth = depth.saturating_sub(1),
            // Two devices at once, "lamp + heater", are not one called "lamp heater".
            '+' | '&' => {
                word.push(c);
                push(&mut tokens, &mut word, depth > 0);
            }
            _ => {}
        }
    }
    push(&mut tokens, &mut word, depth > 0);
    (tokens, started)
}

fn push(tokens: &mut Vec<Token>, word: &mut String, bracketed: bool) {
    for text in at_known_words(&std::mem::take(word)) {
        tokens.push(Token { low: vocabulary::fold(&text), text, bracketed });
    }
}

/// Whether the character at `i` belongs to the piece `word` begun before it.
fn is_part(chars: &[char], i: usize, word: &str) -> bool {
    let c = chars[i];
    let next = chars.get(i + 1).copied().unwrap_or(' ');
    match c {
        // The point of "14.1MHz", not those of "03.lamp" or "01.7100kHz".
        '.' | ',' => {
            let padded = word.len() > 1 && word.starts_with('0');
            !word.is_empty() && !padded && word.chars().all(|w| w.is_ascii_digit()) && next.is_ascii_digit()
        }
        '\'' | '’' => !word.is_empty() && next.is_alphabetic(),
        c => {
            let mark = "–—―‐‑‒·…“”„‚‘«»‹›、。・！？：；（）【】「」『』￥".contains(c);
            !(c.is_whitespace() || is_harmful(c) || c.is_ascii_punctuation() || mark)
        }
    }
}

/// "LampOn", "LampeAusFerrit", "TVOffTwoClips" and "LampOn7100kHz" cut around the words that are known, where a
/// capital begins them and the next capital ends them; a state may end at a digit as well.
fn at_known_words(word: &str) -> Vec<String> {
    let segments = segments(word);
    let is =
        |i: usize, roles: &[Role]| segments.get(i).is_some_and(|s| roles.iter().any(|r| vocabulary::says(s, *r)));
    let pieces = [Role::Ferrites, Role::Many, Role::One, Role::Remedies];
    let mut cut: Vec<String> = Vec::new();
    let mut joins = false;
    for (i, segment) in segments.iter().enumerate() {
        let known = is(i, &STATES) || is(i, &pieces) || (is(i, &[Role::Numbers]) && is(i + 1, &pieces));
        match cut.last_mut() {
            Some(last) if joins && !known => last.push_str(segment),
            _ => cut.push((*segment).to_owned()),
        }
        joins = !known;
    }
    cut
}

/// The roles of words that tell a state.
const STATES: [Role; 5] = [Role::Off, Role::On, Role::With, Role::Without, Role::Quiet];

/// Cut at every capital behind a small letter or a digit, at the last of several capitals, and behind a state at
/// the digit.
fn segments(word: &str) -> Vec<&str> {
    let chars: Vec<(usize, char)> = word.char_indices().filter(|(_, c)| !is_combining_mark(*c)).collect();
    let mut segments = Vec::new();
    let mut begin = 0;
    for i in 1..chars.len() {
        let (before, (at, c)) = (chars[i - 1].1, chars[i]);
        let next_is_small = chars.get(i + 1).is_some_and(|(_, next)| next.is_lowercase());
        let capital = c.is_uppercase()
            && (before.is_lowercase() || before.is_ascii_digit() || (before.is_uppercase() && next_is_small));
        let behind_state = c.is_ascii_digit()
            && before.is_alphabetic()
            && STATES.iter().any(|role| vocabulary::says(&word[begin..at], *role));
        if capital || behind_state {
            segments.push(&word[begin..at]);
            begin = at;
        }
    }
    segments.push(&word[begin..]);
    segments.retain(|segment| !segment.is_empty());
    segments
}

/// Cuts the first date out of the name, with the time that follows it.
fn take_date(chars: &mut [char]) -> Option<Start> {
    for start in 0..chars.len() {
        if start > 0 && chars[start - 1].is_ascii_digit() {
            continue;
        }
        // Day or month first: which is which is not sure, so such a date is only kept from being read as something
        // else.
        let sure = date_at(chars, start);
        let Some((date, after)) = sure.or_else(|| day_first(chars, start)) else { continue };
        let time = time_after(chars, after, date);
        let end = time.map_or(after, |(_, end)| end);
        // A run of digits that goes on is no date.
        if time.is_none() && chars.get(after).is_some_and(|c| c.is_alphanumeric()) {
            continue;
        }
        chars[start..end].fill(' ');
        return time.map(|(started, _)| started).filter(|_| sure.is_some());
    }
    None
}

/// Reads exactly `count` digits at `at`.
fn digits(chars: &[char], at: usize, count: usize) -> Option<i16> {
    let run = chars.get(at..at + count)?;
    run.iter().try_fold(0i16, |sum, c| Some(sum * 10 + i16::try_from(c.to_digit(10)?).ok()?))
}

/// Year, month and day at `at`, in one run or with one kind of separator; and where they end.
fn date_at(chars: &[char], at: usize) -> Option<(Date, usize)> {
    let year = digits(chars, at, 4).filter(|y| YEARS.contains(&i32::from(*y)))?;
    let gap = usize::from(matches!(chars.get(at + 4), Some('-' | '_' | '.' | ' ')));
    let month = digits(chars, at + 4 + gap, 2)?;
    let second = at + 6 + gap;
    if gap == 1 && chars.get(second) != chars.get(at + 4) {
        return None;
    }
    let day = digits(chars, second + gap, 2)?;
    let date = Date::new(year, i8::try_from(month).ok()?, i8::try_from(day).ok()?).ok()?;
    Some((date, second + gap + 2))
}

/// "14.03.2026" or "3-14-2026", and where it ends; the date itself is a stand-in.
fn day_first(chars: &[char], at: usize) -> Option<(Date, usize)> {
    let short = |at: usize, separator: Option<char>| {
        [2, 1].into_iter().find_map(|count| {
            let found = digits(chars, at, count).filter(|n| (1..=31).contains(n))?;
            let end = chars.get(at + count).copied().filter(|c| matches!(c, '.' | '-' | '_' | '/'))?;
            (found > 0 && separator.is_none_or(|s| s == end)).then_some((at + count + 1, end))
        })
    };
    let (second, separator) = short(at, None)?;
    let (third, _) = short(second, Some(separator))?;
    let year = digits(chars, third, 4).filter(|y| YEARS.contains(&i32::from(*y)))?;
    let goes_on = chars.get(third + 4).is_some_and(char::is_ascii_digit);
    if goes_on { None } else { Some((Date::new(year, 1, 1).ok()?, third + 4)) }
}

/// Hour, minute and perhaps second behind a date; and where they end.
fn time_after(chars: &[char], date_end: usize, date: Date) -> Option<(Start, usize)> {
    let mut at = date_end;
    while at < date_end + 3 && matches!(chars.get(at), Some('T' | 't' | '_' | '-' | '.' | ' ')) {
        at += 1;
    }
    let hour = digits(chars, at, 2)?;
    let separator = chars.get(at + 2).copied().filter(|c| matches!(c, '-' | '_' | '.' | ':' | 'h' | ' '));
    let gap = usize::from(separator.is_some());
    let minute = digits(chars, at + 2 + gap, 2)?;
    let mut end = at + 4 + gap;
    let mut second = 0;
    if (separator.is_none() || chars.get(end).copied() == separator)
        && let Some(s) = digits(chars, end + gap, 2).filter(|s| *s < 60)
    {
        second = s;
        end += gap + 2;
    }
    let zone: String = chars[end..].iter().take(3).collect::<String>().to_ascii_lowercase();
    let zone = if zone == "utc" { 3 } else { usize::from(zone.starts_with('z')) };
    // "20260314_1840kHz" holds a frequency, no time.
    if chars.get(end + zone).is_some_and(|c| c.is_alphanumeric()) {
        return None;
    }
    let small = |n: i16| i8::try_from(n).ok();
    let time =
        DateTime::new(date.year(), date.month(), date.day(), small(hour)?, small(minute)?, small(second)?, 0);
    let mut started = Start::local(time.ok()?)?;
    started.zoned = zone > 0;
    Some((started, end + zone))
}
