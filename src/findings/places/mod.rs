//! The same noise at several places, by the same receiver with the same gain: how loud it is at each, and whether it
//! is the same noise, by the resemblance of known noises. Where an off was recorded, the level is that of the added
//! power; else of the whole noise. Not here: which recordings belong to a place (`labels::group`).

pub mod figure;
pub mod result;
pub(crate) mod words;

use crate::contrast::comparison::ContrastResult;
use crate::contrast::planned::compare;
use crate::contrast::{At, Contrast, ContrastSettings, Figures, contrast_in_time};
use crate::findings::basis::Basis;
use crate::findings::draws::Draws;
use crate::findings::known_noise::judge::NAMED_FROM;
use crate::findings::known_noise::{Signature, resemblance};
use crate::labels::{PlacePlan, Plan, tells_fixed_gain};
use crate::signal::measure::{MeasureSettings, Measurement};
use crate::units::{Dbfs, Estimate, SIGMAS_OF_95, ratio_of_db};
use crate::warning::{Code, Trust, Warning};
use result::PlaceResult;

pub(crate) use figure::figures;
pub(crate) use words::{digest, section, short_section, terminal, verdict};

/// What stands for an off where none was recorded lies so far below the noise that all of that counts as added, dB, but
/// no lower than this as amplitude of full scale, where it would count as nothing to hear. Chosen: a hundred-thousandth
/// of the power, and 1 dB over that limit (`signal::health`).
const SILENCE_BELOW_DB: f64 = 50.0;
const LEAST_AMPLITUDE: f64 = 2.6e-5;
/// Where no off was recorded, a noise of other traits is told from the same one under the band's by standing so much
/// above the quietest place, dB. Mathematics: the band then has a tenth of its power at most.
const CLEAR_DB: f64 = 10.0;
/// Length of that, s, and how often it is held against a place: its own scatter then takes no part. Chosen.
const SILENCE_S: f64 = 10.0;
const SILENT_TAKES: usize = 20;
/// How well the level of lines and clicks is known from take to take (common practice), dB.
const LINES_SD_DB: f64 = 0.5;

/// Of each walk the places, the loudest first; walks in the order of the session.
pub fn of(basis: &Basis<'_>, settings: &ContrastSettings) -> Vec<PlaceResult> {
    let mut walks: Vec<Vec<&PlacePlan>> = Vec::new();
    for plan in &basis.session.places {
        let same =
            |known: &&mut Vec<&PlacePlan>| known[0].setting == plan.setting && known[0].device == plan.device;
        match walks.iter_mut().find(same) {
            Some(walk) => walk.push(plan),
            None => walks.push(vec![plan]),
        }
    }
    walks.into_iter().flat_map(|walk| of_walk(&walk, basis, settings)).collect()
}

fn of_walk(walk: &[&PlacePlan], basis: &Basis<'_>, settings: &ContrastSettings) -> Vec<PlaceResult> {
    // Levels of one width: what is free of the receiver's edges at every place.
    let heard = walk.iter().flat_map(|plan| &plan.on).filter_map(|id| basis.measured.get(id)?.measurement.passband);
    let common = heard.map(Some).reduce(|a, b| a?.common(&b?)).flatten();
    let settings = ContrastSettings { passband: settings.passband.or(common), ..settings.clone() };
    let mut found: Vec<(PlaceResult, Option<Signature>)> =
        walk.iter().map(|plan| at_place(plan, basis, &settings)).collect();
    let level = |place: &PlaceResult| place.level_db.unwrap_or(f64::NEG_INFINITY);
    found.sort_by(|a, b| level(&b.0).total_cmp(&level(&a.0)));
    let loudest = found.first().and_then(|(_, signature)| signature.clone());
    let like = |one: Option<&Signature>| Some(resemblance(one?, loudest.as_ref()?)?.value);
    let quietest = found.iter().filter_map(|(place, _)| place.level_db).fold(f64::INFINITY, f64::min);
    let place = |(number, (place, signature)): (usize, (PlaceResult, Option<Signature>))| {
        let likeness = like(signature.as_ref()).filter(|_| number > 0);
        // Near the quietest place the band may have the larger part, and traits of its own.
        let is_clear = !place.off.is_empty() || place.level_db.is_some_and(|level| level - quietest > CLEAR_DB);
        let same = likeness.map(|likeness| likeness >= NAMED_FROM).filter(|same| *same || is_clear);
        PlaceResult { likeness, same, ..place }
    };
    found.into_iter().enumerate().map(place).collect()
}

