//! What the manifest says beyond recordings: calibration and antenna for the comparison with published noise, the
//! session's target, and the supplies that remedies swap in. Not here: reading the text (`manifest`), what follows
//! from it (`findings`).

/// Labels of the whole session for what concerns a listener.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ListeningLabels {
    /// The antenna's type.
    pub antenna_type: Option<Antenna>,
    /// Losses between antenna and receiver, dB.
    pub antenna_loss_db: Option<f64>,
    /// How far the powers given as `dbm` may be off, dB.
    pub dbm_tolerance_db: Option<f64>,
    /// What the session aims at.
    pub target: Option<Target>,
    /// Supplies, as on labels and as measured.
    pub supplies: Vec<SupplyLabel>,
}

/// What a session aims at; at least one condition.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Target {
    /// Most dB of excess, carriers and clicks counted.
    pub excess_db: Option<f64>,
    /// Whether no carrier may stand above the floor.
    pub no_carrier: bool,
    /// Strongest carrier allowed, dB over the noise in 1 Hz.
    pub carrier_cnr_db_hz: Option<f64>,
}

/// Figures of a device's label and of the supply that is to feed it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SupplyLabel {
    /// The device.
    pub device: String,
    /// The remedy it belongs to.
    pub remedy: Option<String>,
    /// Voltage on the device's label.
    pub label_volts: Option<f64>,
    /// Current on the device's label.
    pub label_amps: Option<f64>,
    /// Kind of current on the device's label.
    pub label_current: Option<Current>,
    /// Polarity on the device's label.
    pub label_polarity: Option<Polarity>,
    /// Voltage of the supply, at its plug.
    pub supply_volts: Option<f64>,
    /// Current the supply can deliver.
    pub supply_amps: Option<f64>,
    /// Kind of current of the supply.
    pub supply_current: Option<Current>,
    /// Polarity of the supply's plug.
    pub supply_polarity: Option<Polarity>,
    /// Whether voltage and polarity of the supply were measured at the plug.
    pub measured: Option<bool>,
    /// Fuse in the lead.
    pub fuse_amps: Option<f64>,
}

/// The antenna the power given as `dbm` was taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Antenna {
    /// Short vertical monopole over ground, which ITU-R P.372's figures are for.
    ShortVertical,
    /// Half-wave dipole.
    HalfWaveDipole,
    /// Anything else.
    Other,
}

/// Direct or alternating current.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Current {
    /// Direct.
    Dc,
    /// Alternating.
    Ac,
}

impl Current {
    /// "DC", "AC".
    pub fn word(self) -> &'static str {
        match self {
            Self::Dc => "DC",
            Self::Ac => "AC",
        }
    }
}

/// Which contact of a coaxial plug is positive.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Polarity {
    /// The inner one.
    CentrePositive,
    /// The outer one.
    CentreNegative,
}

impl Polarity {
    /// Its word in the manifest.
    pub fn word(self) -> &'static str {
        match self {
            Self::CentrePositive => "centre positive",
            Self::CentreNegative => "centre negative",
        }
    }
}
