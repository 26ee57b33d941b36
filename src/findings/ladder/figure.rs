//! The figure of a ladder: what is left after each remedy, what each step bought, the carriers that stayed.

use crate::findings::ladder::drawing::{LadderBar, LadderFigure};
use crate::findings::ladder::drawing_carriers::CarrierTrace;
use crate::findings::ladder::result::Ladder;
use crate::report::contract::Report;
use crate::text::capital;
use crate::warning::Trust;

/// Of one device in one setting.
pub(crate) fn figure(ladder: &Ladder, report: &Report) -> LadderFigure {
    let contrast = |id: &str| report.contrasts.iter().find(|c| c.id == id);
    let first = ladder.steps.first().and_then(|step| step.excess_db);
    let last = ladder.steps.last().and_then(|step| step.excess_db);
    let title = match (first, last) {
        (Some(first), Some(last)) => {
            format!("{}: from {first:.1} to {last:.1} dB of excess", capital(&ladder.device))
        }
        _ => format!("{}: excess left after each remedy", capital(&ladder.device)),
    };
    LadderFigure {
        title,
        subtitle: "Excess left after each remedy, with its 95 % interval".to_owned(),
        steps: ladder
            .steps
            .iter()
            .map(|step| LadderBar {
                label: step.remedy.clone().unwrap_or_else(|| "no remedy".to_owned()),
                excess: step
                    .excess_db
                    .zip(step.excess_ci_db)
                    .filter(|_| contrast(&step.contrast).is_some_and(|c| c.trust != Trust::Void))
                    .map(|(excess, [low, high])| (excess, low, high)),
                bought: step.bought_db.zip(step.bought_ci_db).map(|(bought, [low, high])| (bought, low, high)),
                doubtful: contrast(&step.contrast).is_some_and(|c| c.trust == Trust::Doubtful),
            })
            .collect(),
        detection_limit_db: ladder
            .steps
            .iter()
            .filter_map(|step| contrast(&step.contrast)?.detection_limit_db)
            .reduce(f64::max),
        carriers: ladder
            .carriers
            .iter()
            .map(|carrier| CarrierTrace {
                label: format!("{:.0} Hz", carrier.freq_hz),
                levels: carrier.steps.iter().map(|step| step.level_db).collect(),
            })
            .collect(),
    }
}
