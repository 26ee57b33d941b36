//! Carriers that stand in one recording, the family or the crowd they form, and the stations beside them. A carrier
//! may be a station's as well as a device's: one recording can't tell.

use crate::contrast::{Cluster, Comb, DeviceLine, LEAST_RESIDUAL_HZ, LineChanges};
use crate::signal::measure::Measurement;
use crate::signal::spectrum::Line;
use crate::signal::spectrum::statistics::{median, student_975};

/// Bins that stations hold lie no further apart than this within one station, Hz. Chosen: the gap between the two
/// tones of narrow keying is filled by its sidebands, and two stations stand further apart (common practice).
const ONE_STATION_HZ: f64 = 30.0;
/// A station holds so many bins beside each other, at least: one alone is noise that scatters. Chosen.
const LEAST_BINS: usize = 2;
/// How far beside a line its station's other tones stand, Hz, and how much of its power these have together.
/// Chosen: eight tones 6.25 Hz apart (common practice) have seven times what one of them has, the skirts of a
/// carrier nothing.
const AMID_HZ: f64 = 60.0;
const AMID: f64 = 0.5;
/// What a station's bins have over the noise, in times of what others have. Chosen: 2 dB, as for a bin that is
/// held.
const OVER_NEIGHBOURS: f64 = 1.6;
/// A recording shorter than this does not tell what comes and goes, s. Chosen: a dozen slices.
const LEAST_S: f64 = 3.0;

/// How sure that a line stands as a carrier does: shown at every moment; as far as can be told. And of a family, at
/// most. Held by `tests/description`.
const SHOWN: f64 = 0.95;
const PERHAPS: f64 = 0.6;
const FAMILY: f64 = 0.97;

/// Carriers and stations of a recording.
#[derive(Debug, Clone, PartialEq)]
pub struct Lines {
    /// Steady lines, strongest first.
    pub carriers: Vec<DeviceLine>,
    /// Of each, whether it may be a part of a keyed station: it rises and falls with its neighbours, or stands amid
    /// power that does not stand.
    pub of_a_station: Vec<bool>,
    /// The family some of them form.
    pub comb: Option<Family>,
    /// A crowd too dense to be told one by one.
    pub cluster: Option<Cluster>,
    /// Signals that key, hop, fade or speak.
    pub stations: usize,
    /// Whether signals hold much of the passband, now and then at least: voices, or many stations.
    pub crowded: bool,
}

/// A family of carriers at one spacing.
#[derive(Debug, Clone, PartialEq)]
pub struct Family {
    /// Its members are places among the carriers.
    pub comb: Comb,
    /// 95 % interval of the spacing.
    pub spacing_ci_hz: [f64; 2],
}

impl Lines {
    /// Of one recording. `mains_hz`: mains frequency, for sidebands.
    pub fn of(measurement: &Measurement, mains_hz: f64) -> Self {
        let crowded = measurement.has_voice();
        let Some(passband) = measurement.passband else {
            return Self {
                carriers: Vec::new(),
                of_a_station: vec![],
                comb: None,
                cluster: None,
                stations: 0,
                crowded,
            };
        };
        let found = LineChanges::of(&[], &[measurement], &passband, mains_hz, None);
        let cluster = Cluster::find(&[], &[measurement], &passband, 1.0, &found);
        let comb = found.comb.map(|comb| Family { spacing_ci_hz: spacing_ci_hz(&comb, &found.added), comb });
        let stations = stations(measurement, cluster.as_ref());
        let of_a_station =
            found.added.iter().map(|one| one.line.beats || stands_amid(measurement, &one.line)).collect();
        Self { carriers: found.added, of_a_station, comb, cluster, stations, crowded }
    }

    /// Places of the carriers beside the family that are no station's.
    fn single(&self) -> impl Iterator<Item = usize> {
        let alone = |place: &usize| self.comb.as_ref().is_none_or(|family| !family.comb.members.contains(place));
        (0..self.carriers.len()).filter(alone).filter(|&place| !self.of_a_station[place])
    }

    /// Whether carriers stand beside the family, or without one.
    pub fn has_single_carriers(&self) -> bool {
        self.cluster.is_some() || self.single().next().is_some()
    }

    /// How sure of single carriers, 0..1.
    pub fn confidence_of_carriers(&self) -> f64 {
        let shown = self.single().any(|place| self.carriers[place].sure);
        if shown || self.cluster.is_some() { SHOWN } else { PERHAPS }
    }

    /// How sure of the family, 0..1.
    pub fn confidence_of_comb(&self) -> f64 {
        self.comb.as_ref().map_or(0.0, |family| (1.0 - family.comb.chance).clamp(0.0, FAMILY))
    }
}

