//! Traps: recordings spoilt in a known way. Each must be cried by its code, and where the trap spoils the excess
//! the trust must not stay sound. Not here: the tables (`trap_table`).

use std::path::Path;

use super::codec::{transcoded, write_companded};
use super::judge::{codes, measured, stands};
use super::program;
use super::random::Dice;
use noisetally::audio::write_wav;
use noisetally::contrast::{ContrastSettings, contrast};
use noisetally::demo::synth::{Agc, Fading, Hash, Hum, Receiver, Scene, Station, Take, Trap};
use noisetally::units::{Db, Dbfs};
use noisetally::warning::{Code, Trust};

/// One kind of trap.
#[derive(Debug, Clone, Copy)]
pub struct Row {
    /// What is done.
    pub name: &'static str,
    /// Codes that name it.
    pub expected: &'static [Code],
    /// Whether it always spoils the excess. Of the others those do whose excess is off by more than 1 dB.
    pub spoils: bool,
    /// Whether it counts towards the target.
    pub counts: bool,
}

const fn row(name: &'static str, expected: &'static [Code], spoils: bool) -> Row {
    Row { name, expected, spoils, counts: true }
}

const GAIN: &[Code] = &[Code::GainMoving, Code::GainChanged];

/// All of them. Two ways of judging an AGC: by the sound alone, and as a user has it judged, who labelled nothing.
pub const ROWS: [Row; 22] = [
    Row { counts: false, ..row("agc, by the sound alone", GAIN, true) },
    row("agc, as the user is told", &[Code::GainUnknown, Code::GainMoving, Code::GainChanged], true),
    row("agc, reference carrier", GAIN, false),
    row("volume down", &[Code::GainChanged], true),
    Row { counts: false, ..row("volume up", &[Code::GainChanged, Code::GainUnknown], true) },
    row("volume, reference carrier", &[Code::GainChanged], false),
    row("clipping", &[Code::Clipped], true),
    row("dropouts", &[Code::Dropouts], true),
    row("silence", &[Code::Silent], true),
    row("dc offset", &[Code::DcOffset], false),
    row("hum in both", &[Code::MainsHum], false),
    row("hum in one", &[Code::MainsHum], false),
    row("dead channel", &[Code::DeadChannel], false),
    row("channel dies on the way", &[Code::DeadChannel], false),
    row("lossy file", &[Code::LossyCodec], false),
    row("lossy, top cut in one", &[Code::LossyCodec, Code::SettingsDiffer], false),
    row("lossy, holes in the noise", &[Code::LossyCodec], false),
    row("narrow filter", &[Code::NarrowPassband], false),
    row("swapped", &[Code::GainChanged], true),
    row("off differ", &[Code::OffNotRepeatable], true),
    row("fading", &[Code::GainMoving], true),
    row("too short", &[Code::TooShort], true),
];

/// What became of a trap.
pub struct Trapped {
    /// Its kind.
    pub row: Row,
    /// What was made.
    pub told: String,
    /// What the device adds, or by how much the volume was turned up, dB.
    pub size_db: f64,
    /// Codes cried.
    pub cried: Vec<Code>,
    /// Trust.
    pub trust: Trust,
    /// What it was called.
    pub called: &'static str,
    /// Error of the excess, dB, where the trap need not spoil it.
    pub error_db: Option<f64>,
}

impl Trapped {
    /// Whether the right code was cried and the trust is not left sound where the excess is spoilt.
    pub fn is_caught(&self) -> bool {
        self.is_named() && !(self.is_spoilt() && self.leans())
    }

    /// Whether the trust lets a user lean on it. `unrepeated` says no less than `gain_unknown` does: that a touched
    /// control would look the same.
    pub fn leans(&self) -> bool {
        self.trust == Trust::Sound || stands(self.trust) && !self.row.expected.contains(&Code::GainUnknown)
    }

    /// Whether the right code was cried.
    pub fn is_named(&self) -> bool {
        self.cried.iter().any(|code| self.row.expected.contains(code))
    }

