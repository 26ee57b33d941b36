//! The invented evening: which takes were made at the pond station, and what is heard in each.
//!
//! A garden shed, a receiver on 40 metres, three suspects: the charger of a cordless drill, a dimmed LED strip, the
//! controller of a pond pump. Levels are those of a rural band: noise at −45 dBFS in the passband, 17 dB above the
//! receiver's own. Nothing here is a real place, person or product.

use super::synth::{Buzz, Carrier, Carriers, Clicks, Fading, Hash, Receiver, Scene, Station, Trap};
use crate::labels::State;
use crate::units::{Db, Dbfs};

/// Samples a second of all takes. Chosen: enough for a speech filter, and small files.
pub(super) const RATE_HZ: u32 = 8000;
/// Noise of the band in the passband. Invented: a recorder set well, with room above.
pub(super) const BAND: Dbfs = Dbfs(-45.0);
/// Noise of the receiver itself. Invented: 17 dB below the band, so that it hardly counts.
pub(super) const RECEIVER: Dbfs = Dbfs(-62.0);
/// Noise of the sound card over the whole width of the recording: it fills what the filter leaves empty, and adds
/// less than 0.001 dB to the band's noise and 0.05 dB to the receiver's (chosen).
pub(super) const CARD: Dbfs = Dbfs(-82.0);
/// What the charger does to the noise before anything is done to it. Invented.
const CHARGER_EXCESS: Db = Db(14.0);
/// Distance of the LED strip's carriers: the rate of its dimmer (invented).
pub(super) const STRIP_SPACING_HZ: f64 = 216.4;
/// Mains frequency of the invented place, one of the two in use.
pub(super) const MAINS_HZ: f64 = 50.0;

/// What is switched on in a take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Source {
    /// Nothing.
    Quiet,
    /// The charger, its lead noise weakened by this many dB.
    Charger { weaker_db: f64 },
    /// The LED strip: place and drift of its carriers, which follow its warmth.
    Strip { offset_hz: f64, drift_hz_per_s: f64 },
    /// The pump's controller.
    Pump,
}

impl Source {
    /// The manifest's name of the device.
    pub fn device(self) -> Option<&'static str> {
        match self {
            Self::Quiet => None,
            Self::Charger { .. } => Some("drill charger"),
            Self::Strip { .. } => Some("LED strip"),
            Self::Pump => Some("pond pump"),
        }
    }
}

/// One take of the evening.
#[derive(Debug, Clone, Copy)]
pub(super) struct Entry {
    pub file: &'static str,
    pub state: State,
    pub source: Source,
    pub remedy: Option<(&'static str, u32)>,
    /// Pieces of ferrite on its leads.
    pub ferrites: Option<u32>,
    pub clock: &'static str,
    pub seconds: f64,
    pub voice: bool,
    pub meter: Option<&'static str>,
    pub note: Option<&'static str>,
}

impl Entry {
    const fn off(file: &'static str, clock: &'static str) -> Self {
        Self {
            file,
            state: State::Off,
            source: Source::Quiet,
            remedy: None,
            ferrites: None,
            clock,
            seconds: 20.0,
            voice: false,
            meter: None,
            note: None,
        }
    }

    const fn on(file: &'static str, clock: &'static str, source: Source) -> Self {
        Self { state: State::On, source, ..Self::off(file, clock) }
    }

    const fn remedy(mut self, words: &'static str, order: u32) -> Self {
        self.remedy = Some((words, order));
        self
    }

    const fn pieces(mut self, ferrites: u32) -> Self {
        self.ferrites = Some(ferrites);
        self
    }

    const fn lasting(mut self, seconds: f64) -> Self {
        self.seconds = seconds;
        self
    }

