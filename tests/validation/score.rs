//! The tables: right, wrong and missed by kind and excess; bias and coverage; calibration.

use std::fmt::Write;

use super::cases::{EXCESSES_DB, FADING, KINDS};
use super::judge::Judged;
use super::share::share as chance;
use super::targets::{Bound, Targets};

/// All tables of a run.
pub fn tables(judged: &[Judged], targets: &mut Targets) -> String {
    let mut text = String::new();
    if judged.is_empty() {
        return text;
    }
    by_kind(judged, &mut text);
    asked(judged, targets);
    parts(judged, &mut text);
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

/// The targets of the first table.
fn asked(judged: &[Judged], targets: &mut Targets) {
    let added = |least: f64, most: f64| move |j: &Judged| j.kind != "none" && (least..=most).contains(&j.excess_db);
    let right = Judged::is_right;
    targets.share_of("right at 3 dB or more", judged, added(3.0, f64::INFINITY), right, Bound::Least(97.0));
    targets.share_of("right at 1 dB", judged, added(1.0, 1.0), right, Bound::Least(85.0));
    let nothing = |fades: bool| move |j: &Judged| j.kind == "none" && (j.background == FADING) == fades;
    targets.share_of("nothing added: called none", judged, nothing(false), right, Bound::Least(99.0));
    // A band that rose or fell between the takes, as a real one does.
    let open = |j: &Judged| right(j) || j.called == "unclear";
    let claims = |j: &Judged| !open(j) && j.confidence > 0.7;
    let fading = |what: &str| format!("nothing added, a band that fades: {what}");
    targets.share_of(&fading("none or unclear"), judged, nothing(true), open, Bound::Least(95.0));
    targets.share_of(&fading("claim > 0.7 sure"), judged, nothing(true), claims, Bound::Most(2.0));
    let noise =
        |j: &Judged| j.stands() && j.excess.is_some() && matches!(j.kind, "none" | "hash" | "buzz" | "clicks");
    let covered = |j: &Judged| j.excess.is_some_and(|excess| excess.1);
    targets.share_of(
        "excess of noise: interval holds the truth",
        judged,
        noise,
        covered,
        Bound::Within(93.0, 97.0),
    );
}

/// What the shares of the targets consist of.
fn parts(judged: &[Judged], text: &mut String) {
    let share = |what: &str, keep: &dyn Fn(&&Judged) -> bool, text: &mut String| {
        let of: Vec<&Judged> = judged.iter().filter(keep).collect();
        let right = of.iter().filter(|j| j.is_right()).count();
        let _ = writeln!(text, "{what:44} {}", chance(right, of.len()));
    };
    let with_clicks = |j: &&Judged| j.kind == "mixed" && j.told.contains("clicks");
    let single = |j: &&Judged| j.kind != "none" && j.kind != "mixed";
    let _ = writeln!(text, "\nright at 3 dB or more");
    share("  single kinds", &|j| single(j) && j.excess_db >= 3.0, text);
    share(
        "  single kinds, plain background",
        &|j| single(j) && j.excess_db >= 3.0 && j.background == "plain",
        text,
    );
    share("  mixtures with clicks", &|j| with_clicks(j) && j.excess_db >= 3.0, text);
    share("  other mixtures", &|j| j.kind == "mixed" && !with_clicks(j) && j.excess_db >= 3.0, text);
    let _ = writeln!(text, "nothing added: called none");
    share("  plain background", &|j| j.row == "none", text);
    share("  a station, crashes or a carrier", &|j| j.row == "none+structure" && j.background != FADING, text);
    share("  a band that fades", &|j| j.row == "none+structure" && j.background == FADING, text);
    let claimed = judged.iter().filter(|j| j.is_sure_and_wrong() && j.called != "none").count();
    let _ = writeln!(text, "{:44} {}", "sure, and the wrong kind", chance(claimed, judged.len()));
    let strong: Vec<&Judged> = judged.iter().filter(|j| j.kind != "none" && j.excess_db >= 3.0).collect();
    let missed = strong.iter().filter(|j| j.is_sure_and_wrong() && j.called == "none").count();
    let _ = writeln!(text, "{:44} {}", "sure, and called none at 3 dB or more", chance(missed, strong.len()));
}

fn excess(judged: &[Judged], text: &mut String) {
    let _ = writeln!(
        text,
        "\nexcess where the trust stands (lines left out)    n   median err   95 % within   covered"
    );
    let noise = |j: &&Judged| matches!(j.kind, "none" | "hash" | "buzz" | "clicks");
    for (what, keep) in [
        ("plain background", &(|j: &&Judged| j.background == "plain") as &dyn Fn(&&Judged) -> bool),
        ("cw or carrier", &|j| matches!(j.background, "cw" | "carrier")),
        ("voice", &|j| j.background == "voice"),
        ("crashes", &|j| j.background == "crashes"),
        ("fading", &|j| j.background == FADING),
        ("hash, plain", &|j| j.background == "plain" && j.kind == "hash"),
        ("buzz, plain", &|j| j.background == "plain" && j.kind == "buzz"),
        ("clicks, plain", &|j| j.background == "plain" && j.kind == "clicks"),
        ("all", &|_| true),
    ] {
        let of: Vec<(f64, bool)> =
            judged.iter().filter(noise).filter(|j| j.stands() && keep(j)).filter_map(|j| j.excess).collect();
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
