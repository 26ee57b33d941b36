//! Then and now: reports of evenings months apart held against each other, from what stands in them alone. Here:
//! which evenings, in which order, and what each change is; `pairing` tells what may be compared, `floors` what
//! became of the band, `words` and `figure` are what is told of it.
//!
//! Each evening's excess stands over that evening's own noise with everything off. Evenings are independent, so the
//! half-widths of their intervals add in quadrature, each end with the end it is made of. Nothing is clipped at
//! 0 dB: a clipped interval would hold the truth less often than it says.

mod figure;
mod floors;
mod pairing;
pub mod result;
#[cfg(test)]
mod tests;
mod words;

use jiff::{SignedDuration, Timestamp};

use crate::contrast::comparison::{CombResult, ContrastResult};
use crate::findings::ladder::steps::{attenuation, bought};
use crate::report::contract::{Report, Tool};
use crate::report::stored::Stored;
use crate::report::words::{causes, is_note};
use crate::signal::recording_result::RecordingResult;
use crate::text::{and, capital, number};
use crate::units::Estimate;
use crate::warning::Code;
use floors::Floor;
use pairing::{Entry, Group, groups};
use result::{
    Change, Changes, CombChange, ComparedReport, Evening, FloorChange, NotCompared, OnlyIn, Shows, SpacingChange,
};

pub use words::{PICTURE, lines, markdown, page, picture};

/// Share of two passbands together that both must have, or the noise of other frequencies is compared. Chosen: the
/// edges found of one filter differ by some tens of hertz, a part that was asked for by half and more.
const COMMON_SHARE: f64 = 0.8;
/// A family's spacing moves when it moves by more than this, over one less than its number of lines, Hz. The place
/// of a line by itself is known so (`contrast::comb` takes lines within as much for members).
const LINE_PLACE_HZ: f64 = 2.0;

/// Why reports can't be held against each other.
#[derive(Debug, thiserror::Error)]
pub enum ChangesError {
    /// One report alone.
    #[error("only one report is named, and a change takes two. Nothing was written.")]
    OnlyOne,
    /// One evening twice.
    #[error(
        "{0} and {1} are of the same recordings, so nothing could have changed. Nothing was written.\n  try: the \
         reports of two evenings"
    )]
    SameEvening(String, String),
    /// A night's.
    #[error(
        "{0}: the report of a night. Compared are reports of the commands session and pair, which have a device off \
         and on. Nothing was written."
    )]
    Night(String),
    /// Nothing in it.
    #[error("{0}: this report has no comparison of on with off. Nothing was written.")]
    Empty(String),
}

impl Changes {
    /// Holds reports against each other, in order of time where all tell it, else as they were named.
    ///
    /// # Errors
    /// [`ChangesError`].
    pub fn of(mut stored: Vec<Stored>) -> Result<Self, ChangesError> {
        refuse(&stored)?;
        let starts: Vec<Option<Timestamp>> = stored.iter().map(|one| start(&one.report)).collect();
        if starts.iter().all(Option::is_some) {
            stored.sort_by_key(|one| start(&one.report));
        }
        let reports: Vec<&Report> = stored.iter().map(|one| &one.report).collect();
        let first = start(reports[0]);
        let compared: Vec<ComparedReport> = stored
            .iter()
            .enumerate()
            .map(|(at, one)| ComparedReport {
                number: at + 1,
                name: crate::labels::printable(&one.name),
                title: one.report.session.title.clone(),
                started: start(&one.report).map(|at| at.to_string()),
                days: first.zip(start(&one.report)).map(|(from, to)| days(from, to)),
            })
            .collect();
        let mut changes = Self {
            schema: 1,
            tool: Tool::this(),
            notes: notes(&reports, starts.iter().all(Option::is_some)),
            reports: compared,
            changes: Vec::new(),
            floors: Vec::new(),
            switching_combs: spacings(&reports),
            only_in: Vec::new(),
            not_compared: Vec::new(),
            figures: Vec::new(),
        };
        let groups = groups(&reports);
        for group in &groups {
            changes.take(group, &groups, &reports);
        }
        Ok(changes)
    }