    /// Whether the excess means little.
    pub fn is_spoilt(&self) -> bool {
        self.row.spoils || self.error_db.is_some_and(|error| error.abs() > 1.0)
    }

    /// One line for the list of failures.
    pub fn told(&self) -> String {
        format!(
            "trap {:26} {}: cried {:?}, called {}, trust {:?}, error {:.2?}",
            self.row.name, self.told, self.cried, self.called, self.trust, self.error_db
        )
    }
}

/// A file's shape, where the trap is about files.
enum Shape {
    Mono,
    /// Two channels, interleaved.
    Stereo(Vec<f32>),
    Companded,
}

/// Recordings with a trap in them.
struct Spoilt {
    offs: Vec<Take>,
    on: Take,
    size_db: f64,
    told: String,
    /// Off and on as files, judged by the program; else by `contrast` on samples as of a 16-bit recorder.
    files: Option<(Shape, Shape)>,
}

/// Trap `index` of a run.
pub fn trapped(seed: u64, index: u64) -> Trapped {
    let mut dice = Dice::new(seed, index, "trap");
    let row = ROWS[(index % ROWS.len() as u64) as usize];
    let spoilt = spoil(row.name, &mut dice);
    let (trust, cried, called, excess_db) = match &spoilt.files {
        Some(files) => by_program(&spoilt, files),
        None => by_sound(&spoilt),
    };
    let error_db = excess_db.filter(|_| !row.spoils).map(|found| found - spoilt.size_db);
    Trapped { row, told: spoilt.told, size_db: spoilt.size_db, cried, trust, called, error_db }
}

fn by_sound(spoilt: &Spoilt) -> (Trust, Vec<Code>, &'static str, Option<f64>) {
    let offs: Vec<_> = spoilt.offs.iter().map(|take| measured(&quantised(take), 50.0)).collect();
    let on = measured(&quantised(&spoilt.on), 50.0);
    let result = contrast(&offs.iter().collect::<Vec<_>>(), &[&on], &ContrastSettings::default());
    let mut cried = codes(&result, &offs[0], &on);
    cried.extend(offs[1..].iter().flat_map(|m| m.warnings.iter().map(|w| w.code)));
    let figures = result.figures.as_ref();
    (
        result.trust,
        cried,
        figures.map_or("unclear", |f| f.verdict.character.code()),
        figures.map(|f| f.excess_db().value),
    )
}

fn by_program(spoilt: &Spoilt, files: &(Shape, Shape)) -> (Trust, Vec<Code>, &'static str, Option<f64>) {
    let dir = tempfile::tempdir().expect("a bench needs a folder for its files");
    let (off, on) = (dir.path().join("first.wav"), dir.path().join("second.wav"));
    write(&off, &spoilt.offs[0], &files.0);
    write(&on, &spoilt.on, &files.1);
    let answer = program::asked(&off, &on);
    (answer.trust, answer.codes, answer.called, answer.excess_db)
}

fn write(path: &Path, take: &Take, shape: &Shape) {
    let done = match shape {
        Shape::Mono => write_wav(path, &take.samples, take.rate_hz, 1).is_ok(),
        Shape::Stereo(both) => write_wav(path, both, take.rate_hz, 2).is_ok(),
        Shape::Companded => write_companded(path, &take.samples, take.rate_hz).is_ok(),
    };
    assert!(done, "{}: can't be written", path.display());
}

