//! Recordings described one by one: labels beside them or in their names, measured, listened to, put into the
//! contract's words and into a card each. Nothing is compared. Not here: the judgement (`findings::description`).

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use rayon::prelude::*;

use super::Wishes;
use super::measuring::{USUAL_MAINS_HZ, mains_told_by};
use crate::audio::Lost;
use crate::contrast::words::thing;
use crate::findings::anchor::{Anchor, USUAL_TOLERANCE_DB, anchor_of};
use crate::findings::description::Heard;
use crate::findings::description::result::{Described, NoiseFound, PublishedNoise};
use crate::findings::description::typical::{Taken, next_take, typical_of};
use crate::findings::known_noise::folder::KnownNoises;
use crate::findings::listening::result::Listening;
use crate::findings::man_made;
use crate::findings::picture::draw_all;
use crate::labels::facts::{LeftOut, SessionFacts};
use crate::labels::{Setting, Single};
use crate::report::contract::{Report, Tool};
use crate::report::pictures::description;
use crate::signal::measure::{MeasureSettings, Measurement};
use crate::signal::recording::{Measured, Unusable, measure_labelled};
use crate::signal::recording_result::RecordingResult;
use crate::units::{Dbfs, DbfsPerHz, in_db};
use crate::warning::{Code, Warning};
use crate::watch::Watch;

/// Recordings measured and described.
pub struct DescribeRun {
    /// What was measured of each that could be used, in the order of the report's recordings.
    pub measured: Vec<Measured>,
    /// All of it in the contract's words; no pictures yet.
    pub report: Report,
}

impl DescribeRun {
    /// Does the work. A recording that can't be used is named in the report; the others are done.
    pub fn of(singles: &[Single], wishes: &Wishes, known: Option<&KnownNoises>, watch: &dyn Watch) -> Self {
        let told = wishes.mains_hz.or_else(|| singles.iter().find_map(|single| single.mains_hz));
        let mut mains_hz = told.unwrap_or(USUAL_MAINS_HZ);
        let mut outcomes = measure_all(singles, wishes, mains_hz, watch);
        let mut warnings = Vec::new();
        if told.is_none()
            && let Some(heard_hz) = mains_told_by(outcomes.iter().filter_map(|one| one.as_ref().ok()))
            && heard_hz != mains_hz
        {
            mains_hz = heard_hz;
            warnings.push(Warning::new(
                Code::Guessed,
                format!(
                    "the mains frequency is not labelled; the sound pulses or hums as {mains_hz:.0} Hz mains make it, \
                     so that was taken"
                ),
            ));
            outcomes = measure_all(singles, wishes, mains_hz, watch);
        }
        let mut run = Gathering { wishes, mains_hz, known, settings: Vec::new(), levels: BTreeMap::new() };
        let (mut measured, mut recordings, mut described, mut left_out) =
            (Vec::new(), Vec::new(), Vec::new(), vec![]);
        for (single, outcome) in singles.iter().zip(outcomes) {
            match outcome {
                Ok(one) => {
                    let id = format!("r{}", measured.len() + 1);
                    let (recording, found) = run.described(&id, single, &one);
                    recordings.push(recording);
                    described.push(found);
                    measured.push(one);
                }
                Err(why) => left_out.push(LeftOut::of(&single.file, &why.reason)),
            }
        }
        let title = match singles {
            [only] => only.file.clone(),
            several => format!("{} recordings", several.len()),
        };
        let report = Report {
            schema: 1,
            tool: Tool::this(),
            session: SessionFacts { title, mains_hz, station: None },
            settings: run.settings,
            recordings,
            described,
            contrasts: Vec::new(),
            ladders: Vec::new(),
            budget: Vec::new(),
            joint: Vec::new(),
            switching_combs: Vec::new(),
            switching_combs_refused: Vec::new(),
            device_bands: Vec::new(),
            places: Vec::new(),
            ranking: None,
            other_rankings: Vec::new(),
            episodes: Vec::new(),
            sources: Vec::new(),
            night: None,
            listening: Listening::default(),
            receiver_check: None,
            left_out,
            figures: Vec::new(),
            warnings,
        };
        Self { measured, report }
    }

    /// Recordings of which a part is missing: name, and what is missing.
    pub fn not_whole(&self) -> impl Iterator<Item = (&str, &str)> {
        self.report.recordings.iter().zip(&self.measured).filter_map(|(recording, one)| {
            let how = one.account.cut_short.as_deref().filter(|_| one.account.lost != Lost::Nothing)?;
            Some((recording.file.as_str(), how))
        })
    }

    /// Whether every recording was used as a whole.
    pub fn is_whole(&self) -> bool {
        self.report.left_out.is_empty() && self.not_whole().next().is_none()
    }

    /// Draws a card of each recording into `dir` and lists them in the report.
    ///
    /// # Errors
    /// A picture that can't be written; [`crate::watch::Stopped`].
    pub fn draw_into(&mut self, dir: &Path, watch: &dyn Watch) -> anyhow::Result<()> {
        // Words on pictures keep no path either.
        self.report = self.report.published();
        let sounds: Vec<&Measurement> = self.measured.iter().map(|one| &one.measurement).collect();
        self.report.figures = draw_all(&description::cards(&self.report, &sounds), dir, watch)?;
        Ok(())
    }
}

/// Measures every recording, in parallel, in their order.
fn measure_all(
    singles: &[Single],
    wishes: &Wishes,
    mains_hz: f64,
    watch: &dyn Watch,
) -> Vec<Result<Measured, Unusable>> {
    let settings = MeasureSettings { passband: wishes.passband, mains_hz };
    watch.begin("measuring", singles.len());
    singles
        .par_iter()
        .map(|single| {
            let outcome = measure_labelled(&single.path, &single.fields, wishes.channel, &settings);
            watch.done(&single.file);
            outcome
        })
        .collect()
}

