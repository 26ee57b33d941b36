//! The words of a plan, as `sheet` and `capture` take them.

use clap::Args;

use crate::capture::{DeviceWords, PlanWords, Way};
use crate::cli::options::mains;
use crate::labels::Mode;

/// The words a plan is made of.
#[derive(Debug, Args)]
#[command(next_help_heading = "Plan")]
pub struct PlanArgs {
    /// A device and its remedies in order, such as "aquarium lamp: three ferrites, linear supply"; may be repeated
    #[arg(long = "device", value_name = "WORDS", value_parser = device)]
    devices: Vec<DeviceWords>,
    /// Circuits of a house to walk over in place of devices, such as "kitchen ring, upstairs lights, cellar"
    #[arg(long, value_name = "WORDS", value_delimiter = ',', conflicts_with = "devices")]
    circuits: Vec<String>,
    /// Each circuit on alone, the others off; or off alone, the others on [default: alone]
    #[arg(long, value_name = "WAY", value_enum, requires = "circuits")]
    walk: Option<Way>,
    /// Heads sheet and report [default: the devices]
    #[arg(long, value_name = "WORDS")]
    title: Option<String>,
    /// Receiver, antenna, earth in your words
    #[arg(long, value_name = "WORDS")]
    station: Option<String>,
    /// Dial frequency
    #[arg(long, value_name = "KHZ")]
    dial: Option<f64>,
    /// USB, LSB, CW, AM or FM
    #[arg(long, value_name = "MODE", value_parser = mode)]
    mode: Option<Mode>,
    /// Width of the receiver's filter
    #[arg(long, value_name = "HZ")]
    bandwidth: Option<f64>,
    /// Antenna, in your words
    #[arg(long, value_name = "WORDS")]
    antenna: Option<String>,
    /// Gain and AGC, in your words, such as "AGC off, RF gain 60"
    #[arg(long, value_name = "WORDS")]
    gain: Option<String>,
    /// Mains frequency, 50 or 60
    #[arg(long, value_name = "HZ", value_parser = mains)]
    mains: Option<f64>,
    /// Time at hand: as many and as long takes as fit
    #[arg(long, value_name = "MINUTES")]
    minutes: Option<f64>,
    /// Length of a take [default: 30]
    #[arg(long, value_name = "SECONDS")]
    seconds: Option<f64>,
    /// Times off and on are recorded in turn [default: 2]
    #[arg(long, value_name = "N")]
    rounds: Option<u32>,
    /// Leave out the take with a dummy load
    #[arg(long)]
    no_dummy_load: bool,
    /// First check the receiver with an attenuator of so many dB, in and out
    #[arg(long, value_name = "DB")]
    receiver_check: Option<f64>,
}

impl PlanArgs {
    /// What was typed; `None` where nothing was.
    pub fn words(&self) -> Option<PlanWords> {
        let words = PlanWords {
            title: self.title.clone(),
            station: self.station.clone(),
            mains_hz: self.mains,
            dial_khz: self.dial,
            mode: self.mode,
            bandwidth_hz: self.bandwidth,
            antenna: self.antenna.clone(),
            gain: self.gain.clone(),
            minutes: self.minutes,
            seconds: self.seconds,
            rounds: self.rounds,
            no_dummy_load: self.no_dummy_load,
            receiver_check_db: self.receiver_check,
            circuits: self.circuits.iter().map(|name| name.trim().to_owned()).collect(),
            walk: self.walk,
            devices: self.devices.clone(),
        };
        (words != PlanWords::default()).then_some(words)
    }
}

fn device(typed: &str) -> Result<DeviceWords, String> {
    let (name, remedies) = typed.split_once(':').unwrap_or((typed, ""));
    if name.trim().is_empty() {
        return Err(format!("'{typed}' names no device; write it such as \"lamp: three ferrites, battery\""));
    }
    let remedies = remedies.split(',').map(str::trim).filter(|remedy| !remedy.is_empty());
    Ok(DeviceWords { name: name.trim().to_owned(), remedies: remedies.map(str::to_owned).collect() })
}

fn mode(typed: &str) -> Result<Mode, String> {
    Mode::from_word(typed).ok_or_else(|| format!("'{typed}' is no mode; USB, LSB, CW, AM or FM"))
}
