//! What is typical of what stands in a recording, and the take to record next. Both are texts in `typical.toml`;
//! here is when each holds. Not here: whether it stands there (`description`).

use std::sync::LazyLock;

use serde::Deserialize;

use super::pulsing::times_of_mains;
use super::result::Described;
use crate::contrast::Character;
use crate::findings::man_made::p372::Standing;
use crate::labels::State;
use crate::text::rate;
use crate::warning::{Code, Warning};

static TEXTS: LazyLock<Texts> =
    LazyLock::new(|| toml::from_str(include_str!("typical.toml")).expect("a test reads the same text"));

/// A kind named with less than this is not said to be typical of anything. Chosen: less than an even chance.
const SURE_ENOUGH: f64 = 0.5;
/// Periods of a fence: the standard's one a second, with room for its clock; and its longest. Source: EN
/// 60335-2-76.
const FENCE_S: std::ops::RangeInclusive<f64> = 0.98..=1.6;
/// A time signal's second, s: as well as a recorder's clock keeps time. Chosen: a thousandth, with room.
const SECOND_S: f64 = 0.003;
/// Rates of supplies that spread their frequency, Hz, and how near a spacing must lie. Source: data sheets AN2753,
/// UCC28630. Chosen: two parts in a hundred, as such clocks are good to.
const SPREAD_HZ: [f64; 2] = [250.0, 167.0];
const NEAR_SPREAD: f64 = 0.02;
/// A carrier that moves faster drifts, Hz/s. Chosen: a quartz or a transmitter keeps well below it.
const DRIFTS_HZ_PER_S: f64 = 0.3;
/// Spacings within this of a multiple of the mains frequency are its. Chosen: as well as lines are placed.
const MAINS_SPACING_HZ: f64 = 0.5;
/// A beat is well known to so much, s. Chosen: a millisecond tells devices apart.
const FIXED_BEAT_S: f64 = 0.001;
/// So many stations and more are a crowd. Chosen: half an SSB passband.
const CROWD: usize = 5;
/// From this length on a longer take is not asked for, s. Chosen: a minute, as is asked for.
const MINUTE_S: f64 = 55.0;

