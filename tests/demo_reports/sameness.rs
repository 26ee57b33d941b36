//! The rule by which a report made again is held against the committed one.
//!
//! Processors and compilers differ in the last bits of a logarithm, so a report is compared as a reader would:
//! every word equal, every whole number equal (8 carriers are not 9), every other number equal within one unit of
//! its last printed digit, or, in JSON and CSV, within the step it was rounded to.

use serde_json::Value;

/// Room for the binary representation of decimal steps: 10.6 − 10.5 is a little more than 0.1.
const SLACK: f64 = 1.000_001;

/// A number as it is printed: its value and its digits after the point.
fn number(token: &str) -> Option<(f64, i32)> {
    let plain = token.replace('\u{2212}', "-");
    let (mantissa, exponent) = plain.split_once('e').unwrap_or((&plain, "0"));
    let decimals = mantissa.split_once('.').map_or(0, |(_, digits)| digits.len() as i32);
    let exponent: i32 = exponent.parse().ok()?;
    let starts_right = mantissa.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '-' | '+'));
    let value: f64 = plain.parse().ok().filter(|_| starts_right)?;
    Some((value, decimals - exponent))
}

/// The words and numbers of a line; what stands around a number (brackets, a stop) is a token of its own.
fn tokens(line: &str) -> Vec<String> {
    let spaced: String = line
        .chars()
        .flat_map(|c| match c {
            '(' | ')' | '|' | ',' | ';' | ':' | '\u{2013}' | '±' => vec![' ', c, ' '],
            c => vec![c],
        })
        .collect();
    spaced
        .split_whitespace()
        .flat_map(|token| match token.strip_suffix('.') {
            Some(bare) => vec![bare.to_owned(), ".".to_owned()],
            None => vec![token.to_owned()],
        })
        .collect()
}

/// Whether two texts are equal by the rule above; else the first difference.
pub fn same_text(old: &str, new: &str) -> Result<(), String> {
    let (old_lines, new_lines): (Vec<&str>, Vec<&str>) = (old.lines().collect(), new.lines().collect());
    for (index, (old, new)) in old_lines.iter().zip(&new_lines).enumerate() {
        let (a, b) = (tokens(old), tokens(new));
        if a.len() != b.len() || !a.iter().zip(&b).all(|(a, b)| same_token(a, b)) {
            return Err(format!("line {}:\n  committed: {old}\n  made:      {new}", index + 1));
        }
    }
    if old_lines.len() == new_lines.len() {
        Ok(())
    } else {
        Err(format!("{} lines committed, {} made", old_lines.len(), new_lines.len()))
    }
}

fn same_token(a: &str, b: &str) -> bool {
    if a == b {
        return true;
    }
    match (number(a), number(b)) {
        (Some((x, decimals)), Some((y, same))) if decimals == same && decimals > 0 => {
            (x - y).abs() <= SLACK * 10f64.powi(-decimals)
        }
        _ => false,
    }
}

/// The step to which figures of this name are rounded (`src/report/publish.rs`).
fn step(name: &str) -> f64 {
    match name {
        "rf_khz" => 0.0001,
        _ if ["share", "presence", "confidence", "drift", "spacing", "dial"]
            .iter()
            .any(|n| name.starts_with(n)) =>
        {
            0.001
        }
        "comb_spacing_hz" => 0.001,
        _ => 0.01,
    }
}

pub fn same_figure(name: &str, a: f64, b: f64) -> bool {
    (a - b).abs() <= SLACK * step(name)
}

/// Every difference between two JSON values, with the way to it. `name`: the field that holds them.
pub fn differences(at: &str, name: &str, old: &Value, new: &Value, found: &mut Vec<String>) {
    match (old, new) {
        (Value::Object(a), Value::Object(b)) => {
            if !a.keys().eq(b.keys()) {
                found.push(format!("{at}: fields {:?} and {:?}", a.keys(), b.keys()));
            }
            for (name, old) in a {
                if let Some(new) = b.get(name) {
                    differences(&format!("{at}.{name}"), name, old, new, found);
                }
            }
        }
        (Value::Array(a), Value::Array(b)) => {
            if a.len() != b.len() {
                found.push(format!("{at}: {} and {} values", a.len(), b.len()));
            }
            for (index, (old, new)) in a.iter().zip(b).enumerate() {
                differences(&format!("{at}[{index}]"), name, old, new, found);
            }
        }
        (Value::Number(a), Value::Number(b)) if a.is_f64() && b.is_f64() => {
            if !same_figure(name, a.as_f64().unwrap(), b.as_f64().unwrap()) {
                found.push(format!("{at}: {a} and {b}"));
            }
        }
        (Value::String(a), Value::String(b)) => {
            if let Err(difference) = same_text(a, b) {
                found.push(format!("{at}: {difference}"));
            }
        }
        _ if old == new => {}
        _ => found.push(format!("{at}: {old} and {new}")),
    }
}

#[test]
fn the_rule_of_comparison_lets_last_digits_pass_and_nothing_else() {
    for (old, new) in [
        ("rises by 13.9 dB (13.8 to 14.0).", "rises by 13.9 dB (13.9 to 14.0)."),
        ("| \u{2212}65.7 |", "| \u{2212}65.8 |"),
        ("1318.0 Hz", "1318.1 Hz"),
        ("probability of 3.6e-12", "probability of 3.7e-12"),
        ("-0.1", "0.0"),
    ] {
        same_text(old, new).unwrap();
    }
    for (old, new) in [
        ("rises by 13.9 dB", "rises by 14.1 dB"),
        ("rises by 13.9 dB", "falls by 13.9 dB"),
        ("13.9", "13.90"),
        ("a family of 8 carriers", "a family of 9 carriers"),
        ("01-off.wav", "02-off.wav"),
        ("probability of 3.6e-12", "probability of 3.6e-11"),
        ("one line", "one line\nand another"),
        ("(95 %)", "95 %"),
    ] {
        same_text(old, new).unwrap_err();
    }
    let compare = |old: &str, new: &str| {
        let mut found = Vec::new();
        let (old, new) = (serde_json::from_str(old).unwrap(), serde_json::from_str(new).unwrap());
        differences("", "", &old, &new, &mut found);
        found.len()
    };
    assert_eq!(compare(r#"{"level_db": -31.20, "share": 0.5}"#, r#"{"level_db": -31.21, "share": 0.501}"#), 0);
    assert_eq!(compare(r#"{"level_db": -31.20, "share": 0.5}"#, r#"{"level_db": -31.22, "share": 0.503}"#), 2);
    assert_eq!(compare(r#"{"channels": 1, "comb": null}"#, r#"{"channels": 2, "comb": 1.0}"#), 2);
    assert_eq!(compare(r#"{"a": [1.0, 2.0]}"#, r#"{"b": [1.0]}"#), 1);
}
