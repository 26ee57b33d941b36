//! `handout`'s whole way: the report read back, the case from the manifest that was named, the clips cut from the
//! takes, which are checked to be those of the report.

use std::collections::BTreeMap;
use std::path::{Component, Path, PathBuf};

use anyhow::{Context, bail};

use crate::audio::{ChannelChoice, Mono};
use crate::contrast::comparison::ContrastResult;
use crate::labels::case::Case;
use crate::labels::{MANIFEST, State, printable};
use crate::night::result::NightFacts;
use crate::report::contract::Report;
use crate::report::handout::clips::{Clip, Stretch, cut};
use crate::report::handout::{Handout, Subject, open_episodes};
use crate::report::stored::Stored;
use crate::units::Dbfs;
use crate::warning::Code;
use crate::watch::{Stopped, Watch};

/// How far a take's length may be from the report's, s: its figures are rounded to a hundredth.
const LENGTH_S: f64 = 0.02;
/// How far its level may be, dB: the same, and the order of summation.
const LEVEL_DB: f64 = 0.03;
/// Sound held at most of all stretches together, s. Chosen: three times what the clips take.
const MOST_S: f64 = 240.0;

/// What the user asked for.
#[derive(Debug, Clone, Default)]
pub struct HandoutWishes {
    /// About this device.
    pub device: Option<String>,
    /// A manifest with a `[case]`.
    pub case: Option<PathBuf>,
    /// The folder of the recordings.
    pub recordings: Option<PathBuf>,
    /// Whether to cut clips.
    pub clips: bool,
}

/// Reads what is asked for beside the report and cuts the clips.
///
/// # Errors
/// A manifest or recording that can't be used, takes that are not the report's, or nothing to hand out.
pub fn handout(stored: Stored, wishes: &HandoutWishes, watch: &dyn Watch) -> anyhow::Result<Handout> {
    let made = Handout::of(stored, wishes.device.as_deref(), case(wishes)?)?;
    let Some(folder) = wishes.recordings.as_deref().filter(|_| wishes.clips) else { return Ok(made) };
    let takes = match made.subject() {
        Subject::Device(c) => of_device(c, made.report()),
        Subject::Night(night) => of_night(night, made.report()),
    };
    let clips = clips(folder, takes, watch)?;
    Ok(made.with_clips(clips))
}

/// The case of the manifest that was named; else of the one beside the recordings that were named. Nothing is looked
/// for elsewhere.
fn case(wishes: &HandoutWishes) -> anyhow::Result<Case> {
    if let Some(path) = &wishes.case {
        return match Case::read(path)? {
            Some(case) => Ok(case),
            None => bail!(
                "{}: has no [case]. Nothing was written.\n  try: add [case] to it, and below it since = \"…\" and what \
                 else is known: noisetally guide evidence",
                path.display()
            ),
        };
    }
    let beside = wishes.recordings.as_deref().filter(|folder| folder.join(MANIFEST).exists());
    Ok(beside.map(Case::read).transpose()?.flatten().unwrap_or_default())
}

/// A take as the report has it, and the parts of it to cut from.
struct Take {
    file: String,
    duration_s: f64,
    sample_rate_hz: u32,
    channel: ChannelChoice,
    /// Level of everything in the file, where the report tells it of the whole file.
    level_db: Option<f64>,
    spans: Vec<(State, [f64; 2])>,
}

fn of_device(c: &ContrastResult, report: &Report) -> Vec<Take> {
    let is_aside = |file: &str| {
        c.warnings
            .iter()
            .any(|w| w.code == Code::SetAside && w.message.starts_with(&format!("{file} was set aside")))
    };
    let takes = report.recordings.iter().filter(|r| !is_aside(&r.file)).filter_map(|r| {
        let state = match (c.off.contains(&r.id), c.on.contains(&r.id)) {
            (true, _) => State::Off,
            (_, true) => State::On,
            _ => return None,
        };
        let is_whole =
            !r.warnings.iter().any(|w| matches!(w.code, Code::SilentEnds | Code::Silent | Code::DcOffset));
        Some(Take {
            file: r.file.clone(),
            duration_s: r.duration_s,
            sample_rate_hz: r.sample_rate_hz,
            channel: channel(&r.channel_used),
            level_db: r.level_db.filter(|_| is_whole),
            spans: vec![(state, [0.0, r.duration_s])],
        })
    });
    takes.collect()
}

/// The strongest episode that the sheets are about, with its quiet.
fn of_night(night: &NightFacts, report: &Report) -> Vec<Take> {
    let usable = open_episodes(report, night).filter(|e| !e.heard_s.is_empty() && !e.quiet_s.is_empty());
    let rise = |e: &&crate::night::result::Episode| crate::report::night::brief::rise_db(e);
    let Some(episode) = usable.max_by(|a, b| rise(a).total_cmp(&rise(b))) else { return Vec::new() };
    let wanted = |of: &[[f64; 2]], state: State| of.iter().map(|span| (state, *span)).collect::<Vec<_>>();
    let spans = [wanted(&episode.quiet_s, State::Off), wanted(&episode.heard_s, State::On)].concat();
    let takes = night.recordings.iter().map(|r| {
        let inside = spans.iter().filter_map(|(state, [from, to])| {
            let (from, to) = ((from - r.start_s).max(0.0), (to - r.start_s).min(r.duration_s));
            (to > from).then_some((*state, [from, to]))
        });
        Take {
            file: r.file.clone(),
            duration_s: r.duration_s,
            sample_rate_hz: r.sample_rate_hz,
            channel: channel(&r.channel_used),
            level_db: None,
            spans: inside.collect(),
        }
    });
    takes.filter(|take| !take.spans.is_empty()).collect()
}

