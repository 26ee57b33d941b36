//! Whether the supply that is to feed a device fits the device's label: voltage, current, kind of current,
//! polarity. Compares figures that others read and measured; a supply that fits on paper is no leave to open
//! anything. Not here: where the figures come from (`check`), cautions without figures (`cautions`).

/// How far the supply's voltage may lie from the label's: 5 % (common practice for regulated supplies).
pub const VOLTS_WITHIN: f64 = 0.05;
/// From here on a supply can set a thin lead on fire, A (common practice).
pub const HIGH_CURRENT_A: f64 = 10.0;

/// What is wrong, or not known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Problem {
    /// Direct against alternating current.
    Current,
    /// The plug's contacts are the other way round.
    Polarity,
    /// The supply's voltage is too far from the label's: (label, supply), V.
    Volts(f64, f64),
    /// The supply can't deliver what the label asks: (label, supply), A.
    Amps(f64, f64),
    /// The fuse is smaller than what the device draws: (label, fuse), A.
    FuseTooSmall(f64, f64),
    /// The fuse is no smaller than what the supply can deliver, so it may never blow: (supply, fuse), A.
    FuseTooLarge(f64, f64),
    /// The supply delivers this many A, and no fuse in the lead is named.
    NoFuse(f64),
    /// Voltage and polarity at the plug were not measured.
    NotMeasured,
    /// This part of the comparison is not known.
    NotTold(&'static str),
}

impl Problem {
    /// Whether the supply must not be connected.
    pub fn forbids(&self) -> bool {
        matches!(self, Self::Current | Self::Polarity | Self::Volts(..) | Self::Amps(..))
    }
}

/// One side's figures; `None`: not told.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Plate {
    /// Voltage, V.
    pub volts: Option<f64>,
    /// Current: what a device draws, what a supply can deliver, A.
    pub amps: Option<f64>,
    /// Whether the current alternates.
    pub alternating: Option<bool>,
    /// Whether the plug's centre is positive; of no meaning where the current alternates.
    pub centre_positive: Option<bool>,
}

/// Everything that speaks against connecting `supply` to the device of `label`, worst first; empty: it fits.
pub fn problems(label: Plate, supply: Plate, measured: bool, fuse_amps: Option<f64>) -> Vec<Problem> {
    let mut found = Vec::new();
    let both = |a: Option<f64>, b: Option<f64>| a.zip(b);
    if label.alternating.zip(supply.alternating).is_some_and(|(a, b)| a != b) {
        found.push(Problem::Current);
    }
    if label.centre_positive.zip(supply.centre_positive).is_some_and(|(a, b)| a != b) {
        found.push(Problem::Polarity);
    }
    if let Some((wanted, got)) = both(label.volts, supply.volts)
        && (got - wanted).abs() > VOLTS_WITHIN * wanted * (1.0 + 1e-9)
    {
        found.push(Problem::Volts(wanted, got));
    }
    if let Some((wanted, got)) = both(label.amps, supply.amps)
        && got < wanted
    {
        found.push(Problem::Amps(wanted, got));
    }
    if let Some(supply_amps) = supply.amps.filter(|amps| *amps >= HIGH_CURRENT_A) {
        match fuse_amps {
            None => found.push(Problem::NoFuse(supply_amps)),
            Some(fuse) if fuse >= supply_amps => found.push(Problem::FuseTooLarge(supply_amps, fuse)),
            Some(_) => {}
        }
    }
    if let Some((wanted, fuse)) = both(label.amps, fuse_amps)
        && fuse < wanted
    {
        found.push(Problem::FuseTooSmall(wanted, fuse));
    }
    if !measured {
        found.push(Problem::NotMeasured);
    }
    found.extend(untold(label, supply));
    found
}

fn untold(label: Plate, supply: Plate) -> Vec<Problem> {
    // The polarity of an alternating current is nothing that could be told.
    let direct = label.alternating != Some(true) && supply.alternating != Some(true);
    let lacks = [
        (label.volts.is_none() || supply.volts.is_none(), "the voltage"),
        (label.amps.is_none() || supply.amps.is_none(), "the current"),
        (label.alternating.is_none() || supply.alternating.is_none(), "whether it is DC or AC"),
        (direct && (label.centre_positive.is_none() || supply.centre_positive.is_none()), "the polarity"),
    ];
    lacks.into_iter().filter(|(lacks, _)| *lacks).map(|(_, what)| Problem::NotTold(what)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const LABEL: Plate =
        Plate { volts: Some(12.0), amps: Some(2.0), alternating: Some(false), centre_positive: Some(true) };

    /// What fits and what does not is plain comparison; the 5 % are common practice.
    #[test]
    fn a_supply_is_held_against_the_label() {
        let fits = Plate { volts: Some(12.3), amps: Some(3.0), ..LABEL };
        assert_eq!(problems(LABEL, fits, true, None), []);
        for (supply, problem) in [
            (Plate { alternating: Some(true), ..fits }, Problem::Current),
            (Plate { centre_positive: Some(false), ..fits }, Problem::Polarity),
            (Plate { volts: Some(13.8), ..fits }, Problem::Volts(12.0, 13.8)),
            (Plate { volts: Some(11.3), ..fits }, Problem::Volts(12.0, 11.3)),
            (Plate { amps: Some(1.5), ..fits }, Problem::Amps(2.0, 1.5)),
        ] {
            let found = problems(LABEL, supply, true, None);
            assert_eq!(found, [problem]);
            assert!(problem.forbids());
        }
        assert_eq!(problems(LABEL, Plate { volts: Some(12.6), ..fits }, true, None), [], "5 % just fit");
    }

    #[test]
    fn what_was_not_measured_or_told_is_said() {
        assert_eq!(problems(LABEL, LABEL, false, None), [Problem::NotMeasured]);
        let found = problems(Plate::default(), LABEL, true, None);
        assert_eq!(found.len(), 4);
        assert!(found.iter().all(|p| matches!(p, Problem::NotTold(_)) && !p.forbids()));
        let ac = Plate { alternating: Some(true), centre_positive: None, ..LABEL };
        assert_eq!(problems(ac, ac, true, None), [], "alternating current has no polarity");
    }

    #[test]
    fn a_supply_of_many_amperes_wants_a_fuse() {
        let strong = Plate { amps: Some(20.0), ..LABEL };
        assert_eq!(problems(LABEL, strong, true, None), [Problem::NoFuse(20.0)]);
        assert_eq!(problems(LABEL, strong, true, Some(3.0)), []);
        assert_eq!(problems(LABEL, strong, true, Some(25.0)), [Problem::FuseTooLarge(20.0, 25.0)]);
        assert_eq!(problems(LABEL, strong, true, Some(1.0)), [Problem::FuseTooSmall(2.0, 1.0)]);
        assert_eq!(problems(LABEL, Plate { amps: Some(9.9), ..LABEL }, true, None), []);
    }
}
