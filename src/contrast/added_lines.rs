//! Which lines came with the device, which went, and whether a line of both states tells that the gain changed.

use serde::{Deserialize, Serialize};

use super::comb::{Comb, find_comb, possible_comb};
use crate::signal::measure::Measurement;
use crate::signal::spectrum::lines::STANDS_OUT;
use crate::signal::spectrum::statistics::{mean, median};
use crate::signal::spectrum::{Line, Passband};
use crate::units::in_db;

/// How far a device's line may lie apart in two takes, Hz: supplies drift as they warm up (common practice: a
/// free-running supply or dimmer moves by some tens of hertz in minutes).
pub const WARMS_UP_HZ: f64 = 25.0;
/// How near a line of one state must lie to one of the other to be the same, which no device moves, Hz. Chosen: a
/// bin of the spectrum (`spectrum::frame`, at most 6 Hz).
pub const UNMOVED_HZ: f64 = 6.0;
/// Where the off state has a line there, steady or not, it stands so much above what that has most of the time
/// (ratio of powers): 10 dB. Mathematics: a carrier that fades as the ionosphere has it (Lord Rayleigh, 1880) lies so
/// far below its mean for a tenth of the time.
const FADES: f64 = 10.0;
/// Beside a voice a line weaker than this over the noise is as likely one of its overtones, dB-Hz: those that stood
/// throughout in the validation bench had up to 14.
const OVERTONE_CNR_DB_HZ: f64 = 15.0;
/// A carrier weaker than this over the noise is no reference, dB-Hz. Chosen: in 10 s its level is then known to a
/// tenth of a dB, well below a change of gain that counts.
const REFERENCE_CNR_DB_HZ: f64 = 24.0;
/// In the other state it may stand lower, since the noise is louder there: at 15 dB-Hz and 10 s its level is known
/// to a third of a dB. Chosen: no worse than half a change of gain that counts (`trust::GAIN_SHIFT_DB`).
const REFERENCE_LEAST_CNR_DB_HZ: f64 = 15.0;
/// Highest multiple of the mains frequency at which sidebands are looked for, how near they must stand to it, and
/// the most of their carrier's power that each may have (full modulation gives a quarter). Chosen: higher multiples
/// of a rectifier's ripple are too weak to be lines; a quarter of a bin; full modulation with room for the powers'
/// errors.
pub(super) const MOST_SIDEBANDS: f64 = 6.0;
const SIDEBAND_HZ: f64 = 1.5;
const SIDEBAND_POWER: f64 = 0.4;
/// Reversals a second of phase keying that has nothing to send: two equal lines so far apart, Hz. Common practice of
/// amateurs (31.25 baud and its multiples; from memory).
const IDLING_HZ: [f64; 3] = [31.25, 62.5, 125.0];
/// How near to that they stand, Hz, how equal they are (ratio of powers), and the power beside theirs that makes a
/// line near them one more of a device's. Chosen: what places are off by; 3 dB, as filters slope; a tenth.
const IDLING_WITHIN_HZ: f64 = 0.4;
const IDLING_EQUAL: f64 = 2.0;
const IDLING_ALONE: f64 = 0.1;
/// A reference drifts no more than this. Chosen: a transmitter's carrier does not drift (common practice), a warm
/// supply's does.
const REFERENCE_DRIFT_HZ_PER_S: f64 = 1.0;
/// A reference keeps its level this well from stretch to stretch (standard deviation over mean). Chosen: a strong
/// carrier scatters by less in noise, a fading one by far more.
const REFERENCE_UNEVENNESS: f64 = 0.15;

/// A line that one state has and the other has not.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DeviceLine {
    /// The line as the recording has it that shows it strongest.
    pub line: Line,
    /// Its mean power over all recordings of the state, less what the other state has there, FS².
    pub added_power: f64,
    /// Whether it is a carrier for certain: shown to stand, or there in each of several on recordings and in none
    /// of several off recordings.
    pub sure: bool,
}

