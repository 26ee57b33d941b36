//! `guide`: the guides under `src/guide`, as they stand in the repository. Not here: what is in them.

use clap::{Args, ValueEnum};

use super::Exit;
use super::output::Console;

/// The guides, in the order in which a newcomer needs them; what stands beside each is its line in the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Topic {
    /// What a good recording needs, and which formats are read
    Recording,
    /// From the test sheet to the report, step by step
    FirstEvening,
    /// Recording with the program: relay, attenuator, sound card
    Capture,
    /// Which circuit, which device, which place: hunting an unknown noise
    Hunt,
    /// File names and session.toml: what each recording is
    Manifest,
    /// How to read the report and its pictures
    Report,
    /// What each warning code means
    Warnings,
    /// What recordings can't tell
    Limits,
    /// Before you change anything on a device
    Safety,
    /// Hours of recordings: when noise came and went
    Night,
    /// Telling a device by name when it is heard again
    KnownNoise,
    /// A supply's switching frequency, from its carriers all over the dial
    Carriers,
    /// What changed since; sheets for a regulator, a maker, a neighbour
    Evidence,
    /// Every command and option, exit codes, completions
    Commands,
    /// The fields of report.json, for scripts
    Json,
    /// Licences of the font and the libraries in the program
    Licences,
}

impl Topic {
    fn text(self) -> &'static str {
        match self {
            Self::Recording => include_str!("../guide/recording.md"),
            Self::FirstEvening => include_str!("../guide/first-evening.md"),
            Self::Capture => include_str!("../guide/capture.md"),
            Self::Hunt => include_str!("../guide/hunt.md"),
            Self::Manifest => include_str!("../guide/manifest.md"),
            Self::Report => include_str!("../guide/report.md"),
            Self::Warnings => include_str!("../guide/warnings.md"),
            Self::Limits => include_str!("../guide/limits.md"),
            Self::Safety => include_str!("../guide/safety.md"),
            Self::Night => include_str!("../guide/night.md"),
            Self::KnownNoise => include_str!("../guide/known-noise.md"),
            Self::Carriers => include_str!("../guide/carriers.md"),
            Self::Evidence => include_str!("../guide/evidence.md"),
            Self::Commands => include_str!("../guide/commands.md"),
            Self::Json => include_str!("../guide/json.md"),
            Self::Licences => include_str!("../guide/licences.md"),
        }
    }
}

/// `guide`
#[derive(Debug, Args)]
pub struct GuideArgs {
    /// Which guide [default: list them]
    #[arg(value_enum)]
    pub topic: Option<Topic>,
}

/// Prints a guide, or the list of them.
pub fn run(topic: Option<Topic>, console: &Console) -> anyhow::Result<Exit> {
    match topic {
        Some(topic) => console.result(topic.text())?,
        None => console.result(&list())?,
    }
    Ok(Exit::Done)
}

fn list() -> String {
    let topics = Topic::value_variants().iter().filter_map(Topic::to_possible_value);
    let line = |topic: clap::builder::PossibleValue| {
        let help = topic.get_help().map(ToString::to_string).unwrap_or_default();
        format!("  {:<15}{help}\n", topic.get_name())
    };
    format!("noisetally guide TOPIC prints one of these:\n\n{}", topics.map(line).collect::<String>())
}
