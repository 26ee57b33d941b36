//! Every figure, drawn from realistic and from hostile data: a sound PNG of the promised size and weight, always the
//! same bytes. What the eye must judge (overlaps, cut words) can be looked at: set `NOISETALLY_FIGURES` to a folder.

use std::f64::consts::TAU;
use std::fs;
use std::path::{Path, PathBuf};

use noisetally::plot::{
    ApdFigure, BudgetBar, BudgetFigure, CardFigure, CarrierTrace, CombStretch, EnvelopeFigure, ExcessFigure, Image,
    LadderBar, LadderFigure, LineKind, ManMadeCurve, ManMadeFigure, ManMadeLevel, MarkedLine, PlotError,
    SpectraFigure, SpectrogramFigure, SwitchingCombFigure,
};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// The heaviest a figure may be, bytes: forums refuse or shrink large pictures.
const HEAVIEST: usize = 300_000;

const DEVICE: &str = "Aquarium lamp";
const PASSBAND: (f64, f64) = (300.0, 2700.0);

// ---- the invented measurement ------------------------------------------------------------------------------------

/// Gain of the receiver's audio filter, dB.
fn filter_db(freq_hz: f64, (from, to): (f64, f64)) -> f64 {
    let outside = (from - freq_hz).max(freq_hz - to).max(0.0);
    (-0.16 * outside).max(-55.0)
}

/// Spread of one bin averaged over about 30 frames, dB: close to normal, 4.34/√30.
fn ripple(rng: &mut ChaCha8Rng) -> f64 {
    (0..12).map(|_| rng.random::<f64>()).sum::<f64>().mul_add(0.8, -4.8)
}

