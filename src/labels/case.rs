//! What recordings can't tell of a case: who, where, since when. Personal, so that it is read for the sheets of the
//! command `handout` alone, from a manifest named for that; no session, and so no report, holds any of it.

use std::path::Path;

use super::error::SessionError;
use super::read::manifest_text;
use super::{MANIFEST, manifest};

/// The table `[case]`, in the user's words; what is left out stays an empty line on the sheet.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Case {
    /// Who reports.
    pub name: Option<String>,
    /// How to reach them.
    pub contact: Option<String>,
    /// Where the antenna stands.
    pub address: Option<String>,
    /// Since when the noise is there.
    pub since: Option<String>,
    /// Days, hours and lengths.
    pub times: Option<String>,
    /// Where it comes from, by a turned antenna or a portable receiver.
    pub direction: Option<String>,
    /// How the own house was ruled out.
    pub own_house_ruled_out: Option<String>,
    /// Other services it hits.
    pub services_hit: Option<String>,
    /// Anything else.
    pub note: Option<String>,
}

impl Case {
    /// The `[case]` of a manifest, or of the one in a folder; `None` where that has none.
    ///
    /// # Errors
    /// No manifest there, one that can't be read, or one with mistakes, each with its line.
    pub fn read(path: &Path) -> Result<Option<Self>, SessionError> {
        let path = if path.is_dir() { path.join(MANIFEST) } else { path.to_owned() };
        let Some(text) = manifest_text(&path)? else {
            let reason = "there is no such manifest".to_owned();
            return Err(SessionError::Unreadable { path, reason });
        };
        match manifest::parse(&text) {
            Ok(read) => Ok(read.case),
            Err(faults) => Err(SessionError::Manifest { path, faults }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Option<Case>, SessionError> {
        let dir = tempfile::tempdir().unwrap();
        std::fs::write(dir.path().join(MANIFEST), text).unwrap();
        Case::read(dir.path())
    }

    #[test]
    fn a_case_is_read_and_mistakes_are_told_at_their_line() {
        let case = read("[case]\nsince = \"May\"\naddress = \"a\\nb\"\nname = \"\"\n").unwrap().unwrap();
        assert_eq!((case.since.as_deref(), case.address.as_deref(), case.name), (Some("May"), Some("a\nb"), None));
        assert_eq!(read("title = \"x\"\n").unwrap(), None);
        for (text, why) in [
            ("[case]\nsinse = \"May\"\n", "line 2"),
            ("[case]\nsinse = \"May\"\n", "did you mean `since`?"),
            ("[case]\nsince = 2025\n", "words in quotes"),
            ("case = 1\n", "`case` is a group of fields"),
            ("[case]\nname = \"a\u{202e}b\"\n", "can't be shown"),
        ] {
            let told = read(text).unwrap_err().to_string();
            assert!(told.contains(why), "{why}: {told}");
        }
        assert!(Case::read(Path::new("nowhere.toml")).unwrap_err().to_string().contains("no such manifest"));
    }
}