/// What happened to the lines from off to on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LineChanges {
    /// Came with the device, strongest first.
    pub added: Vec<DeviceLine>,
    /// Stood in the off state only.
    pub lost: Vec<Line>,
    /// Whether every lost line would lie under the on state's noise.
    pub lost_masked: bool,
    /// Lines that came but key, hop or fade as stations do: not counted as the device's.
    pub unsteady: usize,
    /// Their mean square, FS².
    pub unsteady_power: f64,
    /// Two lines that came, as phase keying has them that has nothing to send, Hz: not counted as the device's, in
    /// `unsteady_power`.
    pub idling_hz: Option<(f64, f64)>,
    /// The family that the added lines form: indices into `added`.
    pub comb: Option<Comb>,
    /// A family that they may form, where chance can't be ruled out.
    pub possible_comb: Option<Comb>,
    /// Steady lines that stand in every take of both states.
    pub references: Vec<Reference>,
}

/// A steady line of both states: what it does from take to take, the gain does.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Reference {
    /// Where it stands.
    pub freq_hz: f64,
    /// Its level in every take, those of off first, over its mean with the device off, dB.
    pub steps_db: Vec<f64>,
    /// How much it stands higher with the device on, dB.
    pub shift_db: f64,
}

impl LineChanges {
    /// Compares all recordings of both states within a passband; without any off recording, what stands in the on
    /// ones. `named_hz`: a reference the user named.
    pub fn of(
        off: &[&Measurement],
        on: &[&Measurement],
        passband: &Passband,
        mains_hz: f64,
        named_hz: Option<f64>,
    ) -> Self {
        let (off_lines, on_lines) = (merged(off, passband), merged(on, passband));
        let voice = on.iter().any(|m| m.has_voice());
        let references = references(off, on, named_hz);
        let mut added = Vec::new();
        let (mut unsteady, mut unsteady_power) = (0, 0.0);
        for line in &on_lines {
            let known = |other: &&Line| same(line, other, UNMOVED_HZ) && STANDS_OUT * other.power > line.power;
            if off_lines.iter().filter(|other| other.steady || !line.steady).any(|other| known(&other)) {
                continue;
            }
            // What stands in both states, or the user says so, came with no device, however the gain moved.
            let mut standing = references.iter().map(|carrier| carrier.freq_hz).chain(named_hz);
            if standing.any(|hz| (hz - line.freq_hz).abs() < 2.0 * UNMOVED_HZ) {
                continue;
            }
            // The middle of several off recordings: a voice in one of them is not the carrier.
            let mut at_its_place: Vec<f64> = off.iter().map(|m| power_at(m, line)).collect();
            let before = if off.is_empty() { 0.0 } else { median(&mut at_its_place) };
            let stood = off_lines.iter().any(|other| same(line, other, UNMOVED_HZ));
            if line.power < if stood { FADES } else { STANDS_OUT } * before {
                continue;
            }
            if !line.steady || (voice && line.cnr_db_hz() < OVERTONE_CNR_DB_HZ) {
                unsteady += 1;
                unsteady_power += line.power * line.presence;
                continue;
            }
            let in_these = |side: &[&Measurement]| {
                side.iter().filter(|m| m.lines.iter().any(|other| same(line, other, WARMS_UP_HZ))).count()
            };
            let share = in_these(on) as f64 / on.len() as f64;
            let followed = on.len() > 1 && off.len() > 1 && in_these(on) == on.len() && in_these(off) == 0;
            added.push(DeviceLine {
                added_power: (line.power * share - before.max(0.0)).max(0.0),
                sure: line.shown || followed,
                line: line.clone(),
            });
        }
        let mut added = without_sidebands(added, passband, mains_hz);
        // Takes that repeat tell themselves whether it comes with the device.
        let idling = if on.len() > 1 && off.len() > 1 { None } else { take_idling(&mut added) };
        let idling_hz = idling.as_ref().map(|[a, b]| (a.line.freq_hz, b.line.freq_hz));
        for found in idling.into_iter().flatten() {
            unsteady_power += found.line.power;
        }
        let lost: Vec<Line> = off_lines
            .iter()
            .filter(|line| line.steady && !on_lines.iter().any(|other| same(line, other, UNMOVED_HZ)))
            .cloned()
            .collect();
        let lost_masked = !lost.is_empty() && lost.iter().all(|line| on.iter().all(|m| hides(m, line)));
        let places: Vec<f64> = added.iter().map(|found| found.line.freq_hz).collect();
        let (comb, possible_comb) = (find_comb(&places), possible_comb(&places));
        Self { references, added, lost, lost_masked, unsteady, unsteady_power, idling_hz, comb, possible_comb }
    }

