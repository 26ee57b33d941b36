//! When a recording was started, from the words a recorder left in its header.
//!
//! Recorders write their clock's time without a zone, so that is what is given: RFC 3339's date and time, and an
//! offset only where the file has one. A date without a time of day is no start.

/// Reads `2026-03-14` and `19:02:00` with whatever separators the recorder chose (EBU Tech 3285 allows any).
pub(super) fn from_bext(date: &[u8], time: &[u8]) -> Option<String> {
    let date = std::str::from_utf8(date).ok()?;
    let time = std::str::from_utf8(time).ok()?;
    let at = |s: &str, from: usize, to: usize| s.get(from..to)?.parse::<i16>().ok();
    civil([at(date, 0, 4)?, at(date, 5, 7)?, at(date, 8, 10)?], [at(time, 0, 2)?, at(time, 3, 5)?, at(time, 6, 8)?])
}

/// Reads a tag such as `2026-03-14T19:02:00Z` or `2026-03-14 19:02:00`.
pub(super) fn from_tag(words: &str) -> Option<String> {
    let words = words.trim_matches(|c: char| c.is_whitespace() || c == '\0');
    if let Ok(instant) = words.parse::<jiff::Timestamp>() {
        return (instant.as_second() > 0).then(|| instant.to_string());
    }
    if words.len() < 16 {
        return None;
    }
    let stamp = words.parse::<jiff::civil::DateTime>().ok()?;
    (stamp.year() >= 1980).then(|| stamp.to_string())
}

fn civil([year, month, day]: [i16; 3], [hour, minute, second]: [i16; 3]) -> Option<String> {
    let small = |x: i16| i8::try_from(x).ok();
    // Recorders with an unset clock write years such as 0 or 1970.
    if year < 1980 {
        return None;
    }
    let (month, day) = (small(month)?, small(day)?);
    let (hour, minute, second) = (small(hour)?, small(minute)?, small(second)?);
    Some(jiff::civil::DateTime::new(year, month, day, hour, minute, second, 0).ok()?.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_of_recorders() {
        let stamp = Some("2026-03-14T19:02:00".to_string());
        assert_eq!(from_bext(b"2026-03-14", b"19:02:00"), stamp);
        assert_eq!(from_bext(b"2026_03_14", b"19-02-00"), stamp);
        assert_eq!(from_bext(b"2026:13:14", b"19:02:00"), None);
        assert_eq!(from_bext(b"0000-00-00", b"00:00:00"), None);
        assert_eq!(from_bext(&[0; 10], &[0; 8]), None);
        assert_eq!(from_bext(b"\xff\xff26-03-14", b"19:02:00"), None);
        assert_eq!(from_tag("2026-03-14 19:02:00\0"), stamp);
        assert_eq!(from_tag("2026-03-14T19:02:00Z"), Some("2026-03-14T19:02:00Z".into()));
        assert_eq!(from_tag("2026-03-14T21:02:00+02:00"), Some("2026-03-14T19:02:00Z".into()));
        assert_eq!(from_tag("2026-03-14"), None);
        assert_eq!(from_tag("2026"), None);
        assert_eq!(from_tag(""), None);
    }
}
