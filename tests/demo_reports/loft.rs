//! What the report says of the loft's evening, held against what it was made with (the constants of
//! `src/demo/loft.rs`; invented, and known by construction).

use super::{LOFT, text};
use noisetally::report::contract::Report;

#[test]
fn what_is_said_of_the_loft_is_so() {
    let report: Report = serde_json::from_str(&text(LOFT.made(), "report.json")).unwrap();
    let excess = |device: &str, remedy: Option<&str>| {
        let found = report.contrasts.iter().find(|c| c.device == device && c.remedy.as_deref() == remedy);
        found.and_then(|c| c.excess_db).unwrap_or_else(|| panic!("{device}, {remedy:?}"))
    };
    let near = |found: f64, truth: f64| assert!((found - truth).abs() < 0.3, "{found} is not {truth}");

    // A piece of ferrite has 0.9 times the lead's impedance: the device's own power falls by 20 lg(1 + 0.9 n) dB.
    let left = |pieces: f64| {
        let own = 10f64.powf(2.4) - 1.0;
        10.0 * (1.0 + own / (1.0 + 0.9 * pieces).powi(2)).log10()
    };
    near(excess("greenhouse controller", None), left(0.0));
    near(excess("greenhouse controller", Some("one ferrite on sensor lead")), left(1.0));
    near(excess("greenhouse controller", Some("three ferrites on sensor lead")), left(3.0));
    let ladder = report.ladders.iter().find(|l| l.device == "greenhouse controller").unwrap();
    let fit = ladder.choke_fit.as_ref().unwrap();
    assert_eq!(fit.verdict, noisetally::findings::ladder::result::ChokeVerdict::Fits);
    let (low, high) = fit.ratio_ci.unwrap();
    assert!(low < 0.9 && high.is_some_and(|high| 0.9 < high), "{low} to {high:?}");
    let six = fit.forecasts.iter().find(|f| f.ferrites == 6 && f.turns == 1).unwrap();
    near(six.excess_db, left(6.0));
    assert!(ladder.unmasked.iter().any(|a| a.freq_hz.is_some_and(|hz| (hz - 2041.0).abs() < 1.0)
        && a.origin == noisetally::findings::ladder::result::Origin::New));
    assert!(!ladder.unmasked.iter().any(|a| a.freq_hz.is_some_and(|hz| (hz - 1318.0).abs() < 1.0)
        && a.origin == noisetally::findings::ladder::result::Origin::New));

    near(excess("railway supply", None), 4.0);
    near(excess("printer", None), 5.0);
    assert_eq!(report.joint.len(), 1);
    assert_eq!(report.joint[0].balance, noisetally::findings::budget::shares::Balance::AddsUp);

    let target = report.listening.target.as_ref().unwrap();
    let met = |device: &str| target.devices.iter().find(|d| d.device == device).map(|d| d.outcome.word());
    assert_eq!((met("railway supply"), met("printer")), (Some("met"), Some("not met")));
    assert_eq!(met("railway supply + printer"), None);
    assert_eq!(report.listening.supplies.len(), 2);
    assert!(!report.listening.station_noise.is_empty());

    // The fan's multiples of 43 712.6 Hz, and a stranger; nothing else is named or refused.
    assert!(report.switching_combs_refused.is_empty());
    let [comb] = report.switching_combs.as_slice() else { panic!("{:?}", report.switching_combs) };
    assert!(comb.spacing_ci_hz[0] <= 43_712.6 && 43_712.6 <= comb.spacing_ci_hz[1], "{:?}", comb.spacing_ci_hz);
    let numbers: Vec<_> = comb.members.iter().map(|member| member.harmonic).collect();
    assert_eq!(numbers, [88, 161, 233, 322, 415, 487, 645]);
    assert_eq!(comb.outsiders.len(), 1);
}
