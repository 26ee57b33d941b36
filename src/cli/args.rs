//! Everything that can be typed. Building it opens no file.

use std::path::{Path, PathBuf};
use std::str::FromStr;

use clap::{Args, Parser, Subcommand};

use crate::audio::ChannelChoice;
use crate::capture::{DeviceWords, PlanWords, Way};
use crate::labels::{Mode, Outside};
use crate::run::handout::HandoutWishes;
use crate::run::{NightWishes, Wishes};
use crate::signal::spectrum::Passband;

const AFTER_HELP: &str = "\
To see what it does, with the recordings of an invented evening:
  noisetally demo pond        writes them into the folder pond
  noisetally session pond     makes the report reports/pond/report.md

To record with a plan, checked take by take:
  noisetally sheet my-evening --device \"lamp: ferrite\"   plan, test sheet
  RECORDER | noisetally capture my-evening               records, then reports

With your own, in a folder my-recordings:
  noisetally draft my-recordings     labels them, guessing from the file names
  noisetally check my-recordings     says what would spoil the comparison
  noisetally session my-recordings   makes the report

Before you record: AGC off, or the RF gain fixed. Between off and on touch
neither dial, mode, filter, antenna nor volume. 20 s or more each, in turn:
off, on, off, on tells more than one off and one on. All the rest stands in
the guides: noisetally guide

Exit codes: 0 done; 1 done, but a recording was left out or a comparison is
void; 2 wrong use, or nothing could be done; 130 stopped by Ctrl-C.";

/// What this program was built as, for a report of a fault; `-V` prints the version alone.
const LONG_VERSION: &str = concat!(
    env!("CARGO_PKG_VERSION"),
    "\ntarget: ",
    env!("NOISETALLY_TARGET"),
    "\nbuild: ",
    env!("NOISETALLY_PROFILE"),
    "\nfeatures: ",
    env!("NOISETALLY_FEATURES"),
);

/// Turns recordings of a short-wave receiver, with a device off and on, into an honest account of the noise it
/// makes.
#[derive(Debug, Parser)]
#[command(version, long_version = LONG_VERSION, about, after_help = AFTER_HELP, max_term_width = 100)]
pub struct Cli {
    /// Say nothing but results and errors
    #[arg(long, short, global = true, display_order = 90)]
    pub quiet: bool,
    /// Use so many threads [default: one a core]
    #[arg(long, global = true, value_name = "N", value_parser = threads, display_order = 91)]
    pub threads: Option<usize>,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// A folder of labelled recordings in, one report folder out
    ///
    /// Takes the labels from DIR/session.toml, or from the file names where there is none; measures every
    /// recording, compares on with off for every device and remedy, and writes a folder with report.md, pictures,
    /// tables (CSV), report.json for programs and post.txt for a forum. Nothing in it names your computer or its
    /// folders.
    ///
    /// A recording that can't be used is named in the report with the reason; the others are done. An earlier
    /// report is replaced only when the new one is complete.
    Session(SessionArgs),
    /// Two files, off and on: an answer in a second
    ///
    /// Prints how far the noise rises with the device on, what kind of noise it is, and what speaks against
    /// trusting that. One off and one on can't tell the device from a change of the band: for a result to lean on,
    /// record each several times and use session.
    Pair(PairArgs),
    /// Recordings by themselves, without an off: what stands in each
    ///
    /// Says how loud the noise is (where that is calibrated), whether it pulses with the mains, clicks, which carriers
    /// and stations stand in it, what that is typical of, how sure it is, and which take to record next. Who made it
    /// one recording can't tell: for that, record off as well and use pair or session.
    Describe(DescribeArgs),
    /// Write the labels of a folder of recordings from their names, for you to finish
    ///
    /// The manifest session.toml is put into DIR, with every guess marked and the usual other fields shown as
    /// comments. Names are read word by word: a number for the order, the device, off or on, the remedy, the
    /// frequency, the mode; such as 03-lamp-on-ferrite-7100kHz-USB.wav
    Draft(DraftArgs),
    /// Read labels and recordings, say what would spoil the comparison, write nothing
    ///
    /// Best run while the receiver still stands as it was: clipping, a moving gain, hum, copies, labels that
    /// contradict and files that can't be read are told with what to do about each.
    Check(CheckArgs),
    /// A test sheet to print: which takes, in which order, how long, under which file names
    ///
    /// From a few words it plans off and on in turn, each remedy, all off at start and end and a dummy load once,
    /// says how small a change that can show, and what to take care of. With DIR the sheet and the plan are put
    /// there for capture.
    Sheet(Box<SheetArgs>),
    /// Record the takes of a plan one after the other, checked while the receiver is running
    ///
    /// Sound comes on standard input: a WAV stream, or raw samples with --rate, from any recorder that can write to
    /// a pipe. Each take is on disk and in DIR/session.toml before the next begins; started again, it goes on where
    /// it stopped. At the end the session's report is made.
    Capture(Box<CaptureArgs>),
    /// Hours of recordings in; what noise came and went, and when, out
    ///
    /// Takes files and folders, puts the recordings in order of time and goes through them once. Writes a folder
    /// with report.md, the timeline and a waterfall as pictures, timeline.csv and report.json: the noise level
    /// minute by minute, and each stretch in which a noise was there, compared with the quiet beside it as session
    /// compares on with off.
    ///
    /// When a recording began is taken from `started` in a session.toml beside it, else from date and time in its
    /// name, such as shed-2026-03-14_2130.wav (with a Z behind: UTC), else from the recorder's tag, else from the
    /// file's date.
    Night(NightArgs),
    /// Reports of evenings months apart: what changed, device by device
    ///
    /// Reads the report folders that session and pair made, not the recordings. Devices are held against each other
    /// in equal settings: dial, mode, bandwidth and antenna. A change whose interval holds zero is called none; what
    /// can't be compared is named with the reason.
    Compare(CompareArgs),
    /// Put reports of nights together: a calendar, what keeps to which hours and days, what goes with rain
    ///
    /// Reads the report folders that night made, any number in any order, not the recordings. Each hour counts once.
    /// A habit is told with the chance that luck alone looks like it, everything that was tried counted.
    Weeks(WeeksArgs),
    /// Sheets to hand out: facts for a regulator or a maker, half a page for a neighbour
    ///
    /// Fills in what a report tells and leaves a line for what it can't. Name, address and the like come from [case]
    /// in the manifest that you name with --case or beside --recordings, and from nowhere else: a report, made to be
    /// posted, holds none of it. So the sheets never go into the report's folder.
    Handout(HandoutArgs),
    /// Print a guide, or without TOPIC the list of them: recording, manifest, report and more
    Guide(GuideArgs),
    /// Print completions for your shell
    Completions(CompletionsArgs),
    /// Print the manual page (roff)
    Manual,
    /// Write the recordings and labels of an invented evening
    ///
    /// Nineteen short recordings (8 MB) of three noisy devices, with a session.toml that shows what labels look
    /// like.
    Demo(DemoArgs),
}

