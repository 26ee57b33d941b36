//! What the weeks take from one night's report; the rest of it is let go, so that a year takes little room. Not here:
//! which sources of two nights are one (`matching`).

use jiff::Timestamp;

use crate::contrast::Character;
use crate::findings::known_noise::Signature;
use crate::night::Clock;
use crate::night::result::{Episode, NightFacts, Source};
use crate::report::contract::Report;
use crate::report::stored::Stored;
use crate::warning::Trust;

/// A recording that stands alone is searched from this length on, s: as the command night has it.
const SEARCHED_FROM_S: f64 = 60.0;

/// One night, as far as the weeks need it. Times are seconds since 1970, by its clock taken as UTC.
#[derive(Debug, Clone)]
pub struct Night {
    pub(super) name: String,
    pub(super) station: Option<String>,
    pub(super) clock: Clock,
    /// Stretches recorded, in order and apart.
    pub(super) recorded: Vec<Span>,
    pub(super) minutes: Vec<Minute>,
    pub(super) sources: Vec<HeardSource>,
    pub(super) tells_sources: bool,
}

/// Begin and end.
pub(super) type Span = (f64, f64);

/// Noise level of a minute, stations kept out.
#[derive(Debug, Clone, Copy)]
pub(super) struct Minute {
    pub(super) at: f64,
    pub(super) low: f32,
    pub(super) median: f32,
    pub(super) high: f32,
    pub(super) busy: f32,
}

/// A source of that night.
#[derive(Debug, Clone)]
pub(super) struct HeardSource {
    pub(super) id: String,
    pub(super) character: Character,
    pub(super) known: Option<String>,
    pub(super) signature: Option<Signature>,
    pub(super) excess_db: Option<f64>,
    pub(super) comings: Vec<Heard>,
}

/// One time that it was there.
#[derive(Debug, Clone)]
pub(super) struct Heard {
    pub(super) span: Span,
    pub(super) from_before: bool,
    pub(super) until_after: bool,
    pub(super) excess_db: Option<f64>,
    pub(super) excess_ci_db: Option<[f64; 2]>,
    pub(super) trust: Trust,
}

impl Night {
    /// What the weeks need of a report.
    ///
    /// # Errors
    /// Words: why it is no night that can be used.
    pub fn of(stored: &Stored) -> Result<Self, String> {
        let report = &stored.report;
        let Some(facts) = &report.night else {
            return Err("is no night's report; the command night makes them".to_owned());
        };
        let origin = seconds(&facts.start).ok_or_else(|| edited("its start is no time"))?;
        let recorded = recorded(facts, origin);
        if recorded.is_empty() {
            return Err("has no recording of a minute or more".to_owned());
        }
        let minutes = facts.minutes.iter().map(|minute| Minute {
            at: origin + minute.at_s,
            low: minute.low_dbfs as f32,
            median: minute.median_dbfs as f32,
            high: minute.high_dbfs as f32,
            busy: minute.busy_share as f32,
        });
        let sources = report.sources.iter().map(|source| heard(source, report, origin));
        Ok(Self {
            name: crate::labels::printable(&stored.name),
            station: report.session.station.clone(),
            clock: facts.clock,
            recorded,
            minutes: minutes.filter(|minute| minute.at.is_finite() && minute.median.is_finite()).collect(),
            sources: sources.collect::<Result<Vec<_>, String>>()?,
            tells_sources: !report.sources.is_empty() || report.episodes.is_empty(),
        })
    }

    pub(super) fn start(&self) -> f64 {
        self.recorded.first().map_or(0.0, |span| span.0)
    }

    pub(super) fn end(&self) -> f64 {
        self.recorded.last().map_or(0.0, |span| span.1)
    }

    /// Takes away what other nights have recorded already: `taken`, in order and apart.
    pub(super) fn without(&mut self, taken: &[Span]) {
        let free = |span: Span| less(span, taken);
        self.recorded = self.recorded.iter().flat_map(|span| free(*span)).collect();
        let is_free = |at: f64| !taken.iter().any(|span| span.0 <= at && at < span.1);
        self.minutes.retain(|minute| is_free(minute.at));
        for source in &mut self.sources {
            let cut = |heard: &Heard| {
                let pieces = free(heard.span).into_iter().map(|span| Heard {
                    span,
                    from_before: heard.from_before || span.0 > heard.span.0,
                    until_after: heard.until_after || span.1 < heard.span.1,
                    ..heard.clone()
                });
                pieces.collect::<Vec<_>>()
            };
            source.comings = source.comings.iter().flat_map(cut).collect();
        }
        self.sources.retain(|source| !source.comings.is_empty());
    }
}