/// The channel that was used, from its words in the report.
fn channel(words: &str) -> ChannelChoice {
    let first = words.split(" (").next().unwrap_or_default();
    match first.strip_prefix("channel ").unwrap_or(first) {
        "left" => ChannelChoice::Index(1),
        "right" => ChannelChoice::Index(2),
        mean if mean.starts_with("mean") => ChannelChoice::Mean,
        other => other.parse().unwrap_or_default(),
    }
}

/// Cuts the clips from takes in a folder.
fn clips(folder: &Path, takes: Vec<Take>, watch: &dyn Watch) -> anyhow::Result<Vec<Clip>> {
    if !folder.is_dir() {
        bail!("{}: there is no such folder of recordings. Nothing was written.", folder.display());
    }
    watch.begin("listening", takes.len());
    let mut left: BTreeMap<State, f64> = BTreeMap::new();
    let mut stretches = Vec::new();
    for take in &takes {
        stretches.extend(read(folder, take, &mut left, watch)?);
        watch.done(&take.file);
    }
    let rate_hz = takes.first().map_or(0, |take| take.sample_rate_hz);
    if let Some(other) = takes.iter().find(|take| take.sample_rate_hz != rate_hz) {
        bail!(
            "{}: {} samples a second, where the others have {rate_hz}: no clip is cut from both. Nothing was written.",
            other.file,
            other.sample_rate_hz
        );
    }
    let clips = cut(&stretches, rate_hz);
    if clips.is_empty() {
        bail!(
            "{}: too little sound for a clip: it takes 2 s without the noise and 2 s with it. Nothing was written.\n  \
             try: without --clips",
            folder.display()
        );
    }
    Ok(clips)
}

/// The wanted parts of a take, which must be the one that was measured.
fn read(
    folder: &Path,
    take: &Take,
    held: &mut BTreeMap<State, f64>,
    watch: &dyn Watch,
) -> anyhow::Result<Vec<Stretch>> {
    let file = Path::new(&take.file);
    let name = printable(&take.file);
    if !file.components().all(|part| matches!(part, Component::Normal(_))) {
        bail!("{name}: lies outside the folder of the recordings. Nothing was written.\n  try: without --clips");
    }
    let path = folder.join(file);
    let mut mono = Mono::open(&path, take.channel).context("a clip can't be cut. Nothing was written.")?;
    let rate = f64::from(mono.facts().sample_rate_hz);
    let mut stretches: Vec<Stretch> = take
        .spans
        .iter()
        .map(|(state, [from_s, _])| Stretch {
            state: *state,
            file: take.file.clone(),
            from_s: *from_s,
            samples: Vec::new(),
        })
        .collect();
    let (mut block, mut frames, mut squares) = (Vec::new(), 0usize, 0.0);
    loop {
        if watch.is_stopped() {
            return Err(Stopped.into());
        }
        block.clear();
        if !mono.read_block(&mut block).context("a clip can't be cut. Nothing was written.")? {
            break;
        }
        for (stretch, (state, [from_s, to_s])) in stretches.iter_mut().zip(&take.spans) {
            let (from, to) = ((from_s * rate).round() as usize, (to_s * rate).round() as usize);
            let here = from.max(frames)..to.min(frames + block.len());
            let room = (MOST_S - held.get(state).copied().unwrap_or_default()).max(0.0);
            let count = here.len().min((room * rate) as usize);
            if !here.is_empty() && count > 0 {
                let first = here.start - frames;
                stretch.samples.extend_from_slice(&block[first..first + count]);
                *held.entry(*state).or_default() += count as f64 / rate;
            }
        }
        frames += block.len();
        squares += block.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>();
    }
    let level_db = Dbfs::from_mean_square(squares / frames.max(1) as f64).0;
    let other = |what: String| {
        anyhow::anyhow!(
            "{name}: {what}, so it is not the recording that the report was made from. Nothing was written.\n  try: \
             the folder of the report's own recordings, or make the report anew"
        )
    };
    if mono.facts().sample_rate_hz != take.sample_rate_hz {
        return Err(other(format!("{rate} samples a second, and the report says {}", take.sample_rate_hz)));
    }
    let length_s = frames as f64 / rate;
    if (length_s - take.duration_s).abs() > LENGTH_S {
        return Err(other(format!("{length_s:.2} s long, and the report says {:.2}", take.duration_s)));
    }
    match take.level_db {
        Some(told) if (told - level_db).abs() > LEVEL_DB => {
            Err(other(format!("its level is {level_db:.2} dBFS, and the report says {told:.2}")))
        }
        _ => Ok(stretches),
    }
}
