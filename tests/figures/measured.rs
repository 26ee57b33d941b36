//! An invented measurement, as each figure shows it.

use std::f64::consts::TAU;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use noisetally::findings::bands::figure::{BandDot, BandStep, BandsFigure};
use noisetally::findings::budget::figure::{BudgetBar, BudgetFigure, BudgetPart};
use noisetally::findings::ladder::figure::{LadderBar, LadderFigure, LadderForecast};
use noisetally::findings::ladder::figure_carriers::CarrierTrace;
use noisetally::findings::man_made::figure::{ManMadeCurve, ManMadeFigure, ManMadeLevel};
use noisetally::findings::ranking::figure::{RankingFigure, RankingRow};
use noisetally::findings::switching_comb::figure::{CombStretch, SwitchingCombFigure};
use noisetally::night::figures::hours::{Hours, HoursDay};
use noisetally::night::figures::on_times::{OnTimesFigure, OnTimesRow};
use noisetally::night::figures::timeline::{MarkedEpisode, TimelineCell, TimelineFigure};
use noisetally::night::figures::waterfall::WaterfallFigure;
use noisetally::plot::image::Image;
use noisetally::report::pictures::drawing::apd::ApdFigure;
use noisetally::report::pictures::drawing::card::{CardFigure, PulsingFigure};
use noisetally::report::pictures::drawing::envelope::EnvelopeFigure;
use noisetally::report::pictures::drawing::excess::{ExcessFigure, ExcessStep};
use noisetally::report::pictures::drawing::intervals::IntervalsFigure;
use noisetally::report::pictures::drawing::spectra::{Bracket, LineKind, MarkedLine, SpectraFigure};
use noisetally::report::pictures::drawing::spectrogram::{SpectrogramFigure, Take};

pub const DEVICE: &str = "Aquarium lamp";
pub const PASSBAND: (f64, f64) = (300.0, 2700.0);

/// Gain of the receiver's audio filter, dB.
pub fn filter_db(freq_hz: f64, (from, to): (f64, f64)) -> f64 {
    let outside = (from - freq_hz).max(freq_hz - to).max(0.0);
    (-0.16 * outside).max(-55.0)
}

/// Spread of one bin averaged over about 30 frames, dB: close to normal, 4.34/√30.
pub fn ripple(rng: &mut ChaCha8Rng) -> f64 {
    (0..12).map(|_| rng.random::<f64>()).sum::<f64>().mul_add(0.8, -4.8)
}

pub fn spectrum(
    seed: u64,
    passband: (f64, f64),
    bins: usize,
    to_hz: f64,
    level: impl Fn(f64) -> f64,
) -> Vec<(f64, f64)> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    (0..bins)
        .map(|i| i as f64 * to_hz / bins as f64)
        .map(|f| (f, (level(f) + filter_db(f, passband)).max(-118.0) + ripple(&mut rng)))
        .collect()
}

pub const LINES: [(f64, f64, LineKind); 6] = [
    (612.0, -31.0, LineKind::Added),
    (1000.0, -38.5, LineKind::Both),
    (1700.0, -36.0, LineKind::Station),
    (1224.4, -35.0, LineKind::Added),
    (1290.0, -41.0, LineKind::Added),
    (2110.0, -50.0, LineKind::Lost),
];

pub fn with_lines(mut spectrum: Vec<(f64, f64)>, state: LineKind) -> Vec<(f64, f64)> {
    for (freq, level, kind) in LINES {
        if matches!(kind, LineKind::Both | LineKind::Station) || kind == state {
            for (f, y) in &mut spectrum {
                let bins = (*f - freq).abs() / 5.9;
                *y = y.max(level - 6.0 * bins * bins);
            }
        }
    }
    spectrum
}

pub fn hash_db(freq_hz: f64) -> f64 {
    16.0 - freq_hz / 800.0
}

pub fn spectra() -> SpectraFigure {
    let words = |f: f64| if f < 1000.0 { format!("{f:.0} Hz") } else { format!("{:.3} kHz", f / 1000.0) };
    SpectraFigure {
        title: "Aquarium lamp adds 14.2 dB of hash and three carriers".into(),
        subtitle: "On 3 recordings, off 2 recordings, 14 100 kHz USB, end-fed wire".into(),
        off: with_lines(spectrum(1, PASSBAND, 1024, 6000.0, |_| -65.0), LineKind::Lost),
        on: with_lines(spectrum(2, PASSBAND, 1024, 6000.0, |f| -65.0 + hash_db(f)), LineKind::Added),
        floor: Some(-65.0),
        bracket: Some(Bracket { freq_hz: 1500.0, off: -65.0, on: -50.8, words: "+14.2 dB".into() }),
        passband_hz: PASSBAND,
        lines: LINES
            .iter()
            .map(|(freq, level, kind)| MarkedLine {
                freq_hz: *freq,
                level: *level,
                kind: *kind,
                label: Some(words(*freq)),
            })
            .collect(),
    }
}

