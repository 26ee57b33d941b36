//! Between takes: sessions whose every take stands a little higher or lower, as bands and receivers do with nothing
//! touched, and pairs with a touched gain. Judged as a user's session is: files, a manifest with times, the
//! program's own pipeline.

use std::fmt::Write;
use std::path::Path;

use super::program;
use super::random::Dice;
use super::share::{quantile, share};
use super::targets::{Bound, Targets};
use noisetally::audio::write_wav;
use noisetally::demo::synth::{Gauss, Hash, Receiver, Scene};
use noisetally::units::{Db, Dbfs};

/// The takes of a session in their order; `x` is on.
const SHAPES: [(&str, &str); 4] =
    [("1+1", "ox"), ("2+2", "oxox"), ("3+3", "oxoxox"), ("2+2, six off takes", "ooxooxoo")];
/// Standard deviations of the takes' levels, dB.
const WANDERS_DB: [f64; 5] = [0.0, 0.1, 0.2, 0.3, 0.5];
const KNOB: &str = "1+1, gain turned";
const TAKE_S: f64 = 20.0;
/// From the start of one take to the next.
const STEP_S: u64 = 150;
/// Rows of the table: every shape and wander, and the knob.
const ROWS: u64 = (SHAPES.len() * WANDERS_DB.len()) as u64 + 1;

/// A session and what was answered.
pub struct Answered {
    shape: &'static str,
    wander_db: f64,
    /// What the device adds, dB.
    true_db: f64,
    excess: Option<(f64, f64, f64)>,
    trust: String,
    called: String,
}

impl Answered {
    /// Width of the interval; without end where none is told.
    fn width_db(&self) -> f64 {
        self.excess.map_or(f64::INFINITY, |(_, low, high)| high - low)
    }

    /// Whether the interval holds the truth; one that is not told claims nothing.
    pub fn is_covered(&self) -> bool {
        self.excess.is_none_or(|(_, low, high)| (low..=high).contains(&self.true_db))
    }

    /// Whether it is a touched gain that nobody is told of.
    pub fn is_fair(&self) -> bool {
        if self.shape == KNOB { self.trust != "sound" } else { self.is_covered() }
    }

    /// One line for the list of failures.
    pub fn told(&self) -> String {
        let Self { shape, wander_db, true_db, excess, trust, called } = self;
        format!("between {shape}, {wander_db} dB: {true_db:.2} dB read as {excess:.2?}, {called}, {trust}")
    }
}

/// How many sessions there are to `pairs` pairs of the first table.
pub fn count(pairs: u64) -> u64 {
    (pairs / 28).max(1) * ROWS
}

/// Session `index` of a run.
pub fn session(seed: u64, index: u64) -> Answered {
    let mut dice = Dice::new(seed, index, "between");
    let row = (index % ROWS) as usize;
    let knob = row == SHAPES.len() * WANDERS_DB.len();
    let (shape, order) = if knob { (KNOB, "ox") } else { SHAPES[row % SHAPES.len()] };
    let wander_db = if knob { dice.pick(&WANDERS_DB) } else { WANDERS_DB[row / SHAPES.len()] };
    let true_db = if knob { 0.0 } else { dice.between(0.0, 12.0) };
    let turned_db = if knob { dice.between(1.0, 6.0) } else { 0.0 };
    let dir = tempfile::tempdir().expect("a bench needs a folder for its files");
    let quiet = Scene::new(Receiver::ssb(8000)).band_noise(Dbfs(dice.between(-50.0, -40.0)));
    let mut levels = Gauss::new(dice.seed(), "levels of takes");
    let mut manifest = String::from("mains_hz = 50\n");
    for (number, state) in order.chars().enumerate() {
        let on = state == 'x';
        let scene = if on { quiet.clone().device(Hash::flat(), Db(true_db)) } else { quiet.clone() };
        let mut take = scene.seed(dice.seed()).render(TAKE_S);
        let moved_db = wander_db * levels.normal() + if on { turned_db } else { 0.0 };
        take.samples.iter_mut().for_each(|x| *x *= 10f64.powf(moved_db / 20.0) as f32);
        let file = format!("{number}.wav");
        let written = write_wav(&dir.path().join(&file), &take.samples, take.rate_hz, 1);
        assert!(written.is_ok(), "{file}: can't be written");
        let _ = write!(manifest, "{}", label(&file, number as u64, on));
    }
    answered(dir.path(), &manifest, (shape, wander_db, true_db))
}