    const fn note(mut self, words: &'static str) -> Self {
        self.note = Some(words);
        self
    }
}

const CHARGER: Source = Source::Charger { weaker_db: 0.0 };
/// One ferrite on the mains lead takes 3.6 dB off the charger; one more on the battery lead takes nothing off.
const CHOKED: Source = Source::Charger { weaker_db: 3.6 };
const PORCH: Source = Source::Charger { weaker_db: 16.0 };
const MAINS_LEAD: &str = "ferrite on mains lead";
const BOTH_LEADS: &str = "second ferrite on battery lead";
const PORCH_SOCKET: &str = "porch socket";

/// The takes in the order they were made.
pub(super) const ENTRIES: [Entry; 19] = [
    Entry {
        meter: Some("S5"),
        ..Entry::off("01-off.wav", "19:02:00").lasting(24.0).note("All three unplugged. Kettle too.")
    },
    Entry::on("02-charger-on.wav", "19:03:30", CHARGER).note("Flat battery in, so it works for its living."),
    Entry::off("03-off.wav", "19:05:00"),
    Entry::on("04-charger-on.wav", "19:06:20", CHARGER),
    Entry::on("05-charger-on-one-ferrite.wav", "19:11:10", CHOKED)
        .remedy(MAINS_LEAD, 1)
        .pieces(1)
        .note("Clip-on, one pass, close to the charger."),
    Entry::on("06-charger-on-two-ferrites.wav", "19:13:00", CHOKED)
        .remedy(BOTH_LEADS, 2)
        .pieces(2)
        .note("I could swear this helped. Let the numbers say."),
    Entry::on("07-charger-on-one-ferrite.wav", "19:14:30", CHOKED).remedy(MAINS_LEAD, 1).pieces(1),
    Entry::on("08-charger-on-two-ferrites.wav", "19:16:00", CHOKED).remedy(BOTH_LEADS, 2).pieces(2),
    Entry {
        voice: true,
        ..Entry::off("09-off.wav", "19:18:40")
            .lasting(24.0)
            .note("Somebody faint chatting on the beacon's frequency.")
    },
    Entry::on("10-charger-on-porch-socket.wav", "19:24:00", PORCH)
        .remedy(PORCH_SOCKET, 3)
        .note("Twelve metres from the wire and on the other circuit."),
    Entry::on("11-charger-on-porch-socket.wav", "19:25:30", PORCH).remedy(PORCH_SOCKET, 3),
    Entry::on("12-led-strip-on.wav", "19:31:00", Source::Strip { offset_hz: 112.0, drift_hz_per_s: 0.35 })
        .note("Dimmed to a third, cold. The whistles slide upwards."),
    Entry::off("13-off.wav", "19:33:00").note("In the dark, with a torch."),
    Entry::on("14-led-strip-on.wav", "19:37:00", Source::Strip { offset_hz: 113.0, drift_hz_per_s: 0.30 }),
    Entry::on("15-pump-on.wav", "19:42:00", Source::Pump).note("Tick, tick, tick. The frogs don't mind."),
    Entry::off("16-off.wav", "19:43:30"),
    Entry::on("17-pump-on.wav", "19:45:00", Source::Pump),
    Entry::off("18-off.wav", "19:47:00")
        .lasting(24.0)
        .note("All off once more, to see whether the band kept still."),
    Entry {
        state: State::Terminated,
        ..Entry::off("19-dummy-load.wav", "19:50:00")
            .note("Dummy load in place of the wire: the receiver by itself.")
    },
];

/// The scene of one take; `seed` is the evening's.
pub(super) fn scene(index: usize, entry: &Entry, seed: u64) -> Scene {
    // Each take its own random streams: an odd multiplier keeps them apart for any seed.
    let seed = seed.wrapping_add((index as u64 + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15));
    let receiver =
        Scene::new(Receiver::ssb(RATE_HZ)).seed(seed).receiver_noise(RECEIVER).trap(Trap::SoundCard(CARD));
    match entry.state {
        State::Terminated => receiver,
        State::Off | State::On => add_source(on_air(receiver, entry.voice), entry.source),
    }
}

/// The band: its noise, breathing a little; a beacon that fades, some 4 to 11 dB over the noise while the key is
/// down (its mean counts the pauses in); once a faint voice.
fn on_air(receiver: Scene, voice: bool) -> Scene {
    let beacon = Station::cw(BEACON_TEXT, 17.0, 860.0).fading(Fading::new(3.0, 11.0));
    let scene = receiver.band_noise(BAND).band_fading(Fading::new(0.4, 7.0)).station(beacon, Db(4.0));
    if voice { scene.station(Station::voice(122.0).fading(Fading::new(2.0, 15.0)), Db(0.0)) } else { scene }
}

/// Of our own invention, like the beacon that sends it.
const BEACON_TEXT: &str = "the heron came at six and left with two goldfish = the pond is low = more at nine = ";

fn add_source(scene: Scene, source: Source) -> Scene {
    match source {
        Source::Quiet => scene,
        Source::Charger { weaker_db } => charger(scene, weaker_db),
        Source::Strip { offset_hz, drift_hz_per_s } => {
            scene.carriers(strip(offset_hz, drift_hz_per_s), Dbfs(-52.0))
        }
        Source::Pump => scene.device(Clicks::regular(4.3, 0.04).spread(2.0), Db(4.0)),
    }
}

/// Hash pulsing at twice the mains rate, which leaves by the leads; and two weak carriers straight from the case,
/// on which no ferrite acts: they come to light once the hash is gone.
fn charger(scene: Scene, weaker_db: f64) -> Scene {
    let hash = Buzz::gated(2.0 * MAINS_HZ, 0.35).jittered(0.01).over(Hash::sloping(-1.5));
    let added = (CHARGER_EXCESS.ratio() - 1.0) * Db(-weaker_db).ratio();
    let birdies = Carriers::new([Carrier::at(1318.0), Carrier::at(2041.0).relative(-1.5)]).wandering(0.15);
    scene.device(hash, Db::from_ratio(1.0 + added)).carriers(birdies, Dbfs(-66.0))
}

/// The dimmer's carriers: one spacing, two places empty; they move together. Under the charger's hash only the
/// stronger ones would be seen.
fn strip(offset_hz: f64, drift_hz_per_s: f64) -> Carriers {
    Carriers::comb(STRIP_SPACING_HZ, offset_hz, [2, 3, 4, 6, 7, 8, 10, 11])
        .levels(&[0.0, -9.5, -3.0, -13.0, -5.5, -11.0, -15.0, -7.0])
        .drifting(drift_hz_per_s)
        .wandering(0.05)
}