/// Without remedy and after two: the second bought nothing.
pub fn excess() -> ExcessFigure {
    let step = |label: &str, less: f64, whole: f64, doubtful| ExcessStep {
        label: label.into(),
        bands: (0..12)
            .map(|i| 400.0 + 200.0 * f64::from(i))
            .map(|f| (f, hash_db(f) + (f / 170.0).sin() * 0.5 - less))
            .map(|(f, e)| (f, e, e - 0.7, e + 0.8))
            .collect(),
        overall: Some((whole, whole - 0.3, whole + 0.3)),
        with_lines_db: None,
        doubtful,
    };
    ExcessFigure {
        title: "Aquarium lamp: +14.2 dB of hash".into(),
        subtitle: "Noise between the lines, on over off, by bands · 14 100 kHz · USB".into(),
        steps: vec![
            step("no remedy", 0.0, 14.2, false),
            step("ferrite, 3 turns", 6.1, 8.1, false),
            step("ferrite, 3 turns, and lead moved away from the antenna", 6.2, 8.0, true),
        ],
        detection_limit_db: Some(0.6),
        passband_hz: PASSBAND,
    }
}

/// Carriers alone: between them nothing is added.
pub fn excess_of_lines() -> ExcessFigure {
    let bands = (0..12)
        .map(|i| 400.0 + 200.0 * f64::from(i))
        .map(|f| (f, (f / 90.0).sin() * 0.2))
        .map(|(f, e)| (f, e, e - 0.3, e + 0.3));
    ExcessFigure {
        title: "LED strip: 8 carriers, +1.6 dB in all".into(),
        steps: vec![ExcessStep {
            label: "whole passband".into(),
            bands: bands.collect(),
            overall: Some((0.0, -0.2, 0.2)),
            with_lines_db: Some(1.6),
            doubtful: false,
        }],
        detection_limit_db: Some(0.4),
        ..excess()
    }
}

pub fn cells(seed: u64, rows: usize, cols: usize, level: impl Fn(f64, f64) -> f64) -> Image {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut db = Vec::with_capacity(rows * cols);
    for row in 0..rows {
        for col in 0..cols {
            let f = col as f64 * 6000.0 / (cols - 1) as f64;
            let level = level(row as f64 / rows as f64, f) + filter_db(f, PASSBAND);
            db.push((level.max(-118.0) + ripple(&mut rng)) as f32);
        }
    }
    Image { rows, cols, db, duration_s: 80.0, freq_hz: (0.0, 6000.0) }
}

pub fn take(words: &str, image: Image) -> Take {
    Take { words: words.into(), image }
}

/// Three seconds in steps of 10 ms: a click every 233 ms, one of them missed.
pub fn clicks() -> SpectrogramFigure {
    let is_click = |t: f64| (3.0 * t / 0.233).fract() < 0.045 && (3.0 * t / 0.233) as u32 != 7;
    let three = |seed, level: &dyn Fn(f64, f64) -> f64| Image { duration_s: 3.0, ..cells(seed, 300, 61, level) };
    SpectrogramFigure {
        title: "Pond pump: clicks, 4.3 a second, +4.0 dB on average".into(),
        subtitle: "A few seconds, in steps of 10 ms · 7100 kHz · USB".into(),
        off: take("01-off.wav, from 0.0 s", three(21, &|_, _| -78.0)),
        on: take("02-on.wav, from 12.3 s", three(22, &|t, _| if is_click(t) { -58.0 } else { -78.0 })),
        passband_hz: PASSBAND,
    }
}

/// The same clicks: three in four keep the beat.
pub fn intervals() -> IntervalsFigure {
    let mut rng = ChaCha8Rng::seed_from_u64(15);
    let mut one = |i: usize| match i % 11 {
        3 => 0.466 + 0.002 * rng.random::<f64>(),
        7 => 0.9 * rng.random::<f64>(),
        _ => 0.232 + 0.002 * rng.random::<f64>(),
    };
    IntervalsFigure {
        title: "Pond pump: one click every 233 ms, ±1 ms".into(),
        subtitle: "From one click to the next · 152 clicks on, 0 clicks off · 7100 kHz · USB".into(),
        intervals_s: (0..151).map(&mut one).collect(),
        beat: Some((0.233, "233 ms, ±1 ms".into())),
    }
}