/// What is gathered while recordings are described.
struct Gathering<'a> {
    wishes: &'a Wishes,
    mains_hz: f64,
    known: Option<&'a KnownNoises>,
    settings: Vec<Setting>,
    /// Levels of recordings that others of their setting hang theirs on.
    levels: BTreeMap<PathBuf, Option<Dbfs>>,
}

impl Gathering<'_> {
    fn described(&mut self, id: &str, single: &Single, one: &Measured) -> (RecordingResult, Described) {
        let setting = self.setting(single);
        let anchor = self.anchor(single, one);
        let sound = &one.measurement;
        let reading = anchor.zip(sound.level).map(|(anchor, level)| anchor.reading(level.0));
        let labelled = RecordingResult::labelled(&single.file, single.state, &single.fields, one, reading);
        let recording = RecordingResult { id: id.to_owned(), setting: setting.id.clone(), ..labelled };
        let heard = Heard::of(sound, self.mains_hz);
        let mut found = heard.told(id);
        let (noise, not_told) = noise(sound, anchor, &setting, single);
        (found.noise, found.not_told) = (noise, not_told);
        if heard.least_depth.is_none() && sound.passband.is_some() {
            found
                .not_told
                .push("It is too short to tell whether the noise pulses, or what comes and goes.".to_owned());
        }
        let mode = single.fields.mode.map(|mode| mode.to_string());
        found.known_noise =
            self.known.map(|known| known.answer_of_one(&heard, sound, single.fields.dial_khz, mode));
        found.typical_of = typical_of(&found, self.mains_hz);
        let taken = Taken {
            warnings: &recording.warnings,
            state: single.state,
            suspect: single.fields.device.as_deref().map(thing),
            duration_s: sound.duration_s,
        };
        found.next_take = next_take(&found, &taken);
        (recording, found)
    }

    /// The setting of this recording; one that an earlier one had is that.
    fn setting(&mut self, single: &Single) -> Setting {
        let bare = single.setting("");
        let known = self.settings.iter().find(|known| Setting { id: String::new(), ..(*known).clone() } == bare);
        if let Some(known) = known {
            return known.clone();
        }
        let new = single.setting(&format!("s{}", self.settings.len() + 1));
        self.settings.push(new.clone());
        new
    }

    /// What full scale is at the receiver's input: by this recording's own labels, else by those of another one of
    /// its setting, which is measured for it.
    fn anchor(&mut self, single: &Single, one: &Measured) -> Option<Anchor> {
        let own = |by_power| anchor_of(&single.fields, one.measurement.level, by_power);
        if let Some(anchor) = own(true).or_else(|| own(false)) {
            return Some(anchor);
        }
        let others =
            [true, false].into_iter().flat_map(|by_power| single.calibrated_by.iter().map(move |l| (l, by_power)));
        others.filter(|(label, by_power)| label.dbm.is_some() || !by_power).find_map(|(label, by_power)| {
            let settings = MeasureSettings { passband: self.wishes.passband, mains_hz: self.mains_hz };
            let level = self.levels.entry(label.path.clone()).or_insert_with(|| {
                measure_labelled(&label.path, label, self.wishes.channel, &settings).ok()?.measurement.level
            });
            anchor_of(label, *level, by_power)
        })
    }
}

/// The noise at the receiver's input, and why it can't be held against published noise.
fn noise(
    sound: &Measurement,
    anchor: Option<Anchor>,
    setting: &Setting,
    single: &Single,
) -> (Option<NoiseFound>, Vec<String>) {
    let (Some(anchor), Some(passband), Some(floor)) = (anchor, sound.passband, sound.floor_level()) else {
        return (None, Vec::new());
    };
    let bandwidth_hz = setting.bandwidth_hz.unwrap_or(passband.width_hz());
    let labels = &single.listening;
    let published = man_made::of_one(floor, scatter_db(sound, passband.width_hz()), Some(anchor), setting, labels);
    let (published, not_told) = match published {
        Ok(level) => {
            let published = PublishedNoise {
                freq_mhz: setting.dial_khz.unwrap_or_default() / 1000.0,
                noise_figure_db: level.noise_figure_db,
                noise_figure_ci_db: level.noise_figure_ci_db,
                nearest: level.nearest,
                over_median_db: level.over_median_db,
                standing: level.standing,
                notes: man_made::notes(labels, false),
            };
            (Some(published), Vec::new())
        }
        Err(why) => (None, vec![format!("Its noise against ITU-R P.372: {why}.")]),
    };
    let tolerance_db = anchor.by_power.then(|| labels.dbm_tolerance_db.unwrap_or(USUAL_TOLERANCE_DB));
    let noise_dbm = dbm(floor, anchor) + in_db(bandwidth_hz);
    (noise_dbm.is_finite().then_some(NoiseFound { noise_dbm, bandwidth_hz, tolerance_db, published }), not_told)
}

fn dbm(floor: DbfsPerHz, anchor: Anchor) -> f64 {
    floor.0 + anchor.dbm_at_full_scale
}

/// Standard deviation of a noise level, dB, by the radiometer equation (R. H. Dicke, 1946; from memory); a median
/// over time has about twice the variance of a mean.
fn scatter_db(sound: &Measurement, width_hz: f64) -> f64 {
    10.0 / 10f64.ln() * (2.0 / (width_hz * sound.duration_s).max(1.0)).sqrt()
}
