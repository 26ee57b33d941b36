//! A session's whole way from labels to results: every recording measured once, every comparison made, every
//! finding drawn from them, all of it put into the contract's words and into figures.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use anyhow::bail;
use rayon::prelude::*;

use super::Wishes;
use super::measuring::measure;
use crate::audio::Lost;
use crate::contrast::comparison::ContrastResult;
use crate::contrast::planned::{compare, take_scatter};
use crate::contrast::{Comparisons, Contrast, ContrastSettings};
use crate::findings::basis::Basis;
use crate::findings::known_noise::folder::KnownNoises;
use crate::findings::listening::result::Listening;
use crate::findings::picture::{PictureGroup, draw_groups};
use crate::findings::receiver_check::result::ReceiverCheckResult;
use crate::findings::{
    bands, budget, ladder, listening, man_made, places, ranking, receiver_check, supply, switching_comb, target,
};
use crate::labels::facts::{LeftOut, SessionFacts};
use crate::labels::{Plan, Session, State};
use crate::report::contract::{Report, Tool};
use crate::report::findings;
use crate::report::pictures::of_comparisons;
use crate::signal::measure::MeasureSettings;
use crate::signal::recording::Measured;
use crate::signal::recording_result::RecordingResult;
use crate::signal::shelf::Shelf;
use crate::watch::Watch;

/// A session measured and contrasted.
pub struct SessionRun {
    /// Its labels.
    pub session: Session,
    /// What was measured, by recording id.
    pub measured: BTreeMap<String, Measured>,
    /// The contrasts, in the session's order.
    pub contrasts: Vec<(Plan, Contrast)>,
    /// All of it in the contract's words; no figures yet.
    pub report: Report,
    /// Where the bulk of what was measured is.
    shelf: Arc<Shelf>,
}

impl SessionRun {
    /// Does the work. A recording that can't be used is named in the report; the others are done.
    pub fn of(mut session: Session, wishes: &Wishes, watch: &dyn Watch) -> Self {
        let shelf = Arc::new(Shelf::default());
        let (measured, mains_hz) = measure(&mut session, wishes, &shelf, watch);
        let measuring = MeasureSettings { passband: wishes.passband, mains_hz };
        // Before the comparisons: a receiver that fails its check spoils them all.
        let check = receiver_check::of(&session, &measured, wishes.channel, &measuring);
        session.warnings.extend(check.iter().flat_map(|(_, warnings)| warnings.clone()));
        let settings = ContrastSettings {
            passband: wishes.passband,
            mains_hz,
            reference_hz: wishes.reference_hz.or(session.reference_hz),
            scatter: take_scatter(&session, &measured, wishes.passband),
            beat: None,
        };
        let contrasts: Vec<(Plan, Contrast)> =
            session.contrasts.par_iter().map(|plan| compare(plan, &session, &measured, &settings)).collect();
        let results: Vec<ContrastResult> = contrasts
            .iter()
            .map(|(plan, contrast)| ContrastResult::in_session(plan, contrast, &session, &measured))
            .collect();
        let basis = Basis::of(&session, &measured, &contrasts, &results);
        let report = report(&basis, &settings, check.map(|(result, _)| result));
        Self { session, measured, contrasts, report: Report { contrasts: results, ..report }, shelf }
    }

    /// Says of every comparison which known noise it resembles.
    pub fn recognise(&mut self, known: &KnownNoises) {
        known.recognise(&self.session, &self.contrasts, &mut self.report.contrasts);
    }

    /// Whether all that was measured was there when it was compared and drawn.
    ///
    /// # Errors
    /// The temporary file that holds the bulk of it failed: nothing that was made of it holds.
    pub fn check(&self) -> anyhow::Result<()> {
        match self.shelf.trouble() {
            None => Ok(()),
            Some(why) => bail!(
                "what was measured stood in a temporary file that can't be read back ({why}). Nothing was written.\n  \
                 try: once more, with the temporary folder (TMPDIR) on another disk"
            ),
        }
    }

    /// Whether every recording was used and no contrast is void.
    pub fn is_whole(&self) -> bool {
        let planned = self.session.contrasts.iter().flat_map(|plan| plan.off.iter().chain(&plan.on));
        let missing = |id: &String| self.session.complements.iter().any(|plan| plan.off.contains(id));
        let at_places = |id: &String| self.session.places.iter().any(|plan| plan.on.contains(id));
        let used = |id: &String| {
            self.contrasts.iter().any(|(plan, _)| plan.off.contains(id) || plan.on.contains(id))
                || missing(id)
                || at_places(id)
        };
        let on = self.session.recordings.iter().filter(|label| label.state == State::On).map(|label| &label.id);
        self.session.left_out.is_empty()
            && self.not_whole().next().is_none()
            && self.contrasts.iter().all(|(_, contrast)| !contrast.trust.is_void())
            && planned.chain(on).all(used)
    }

