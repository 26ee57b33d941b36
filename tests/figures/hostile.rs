//! Figures of data that nobody hopes for: nothing, numbers out of bounds, long and strange names.

use super::measured::*;
use super::picture::{check, folder};
use noisetally::findings::bands::figure::{BandDot, BandStep, BandsFigure};
use noisetally::findings::budget::figure::{BudgetBar, BudgetFigure, BudgetPart};
use noisetally::findings::ladder::figure::{LadderBar, LadderFigure, LadderForecast};
use noisetally::findings::ladder::figure_carriers::CarrierTrace;
use noisetally::findings::man_made::figure::{ManMadeCurve, ManMadeFigure, ManMadeLevel};
use noisetally::findings::ranking::figure::{RankingFigure, RankingRow};
use noisetally::findings::switching_comb::figure::{CombStretch, SwitchingCombFigure};
use noisetally::night::figures::hours::Hours;
use noisetally::night::figures::on_times::{OnTimesFigure, OnTimesRow};
use noisetally::night::figures::timeline::{MarkedEpisode, TimelineCell, TimelineFigure};
use noisetally::night::figures::waterfall::WaterfallFigure;
use noisetally::plot::Drawing;
use noisetally::plot::image::Image;
use noisetally::report::pictures::drawing::apd::ApdFigure;
use noisetally::report::pictures::drawing::card::{CardFigure, PulsingFigure};
use noisetally::report::pictures::drawing::envelope::EnvelopeFigure;
use noisetally::report::pictures::drawing::excess::{ExcessFigure, ExcessStep};
use noisetally::report::pictures::drawing::intervals::IntervalsFigure;
use noisetally::report::pictures::drawing::spectra::{Bracket, LineKind, MarkedLine, SpectraFigure};
use noisetally::report::pictures::drawing::spectrogram::SpectrogramFigure;

#[test]
fn nothing_measured_draws_and_says_so() {
    check("empty-spectra", (1200, 700), |file| SpectraFigure::default().draw(file));
    check("empty-excess", (1200, 700), |file| ExcessFigure::default().draw(file));
    check("empty-spectrogram", (1200, 800), |file| SpectrogramFigure::default().draw(file));
    check("empty-envelope", (1200, 700), |file| EnvelopeFigure::default().draw(file));
    check("empty-intervals", (1200, 700), |file| IntervalsFigure::default().draw(file));
    check("empty-apd", (1200, 700), |file| ApdFigure::default().draw(file));
    check("empty-ladder", (1200, 700), |file| LadderFigure::default().draw(file));
    check("empty-switching-comb", (1200, 380), |file| SwitchingCombFigure::default().draw(file));
    check("empty-man-made", (1200, 700), |file| ManMadeFigure::default().draw(file));
    check("empty-budget", (1200, 500), |file| BudgetFigure::default().draw(file));
    check("empty-timeline", (1200, 640), |file| TimelineFigure::default().draw(file));
    check("empty-on-times", (1200, 422), |file| OnTimesFigure::default().draw(file));
    check("empty-waterfall", (1200, 760), |file| WaterfallFigure::default().draw(file));
    let part = BudgetPart { share: Some((f64::NAN, f64::INFINITY, 1e300)), without: None };
    let broken = BudgetBar { parts: vec![part], ..BudgetBar::default() };
    check("broken-budget", (1200, 500), |file| {
        BudgetFigure { bars: vec![broken.clone(); 3], ..budget() }.draw(file)
    });
    check("empty-ranking", (1200, 498), |file| RankingFigure::default().draw(file));
    let odd = |a, b| RankingRow { added: Some((a, b, a)), limit_db: Some(b), ..RankingRow::default() };
    let rows: Vec<RankingRow> = ODD.iter().flat_map(|a| ODD.map(|b| odd(*a, b))).collect();
    check("odd-ranking", (1200, 330 + 42 * 41), |file| {
        RankingFigure { rows: Vec::clone(&rows), ..ranking() }.draw(file)
    });
    check("empty-bands", (1200, 640), |file| BandsFigure::default().draw(file));
    let dots: Vec<BandDot> = ODD
        .iter()
        .flat_map(|a| ODD.map(|b| BandDot { column: 1, value: (*a, b, *a), doubtful: true }))
        .chain([BandDot { column: 99, value: (1.0, 0.0, 2.0), doubtful: false }])
        .collect();
    check("odd-bands", (1200, 640), |file| {
        let step = BandStep { label: "x".repeat(90), dots: dots.clone() };
        BandsFigure { steps: vec![step; 9], ..bands() }.draw(file)
    });
    let far = CarrierTrace { levels: vec![Some(f64::NAN), Some(-1e300), Some(3.0)], ..CarrierTrace::default() };
    check("broken-carriers", (1200, 700), |file| {
        let next = LadderForecast { label: "x".repeat(90), excess: (2.0, f64::NAN, 1e300) };
        LadderFigure { carriers: vec![far.clone(); 6], forecast: Some(next), ..ladder() }.draw(file)
    });
    let empty = check("empty-card", (1600, 1360), |file| CardFigure::default().draw(file));
    assert!(empty.colours() > 5, "the notes are missing");
}

