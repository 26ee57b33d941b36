//! A report read back from its folder, whoever has had it in between: what is no report of ours, of another layout,
//! cut short, or edited so that it contradicts itself is refused by name. Not here: what is done with it.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::Read;
use std::path::{Component, Path, PathBuf};

use serde::Deserialize;
use serde_json::Value;

use super::contract::Report;
use super::folder::MOST_BYTES;
use super::{REPORT_JSON, REPORT_MD};

/// The layout that is understood. Fields are only added to it, so that what else stands there is passed over.
const SCHEMA: u64 = 1;

/// A report and where it stood.
#[derive(Debug)]
pub struct Stored {
    /// The folder with its pictures.
    pub folder: PathBuf,
    /// The folder's own name.
    pub name: String,
    /// The report.
    pub report: Report,
}

/// Why a report can't be used.
#[derive(Debug, thiserror::Error)]
#[error("{}: {why}. Nothing was written.", file.display())]
pub struct Unusable {
    file: PathBuf,
    why: String,
}

/// The little that every `report.json` of ours has, of any version.
#[derive(Deserialize)]
struct Head {
    schema: u64,
    tool: HeadTool,
}

#[derive(Deserialize)]
struct HeadTool {
    name: String,
    version: String,
}

impl Unusable {
    /// The reason without the file's path.
    pub fn why(&self) -> &str {
        &self.why
    }
}

impl Stored {
    /// Reads `report.json` of a report's folder; the file itself may be named as well.
    ///
    /// # Errors
    /// [`Unusable`]: not there, no file, too large, not ours, another layout, cut short, or at odds with itself.
    pub fn read(path: &Path) -> Result<Self, Unusable> {
        let facts = fs::metadata(path).map_err(|cause| unusable(path, format!("can't be opened: {cause}")))?;
        let file = if facts.is_dir() { path.join(REPORT_JSON) } else { path.to_owned() };
        let report = read(&file).map_err(|why| unusable(&file, why))?;
        let folder = crate::disk::parent_of(&file).to_owned();
        let whole = folder.canonicalize().unwrap_or_else(|_| folder.clone());
        let name = whole.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
        Ok(Self { folder, name, report })
    }
}

fn unusable(file: &Path, why: String) -> Unusable {
    Unusable { file: file.to_owned(), why }
}

fn read(file: &Path) -> Result<Report, String> {
    let facts = fs::metadata(file).map_err(|cause| match cause.kind() {
        std::io::ErrorKind::NotFound => format!(
            "there is no such file, so this is no report's folder. A report's folder holds it beside {REPORT_MD}"
        ),
        _ => format!("can't be read: {cause}"),
    })?;
    // Opening a pipe would wait for ever.
    if !facts.is_file() {
        return Err("is no ordinary file".into());
    }
    let mut bytes = Vec::new();
    File::open(file)
        .and_then(|file| file.take(MOST_BYTES + 1).read_to_end(&mut bytes))
        .map_err(|cause| format!("can't be read: {cause}"))?;
    if bytes.len() as u64 > MOST_BYTES {
        return Err(format!("over {} MiB, which no report is", MOST_BYTES >> 20));
    }
    of_text(std::str::from_utf8(&bytes).map_err(|_| "is no UTF-8 text, so no report of noisetally")?)
}

/// The report that a text is.
fn of_text(text: &str) -> Result<Report, String> {
    let value: Value = serde_json::from_str(text).map_err(|cause| {
        let line = cause.line();
        match cause.classify() {
            serde_json::error::Category::Eof => format!("ends in the middle, in line {line}: it was cut short"),
            _ => format!("line {line} is not JSON, so this is no report of noisetally, or it was edited"),
        }
    })?;
    let head = Head::deserialize(&value).ok().filter(|head| head.tool.name == env!("CARGO_PKG_NAME"));
    let head = head.ok_or("is no report of noisetally")?;
    if head.schema != SCHEMA {
        return Err(format!(
            "is of layout {}, made by {} {}; this program reads layout {SCHEMA}. Make the report anew from its \
             recordings, or take the program it was made with",
            head.schema, head.tool.name, head.tool.version
        ));
    }
    if value.get("changes").is_some() {
        return Err("is what the command compare made of several reports; name these reports themselves".into());
    }
    if value.get("weeks").is_some() {
        return Err("is what the command weeks made of several reports; name these reports themselves".into());
    }
    let report: Report = serde_json::from_value(value).map_err(|cause| {
        format!(
            "made by {} {}, lacks or changes what every report has ({cause}): it was edited, or is of a version that \
             is not read any more",
            head.tool.name, head.tool.version
        )
    })?;
    match at_odds(&report) {
        Some(what) => Err(format!("{what}: it was edited")),
        None => Ok(report),
    }
}

