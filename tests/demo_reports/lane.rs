//! What the report says of the house in the lane, held against what it was made with (the constants of
//! `src/demo/lane.rs`; invented, and known by construction).

use super::{LANE, text};
use noisetally::findings::budget::shares::Balance;
use noisetally::report::contract::Report;

/// What each circuit does to the noise with everything off, dB.
const CIRCUITS: [(&str, f64); 6] = [
    ("kitchen ring", 9.0),
    ("upstairs lights", 3.0),
    ("cellar", 1.0),
    ("garage", 0.0),
    ("hall", 0.0),
    ("freezer", 0.0),
];
/// Level of the buzz at each place, dBFS, without its four carriers, each 12 dB below it, and without the noise of band
/// (−54 dBFS) and receiver (−62 dBFS).
const PLACES: [(&str, f64); 5] = [
    ("at the gate", -47.0),
    ("by the fence", -38.0),
    ("under the lamp post", -31.0),
    ("at the bend", -40.0),
    ("by the well", -48.0),
];

#[test]
fn what_is_said_of_the_lane_is_so() {
    let report: Report = serde_json::from_str(&text(LANE.made(), "report.json")).unwrap();
    let ranking = report.ranking.as_ref().unwrap();
    assert_eq!(ranking.devices.len(), CIRCUITS.len());
    for (name, truth) in CIRCUITS {
        let found = ranking.devices.iter().find(|d| d.device == name).unwrap();
        let (excess, [low, high]) = (found.excess_db.unwrap(), found.excess_ci_db.unwrap());
        assert!(low - 0.1 <= truth && truth <= high + 0.1, "{name}: {excess} ({low} to {high}) is not {truth}");
        assert_eq!(found.adds, truth > 0.0, "{name}: {found:?}");
    }
    assert_eq!(ranking.devices[0].device, "kitchen ring");
    // Powers add: 10 lg(1 + Σ(10^(E/10) − 1)).
    let sum = 10.0 * (1.0 + CIRCUITS.iter().map(|(_, db)| 10f64.powf(db / 10.0) - 1.0).sum::<f64>()).log10();
    assert!((ranking.all_on_db.unwrap() - sum).abs() < 0.4, "{:?} is not {sum}", ranking.all_on_db);
    assert_eq!(ranking.balance, Some(Balance::AddsUp));

    let order: Vec<&str> = report.places.iter().map(|place| place.place.as_str()).collect();
    let mut truth = PLACES;
    truth.sort_by(|a, b| b.1.total_cmp(&a.1));
    assert_eq!(order, truth.map(|(place, _)| place));
    for (place, (_, buzz)) in report.places.iter().zip(truth) {
        let power = |db: f64| 10f64.powf(db / 10.0);
        // Nobody switched the noise off: the level is of all there is.
        let whole = 10.0 * (power(buzz) * (1.0 + 4.0 * power(-12.0)) + power(-54.0) + power(-62.0)).log10();
        let found = place.level_db.unwrap();
        assert!((found - whole).abs() < 0.8, "{}: {found} is not {whole}", place.place);
    }
    // It is the same noise everywhere; where the band has a part in it, that may not be told, but nothing else is.
    assert!(report.places[1..3].iter().all(|place| place.same == Some(true)), "{:?}", report.places);
    assert!(report.places.iter().all(|place| place.same != Some(false)), "{:?}", report.places);
}
