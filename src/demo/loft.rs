//! The second invented evening: a loft with a greenhouse controller, a model-railway supply, a printer and a fan.
//!
//! What it was made with stands in its constants: the ferrite's ratio, the devices' powers, the fan's spacing. How
//! the sound is made: `synth`. Nothing here is a real place, person or product.

use std::fmt::Write as _;

use super::evening::{BAND, CARD, RATE_HZ, RECEIVER};
use super::synth::{Carrier, Carriers, Hash, Receiver, Scene, Trap};
use crate::labels::State;
use crate::units::{Db, Dbfs};

/// Length of every take, s (chosen: short, for a small download).
pub(super) const SECONDS: f64 = 5.0;
/// Dial of the first part, kHz.
const DIAL_KHZ: &str = "7081.44";
/// Impedance of one piece of ferrite over that of the lead (invented).
const FERRITE_RATIO: f64 = 0.9;
/// What each device does to the noise, dB (invented).
const CONTROLLER_DB: f64 = 24.0;
const RAILWAY_DB: f64 = 4.0;
const PRINTER_DB: f64 = 5.0;
/// What the controller's linear supply takes off its hash, dB (invented).
const LINEAR_DB: f64 = 34.0;
/// The fan's switching frequency, its multiples that are heard, and the one in the lower sideband (invented:
/// spread from 80 m to 10 m, as amateur bands lie).
const FAN_HZ: f64 = 43_712.6;
const FAN_HEARD: [u32; 7] = [88, 161, 233, 322, 415, 487, 645];
const FAN_LSB: u32 = 233;

/// One take: its labels as lines of the manifest, and what is heard.
pub(super) struct Take {
    pub file: String,
    labels: String,
    /// Power of all hash over the band's noise.
    hash: f64,
    /// Carriers, each with pitch (Hz) and level.
    carriers: Vec<(f64, f64)>,
    terminated: bool,
}

/// Hash that lifts the noise by this many dB, as power over the noise.
fn added(excess_db: f64) -> f64 {
    Db(excess_db).ratio() - 1.0
}

/// The takes in the order they were made.
pub(super) fn takes() -> Vec<Take> {
    let mut takes = first_part();
    takes.extend(fan());
    for (i, take) in takes.iter_mut().enumerate() {
        take.file = format!("{:02}-{}.wav", i + 1, take.file);
    }
    takes
}

/// Ferrites, supplies and the budget, all on one dial.
fn first_part() -> Vec<Take> {
    let at = |name: &str, state: State, labels: &str, hash: f64, carriers: &[(f64, f64)]| Take {
        file: name.into(),
        labels: format!("state = \"{state}\"\ndial_khz = {DIAL_KHZ}\nmode = \"USB\"\n{labels}"),
        hash,
        carriers: carriers.to_vec(),
        terminated: state == State::Terminated,
    };
    let controller = "device = \"greenhouse controller\"\n";
    let hash = added(CONTROLLER_DB);
    let choked = |pieces: f64| hash / (1.0 + pieces * FERRITE_RATIO).powi(2);
    // Of the controller itself: under what three ferrites leave of its hash, and clear of the band's noise.
    let hidden = (1318.0, -63.0);
    // Of the linear supply: above the hash as well.
    let new = (2041.0, -43.0);
    let (railway, printer) = (added(RAILWAY_DB), added(PRINTER_DB));
    vec![
        at("off", State::Off, "dbm = -97.0\n", 0.0, &[]),
        at("controller-on", State::On, controller, hash, &[hidden]),
        at(
            "controller-one-ferrite",
            State::On,
            &format!("{controller}remedy = \"one ferrite on sensor lead\"\norder = 1\nferrites = 1\n"),
            choked(1.0),
            &[hidden],
        ),
        at(
            "controller-three-ferrites",
            State::On,
            &format!("{controller}remedy = \"three ferrites on sensor lead\"\norder = 2\nferrites = 3\n"),
            choked(3.0),
            &[hidden],
        ),
        at(
            "controller-linear-supply",
            State::On,
            &format!("{controller}remedy = \"linear supply\"\norder = 3\n"),
            hash * Db(-LINEAR_DB).ratio(),
            &[hidden, new],
        ),
        at("off", State::Off, "", 0.0, &[]),
        at("railway-on", State::On, "device = \"railway supply\"\n", railway, &[]),
        at("printer-on", State::On, "device = \"printer\"\n", printer, &[]),
        at("both-on", State::On, "device = \"railway supply + printer\"\n", railway + printer, &[]),
        at(
            "railway-bench-supply",
            State::On,
            "device = \"railway supply\"\nremedy = \"bench supply\"\n",
            added(0.1),
            &[],
        ),
        at("printer-other-supply", State::On, "device = \"printer\"\nremedy = \"other supply\"\n", added(3.0), &[]),
        at("dummy-load", State::Terminated, "", 0.0, &[]),
    ]
}