fn spoil(name: &str, dice: &mut Dice) -> Spoilt {
    let excess = dice.pick(&[3.0, 6.0, 12.0]);
    let rate = dice.pick(&[8000, 12_000, 48_000]);
    let scene = Scene::new(Receiver::ssb(rate)).band_noise(Dbfs(-40.0));
    let noisy = |scene: &Scene| scene.clone().device(Hash::flat(), Db(excess));
    let mut seconds = (10.0, 10.0);
    let (mut offs, mut on) = (vec![scene.clone()], noisy(&scene));
    let (mut size_db, mut told) = (excess, format!("{excess} dB at {rate} Hz"));
    match name {
        "agc, by the sound alone" | "agc, as the user is told" | "agc, reference carrier" => {
            if name == "agc, reference carrier" {
                offs = vec![with_reference(&scene, dice)];
                on = noisy(&offs[0]);
            } else if dice.chance(0.25) {
                // Nothing added: then "no change" is right by chance, and the user can't know it.
                (on, size_db) = (scene.clone(), 0.0);
            }
            let fast = dice.chance(0.5);
            let gain = |s: Scene| s.trap(Trap::Agc(if fast { Agc::fast(0.05) } else { Agc::slow(0.05) }));
            offs = vec![gain(offs.remove(0))];
            on = gain(on);
            told = format!("{size_db} dB, {}", if fast { "fast" } else { "slow" });
        }
        "volume down" => on = on.trap(Trap::Volume { at_s: 0.0, db: -excess - dice.between(2.0, 6.0) }),
        "volume up" => {
            size_db = dice.pick(&[1.0, 3.0, 6.0]);
            on = scene.clone().trap(Trap::Volume { at_s: 0.0, db: size_db });
            told = format!("by {size_db} dB");
        }
        "volume, reference carrier" => {
            offs = vec![with_reference(&scene, dice)];
            let volume = dice.pick(&[-10.0, -6.0, -3.0, 3.0, 6.0]);
            on = noisy(&offs[0]).trap(Trap::Volume { at_s: 0.0, db: volume });
        }
        "clipping" => on = on.trap(Trap::Clip { limit: 0.01 * 10f64.powf(excess / 20.0) * dice.between(1.0, 2.0) }),
        "dropouts" => on = on.trap(Trap::Dropouts { rate_hz: 1.0, hole_s: dice.between(0.01, 0.1) }),
        "silence" => on = Scene::new(Receiver::ssb(8000)),
        "dc offset" => on = on.trap(Trap::DcOffset(dice.between(0.01, 0.1))),
        "hum in both" => {
            let hum = || Trap::Hum(Hum::new(50.0, &[Dbfs(-45.0), Dbfs(-50.0), Dbfs(-55.0)]));
            offs = vec![scene.clone().trap(hum())];
            on = on.trap(hum());
        }
        "hum in one" => on = on.trap(Trap::Hum(Hum::new(50.0, &[Dbfs(-45.0), Dbfs(-50.0)]))),
        "narrow filter" => {
            let middle = dice.between(500.0, 900.0);
            let narrow = Receiver::with_edges(rate, middle - 125.0, middle + 125.0, 50.0);
            offs = vec![Scene::new(narrow).band_noise(Dbfs(-40.0))];
            on = noisy(&offs[0]);
        }
        "swapped" => (offs, on) = (vec![on], scene.clone()),
        "off differ" => {
            let other = scene.clone().trap(Trap::Volume { at_s: 0.0, db: dice.pick(&[-4.0, -3.0, 3.0, 4.0]) });
            offs.push(other);
        }
        "fading" => {
            let fading = Fading::new(3.0, dice.between(6.0, 15.0));
            offs = vec![scene.clone().band_fading(fading)];
            on = scene.clone().band_fading(fading).device(Hash::flat(), Db(1.0));
        }
        "too short" => seconds.1 = dice.between(0.8, 2.8),
        _ => {}
    }
    let offs: Vec<Take> = offs.into_iter().map(|off| off.seed(dice.seed()).render(seconds.0)).collect();
    let on = on.seed(dice.seed()).render(seconds.1);
    let made = Spoilt { offs, on, size_db, told, files: None };
    match name {
        "agc, as the user is told" | "volume up" => Spoilt { files: Some((Shape::Mono, Shape::Mono)), ..made },
        "lossy file" => Spoilt { files: Some((Shape::Companded, Shape::Companded)), ..made },
        "dead channel" => dead_channel(made, dice),
        "channel dies on the way" => dying_channel(made, dice),
        "lossy, top cut in one" | "lossy, holes in the noise" => lossy(made, name, dice),
        _ => made,
    }
}

