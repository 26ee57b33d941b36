//! When a recording began: TOML's dates and jiff's instants.

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::Offset;

/// When a recording began as a label has it, and whether its offset from UTC was given. A time without an offset is
/// taken as it stands, as if it were UTC: the distances between the recordings of a session are right, the hour of
/// the day may be local.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Start {
    /// The instant.
    pub at: Timestamp,
    /// Whether it is known to be UTC or had an offset.
    pub zoned: bool,
}

impl Start {
    /// A time of the clock without an offset; `None` where it does not exist.
    pub(super) fn local(date: DateTime) -> Option<Self> {
        let at = Offset::UTC.to_timestamp(date).ok()?;
        Some(Self { at, zoned: false })
    }

    /// The tag of a container as `audio` gives it: RFC 3339, or the same without an offset.
    pub(crate) fn of_tag(tag: &str) -> Option<Self> {
        match tag.parse::<Timestamp>() {
            Ok(at) => Some(Self { at, zoned: true }),
            Err(_) => Self::local(tag.parse().ok()?),
        }
    }

    /// A TOML date; `Err` says what is missing.
    pub(super) fn from_toml(value: &toml::value::Datetime) -> Result<Self, &'static str> {
        let date = value.date.ok_or("a time without its date")?;
        let time = value.time.ok_or("a date without its time")?;
        let number = |n: u8| i8::try_from(n).unwrap_or(i8::MAX);
        let civil = DateTime::new(
            i16::try_from(date.year).unwrap_or(i16::MAX),
            number(date.month),
            number(date.day),
            number(time.hour),
            number(time.minute),
            number(time.second.unwrap_or(0)),
            i32::try_from(time.nanosecond.unwrap_or(0)).unwrap_or(0),
        )
        .map_err(|_| "a date or time that does not exist")?;
        let minutes = match value.offset {
            None => return Self::local(civil).ok_or("a date or time that does not exist"),
            Some(toml::value::Offset::Z) => 0,
            Some(toml::value::Offset::Custom { minutes }) => i32::from(minutes),
        };
        let offset = Offset::from_seconds(minutes * 60).map_err(|_| "an offset from UTC that does not exist")?;
        let at = offset.to_timestamp(civil).map_err(|_| "a date or time that does not exist")?;
        Ok(Self { at, zoned: true })
    }

    /// As TOML and RFC 3339 write it: with `Z` where the offset was known, else without.
    pub(crate) fn to_toml(self) -> String {
        let text = self.at.to_string();
        if self.zoned { text } else { text.trim_end_matches('Z').to_owned() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Start, &'static str> {
        Start::from_toml(&text.parse().unwrap())
    }

    /// RFC 3339, section 5.8, gives these as examples of one and the same instant.
    #[test]
    fn offsets_follow_rfc_3339() {
        let west = read("1996-12-19T16:39:57-08:00").unwrap();
        let utc = read("1996-12-20T00:39:57Z").unwrap();
        assert_eq!(west, utc);
        assert_eq!(utc.to_toml(), "1996-12-20T00:39:57Z");
    }

    #[test]
    fn time_without_offset_is_taken_as_it_stands() {
        let local = read("2026-03-14 19:02:00").unwrap();
        assert!(!local.zoned);
        assert_eq!(local.at.to_string(), "2026-03-14T19:02:00Z");
        assert_eq!(local.to_toml(), "2026-03-14T19:02:00");
        assert_eq!(read("2026-03-14"), Err("a date without its time"));
        assert_eq!(read("19:02:00"), Err("a time without its date"));
    }
}