    fn take(&mut self, group: &Group<'_>, all: &[Group<'_>], reports: &[&Report]) {
        let here = group.reports();
        if here.len() < 2 {
            match pairing::apart(group, all) {
                Some((number, why)) => self.apart(group.device(), here[0], number, why),
                None => group.entries.iter().for_each(|entry| self.alone(group, entry)),
            }
            return;
        }
        let series = group.series();
        for evenings in &series {
            let (then, now) = (evenings[0], evenings[evenings.len() - 1]);
            if let Some(why) = other_passband(then.contrast, now.contrast) {
                self.apart(group.device(), then.at.report, now.at.report, why);
                continue;
            }
            let floor = floors::change(
                &group.key,
                &Floor::of(reports[then.at.report - 1], then.at),
                &Floor::of(reports[now.at.report - 1], now.at),
            );
            let days = self.reports[then.at.report - 1].days.zip(self.reports[now.at.report - 1].days);
            let change = change(group, evenings, &floor, days.map(|(from, to)| to - from));
            self.changes.push(change);
            if !self.floors.contains(&floor) {
                self.floors.push(floor);
            }
        }
        let used =
            |entry: &Entry<'_>| series.iter().flatten().any(|other| std::ptr::eq(other.contrast, entry.contrast));
        // A device that was quietened in between is told by its last steps: the ones before are no loss.
        let told = |entry: &&Entry<'_>| !used(entry) && series.iter().all(|evenings| same_remedy(evenings));
        group.entries.iter().filter(told).for_each(|entry| self.alone(group, entry));
        let untold = group.key.untold();
        if !untold.is_empty() {
            let words = &group.key.words;
            let place = if words == pairing::UNLABELLED { String::new() } else { format!(" at {words}") };
            self.note(format!("No label tells {}{place}: taken to be the same", and(&untold)));
        }
        let absent = |number: &usize| !here.contains(number);
        for number in (1..=reports.len()).filter(absent) {
            self.note(format!("{} is not in report {number} at {}", capital(group.device()), group.key.words));
        }
    }

    /// What there is to know, once.
    fn note(&mut self, note: String) {
        if !self.notes.contains(&note) {
            self.notes.push(note);
        }
    }

    fn alone(&mut self, group: &Group<'_>, entry: &Entry<'_>) {
        self.only_in.push(OnlyIn {
            report: entry.at.report,
            device: group.device().to_owned(),
            remedy: entry.contrast.remedy.clone(),
            setting: group.key.words.clone(),
        });
    }

    fn apart(&mut self, device: &str, one: usize, other: usize, why: String) {
        let mut in_reports = vec![one, other];
        in_reports.sort_unstable();
        // Each of two settings finds the other.
        let known = |n: &NotCompared| n.device == device && n.in_reports == in_reports;
        if !self.not_compared.iter().any(known) {
            self.not_compared.push(NotCompared { device: device.to_owned(), in_reports, why });
        }
    }

    /// Figures rounded to what they are worth, no absolute path in any text; see [`Report::published`].
    #[must_use]
    pub fn published(&self) -> Self {
        super::publish::published(self)
    }

    /// As indented JSON with a line feed at the end.
    pub fn json(&self) -> String {
        super::publish::text(&self.published())
    }

    /// Whether every change has a figure that means something.
    pub fn is_whole(&self) -> bool {
        !self.changes.is_empty()
            && self.not_compared.is_empty()
            && self.changes.iter().all(|c| c.shows != Shows::NotTold)
    }
}

fn refuse(stored: &[Stored]) -> Result<(), ChangesError> {
    if stored.len() < 2 {
        return Err(ChangesError::OnlyOne);
    }
    for (at, one) in stored.iter().enumerate() {
        if one.report.night.is_some() {
            return Err(ChangesError::Night(one.name.clone()));
        }
        if one.report.contrasts.is_empty() {
            return Err(ChangesError::Empty(one.name.clone()));
        }
        let shared = |other: &&Stored| {
            let all = other.report.recordings.len();
            all == one.report.recordings.len() && in_common(&one.report, &other.report) == all
        };
        if let Some(twin) = stored[..at].iter().find(shared) {
            return Err(ChangesError::SameEvening(twin.name.clone(), one.name.clone()));
        }
    }
    Ok(())
}

/// Recordings that two reports have in common, by what was measured on them, whatever their names.
fn in_common(one: &Report, other: &Report) -> usize {
    let alike = |a: &RecordingResult, b: &RecordingResult| {
        let figures = |r: &RecordingResult| {
            [Some(r.duration_s), r.level_db, r.floor_db_per_hz, r.envelope_kurtosis, r.spectral_kurtosis]
        };
        // A file of silence measures like any other.
        a.level_db.is_some() && figures(a) == figures(b)
    };
    one.recordings.iter().filter(|a| other.recordings.iter().any(|b| alike(a, b))).count()
}