fn spectrum(
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

const LINES: [(f64, f64, LineKind); 5] = [
    (612.0, -31.0, LineKind::Added),
    (1000.0, -38.5, LineKind::Both),
    (1224.4, -35.0, LineKind::Added),
    (1290.0, -41.0, LineKind::Added),
    (2110.0, -50.0, LineKind::Lost),
];

fn with_lines(mut spectrum: Vec<(f64, f64)>, state: LineKind) -> Vec<(f64, f64)> {
    for (freq, level, kind) in LINES {
        if kind == LineKind::Both || kind == state {
            for (f, y) in &mut spectrum {
                let bins = (*f - freq).abs() / 5.9;
                *y = y.max(level - 6.0 * bins * bins);
            }
        }
    }
    spectrum
}

fn hash_db(freq_hz: f64) -> f64 {
    16.0 - freq_hz / 800.0
}

fn spectra() -> SpectraFigure {
    let words = |f: f64| if f < 1000.0 { format!("{f:.0} Hz") } else { format!("{:.3} kHz", f / 1000.0) };
    let smooth = |extra: fn(f64) -> f64| {
        (0..600)
            .map(|i| f64::from(i) * 10.0)
            .map(|f| (f, (-65.0 + extra(f) + filter_db(f, PASSBAND)).max(-118.0)))
            .collect()
    };
    SpectraFigure {
        title: "Aquarium lamp adds 14.2 dB of hash and three carriers".into(),
        subtitle: "On 3 recordings, off 2 recordings, 14 100 kHz USB, end-fed wire".into(),
        off: with_lines(spectrum(1, PASSBAND, 1024, 6000.0, |_| -65.0), LineKind::Lost),
        on: with_lines(spectrum(2, PASSBAND, 1024, 6000.0, |f| -65.0 + hash_db(f)), LineKind::Added),
        off_floor: smooth(|_| 0.0),
        on_floor: smooth(hash_db),
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

fn excess() -> ExcessFigure {
    let bands = (0..12)
        .map(|i| 400.0 + 200.0 * f64::from(i))
        .map(|f| (f, hash_db(f) + (f / 170.0).sin() * 0.5))
        .map(|(f, e)| (f, e, e - 0.7, e + 0.8))
        .collect();
    ExcessFigure {
        title: "The hash is stronger at low frequencies".into(),
        subtitle: "Excess in bands of 200 Hz with 95 % intervals, lines left out".into(),
        bands,
        overall: Some((14.2, 13.9, 14.5)),
        detection_limit_db: Some(0.6),
        passband_hz: PASSBAND,
    }
}

fn cells(seed: u64, rows: usize, cols: usize, level: impl Fn(f64, f64) -> f64) -> Image {
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

fn spectrogram() -> SpectrogramFigure {
    let carrier = |f: f64, at: f64, strength: f64| strength - ((f - at).abs() / 6.0).powi(2) * 8.0;
    SpectrogramFigure {
        title: "The hash is there from the first second to the last".into(),
        subtitle: "Off and on in one colour scale".into(),
        off: cells(3, 80, 1000, |_, f| (-65.0f64).max(-65.0 + carrier(f, 1000.0, 26.0))),
        on: cells(4, 80, 1000, |t, f| {
            let drifting = 1900.0 + 160.0 * t + 30.0 * (t * TAU * 2.0).sin();
            let hash = hash_db(f) + if (0.55..0.6).contains(&t) { -9.0 } else { 0.0 };
            let lines = [(612.0, 34.0), (1000.0, 26.0), (1224.4, 30.0), (drifting, 22.0)];
            lines.iter().map(|(at, strength)| carrier(f, *at, *strength)).fold(hash, f64::max) - 65.0
        }),
        passband_hz: PASSBAND,
    }
}

fn envelope() -> EnvelopeFigure {
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
fn amplitudes() -> ApdFigure {
    let shares = (1..400).map(|i| 10f64.powf(-f64::from(i) / 80.0));
    let noise = |share: f64| 10.0 * (-share.ln()).log10();
    let pulses = |share: f64| 16.0 + noise((share / 0.01).min(0.9999)) * 1.3;
    ApdFigure {
        title: "Fence: impulsive for at least 1.0 % of the time, with nearly all of the added noise".into(),
        subtitle: "How often the noise exceeds each level · 14 100 kHz · USB".into(),
        level_caption: "Power over the mean noise off (dB)".into(),
        off: shares.clone().map(|share| (share, noise(share))).collect(),
        on: shares.map(|share| (share, (noise(share) + 0.1).max(pulses(share)))).collect(),
        on_gaussian: Some(0.1),
    }
}

fn ladder() -> LadderFigure {
    let bar = |label: &str, excess, doubtful| LadderBar {
        label: label.into(),
        excess,
        bought: Some((1.7, 1.1, 2.3)),
        doubtful,
    };
    LadderFigure {
        title: "The linear supply removes all that can be measured; turns on the ferrite help little".into(),
        subtitle: "Aquarium lamp, 14 100 kHz USB: excess left after each remedy".into(),
        steps: vec![
            bar("no remedy", Some((14.2, 13.9, 14.5)), false),
            bar("ferrite, 3 turns", Some((8.1, 7.7, 8.5)), false),
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
    }
}

fn budget() -> BudgetFigure {
    let bar = |label: &str, share, without| BudgetBar { label: label.into(), share, without };
    BudgetFigure {
        title: "Aquarium lamp: 78 % of what all devices add".into(),
        subtitle: "Without remedies, each device by itself; carriers included".into(),
        bars: vec![
            bar("aquarium lamp", Some((0.78, 0.74, 0.81)), Some((6.1, 5.8, 6.5))),
            bar("fence energiser behind the compost heap", Some((0.2, 0.17, 0.24)), Some((0.9, 0.7, 1.1))),
            bar("radio clock", Some((0.02, 0.0, 0.06)), Some((0.1, 0.0, 0.3))),
            bar("gate opener", None, None),
        ],
    }
}

/// The four curves of ITU-R P.372 and a station near the residential one.
fn man_made() -> ManMadeFigure {
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

fn card() -> CardFigure {
    let fact = |label: &str, value: &str| (label.to_owned(), value.to_owned());
    CardFigure {
        title: "Aquarium lamp raises the noise by 14.2 dB, about two S-units".into(),
        subtitle: "On 3 recordings, off 2 recordings · 14 100 kHz USB · end-fed wire · 14 March 2026".into(),
        facts: vec![
            fact("Excess", "14.2 dB (13.9 to 14.5)"),
            fact("With lines", "16.8 dB"),
            fact("Character", "buzz"),
            fact("Pulses at", "100 Hz"),
            fact("Lines added", "3"),
            fact("SNR lost by a wanted signal", "14.2 dB"),
            fact("Detection limit", "0.6 dB"),
            fact("Passband", "300 to 2700 Hz"),
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
        envelope: Some(EnvelopeFigure { title: "Envelope: pulses at 100 Hz".into(), ..envelope() }),
        ladder: Some(LadderFigure { title: "Remedies: linear supply".into(), ..ladder() }),
        footer: "noisetally 0.1.0 · settings and data in the report beside this picture".into(),
    }
}

// ---- what a picture must be --------------------------------------------------------------------------------------

struct Picture {
    width: u32,
    height: u32,
    pixels: Vec<[u8; 3]>,
    bytes: Vec<u8>,
}

/// A folder to look into afterwards, or one that goes away.
fn folder() -> (PathBuf, Option<tempfile::TempDir>) {
    if let Some(kept) = std::env::var_os("NOISETALLY_FIGURES") {
        fs::create_dir_all(&kept).expect("folder for figures");
        return (kept.into(), None);
    }
    let passing = tempfile::tempdir().expect("temporary folder");
    (passing.path().to_owned(), Some(passing))
}

/// Draws twice: the same bytes, a palette PNG that decodes, not too heavy.
fn picture(name: &str, draw: impl Fn(&Path) -> Result<(), PlotError>) -> Picture {
    let (folder, _guard) = folder();
    let file = folder.join(format!("{name}.png"));
    draw(&file).expect("drawn");
    let bytes = fs::read(&file).expect("written");
    draw(&file).expect("drawn again");
    assert_eq!(bytes, fs::read(&file).expect("written again"), "{name} differs from itself");
    assert!(bytes.len() < HEAVIEST, "{name}: {} bytes", bytes.len());
    let mut decoder = png::Decoder::new(std::io::Cursor::new(&bytes));
    decoder.set_transformations(png::Transformations::EXPAND);
    let mut reader = decoder.read_info().expect("a PNG");
    assert_eq!(reader.info().color_type, png::ColorType::Indexed, "{name}");
    let mut rgb = vec![0; reader.output_buffer_size().expect("size")];
    let info = reader.next_frame(&mut rgb).expect("whole");
    let pixels = rgb.chunks_exact(3).map(|p| [p[0], p[1], p[2]]).collect();
    Picture { width: info.width, height: info.height, pixels, bytes }
}

impl Picture {
    fn colours(&self) -> usize {
        let mut seen = self.pixels.clone();
        seen.sort_unstable();
        seen.dedup();
        seen.len()
    }

    fn ground_share(&self) -> f64 {
        self.pixels.iter().filter(|p| **p == [255; 3]).count() as f64 / self.pixels.len() as f64
    }

    /// Nothing may be cut off at the edge: a margin all around is blank.
    fn margin_is_blank(&self, margin: usize) -> bool {
        let (width, height) = (self.width as usize, self.height as usize);
        self.pixels.iter().enumerate().all(|(i, pixel)| {
            let (x, y) = (i % width, i / width);
            let inside = x >= margin && x < width - margin && y >= margin && y < height - margin;
            inside || *pixel == [255; 3]
        })
    }
}

fn check(name: &str, size: (u32, u32), draw: impl Fn(&Path) -> Result<(), PlotError>) -> Picture {
    let picture = picture(name, draw);
    assert_eq!(&picture.bytes[..8], b"\x89PNG\r\n\x1a\n", "{name}");
    assert_eq!((picture.width, picture.height), size, "{name}");
    assert!(picture.margin_is_blank(12), "{name}: something reaches into the margin");
    picture
}

// ---- the ordinary figures ----------------------------------------------------------------------------------------

#[test]
fn spectra_show_both_states_in_their_colours() {
    let drawn = check("spectra", (1200, 700), |file| spectra().draw(file));
    assert!(drawn.colours() > 100, "{}", drawn.colours());
    assert!((0.4..0.9).contains(&drawn.ground_share()), "{}", drawn.ground_share());
    let near = |want: [i32; 3]| {
        drawn.pixels.iter().filter(|p| p.iter().zip(want).all(|(a, b)| (i32::from(*a) - b).abs() < 60)).count()
    };
    assert!(near([213, 94, 0]) > 3000 && near([0, 114, 178]) > 3000);
}

#[test]
fn excess_by_band() {
    assert!(check("excess", (1200, 700), |file| excess().draw(file)).colours() > 50);
}

#[test]
fn spectrogram_uses_the_whole_scale() {
    assert!(check("spectrogram", (1200, 800), |file| spectrogram().draw(file)).colours() > 150);
}

#[test]
fn envelope_with_its_peaks() {
    assert!(check("envelope", (1200, 700), |file| envelope().draw(file)).colours() > 50);
}

#[test]
fn amplitudes_on_rayleigh_paper() {
    assert!(check("apd", (1200, 700), |file| amplitudes().draw(file)).colours() > 50);
}

#[test]
fn ladder_with_doubt_and_gaps() {
    assert!(check("ladder", (1200, 700), |file| ladder().draw(file)).colours() > 50);
}

#[test]
fn published_noise_with_the_station_on_it() {
    let drawn = check("man-made", (1200, 700), |file| man_made().draw(file));
    let near = |want: [i32; 3]| {
        drawn.pixels.iter().filter(|p| p.iter().zip(want).all(|(a, b)| (i32::from(*a) - b).abs() < 30)).count()
    };
    assert!(near([213, 94, 0]) > 300 && near([0, 114, 178]) > 300, "a level is missing");
}

#[test]
fn budget_with_its_shares() {
    assert!(check("budget", (1200, 500), |file| budget().draw(file)).colours() > 50);
}

#[test]
fn card_holds_everything() {
    assert!(check("card", (1600, 1360), |file| card().draw(file)).colours() > 150);
}

// ---- hostile data ------------------------------------------------------------------------------------------------

#[test]
fn nothing_measured_draws_and_says_so() {
    check("empty-spectra", (1200, 700), |file| SpectraFigure::default().draw(file));
    check("empty-excess", (1200, 700), |file| ExcessFigure::default().draw(file));
    check("empty-spectrogram", (1200, 800), |file| SpectrogramFigure::default().draw(file));
    check("empty-envelope", (1200, 700), |file| EnvelopeFigure::default().draw(file));
    check("empty-apd", (1200, 700), |file| ApdFigure::default().draw(file));
    check("empty-ladder", (1200, 700), |file| LadderFigure::default().draw(file));
    check("empty-switching-comb", (1200, 380), |file| SwitchingCombFigure::default().draw(file));
    check("empty-man-made", (1200, 700), |file| ManMadeFigure::default().draw(file));
    check("empty-budget", (1200, 500), |file| BudgetFigure::default().draw(file));
    let broken = BudgetBar { share: Some((f64::NAN, f64::INFINITY, 1e300)), ..BudgetBar::default() };
    check("broken-budget", (1200, 500), |file| {
        BudgetFigure { bars: vec![broken.clone(); 3], ..budget() }.draw(file)
    });
    let far = CarrierTrace { levels: vec![Some(f64::NAN), Some(-1e300), Some(3.0)], ..CarrierTrace::default() };
    check("broken-carriers", (1200, 700), |file| {
        LadderFigure { carriers: vec![far.clone(); 6], ..ladder() }.draw(file)
    });
    let empty = check("empty-card", (1600, 1360), |file| CardFigure::default().draw(file));
    assert!(empty.colours() > 5, "the notes are missing");
}

/// What a broken measurement may hold.
const ODD: [f64; 12] =
    [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 0.0, -0.0, 1e300, -1e300, 1e-300, f64::MAX, -400.0, 24_000.0, 1.0];

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
                    off_floor: curve.clone(),
                    on_floor: curve.clone(),
                    passband_hz: (a, b),
                    lines,
                    ..SpectraFigure::default()
                },
                excess: ExcessFigure {
                    bands: vec![(100.0, a, b, a), (a, b, a, b), (300.0, 1.0, a, b)],
                    overall: Some((b, a, a)),
                    detection_limit_db: Some(a),
                    passband_hz: (b, a),
                    ..ExcessFigure::default()
                },
                spectrogram: SpectrogramFigure {
                    off: image.clone(),
                    on: Image { freq_hz: (0.0, 3000.0), ..image },
                    passband_hz: (a, b),
                    ..SpectrogramFigure::default()
                },
                envelope: Some(EnvelopeFigure {
                    off: curve.clone(),
                    on: curve.clone(),
                    marks: vec![(a, "a".into()), (b, "b".into())],
                    threshold: Some(a),
                    ..EnvelopeFigure::default()
                }),
                ladder: Some(LadderFigure {
                    steps: vec![
                        LadderBar { excess: Some((a, b, a)), ..LadderBar::default() },
                        LadderBar { excess: Some((1.0, a, b)), doubtful: true, ..LadderBar::default() },
                    ],
                    detection_limit_db: Some(b),
                    ..LadderFigure::default()
                }),
                ..CardFigure::default()
            };
            check(&format!("odd-{i}"), (1600, 1360), |file| figure.draw(file));
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
                    })
                    .collect(),
                ..ladder()
            }),
            spectra: SpectraFigure { title: words.clone(), ..spectra() },
            excess: ExcessFigure { title: words.clone(), ..excess() },
            spectrogram: SpectrogramFigure { title: words.clone(), ..spectrogram() },
            envelope: None,
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
        off_floor: Vec::new(),
        on_floor: Vec::new(),
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
    let figure =
        ExcessFigure { bands, overall: Some((-1.8, -9.5, 3.2)), detection_limit_db: Some(5.0), ..excess() };
    check("negative-excess", (1200, 700), |file| figure.draw(file));
    let quiet = ExcessFigure {
        bands: vec![(700.0, 0.1, -0.2, 0.4)],
        overall: Some((0.1, -0.2, 0.4)),
        detection_limit_db: None,
        passband_hz: (500.0, 900.0),
        ..excess()
    };
    check("one-band", (1200, 700), |file| quiet.draw(file));
}

#[test]
fn a_fifth_of_a_second_and_a_whole_night() {
    let one = |seed, level: f64| Image { duration_s: 0.2, ..cells(seed, 1, 500, |_, _| level) };
    let short = SpectrogramFigure { off: one(8, -65.0), on: one(9, -52.0), ..spectrogram() };
    check("short-spectrogram", (1200, 800), |file| short.draw(file));
    let night = |seed, level: f64| Image { duration_s: 28_800.0, ..cells(seed, 4000, 200, |_, _| level) };
    let long = SpectrogramFigure { off: night(10, -65.0), on: night(11, -60.0), ..spectrogram() };
    check("long-spectrogram", (1200, 800), |file| long.draw(file));
}

fn switching_comb() -> SwitchingCombFigure {
    let stretch = |label: &str, from_khz, to_khz, is_labelled| CombStretch {
        label: label.into(),
        from_khz,
        to_khz,
        is_labelled,
    };
    SwitchingCombFigure {
        title: "Dehumidifier: carriers every 43.713 kHz".into(),
        subtitle: "95 % interval 43.7125 to 43.7128 kHz".into(),
        stretches: vec![
            stretch("Everything listened to", 3_000.0, 29_000.0, false),
            stretch("7000 to 7200 kHz", 7_000.0, 7_200.0, true),
            stretch("14000 to 14350 kHz", 14_000.0, 14_350.0, true),
        ],
        members_khz: [81, 88, 161, 164, 233, 322, 325, 415, 645].map(|k| f64::from(k) * 43.7126).into(),
        missing_khz: vec![480.0 * 43.7126],
        outsiders_khz: vec![17_121.5, 10_925.3],
        predicted_khz: [162, 163, 321, 323, 324, 326, 327, 328].map(|k| f64::from(k) * 43.7126).into(),
    }
}

#[test]
fn a_family_of_carriers_over_the_dial() {
    check("switching-comb", (1200, 760), |file| switching_comb().draw(file));
    let odd = SwitchingCombFigure {
        members_khz: ODD.into(),
        predicted_khz: (0..20_000).map(|k| f64::from(k) * 1.5).collect(),
        stretches: ODD
            .into_iter()
            .map(|end| CombStretch { label: "x".repeat(300), from_khz: end, to_khz: -end, is_labelled: true })
            .collect(),
        ..switching_comb()
    };
    check("odd-switching-comb", (1200, 190 + 6 * 190), |file| odd.draw(file));
}

#[test]
fn a_file_that_cannot_be_written_is_an_error_with_its_name() {
    let (folder, _guard) = folder();
    let file = folder.join("no such folder").join("spectra.png");
    let error = excess().draw(&file).expect_err("the folder is missing");
    assert!(error.to_string().contains("spectra.png"), "{error}");
}
