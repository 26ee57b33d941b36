//! The cases: which receiver, which background, which device, how strong.

use super::random::Dice;
use noisetally::demo::synth::{
    Buzz, Carrier, Carriers, Clicks, Crashes, Device, Fading, Hash, Kind, Receiver, Scene, Station, Take,
};
use noisetally::units::{Db, Dbfs};

/// Excesses of the table, dB.
pub const EXCESSES_DB: [f64; 7] = [0.5, 1.0, 2.0, 3.0, 6.0, 12.0, 24.0];
/// Kinds of the table.
pub const KINDS: [&str; 8] = ["none", "hash", "buzz", "clicks", "carriers", "comb", "mixed", "none+structure"];

/// One pair with its truth.
pub struct Case {
    /// The kind as the tool should call it.
    pub kind: &'static str,
    /// What it may be called.
    pub fair: &'static [&'static str],
    /// Period of the device's pulses that must be told, s.
    pub period_s: Option<f64>,
    /// Row of the table: the kind, with its background for nothing added.
    pub row: &'static str,
    /// What exactly was made.
    pub told: String,
    /// Nominal excess: of noise for noise, in total for lines.
    pub excess_db: f64,
    /// The noise excess that is true over an ensemble of such takes, dB.
    pub true_excess_db: f64,
    /// Background.
    pub background: &'static str,
    /// Mains frequency of the scene.
    pub mains_hz: f64,
    /// Device off.
    pub off: Take,
    /// Device on.
    pub on: Take,
}

impl Case {
    /// A case whose noise excess is what the on take's truth says, to be called by its kind's name.
    #[allow(clippy::too_many_arguments)] // They are what a case consists of.
    pub fn new(
        kind: &'static str,
        row: &'static str,
        told: String,
        excess_db: f64,
        background: &'static str,
        mains_hz: f64,
        off: Take,
        on: Take,
    ) -> Self {
        let true_excess_db = on.truth.excess().0;
        let fair = KINDS.iter().position(|known| *known == kind).map_or(&[][..], |i| &KINDS[i..=i]);
        Self { kind, fair, period_s: None, row, told, excess_db, true_excess_db, background, mains_hz, off, on }
    }
}

/// Background that does not hold still from take to take.
pub const FADING: &str = "fading";

/// Row of a case, from which it can be told before it is made.
pub fn row(index: u64) -> &'static str {
    KINDS[(index % KINDS.len() as u64) as usize]
}

/// Case `index` of a run.
pub fn case(seed: u64, index: u64) -> Case {
    let mut dice = Dice::new(seed, index, "case");
    let row = row(index);
    let excess_db = EXCESSES_DB[((index / KINDS.len() as u64) % EXCESSES_DB.len() as u64) as usize];
    let (receiver, width) = receiver(&mut dice);
    let mains_hz = dice.pick(&[50.0, 60.0]);
    let structured = row == "none+structure" || (row != "none" && dice.chance(0.3));
    let quiet = Scene::new(receiver).band_noise(Dbfs(dice.between(-55.0, -35.0)));
    let (quiet, background) = if structured { structure(quiet, width, &mut dice) } else { (quiet, "plain") };
    let seconds = if dice.chance(0.7) { 10.0 } else { dice.between(6.0, 20.0) };
    let (noisy, kind, told) = add(quiet.clone(), row, excess_db, width, mains_hz, &mut dice);
    let off = quiet.seed(dice.seed()).render(seconds);
    let on = clicking(&noisy, seconds, &mut dice);
    let told = format!(
        "#{index} {told} {excess_db} dB, {background}, {:.0}..{:.0} Hz at {} Hz, {seconds:.0} s",
        width.0, width.1, off.rate_hz
    );
    let excess_db = if kind == "none" { 0.0 } else { excess_db };
    Case::new(kind, row, told, excess_db, background, mains_hz, off, on)
}

/// A take of the scene; of a device that clicks seldom, one in which it does: in a take without any click it is
/// off.
fn clicking(noisy: &Scene, seconds: f64, dice: &mut Dice) -> Take {
    loop {
        let on = noisy.clone().seed(dice.seed()).render(seconds);
        if on.truth.devices().all(|part| part.kind != Kind::Clicks || !part.pulses_s.is_empty()) {
            return on;
        }
    }
}