/// What a broken measurement may hold.
const ODD: [f64; 12] =
    [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 0.0, -0.0, 1e300, -1e300, 1e-300, f64::MAX, -400.0, 24_000.0, 1.0];

/// A night whose clock and levels are broken: each odd number as a time and as a level.
#[test]
fn odd_numbers_never_stop_a_night() {
    for (i, a) in ODD.into_iter().enumerate() {
        let b = ODD[(i + 5) % 12];
        let hours = Hours { recorded_s: vec![(0.0, 100.0), (a, b), (b, a)], starts_at_s: 3.0, ..Hours::default() };
        let cell = |at_s, level| TimelineCell { at_s, level_db: [level, level, b], busy_share: a };
        let episodes = vec![
            MarkedEpisode { start_s: a, end_s: b, name: "1".into(), is_sure: true },
            MarkedEpisode {
                start_s: 10.0,
                end_s: 20.0,
                name: "a name that is far too long ".repeat(9),
                is_sure: false,
            },
        ];
        let timeline = TimelineFigure {
            title: "odd numbers".into(),
            hours: hours.clone(),
            cells: vec![cell(0.0, -40.0), cell(a, b), cell(10.0, a), cell(20.0, -39.0)],
            cell_s: 10.0,
            episodes: episodes.clone(),
            ..TimelineFigure::default()
        };
        let image =
            Image { rows: 2, cols: 2, db: vec![a as f32, -60.0, b as f32], duration_s: a, freq_hz: (0.0, b) };
        let row = OnTimesRow {
            label: "a name that is far too long ".repeat(9),
            note: "灯\n|".into(),
            times: episodes.clone(),
            even_s: vec![a, b, 30.0],
        };
        let on_times = OnTimesFigure {
            hours: hours.clone(),
            rows: vec![row, OnTimesRow::default()],
            ..OnTimesFigure::default()
        };
        check("odd-on-times", (1200, 514), |file| on_times.draw(file));
        let waterfall =
            WaterfallFigure { hours, image, passband_hz: (a, b), episodes, ..WaterfallFigure::default() };
        check("odd-timeline", (1200, 640), |file| timeline.draw(file));
        check("odd-waterfall", (1200, 760), |file| waterfall.draw(file));
    }
}