    /// Recordings that were measured, but of which a part is missing: name, and what is missing.
    pub fn not_whole(&self) -> impl Iterator<Item = (&str, &str)> {
        self.session.recordings.iter().filter_map(|label| {
            let account = &self.measured.get(&label.id)?.account;
            let how = account.cut_short.as_deref().filter(|_| account.lost != Lost::Nothing)?;
            Some((label.file.as_str(), how))
        })
    }

    /// Draws the report's pictures into `dir` and lists them in the report.
    ///
    /// # Errors
    /// A picture that can't be written; [`crate::watch::Stopped`].
    pub fn draw_into(&mut self, dir: &Path, watch: &dyn Watch) -> anyhow::Result<()> {
        // Words on pictures and their names keep no path either.
        self.report = self.report.published();
        let report = &self.report;
        let basis = Basis::of(&self.session, &self.measured, &self.contrasts, &report.contrasts);
        // Those of a comparison are made when their turn comes: spectrograms of many would fill the memory.
        let of_findings = || findings::pictures(report, &self.session.bands_khz);
        let mut groups: Vec<PictureGroup<'_>> = of_comparisons(&basis, report);
        groups.push(Box::new(of_findings));
        let figures = draw_groups(&groups, dir, watch)?;
        drop(groups);
        self.report.figures = figures;
        self.check()
    }
}

/// Every finding, in the order of the report; the comparisons themselves and the figures are the caller's.
fn report(basis: &Basis<'_>, settings: &ContrastSettings, receiver_check: Option<ReceiverCheckResult>) -> Report {
    let session = basis.session;
    let budget = budget::of(basis);
    let comparisons = Comparisons { settings: &session.settings, recordings: &[], contrasts: basis.results };
    let mut rankings = ranking::of(basis, settings).into_iter();
    let (switching_combs, switching_combs_refused) = switching_comb::of(basis);
    let (costs, mut not_told) = listening::of(basis);
    let (station_noise, incomparable) = man_made::of(basis);
    not_told.extend(incomparable);
    let target = target::of(basis);
    let (supplies, cautions) = (supply::of(basis), supply::cautions(basis));
    let (title, station) = (session.title.clone(), session.station.clone());
    Report {
        schema: 1,
        tool: Tool::this(),
        session: SessionFacts { title, mains_hz: settings.mains_hz, station },
        settings: session.settings.clone(),
        recordings: session
            .recordings
            .iter()
            .filter_map(|l| Some(RecordingResult::of(l, basis.measured.get(&l.id)?, basis.reading(l))))
            .collect(),
        described: Vec::new(),
        contrasts: Vec::new(),
        ladders: ladder::of(basis),
        budget: budget.shares,
        joint: budget.joint,
        device_bands: bands::of(comparisons),
        places: places::of(basis, settings),
        ranking: rankings.next(),
        other_rankings: rankings.collect(),
        switching_combs,
        switching_combs_refused,
        episodes: Vec::new(),
        sources: Vec::new(),
        night: None,
        listening: Listening { costs, station_noise, not_told, target, supplies, cautions },
        receiver_check,
        left_out: session.left_out.iter().map(|(file, reason)| LeftOut::of(file, reason)).collect(),
        figures: Vec::new(),
        warnings: session.warnings.iter().cloned().chain(budget.warnings).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::write_wav;
    use crate::demo::synth::{Buzz, Hash, Receiver, Scene};
    use crate::findings::known_noise::folder::KnownNoises;
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
            write_wav(&dir.path().join(file), &scene.render(6.0).samples, 8000, 1).unwrap();
        }
        std::fs::write(dir.path().join("broken.wav"), b"").unwrap();
        std::fs::write(dir.path().join("session.toml"), manifest()).unwrap();

        let mut tally = SessionRun::of(Session::read(dir.path()).unwrap(), &Wishes::default(), &());
        let (known, out) = (dir.path().join("known"), dir.path().join("out"));
        std::fs::create_dir(&known).unwrap();
        std::fs::create_dir(&out).unwrap();
        crate::findings::known_noise::folder::remember(&tally.session, &tally.contrasts, &known).unwrap();
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
        let basis = Basis::of(&tally.session, &tally.measured, &tally.contrasts, &tally.report.contrasts);
        let mut pictures: Vec<_> = of_comparisons(&basis, &tally.report).iter().flat_map(|group| group()).collect();
        pictures.extend(findings::pictures(&tally.report, &tally.session.bands_khz));
        told.extend(pictures.iter().map(|p| (format!("words on {}", p.file), format!("{:?}", p.drawing))));
        assert!(told.len() > 20, "{}", told.len());
        let tells: Vec<_> = told.iter().filter(|(_, text)| text.contains(SECRET)).map(|(name, _)| name).collect();
        assert_eq!(tells, Vec::<&String>::new());
        let json = crate::report::json(&tally.report);
        for name in ["title", "station", "20m", "wire", "gain", "pump", "lamp", "ring", "S7", "note"] {
            assert!(json.contains(&format!("\"{name}\"")), "{name} is gone altogether");
        }
    }
}
