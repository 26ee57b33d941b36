//! What several comparisons together tell, in short lines for the post: steps, chokes, what came to light, shares.
//! Not here: the post's layout (`post`).

use crate::findings::budget::result::Stage;
use crate::findings::budget::shares::Balance;
use crate::findings::ladder::choke::ChokeVerdict;
use crate::findings::ladder::result::Ladder;
use crate::findings::ladder::unmasked::Origin;
use crate::report::contract::Report;
use crate::text::{count, label, number, percent};

/// Most devices named in a line of shares.
const MOST_SHARES: usize = 4;

/// One line each, plain, most telling first.
pub(crate) fn findings(report: &Report) -> Vec<String> {
    let mut told: Vec<String> = report.ladders.iter().filter_map(choke).collect();
    told.extend(shares(report, Stage::Before, "added power"));
    told.extend(shares(report, Stage::Now, "now"));
    told.extend(report.joint.iter().filter(|joint| joint.balance != Balance::AddsUp).map(|joint| {
        let names: Vec<String> = joint.devices.iter().map(|d| label(d)).collect();
        let how = if joint.balance == Balance::More { "louder" } else { "quieter" };
        format!("{}: {} dB {how} than their sum", names.join(" + "), number(joint.difference_db.abs(), 1))
    }));
    told.extend(report.ladders.iter().filter_map(appeared));
    told
}

fn choke(ladder: &Ladder) -> Option<String> {
    let fit = ladder.choke_fit.as_ref()?;
    let device = label(&ladder.device);
    let what = match fit.verdict {
        ChokeVerdict::NoUse => "ferrite on this lead can't help".to_owned(),
        ChokeVerdict::Flattens => "more ferrite here would buy little".to_owned(),
        ChokeVerdict::Worse => "ferrite made it worse".to_owned(),
        ChokeVerdict::Fits => {
            let f = fit.forecasts.first()?;
            let [low, high] = f.attenuation_range_db;
            format!("{} ferrites would take off another {} to {} dB", f.ferrites, number(low, 1), number(high, 1))
        }
        ChokeVerdict::Unsure | ChokeVerdict::PoorFit => return None,
    };
    Some(format!("{device}: {what}"))
}

fn shares(report: &Report, stage: Stage, name: &str) -> Option<String> {
    let first = report.budget.iter().find(|e| e.stage == stage)?;
    let of = report.budget.iter().filter(|e| e.stage == stage && e.setting == first.setting).take(MOST_SHARES);
    let told: Vec<String> = of.map(|e| format!("{} {}", label(&e.device), percent(e.share))).collect();
    Some(format!("{name}: {}", told.join(", ")))
}

fn appeared(ladder: &Ladder) -> Option<String> {
    let of = |origin| ladder.unmasked.iter().filter(|a| a.origin == origin).count();
    let (new, hidden) = (of(Origin::New), of(Origin::Unmasked));
    let told: Vec<String> = [(new, "new"), (hidden, "unmasked")]
        .iter()
        .filter(|(n, _)| *n > 0)
        .map(|(n, word)| format!("{} {word}", count(*n, "noise", "noises")))
        .collect();
    (!told.is_empty()).then(|| format!("{}: {} after a remedy", label(&ladder.device), told.join(", ")))
}