/// What in a report contradicts another part of it.
fn at_odds(report: &Report) -> Option<String> {
    let settings: BTreeSet<&str> = report.settings.iter().map(|s| s.id.as_str()).collect();
    let recordings: BTreeSet<&str> = report.recordings.iter().map(|r| r.id.as_str()).collect();
    if settings.len() < report.settings.len() || recordings.len() < report.recordings.len() {
        return Some("two of its recordings or settings have one id".into());
    }
    for c in &report.contrasts {
        if !settings.contains(c.setting.as_str()) {
            return Some(format!("its comparison {} is of a setting it does not have", c.id));
        }
        if c.off.iter().chain(&c.on).any(|id| !recordings.contains(id.as_str())) {
            return Some(format!("its comparison {} names a recording it does not have", c.id));
        }
    }
    let episodes = report.episodes.iter().map(|episode| &episode.contrast);
    for c in report.contrasts.iter().chain(episodes) {
        if let (Some(excess), Some([low, high])) = (c.excess_db, c.excess_ci_db)
            && !(low..=high).contains(&excess)
        {
            return Some(format!("the excess of {} lies outside its own interval", c.id));
        }
    }
    // A name that leads out of the folder would have another file embedded.
    let leads_out = |file: &str| {
        let mut parts = Path::new(file).components();
        !matches!((parts.next(), parts.next()), (Some(Component::Normal(_)), None)) || file.contains(['/', '\\'])
    };
    report.figures.iter().any(|f| leads_out(&f.file)).then(|| "one of its pictures is no file beside it".into())
}

#[cfg(test)]
mod tests {
    use super::super::sample::{sample_night, sample_report};
    use super::super::{json, sample};
    use super::*;

    fn committed(name: &str) -> PathBuf {
        Path::new(env!("CARGO_MANIFEST_DIR")).join("reports").join(name)
    }

    /// What was committed by an earlier version reads back, and is written again with the same figures.
    #[test]
    fn a_committed_report_reads_back() {
        for name in ["pond-evening", "loft-evening", "shed-night"] {
            let stored = Stored::read(&committed(name)).unwrap();
            assert_eq!(stored.name, name);
            let text = fs::read_to_string(committed(name).join(REPORT_JSON)).unwrap();
            let before: Value = serde_json::from_str(&text).unwrap();
            let after: Value = serde_json::from_str(&json(&stored.report)).unwrap();
            assert_eq!(after["contrasts"].as_array(), before["contrasts"].as_array(), "{name}");
            assert_eq!(after["episodes"].as_array(), before["episodes"].as_array(), "{name}");
            assert_eq!(Stored::read(&committed(name).join(REPORT_JSON)).unwrap().report, stored.report);
        }
    }

    /// Fields are only added: a later version's are passed over.
    #[test]
    fn further_fields_are_passed_over() {
        let mut value: Value = serde_json::from_str(&json(&sample_report())).unwrap();
        value["later"] = serde_json::json!({"a": 1});
        value["contrasts"][0]["later"] = 1.into();
        assert_eq!(of_text(&value.to_string()).unwrap(), sample_report().published());
        assert!(of_text(&json(&sample_night())).is_ok());
    }

    #[test]
    fn what_is_no_report_is_refused_with_the_reason() {
        let whole = json(&sample::sample_report());
        let edited = |pointer: &str, to: Value| {
            let mut value: Value = serde_json::from_str(&whole).unwrap();
            *value.pointer_mut(pointer).unwrap() = to;
            value.to_string()
        };
        for (text, why) in [
            (whole[..whole.len() / 2].to_owned(), "was cut short"),
            (whole.replacen(':', ";", 1), "is not JSON"),
            ("{}".to_owned(), "is no report of noisetally"),
            (edited("/tool/name", "another".into()), "is no report of noisetally"),
            (edited("/schema", 2.into()), "is of layout 2"),
            (edited("/contrasts/0/excess_db", "much".into()), "it was edited"),
            (edited("/contrasts/0/trust", "certain".into()), "it was edited"),
            (edited("/contrasts/0/excess_db", 99.0.into()), "outside its own interval: it was edited"),
            (edited("/contrasts/0/setting", "s9".into()), "a setting it does not have: it was edited"),
            (edited("/contrasts/0/on/0", "r99".into()), "a recording it does not have: it was edited"),
            (edited("/figures/0/file", "../secret.png".into()), "no file beside it: it was edited"),
        ] {
            let told = of_text(&text).unwrap_err();
            assert!(told.contains(why), "{why}: {told}");
        }
        let gone = Stored::read(Path::new("nowhere")).unwrap_err().to_string();
        assert!(gone.starts_with("nowhere: can't be opened"), "{gone}");
        let dir = tempfile::tempdir().unwrap();
        let none = Stored::read(dir.path()).unwrap_err().to_string();
        assert!(none.contains("report.json: there is no such file"), "{none}");
    }
}