pub fn spectrogram() -> SpectrogramFigure {
    let carrier = |f: f64, at: f64, strength: f64| strength - ((f - at).abs() / 6.0).powi(2) * 8.0;
    SpectrogramFigure {
        title: "The hash is there from the first second to the last".into(),
        subtitle: "Off and on in one colour scale".into(),
        off: take("01-off.wav", cells(3, 80, 1000, |_, f| (-65.0f64).max(-65.0 + carrier(f, 1000.0, 26.0)))),
        on: take(
            "02-on.wav",
            cells(4, 80, 1000, |t, f| {
                let drifting = 1900.0 + 160.0 * t + 30.0 * (t * TAU * 2.0).sin();
                let hash = hash_db(f) + if (0.55..0.6).contains(&t) { -9.0 } else { 0.0 };
                let lines = [(612.0, 34.0), (1000.0, 26.0), (1224.4, 30.0), (drifting, 22.0)];
                lines.iter().map(|(at, strength)| carrier(f, *at, *strength)).fold(hash, f64::max) - 65.0
            }),
        ),
        passband_hz: PASSBAND,
    }
}

pub fn envelope() -> EnvelopeFigure {
    let mut rng = ChaCha8Rng::seed_from_u64(5);
    let mut curve = |peaks: &[(f64, f64)]| -> Vec<(f64, f64)> {
        (0..1000)
            .map(|i| f64::from(i) * 0.5)
            .map(|f| {
                let noise = 0.012 * (1.0 + rng.random::<f64>());
                (f, peaks.iter().map(|(at, a)| a * (-((f - at) / 0.6).powi(2)).exp()).fold(noise, f64::max))
            })
            .collect()
    };
    EnvelopeFigure {
        title: "With the lamp on the noise pulses at 100 Hz, twice the mains frequency".into(),
        subtitle: "Modulation spectrum of the power envelope in the passband".into(),
        off: curve(&[]),
        on: curve(&[(100.0, 0.62), (200.0, 0.31), (300.0, 0.12), (50.0, 0.05)]),
        marks: vec![(100.0, "100 Hz".into()), (200.0, "200 Hz".into()), (300.0, "300 Hz".into())],
        threshold: Some(0.04),
    }
}

/// Gaussian noise, and with the device on pulses for a hundredth of the time.
pub fn amplitudes() -> ApdFigure {
    let shares = (1..400).map(|i| 10f64.powf(-f64::from(i) / 80.0));
    let noise = |share: f64| 10.0 * (-share.ln()).log10();
    let pulses = |share: f64| 16.0 + noise((share / 0.01).min(0.9999)) * 1.3;
    ApdFigure {
        title: "Fence: bursts a hundredth of the time carry nearly all its noise".into(),
        subtitle: "Bursts: at least 1.0 % of the time, nearly all of the added power · 14 100 kHz · USB".into(),
        bursts: Some(0.01),
        level_caption: "Power over the mean noise off (dB)".into(),
        off: shares.clone().map(|share| (share, noise(share))).collect(),
        on: shares.map(|share| (share, (noise(share) + 0.1).max(pulses(share)))).collect(),
        on_gaussian: Some(0.1),
    }
}

pub fn ladder() -> LadderFigure {
    let bar = |label: &str, excess, doubtful| LadderBar {
        label: label.into(),
        excess,
        bought: Some((1.7, 1.1, 2.3)),
        doubtful,
        with_lines_db: None,
    };
    LadderFigure {
        title: "The linear supply removes all that can be measured; turns on the ferrite help little".into(),
        subtitle: "Aquarium lamp, 14 100 kHz USB: excess left after each remedy".into(),
        steps: vec![
            bar("no remedy", Some((14.2, 13.9, 14.5)), false),
            LadderBar { with_lines_db: Some(9.6), ..bar("ferrite, 3 turns", Some((8.1, 7.7, 8.5)), false) },
            bar("ferrite, 3 turns and lead moved away from the antenna", Some((8.0, 7.5, 8.6)), false),
            bar("shielded lead", Some((6.4, 4.1, 9.9)), true),
            bar("lamp in the cellar", None, false),
            bar("linear supply", Some((0.2, -0.2, 0.6)), false),
        ],
        detection_limit_db: Some(0.6),
        carriers: vec![
            CarrierTrace {
                label: "1318 Hz".into(),
                levels: vec![Some(-50.0), Some(-56.1), Some(-55.8), None, None, Some(-71.0)],
            },
            CarrierTrace { label: "2041 Hz".into(), levels: vec![None, Some(-63.0), Some(-62.7), Some(-64.0)] },
        ],
        forecast: Some(LadderForecast { label: "forecast: 1 more ferrite".into(), excess: (4.1, 2.9, 6.0) }),
    }
}

