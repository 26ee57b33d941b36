//! How often plain noise shows a line, against the probability that the tool states.

use std::fmt::Write;

use rayon::prelude::*;

use super::judge::measured;
use super::random::Dice;
use super::share::share;
use noisetally::demo::synth::{Receiver, Scene};
use noisetally::signal::spectrum::FALSE_ALARM_PER_RECORDING;
use noisetally::units::Dbfs;

/// Receivers at each rate; AM needs 9 kHz. The low rates come often, for they are cheap.
const KINDS: [(&str, u32); 12] = [
    ("ssb", 8000),
    ("cw", 8000),
    ("ssb", 12_000),
    ("cw", 12_000),
    ("am", 12_000),
    ("ssb", 8000),
    ("cw", 11_025),
    ("am", 11_025),
    ("ssb", 16_000),
    ("am", 16_000),
    ("ssb", 44_100),
    ("cw", 48_000),
];

struct Looked {
    passband: &'static str,
    rate_hz: u32,
    /// Lines called, and those called a device's.
    lines: usize,
    steady: usize,
}

/// Looks for lines in this many recordings of 10 s of noise and nothing else.
pub fn table(seed: u64, recordings: u64) -> String {
    let looked: Vec<Looked> = (0..recordings).into_par_iter().map(|index| look(seed, index)).collect();
    let mut text = String::from("\nplain noise, 10 s: recordings with a line called\n");
    let mut row = |what: &str, keep: &dyn Fn(&&Looked) -> bool| {
        let of: Vec<&Looked> = looked.iter().filter(keep).collect();
        let with = of.iter().filter(|l| l.lines > 0).count();
        let steady = of.iter().filter(|l| l.steady > 0).count();
        let _ = writeln!(text, "  {what:18} {with:>4}: {:34} called a device's: {steady}", share(with, of.len()));
    };
    row("all", &|_| true);
    for passband in ["ssb", "cw", "am"] {
        row(passband, &|l| l.passband == passband);
    }
    row("8 kHz", &|l| l.rate_hz == 8000);
    row("11 to 16 kHz", &|l| (11_025..=16_000).contains(&l.rate_hz));
    row("44.1 and 48 kHz", &|l| l.rate_hz > 16_000);
    let stated = FALSE_ALARM_PER_RECORDING * recordings as f64;
    let _ = writeln!(
        text,
        "  stated: {:.1} % a recording, so {stated:.1} of {recordings}, give or take {:.1}",
        100.0 * FALSE_ALARM_PER_RECORDING,
        (stated * (1.0 - FALSE_ALARM_PER_RECORDING)).sqrt()
    );
    text
}

fn look(seed: u64, index: u64) -> Looked {
    let mut dice = Dice::new(seed, index, "false lines");
    let (passband, rate_hz) = KINDS[(index % KINDS.len() as u64) as usize];
    let receiver = match passband {
        "cw" => Receiver::cw(rate_hz),
        "am" => Receiver::am(rate_hz),
        _ => Receiver::ssb(rate_hz),
    };
    let take = Scene::new(receiver).band_noise(Dbfs(-40.0)).seed(dice.seed()).render(10.0);
    let lines = measured(&take, 50.0).lines;
    Looked { passband, rate_hz, lines: lines.len(), steady: lines.iter().filter(|line| line.steady).count() }
}
