//! The commands, and what can be typed with all of them. Building it opens no file.

use clap::{Args, Parser, Subcommand};

use super::capture::args::CaptureArgs;
use super::check::CheckArgs;
use super::compare::CompareArgs;
use super::demo::DemoArgs;
use super::describe::DescribeArgs;
use super::draft::DraftArgs;
use super::guide::GuideArgs;
use super::handout::HandoutArgs;
use super::night::NightArgs;
use super::pair::PairArgs;
use super::session::SessionArgs;
use super::sheet::SheetArgs;
use super::weeks::WeeksArgs;

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

/// `completions`
#[derive(Debug, Args)]
pub struct CompletionsArgs {
    /// The shell
    pub shell: clap_complete::Shell,
}

/// Chosen: more threads than this only cost memory.
const MOST_THREADS: usize = 256;

fn threads(typed: &str) -> Result<usize, String> {
    let count = typed.trim().parse().ok().filter(|count| (1..=MOST_THREADS).contains(count));
    count.ok_or_else(|| format!("a number from 1 to {MOST_THREADS}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_consistent() {
        Cli::command().debug_assert();
    }
}