#[test]
fn odd_numbers_never_stop_a_figure() {
    for (i, a) in ODD.into_iter().enumerate() {
        for b in [ODD[(i + 1) % 12], ODD[(i + 5) % 12]] {
            let curve = vec![(0.0, b), (a, a), (b, a), (100.0, b), (200.0, a)];
            let lines = vec![
                MarkedLine { freq_hz: a, level: b, kind: LineKind::Added, label: Some("a".into()) },
                MarkedLine { freq_hz: 100.0, level: a, kind: LineKind::Lost, label: Some("b".into()) },
            ];
            let image = Image {
                rows: 2,
                cols: 3,
                db: vec![a as f32, b as f32, -60.0, a as f32],
                duration_s: b,
                freq_hz: (a, b),
            };
            let figure = CardFigure {
                title: "odd numbers".into(),
                spectra: SpectraFigure {
                    off: curve.clone(),
                    on: curve[..1].to_vec(),
                    floor: Some(a),
                    bracket: Some(Bracket { freq_hz: 100.0, off: a, on: b, words: "odd".into() }),
                    passband_hz: (a, b),
                    lines,
                    ..SpectraFigure::default()
                },
                excess: ExcessFigure {
                    steps: vec![
                        ExcessStep {
                            bands: vec![(100.0, a, b, a), (a, b, a, b), (300.0, 1.0, a, b)],
                            overall: Some((b, a, a)),
                            with_lines_db: Some(a),
                            ..ExcessStep::default()
                        },
                        ExcessStep { overall: Some((a, b, a)), doubtful: true, ..ExcessStep::default() },
                    ],
                    detection_limit_db: Some(a),
                    passband_hz: (b, a),
                    ..ExcessFigure::default()
                },
                spectrogram: SpectrogramFigure {
                    off: take("odd", image.clone()),
                    on: take("odd", Image { freq_hz: (0.0, 3000.0), ..image }),
                    passband_hz: (a, b),
                    ..SpectrogramFigure::default()
                },
                pulsing: Some(PulsingFigure::Modulation(EnvelopeFigure {
                    off: curve.clone(),
                    on: curve.clone(),
                    marks: vec![(a, "a".into()), (b, "b".into())],
                    threshold: Some(a),
                    ..EnvelopeFigure::default()
                })),
                ladder: Some(LadderFigure {
                    steps: vec![
                        LadderBar { excess: Some((a, b, a)), with_lines_db: Some(b), ..LadderBar::default() },
                        LadderBar { excess: Some((1.0, a, b)), doubtful: true, ..LadderBar::default() },
                    ],
                    detection_limit_db: Some(b),
                    ..LadderFigure::default()
                }),
                ..CardFigure::default()
            };
            check(&format!("odd-{i}"), (1600, 1360), |file| figure.draw(file));
            let beats = IntervalsFigure {
                intervals_s: vec![a, b, 0.2, 0.21, a, 1.0],
                beat: Some((b, "odd".into())),
                ..IntervalsFigure::default()
            };
            check(&format!("odd-intervals-{i}"), (1200, 700), |file| beats.draw(file));
            let amplitudes = ApdFigure {
                off: vec![(a, b), (0.5, a), (b, 0.5)],
                on: vec![(0.1, b), (0.2, a), (a, a)],
                on_gaussian: Some(b),
                ..ApdFigure::default()
            };
            check(&format!("odd-apd-{i}"), (1200, 700), |file| amplitudes.draw(file));
            let curve = |is_nearest| ManMadeCurve {
                points: vec![(a, b), (1.0, a), (b, 40.0), (5.0, 50.0), (30.0, 20.0)],
                spread_db: (a, b),
                is_nearest,
                ..ManMadeCurve::default()
            };
            let level = |freq_mhz, figure| ManMadeLevel { freq_mhz, figure, is_on: true };
            let published = ManMadeFigure {
                curves: vec![curve(true), curve(false)],
                levels: vec![level(a, (b, a, b)), level(7.0, (40.0, a, b)), level(b, (40.0, 37.0, 43.0))],
                ..ManMadeFigure::default()
            };
            check(&format!("odd-man-made-{i}"), (1200, 700), |file| published.draw(file));
        }
    }
}

#[test]
fn long_names_and_strange_letters_keep_to_their_place() {
    let name =
        "Battery charger of the electric bicycle in the neighbour's shed (the grey one, 42 V, behind the ladder)";
    let strange = "水槽ランプ \u{1F41F} مصباح \u{0}\u{7}\n\t\u{202e}end \u{301}\u{301}\u{301}";
    let endless = "Donau".repeat(200);
    for (i, words) in [name, strange, &endless].into_iter().enumerate() {
        let words = words.to_owned();
        let figure = CardFigure {
            title: format!(
                "{words} raises the noise by 14.2 dB, about two S-units, on every band we tried that day"
            ),
            subtitle: format!("{words}; {words}"),
            facts: (0..8).map(|_| (words.clone(), words.clone())).collect(),
            verdict: words.clone(),
            trust: words.clone(),
            trust_level: 1,
            warnings: vec![words.clone(); 9],
            ladder: Some(LadderFigure {
                steps: (0..14)
                    .map(|i| LadderBar {
                        label: words.clone(),
                        excess: Some((14.0 - f64::from(i), 1.0, 20.0)),
                        bought: Some((1.0, 0.5, 1.5)),
                        doubtful: i == 3,
                        with_lines_db: None,
                    })
                    .collect(),
                ..ladder()
            }),
            spectra: SpectraFigure { title: words.clone(), ..spectra() },
            excess: ExcessFigure { title: words.clone(), ..excess() },
            spectrogram: SpectrogramFigure { title: words.clone(), ..spectrogram() },
            pulsing: None,
            footer: words.clone(),
        };
        check(&format!("long-card-{i}"), (1600, 1360), |file| figure.draw(file));
        let alone = SpectraFigure { title: words.clone(), subtitle: words.clone(), ..spectra() };
        check(&format!("long-spectra-{i}"), (1200, 700), |file| alone.draw(file));
        let alone =
            LadderFigure { title: words.clone(), subtitle: words.clone(), ..figure.ladder.clone().expect("set") };
        check(&format!("long-ladder-{i}"), (1200, 1106), |file| alone.draw(file));
    }
}

