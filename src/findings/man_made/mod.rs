//! How the station's noise, off and with each device on, stands against the man-made noise that ITU-R P.372
//! publishes for each kind of place.
//!
//! Here: the external noise figure, setting by setting; refused, with the reason, where a label is missing that the
//! comparison hangs on. [`p372`] is the Recommendation; `result`, `words` and `figure` are what is told of it in
//! the JSON, the texts and the picture.

pub mod figure;
pub mod p372;
pub mod result;
pub(crate) mod words;

use std::collections::{BTreeMap, BTreeSet};

use crate::contrast::{Figures, LEAST_MARGIN_DB, background_correction};
use crate::findings::anchor::{Anchor, USUAL_TOLERANCE_DB, is_linear};
use crate::findings::basis::Basis;
use crate::findings::man_made::p372::{Category, Standing, noise_figure_db, to_short_vertical_db};
use crate::findings::man_made::result::{NoiseCategory, NoiseLevel, StationNoise};
use crate::labels::{Antenna, ListeningLabels, Plan, Setting};
use crate::notes::NOTES;
use crate::text::and_at_most;
use crate::units::{DbfsPerHz, Estimate, SIGMAS_OF_95, in_db};

pub(crate) use figure::figures;
pub(crate) use words::{digest, section, verdict};

/// Settings named for one reason before the rest is counted.
const NAMES: usize = 3;

/// Every setting that can be compared, and the reasons of those that were meant to be and can't.
pub fn of(basis: &Basis<'_>) -> (Vec<StationNoise>, Vec<String>) {
    let session = basis.session;
    let labels = &session.listening;
    let asked = labels.antenna_type.is_some() || session.recordings.iter().any(|r| r.dbm.is_some());
    if !asked {
        return (Vec::new(), Vec::new());
    }
    let mut found = Vec::new();
    let mut reasons: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for setting in &session.settings {
        match (AtSetting { basis, setting }).compare() {
            Ok(one) => found.push(one),
            Err(why) => reasons.entry(why).or_default().push(setting.name_among(&session.settings)),
        }
    }
    let told = |(why, of): (String, Vec<String>)| {
        let all = of.len() == session.settings.len();
        let of = if all { "of the station".to_owned() } else { format!("at {}", and_at_most(&of, NAMES)) };
        format!("The noise {of} against ITU-R P.372: {why}.")
    };
    (found, reasons.into_iter().map(told).collect())
}

/// One setting.
struct AtSetting<'a> {
    basis: &'a Basis<'a>,
    setting: &'a Setting,
}

impl AtSetting<'_> {
    fn compare(&self) -> Result<StationNoise, String> {
        let anchor = self.anchor()?;
        let antenna = self.antenna()?;
        let freq_mhz = freq_mhz(self.setting)?;
        let sound: Vec<(&Plan, &Figures)> = self.sound().collect();
        let Some((first_plan, first)) = sound.first() else {
            return Err("there is no sound comparison in this setting".to_owned());
        };
        let listening = &self.basis.session.listening;
        let bandwidth_hz = self.setting.bandwidth_hz.unwrap_or(first.passband.width_hz());
        let scale = Scale { anchor, antenna, freq_mhz, bandwidth_hz, ..Scale::of(listening, anchor, antenna) };
        let zero = Estimate { value: 0.0, ci95: (0.0, 0.0) };
        let off = scale.level(first, zero).ok_or(
            "the band's noise hardly stands above the receiver's own, so what comes by the antenna is not known",
        )?;
        let on = sound.iter().filter_map(|(plan, figures)| {
            let level = scale.level(figures, figures.excess_db())?;
            Some(NoiseLevel {
                contrast: plan.id.clone(),
                device: Some(plan.device.clone()),
                remedy: plan.remedy.clone(),
                ..level
            })
        });
        let removed = first.receiver.is_some();
        Ok(StationNoise {
            setting: self.setting.id.clone(),
            freq_mhz,
            bandwidth_hz: scale.bandwidth_hz,
            antenna_type: antenna_word(antenna).to_owned(),
            antenna_loss_db: scale.loss_db,
            tolerance_db: scale.tolerance_db,
            receiver_noise_removed: removed,
            on: on.collect(),
            off: NoiseLevel { contrast: first_plan.id.clone(), ..off },
            categories: Category::ALL.into_iter().filter_map(|c| category(c, freq_mhz)).collect(),
            notes: notes(listening, removed),
        })
    }

    fn anchor(&self) -> Result<Anchor, String> {
        by_power(self.basis.anchors.of_setting(&self.setting.id))
    }

    fn antenna(&self) -> Result<Antenna, String> {
        let antennas: BTreeSet<&String> =
            self.basis.session.settings.iter().filter_map(|s| s.antenna.as_ref()).collect();
        if antennas.len() > 1 {
            return Err(
                "the session names several antennas, and antenna_type and antenna_loss_db hold for one".into()
            );
        }
        antenna_type(&self.basis.session.listening)
    }

    /// Its comparisons that can be relied on, with a gain that held.
    fn sound(&self) -> impl Iterator<Item = (&Plan, &Figures)> {
        let mine = self
            .basis
            .contrasts
            .iter()
            .filter(|(plan, c)| plan.setting == self.setting.id && c.trust.is_unspoilt());
        mine.filter_map(|(plan, c)| Some((plan, c.figures.as_ref().filter(|f| !f.corrected)?)))
    }
}