/// `session`
#[derive(Debug, Args)]
pub struct SessionArgs {
    /// Folder of recordings, with or without a session.toml
    pub dir: PathBuf,
    /// What becomes of the report.
    #[command(flatten)]
    pub report: ReportArgs,
    /// Say which of the known noises in this folder each comparison resembles
    #[arg(long, value_name = "FOLDER")]
    pub known: Option<PathBuf>,
    /// Put what each device's noise is like, before any remedy, into this folder: a known noise from then on
    #[arg(long, value_name = "FOLDER")]
    pub remember: Option<PathBuf>,
    /// Let the manifest name recordings outside DIR, such as ../off.wav
    #[arg(long)]
    pub allow_outside: bool,
    /// How to measure.
    #[command(flatten)]
    pub wishes: WishArgs,
}

/// `pair`
#[derive(Debug, Args)]
pub struct PairArgs {
    /// Recording with the device off
    pub off: PathBuf,
    /// Recording with the device on
    pub on: PathBuf,
    /// AGC was off and no control touched from one recording to the other
    #[arg(long)]
    pub gain_fixed: bool,
    /// What becomes of the result.
    #[command(flatten)]
    pub result: ResultArgs,
    /// How to measure.
    #[command(flatten)]
    pub wishes: WishArgs,
}

/// `describe`
#[derive(Debug, Args)]
pub struct DescribeArgs {
    /// Recordings, or folders of them
    #[arg(value_name = "FILE", required = true)]
    pub files: Vec<PathBuf>,
    /// What becomes of the result.
    #[command(flatten)]
    pub result: ResultArgs,
    /// Say which of the known noises in this folder each recording resembles; the command session makes them
    #[arg(long, value_name = "FOLDER")]
    pub known: Option<PathBuf>,
    /// Take this part of the audio passband only, such as 300-2700
    #[arg(long, value_name = "LOW-HIGH", value_parser = passband)]
    passband: Option<Passband>,
    /// Mains frequency, 50 or 60 [default: from the manifest, else from the sound]
    #[arg(long, value_name = "HZ", value_parser = mains)]
    mains: Option<f64>,
    /// Channel of stereo recordings: auto, mean, left, right or a number
    #[arg(long, value_name = "CHANNEL", default_value = "auto", value_parser = ChannelChoice::from_str)]
    channel: ChannelChoice,
}