pub fn budget() -> BudgetFigure {
    let part = |share, without| BudgetPart { share, without };
    let bar = |label: &str, parts: Vec<BudgetPart>| BudgetBar { label: label.into(), parts };
    BudgetFigure {
        title: "Aquarium lamp: 78 % of what all devices add, now 12 %".into(),
        subtitle: "Share of the power that all devices add, each by itself; carriers included".into(),
        stages: vec!["Without remedies".into(), "With the last remedies".into()],
        bars: vec![
            bar(
                "aquarium lamp",
                vec![
                    part(Some((0.78, 0.74, 0.81)), Some((6.1, 5.8, 6.5))),
                    part(Some((0.12, 0.09, 0.15)), Some((0.4, 0.3, 0.5))),
                ],
            ),
            bar(
                "fence energiser behind the compost heap",
                vec![
                    part(Some((0.2, 0.17, 0.24)), Some((0.9, 0.7, 1.1))),
                    part(Some((0.86, 0.82, 0.9)), Some((3.1, 2.9, 3.4))),
                ],
            ),
            bar("radio clock", vec![part(Some((0.004, 0.0, 0.06)), Some((0.1, 0.0, 0.3))); 2]),
            bar("gate opener", vec![part(Some((0.003, 0.0, 0.06)), Some((0.1, 0.0, 0.3))); 2]),
            bar("shed light", vec![BudgetPart::default(); 2]),
        ],
    }
}

/// Twelve devices: four add noise, one in carriers, one is void.
pub fn bands() -> BandsFigure {
    let step = |label: &str, values: &[(f64, f64)]| BandStep {
        label: label.into(),
        dots: values
            .iter()
            .enumerate()
            .map(|(column, &(value, reach))| BandDot {
                column,
                value: (value, value - reach, value + reach),
                doubtful: column == 2,
            })
            .collect(),
    };
    BandsFigure {
        title: "Drill charger: worst at 3.6 MHz (+12.0 dB), best at 28.1 MHz (+0.4 dB)".into(),
        subtitle: "On against off at each dial; carriers in all where the noise is carriers".into(),
        dials: ["3.6", "7.1", "14.1", "28.1"].map(Into::into).to_vec(),
        steps: vec![
            step("no remedy", &[(12.0, 0.4), (9.1, 0.4), (5.2, 0.9), (0.4, 0.5)]),
            step("ferrite on the mains lead", &[(4.0, 0.4), (2.2, 0.4), (1.1, 0.8), (0.2, 0.5)]),
        ],
    }
}

pub fn ranking() -> RankingFigure {
    let row = |label: &str, note: &str, added, is_added| RankingRow {
        label: label.into(),
        note: note.into(),
        added,
        is_added,
        limit_db: Some(0.5),
        ..RankingRow::default()
    };
    let mut rows = vec![
        row("Circuit 7, garage", "+14.2 dB, buzz", Some((14.2, 13.8, 14.6)), true),
        row("Circuit 3, attic and stairs", "+6.1 dB, hash", Some((6.1, 5.5, 6.7)), true),
        RankingRow { with_lines: true, ..row("Circuit 5", "+2.3 dB, comb", Some((2.3, f64::NAN, f64::NAN)), true) },
        RankingRow { doubtful: true, ..row("Circuit 9", "+1.9 dB, hash, doubtful", Some((1.9, 0.2, 3.6)), true) },
    ];
    rows.extend((0..7).map(|i| {
        let value = 0.3 - 0.1 * f64::from(i);
        row(
            &format!("Circuit {}", 10 + i),
            "nothing; 0.5 dB would show",
            Some((value, value - 0.4, value + 0.4)),
            false,
        )
    }));
    rows.push(RankingRow { limit_db: None, ..row("Circuit 1", "void", None, false) });
    RankingFigure {
        title: "Circuit 7, garage adds most, +14.2 dB; 7 of 12 devices add nothing that shows".into(),
        subtitle: "7100 kHz · USB · each device by itself".into(),
        axis: "Noise, on above off (dB)".into(),
        kinds: ["adds noise".into(), "adds nothing that shows".into()],
        rows,
    }
}

