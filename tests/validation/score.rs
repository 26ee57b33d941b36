//! The tables: right, wrong and missed by kind and excess; bias and coverage; calibration.

use std::fmt::Write;

use super::cases::{EXCESSES_DB, KINDS};
use super::judge::Judged;
use super::share::share as chance;
use noisetally::warning::Trust;

/// All tables of a run.
pub fn tables(judged: &[Judged]) -> String {
    let mut text = String::new();
    if judged.is_empty() {
        return text;
    }
    by_kind(judged, &mut text);
    targets(judged, &mut text);
    missed(judged, &mut text);
    excess(judged, &mut text);
    lines(judged, &mut text);
    calibration(judged, &mut text);
    text
}

fn by_kind(judged: &[Judged], text: &mut String) {
    let _ = writeln!(text, "\nright / wrong / called none, by excess in dB (lines: excess in total)");
    let _ = write!(text, "{:16}", "kind");
    EXCESSES_DB.iter().for_each(|excess| {
        let _ = write!(text, "{excess:>13}");
    });
    let _ = writeln!(text);
    for row in KINDS.into_iter().filter(|row| judged.iter().any(|j| j.row == *row)) {
        let _ = write!(text, "{row:16}");
        if row.starts_with("none") {
            let of: Vec<&Judged> = judged.iter().filter(|j| j.row == row).collect();
            let right = of.iter().filter(|j| j.is_right()).count();
            let _ = writeln!(text, "   called none {}", chance(right, of.len()));
            continue;
        }
        for excess in EXCESSES_DB {
            let of: Vec<&Judged> = judged.iter().filter(|j| j.row == row && j.excess_db == excess).collect();
            let right = of.iter().filter(|j| j.is_right()).count();
            let none = of.iter().filter(|j| j.called == "none").count();
            let _ = write!(text, "{:>13}", format!("{right}/{}/{none}", of.len() - right - none));
        }
        let _ = writeln!(text);
    }
}

fn targets(judged: &[Judged], text: &mut String) {
    let share = |what: &str, keep: &dyn Fn(&&Judged) -> bool, text: &mut String| {
        let of: Vec<&Judged> = judged.iter().filter(keep).collect();
        let right = of.iter().filter(|j| j.is_right()).count();
        let _ = writeln!(text, "{what:44} {}", chance(right, of.len()));
    };
    let _ = writeln!(text, "\nagainst the targets");
    let with_clicks = |j: &&Judged| j.kind == "mixed" && j.told.contains("clicks");
    let single = |j: &&Judged| j.kind != "none" && j.kind != "mixed";
    share("right at 3 dB or more (97 %)", &|j| j.kind != "none" && j.excess_db >= 3.0, text);
    share("  of these single kinds", &|j| single(j) && j.excess_db >= 3.0, text);
    share(
        "  of these single kinds, plain background",
        &|j| single(j) && j.excess_db >= 3.0 && j.background == "plain",
        text,
    );
    share("  of these mixtures with clicks", &|j| with_clicks(j) && j.excess_db >= 3.0, text);
    share("  of these other mixtures", &|j| j.kind == "mixed" && !with_clicks(j) && j.excess_db >= 3.0, text);
    share("right at 1 dB (85 %)", &|j| j.kind != "none" && j.excess_db == 1.0, text);
    share("nothing added: called none (99 %)", &|j| j.kind == "none", text);
    share("  plain background", &|j| j.row == "none", text);
    share("  a station, crashes or a carrier", &|j| j.row == "none+structure" && j.background != "fading", text);
    share("  a band that fades", &|j| j.row == "none+structure" && j.background == "fading", text);
    let sure_wrong = judged
        .iter()
        .filter(|j| !j.is_right() && j.called != "none" && j.confidence > 0.9 && j.trust == Trust::Sound);
    let _ = writeln!(
        text,
        "{:44} {}",
        "sound, wrong kind and more than 0.9 sure",
        chance(sure_wrong.count(), judged.len())
    );
}