fn label(file: &str, number: u64, on: bool) -> String {
    let at_s = number * STEP_S;
    let (state, device) = if on { ("on", "device = 'pump'\n") } else { ("off", "") };
    format!(
        "[[recording]]\nfile = '{file}'\nstate = '{state}'\n{device}dial_khz = 7100.0\nmode = 'USB'\n\
         antenna = 'wire'\ngain = 'AGC off'\nstarted = 2026-03-14T19:{:02}:{:02}Z\n",
        at_s / 60,
        at_s % 60
    )
}

fn answered(dir: &Path, manifest: &str, (shape, wander_db, true_db): (&'static str, f64, f64)) -> Answered {
    let tally = program::session(dir, manifest);
    let told = tally.report.contrasts.first();
    let called = told.map_or("unclear", |c| c.character.code()).to_owned();
    let trust = told.map_or("void", |c| c.trust.word()).to_owned();
    let excess = told.and_then(|c| Some((c.excess_db?, c.excess_ci_db?[0], c.excess_ci_db?[1])));
    Answered { shape, wander_db, true_db, excess, trust, called }
}

/// Shape by shape and in total: coverage, width, words of trust.
pub fn table(all: &[Answered], targets: &mut Targets) -> String {
    let mut text = format!(
        "\nbetween takes: hash of 0 to 12 dB, each take's level moved by N(0, w)\n\
         {:20} {:>7}  {:34} {:>14}  trust\n",
        "takes", "w, dB", "95 % interval holds the truth", "width, 90 %"
    );
    for (shape, _) in SHAPES {
        for wander_db in WANDERS_DB {
            row(all, shape, &wander_db.to_string(), |a| a.wander_db == wander_db, &mut text);
        }
        row(all, shape, "all", |_| true, &mut text);
    }
    row(all, KNOB, "any", |_| true, &mut text);
    for (shape, median_db, most_db) in
        [("1+1", None, None), ("2+2", Some(1.6), Some(2.5)), ("3+3", Some(1.3), Some(1.8))]
    {
        let told = |what: &str| format!("between takes, {shape}: {what}");
        targets.share_of(
            &told("covered"),
            all,
            |a| a.shape == shape,
            Answered::is_covered,
            Bound::Within(93.0, 99.0),
        );
        let far = |a: &Answered| a.shape == shape && a.wander_db == 0.5;
        targets.share_of(&told("covered, w 0.5 dB"), all, far, Answered::is_covered, Bound::Least(88.0));
        for (what, part, bound) in [("median", 0.5, median_db), ("90 % quantile", 0.9, most_db)] {
            let Some(most) = bound else { continue };
            targets.db(&told(&format!("width up to 0.3 dB, {what}")), width(all, shape, part), Bound::Most(most));
        }
    }
    let (four, eight) = (width(all, "2+2", 0.5), width(all, SHAPES[3].0, 0.5));
    targets.db(
        "between takes, 2+2, six off takes: width, median",
        eight,
        Bound::Most((100.0 * four).round() / 100.0),
    );
    let sound = |a: &Answered| a.trust == "sound";
    targets.share_of(
        "gain turned by 1 to 6 dB in on of 1+1: sound",
        all,
        |a| a.shape == KNOB,
        sound,
        Bound::Most(0.0),
    );
    text
}

/// A quantile of the widths up to a wander of 0.3 dB.
fn width(all: &[Answered], shape: &str, part: f64) -> f64 {
    let of = all.iter().filter(|a| a.shape == shape && a.wander_db <= 0.3);
    quantile(of.map(Answered::width_db), part)
}

fn row(all: &[Answered], shape: &str, wander: &str, keep: impl Fn(&Answered) -> bool, text: &mut String) {
    let of: Vec<&Answered> = all.iter().filter(|a| a.shape == shape && keep(a)).collect();
    let covered = of.iter().filter(|a| a.is_covered()).count();
    let widths = |part| quantile(of.iter().map(|a| a.width_db()), part);
    let mut words: Vec<(&str, usize)> = Vec::new();
    for answered in &of {
        match words.iter_mut().find(|(word, _)| *word == answered.trust) {
            Some((_, count)) => *count += 1,
            None => words.push((&answered.trust, 1)),
        }
    }
    words.sort_unstable();
    let trust: Vec<String> = words.iter().map(|(word, count)| format!("{word} {count}")).collect();
    let _ = writeln!(
        text,
        "{shape:20} {wander:>7}  {:34} {:>6.2} {:>7.2}  {}",
        share(covered, of.len()),
        widths(0.5),
        widths(0.9),
        trust.join(", ")
    );
}