fn edited(what: &str) -> String {
    format!("{what}: it was edited")
}

fn recorded(facts: &NightFacts, origin: f64) -> Vec<Span> {
    let spans = facts.recordings.iter().map(|r| (origin + r.start_s, origin + r.start_s + r.duration_s));
    let mut spans = joined(spans.filter(|(from, to)| from.is_finite() && to.is_finite()).collect());
    spans.retain(|(from, to)| to - from >= SEARCHED_FROM_S);
    spans
}

fn heard(source: &Source, report: &Report, origin: f64) -> Result<HeardSource, String> {
    let coming = |number: &usize| -> Result<Heard, String> {
        let episode: &Episode = number
            .checked_sub(1)
            .and_then(|at| report.episodes.get(at))
            .ok_or_else(|| edited(&format!("its source {} names an episode it does not have", source.id)))?;
        let span = (origin + episode.start_s, origin + episode.end_s);
        let is_whole = span.0.is_finite() && span.1 >= span.0 && span.1.is_finite();
        if !is_whole {
            return Err(edited(&format!("episode {number} ends before it begins")));
        }
        let means = !episode.contrast.is_void();
        Ok(Heard {
            span,
            from_before: episode.from_before,
            until_after: episode.until_after,
            excess_db: episode.quiet_excess_db.filter(|_| means),
            excess_ci_db: episode.quiet_excess_ci_db.filter(|_| means),
            trust: episode.contrast.trust,
        })
    };
    Ok(HeardSource {
        id: source.id.clone(),
        character: source.character,
        known: source.known.clone(),
        signature: source.signature.clone().filter(Signature::is_sane),
        excess_db: source.excess_db.filter(|_| source.trust != Trust::Void),
        comings: source.episodes.iter().map(coming).collect::<Result<Vec<_>, _>>()?,
    })
}

/// Spans in order, those that meet or overlap as one.
pub(super) fn joined(mut spans: Vec<Span>) -> Vec<Span> {
    // A second's rounding of start and length is no gap.
    const MEETS_S: f64 = 2.0;
    spans.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut whole: Vec<Span> = Vec::new();
    for (from, to) in spans {
        match whole.last_mut() {
            Some(last) if from <= last.1 + MEETS_S => last.1 = last.1.max(to),
            _ => whole.push((from, to)),
        }
    }
    whole
}

/// A span without others, which are in order and apart.
fn less((mut from, to): Span, taken: &[Span]) -> Vec<Span> {
    let mut left = Vec::new();
    for gone in taken {
        if gone.1 <= from || gone.0 >= to {
            continue;
        }
        if gone.0 > from {
            left.push((from, gone.0));
        }
        from = from.max(gone.1);
    }
    if from < to {
        left.push((from, to));
    }
    left
}

/// Seconds since 1970; without an offset as if it were UTC.
pub(super) fn seconds(text: &str) -> Option<f64> {
    let at: Timestamp = text.parse().ok().or_else(|| format!("{text}Z").parse().ok())?;
    Some(at.as_second() as f64)
}

/// RFC 3339, without `Z` by the recorder's clock.
pub(super) fn told(at: f64, clock: Clock) -> String {
    let text = Timestamp::from_second(at.round() as i64).unwrap_or_default().to_string();
    match clock {
        Clock::Local => text.trim_end_matches('Z').to_owned(),
        Clock::Utc | Clock::Mixed => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_taken_is_cut_out() {
        assert_eq!(less((0.0, 10.0), &[(-5.0, 1.0), (3.0, 4.0), (9.0, 20.0)]), [(1.0, 3.0), (4.0, 9.0)]);
        assert_eq!(less((0.0, 10.0), &[(0.0, 10.0)]), Vec::<Span>::new());
        assert_eq!(less((0.0, 10.0), &[(20.0, 30.0)]), [(0.0, 10.0)]);
        assert_eq!(joined(vec![(5.0, 6.0), (0.0, 2.0), (1.0, 4.0)]), [(0.0, 6.0)]);
    }
}