/// The four curves of ITU-R P.372 and a station near the residential one.
pub fn man_made() -> ManMadeFigure {
    let curve = |label: &str, c: f64, d: f64, spread_db, is_nearest| ManMadeCurve {
        label: label.into(),
        points: (0..=30).map(|i| 10f64.powf(f64::from(i) * 0.04924)).map(|f| (f, c - d * f.log10())).collect(),
        spread_db,
        is_nearest,
    };
    let level =
        |freq_mhz, value: f64, is_on| ManMadeLevel { freq_mhz, figure: (value, value - 3.0, value + 3.0), is_on };
    ManMadeFigure {
        title: "Everything off: 1.3 dB above the median of residential places".into(),
        subtitle: "External noise figure against the man-made noise of ITU-R P.372".into(),
        curves: vec![
            curve("city", 76.8, 27.7, (10.8, 13.8), false),
            curve("residential", 72.5, 27.7, (7.9, 12.1), true),
            curve("rural", 67.2, 27.7, (8.2, 11.4), false),
            curve("quiet rural", 53.6, 28.6, (8.2, 11.4), false),
        ],
        levels: vec![
            level(7.1, 50.2, false),
            level(7.1, 60.2, true),
            level(14.1, 41.0, false),
            level(14.1, 48.0, true),
        ],
        on_words: "aquarium lamp on".into(),
    }
}

pub fn card() -> CardFigure {
    let fact = |label: &str, value: &str| (label.to_owned(), value.to_owned());
    CardFigure {
        title: "Aquarium lamp raises the noise by 14.2 dB, about two S-units".into(),
        subtitle: "On 3 recordings, off 2 recordings · 14 100 kHz USB · end-fed wire · 14 March 2026".into(),
        facts: vec![
            fact("Noise, on over off", "14.2 dB (13.9 to 14.5)"),
            fact("Kind of noise", "buzz, 100 a second; 97 % sure"),
        ],
        verdict:
            "Hash that pulses at twice the mains frequency, as a switch-mode supply makes it (confidence 0.97)"
                .into(),
        trust: "Sound: gain steady, off recordings agree within 0.3 dB".into(),
        trust_level: 0,
        warnings: vec!["02-on.mp3 is lossy: levels above 2.5 kHz are not to be trusted".into()],
        spectra: SpectraFigure { title: "Spectra: hash and three carriers added".into(), ..spectra() },
        excess: ExcessFigure { title: "Excess by band".into(), ..excess() },
        spectrogram: SpectrogramFigure { title: "Over time: steady".into(), ..spectrogram() },
        pulsing: Some(PulsingFigure::Modulation(envelope()).titled("How the noise pulses")),
        ladder: Some(LadderFigure { title: "Remedies: linear supply".into(), ..ladder() }),
        footer: "noisetally 0.1.0 · settings and data in the report beside this picture".into(),
    }
}

pub fn switching_comb() -> SwitchingCombFigure {
    let stretch = |label: &str, from_khz, to_khz, is_overview| CombStretch {
        label: label.into(),
        from_khz,
        to_khz,
        is_overview,
    };
    SwitchingCombFigure {
        title: "Dehumidifier: carriers every 43.713 kHz".into(),
        subtitle: "95 % interval 43.7125 to 43.7128 kHz".into(),
        stretches: vec![
            stretch("Everything listened to", 3_000.0, 29_000.0, true),
            stretch("7000 to 7200 kHz", 7_000.0, 7_200.0, false),
            stretch("14000 to 14350 kHz", 14_000.0, 14_350.0, false),
        ],
        members_khz: [81, 88, 161, 164, 233, 322, 325, 415, 645].map(|k| f64::from(k) * 43.7126).into(),
        missing_khz: vec![480.0 * 43.7126],
        outsiders_khz: vec![17_121.5, 10_925.3],
        predicted_khz: [162, 163, 321, 323, 324, 326, 327, 328].map(|k| f64::from(k) * 43.7126).into(),
    }
}