/// The fan, off and on at each dial: its multiples, a stranger, and a multiple too weak to be heard.
fn fan() -> Vec<Take> {
    let place = |k: f64, lsb: bool, pitch_hz: f64| {
        let (rf_hz, sign) = (k * FAN_HZ, if lsb { -1.0 } else { 1.0 });
        let dial_hz = ((rf_hz - sign * pitch_hz) / 10.0).round() * 10.0;
        (dial_hz, lsb, Some((rf_hz - dial_hz).abs()))
    };
    let mut places: Vec<(f64, bool, Option<f64>)> = FAN_HEARD
        .iter()
        .enumerate()
        .map(|(i, &k)| place(f64::from(k), k == FAN_LSB, 700.0 + 150.0 * i as f64))
        .collect();
    places.push((17_120_000.0, false, Some(1500.0)));
    let (dial_hz, lsb, _) = place(480.0, false, 1500.0);
    places.push((dial_hz, lsb, None));
    let mut takes = Vec::new();
    for (dial_hz, lsb, pitch_hz) in places {
        let (khz, mode) = (dial_hz / 1000.0, if lsb { "LSB" } else { "USB" });
        for state in [State::Off, State::On] {
            let heard = pitch_hz.filter(|_| state == State::On).map(|hz| (hz, -50.0));
            takes.push(Take {
                file: format!("fan-{khz:.0}-{state}"),
                labels: format!(
                    "state = \"{state}\"\ndial_khz = {khz:.2}\nmode = \"{mode}\"\ndevice = \"fan controller\"\n"
                ),
                hash: 0.0,
                carriers: heard.into_iter().collect(),
                terminated: false,
            });
        }
    }
    takes
}

/// The scene of one take; `seed` is the evening's.
pub(super) fn scene(index: usize, take: &Take, seed: u64) -> Scene {
    let seed = seed.wrapping_add((index as u64 + 101).wrapping_mul(0x9e37_79b9_7f4a_7c15));
    let mut scene =
        Scene::new(Receiver::ssb(RATE_HZ)).seed(seed).receiver_noise(RECEIVER).trap(Trap::SoundCard(CARD));
    if !take.terminated {
        scene = scene.band_noise(BAND);
    }
    if take.hash > 0.0 {
        scene = scene.device(Hash::flat(), Db::from_ratio(1.0 + take.hash));
    }
    take.carriers
        .iter()
        .fold(scene, |scene, &(hz, level)| scene.carriers(Carriers::new([Carrier::at(hz)]), Dbfs(level)))
}

/// What stands above the recordings: the railway's supply fits, the printer's must be refused.
const HEAD: &str = r#"title = "Loft evening: ferrites, supplies and a fan"
mains_hz = 50
station = "receiver under the roof"
bands_khz = [[7000, 7200], [14000, 14350]]
antenna_type = "other"
dbm_tolerance_db = 2.0

[target]
excess_db = 1.5

[[supply]]
device = "railway supply"
remedy = "bench supply"
label_volts = 12.0
label_amps = 1.5
label_current = "DC"
label_polarity = "centre positive"
supply_volts = 12.1
supply_amps = 3.0
supply_current = "DC"
supply_polarity = "centre positive"
measured = true
fuse_amps = 2.0

[[supply]]
device = "printer"
remedy = "other supply"
label_volts = 19.0
label_amps = 2.0
label_current = "DC"
label_polarity = "centre positive"
supply_volts = 24.0
supply_amps = 3.0
supply_current = "DC"
supply_polarity = "centre negative"
measured = true
"#;

/// The text of the manifest.
pub(super) fn text(takes: &[Take]) -> String {
    takes.iter().fold(HEAD.to_owned(), |mut text, take| {
        // Writing into a string can't fail.
        let _ = write!(
            text,
            "\n[[recording]]\nfile = \"{}\"\n{}bandwidth_hz = 2400\nantenna = \"9 m wire under the ridge\"\ngain \
             = \"AGC off, RF gain 55\"\n",
            take.file, take.labels
        );
        text
    })
}