impl DescribeArgs {
    /// What was typed, as what will be done.
    pub fn wishes(&self) -> Wishes {
        Wishes { passband: self.passband, mains_hz: self.mains, reference_hz: None, channel: self.channel }
    }
}

/// `draft`
#[derive(Debug, Args)]
pub struct DraftArgs {
    /// Folder of recordings
    pub dir: PathBuf,
    /// Where to write the manifest [default: DIR/session.toml]; - prints it
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Overwrite a manifest that is there
    #[arg(long)]
    pub force: bool,
}

/// `check`
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// Folder of recordings
    pub dir: PathBuf,
    /// Print the machine-readable result instead of words
    #[arg(long)]
    pub json: bool,
    /// Let the manifest name recordings outside DIR, such as ../off.wav
    #[arg(long)]
    pub allow_outside: bool,
    /// How to measure.
    #[command(flatten)]
    pub wishes: WishArgs,
}

/// `demo`
#[derive(Debug, Args)]
pub struct DemoArgs {
    /// The evening to make
    #[arg(long, value_enum, default_value_t, value_name = "NAME")]
    pub evening: crate::demo::Evening,
    /// Folder to write into; made if need be
    pub dir: PathBuf,
    /// Another seed makes another evening of the same story
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
}

/// `compare`
#[derive(Debug, Args)]
pub struct CompareArgs {
    /// Report folders, two or more
    #[arg(required = true, num_args = 2.., value_name = "REPORT")]
    pub reports: Vec<PathBuf>,
    /// What becomes of the result.
    #[command(flatten)]
    pub result: ResultArgs,
}

/// `weeks`
#[derive(Debug, Args)]
pub struct WeeksArgs {
    /// Report folders of nights
    #[arg(required = true, value_name = "REPORT")]
    pub reports: Vec<PathBuf>,
    /// A table (CSV) of what held when, such as rain: a line each, from, until, word
    #[arg(long, value_name = "FILE")]
    pub conditions: Option<PathBuf>,
    /// Name of the station, for the report and its tables [default: from the reports]
    #[arg(long, value_name = "WORDS")]
    pub station: Option<String>,
    /// What becomes of the result.
    #[command(flatten)]
    pub result: ResultArgs,
}

/// `handout`
#[derive(Debug, Args)]
pub struct HandoutArgs {
    /// Folder of a report that session, pair or night made
    pub report: PathBuf,
    /// About this device [default: the one that adds most]
    #[arg(long, value_name = "WORDS")]
    pub device: Option<String>,
    /// Take name, address, since when and the like from [case] in this manifest
    #[arg(long, value_name = "FILE")]
    pub case: Option<PathBuf>,
    /// Folder of the report's recordings; its session.toml is read for [case] unless --case names another
    #[arg(long, value_name = "FOLDER")]
    pub recordings: Option<PathBuf>,
    /// Cut sound clips of 20 s and 60 s from the recordings, without and with the noise in turn
    #[arg(long, requires = "recordings")]
    pub clips: bool,
    /// Folder to make [default: handouts/<name of the report's folder>]
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
    /// Replace an earlier handout even if you have put files of your own into it (they are kept)
    #[arg(long)]
    pub force: bool,
}

impl HandoutArgs {
    /// What was typed, as what will be done.
    pub fn wishes(&self) -> HandoutWishes {
        HandoutWishes {
            device: self.device.clone(),
            case: self.case.clone(),
            recordings: self.recordings.clone(),
            clips: self.clips,
        }
    }
}

/// `guide`
#[derive(Debug, Args)]
pub struct GuideArgs {
    /// Which guide [default: list them]
    #[arg(value_enum)]
    pub topic: Option<super::guide::Topic>,
}

/// `completions`
#[derive(Debug, Args)]
pub struct CompletionsArgs {
    /// The shell
    pub shell: clap_complete::Shell,
}

/// `sheet`
#[derive(Debug, Args)]
pub struct SheetArgs {
    /// Folder to put sheet.md, sheet.txt and plan.toml into [default: print the sheet]
    pub dir: Option<PathBuf>,
    /// Print plain text of 80 columns instead of Markdown
    #[arg(long, conflicts_with = "dir")]
    pub plain: bool,
    /// Replace a sheet and a plan that are there
    #[arg(long)]
    pub force: bool,
    /// What to plan.
    #[command(flatten)]
    pub words: PlanArgs,
}

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

/// Whether recordings may lie outside the folder.
pub fn outside(allow: bool) -> Outside {
    if allow { Outside::Allowed } else { Outside::Refused }
}