/// Two nights a year apart, the second one cut by a pause, on the axis of each figure of a night.
pub fn a_year_apart() -> (TimelineFigure, WaterfallFigure, OnTimesFigure) {
    let year_s = 365.0 * 86_400.0;
    let day = |number, short: &str, year| HoursDay { number, short: short.into(), full: format!("{short} {year}") };
    let hours = Hours {
        recorded_s: vec![(0.0, 14_400.0), (year_s, year_s + 3000.0), (year_s + 3600.0, year_s + 14_400.0)],
        starts_at_s: 77_400.0,
        days: vec![
            day(0, "14 Mar", 2026),
            day(1, "15 Mar", 2026),
            day(365, "14 Mar", 2027),
            day(366, "15 Mar", 2027),
        ],
        clock: "the recorder's clock".into(),
    };
    let episode = |number: usize, start_s: f64, end_s: f64| MarkedEpisode {
        start_s,
        end_s,
        name: number.to_string(),
        is_sure: true,
    };
    let episodes = vec![
        episode(1, 3000.0, 5000.0),
        episode(2, 12_000.0, 13_000.0),
        episode(3, year_s + 900.0, year_s + 2900.0),
        episode(4, year_s + 9900.0, year_s + 10_900.0),
    ];
    let is_on = |at_s: f64| episodes.iter().any(|e| (e.start_s..e.end_s).contains(&at_s));
    let minutes = hours.recorded_s.iter().flat_map(|(from, to)| (*from as u64..*to as u64).step_by(60));
    let levels: Vec<TimelineCell> = minutes
        .map(|at| {
            let level = if is_on(at as f64) { -32.0 } else { -41.0 };
            TimelineCell { at_s: at as f64, level_db: [level - 0.4, level, level + 0.4], busy_share: 0.1 }
        })
        .collect();
    let (title, subtitle) = (
        "Noise came 4 times, 1 h 40 min in all".to_owned(),
        "2026-03-14 21:30:00 to 2027-03-15 01:30:00".to_owned(),
    );
    let timeline = TimelineFigure {
        title: title.clone(),
        subtitle: subtitle.clone(),
        hours: hours.clone(),
        cells: levels,
        cell_s: 60.0,
        episodes: episodes.clone(),
    };
    let image = Image { duration_s: year_s + 14_400.0, ..cells(3, 200, 400, |_, _| -65.0) };
    let waterfall = WaterfallFigure {
        title: title.clone(),
        subtitle: subtitle.clone(),
        hours: hours.clone(),
        image,
        passband_hz: PASSBAND,
        episodes: episodes.clone(),
    };
    let row =
        OnTimesRow { label: "Buzz".into(), note: "4 times, not evenly".into(), times: episodes, even_s: vec![] };
    (timeline, waterfall, OnTimesFigure { title, subtitle, hours, rows: vec![row] })
}

/// Eight hours with a pause of three quarters of an hour: a thermostat that misses once, two other noises, a void
/// one.
pub fn on_times() -> OnTimesFigure {
    let hours = Hours {
        recorded_s: vec![(0.0, 11_400.0), (14_100.0, 31_500.0)],
        starts_at_s: 76_500.0,
        days: vec![],
        clock: "UTC".into(),
    };
    let mut number = 0;
    let mut time = |start_s: f64, length_s: f64, is_sure| {
        number += 1;
        MarkedEpisode { start_s, end_s: start_s + length_s, name: number.to_string(), is_sure }
    };
    let every = |n: i32| 600.0 + 1810.0 * f64::from(n);
    let heater = (0..17).filter(|n| !matches!(n, 6 | 7 | 11)).map(|n| time(every(n), 420.0, n != 4)).collect();
    let row = |label: &str, note: &str, times, even_s| OnTimesRow {
        label: label.into(),
        note: note.into(),
        times,
        even_s,
    };
    OnTimesFigure {
        title: "What resembles the aquarium heater (buzz) comes back every 30 min 10 s".into(),
        subtitle: "shed-night: 2026-03-14 21:15:00 to 2026-03-15 06:00:00".into(),
        hours,
        rows: vec![
            row("Like aquarium heater", "14 times, every 30 min 10 s", heater, (0..17).map(every).collect()),
            row(
                "Hash",
                "3 times",
                vec![time(3000.0, 5400.0, true), time(9000.0, 60.0, true), time(20_000.0, 9000.0, true)],
                vec![],
            ),
            row(
                "Clicks",
                "5 times, not evenly",
                [1000.0, 5000.0, 15_000.0, 15_400.0, 28_000.0].map(|at| time(at, 20.0, true)).into(),
                vec![],
            ),
            row("Kind not told", "once", vec![time(17_000.0, 900.0, false)], vec![]),
        ],
    }
}