/// Whether beside a line there is power that belongs to no steady line: its station's other tones, as it seems.
fn stands_amid(measurement: &Measurement, line: &Line) -> bool {
    let (bin_hz, slices) = (measurement.slices.bin_hz, &measurement.slices);
    let lobe_hz = 3.0 * bin_hz;
    let steady = |hz: f64| {
        let of = |l: &&Line| (l.span_hz.0 - lobe_hz..=l.span_hz.1 + lobe_hz).contains(&hz);
        measurement.lines.iter().filter(|l| l.steady).any(|l| of(&l))
    };
    let (first, last) =
        (slices.bin_of((line.span_hz.0 - AMID_HZ).max(0.0)), slices.bin_of(line.span_hz.1 + AMID_HZ));
    let beside: f64 = (first..=last.min(slices.bins - 1))
        .filter(|&k| !steady(k as f64 * bin_hz))
        .filter_map(|k| Some((slices.mean[k] - measurement.floor.get(k)?).max(0.0) * bin_hz))
        .sum();
    beside > AMID * line.power
}

/// From the regression of the members' places on their numbers.
fn spacing_ci_hz(comb: &Comb, carriers: &[DeviceLine]) -> [f64; 2] {
    let members = comb.members.iter().map(|&member| carriers[member].line.freq_hz);
    let placed: Vec<(f64, f64)> = members
        .map(|hz| {
            let number = ((hz - comb.offset_hz) / comb.spacing_hz).round();
            (number, hz - comb.offset_hz - number * comb.spacing_hz)
        })
        .collect();
    let n = placed.len() as f64;
    let middle = placed.iter().map(|(number, _)| number).sum::<f64>() / n;
    let spread: f64 = placed.iter().map(|(number, _)| (number - middle).powi(2)).sum();
    let free = (n - 2.0).max(1.0);
    let scatter = (placed.iter().map(|(_, off)| off * off).sum::<f64>() / free).sqrt().max(LEAST_RESIDUAL_HZ);
    let half = student_975(free) * scatter / spread.sqrt();
    [comb.spacing_hz - half, comb.spacing_hz + half]
}

/// Signals of stations: stretches of bins that are held now and then or most of the time, and lines that do not
/// stand.
fn stations(measurement: &Measurement, crowd: Option<&Cluster>) -> usize {
    let (bin_hz, lines) = (measurement.slices.bin_hz, &measurement.lines);
    let steady = |hz: f64| {
        let lobe_hz = 3.0 * bin_hz;
        lines.iter().any(|l| l.steady && (l.span_hz.0 - lobe_hz..=l.span_hz.1 + lobe_hz).contains(&hz))
    };
    // Crashes and bursts make every bin come and go: a station's hold more than its neighbours.
    let over = |k: usize| measurement.slices.mean[k] / measurement.floor[k].max(f64::MIN_POSITIVE);
    let inside = measurement.passband.map_or(0..0, |passband| passband.bins(bin_hz, measurement.slices.bins));
    let mut all: Vec<f64> = inside.map(over).collect();
    if measurement.duration_s < LEAST_S || all.is_empty() {
        return 0;
    }
    let usual = median(&mut all);
    let held: Vec<usize> = (0..measurement.occupied.len())
        .filter(|&k| measurement.occupied[k] && !steady(k as f64 * bin_hz))
        .collect();
    let in_crowd = |hz: f64| crowd.is_some_and(|crowd| (crowd.span_hz.0..=crowd.span_hz.1).contains(&hz));
    let held: Vec<usize> = held.into_iter().filter(|&k| !in_crowd(k as f64 * bin_hz)).collect();
    let gap = (ONE_STATION_HZ / bin_hz) as usize;
    let mut spans: Vec<(f64, f64)> = held
        .chunk_by(|a, b| b - a <= gap.max(1))
        .filter(|group| group.len() >= LEAST_BINS)
        .filter(|group| group.iter().map(|&k| over(k)).sum::<f64>() > OVER_NEIGHBOURS * usual * group.len() as f64)
        .map(|group| (group[0] as f64 * bin_hz, group[group.len() - 1] as f64 * bin_hz))
        .collect();
    for Line { span_hz, .. } in lines.iter().filter(|line| !line.steady && !in_crowd(line.freq_hz)) {
        let near = |span: &&(f64, f64)| span_hz.0 - ONE_STATION_HZ < span.1 && span.0 < span_hz.1 + ONE_STATION_HZ;
        if !spans.iter().any(|span| near(&span)) {
            spans.push(*span_hz);
        }
    }
    spans.len()
}
