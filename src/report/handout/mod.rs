//! Two sheets to hand out: for a regulator or a maker the facts that their forms ask for, for a neighbour half a page
//! without a technical word. What the recordings tell is filled in, what they can't tell comes from the manifest's
//! `[case]`, and what nobody told stays an empty line.
//!
//! Here: what a sheet is about, and the texts. `facts` and `neighbour` write the two sheets, `clips` plans and mixes
//! the sound. Not here: opening manifest, report and recordings (`run::handout`).

pub mod clips;
mod facts;
mod neighbour;
#[cfg(test)]
mod tests;

use std::path::Path;
use std::sync::LazyLock;

use serde::{Deserialize, Serialize};

use crate::contrast::comparison::ContrastResult;
use crate::contrast::{Character, loudest};
use crate::labels::case::Case;
use crate::labels::{Present, printable, same_words};
use crate::night::result::{Episode, NightFacts, SwitchLog};
use crate::report::contract::{Report, Tool};
use crate::report::night::log;
use crate::report::stored::Stored;
use crate::text::{self, Document, Plain, and, each_once, label};
use clips::Clip;

/// Both sheets as one page.
pub const HANDOUT_HTML: &str = "handout.html";
/// Both sheets as plain text.
pub const HANDOUT_TXT: &str = "handout.txt";
/// What the folder holds; nothing personal.
pub const HANDOUT_JSON: &str = "handout.json";

/// A picture larger than this is not put into the page. Chosen: ten times the largest that is drawn.
const MOST_PICTURE_BYTES: u64 = 8 << 20;

static PROSE: LazyLock<Prose> =
    LazyLock::new(|| toml::from_str(include_str!("prose.toml")).expect("tests read the same text"));

/// The file beside this one.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Prose {
    facts: FactsProse,
    sound: Sounds,
    neighbour: NeighbourProse,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FactsProse {
    title: String,
    lead: String,
    beyond: String,
    no_case_own_house: String,
    no_pictures: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct NeighbourProse {
    title: String,
    greeting: String,
    hobby: String,
    no_blame: String,
    helps_head: String,
    search: String,
    helps: Vec<String>,
    care_head: String,
    care: Vec<String>,
    close: String,
    sound: Sounds,
}

/// What each kind of noise sounds like.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Sounds {
    hash: String,
    buzz: String,
    clicks: String,
    carriers: String,
    comb: String,
    mixed: String,
    unclear: String,
}

impl Sounds {
    fn of(&self, kind: Character) -> &str {
        match kind {
            Character::Hash => &self.hash,
            Character::Buzz => &self.buzz,
            Character::Clicks => &self.clicks,
            Character::Carriers => &self.carriers,
            Character::Comb => &self.comb,
            Character::Mixed => &self.mixed,
            Character::None | Character::Unclear => &self.unclear,
        }
    }
}

/// Why no sheets are made.
#[derive(Debug, thiserror::Error)]
pub enum HandoutError {
    /// Nothing rises.
    #[error(
        "{0}: no device in this report adds noise that shows, so there is nothing to hand out. Nothing was written."
    )]
    Nothing(String),
    /// All that came was the user's own.
    #[error(
        "{report}: the log of what was switched explains all that came and went ({devices}), which is no case for a \
         regulator or a neighbour. Nothing was written.\n  try: a session with the device off and on (guide first-evening)"
    )]
    Explained {
        /// Name of the report.
        report: String,
        /// What the log names.
        devices: String,
    },
    /// Nothing came.
    #[error("{0}: no noise came or went in this night, so there is nothing to hand out. Nothing was written.")]
    Quiet(String),
    /// No such device.
    #[error("{report}: no device {device} adds noise that shows in it{among}. Nothing was written.")]
    NoDevice {
        /// Name of the report.
        report: String,
        /// The device asked for.
        device: String,
        /// Those there are.
        among: String,
    },
    /// A night knows of no device.
    #[error("{0}: the report of a night, which knows of no device. Nothing was written.\n  try: without --device")]
    NightWithDevice(String),
}

