//! What a full-scale level is at the receiver's input, where the session gives a reading to hang it on.
//!
//! Without one only changes are given. A meter's reading is rough (real meters stray far from 6 dB a unit), a power
//! in dBm as good as its measurement; neither touches the differences between recordings, which come from the sound
//! alone.

use std::collections::BTreeMap;

use crate::labels::{Fields, Mode, Session};
use crate::signal::recording::Measured;
use crate::units::{Dbfs, dbm_of_reading, s_reading};

/// Where no dial is known the receiver is taken to be a short-wave one. Chosen: anything below 30 MHz, where S9 is
/// −73 dBm (IARU Region 1, R.1), does.
const SHORT_WAVE_HZ: f64 = 10e6;

/// How far a power given as `dbm` is taken to be off where nothing is told, dB: our own choice, a signal generator
/// of the better kind and a receiver that warmed up.
pub const USUAL_TOLERANCE_DB: f64 = 3.0;
/// The anchor of each setting that has one.
pub struct Anchors(BTreeMap<String, Anchor>);

/// What full scale is in one setting.
#[derive(Debug, Clone, Copy)]
pub struct Anchor {
    /// Power at the receiver's input, dBm.
    pub dbm_at_full_scale: f64,
    /// Dial frequency, Hz; 10 MHz where none is known.
    pub dial_hz: f64,
    /// From a power (`dbm`), else from a meter.
    pub by_power: bool,
}

impl Anchors {
    /// From the labels `dbm` or, where a setting has none, `meter` of its recordings; the first in the session's
    /// order.
    pub fn of(session: &Session, measured: &BTreeMap<String, Measured>) -> Self {
        let mut found = BTreeMap::new();
        for by_power in [true, false] {
            for label in &session.recordings {
                let level = measured.get(&label.id).and_then(|one| one.measurement.level);
                if let Some(anchor) = anchor_of(label, level, by_power) {
                    found.entry(label.setting.clone()).or_insert(anchor);
                }
            }
        }
        Self(found)
    }

    /// The anchor of a setting.
    pub fn of_setting(&self, setting: &str) -> Option<Anchor> {
        self.0.get(setting).copied()
    }

    /// A level of this setting as a power at the receiver's input, dBm, and as an S-meter would show it by IARU
    /// Region 1 recommendation R.1.
    pub fn reading(&self, setting: &str, level_db: f64) -> Option<(f64, String)> {
        self.0.get(setting).map(|anchor| anchor.reading(level_db))
    }
}

impl Anchor {
    /// A level as a power at the receiver's input, dBm, and as an S-meter would show it.
    pub fn reading(&self, level_db: f64) -> (f64, String) {
        let dbm = self.dbm_at_full_scale + level_db;
        (dbm, s_reading(dbm, self.dial_hz))
    }
}

/// By one recording's label `dbm`, or its `meter`, and its level.
pub fn anchor_of(label: &Fields, level: Option<Dbfs>, by_power: bool) -> Option<Anchor> {
    let dial_hz = label.dial_khz.map_or(SHORT_WAVE_HZ, |khz| khz * 1000.0);
    let read = || label.meter.as_deref().and_then(|meter| dbm_of_reading(meter, dial_hz));
    let dbm = if by_power { label.dbm } else { read() };
    Some(Anchor { dbm_at_full_scale: dbm? - level?.0, dial_hz, by_power })
}

/// Whether noise behind the detector stands in proportion, hertz by hertz, to noise on the air.
pub fn is_linear(mode: Option<Mode>) -> bool {
    matches!(mode, Some(Mode::Usb | Mode::Lsb | Mode::Cw))
}
