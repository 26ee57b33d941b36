//! What is true of a synthesised take: every power in it, before traps.

use crate::units::{Db, Dbfs};

/// What part of a scene a power belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// A wanted signal.
    Station,
    /// Static crashes.
    Crashes,
    /// A device's noise.
    Device,
}

/// The kind of a part, in the words of the report's characters where there is one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Steady broadband noise.
    Hash,
    /// Broadband noise pulsing at a rate.
    Buzz,
    /// Pulses with quiet between.
    Clicks,
    /// Single carriers, or a comb of them.
    Carriers,
    /// A telegraphy station, a voice, or a station's carrier.
    Wanted,
    /// Static crashes.
    Crashes,
}

/// One part of a take and its powers after the receiver's filter. Powers are mean squares, full scale 1.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Station, crashes or device.
    pub role: Role,
    /// What it is.
    pub kind: Kind,
    /// Mean square over an ensemble of such takes, or of this one where no ensemble is known beforehand.
    pub expected: f64,
    /// Mean square of this very waveform.
    pub measured: f64,
    /// Its carriers.
    pub lines: Vec<LineTruth>,
    /// Times of its pulses, seconds from the start.
    pub pulses_s: Vec<f64>,
}

/// One carrier as it stands in the audio.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineTruth {
    /// Frequency at the first sample.
    pub start_hz: f64,
    /// Frequency at the last.
    pub end_hz: f64,
    /// Mean frequency.
    pub mean_hz: f64,
    /// Level of the carrier itself after the filter, without sidebands; for a keyed one, while the key is down.
    pub level: Dbfs,
}

/// All that is true of one take, before traps.
#[derive(Debug, Clone, PartialEq)]
pub struct TakeTruth {
    /// Mean square of the noise that is always there (band and receiver), over an ensemble. Every excess and SNR
    /// of the scene is meant against this one.
    pub noise_expected: f64,
    /// Mean square of that noise in this very take.
    pub noise_measured: f64,
    /// Equivalent width of the passband for white noise, Hz.
    pub noise_bandwidth_hz: f64,
    /// Stations, crashes and devices.
    pub parts: Vec<Part>,
}

impl TakeTruth {
    /// 10·lg((noise + devices' noise)/noise) over the ensemble: hash, buzz and clicks, without carriers.
    pub fn excess(&self) -> Db {
        self.excess_of(|p| p.kind != Kind::Carriers)
    }

    /// The same without clicks too: hash and buzz only, what an estimate finds that lets pulses pass as well as
    /// lines.
    pub fn steady_excess(&self) -> Db {
        self.excess_of(|p| matches!(p.kind, Kind::Hash | Kind::Buzz))
    }

    /// [`excess`](Self::excess) with the devices' carriers: all there is.
    pub fn total_excess(&self) -> Db {
        self.excess_of(|_| true)
    }

    /// Carriers of all devices.
    pub fn device_lines(&self) -> impl Iterator<Item = &LineTruth> {
        self.devices().flat_map(|p| &p.lines)
    }

    /// The devices' parts.
    pub fn devices(&self) -> impl Iterator<Item = &Part> {
        self.parts.iter().filter(|p| p.role == Role::Device)
    }

    fn excess_of(&self, counts: impl Fn(&Part) -> bool) -> Db {
        let added: f64 = self.devices().filter(|p| counts(p)).map(|p| p.expected).sum();
        Db::from_ratio((self.noise_expected + added) / self.noise_expected)
    }
}