/// What the sheets are about.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Subject<'a> {
    /// A device that was on and off: its comparison that tells most, without a remedy where there is one.
    Device(&'a ContrastResult),
    /// Noises of a night.
    Night(&'a NightFacts),
}

/// All that goes onto the sheets.
#[derive(Debug)]
pub struct Handout {
    stored: Stored,
    device: Option<String>,
    case: Case,
    clips: Vec<Clip>,
}

impl Handout {
    /// About the device of these words, else about the one that adds most, or about a night.
    ///
    /// # Errors
    /// [`HandoutError`]: there is nothing to hand out.
    pub fn of(mut stored: Stored, device: Option<&str>, case: Case) -> Result<Self, HandoutError> {
        stored.report = stored.report.published();
        let device = chosen(&stored, device)?;
        Ok(Self { stored, device, case, clips: Vec::new() })
    }

    /// With sound clips.
    pub fn with_clips(self, clips: Vec<Clip>) -> Self {
        Self { clips, ..self }
    }

    /// The report.
    pub fn report(&self) -> &Report {
        &self.stored.report
    }

    /// What it is about.
    pub(crate) fn subject(&self) -> Subject<'_> {
        match (&self.stored.report.night, &self.device) {
            (Some(night), _) => Subject::Night(night),
            (None, device) => {
                let id = device.as_deref().unwrap_or_default();
                let all = &self.stored.report.contrasts;
                // `of` found it there.
                Subject::Device(all.iter().find(|c| c.id == id).unwrap_or(&all[0]))
            }
        }
    }

    /// In a few words, for a line on the terminal.
    pub fn about(&self) -> String {
        match self.subject() {
            Subject::Device(c) => label(&c.device),
            Subject::Night(_) => label(&self.stored.report.session.title),
        }
    }

    /// What of the `[case]` stays an empty line.
    pub fn left_open(&self) -> Vec<&'static str> {
        let case = &self.case;
        [
            ("name", &case.name),
            ("contact", &case.contact),
            ("address", &case.address),
            ("since", &case.since),
            ("times", &case.times),
            ("direction", &case.direction),
            ("own_house_ruled_out", &case.own_house_ruled_out),
            ("services_hit", &case.services_hit),
        ]
        .into_iter()
        .filter_map(|(name, words)| words.is_none().then_some(name))
        .collect()
    }

    /// The two sheets.
    fn sheets(&self) -> [Document; 2] {
        [facts::sheet(self), neighbour::sheet(self)]
    }

    /// Both sheets as one page that needs nothing beside it.
    pub fn html(&self) -> String {
        let [facts, neighbour] = self.sheets();
        text::sheets(&[&facts, &neighbour], &|file| self.png(file))
    }

    /// Both sheets as plain text, a line between them.
    pub fn txt(&self) -> String {
        let [facts, neighbour] = self.sheets().map(|sheet| text::plain(&sheet, Plain::TERMINAL));
        let rule = "-".repeat(Plain::TERMINAL.width);
        format!("{facts}\n{rule}\n\n{neighbour}")
    }

    /// What the folder holds, for programs and for this one: nothing of the `[case]` stands in it.
    pub fn json(&self) -> String {
        let files = self.clips.iter().map(|clip| clip.file.clone());
        let files = files.chain((!self.clips.is_empty()).then(|| clips::CLIPS_TXT.to_owned())).collect();
        let listed =
            Listed { schema: 1, tool: Tool::this(), about: printable(&self.about()), files, clips: &self.clips };
        crate::report::publish::text(&listed)
    }

    /// A picture of the report; `None` where it is gone, too large, or no picture.
    fn png(&self, file: &str) -> Option<Vec<u8>> {
        let path = self.stored.folder.join(file);
        // A link could lead anywhere, and opening a pipe would wait for ever.
        std::fs::symlink_metadata(&path).ok().filter(|f| f.is_file() && f.len() <= MOST_PICTURE_BYTES)?;
        std::fs::read(path).ok().filter(|bytes| bytes.starts_with(b"\x89PNG\r\n\x1a\n"))
    }

    /// Writes the sheets and the clips into a new folder.
    ///
    /// # Errors
    /// A file that can't be written; the error names it.
    pub fn write_into(&self, dir: &Path) -> anyhow::Result<()> {
        use anyhow::Context;
        for clip in &self.clips {
            clip.write(&dir.join(&clip.file)).with_context(|| format!("{} could not be written", clip.file))?;
        }
        let mut texts = vec![(HANDOUT_HTML, self.html()), (HANDOUT_TXT, self.txt()), (HANDOUT_JSON, self.json())];
        if !self.clips.is_empty() {
            texts.push((clips::CLIPS_TXT, clips::words(&self.clips, &self.about())));
        }
        for (name, text) in texts {
            crate::disk::write(&dir.join(name), text).with_context(|| format!("{name} could not be written"))?;
        }
        Ok(())
    }
}