/// When the first recording began.
fn start(report: &Report) -> Option<Timestamp> {
    let read = |text: &String| text.parse().ok().or_else(|| format!("{text}Z").parse().ok());
    report.recordings.iter().filter_map(|r| r.started.as_ref().and_then(read)).min()
}

fn days(from: Timestamp, to: Timestamp) -> f64 {
    let apart: SignedDuration = to.duration_since(from);
    apart.as_secs_f64() / 86_400.0
}

fn notes(reports: &[&Report], is_in_time: bool) -> Vec<String> {
    let mut notes = Vec::new();
    if !is_in_time {
        notes.push(
            "Not every report tells when its recordings were made: then and now are in the order named".into(),
        );
    }
    for (at, one) in reports.iter().enumerate() {
        for (before, other) in reports[..at].iter().enumerate() {
            let count = in_common(one, other);
            if count > 0 {
                notes.push(format!(
                    "Reports {} and {} have recordings in common ({count}): they are not independent, and their \
                     intervals may be too wide or too narrow",
                    before + 1,
                    at + 1
                ));
            }
        }
    }
    notes
}

fn same_remedy(evenings: &[Entry<'_>]) -> bool {
    evenings.windows(2).all(|pair| pair[0].contrast.remedy == pair[1].contrast.remedy)
}

/// What keeps the passbands apart that the two figures are of.
fn other_passband(then: &ContrastResult, now: &ContrastResult) -> Option<String> {
    let ([a_low, a_high], [b_low, b_high]) = (then.passband_hz?, now.passband_hz?);
    let common = a_high.min(b_high) - a_low.max(b_low);
    let whole = a_high.max(b_high) - a_low.min(b_low);
    let hz = |low: f64, high: f64| format!("{} to {} Hz", number(low, 0), number(high, 0));
    let differ = common < COMMON_SHARE * whole;
    differ.then(|| format!("the passband differs: {} against {}", hz(a_low, a_high), hz(b_low, b_high)))
}

/// An excess with its interval, where both mean something.
fn estimate(c: &ContrastResult) -> Option<Estimate> {
    let [low, high] = c.excess_ci_db?;
    let value = c.excess_db?;
    (!c.is_void() && !c.is_too_wide()).then_some(Estimate { value, ci95: (low, high) })
}

fn change(group: &Group<'_>, evenings: &[Entry<'_>], floor: &FloorChange, days: Option<f64>) -> Change {
    let (then, now) = (&evenings[0], &evenings[evenings.len() - 1]);
    let (a, b) = (then.contrast, now.contrast);
    let told = |c: &ContrastResult| c.excess_db.filter(|_| !c.is_void() && !c.is_too_wide());
    let interval = |c: &ContrastResult| c.excess_ci_db.filter(|_| told(c).is_some());
    let difference = estimate(a).zip(estimate(b)).map(|(then, now)| bought(&now, &then, None).excess);
    let shows = match difference.map(Estimate::ends) {
        None => Shows::NotTold,
        Some([_, high]) if high < 0.0 => Shows::Less,
        Some([low, _]) if low > 0.0 => Shows::More,
        Some(_) => Shows::NoChange,
    };
    let own = Own::of(estimate(a), estimate(b), floor);
    Change {
        device: group.device().to_owned(),
        setting: group.key.words.clone(),
        then_report: then.at.report,
        now_report: now.at.report,
        days,
        then_remedy: a.remedy.clone(),
        now_remedy: b.remedy.clone(),
        then_db: told(a),
        then_ci_db: interval(a),
        now_db: told(b),
        now_ci_db: interval(b),
        change_db: difference.map(|d| d.value),
        change_ci_db: difference.map(Estimate::ends),
        shows,
        then_total_db: a.total_db(),
        now_total_db: b.total_db(),
        own_change_db: own.value,
        own_change_ci_db: own.ci,
        own_change_at_most_db: own.at_most,
        then_kind: a.character,
        now_kind: b.character,
        then_carriers: a.added_lines.len(),
        now_carriers: b.added_lines.len(),
        comb: a.comb.as_ref().zip(b.comb.as_ref()).map(|(then, now)| comb(then, now)),
        trust: a.trust.max(b.trust),
        reasons: reasons(then, now),
        series: evenings.iter().map(evening).collect(),
    }
}

fn evening(entry: &Entry<'_>) -> Evening {
    let c = entry.contrast;
    let means = !c.is_void() && !c.is_too_wide();
    Evening {
        report: entry.at.report,
        contrast: c.id.clone(),
        remedy: c.remedy.clone(),
        excess_db: c.excess_db.filter(|_| means),
        excess_ci_db: c.excess_ci_db.filter(|_| means),
        trust: c.trust,
    }
}

