//! The digest's lines on ladders: what chokes do, what came to light.

use crate::findings::ladder::choke::ChokeVerdict;
use crate::findings::ladder::result::Ladder;
use crate::findings::ladder::unmasked::Origin;
use crate::text::{count, label, number};

/// What choke theory makes of its steps.
pub(crate) fn choke(ladder: &Ladder) -> Option<String> {
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

/// What came after a remedy.
pub(crate) fn appeared(ladder: &Ladder) -> Option<String> {
    let of = |origin| ladder.unmasked.iter().filter(|a| a.origin == origin).count();
    let (new, hidden) = (of(Origin::New), of(Origin::Unmasked));
    let told: Vec<String> = [(new, "new"), (hidden, "unmasked")]
        .iter()
        .filter(|(n, _)| *n > 0)
        .map(|(n, word)| format!("{} {word}", count(*n, "noise", "noises")))
        .collect();
    (!told.is_empty()).then(|| format!("{}: {} after a remedy", label(&ladder.device), told.join(", ")))
}