/// The noise of one recording against the published one, whatever is on in it; or why it can't be held against it.
/// `floor`: its noise at full scale's level in 1 Hz; `sd_db`: how well that is known.
pub fn of_one(
    floor: DbfsPerHz,
    sd_db: f64,
    anchor: Option<Anchor>,
    setting: &Setting,
    labels: &ListeningLabels,
) -> Result<NoiseLevel, String> {
    let anchor = by_power(anchor)?;
    let (antenna, freq_mhz) = (antenna_type(labels)?, freq_mhz(setting)?);
    let scale = Scale { freq_mhz, ..Scale::of(labels, anchor, antenna) };
    let zero = Estimate { value: 0.0, ci95: (0.0, 0.0) };
    let measured = SIGMAS_OF_95 * sd_db;
    scale.stands(floor.0 + anchor.dbm_at_full_scale, zero, measured).ok_or_else(|| "it holds no noise".to_owned())
}

/// What weakens the comparison, as sentences; `removed`: the receiver's own noise is taken off.
pub fn notes(labels: &ListeningLabels, removed: bool) -> Vec<String> {
    let mut notes = Vec::new();
    match labels.antenna_type {
        None | Some(Antenna::ShortVertical) => {}
        Some(Antenna::HalfWaveDipole) => notes.push(NOTES.noise_dipole.clone()),
        Some(Antenna::Other) => notes.push(NOTES.noise_other_antenna.clone()),
    }
    if labels.dbm_tolerance_db.is_none() {
        notes.push(NOTES.noise_tolerance.replace("{tolerance_db}", &format!("{USUAL_TOLERANCE_DB:.0}")));
    }
    if labels.antenna_loss_db.is_none() {
        notes.push(NOTES.noise_no_loss.clone());
    }
    if !removed {
        notes.push(NOTES.noise_no_dummy_load.clone());
    }
    notes
}

fn by_power(anchor: Option<Anchor>) -> Result<Anchor, String> {
    match anchor {
        Some(anchor) if anchor.by_power => Ok(anchor),
        Some(_) => Err("only a meter's reading ties the levels to the air, and that is too rough for it; a power \
                        measured in the passband (dbm) is needed"
            .to_owned()),
        None => Err("no recording has a power measured in the passband (dbm)".to_owned()),
    }
}

fn antenna_type(labels: &ListeningLabels) -> Result<Antenna, String> {
    labels.antenna_type.ok_or_else(|| {
        "no antenna type is given (antenna_type = \"short vertical\", \"half-wave dipole\" or \"other\")".to_owned()
    })
}