/// `handout.json`.
#[derive(Serialize)]
struct Listed<'a> {
    schema: u32,
    tool: Tool,
    about: String,
    files: Vec<String>,
    clips: &'a [Clip],
}

/// The log that explains some of a night for sure.
pub(crate) fn explained(night: &NightFacts) -> Option<&SwitchLog> {
    night.switch_log.as_ref().filter(|log| log.explains())
}

/// Whether the sheets are about an episode, by its number: what the log explains is the user's own.
pub(crate) fn is_open(night: &NightFacts, number: usize) -> bool {
    explained(night).is_none_or(|log| log.unexplained.contains(&number))
}

/// The episodes that the sheets are about.
pub(crate) fn open_episodes<'a>(report: &'a Report, night: &'a NightFacts) -> impl Iterator<Item = &'a Episode> {
    report.episodes.iter().zip(1..).filter(|(_, number)| is_open(night, *number)).map(|(episode, _)| episode)
}

/// "since May" and "May" alike.
fn without_since(words: &str) -> String {
    let words = label(words);
    let cut = words.get(..6).is_some_and(|head| head.eq_ignore_ascii_case("since "));
    let bare = if cut { words[6..].to_owned() } else { words };
    bare.trim_end_matches(['.', ',']).to_owned()
}

/// Id of the comparison that the sheets are about; `None` for a night.
fn chosen(stored: &Stored, device: Option<&str>) -> Result<Option<String>, HandoutError> {
    let (report, name) = (&stored.report, &stored.name);
    if let Some(night) = &report.night {
        return match device {
            Some(_) => Err(HandoutError::NightWithDevice(name.clone())),
            None if report.episodes.is_empty() => Err(HandoutError::Quiet(name.clone())),
            None => match explained(night) {
                Some(log) if log.unexplained.is_empty() => {
                    Err(HandoutError::Explained { report: name.clone(), devices: log::devices(log) })
                }
                _ => Ok(None),
            },
        };
    }
    let adds = |c: &&ContrastResult| !c.is_void() && (c.change().is_up() || c.character != Character::None);
    let adding: Vec<&ContrastResult> = report.contrasts.iter().filter(adds).collect();
    let meant = adding.iter().copied().filter(|c| match device {
        Some(device) => same_words(device, &c.device),
        None => Present::of(&c.device) == Present::One,
    });
    let meant: Vec<&ContrastResult> = meant.collect();
    let bare = loudest(meant.iter().copied().filter(|c| c.remedy.is_none()));
    match bare.or_else(|| loudest(meant.iter().copied())).or(meant.first().copied()) {
        Some(c) => Ok(Some(c.id.clone())),
        None => Err(match device {
            None => HandoutError::Nothing(name.clone()),
            Some(device) => {
                let names = each_once(adding.iter().map(|c| label(&c.device)));
                let among =
                    if names.is_empty() { String::new() } else { format!("; those that do: {}", and(&names)) };
                HandoutError::NoDevice { report: name.clone(), device: label(device), among }
            }
        }),
    }
}
