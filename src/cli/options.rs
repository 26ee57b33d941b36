//! Options that several commands share, and how their values are read.

use std::path::PathBuf;
use std::str::FromStr;

use clap::Args;

use crate::audio::ChannelChoice;
use crate::labels::Outside;
use crate::run::Wishes;
use crate::signal::spectrum::Passband;

/// Whether recordings may lie outside the folder.
pub fn outside(allow: bool) -> Outside {
    if allow { Outside::Allowed } else { Outside::Refused }
}

/// What becomes of a report.
#[derive(Debug, Default, Args)]
pub struct ReportArgs {
    /// Folder to make for the report [default: reports/<name of the recordings' folder>]
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
    /// Replace an earlier report even if you have put files of your own into it (they are kept)
    #[arg(long)]
    pub force: bool,
    /// Also print the machine-readable result on standard output, and nothing else there
    #[arg(long)]
    pub json: bool,
}

/// What becomes of the result of a command whose answer is words on the screen.
#[derive(Debug, Args)]
pub struct ResultArgs {
    /// Also write a report folder
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
    /// Replace an earlier report even if you have put files of your own into it (they are kept)
    #[arg(long)]
    pub force: bool,
    /// Print the machine-readable result instead of words
    #[arg(long)]
    pub json: bool,
}

/// What the user may lay down over what labels and sound tell.
#[derive(Debug, Default, Args)]
pub struct WishArgs {
    /// Compare this part of the audio passband only, such as 300-2700
    #[arg(long, value_name = "LOW-HIGH", value_parser = passband)]
    passband: Option<Passband>,
    /// Mains frequency, 50 or 60 [default: from the manifest, else from the sound]
    #[arg(long, value_name = "HZ", value_parser = mains)]
    mains: Option<f64>,
    /// Audio frequency of a steady carrier that stands in off and on alike: levels are compared against it
    #[arg(long, value_name = "HZ", value_parser = frequency)]
    reference: Option<f64>,
    /// Channel of stereo recordings: auto, mean, left, right or a number
    #[arg(long, value_name = "CHANNEL", default_value = "auto", value_parser = ChannelChoice::from_str)]
    channel: ChannelChoice,
}

impl WishArgs {
    /// What was typed, as what will be done.
    pub fn wishes(&self) -> Wishes {
        Wishes {
            passband: self.passband,
            mains_hz: self.mains,
            reference_hz: self.reference,
            channel: self.channel,
        }
    }
}

pub fn passband(typed: &str) -> Result<Passband, String> {
    let advice = || format!("'{typed}' is no passband; write its edges in Hz, such as 300-2700");
    let (low, high) = typed.split_once('-').ok_or_else(advice)?;
    let edge = |text: &str| text.trim().trim_end_matches("Hz").trim().parse::<f64>().map_err(|_| advice());
    let passband = Passband { low_hz: edge(low)?, high_hz: edge(high)? };
    let sane = passband.low_hz >= 0.0 && passband.high_hz < 96_000.0 && passband.width_hz() >= 100.0;
    if sane { Ok(passband) } else { Err(format!("'{typed}': at least 100 Hz wide, lower edge first")) }
}

/// How far mains, or a generator in their place, stray from what they should be (chosen).
const MAINS_STRAY_HZ: f64 = 2.0;

pub fn mains(typed: &str) -> Result<f64, String> {
    let hz = frequency(typed)?;
    let is_mains = [50.0, 60.0].iter().any(|usual| (hz - usual).abs() <= MAINS_STRAY_HZ);
    if is_mains { Ok(hz) } else { Err(format!("'{typed}': mains are 50 or 60 Hz")) }
}

pub fn frequency(typed: &str) -> Result<f64, String> {
    let hz: f64 =
        typed.trim().trim_end_matches("Hz").trim().parse().map_err(|_| format!("'{typed}' is no number"))?;
    if hz.is_finite() && hz > 0.0 { Ok(hz) } else { Err(format!("'{typed}' is no frequency")) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn passbands_are_read_or_refused() {
        assert_eq!(passband("300-2700").unwrap().width_hz(), 2400.0);
        assert_eq!(passband("300 Hz - 2700 Hz").unwrap().width_hz(), 2400.0);
        for wrong in ["", "300", "2700-300", "a-b", "300-310", "NaN-NaN", "-1-500", "0-inf"] {
            assert!(passband(wrong).is_err(), "{wrong}");
        }
    }
}
