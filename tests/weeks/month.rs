//! Weeks of nights with their truth: who was on when, and why. Reports are made by the contract's types, as the
//! command night writes them; no audio is made.

use std::path::{Path, PathBuf};

use noisetally::contrast::Character;
use noisetally::findings::known_noise::{CarrierTrait, Point, Pulsing, Signature};
use noisetally::night::Clock;
use noisetally::night::result::{Episode, NightMinute, Regularity, Source};
use noisetally::report::contract::Report;
use noisetally::report::stored::Stored;
use noisetally::report::weeks::conditions::Conditions;
use noisetally::report::weeks::night::Night;
use noisetally::warning::Trust;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Begin and end, seconds since 1970.
pub type Span = (f64, f64);
const HOUR: f64 = 3600.0;
const DAY: f64 = 86_400.0;

/// Why a source is on when it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rule {
    /// Every 40 to 70 minutes, day and night.
    Freezer,
    /// From about 18:00 to about 22:00.
    Timer,
    /// On Saturdays and Sundays, now and then by day.
    Weekend,
    /// While it rains, and a while longer.
    Rain,
    /// Now and then, until it went away in the third week.
    Gone,
    /// At random, some times a day.
    Random,
    /// At random in flocks of short comings, on some days.
    Flocks,
    /// At random, in spells of days.
    Spells,
}

/// What a simulated stretch of days is.
pub struct Month {
    /// Rule of each source; "n1" of a night is the first.
    pub rules: Vec<Rule>,
    /// The nights' reports.
    pub nights: Vec<Report>,
    /// Table of conditions.
    pub table: String,
}

/// The month with habits.
pub const STORY: [Rule; 7] =
    [Rule::Freezer, Rule::Timer, Rule::Weekend, Rule::Rain, Rule::Gone, Rule::Random, Rule::Flocks];
/// One without.
pub const NOTHING: [Rule; 7] =
    [Rule::Freezer, Rule::Random, Rule::Random, Rule::Flocks, Rule::Flocks, Rule::Spells, Rule::Spells];

fn normal(rng: &mut ChaCha8Rng) -> f64 {
    (0..12).map(|_| rng.random::<f64>()).sum::<f64>() - 6.0
}

fn exponential(rng: &mut ChaCha8Rng, mean: f64) -> f64 {
    -mean * (1.0 - rng.random::<f64>()).ln()
}

/// Spells that come at random and last at random.
fn spells(rng: &mut ChaCha8Rng, (from, to): Span, apart: f64, length: f64) -> Vec<Span> {
    let mut all = Vec::new();
    let mut at = from + exponential(rng, apart);
    while at < to {
        let end = at + exponential(rng, length).max(60.0);
        all.push((at, end.min(to)));
        at = end + exponential(rng, apart);
    }
    all
}

fn on_times(rule: Rule, rng: &mut ChaCha8Rng, span: Span, rain: &[Span], gone_at: f64) -> Vec<Span> {
    let days = ((span.1 - span.0) / DAY) as usize + 1;
    let midnight = |day: usize| span.0 + day as f64 * DAY;
    match rule {
        Rule::Freezer => {
            let (period, share) = (HOUR * (0.7 + 0.5 * rng.random::<f64>()), 0.2 + 0.3 * rng.random::<f64>());
            let mut at = span.0 + period * rng.random::<f64>();
            let mut all = Vec::new();
            while at < span.1 {
                all.push((at, at + share * period));
                at += period * (1.0 + 0.05 * normal(rng));
            }
            all
        }
        Rule::Timer => (0..days)
            .filter_map(|day| {
                let from = midnight(day) + 18.0 * HOUR + 300.0 * normal(rng);
                (rng.random::<f64>() < 0.9).then(|| (from, from + 4.0 * HOUR + 300.0 * normal(rng)))
            })
            .collect(),
        Rule::Weekend => (0..days)
            .filter(|day| ((midnight(*day) / DAY) as i64 + 3).rem_euclid(7) >= 5)
            .flat_map(|day| {
                let (from, to) = (midnight(day) + 8.0 * HOUR, midnight(day) + 23.0 * HOUR);
                spells(rng, (from, to), 1.5 * HOUR, 1.5 * HOUR)
            })
            .collect(),
        Rule::Rain => {
            let after = |(from, to): &Span| {
                let late = 1200.0 * rng.random::<f64>();
                (rng.random::<f64>() < 0.85).then_some((from + late, to + HOUR * rng.random::<f64>()))
            };
            rain.iter().filter_map(after).filter(|(from, to)| from < to).collect()
        }
        Rule::Gone => spells(rng, (span.0, gone_at), 6.0 * HOUR, 1.5 * HOUR),
        Rule::Random => {
            let (apart, length) =
                (HOUR * (3.0 + 9.0 * rng.random::<f64>()), HOUR * (0.2 + 1.5 * rng.random::<f64>()));
            spells(rng, span, apart, length)
        }
        Rule::Flocks => {
            let flocks = spells(rng, span, 20.0 * HOUR, 3.0 * HOUR);
            flocks.into_iter().flat_map(|flock| spells(rng, flock, 900.0, 240.0)).collect()
        }
        Rule::Spells => {
            let stays = spells(rng, span, 4.0 * DAY, 3.0 * DAY);
            stays.into_iter().flat_map(|stay| spells(rng, stay, 3.0 * HOUR, 1.0 * HOUR)).collect()
        }
    }
}