/// A case that something is typical of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
enum When {
    TwiceMains,
    OnceMains,
    HalfMains,
    FenceBeat,
    SecondBeat,
    FastBeat,
    SlowBeat,
    ClicksAtRandom,
    MainsComb,
    SpreadComb,
    Comb,
    Crowd,
    DriftingCarrier,
    HummingCarrier,
    StillCarrier,
    LoudNoise,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Texts {
    typical: Vec<Typical>,
    next: NextTakes,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Typical {
    when: When,
    of: String,
    source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct NextTakes {
    silent: String,
    clipped: String,
    dropouts: String,
    too_short: String,
    cut_short: String,
    lossy: String,
    gain_moves: String,
    narrow: String,
    load: String,
    minute: String,
    fix_beat: String,
    pulsing: String,
    clicks: String,
    carriers: String,
    crowd: String,
    plain: String,
}

/// What is typical of what stands there, each once with its source: "… (common practice)".
pub fn typical_of(found: &Described, mains_hz: f64) -> Vec<String> {
    let mut said: Vec<String> = Vec::new();
    for when in cases(found, mains_hz) {
        for one in TEXTS.typical.iter().filter(|one| one.when == when) {
            let text = format!("{} ({})", one.of, one.source);
            if !said.contains(&text) {
                said.push(text);
            }
        }
    }
    said
}

fn cases(found: &Described, mains_hz: f64) -> Vec<When> {
    let sure = |kind| found.confidence(kind) >= SURE_ENOUGH;
    let mut cases = Vec::new();
    let times = found.mains_rate_hz.and_then(|rate_hz| times_of_mains(rate_hz, mains_hz));
    cases.extend(times.filter(|_| sure(Character::Buzz)).map(|times| match times {
        t if t < 1.0 => When::HalfMains,
        t if t > 1.0 => When::TwiceMains,
        _ => When::OnceMains,
    }));
    if sure(Character::Clicks) {
        match found.pulse_period_s {
            None => cases.push(When::ClicksAtRandom),
            Some(period_s) => {
                if (period_s - 1.0).abs() < SECOND_S {
                    cases.push(When::SecondBeat);
                }
                cases.push(match period_s {
                    s if FENCE_S.contains(&s) => When::FenceBeat,
                    s if s < *FENCE_S.start() => When::FastBeat,
                    _ => When::SlowBeat,
                });
            }
        }
    }
    if let Some(comb) = found.comb.as_ref().filter(|_| sure(Character::Comb)) {
        let of_mains = (comb.spacing_hz / mains_hz).round().max(1.0) * mains_hz;
        let spread = SPREAD_HZ.iter().any(|hz| (comb.spacing_hz / hz - 1.0).abs() < NEAR_SPREAD);
        cases.push(if (comb.spacing_hz - of_mains).abs() < MAINS_SPACING_HZ {
            When::MainsComb
        } else {
            When::Comb
        });
        cases.extend(spread.then_some(When::SpreadComb));
    }
    if !found.clusters.is_empty() {
        cases.push(When::Crowd);
    }
    let carriers = || {
        found
            .carriers
            .iter()
            .filter(|one| !one.perhaps_keyed && sure(Character::Carriers) && found.clusters.is_empty())
    };
    if carriers().any(|carrier| carrier.mains_sidebands) {
        cases.push(When::HummingCarrier);
    }
    let drifts = |carrier: &super::result::CarrierFound| carrier.drift_hz_per_s.abs() > DRIFTS_HZ_PER_S;
    if carriers().any(drifts) {
        cases.push(When::DriftingCarrier);
    }
    if carriers().any(|carrier| !drifts(carrier)) {
        cases.push(When::StillCarrier);
    }
    let published = found.noise.as_ref().and_then(|noise| noise.published.as_ref());
    if published.is_some_and(|noise| noise.standing == Standing::Above) {
        cases.push(When::LoudNoise);
    }
    cases
}

/// How the recording was made, as far as the next take hangs on it.
pub struct Taken<'a> {
    /// What speaks against it.
    pub warnings: &'a [Warning],
    /// State of a device, where it is told.
    pub state: Option<State>,
    /// Words for the suspect: "the lamp".
    pub suspect: Option<String>,
    /// Length.
    pub duration_s: f64,
}

/// The take to record next: what mends the recording first, else what would tell most.
pub fn next_take(found: &Described, taken: &Taken<'_>) -> String {
    let next = &TEXTS.next;
    let has = |codes: &[Code]| taken.warnings.iter().any(|warning| codes.contains(&warning.code));
    let mends = [
        (&[Code::Silent][..], &next.silent),
        (&[Code::Clipped], &next.clipped),
        (&[Code::Dropouts], &next.dropouts),
        (&[Code::TooShort], &next.too_short),
        (&[Code::Truncated, Code::ReadError], &next.cut_short),
        (&[Code::LossyCodec], &next.lossy),
        (&[Code::GainMoving], &next.gain_moves),
        (&[Code::NarrowPassband], &next.narrow),
    ];
    // Stations that come and go move the level too.
    let is_the_stations = |codes: &[Code]| codes == [Code::GainMoving] && found.crowded;
    if let Some((_, text)) = mends.into_iter().find(|(codes, _)| has(codes) && !is_the_stations(codes)) {
        return text.clone();
    }
    if taken.state == Some(State::Terminated) {
        return next.load.clone();
    }
    let suspect = match (&taken.suspect, taken.state) {
        (_, Some(State::Off)) => "what is still on".to_owned(),
        (Some(device), _) => device.clone(),
        (None, _) => "the suspect".to_owned(),
    };
    let filled = |text: &str| text.replace("{suspect}", &suspect);
    let short = taken.duration_s < MINUTE_S;
    if let Some([low, high]) = found.pulse_period_ci_s {
        let is_fixed = (high - low) / 2.0 <= FIXED_BEAT_S;
        return if short && !is_fixed { next.fix_beat.clone() } else { filled(&next.clicks) };
    }
    if let Some(rate_hz) = found.mains_rate_hz {
        return filled(&next.pulsing).replace("{hz}", &rate(rate_hz));
    }
    if found.has(Character::Clicks) && short {
        return next.minute.clone();
    }
    if found.has(Character::Comb) || found.has(Character::Carriers) {
        return filled(&next.carriers);
    }
    if found.stations >= CROWD || found.crowded { next.crowd.clone() } else { next.plain.clone() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contrast::comparison::CombResult;
    use crate::findings::description::result::DescribedPart;

    fn found(kind: Character) -> Described {
        let mut nothing: Described = serde_json::from_value(serde_json::json!({
            "recording": "r1", "parts": [], "mains_rate_hz": null, "pulsing_depth": null, "pulsing_depth_ci": null,
            "pulsing_depth_limit": 0.05, "pulse_rate_hz": null, "pulse_period_s": null, "pulse_period_ci_s": null,
            "carriers": [], "comb": null, "comb_spacing_ci_hz": null, "clusters": [], "stations": 0,
            "crowded": false, "noise": null, "typical_of": [], "next_take": "", "known_noise": null, "not_told": []
        }))
        .unwrap();
        nothing.parts.push(DescribedPart { character: kind, confidence: 0.9 });
        nothing
    }

    /// Source: EN 60335-2-76 (as tabled in a trade journal): a fence's pulses come at most once a second, and an
    /// interval over 1.6 s is a fault. A time signal ticks each second (common practice).
    #[test]
    fn a_beat_is_typical_of_a_fence_only_within_its_standard() {
        let of =
            |period_s: f64| cases(&Described { pulse_period_s: Some(period_s), ..found(Character::Clicks) }, 50.0);
        assert_eq!(of(1.27), [When::FenceBeat]);
        assert_eq!(of(1.0005), [When::SecondBeat, When::FenceBeat]);
        assert_eq!((of(0.4), of(2.5)), (vec![When::FastBeat], vec![When::SlowBeat]));
    }

    /// By definition: half of 50 or 60 Hz, it, and twice it; data sheets AN2753 (250 Hz), UCC28630 (6 ms).
    #[test]
    fn rates_and_spacings_have_their_cases() {
        let rate = |hz: f64| cases(&Described { mains_rate_hz: Some(hz), ..found(Character::Buzz) }, 50.0);
        assert_eq!(
            (rate(25.0), rate(50.02), rate(99.98)),
            (vec![When::HalfMains], vec![When::OnceMains], vec![When::TwiceMains])
        );
        assert_eq!(rate(120.0), [When::TwiceMains], "of the other mains");
        let comb = |spacing_hz: f64| {
            let comb = Some(CombResult { spacing_hz, lines: 5, offset_hz: 0.0 });
            cases(&Described { comb, ..found(Character::Comb) }, 50.0)
        };
        assert_eq!(comb(100.1), [When::MainsComb]);
        assert_eq!(comb(166.5), [When::Comb, When::SpreadComb]);
        assert_eq!(comb(173.3), [When::Comb]);
    }

    #[test]
    fn every_text_says_where_it_is_from_and_every_take_is_a_sentence() {
        assert!(TEXTS.typical.iter().all(|one| !one.of.ends_with('.') && one.source.len() > 5));
        let warned = |code| {
            let warnings = [Warning::new(code, "")];
            let taken = Taken { warnings: &warnings, state: None, suspect: None, duration_s: 20.0 };
            next_take(&found(Character::Buzz), &taken)
        };
        for code in
            [Code::Silent, Code::Clipped, Code::Dropouts, Code::TooShort, Code::LossyCodec, Code::GainMoving]
        {
            assert!(warned(code).ends_with('.') && !warned(code).contains("suspect"), "{}", warned(code));
        }
        let taken =
            Taken { warnings: &[], state: Some(State::On), suspect: Some("the lamp".into()), duration_s: 20.0 };
        let pulsing = Described { mains_rate_hz: Some(100.0), ..found(Character::Buzz) };
        assert!(next_take(&pulsing, &taken).starts_with("Switch the lamp off"));
        assert!(!next_take(&pulsing, &taken).contains('{'));
    }
}
