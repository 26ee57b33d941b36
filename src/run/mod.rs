//! A session's whole way from labels to results: every recording measured once, every contrast made, all of it put
//! into the contract's words and into figures.
//!
//! The rooms before it know nothing of each other; this one joins them and decides nothing about noise itself.

pub mod compare;
pub mod night;
pub mod results;

use std::collections::BTreeMap;
use std::path::Path;

use rayon::prelude::*;

use crate::report::pictures::{Picture, pictures};
use crate::signal::recording::{Measured, Unusable, measure_file};

pub use night::{Night, NightWishes};

use crate::audio::ChannelChoice;
use crate::contrast::{Contrast, ContrastSettings};
use crate::labels::{Label, Plan, Session, State};
use crate::report::contract::Report;
use crate::signal::health::Hum;
use crate::signal::measure::MeasureSettings;
use crate::signal::spectrum::Passband;
use crate::warning::{Code, Trust, Warning};

/// Mains frequency where nothing tells it.
const USUAL_MAINS_HZ: f64 = 50.0;

/// What the user may lay down over what labels and sound tell.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Wishes {
    /// Passband.
    pub passband: Option<Passband>,
    /// Mains frequency.
    pub mains_hz: Option<f64>,
    /// A steady carrier present in both states.
    pub reference_hz: Option<f64>,
    /// Channel of recordings whose label names none.
    pub channel: ChannelChoice,
}

/// Where the work stands, for whoever watches and may stop it.
pub trait Watch: Sync {
    /// So many files are gone through now, "measuring" or "drawing" them.
    fn begin(&self, doing: &'static str, count: usize);

    /// One of them is done (or left out).
    fn done(&self, file: &str);

    /// Whether the work is to end before it is complete.
    fn is_stopped(&self) -> bool {
        false
    }
}

/// Nobody watches.
impl Watch for () {
    fn begin(&self, _doing: &'static str, _count: usize) {}

    fn done(&self, _file: &str) {}
}

/// The work was ended by whoever watched it.
#[derive(Debug, thiserror::Error)]
#[error("stopped before it was complete")]
pub struct Stopped;

/// A session measured and contrasted.
pub struct Tally {
    /// Its labels.
    pub session: Session,
    /// What was measured, by recording id.
    pub measured: BTreeMap<String, Measured>,
    /// The contrasts, in the session's order.
    pub contrasts: Vec<(Plan, Contrast)>,
    /// All of it in the contract's words; no figures yet.
    pub report: Report,
}

impl Tally {
    /// Does the work. A recording that can't be used is named in the report; the others are done.
    pub fn of(mut session: Session, wishes: &Wishes, watch: &dyn Watch) -> Self {
        let known = wishes.mains_hz.or(session.mains_hz);
        let mut mains_hz = known.unwrap_or(USUAL_MAINS_HZ);
        let mut outcomes = measure_all(&session.recordings, wishes, mains_hz, watch);
        if known.is_none()
            && let Some(told_hz) = mains_told_by(outcomes.iter().filter_map(|o| o.as_ref().ok()))
            && told_hz != mains_hz
        {
            mains_hz = told_hz;
            session.warnings.push(Warning::new(
                Code::Guessed,
                format!("the mains frequency is not labelled; the noise pulses as {mains_hz:.0} Hz mains makes it, so that was taken"),
            ));
            outcomes = measure_all(&session.recordings, wishes, mains_hz, watch);
        }
        session.mains_hz = Some(mains_hz);
        let mut measured = BTreeMap::new();
        for (label, outcome) in session.recordings.iter().zip(outcomes) {
            match outcome {
                Ok(one) => {
                    measured.insert(label.id.clone(), one);
                }
                Err(why) => session.left_out.push((label.file.clone(), why.reason)),
            }
        }
        let settings = ContrastSettings {
            passband: wishes.passband,
            mains_hz,
            reference_hz: wishes.reference_hz.or(session.reference_hz),
            motion: None,
        };
        let measuring = MeasureSettings { passband: wishes.passband, mains_hz };
        let check =
            crate::findings::receiver_check::gather::of_session(&session, &measured, wishes.channel, &measuring);
        session.warnings.extend(check.iter().flat_map(|(_, warnings)| warnings.clone()));
        let contrasts: Vec<(Plan, Contrast)> = session
            .contrasts
            .par_iter()
            .map(|plan| compare::compare(plan, &session, &measured, &settings))
            .collect();
        let mut report = results::report(&session, &measured, &contrasts, mains_hz);
        report.receiver_check = check.map(|(result, _)| result);
        Self { session, measured, contrasts, report }
    }