/// What one source is like. Shapes differ clearly from place to place: whether devices that sound alike are told
/// apart is for the bench of known noises.
fn signature(place: usize, rule: Rule, rng: &mut ChaCha8Rng) -> (Character, Signature) {
    let slope = 1.6 * rng.random::<f64>() - 0.8;
    let bump = 500.0 + 330.0 * place as f64 + 60.0 * rng.random::<f64>();
    let shape = (0..24)
        .map(|band| {
            let hz = 350.0 + 100.0 * f64::from(band);
            let relative = 1.0 + slope * (hz - 1500.0) / 1500.0 + 2.5 * (-((hz - bump) / 250.0).powi(2)).exp();
            Point { hz, relative: relative.max(0.05), sd: 0.05 }
        })
        .collect();
    let is_buzz = matches!(rule, Rule::Freezer | Rule::Rain | Rule::Random | Rule::Spells);
    let depth = if is_buzz { 0.5 + 0.9 * rng.random::<f64>() } else { 0.02 };
    let carriers = if rule == Rule::Gone {
        (0..4)
            .map(|at| CarrierTrait {
                hz: 500.0 + 450.0 * f64::from(at) + 200.0 * rng.random::<f64>(),
                relative_db: -2.0 * f64::from(at),
                drift_hz_per_s: 0.0,
                moved_hz: 1.0,
            })
            .collect()
    } else {
        Vec::new()
    };
    let carriers_share = if rule == Rule::Gone { 0.6 } else { 0.0 };
    let signature = Signature {
        noise_share: 1.0 - carriers_share,
        carriers_share,
        shape,
        pulsing: [50.0, 100.0]
            .map(|hz| Pulsing { hz, depth: if hz > 60.0 { depth } else { 0.05 }, sd: 0.03 })
            .into(),
        carriers,
        ..Signature::default()
    };
    (if is_buzz { Character::Buzz } else { Character::Hash }, signature)
}

/// The same heard again: a little else each night.
fn heard_again(base: &Signature, rng: &mut ChaCha8Rng) -> Signature {
    let mut now = base.clone();
    now.shape.iter_mut().for_each(|point| point.relative *= 1.0 + 0.06 * normal(rng));
    now.pulsing.iter_mut().for_each(|rate| rate.depth = (rate.depth + 0.04 * normal(rng)).abs());
    now.carriers.iter_mut().for_each(|carrier| carrier.hz += normal(rng));
    now
}

fn time(at: f64) -> String {
    jiff::Timestamp::from_second(at.round() as i64).unwrap().to_string()
}

fn template() -> Report {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("reports/shed-night/report.json");
    let mut report: Report = serde_json::from_str(&std::fs::read_to_string(file).unwrap()).unwrap();
    report.warnings.clear();
    report.figures.clear();
    report
}

impl Month {
    /// So many days with sources of these rules.
    pub fn of(seed: u64, days: usize, rules: &[Rule]) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        // From some day of June 2026 on: no clock changes.
        let first = 20_605.0 + (rng.random::<f64>() * 7.0).floor();
        let span = (first * DAY, (first + days as f64) * DAY);
        let gone_at = span.0 + DAY * (15.0 + 5.0 * rng.random::<f64>());
        // Wet and dry times of days, in which it rains for hours or hardly.
        let wet = spells(&mut rng, span, 3.0 * DAY, 2.5 * DAY);
        let rain: Vec<Span> = wet.iter().flat_map(|wet| spells(&mut rng, *wet, 8.0 * HOUR, 5.0 * HOUR)).collect();
        let away = spells(&mut rng, span, 6.0 * DAY, 3.0 * DAY);
        let evenings: Vec<Span> = (0..days)
            .filter(|_| rng.random::<f64>() < 0.5)
            .map(|day| (span.0 + DAY * day as f64 + 17.0 * HOUR, span.0 + DAY * day as f64 + 23.0 * HOUR))
            .collect();
        let mut table = "from,until,word\n".to_owned();
        for (word, spans) in [("rain", &rain), ("neighbours away", &away), ("heating on", &evenings)] {
            spans.iter().for_each(|(from, to)| {
                table += &format!("{},{},{word}\n", time(*from), time(to.max(from + 1.0)));
            });
        }
        let sources: Vec<(Character, Signature, Vec<Span>, f64)> = rules
            .iter()
            .enumerate()
            .map(|(place, rule)| {
                let (character, base) = signature(place, *rule, &mut rng);
                let on = on_times(*rule, &mut rng, span, &rain, gone_at);
                (character, base, on, 3.0 + 9.0 * rng.random::<f64>())
            })
            .collect();
        let template = template();
        let mut nights = Vec::new();
        for day in 0..days {
            if rng.random::<f64>() < 0.12 {
                continue;
            }
            let noon = span.0 + DAY * day as f64;
            // From the afternoon to the morning; now and then all day.
            let (from, to) = if rng.random::<f64>() < 0.1 {
                (noon + 12.0 * HOUR, noon + 36.0 * HOUR)
            } else {
                (noon + (15.0 + 2.0 * rng.random::<f64>()) * HOUR, noon + (31.0 + 2.0 * rng.random::<f64>()) * HOUR)
            };
            nights.push(night(
                &template,
                ((from / 60.0).floor() * 60.0, (to / 60.0).floor() * 60.0),
                &sources,
                &mut rng,
            ));
        }
        Self { rules: rules.to_vec(), nights, table }
    }

    /// As they would be read back.
    pub fn read(&self) -> Vec<Night> {
        let stored = |(at, report): (usize, &Report)| Stored {
            folder: PathBuf::new(),
            name: format!("night-{:03}", at + 1),
            report: report.clone(),
        };
        self.nights.iter().enumerate().map(|one| Night::of(&stored(one)).unwrap()).collect()
    }

    /// The table of conditions.
    pub fn conditions(&self) -> Conditions {
        Conditions::read(&self.table, Clock::Utc).unwrap()
    }
}

