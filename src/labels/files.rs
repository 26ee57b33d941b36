//! The audio files of a folder, by their names alone, in natural order.

use std::io;
use std::path::{Path, PathBuf};

use super::key;
use super::printable::printable;

/// Extensions by which a file counts as a recording, small letters. Whether it can be decoded is seen later: a
/// format that can't be read is named with its reason, and not passed over in silence.
pub const AUDIO_EXTENSIONS: &[&str] = &[
    "wav", "wave", "bwf", "rf64", "w64", "aif", "aiff", "aifc", "caf", "au", "snd", "flac", "ogg", "oga", "opus",
    "mp1", "mp2", "mp3", "aac", "adts", "m4a", "m4b", "mp4", "alac", "webm", "mka", "mkv", "wma", "wv", "ape",
    "amr",
];

/// An audio file in the folder.
#[derive(Debug, Clone)]
pub(super) struct AudioFile {
    /// Its name; a name that is no Unicode has � in place of what can't be shown.
    pub name: String,
    /// Where to open it.
    pub path: PathBuf,
    /// Whether `name` is exactly the file's name.
    pub exact: bool,
}

/// The audio files of `dir` itself (no folders in it), without hidden ones, in natural order.
pub(super) fn audio_files(dir: &Path) -> io::Result<Vec<AudioFile>> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(dir)? {
        let entry = entry?;
        let os_name = entry.file_name();
        let name = os_name.to_string_lossy().into_owned();
        // Also folders, pipes and links that lead nowhere: whoever looks for one wants to hear why it was not used.
        // Nothing but plain files is ever opened.
        if !name.starts_with('.') && is_audio_name(&name) {
            let exact = os_name.to_str().is_some();
            found.push(AudioFile { name, path: entry.path(), exact });
        }
    }
    found.sort_by(|a, b| key::natural(&a.name, &b.name).then_with(|| a.path.cmp(&b.path)));
    Ok(found)
}

/// The folder's name, for the title.
pub(super) fn folder_name(dir: &Path) -> String {
    let whole = dir.canonicalize().unwrap_or_else(|_| dir.to_owned());
    whole.file_name().map_or_else(|| "Session".into(), |name| printable(&name.to_string_lossy()))
}

/// Whether the name ends in one of the known extensions, in any case of letters.
pub(super) fn is_audio_name(name: &str) -> bool {
    name.rsplit_once('.').is_some_and(|(stem, extension)| {
        !stem.is_empty() && AUDIO_EXTENSIONS.contains(&extension.to_ascii_lowercase().as_str())
    })
}

/// The name without its folders and its extension; of "lamp-on.mp3.wav", a converted file, without both.
pub(super) fn stem(file: &str) -> &str {
    let mut name = file.rsplit('/').next().unwrap_or(file);
    while is_audio_name(name) {
        name = name.rsplit_once('.').map_or("", |(stem, _)| stem);
    }
    name
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_visible_audio_files_count_and_in_natural_order() {
        let dir = tempfile::tempdir().unwrap();
        for name in
            ["10-on.wav", "2-on.FLAC", "1 off.Mp3", ".hidden.wav", "._1 off.wav", "notes.txt", "wav", ".wav"]
        {
            std::fs::write(dir.path().join(name), b"").unwrap();
        }
        std::fs::create_dir(dir.path().join("folder.wav")).unwrap();
        let names: Vec<_> = audio_files(dir.path()).unwrap().into_iter().map(|f| f.name).collect();
        assert_eq!(names, ["1 off.Mp3", "2-on.FLAC", "10-on.wav", "folder.wav"], "what is no file is named later");
    }

    #[test]
    fn stem_is_the_name_without_folder_and_extension() {
        assert_eq!(stem("takes/03.lamp on.v2.wav"), "03.lamp on.v2");
        assert_eq!(stem("no extension"), "no extension");
    }
}