fn at_place(place: &PlacePlan, basis: &Basis<'_>, settings: &ContrastSettings) -> (PlaceResult, Option<Signature>) {
    let plan = Plan {
        id: String::new(),
        device: place.device.clone().unwrap_or_default(),
        remedy: None,
        setting: place.setting.clone(),
        off: place.off.clone(),
        on: place.on.clone(),
        warnings: Vec::new(),
    };
    let (plan, contrast) = match place.off.is_empty() {
        true => (plan, whole(place, basis, settings)),
        false => compare(&plan, basis.session, basis.measured, settings),
    };
    let figures = contrast.figures.as_ref().filter(|_| !contrast.trust.is_void());
    let result = ContrastResult::of(&plan, &contrast);
    let level = figures.filter(|_| result.adds_something()).and_then(level);
    let below_db = figures.filter(|_| level.is_none()).map(|figures| {
        let limit = ratio_of_db(figures.excess.limit_db) - 1.0;
        Dbfs::from_mean_square(figures.density().0 * figures.passband.width_hz() * limit).0
    });
    let signature = figures.filter(|_| level.is_some()).and_then(Signature::of);
    let found =
        PlaceResult {
            place: place.place.clone(),
            device: place.device.clone(),
            setting: place.setting.clone(),
            bearing_deg: place.bearing_deg,
            distance_m: place.distance_m,
            on: plan.on,
            off: plan.off,
            off_is_there: place.off_is_there,
            level_db: level.map(|level| level.value),
            level_ci_db: level.map(|level| level.ends()),
            below_db,
            likeness: None,
            same: None,
            gain_known: basis.session.settings.iter().any(|setting| {
                setting.id == place.setting && setting.gain.as_deref().is_some_and(tells_fixed_gain)
            }),
            character: result.character,
            trust: contrast.trust,
        };
    (found, signature)
}

/// Level of what was added, lines and clicks too, dBFS.
fn level(figures: &Figures) -> Option<Estimate> {
    let total = figures.verdict.added_power;
    let before = figures.density().0 * figures.passband.width_hz();
    let noise = |excess_db: f64| before * (ratio_of_db(excess_db) - 1.0).max(0.0);
    let excess = figures.excess_db();
    let rest = (total - noise(excess.value)).max(0.0);
    let by = |sigmas: f64| ratio_of_db(sigmas * LINES_SD_DB);
    let ends = (noise(excess.ci95.0) + rest * by(-SIGMAS_OF_95), noise(excess.ci95.1) + rest * by(SIGMAS_OF_95));
    let level = |power: f64| Dbfs::from_mean_square(power.max(f64::MIN_POSITIVE)).0;
    (total > 0.0)
        .then(|| Estimate { value: level(total), ci95: (level(ends.0.min(total)), level(ends.1.max(total))) })
}

/// The whole noise of a place, as if it had come upon silence.
fn whole(place: &PlacePlan, basis: &Basis<'_>, settings: &ContrastSettings) -> Contrast {
    let usable = |id: &String| {
        let measurement = &basis.measured.get(id)?.measurement;
        measurement.passband.is_some().then_some(measurement)
    };
    let on: Vec<&Measurement> = place.on.iter().filter_map(usable).collect();
    let Some(first) = on.first() else {
        return Contrast::void(Warning::new(Code::NoRecording, "no recording of this place could be used."));
    };
    let quietest = on.iter().filter_map(|m| m.noise_power()).fold(f64::MAX, f64::min);
    let silence = silence(first.sample_rate_hz, quietest, settings);
    let at = |measurement| At { measurement, at_min: 0.0 };
    let on: Vec<At<'_>> = on.into_iter().map(at).collect();
    let contrast = contrast_in_time(&[at(&silence); SILENT_TAKES], &on, settings);
    // What stations add to silence, no device adds: only faults of the recordings themselves count.
    let trust = match (contrast.spoilt_by.is_empty(), on.len()) {
        (false, _) => Trust::Doubtful,
        (true, 1) => Trust::Unrepeated,
        (true, _) => Trust::Sound,
    };
    Contrast { trust: if contrast.figures.is_some() { trust } else { Trust::Void }, ..contrast }
}