#[test]
fn thirty_lines_in_a_wide_passband() {
    let passband = (20.0, 24_000.0);
    let lines = (0..30)
        .map(|i| MarkedLine {
            freq_hz: 700.0 + 760.0 * f64::from(i) + 40.0 * f64::from(i % 3),
            level: -50.0 + f64::from(i * 7 % 20),
            kind: [LineKind::Added, LineKind::Added, LineKind::Both, LineKind::Lost][i as usize % 4],
            label: Some(format!("{:.2} kHz", 0.7 + 0.76 * f64::from(i))),
        })
        .collect();
    let figure = SpectraFigure {
        title: format!("{DEVICE}: a comb of carriers 760 Hz apart"),
        off: spectrum(6, passband, 8192, 24_000.0, |_| -65.0),
        on: spectrum(7, passband, 8192, 24_000.0, |f| -58.0 - f / 8000.0),
        floor: None,
        bracket: None,
        passband_hz: passband,
        lines,
        ..spectra()
    };
    check("many-lines", (1200, 700), |file| figure.draw(file));
}

#[test]
fn negative_excess_and_huge_intervals() {
    let bands = (0..40)
        .map(|i| (350.0 + 60.0 * f64::from(i), f64::from(i) * 0.3 - 6.0))
        .map(|(f, e)| (f, e, e - if f > 2000.0 { 300.0 } else { 1.5 }, e + 2.0))
        .collect();
    let step = |bands, overall| ExcessStep { bands, overall: Some(overall), ..ExcessStep::default() };
    let steps = vec![step(bands, (-1.8, -9.5, 3.2))];
    let figure = ExcessFigure { steps, detection_limit_db: Some(5.0), ..excess() };
    check("negative-excess", (1200, 700), |file| figure.draw(file));
    let quiet = ExcessFigure {
        steps: vec![step(vec![(700.0, 0.1, -0.2, 0.4)], (0.1, -0.2, 0.4))],
        detection_limit_db: None,
        passband_hz: (500.0, 900.0),
        ..excess()
    };
    check("one-band", (1200, 700), |file| quiet.draw(file));
    let many = ExcessFigure { steps: vec![excess().steps[0].clone(); 11], ..excess() };
    check("many-steps", (1200, 700), |file| many.draw(file));
}

#[test]
fn a_fifth_of_a_second_and_a_whole_night() {
    let one = |seed, level: f64| take("one", Image { duration_s: 0.2, ..cells(seed, 1, 500, |_, _| level) });
    let short = SpectrogramFigure { off: one(8, -65.0), on: one(9, -52.0), ..spectrogram() };
    check("short-spectrogram", (1200, 800), |file| short.draw(file));
    let night = |seed, level: f64| {
        take("all night", Image { duration_s: 28_800.0, ..cells(seed, 4000, 200, |_, _| level) })
    };
    let long = SpectrogramFigure { off: night(10, -65.0), on: night(11, -60.0), ..spectrogram() };
    check("long-spectrogram", (1200, 800), |file| long.draw(file));
}

#[test]
fn a_file_that_cannot_be_written_is_an_error_with_its_name() {
    let (folder, _guard) = folder();
    let file = folder.join("no such folder").join("spectra.png");
    let error = excess().draw(&file).expect_err("the folder is missing");
    assert!(error.to_string().contains("spectra.png"), "{error}");
}

#[test]
fn a_family_all_over_the_place() {
    let odd = SwitchingCombFigure {
        members_khz: ODD.into(),
        predicted_khz: (0..20_000).map(|k| f64::from(k) * 1.5).collect(),
        stretches: ODD
            .into_iter()
            .map(|end| CombStretch { label: "x".repeat(300), from_khz: end, to_khz: -end, is_overview: false })
            .collect(),
        ..switching_comb()
    };
    check("odd-switching-comb", (1200, 190 + 6 * 190), |file| odd.draw(file));
}