    /// Mean square of all added lines, FS².
    pub fn added_power(&self) -> f64 {
        self.added.iter().map(|found| found.added_power).sum()
    }

    /// Mean square of those that belong to the family, FS².
    pub fn comb_power(&self) -> f64 {
        self.comb.as_ref().map_or(0.0, |comb| comb.members.iter().map(|&i| self.added[i].added_power).sum())
    }

    /// Said where two lines came that a station makes which idles.
    pub fn idling_sentence(&self) -> Option<String> {
        self.idling_hz.map(|(a, b)| {
            format!(
                "two equal lines at {:.1} and {:.1} Hz stand in the on state only, {:.2} Hz apart as those of a station \
                 that idles in phase keying: record on again when it has gone",
                a.min(b),
                a.max(b),
                (a - b).abs()
            )
        })
    }

    /// The steady carrier of both states that the comparison can lean on. With several, the one whose shift is
    /// their median.
    pub fn reference(&self) -> Option<&Reference> {
        let mut sorted: Vec<&Reference> = self.references.iter().collect();
        sorted.sort_by(|a, b| a.shift_db.total_cmp(&b.shift_db));
        sorted.get(sorted.len().saturating_sub(1) / 2).copied()
    }
}

/// Lines of all recordings of a state, one for each, as the recording has it that shows it strongest.
fn merged(recordings: &[&Measurement], passband: &Passband) -> Vec<Line> {
    let mut all: Vec<Line> = Vec::new();
    for measurement in recordings {
        let known = all.len();
        let mut met = vec![false; known];
        for line in measurement.lines.iter().filter(|line| passband.contains(line.freq_hz)) {
            let nearest = (0..known)
                .filter(|&i| !met[i] && same(line, &all[i], WARMS_UP_HZ))
                .min_by(|&a, &b| distance(line, &all[a]).total_cmp(&distance(line, &all[b])));
            match nearest {
                Some(i) => {
                    met[i] = true;
                    if line.power > all[i].power && line.steady >= all[i].steady {
                        all[i] = line.clone();
                    }
                }
                None => all.push(line.clone()),
            }
        }
    }
    all.sort_by(|a, b| b.power.total_cmp(&a.power));
    all
}

fn distance(a: &Line, b: &Line) -> f64 {
    (a.freq_hz - b.freq_hz).abs()
}

fn same(a: &Line, b: &Line, reach_hz: f64) -> bool {
    distance(a, b) <= reach_hz || (a.span_hz.0 - reach_hz < b.span_hz.1 && b.span_hz.0 - reach_hz < a.span_hz.1)
}

/// Power above the floor that a recording has at a line's place, FS²: its mean, but for a line that was shown to
/// stand the median over slices, since a station that keys there is not the carrier.
fn power_at(measurement: &Measurement, line: &Line) -> f64 {
    let slices = &measurement.slices;
    if measurement.floor.len() != slices.bins {
        return 0.0;
    }
    let (first, last) = (slices.bin_of(line.span_hz.0), slices.bin_of(line.span_hz.1));
    // One that drifts so far passes over what is not its own; one that runs to and fro leaves each bin again.
    let widest = 6;
    if last - first > widest && !line.warbles {
        return 0.0;
    }
    let density = if line.shown && !line.warbles { &measurement.medians } else { &slices.mean };
    (first.saturating_sub(2)..=(last + 2).min(slices.bins - 1))
        .map(|k| density[k] - measurement.floor[k])
        .sum::<f64>()
        .max(0.0)
        * slices.bin_hz
}

/// Whether a line would go unseen in a recording's noise: weaker than 1.5 times the noise in its bin's width.
fn hides(measurement: &Measurement, line: &Line) -> bool {
    let bin = measurement.slices.bin_of(line.freq_hz);
    measurement.floor.get(bin).is_some_and(|density| line.power < 1.5 * density * measurement.slices.bin_hz)
}