/// The change of a device's own power.
#[derive(Default)]
struct Own {
    value: Option<f64>,
    ci: Option<[f64; 2]>,
    at_most: Option<f64>,
}

impl Own {
    /// The excess tells the device's power over the band's, so what became of the band is added to it.
    fn of(then: Option<Estimate>, now: Option<Estimate>, floor: &FloorChange) -> Self {
        let Some((band, [band_low, band_high])) = floor.change_db.zip(floor.change_ci_db) else {
            return Self::default();
        };
        let Some(fall) = then.zip(now).and_then(|(then, now)| attenuation(&then, &now, 0.0)) else {
            return Self::default();
        };
        match fall.value.zip(fall.high) {
            Some((value, high)) => {
                let own = band - value;
                let (below, above) =
                    ((high - value).hypot(band - band_low), (value - fall.low).hypot(band_high - band));
                Self { value: Some(own), ci: Some([own - below, own + above]), at_most: None }
            }
            None => Self { at_most: Some(band_high - fall.low), ..Self::default() },
        }
    }
}

fn comb(then: &CombResult, now: &CombResult) -> CombChange {
    let place = |comb: &CombResult| LINE_PLACE_HZ / (comb.lines.max(2) - 1) as f64;
    CombChange {
        then_spacing_hz: then.spacing_hz,
        now_spacing_hz: now.spacing_hz,
        moved: (now.spacing_hz - then.spacing_hz).abs() > place(then).hypot(place(now)),
    }
}

/// What speaks against a change, in words with the number of the report.
fn reasons(then: &Entry<'_>, now: &Entry<'_>) -> Vec<String> {
    let mut found = Vec::new();
    for entry in [then, now] {
        let (c, number) = (entry.contrast, entry.at.report);
        if !c.is_unspoilt() {
            let why = causes(c.warnings.iter().filter(|w| !is_note(w.code)));
            let why = if why.is_empty() { String::new() } else { format!(" because of {}", and(&why)) };
            found.push(format!("report {number} is {}{why}", c.trust.word()));
        } else if c.is_too_wide() {
            found.push(format!("the interval of report {number} is too wide to tell anything"));
        } else if estimate(c).is_none() {
            found.push(format!("report {number} has no figure for it"));
        }
    }
    let is_unknown = |entry: &&&Entry<'_>| entry.contrast.warnings.iter().any(|w| w.code == Code::GainUnknown);
    let unknown =
        [then, now].iter().filter(is_unknown).map(|entry| entry.at.report.to_string()).collect::<Vec<_>>();
    if !unknown.is_empty() {
        let noun = if unknown.len() == 1 { "report" } else { "reports" };
        found.push(format!("in {noun} {} nothing shows that the gain was fixed", and(&unknown)));
    }
    if then.contrast.counts_clicks() != now.contrast.counts_clicks() {
        found.push(
            "one evening's figure is a mean over clicks and the quiet between them, the other's is not".into(),
        );
    }
    found
}

/// Families over the dial that two reports have of one device: the first and the last.
fn spacings(reports: &[&Report]) -> Vec<SpacingChange> {
    let mut found: Vec<SpacingChange> = Vec::new();
    for (at, report) in reports.iter().enumerate() {
        for then in &report.switching_combs {
            let is_same = |device: &str| crate::labels::same_words(device, &then.device);
            if found.iter().any(|known| is_same(&known.device)) {
                continue;
            }
            let later = reports.iter().enumerate().skip(at + 1).rev();
            let mut now = later.flat_map(|(n, r)| r.switching_combs.iter().map(move |comb| (n, comb)));
            let Some((number, now)) = now.find(|(_, comb)| is_same(&comb.device)) else { continue };
            let estimate = |value: f64, [low, high]: [f64; 2]| Estimate { value, ci95: (low, high) };
            let change = bought(
                &estimate(now.spacing_hz, now.spacing_ci_hz),
                &estimate(then.spacing_hz, then.spacing_ci_hz),
                None,
            )
            .excess;
            let [low, high] = change.ends();
            found.push(SpacingChange {
                device: then.device.clone(),
                then_report: at + 1,
                now_report: number + 1,
                then_spacing_hz: then.spacing_hz,
                then_spacing_ci_hz: then.spacing_ci_hz,
                now_spacing_hz: now.spacing_hz,
                now_spacing_ci_hz: now.spacing_ci_hz,
                change_hz: change.value,
                change_ci_hz: [low, high],
                moved: low > 0.0 || high < 0.0,
            });
        }
    }
    found
}