    /// Whether every recording was used and no contrast is void.
    pub fn is_whole(&self) -> bool {
        let planned = self.session.contrasts.iter().flat_map(|plan| plan.off.iter().chain(&plan.on));
        let used =
            |id: &String| self.contrasts.iter().any(|(plan, _)| plan.off.contains(id) || plan.on.contains(id));
        let on = self.session.recordings.iter().filter(|label| label.state == State::On).map(|label| &label.id);
        self.session.left_out.is_empty()
            && self.contrasts.iter().all(|(_, contrast)| contrast.trust != Trust::Void)
            && planned.chain(on).all(used)
    }

    /// Draws the report's pictures into `dir` and lists them in the report.
    ///
    /// # Errors
    /// A picture that can't be written; [`Stopped`].
    pub fn draw_into(&mut self, dir: &Path, watch: &dyn Watch) -> anyhow::Result<()> {
        // Words on pictures and their names keep no path either.
        self.report = self.report.readable();
        let pictures = pictures(self);
        watch.begin("drawing", pictures.len());
        pictures.par_iter().try_for_each(|picture| {
            if watch.is_stopped() {
                return Err(Stopped.into());
            }
            picture.draw(dir)?;
            watch.done(picture.file());
            anyhow::Ok(())
        })?;
        self.report.figures = pictures.iter().map(Picture::listed).collect();
        Ok(())
    }
}

/// Measures every recording, in parallel, in the order of the labels.
fn measure_all(
    labels: &[Label],
    wishes: &Wishes,
    mains_hz: f64,
    watch: &dyn Watch,
) -> Vec<Result<Measured, Unusable>> {
    let settings = MeasureSettings { passband: wishes.passband, mains_hz };
    watch.begin("measuring", labels.len());
    labels
        .par_iter()
        .map(|label| {
            let outcome = measure_file(label, wishes.channel, &settings);
            watch.done(&label.file);
            outcome
        })
        .collect()
}

/// The mains frequency that noise in the recordings pulses with, if it clearly does with one of the two in use.
fn mains_told_by<'a>(measured: impl Iterator<Item = &'a Measured>) -> Option<f64> {
    let mut strength = [0.0f64; 2];
    let mut hum_60 = None;
    for one in measured {
        // Failing that, hum of the audio lead tells it.
        let hum_lines = |mains_hz: f64| Hum::find(&one.sound.slices, mains_hz).map_or(0, |hum| hum.lines.len());
        if hum_lines(60.0) > hum_lines(USUAL_MAINS_HZ) {
            hum_60 = Some(60.0);
        }
        let Some(modulation) = one.sound.envelope.as_ref().and_then(|e| e.modulation.as_ref()) else { continue };
        for (strength, mains_hz) in strength.iter_mut().zip([50.0, 60.0]) {
            for rate_hz in [mains_hz, 2.0 * mains_hz] {
                let line = modulation.at_rate(rate_hz);
                if line.present {
                    *strength = strength.max(line.amplitude);
                }
            }
        }
    }
    if strength == [0.0; 2] {
        return hum_60;
    }
    let [at_50, at_60] = strength;
    (at_50.max(at_60) > 0.0).then_some(if at_60 > 1.5 * at_50 { 60.0 } else { USUAL_MAINS_HZ })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::write_wav_i16;
    use crate::demo::synth::{Buzz, Hash, Receiver, Scene};
    use crate::findings::known_noise::gather::KnownNoises;
    use crate::units::{Db, Dbfs};

    /// The ways to write a path, one after the other over the labels of a manifest.
    const HEADS: [&str; 5] = [
        "/home/quillon/attic/",
        r"C:\Users\quillon\attic\",
        r"\\quillon\attic\",
        "file:///home/quillon/attic/",
        "~/quillon/attic/",
    ];
    /// In every head; in lower case and between hyphens, as in the name of a picture.
    const SECRET: &str = "quillon";

    /// A manifest whose every label in words has a path in it.
    fn manifest() -> String {
        let mut heads = HEADS.iter().cycle();
        let mut path = |name: &str| format!("'{}{name}'", heads.next().unwrap_or(&HEADS[0]));
        let mut text = format!("title = {}\nstation = {}\n", path("title"), path("station"));
        text += "antenna_type = 'other'\n[target]\nexcess_db = 1.0\n";
        // What is compared must have equal labels.
        let [band, antenna, gain, pump, lamp, ring] =
            ["20m", "wire", "gain", "pump", "lamp", "ring"].map(&mut path);
        text += &format!("[[supply]]\ndevice = {pump}\nremedy = {ring}\nlabel_volts = 12.0\nsupply_volts = 15.0\n");
        for (file, state, device, remedy) in [
            ("1.wav", "off", "", ""),
            ("2.wav", "on", pump.as_str(), ""),
            ("3.wav", "on", pump.as_str(), ring.as_str()),
            ("4.wav", "on", lamp.as_str(), ""),
            ("5.wav", "off", "", ""),
            ("broken.wav", "on", lamp.as_str(), ring.as_str()),
        ] {
            text += &format!("[[recording]]\nfile = '{file}'\nstate = '{state}'\nmode = 'USB'\nband = {band}\n");
            text += &format!("antenna = {antenna}\ngain = {gain}\nmeter = {}\n", path("S7"));
            text += &format!("note = {}\n", path("note"));
            for (label, words) in [("device", device), ("remedy", remedy)] {
                text += &if words.is_empty() { String::new() } else { format!("{label} = {words}\n") };
            }
        }
        text
    }

    /// The promise of the README: no path gets into a report, also where someone typed one.
    #[test]
    fn no_path_in_a_label_reaches_the_report_or_its_pictures_or_their_names() {
        let dir = tempfile::tempdir().unwrap();
        let band = |seed: u64| {
            Scene::new(Receiver::ssb(8000)).seed(seed).band_noise(Dbfs(-45.0)).receiver_noise(Dbfs(-62.0))
        };
        for (file, scene) in [
            ("1.wav", band(1)),
            ("2.wav", band(2).device(Buzz::gated(100.0, 0.2), Db(12.0))),
            ("3.wav", band(3).device(Buzz::gated(100.0, 0.2), Db(6.0))),
            ("4.wav", band(4).device(Hash::flat(), Db(8.0))),
            ("5.wav", band(5)),
        ] {
            write_wav_i16(&dir.path().join(file), 8000, &scene.render(6.0).samples).unwrap();
        }
        std::fs::write(dir.path().join("broken.wav"), b"").unwrap();
        std::fs::write(dir.path().join("session.toml"), manifest()).unwrap();

        let mut tally = Tally::of(Session::read(dir.path()).unwrap(), &Wishes::default(), &());
        let (known, out) = (dir.path().join("known"), dir.path().join("out"));
        std::fs::create_dir(&known).unwrap();
        std::fs::create_dir(&out).unwrap();
        tally.remember(&known).unwrap();
        tally.recognise(&KnownNoises::read(&known).unwrap());
        assert!(tally.report.contrasts.iter().any(|c| c.known_noise.as_ref().is_some_and(|k| k.one().is_some())));
        tally.draw_into(&out, &()).unwrap();
        crate::report::write_texts(&tally.report, &out).unwrap();

        let mut told = Vec::new();
        for entry in std::fs::read_dir(&out).unwrap() {
            let entry = entry.unwrap();
            let name = entry.file_name().to_string_lossy().to_lowercase();
            let bytes = std::fs::read(entry.path()).unwrap();
            told.push((name.clone(), name.clone() + &String::from_utf8_lossy(&bytes).to_lowercase()));
        }
        told.extend(pictures(&tally).iter().map(|p| (format!("words on {}", p.file()), format!("{:?}", p.data))));
        assert!(told.len() > 20, "{}", told.len());
        let tells: Vec<_> = told.iter().filter(|(_, text)| text.contains(SECRET)).map(|(name, _)| name).collect();
        assert_eq!(tells, Vec::<&String>::new());
        let json = crate::report::json(&tally.report);
        for name in ["title", "station", "20m", "wire", "gain", "pump", "lamp", "ring", "S7", "note"] {
            assert!(json.contains(&format!("\"{name}\"")), "{name} is gone altogether");
        }
    }
}
