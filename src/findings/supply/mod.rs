//! Whether another supply fits a device by its figures, and what else to be careful with before a remedy is tried.
//!
//! Here: the manifest's supplies and the words of devices and remedies; [`fit`] compares figures, `result` and
//! `words` are what is told of it. Not here: which words call for which caution (`crate::cautions`).

pub mod fit;
pub mod result;
pub(crate) mod words;

use crate::cautions::called_for;
use crate::findings::basis::Basis;
use crate::findings::supply::fit::{Plate, Problem, VOLTS_WITHIN, problems};
use crate::findings::supply::result::{Caution, SupplyCheck, SupplyVerdict};
use crate::labels::{Current, Polarity, SupplyLabel};

pub(crate) use words::{digest, for_each_device, verdicts};

/// Every supply of the manifest, checked.
pub fn of(basis: &Basis<'_>) -> Vec<SupplyCheck> {
    basis.session.listening.supplies.iter().map(supply).collect()
}

fn supply(label: &SupplyLabel) -> SupplyCheck {
    let alternating = |current: Option<Current>| current.map(|c| c == Current::Ac);
    let positive = |polarity: Option<Polarity>| polarity.map(|p| p == Polarity::CentrePositive);
    let wanted = Plate {
        volts: label.label_volts,
        amps: label.label_amps,
        alternating: alternating(label.label_current),
        centre_positive: positive(label.label_polarity),
    };
    let got = Plate {
        volts: label.supply_volts,
        amps: label.supply_amps,
        alternating: alternating(label.supply_current),
        centre_positive: positive(label.supply_polarity),
    };
    let found = problems(wanted, got, label.measured == Some(true), label.fuse_amps);
    let verdict = match found.as_slice() {
        [] => SupplyVerdict::Fits,
        all if all.iter().any(Problem::forbids) => SupplyVerdict::Stop,
        _ => SupplyVerdict::Check,
    };
    SupplyCheck { device: label.device.clone(), remedy: label.remedy.clone(), verdict, findings: sentences(&found) }
}

/// What is not told stands in one sentence.
fn sentences(found: &[Problem]) -> Vec<String> {
    let mut lines: Vec<String> = found.iter().filter_map(sentence).collect();
    let untold: Vec<&str> =
        found.iter().filter_map(|p| if let Problem::NotTold(what) = p { Some(*what) } else { None }).collect();
    if !untold.is_empty() {
        lines.push(format!(
            "Given for only one of label and supply, so not compared: {}. Find out before you connect it.",
            untold.join(", ")
        ));
    }
    lines
}

fn sentence(problem: &Problem) -> Option<String> {
    Some(match problem {
        Problem::Current => "One is DC and the other AC: do not connect it.".to_owned(),
        Problem::Polarity => "The polarity is reversed: do not plug it in. It may destroy the device.".to_owned(),
        Problem::Volts(label, supply) => format!(
            "The label says {label} V and the supply gives {supply} V, more than {:.0} % apart: do not connect it \
             unless the device's maker allows that voltage.",
            100.0 * VOLTS_WITHIN
        ),
        Problem::Amps(label, supply) => format!(
            "The label asks for {label} A and the supply delivers {supply} A: too little. It may overheat; do not \
             connect it."
        ),
        Problem::NoFuse(supply) => format!(
            "The supply can deliver {supply} A, and no fuse in the lead is named: put one close to the supply, rated for \
             the lead. A thin lead burns before such a supply gives up."
        ),
        Problem::FuseTooLarge(supply, fuse) => format!(
            "The fuse of {fuse} A is no smaller than the {supply} A the supply delivers, so it may never blow: take one \
             rated for the lead."
        ),
        Problem::FuseTooSmall(label, fuse) => {
            format!(
                "The fuse of {fuse} A is smaller than the {label} A on the label: it will blow. Never bridge it."
            )
        }
        Problem::NotMeasured => {
            "Voltage and polarity were not measured: measure both at the plug before it goes in.".to_owned()
        }
        Problem::NotTold(_) => return None,
    })
}

/// The cautions of every device with comparisons, in their order, each once.
pub fn cautions(basis: &Basis<'_>) -> Vec<Caution> {
    let mut found: Vec<Caution> = Vec::new();
    for contrast in basis.results {
        for about in called_for(&contrast.device, contrast.remedy.as_deref()) {
            let (device, Some(text)) = (&contrast.device, about.in_report()) else { continue };
            if !found.iter().any(|one| one.device == *device && one.about == about) {
                found.push(Caution { device: device.clone(), about, text: text.to_owned() });
            }
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_supply_that_does_not_fit_is_said_plainly() {
        let label = SupplyLabel {
            device: "aquarium lamp".into(),
            label_volts: Some(12.0),
            label_amps: Some(2.0),
            label_current: Some(Current::Dc),
            label_polarity: Some(Polarity::CentrePositive),
            supply_volts: Some(12.1),
            supply_amps: Some(3.0),
            supply_current: Some(Current::Dc),
            supply_polarity: Some(Polarity::CentrePositive),
            measured: Some(true),
            ..SupplyLabel::default()
        };
        let one = supply(&label);
        assert_eq!((one.verdict, one.findings.len()), (SupplyVerdict::Fits, 0));
        let reversed = supply(&SupplyLabel { supply_polarity: Some(Polarity::CentreNegative), ..label.clone() });
        assert_eq!(reversed.verdict, SupplyVerdict::Stop);
        assert!(reversed.findings[0].contains("do not plug it in"));
        let unmeasured = supply(&SupplyLabel { measured: None, label_amps: None, ..label });
        assert_eq!(unmeasured.verdict, SupplyVerdict::Check);
        assert_eq!(unmeasured.findings.len(), 2);
        assert!(unmeasured.findings[1].contains("the current"));
    }
}