fn night(
    template: &Report,
    (from, to): Span,
    sources: &[(Character, Signature, Vec<Span>, f64)],
    rng: &mut ChaCha8Rng,
) -> Report {
    let mut report = template.clone();
    let model = report.episodes[0].clone();
    report.episodes.clear();
    report.sources.clear();
    let length = to - from;
    for (number, (character, base, on, level)) in sources.iter().enumerate() {
        let mut mine = Vec::new();
        for (start, end) in on {
            let (start_s, end_s) = ((start - from).max(0.0), (end - from).min(length));
            // Short ones and some others are not found.
            if end_s - start_s < 10.0 || rng.random::<f64>() < 0.03 {
                continue;
            }
            let excess = level + 0.3 * normal(rng);
            let mut contrast = model.contrast.clone();
            contrast.excess_db = Some(excess);
            contrast.excess_ci_db = Some([excess - 0.5, excess + 0.5]);
            contrast.character = *character;
            contrast.bands.clear();
            report.episodes.push(Episode {
                start: Some(time(from + start_s)),
                end: Some(time(from + end_s)),
                start_s,
                end_s,
                from_before: start_s == 0.0,
                until_after: end_s == length,
                quiet_excess_db: Some(excess),
                quiet_excess_ci_db: Some([excess - 0.5, excess + 0.5]),
                contrast,
                ..model.clone()
            });
            mine.push(report.episodes.len());
        }
        if mine.is_empty() {
            continue;
        }
        let on_s: f64 = mine.iter().map(|n| report.episodes[n - 1].end_s - report.episodes[n - 1].start_s).sum();
        report.sources.push(Source {
            logged: None,
            id: format!("n{}", number + 1),
            character: *character,
            confidence: 0.9,
            known: None,
            signature: Some(heard_again(base, rng)),
            episodes: mine,
            excess_db: Some(level + 0.2 * normal(rng)),
            excess_ci_db: Some([level - 0.4, level + 0.4]),
            trust: Trust::Sound,
            beside: Vec::new(),
            on_s,
            duty: on_s / length,
            length_s: None,
            length_sd_s: None,
            told: Regularity::TooFew,
            period_s: None,
            period_ci_s: None,
            even_from_s: None,
            missed: None,
            chance: None,
        });
    }
    let facts = report.night.as_mut().unwrap();
    (facts.start, facts.end) = (time(from), time(to));
    (facts.duration_s, facts.recorded_s, facts.searched_s) = (length, length, length);
    facts.recordings.truncate(1);
    let recording = &mut facts.recordings[0];
    (recording.start, recording.start_s, recording.duration_s) = (time(from), 0.0, length);
    let tonight = normal(rng);
    facts.minutes = (0..(length / 60.0) as usize)
        .map(|minute| {
            let at_s = 60.0 * minute as f64;
            let hour = (from + at_s).rem_euclid(DAY) / HOUR;
            let quiet = -70.0 + tonight + 3.0 * ((hour - 20.0) / 24.0 * std::f64::consts::TAU).cos();
            let mut power = 10f64.powf(quiet / 10.0);
            for (_, _, on, level) in sources {
                let is_on = on.iter().any(|(a, b)| *a <= from + at_s + 30.0 && from + at_s + 30.0 < *b);
                power += if is_on { 10f64.powf(quiet / 10.0) * (10f64.powf(level / 10.0) - 1.0) } else { 0.0 };
            }
            let median_dbfs = 10.0 * power.log10() + 0.2 * normal(rng);
            NightMinute {
                at_s,
                low_dbfs: median_dbfs - 0.4,
                median_dbfs,
                high_dbfs: median_dbfs + 0.4,
                busy_share: 0.05,
                clipped: 0,
                hole_s: 0.0,
            }
        })
        .collect();
    report
}