fn with_reference(scene: &Scene, dice: &mut Dice) -> Scene {
    scene.clone().station(Station::carrier(dice.between(500.0, 2500.0)), Db(dice.between(-6.0, 6.0)))
}

/// The radio on one channel; on the other nothing, or the hiss of an open input.
fn dead_channel(made: Spoilt, dice: &mut Dice) -> Spoilt {
    let hiss = dice.pick(&[0.0, 0.000_05]);
    let mut stereo = |take: &Take, dead: usize| {
        let mut both = Vec::with_capacity(2 * take.samples.len());
        for &x in &take.samples {
            let mut frame = [x; 2];
            frame[dead] = (hiss * dice.between(-1.0, 1.0)) as f32;
            both.extend(frame);
        }
        Shape::Stereo(both)
    };
    let files = match made.size_db {
        3.0 => (stereo(&made.offs[0], 1), stereo(&made.on, 1)),
        6.0 => (Shape::Mono, stereo(&made.on, 0)),
        _ => (stereo(&made.offs[0], 0), stereo(&made.on, 1)),
    };
    Spoilt { told: format!("{}, hiss {hiss}", made.told), files: Some(files), ..made }
}

/// The radio on both channels, of which the right one dies on the way through the on recording.
fn dying_channel(made: Spoilt, dice: &mut Dice) -> Spoilt {
    let dies_s = dice.between(2.0, 8.0);
    let dead_from = (dies_s * f64::from(made.on.rate_hz)) as usize;
    let off: Vec<f32> = made.offs[0].samples.iter().flat_map(|&x| [x, x]).collect();
    let right = |i: usize, x: f32| if i < dead_from { x } else { 0.0 };
    let on: Vec<f32> = made.on.samples.iter().enumerate().flat_map(|(i, &x)| [x, right(i, x)]).collect();
    let told = format!("{}, at {dies_s:.1} s", made.told);
    Spoilt { told, files: Some((Shape::Stereo(off), Shape::Stereo(on))), ..made }
}

/// What a transform codec does, when nothing in the file tells of it any more (made WAV again, or sent as such).
fn lossy(made: Spoilt, name: &str, dice: &mut Dice) -> Spoilt {
    // The transform by its defining sum is slow, so no case at 48 kHz: it is made anew at 8 kHz.
    let (mut off, mut on) = (made.offs, made.on);
    if on.rate_hz > 12_000 {
        let slow = Scene::new(Receiver::ssb(8000)).band_noise(Dbfs(-40.0));
        off = vec![slow.clone().seed(dice.seed()).render(10.0)];
        on = slow.device(Hash::flat(), Db(made.size_db)).seed(dice.seed()).render(10.0);
    }
    let told = format!("{} dB at {} Hz", made.size_db, on.rate_hz);
    // A cut at 60 % of the passband.
    const TOP_HZ: f64 = 300.0 + 0.6 * 2400.0;
    let coded = |take: &mut Take, step: f64| {
        take.samples = transcoded(&take.samples, f64::from(take.rate_hz), TOP_HZ, step);
    };
    let what = if name == "lossy, top cut in one" {
        let first = dice.chance(0.5);
        coded(if first { &mut off[0] } else { &mut on }, 0.0);
        format!("{told}, {}", if first { "off" } else { "on" })
    } else {
        let (step, both) = (dice.pick(&[1.0, 2.0, 3.0]), dice.chance(0.5));
        if both {
            coded(&mut off[0], step);
        }
        coded(&mut on, step);
        format!("{told}, step {step} RMS in {}", if both { "both" } else { "on" })
    };
    Spoilt { offs: off, on, told: what, ..made }
}

/// As a 16-bit recorder would have it.
fn quantised(take: &Take) -> Take {
    let mut take = take.clone();
    take.samples.iter_mut().for_each(|x| *x = (*x * 32768.0).round().clamp(-32768.0, 32767.0) / 32768.0);
    take
}