/// A receiver and the edges of its passband.
pub fn receiver(dice: &mut Dice) -> (Receiver, (f64, f64)) {
    let rate = dice.pick(&[8000, 11_025, 12_000, 12_000, 16_000, 44_100, 48_000]);
    match dice.pick(&["ssb", "ssb", "ssb", "cw", "am"]) {
        "cw" => (Receiver::cw(rate), (450.0, 950.0)),
        "am" if rate >= 11_025 => (Receiver::am(rate), (100.0, 4500.0)),
        _ => (Receiver::ssb(rate), (300.0, 2700.0)),
    }
}

fn structure(quiet: Scene, width: (f64, f64), dice: &mut Dice) -> (Scene, &'static str) {
    let pitch = dice.between(width.0 + 60.0, width.1.min(1500.0) - 60.0);
    match dice.pick(&["cw", "voice", "crashes", FADING, "carrier"]) {
        "cw" => {
            (quiet.station(Station::random_cw(dice.between(12.0, 25.0), pitch), Db(dice.between(0.0, 10.0))), "cw")
        }
        "voice" => (quiet.station(Station::voice(dice.between(90.0, 220.0)), Db(dice.between(-3.0, 6.0))), "voice"),
        "crashes" => (
            quiet.crashes(
                Crashes::new(dice.log_between(0.1, 1.0), dice.log_between(0.03, 0.2)),
                Db(dice.between(-6.0, 3.0)),
            ),
            "crashes",
        ),
        FADING => (quiet.band_fading(Fading::new(dice.between(0.5, 3.0), dice.log_between(8.0, 60.0))), FADING),
        _ => (quiet.station(Station::carrier(pitch), Db(dice.between(-10.0, 10.0))), "carrier"),
    }
}

fn add(
    quiet: Scene,
    row: &'static str,
    excess_db: f64,
    width: (f64, f64),
    mains_hz: f64,
    dice: &mut Dice,
) -> (Scene, &'static str, String) {
    match row {
        "hash" | "buzz" | "clicks" | "carriers" | "comb" => {
            let (device, told) = part(row, width, mains_hz, dice);
            (quiet.device(device, Db(excess_db)), row, told)
        }
        "mixed" => {
            let share = dice.between(0.25, 0.75);
            let power = 10f64.powf(excess_db / 10.0) - 1.0;
            let half = |share: f64| Db(10.0 * (1.0 + share * power).log10());
            let kinds = dice.pick(&MIXTURES);
            let (first, told) = part(kinds.0, width, mains_hz, dice);
            let (second, also) = part(kinds.1, width, mains_hz, dice);
            (
                quiet.device(first, half(share)).device(second, half(1.0 - share)),
                "mixed",
                format!("{told} + {also}"),
            )
        }
        _ => (quiet, "none", "nothing".to_owned()),
    }
}

/// Every two kinds that can be told apart in one passband. Hash under a buzz is the buzz's own floor, and a carrier
/// beside a comb may be its member: those stand among the rows outside the targets.
const MIXTURES: [(&str, &str); 8] = [
    ("hash", "carriers"),
    ("hash", "comb"),
    ("buzz", "carriers"),
    ("buzz", "comb"),
    ("clicks", "carriers"),
    ("clicks", "comb"),
    ("hash", "clicks"),
    ("buzz", "clicks"),
];

fn part(kind: &str, width: (f64, f64), mains_hz: f64, dice: &mut Dice) -> (Device, String) {
    match kind {
        "hash" => with(hash(width, dice)),
        "buzz" => with(buzz(mains_hz, width, dice)),
        "clicks" => with(clicks(dice)),
        "comb" => with(comb(width, dice)),
        _ => with(carriers(width, mains_hz, dice)),
    }
}

fn with<D: Into<Device>>((device, told): (D, String)) -> (Device, String) {
    (device.into(), told)
}

