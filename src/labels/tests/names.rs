//! The table of names: what a folder's names are read as, by the session a user gets.

use super::folder;
use crate::labels::{Fields, Session};

/// A folder of the table: each name with what it must be read as.
type Block = Vec<(String, String)>;

fn blocks() -> Vec<Block> {
    let mut blocks: Vec<Block> = vec![Vec::new()];
    for line in include_str!("names.txt").lines().filter(|line| !line.starts_with('#')) {
        match line.split_once(" => ") {
            Some((name, told)) => blocks.last_mut().unwrap().push((unescaped(name), unescaped(told))),
            None => blocks.push(Vec::new()),
        }
    }
    blocks.into_iter().filter(|block| !block.is_empty()).collect()
}

/// `\u{308}` as the mark it stands for: an editor would compose it.
fn unescaped(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once("\\u{") {
        let (code, behind) = after.split_once('}').unwrap();
        out.push_str(before);
        out.push(char::from_u32(u32::from_str_radix(code, 16).unwrap()).unwrap());
        rest = behind;
    }
    out + rest
}

/// What a session takes a file for, in one line.
fn told(session: Option<&Session>, file: &str) -> String {
    let Some(label) = session.and_then(|s| s.recordings.iter().find(|r| r.file == file)) else { return "?".into() };
    let Fields { device, remedy, order, ferrites, turns, dial_khz, band, mode, bandwidth_hz, .. } = &label.fields;
    let mut out = label.state.word().to_owned();
    let mut add = |name: &str, value: Option<String>| {
        out.extend(value.map(|value| format!(" {name}={value}")));
    };
    add("dev", device.clone());
    add("rem", remedy.clone());
    add("n", order.map(|v| v.to_string()));
    add("fer", ferrites.map(|v| v.to_string()));
    add("turns", turns.map(|v| v.to_string()));
    add("dial", dial_khz.map(|v| v.to_string()));
    add("band", band.clone());
    add("mode", mode.map(|v| v.to_string()));
    add("bw", bandwidth_hz.map(|v| v.to_string()));
    out
}

#[test]
fn names_are_read_as_people_mean_them() {
    let (mut names, mut wrong) = (0, Vec::new());
    for block in blocks() {
        let files: Vec<&str> = block.iter().map(|(file, _)| file.as_str()).collect();
        let dir = folder(&files, "");
        let session = Session::read(dir.path()).ok();
        for (file, expected) in &block {
            names += 1;
            let read = told(session.as_ref(), file);
            if read != *expected {
                wrong.push(format!("{file}: read as `{read}`, means `{expected}`"));
            }
        }
    }
    assert!(names >= 150, "{names}");
    assert!(wrong.is_empty(), "{} of {names} are right; not these:\n{}", names - wrong.len(), wrong.join("\n"));
}