impl CaptureArgs {
    /// The folder; empty only where cards are listed.
    pub fn dir(&self) -> &Path {
        self.folder.as_deref().unwrap_or_else(|| Path::new(""))
    }
}

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

fn settle(typed: &str) -> Result<f64, String> {
    let seconds = typed.trim().parse::<f64>().ok().filter(|seconds| (0.0..=3600.0).contains(seconds));
    seconds.ok_or_else(|| format!("'{typed}': seconds, from 0 to 3600"))
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

impl SessionArgs {
    /// As if nothing but the folders had been typed.
    pub fn of(dir: PathBuf, out: Option<PathBuf>) -> Self {
        let report = ReportArgs { out, ..ReportArgs::default() };
        Self { dir, report, known: None, remember: None, allow_outside: false, wishes: WishArgs::default() }
    }
}

/// `night`
#[derive(Debug, Args)]
pub struct NightArgs {
    /// Recordings, or folders of them
    #[arg(required = true)]
    pub paths: Vec<PathBuf>,
    /// What becomes of the report.
    #[command(flatten)]
    pub report: ReportArgs,
    /// Say which of the known noises in this folder each episode resembles; the command session makes them
    #[arg(long, value_name = "FOLDER")]
    pub known: Option<PathBuf>,
    /// A table (CSV) of what was switched when, such as "21:30, pump, on": which entry explains which episode
    #[arg(long, value_name = "FILE")]
    pub log: Option<PathBuf>,
    /// Take this part of the audio passband only, such as 300-2700
    #[arg(long, value_name = "LOW-HIGH", value_parser = passband)]
    passband: Option<Passband>,
    /// Mains frequency, 50 or 60 [default: 50]
    #[arg(long, value_name = "HZ", value_parser = mains)]
    mains: Option<f64>,
    /// Channel of stereo recordings: auto, mean, left, right or a number
    #[arg(long, value_name = "CHANNEL", default_value = "auto", value_parser = ChannelChoice::from_str)]
    channel: ChannelChoice,
}

impl NightArgs {
    /// What was typed, as what will be done.
    pub fn wishes(&self) -> NightWishes {
        NightWishes { passband: self.passband, mains_hz: self.mains, channel: self.channel, known: None, log: None }
    }
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

/// Chosen: more threads than this only cost memory.
const MOST_THREADS: usize = 256;

fn threads(typed: &str) -> Result<usize, String> {
    let count = typed.trim().parse().ok().filter(|count| (1..=MOST_THREADS).contains(count));
    count.ok_or_else(|| format!("a number from 1 to {MOST_THREADS}"))
}

fn passband(typed: &str) -> Result<Passband, String> {
    let advice = || format!("'{typed}' is no passband; write its edges in Hz, such as 300-2700");
    let (low, high) = typed.split_once('-').ok_or_else(advice)?;
    let edge = |text: &str| text.trim().trim_end_matches("Hz").trim().parse::<f64>().map_err(|_| advice());
    let passband = Passband { low_hz: edge(low)?, high_hz: edge(high)? };
    let sane = passband.low_hz >= 0.0 && passband.high_hz < 96_000.0 && passband.width_hz() >= 100.0;
    if sane { Ok(passband) } else { Err(format!("'{typed}': at least 100 Hz wide, lower edge first")) }
}

/// How far mains, or a generator in their place, stray from what they should be (chosen).
const MAINS_STRAY_HZ: f64 = 2.0;

fn mains(typed: &str) -> Result<f64, String> {
    let hz = frequency(typed)?;
    let is_mains = [50.0, 60.0].iter().any(|usual| (hz - usual).abs() <= MAINS_STRAY_HZ);
    if is_mains { Ok(hz) } else { Err(format!("'{typed}': mains are 50 or 60 Hz")) }
}

fn frequency(typed: &str) -> Result<f64, String> {
    let hz: f64 =
        typed.trim().trim_end_matches("Hz").trim().parse().map_err(|_| format!("'{typed}' is no number"))?;
    if hz.is_finite() && hz > 0.0 { Ok(hz) } else { Err(format!("'{typed}' is no frequency")) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_consistent() {
        Cli::command().debug_assert();
    }

    #[test]
    fn passbands_are_read_or_refused() {
        assert_eq!(passband("300-2700").unwrap().width_hz(), 2400.0);
        assert_eq!(passband("300 Hz - 2700 Hz").unwrap().width_hz(), 2400.0);
        for wrong in ["", "300", "2700-300", "a-b", "300-310", "NaN-NaN", "-1-500", "0-inf"] {
            assert!(passband(wrong).is_err(), "{wrong}");
        }
    }
}