/// Whether a line would go unseen in some of these recordings.
pub(super) fn is_hidden(line: &Line, side: &[&Measurement]) -> bool {
    side.iter().any(|m| hides(m, line))
}

/// Whether every one of these recordings has the line.
pub(super) fn is_in_all(line: &Line, side: &[&Measurement]) -> bool {
    side.iter().all(|m| m.lines.iter().any(|other| same(line, other, UNMOVED_HZ)))
}

/// Leaves out weaker lines that stand in pairs around a stronger one at the mains rates: they are its sidebands,
/// also where the other one of the pair would lie outside the passband. What they carry is added to it.
fn without_sidebands(added: Vec<DeviceLine>, passband: &Passband, mains_hz: f64) -> Vec<DeviceLine> {
    let places: Vec<f64> = added.iter().map(|found| found.line.freq_hz).collect();
    let mut kept: Vec<DeviceLine> = Vec::new();
    for found in added {
        let sideband_of = |parent: &DeviceLine| {
            let apart = found.line.freq_hz - parent.line.freq_hz;
            let order = (apart.abs() / mains_hz).round();
            let mirror = parent.line.freq_hz - apart;
            (1.0..=MOST_SIDEBANDS).contains(&order)
                && (apart.abs() - order * mains_hz).abs() < SIDEBAND_HZ
                && found.line.power < SIDEBAND_POWER * parent.line.power
                && (!passband.contains(mirror) || places.iter().any(|hz| (hz - mirror).abs() < 2.0 * SIDEBAND_HZ))
        };
        match kept.iter_mut().find(|parent| sideband_of(parent)) {
            Some(parent) => {
                parent.line.mains_sidebands = true;
                parent.added_power += found.added_power;
            }
            None => kept.push(found),
        }
    }
    kept
}

/// Takes out two equal lines that stand alone and as far apart as idling phase keying has them.
fn take_idling(added: &mut Vec<DeviceLine>) -> Option<[DeviceLine; 2]> {
    let apart = |a: usize, b: usize| distance(&added[a].line, &added[b].line);
    let mut pairs = (0..added.len()).flat_map(|b| (0..b).map(move |a| (a, b)));
    let (a, b) = pairs.find(|&(a, b)| {
        // The stronger one is first.
        let equal = added[a].added_power < IDLING_EQUAL * added[b].added_power;
        let keyed = IDLING_HZ.iter().any(|hz| (apart(a, b) - hz).abs() < IDLING_WITHIN_HZ);
        let beside = |other: usize| {
            other != a
                && other != b
                && added[other].added_power > IDLING_ALONE * added[b].added_power
                && apart(a, other).min(apart(b, other)) < 2.0 * apart(a, b)
        };
        equal && keyed && !(0..added.len()).any(beside)
    })?;
    let weaker = added.remove(b);
    Some([added.remove(a), weaker])
}

/// Lines that are steady in every recording of both states. A named one needs only to stand.
fn references(off: &[&Measurement], on: &[&Measurement], named_hz: Option<f64>) -> Vec<Reference> {
    let mut found: Vec<Reference> = Vec::new();
    if off.is_empty() {
        return found;
    }
    let all = || off.iter().chain(on);
    for line in all().flat_map(|m| &m.lines) {
        if found.iter().any(|known| (known.freq_hz - line.freq_hz).abs() < UNMOVED_HZ) {
            continue;
        }
        let named = named_hz.map(|hz| (hz - line.freq_hz).abs() < 2.0 * UNMOVED_HZ);
        if named == Some(false) || (named.is_none() && !is_reference(line)) {
            continue;
        }
        let level = |m: &&Measurement| {
            m.lines
                .iter()
                .filter(|other| named == Some(true) || may_be_reference(other))
                .find(|other| same(line, other, UNMOVED_HZ))
                .map(|other| in_db(other.power))
        };
        let Some(mut steps_db) = all().map(level).collect::<Option<Vec<f64>>>() else { continue };
        let before = mean(&steps_db[..off.len()]);
        steps_db.iter_mut().for_each(|level| *level -= before);
        found.push(Reference { freq_hz: line.freq_hz, shift_db: mean(&steps_db[off.len()..]), steps_db });
    }
    found
}

