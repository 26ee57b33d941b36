//! The third invented evening: a house in a lane. First the circuits of the house, each on alone and each off alone;
//! then, since a buzz stays with everything off, a walk along the lane with the receiver in hand.
//!
//! What it was made with stands in its constants. Nothing here is a real place, person or product.

use std::fmt::Write as _;

use super::evening::{BAND, CARD, RATE_HZ, RECEIVER};
use super::synth::{Buzz, Carriers, Hash, Receiver, Scene, Trap};
use crate::labels::State;
use crate::units::{Db, Dbfs};

/// Length of every take, s (chosen: short, for a small download).
pub(super) const SECONDS: f64 = 5.0;
/// The same through the loop, which hears less (invented).
const BAND_IN_HAND: Dbfs = Dbfs(-54.0);
/// What each circuit does to the noise with everything off, dB (invented).
pub(super) const CIRCUITS: [(&str, f64); 6] = [
    ("kitchen ring", 9.0),
    ("upstairs lights", 3.0),
    ("cellar", 1.0),
    ("garage", 0.0),
    ("hall", 0.0),
    ("freezer", 0.0),
];
/// What the buzz from outside adds to the band at the house, dB (invented): it is there with everything off.
const OUTSIDE_DB: f64 = 1.5;
/// Level of that buzz along the lane (invented), where the receiver stood, and how far from the house.
pub(super) const PLACES: [(&str, f64, u32); 5] = [
    ("at the gate", -47.0, 5),
    ("by the fence", -38.0, 40),
    ("under the lamp post", -31.0, 70),
    ("at the bend", -40.0, 110),
    ("by the well", -48.0, 160),
];
/// Distance of its carriers, how many there are, and how far below its buzz each stands (invented).
const SPACING_HZ: f64 = 412.0;
const CARRIERS: [u32; 4] = [2, 3, 4, 6];
const CARRIERS_DB: f64 = -12.0;
/// How far takes move with nothing touched, dB (invented: a band at rest).
const WANDER_DB: f64 = 0.15;

/// One take: its labels as lines of the manifest, and what is heard.
pub(super) struct Take {
    pub file: String,
    labels: String,
    /// Which circuits are on.
    on: Vec<usize>,
    /// Where it was made on the lane.
    place: Option<usize>,
}

/// The takes in the order they were made.
pub(super) fn takes() -> Vec<Take> {
    let mut takes = Vec::new();
    let all: Vec<usize> = (0..CIRCUITS.len()).collect();
    let mut house = |name: &str, state: State, device: &str, on: Vec<usize>| {
        let device = if device.is_empty() { String::new() } else { format!("device = \"{device}\"\n") };
        takes.push(Take {
            file: name.into(),
            labels: format!(
                "state = \"{state}\"\n{device}antenna = \"9 m wire\"\ngain = \"AGC off, RF gain 55\"\n"
            ),
            on,
            place: None,
        });
    };
    house("off", State::Off, "", Vec::new());
    for (i, (name, _)) in CIRCUITS.iter().enumerate() {
        house(&format!("{}-on", name.replace(' ', "-")), State::On, name, vec![i]);
        if i % 3 == 2 {
            house("off", State::Off, "", Vec::new());
        }
    }
    house("all-on", State::On, "all", all.clone());
    for (i, (name, _)) in CIRCUITS.iter().enumerate() {
        let others = all.iter().copied().filter(|&k| k != i).collect();
        house(&format!("all-but-{}", name.replace(' ', "-")), State::On, &format!("all but {name}"), others);
        if i % 3 == 2 {
            house("all-on", State::On, "all", all.clone());
        }
    }
    house("off", State::Off, "", Vec::new());
    // There and back.
    for i in (0..PLACES.len()).chain((0..PLACES.len()).rev()) {
        let (place, _, distance_m) = PLACES[i];
        takes.push(Take {
            file: place.replace(' ', "-"),
            labels: format!(
                "state = \"on\"\nplace = \"{place}\"\ndistance_m = {distance_m}\nantenna = \"loop in hand\"\ngain = \
                 \"AGC off, RF gain 30\"\n"
            ),
            on: Vec::new(),
            place: Some(i),
        });
    }
    for (i, take) in takes.iter_mut().enumerate() {
        take.file = format!("{:02}-{}.wav", i + 1, take.file);
    }
    takes
}

/// The scene of one take; `seed` is the evening's.
pub(super) fn scene(index: usize, take: &Take, seed: u64) -> Scene {
    let seed = seed.wrapping_add((index as u64 + 301).wrapping_mul(0x9e37_79b9_7f4a_7c15));
    let band = if take.place.is_some() { BAND_IN_HAND } else { BAND };
    let mut scene = Scene::new(Receiver::ssb(RATE_HZ)).seed(seed).receiver_noise(RECEIVER).band_noise(band);
    let outside = || Buzz::gated(100.0, 0.35);
    let spacing = || Carriers::comb(SPACING_HZ, 90.0, CARRIERS);
    match take.place {
        Some(place) => {
            let level = Dbfs(PLACES[place].1);
            scene = scene.device_level(outside(), level);
            scene = scene.carriers(spacing(), level + Db(CARRIERS_DB));
        }
        None => scene = scene.device(outside(), Db(OUTSIDE_DB)),
    }
    // Each stands over all that is there with everything off.
    let before = Db(OUTSIDE_DB).ratio();
    for &circuit in take.on.iter().filter(|&&circuit| CIRCUITS[circuit].1 > 0.0) {
        let excess = Db::from_ratio(1.0 + before * (Db(CIRCUITS[circuit].1).ratio() - 1.0));
        scene = match circuit {
            0 => scene.device(Buzz::sine(100.0), excess),
            _ => scene.device(Hash::flat(), excess),
        };
    }
    let wander = Trap::Volume { at_s: 0.0, db: WANDER_DB * (2.4 * index as f64).sin() * 2f64.sqrt() };
    scene.trap(wander).trap(Trap::SoundCard(CARD))
}

const HEAD: &str = r#"title = "A hunt: the circuits of a house, then along the lane"
mains_hz = 50
station = "portable receiver on its battery"
"#;

/// The text of the manifest.
pub(super) fn text(takes: &[Take]) -> String {
    takes.iter().fold(HEAD.to_owned(), |mut text, take| {
        // Writing into a string can't fail.
        let _ = write!(
            text,
            "\n[[recording]]\nfile = \"{}\"\n{}dial_khz = 3642.0\nmode = \"USB\"\nbandwidth_hz = 2400\n",
            take.file, take.labels
        );
        text
    })
}