/// Noise that is nothing beside one of this power, FS².
fn silence(sample_rate_hz: u32, power: f64, settings: &ContrastSettings) -> Measurement {
    let amplitude = (power * ratio_of_db(-SILENCE_BELOW_DB)).sqrt().max(LEAST_AMPLITUDE);
    let mut draws = Draws::new();
    let length = (SILENCE_S * f64::from(sample_rate_hz)) as usize;
    let samples: Vec<f32> = (0..length).map(|_| (amplitude * draws.next()) as f32).collect();
    let measuring = MeasureSettings { passband: settings.passband, mains_hz: settings.mains_hz };
    Measurement::of_samples(sample_rate_hz, &samples, &measuring)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::write_wav;
    use crate::demo::synth::{Buzz, Hash, Receiver, Scene};
    use crate::labels::Session;
    use crate::run::Wishes;
    use crate::run::session::SessionRun;
    use approx::assert_abs_diff_eq;

    /// Truth: the levels that the scenes were made with, as the filter passes them. Tolerance: what lies in the
    /// filter's skirts, and the scatter of 8 s.
    #[test]
    fn levels_and_likeness_are_those_of_the_scenes() {
        let dir = tempfile::tempdir().unwrap();
        let band =
            |seed| Scene::new(Receiver::ssb(8000)).seed(seed).band_noise(Dbfs(-55.0)).receiver_noise(Dbfs(-70.0));
        let buzz = |seed, level| band(seed).device_level(Buzz::gated(100.0, 0.3), Dbfs(level));
        let scenes = [
            ("gate", buzz(1, -46.0)),
            ("fence", buzz(2, -34.0)),
            ("pole", buzz(3, -40.0)),
            ("well", band(4).device_level(Hash::flat(), Dbfs(-43.0))),
        ];
        let head = "dial_khz = 3600.0\nmode = \"USB\"\ngain = \"AGC off\"\n";
        let mut manifest = String::new();
        for (place, scene) in &scenes {
            write_wav(&dir.path().join(format!("{place}.wav")), &scene.render(8.0).samples, 8000, 1).unwrap();
            manifest += &format!("[[recording]]\nfile = \"{place}.wav\"\nplace = \"{place}\"\n{head}");
        }
        let told = |manifest: &str| {
            std::fs::write(dir.path().join("session.toml"), manifest).unwrap();
            let run = SessionRun::of(Session::read(dir.path()).unwrap(), &Wishes::default(), &());
            assert!(run.is_whole());
            run.report.places
        };
        let whole = told(&manifest);
        write_wav(&dir.path().join("off.wav"), &band(5).render(8.0).samples, 8000, 1).unwrap();
        manifest += &format!("[[recording]]\nfile = \"off.wav\"\nstate = \"off\"\n{head}");
        let added = told(&manifest);
        for (places, background) in [(&whole, -54.9), (&added, f64::NEG_INFINITY)] {
            let order: Vec<&str> = places.iter().map(|place| place.place.as_str()).collect();
            assert_eq!(order, ["fence", "pole", "well", "gate"]);
            for (place, truth) in places.iter().zip([-34.0, -40.0, -43.0, -46.0]) {
                let truth = 10.0 * (ratio_of_db(truth) + ratio_of_db(background)).log10();
                assert_abs_diff_eq!(place.level_db.unwrap(), truth, epsilon = 0.6);
            }
            assert_eq!(places[0].likeness, None);
            assert!(places[1].likeness.unwrap() > 0.25, "{places:?}");
            assert!(places[2].likeness.unwrap() < 0.1, "{places:?}");
            assert_eq!(places[1].same, Some(true));
        }
        assert_eq!((added[2].same, added[3].same), (Some(false), Some(true)), "{added:?}");
        // 9 dB below the loudest, and the band 12 dB below: without an off that is not told.
        assert_eq!(whole[2].same, None, "{whole:?}");
    }
}
