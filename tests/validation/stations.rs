//! Stations and devices beyond the list that the targets speak of: fast-keyed stations in both states and in one,
//! a warbling carrier, mixtures whose parts can hardly be told apart. Each row says what it was called.

use std::fmt::Write;

use super::cases::Case;
use super::judge::Judged;
use super::random::Dice;
use super::waves::{Wave, wave};
use noisetally::demo::synth::{Buzz, Carrier, Carriers, Hash, Receiver, Scene, Station, Take};
use noisetally::units::{Db, Dbfs};
use noisetally::warning::Trust;

/// What stands where.
#[derive(Clone, Copy)]
enum What {
    /// In both states alike, the device silent.
    Both(Wave),
    /// In both states alike, and hash of 3 to 12 dB.
    BesideHash(Wave),
    /// In the on state only.
    OnOnly(Wave),
    /// A hand-keyed station in the on state only.
    Keying,
    /// A voice in the on state only.
    Voice,
    /// Hash and buzz of equal power.
    HashAndBuzz,
    /// A comb and a carrier off its pattern.
    CombAndCarrier,
}

/// A row: its name, what is in it, and what it may be called.
type Row = (&'static str, What, &'static [&'static str]);

/// A station that came up with the device is no device's noise, and nothing in one pair of recordings can prove it.
const NO_DEVICE: &[&str] = &["none", "unclear"];

const ROWS: [Row; 15] = [
    ("dots 25/s in both", What::Both(Wave::Dots), &["none"]),
    ("phase keying in both", What::Both(Wave::Phase), &["none"]),
    ("teletype in both", What::Both(Wave::Shift), &["none"]),
    ("warble in both", What::Both(Wave::Warble), &["none"]),
    ("hash beside dots", What::BesideHash(Wave::Dots), &["hash"]),
    ("hash beside phase keying", What::BesideHash(Wave::Phase), &["hash"]),
    ("hash beside teletype", What::BesideHash(Wave::Shift), &["hash"]),
    ("warble in on", What::OnOnly(Wave::Warble), &["carriers"]),
    ("dots 25/s in on", What::OnOnly(Wave::Dots), NO_DEVICE),
    ("phase keying in on", What::OnOnly(Wave::Phase), NO_DEVICE),
    ("teletype in on", What::OnOnly(Wave::Shift), NO_DEVICE),
    ("hand keying in on", What::Keying, NO_DEVICE),
    ("voice in on", What::Voice, NO_DEVICE),
    ("hash with buzz", What::HashAndBuzz, &["buzz", "mixed"]),
    ("comb with a carrier", What::CombAndCarrier, &["comb", "mixed"]),
];

/// Case `index` of a run.
pub fn case(seed: u64, index: u64) -> Case {
    let mut dice = Dice::new(seed, index, "station");
    let (row, what, _) = ROWS[(index % ROWS.len() as u64) as usize];
    let rate = dice.pick(&[8000, 12_000, 16_000, 48_000]);
    let (receiver, width) = if dice.chance(0.75) {
        (Receiver::ssb(rate), (300.0, 2700.0))
    } else {
        (Receiver::cw(rate), (450.0, 950.0))
    };
    let quiet = Scene::new(receiver).band_noise(Dbfs(dice.between(-55.0, -35.0)));
    let snr_db = dice.between(0.0, 12.0);
    let excess_db = if matches!(what, What::Both(_)) { 0.0 } else { dice.pick(&[3.0, 6.0, 12.0]) };
    let pitch_hz = dice.between(width.0 + 150.0, width.1 - 150.0);
    let noisy = noisy(&quiet, what, excess_db, snr_db, pitch_hz, &mut dice);
    let mut off = quiet.seed(dice.seed()).render(10.0);
    let mut on = noisy.seed(dice.seed()).render(10.0);
    match what {
        What::Both(sent) | What::BesideHash(sent) => {
            // It fades a little from one take to the next, as stations do.
            let fade_db = dice.between(-1.0, 1.0);
            send(&mut off, sent, pitch_hz, snr_db, &mut dice);
            send(&mut on, sent, pitch_hz, snr_db + fade_db, &mut dice);
        }
        What::OnOnly(sent) => send(&mut on, sent, pitch_hz, snr_db, &mut dice),
        _ => {}
    }
    let kind = match what {
        What::BesideHash(_) => "hash",
        What::OnOnly(Wave::Warble) => "carriers",
        What::HashAndBuzz | What::CombAndCarrier => "mixed",
        _ => "none",
    };
    let told = format!("{row} #{index}: {excess_db} dB, SNR {snr_db:.1} dB at {pitch_hz:.0} Hz, {rate} Hz");
    Case::new(kind, row, told, excess_db, "station", 50.0, off, on)
}

fn noisy(quiet: &Scene, what: What, excess_db: f64, snr_db: f64, pitch_hz: f64, dice: &mut Dice) -> Scene {
    let quiet = quiet.clone();
    let half = Db(10.0 * ((1.0 + 10f64.powf(excess_db / 10.0)) / 2.0).log10());
    match what {
        What::Both(_) | What::OnOnly(_) => quiet,
        What::BesideHash(_) => quiet.device(Hash::flat(), Db(excess_db)),
        What::Keying => quiet.station(Station::random_cw(dice.between(12.0, 30.0), pitch_hz), Db(snr_db)),
        What::Voice => quiet.station(Station::voice(dice.between(90.0, 220.0)), Db(snr_db)),
        What::HashAndBuzz => {
            quiet.device(Hash::flat(), half).device(Buzz::gated(100.0, dice.between(0.1, 0.6)), half)
        }
        What::CombAndCarrier => {
            let spacing_hz = dice.between(60.0, 80.0);
            let comb = Carriers::comb(spacing_hz, 560.0, 0..5);
            let apart = Carriers::new([Carrier::at(560.0 + spacing_hz * dice.between(1.3, 1.7))]);
            quiet.device(comb, half).device(apart, half)
        }
    }
}

/// Adds the sound so that its mean power stands `snr_db` over the noise in the passband.
fn send(take: &mut Take, what: Wave, pitch_hz: f64, snr_db: f64, dice: &mut Dice) {
    let amplitude = (take.truth.noise_expected * 10f64.powf(snr_db / 10.0)).sqrt();
    let sound = wave(what, f64::from(take.rate_hz), take.samples.len(), pitch_hz, dice);
    take.samples.iter_mut().zip(sound).for_each(|(sum, x)| *sum += (amplitude * x) as f32);
}

/// Whether the answer may stand.
pub fn is_fair(judged: &Judged) -> bool {
    ROWS.iter().any(|(row, _, fair)| *row == judged.row && fair.contains(&judged.called))
}

/// What each row was called.
pub fn table(judged: &[Judged]) -> String {
    const CALLS: [&str; 8] = ["none", "hash", "buzz", "clicks", "carriers", "comb", "mixed", "unclear"];
    let mut text = String::from("\nbeyond the targets: what it was called (* a fair answer)\n");
    let _ = write!(text, "{:26}", "");
    CALLS.iter().for_each(|call| {
        let _ = write!(text, "{call:>9}");
    });
    let _ = writeln!(text, "  unfair, sound, over 0.9");
    for (row, _, fair) in ROWS {
        let of: Vec<&Judged> = judged.iter().filter(|j| j.row == row).collect();
        if of.is_empty() {
            continue;
        }
        let _ = write!(text, "{row:26}");
        for call in CALLS {
            let count = of.iter().filter(|j| j.called == call).count();
            let mark = if fair.contains(&call) { "*" } else { "" };
            let _ = write!(text, "{:>9}", if count == 0 { format!("-{mark}") } else { format!("{count}{mark}") });
        }
        let sure = of
            .iter()
            .filter(|j| !fair.contains(&j.called) && j.trust == Trust::Sound && j.confidence > 0.9)
            .count();
        let _ = writeln!(text, "  {sure} of {}", of.len());
    }
    text
}