fn missed(judged: &[Judged], text: &mut String) {
    let strong: Vec<&Judged> = judged.iter().filter(|j| j.kind != "none" && j.excess_db >= 3.0).collect();
    let sure = strong.iter().filter(|j| j.called == "none" && j.confidence > 0.9 && j.trust == Trust::Sound);
    let _ = writeln!(
        text,
        "{:44} {}",
        "sound, called none, over 0.9 sure, at 3 dB",
        chance(sure.count(), strong.len())
    );
}

fn excess(judged: &[Judged], text: &mut String) {
    let _ = writeln!(
        text,
        "\nexcess where trust is sound (lines left out)      n   median err   95 % within   covered"
    );
    let noise = |j: &&Judged| matches!(j.kind, "none" | "hash" | "buzz" | "clicks");
    for (what, keep) in [
        ("plain background", &(|j: &&Judged| j.background == "plain") as &dyn Fn(&&Judged) -> bool),
        ("cw or carrier", &|j| matches!(j.background, "cw" | "carrier")),
        ("voice", &|j| j.background == "voice"),
        ("crashes", &|j| j.background == "crashes"),
        ("fading", &|j| j.background == "fading"),
        ("hash, plain", &|j| j.background == "plain" && j.kind == "hash"),
        ("buzz, plain", &|j| j.background == "plain" && j.kind == "buzz"),
        ("clicks, plain", &|j| j.background == "plain" && j.kind == "clicks"),
        ("all", &|_| true),
    ] {
        let of: Vec<(f64, bool)> = judged
            .iter()
            .filter(noise)
            .filter(|j| j.trust == Trust::Sound)
            .filter(|j| keep(j))
            .filter_map(|j| j.excess)
            .collect();
        if of.is_empty() {
            continue;
        }
        let mut errors: Vec<f64> = of.iter().map(|e| e.0).collect();
        errors.sort_by(f64::total_cmp);
        let mut sizes: Vec<f64> = errors.iter().map(|e| e.abs()).collect();
        sizes.sort_by(f64::total_cmp);
        let covered = of.iter().filter(|e| e.1).count();
        let _ = writeln!(
            text,
            "  {what:36} {:>11} {:>+12.3} {:>13.3}   {}",
            of.len(),
            errors[errors.len() / 2],
            sizes[(sizes.len() * 95 / 100).min(sizes.len() - 1)],
            chance(covered, of.len())
        );
    }
}

fn lines(judged: &[Judged], text: &mut String) {
    let found: Vec<(f64, f64)> = judged.iter().filter_map(|j| j.line).collect();
    if found.is_empty() {
        return;
    }
    let mut ratios: Vec<f64> = found.iter().map(|f| f.0).collect();
    ratios.sort_by(f64::total_cmp);
    let within = ratios.iter().filter(|ratio| **ratio <= 3.0).count();
    let mut levels: Vec<f64> = found.iter().map(|f| f.1.abs()).collect();
    levels.sort_by(f64::total_cmp);
    let _ = writeln!(
        text,
        "\nsteady carriers: frequency within 3 bounds   {}\n  median {:.2} bounds; level error: median {:.2}, 95 % {:.2} dB",
        chance(within, ratios.len()),
        ratios[ratios.len() / 2],
        levels[levels.len() / 2],
        levels[levels.len() * 95 / 100]
    );
}

fn calibration(judged: &[Judged], text: &mut String) {
    let _ = writeln!(text, "\nconfidence       share right");
    for (low, high) in [(0.0, 0.5), (0.5, 0.6), (0.6, 0.7), (0.7, 0.8), (0.8, 0.9), (0.9, 0.95), (0.95, 1.01)] {
        let of: Vec<&Judged> = judged.iter().filter(|j| (low..high).contains(&j.confidence)).collect();
        let right = of.iter().filter(|j| j.is_right()).count();
        let _ = writeln!(text, "{low:.2} to {:.2}     {}", f64::min(high, 1.0), chance(right, of.len()));
    }
}
