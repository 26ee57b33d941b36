//! What can be typed after `capture`.

use std::path::{Path, PathBuf};

use clap::Args;

use super::plan_args::PlanArgs;

/// `capture`
#[derive(Debug, Args)]
pub struct CaptureArgs {
    /// Folder for the recordings; made if need be. A plan.toml in it is followed
    #[arg(value_name = "DIR", required_unless_present = "list_cards")]
    folder: Option<PathBuf>,
    /// Record from a sound card, by its name in --list-cards or a part of its description [default: the usual one]
    #[arg(long, value_name = "NAME", num_args = 0..=1, default_missing_value = "", conflicts_with = "at_speed")]
    pub card: Option<String>,
    /// List the sound cards that can record, and do nothing else
    #[arg(long)]
    pub list_cards: bool,
    /// Folder to make for the report [default: reports/<name of DIR>]
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
    /// Make no report at the end
    #[arg(long)]
    pub no_report: bool,
    /// Samples a second, raw or of a card [default: as the WAV stream says, or as usual with the card]
    #[arg(long, value_name = "HZ", value_parser = clap::value_parser!(u32).range(6_000..=192_000))]
    pub rate: Option<u32>,
    /// Raw samples are written so: u8, s16, s24, s32 or f32, low byte first
    #[arg(long, value_name = "FORMAT", default_value = "s16", value_parser = ["u8", "s16", "s24", "s32", "f32"])]
    pub format: String,
    /// Channels, of raw samples or of a card; all are recorded, the loudest is shown
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u16).range(1..=8))]
    pub channels: u16,
    /// Read standard input only during takes: for files, not for a running receiver
    #[arg(long)]
    pub at_speed: bool,
    /// Run this for each take instead of asking, without a shell; {state}, {device}, {remedy} are filled in
    #[arg(long, value_name = "COMMAND")]
    pub switch_command: Option<String>,
    /// Wait so long after switching; without a terminal and a command, time to switch by hand [default: 5]
    #[arg(long, value_name = "SECONDS", value_parser = settle)]
    pub settle: Option<f64>,
    /// What to plan, where DIR holds no plan yet.
    #[command(flatten)]
    pub words: PlanArgs,
}

impl CaptureArgs {
    /// The folder; empty only where cards are listed.
    pub fn dir(&self) -> &Path {
        self.folder.as_deref().unwrap_or_else(|| Path::new(""))
    }
}

fn settle(typed: &str) -> Result<f64, String> {
    let seconds = typed.trim().parse::<f64>().ok().filter(|seconds| (0.0..=3600.0).contains(seconds));
    seconds.ok_or_else(|| format!("'{typed}': seconds, from 0 to 3600"))
}