/// Where the setting listens, if the Recommendation has figures for it.
fn freq_mhz(setting: &Setting) -> Result<f64, String> {
    let dial_khz = setting.dial_khz.ok_or("no dial frequency is given (dial_khz)")?;
    if !is_linear(setting.mode) {
        return Err("it needs recordings in USB, LSB or CW, with the mode given".to_owned());
    }
    let freq_mhz = dial_khz / 1000.0;
    if Category::City.median_db(freq_mhz).is_none() {
        return Err(format!("its figures are for 0.3 to 250 MHz, and the dial was at {freq_mhz:.3} MHz"));
    }
    Ok(freq_mhz)
}

fn antenna_word(antenna: Antenna) -> &'static str {
    match antenna {
        Antenna::ShortVertical => "short vertical",
        Antenna::HalfWaveDipole => "half-wave dipole",
        Antenna::Other => "other",
    }
}

fn category(category: Category, freq_mhz: f64) -> Option<NoiseCategory> {
    let ((upper, lower), (spread_upper, spread_lower)) = (category.time_deciles_db(), category.deciles_db());
    Some(NoiseCategory {
        category,
        median_db: category.median_db(freq_mhz)?,
        upper_decile_db: upper,
        lower_decile_db: lower,
        location_decile_db: category.location_decile_db(),
        spread_upper_db: spread_upper,
        spread_lower_db: spread_lower,
        own_spread: category.has_own_spread(),
    })
}

/// From full scale to noise figures.
struct Scale {
    anchor: Anchor,
    antenna: Antenna,
    loss_db: f64,
    tolerance_db: f64,
    bandwidth_hz: f64,
    freq_mhz: f64,
}

impl Scale {
    /// At no frequency and in 1 Hz yet.
    fn of(labels: &ListeningLabels, anchor: Anchor, antenna: Antenna) -> Self {
        let loss_db = labels.antenna_loss_db.unwrap_or(0.0);
        let tolerance_db = labels.dbm_tolerance_db.unwrap_or(USUAL_TOLERANCE_DB);
        Self { anchor, antenna, loss_db, tolerance_db, bandwidth_hz: 1.0, freq_mhz: 0.0 }
    }

    /// The level `excess` above the off noise of a comparison, the receiver's own noise taken off where it is
    /// known.
    fn level(&self, figures: &Figures, excess: Estimate) -> Option<NoiseLevel> {
        let density = DbfsPerHz::from_density(figures.density().0).0 + excess.value + self.anchor.dbm_at_full_scale;
        let own = self.receiver_part(figures, excess)?;
        let measured = (excess.ci95.1 - excess.ci95.0) / 2.0 + (own.ci95.1 - own.ci95.0).abs() / 2.0;
        self.stands(density, own, measured)
    }

    /// A density at the receiver's input, dBm in 1 Hz, known to ±`measured` dB, of which the receiver adds `own`.
    fn stands(&self, density: f64, own: Estimate, measured: f64) -> Option<NoiseLevel> {
        let figure = noise_figure_db(density - own.value, self.loss_db) + to_short_vertical_db(self.antenna);
        let half = self.tolerance_db.hypot(measured);
        let nearest = Category::nearest(figure, self.freq_mhz)?;
        let over = figure - nearest.median_db(self.freq_mhz)?;
        let standing = Standing::of(Estimate::within(over, half), nearest);
        figure.is_finite().then(|| NoiseLevel {
            contrast: String::new(),
            device: None,
            remedy: None,
            noise_dbm: density + in_db(self.bandwidth_hz),
            noise_figure_db: figure,
            noise_figure_ci_db: [figure - half, figure + half],
            nearest,
            over_median_db: over,
            standing,
        })
    }

    /// How much the receiver's own noise adds, dB; `None` where it drowns the rest.
    fn receiver_part(&self, figures: &Figures, excess: Estimate) -> Option<Estimate> {
        let Some(receiver) = &figures.receiver else { return Some(Estimate { value: 0.0, ci95: (0.0, 0.0) }) };
        let margin = receiver.margin;
        if margin.ci95.0 < LEAST_MARGIN_DB {
            return None;
        }
        let part = |margin: f64| background_correction(margin + excess.value);
        Some(Estimate { value: part(margin.value), ci95: (part(margin.ci95.1), part(margin.ci95.0)) })
    }
}