fn hash(width: (f64, f64), dice: &mut Dice) -> (Hash, String) {
    match dice.pick(&["flat", "sloping", "humped"]) {
        "sloping" => {
            // The slope goes on outside the filter, whose stop band must still hold what it makes of it at 24 kHz.
            let slope = dice.between(-1.5, 1.5);
            (Hash::sloping(slope), format!("hash sloping {slope:.1} dB/kHz"))
        }
        "humped" => {
            let middle = dice.between(width.0 + 100.0, width.1 - 100.0);
            let (wide, high) = (dice.between(0.2, 0.6) * (width.1 - width.0), dice.between(6.0, 15.0));
            (
                Hash::flat().humped(middle, wide, high),
                format!("hash humped at {middle:.0} Hz, {wide:.0} Hz wide, {high:.0} dB"),
            )
        }
        _ => (Hash::flat(), "hash".to_owned()),
    }
}

fn buzz(mains_hz: f64, width: (f64, f64), dice: &mut Dice) -> (Buzz, String) {
    let rate = mains_hz * if dice.chance(0.7) { 2.0 } else { 1.0 };
    let (over, what) = if dice.chance(0.5) { (Hash::flat(), "flat".to_owned()) } else { hash(width, dice) };
    if dice.chance(0.2) {
        return (Buzz::sine(rate).over(over), format!("buzz {rate} Hz sine over {what}"));
    }
    let (duty, jitter) = (dice.between(0.1, 0.6), dice.pick(&[0.0, 0.01, 0.03]));
    (
        Buzz::gated(rate, duty).jittered(jitter).over(over),
        format!("buzz {rate} Hz duty {duty:.2} jitter {jitter} over {what}"),
    )
}

fn clicks(dice: &mut Dice) -> (Clicks, String) {
    let spread = dice.between(0.0, 4.0);
    match dice.pick(&["poisson", "poisson", "regular", "bursts"]) {
        "regular" => {
            let rate = dice.between(0.8, 1.5);
            (Clicks::regular(rate, 0.02).spread(spread), format!("clicks regular {rate:.1}/s"))
        }
        "bursts" => {
            let rate = dice.between(0.5, 2.0);
            (Clicks::bursts(rate, 5, 80.0).spread(spread), format!("clicks bursts {rate:.1}/s"))
        }
        _ => {
            let rate = dice.log_between(0.5, 30.0);
            (Clicks::poisson(rate).spread(spread), format!("clicks {rate:.1}/s"))
        }
    }
}

fn carriers(width: (f64, f64), mains_hz: f64, dice: &mut Dice) -> (Carriers, String) {
    let freq = dice.between(width.0 + 60.0, width.1 - 60.0);
    let carrier = Carrier::at(freq);
    let (carrier, told) = match dice.pick(&["steady", "steady", "drifting", "wandering", "hummed"]) {
        "drifting" => {
            // So that it stays inside for at least half of a recording.
            let fastest = (50.0f64).min((width.1 - width.0) / 20.0);
            let drift = dice.log_between(0.1, fastest) * if freq > (width.0 + width.1) / 2.0 { -1.0 } else { 1.0 };
            (carrier.drifting(drift), format!("drifting {drift:.1} Hz/s"))
        }
        "wandering" => {
            let wander = dice.log_between(0.1, 2.0);
            (carrier.wandering(wander), format!("wandering {wander:.1} Hz"))
        }
        "hummed" => {
            let depth = dice.between(0.2, 0.8);
            (carrier.hummed(2.0 * mains_hz, depth), format!("hummed {depth:.1}"))
        }
        _ => (carrier, "steady".to_owned()),
    };
    (Carriers::new([carrier]), format!("carrier {freq:.1} Hz {told}"))
}

fn comb(width: (f64, f64), dice: &mut Dice) -> (Carriers, String) {
    let room = width.1 - width.0 - 80.0;
    let spacing = dice.log_between(60.0, (room / 4.5).min(800.0));
    let offset = width.0 + 40.0 + dice.share() * spacing;
    let most = ((width.1 - 40.0 - offset) / spacing).floor() as u32 + 1;
    let mut members: Vec<u32> = (0..most).filter(|_| !dice.chance(0.2)).collect();
    if members.len() < 4 {
        members = (0..most).collect();
    }
    let drift = if dice.chance(0.3) { dice.between(-0.5, 0.5) } else { 0.0 };
    let told = format!("comb {spacing:.1} Hz, {} members, drift {drift:.1}", members.len());
    (Carriers::comb(spacing, offset, members).levels_spread(2.0, dice.seed()).drifting(drift), told)
}