/// Whether a line is as strong and even as a reference must be in one of the states.
fn is_reference(line: &Line) -> bool {
    may_be_reference(line) && line.cnr_db_hz() > REFERENCE_CNR_DB_HZ && line.unevenness < REFERENCE_UNEVENNESS
}

/// Whether it may be the same reference where the noise is louder.
fn may_be_reference(line: &Line) -> bool {
    line.steady
        && line.presence > 0.95
        && line.cnr_db_hz() > REFERENCE_LEAST_CNR_DB_HZ
        && line.drift_hz_per_s.abs() < REFERENCE_DRIFT_HZ_PER_S
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use crate::contrast::{Character, Contrast, ContrastSettings, contrast};
    use crate::demo::synth::{Receiver, Scene};
    use crate::signal::measure::{MeasureSettings, Measurement};
    use crate::units::Dbfs;
    use crate::warning::Trust;

    /// 10 s of noise of such a level, with a sine at 1500 Hz whose amplitude is given over time, s.
    fn measured((noise_dbfs, amplitude): (f64, fn(f64) -> f64), seed: u64) -> Measurement {
        let noise = Scene::new(Receiver::ssb(12_000)).band_noise(Dbfs(noise_dbfs));
        let mut take = noise.seed(seed).render(10.0);
        for (n, x) in take.samples.iter_mut().enumerate() {
            let t = n as f64 / 12_000.0;
            *x += (amplitude(t) * (TAU * 1500.0 * t).sin()) as f32;
        }
        Measurement::of_samples(take.rate_hz, &take.samples, &MeasureSettings::default())
    }

    fn compared(off: (f64, fn(f64) -> f64), on: (f64, fn(f64) -> f64)) -> Contrast {
        contrast(&[&measured(off, 1)], &[&measured(on, 2)], &ContrastSettings::default())
    }

    /// By construction: a carrier that fades by 20 dB with the device off, and has there 9 dB less most of the time
    /// (the median of its powers), stands in both states.
    #[test]
    fn a_carrier_that_faded_in_the_off_state_is_not_the_devices() {
        let fading = |t: f64| 0.01 * (0.55 + 0.45 * (TAU * 0.3 * t).cos());
        let found = compared((-50.0, fading), (-50.0, |_| 0.015)).figures.expect("both can be measured");
        assert!(found.lines.added.is_empty(), "{:?}", found.lines.added);
        let alone = compared((-50.0, |_| 0.0), (-50.0, |_| 0.02)).figures.expect("both can be measured");
        assert_eq!(alone.verdict.character, Character::Carriers);
    }

    /// By construction: the noise is 4 dB lower with the device on, and a carrier stands there.
    #[test]
    fn a_carrier_needs_no_level_of_the_noise() {
        let found = compared((-46.0, |_| 0.0), (-50.0, |_| 0.01));
        assert_eq!(found.trust, Trust::Void);
        assert_eq!(found.figures.expect("both can be measured").verdict.character, Character::Carriers);
    }

    /// Source: phase reversals at 31.25 baud leave two equal lines as far apart (common practice; from memory). Two
    /// that stand 40 Hz apart are carriers.
    #[test]
    fn two_lines_of_idling_phase_keying_are_no_carriers() {
        let off = measured((-50.0, |_| 0.0), 1);
        let kind = |amplitude: fn(f64) -> f64| {
            let found = contrast(&[&off], &[&measured((-50.0, amplitude), 2)], &ContrastSettings::default());
            found.figures.expect("both can be measured").verdict
        };
        let idling = kind(|t| 0.02 * (TAU * 15.625 * t).cos());
        assert_eq!(idling.character, Character::Unclear);
        assert!(idling.evidence[0].contains("31.2"), "{:?}", idling.evidence);
        assert_eq!(kind(|t| 0.02 * (TAU * 20.0 * t).cos()).character, Character::Carriers);
    }
}
