//! A table of conditions (rain, heating, neighbours away), and which sources go with which.
//!
//! Table: `from,until,word`, a line each. Where `until` is empty the word holds until the next line that leaves it
//! empty too, the last one to the end. The table covers the time from its first `from` to its last `until`.

use std::ops::Range;

use rand::RngExt;
use rand::seq::SliceRandom;

use super::chance::{drawn, memory};
use super::grid::{BINS, Cells, Raster, sum};
use super::night::{Span, joined, seconds};
use crate::labels::printable;
use crate::night::Clock;
use crate::signal::spectrum::statistics::student_975;
use crate::text::count;

/// A table is some kilobytes (chosen: many times a year of hours).
pub const MOST_BYTES: u64 = 1 << 22;
/// Words of a table at most. Chosen: each is one more to be tried with every source.
const MOST_WORDS: usize = 40;
/// Wrong lines that are named at once (chosen: a screen's corner).
const NAMED_LINES: usize = 5;
/// Days with a condition, and days without. Chosen: fewer tell nothing.
const LEAST_DAYS: usize = 3;
/// Blocks of days that can be dealt anew. Chosen: 6! orders; fewer blocks can't show a small chance.
const LEAST_BLOCKS: usize = 6;
/// How it is said that a condition is another one's opposite.
pub(super) const OPPOSITE_OF: &str = "the opposite of ";
/// Of a half hour, a part this small is rounding.
const LEAST_PART: f64 = 1e-6;
/// Memories in a block: what is estimated from a month is too short. Chosen with the bench of weeks, seeds 1001 to
/// 1060, in which spells of days seemed to go with each other.
const MEMORIES: f64 = 2.0;
/// Days in a block at least. Chosen: a spell of rain passes midnight.
const LEAST_BLOCK: usize = 2;

/// The conditions of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Conditions {
    pub(super) words: Vec<(String, Vec<Span>)>,
    pub(super) covered: Span,
}

/// Why a table can't be read: the lines that are wrong.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}", lines.join("\n  "))]
pub struct ConditionsError {
    lines: Vec<String>,
}

struct Line {
    from: f64,
    until: Option<f64>,
    word: String,
}

impl Conditions {
    /// Reads a table for nights of one clock. Times without an offset are that clock's.
    ///
    /// # Errors
    /// [`ConditionsError`]: lines that can't be read, or none at all.
    pub fn read(text: &str, clock: Clock) -> Result<Self, ConditionsError> {
        let rows = text.lines().enumerate().map(|(at, line)| (at + 1, line.trim().trim_start_matches('\u{feff}')));
        let mut rows = rows.filter(|(_, line)| !line.is_empty() && !line.starts_with('#')).peekable();
        let delimiter = if rows.peek().is_some_and(|(_, line)| line.contains(';')) { b';' } else { b',' };
        if rows.peek().is_some_and(|(_, line)| line.to_ascii_lowercase().starts_with("from")) {
            rows.next();
        }
        let (mut lines, mut wrong) = (Vec::new(), Vec::new());
        for (number, row) in rows {
            match line(row, delimiter, clock) {
                Ok(line) => lines.push(line),
                Err(why) => wrong.push(format!("line {number}: {why}")),
            }
        }
        if lines.is_empty() && wrong.is_empty() {
            wrong
                .push("holds no line `from,until,word`, such as 2026-03-02 14:00,2026-03-02 18:30,rain".to_owned());
        }
        let words = crate::text::each_once(lines.iter().map(|line| line.word.clone()));
        if words.len() > MOST_WORDS {
            wrong.push(format!("{} different words, and at most {MOST_WORDS} can be tried", words.len()));
        }
        if !wrong.is_empty() {
            let more = wrong.len().saturating_sub(NAMED_LINES);
            wrong.truncate(NAMED_LINES);
            if more > 0 {
                wrong.push(format!("and {more} more"));
            }
            return Err(ConditionsError { lines: wrong });
        }
        lines.sort_by(|a, b| a.from.total_cmp(&b.from));
        let until = |at: usize| {
            lines[at].until.unwrap_or_else(|| {
                let next = lines[at + 1..].iter().find(|line| line.until.is_none() && line.from > lines[at].from);
                next.map_or(f64::INFINITY, |line| line.from)
            })
        };
        let spans: Vec<Span> = (0..lines.len()).map(|at| (lines[at].from, until(at))).collect();
        let covered = spans
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |all, span| (all.0.min(span.0), all.1.max(span.1)));
        let of = |word: &String| {
            let own = lines.iter().zip(&spans).filter(|(line, _)| line.word == *word);
            joined(own.map(|(_, span)| *span).collect())
        };
        Ok(Self { words: words.iter().map(|word| (word.clone(), of(word))).collect(), covered })
    }

    /// Ends where the last night ends, so that nothing lasts for ever.
    pub(super) fn until(mut self, end: f64) -> Self {
        self.covered.1 = self.covered.1.min(end);
        let spans = self.words.iter_mut().flat_map(|(_, spans)| spans);
        spans.for_each(|span| span.1 = span.1.min(end));
        self
    }
}

fn line(row: &str, delimiter: u8, clock: Clock) -> Result<Line, String> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .delimiter(delimiter)
        .from_reader(row.as_bytes());
    let record = reader.records().next().and_then(Result::ok).unwrap_or_default();
    let cells: Vec<&str> = record.iter().collect();
    let (from, until, word) = match cells.as_slice() {
        [from, until, word] => (*from, *until, *word),
        _ => {
            let found = count(cells.len(), "field", "fields");
            return Err(format!("{found}, where there must be three: from, until, word"));
        }
    };
    if word.is_empty() {
        return Err("no word of what held".to_owned());
    }
    let from = time(from, clock)?;
    let until = if until.is_empty() { None } else { Some(time(until, clock)?) };
    if until.is_some_and(|until| until <= from) {
        return Err("ends before it begins".to_owned());
    }
    Ok(Line { from, until, word: printable(word).trim().to_lowercase() })
}

fn time(text: &str, clock: Clock) -> Result<f64, String> {
    let no_time = || format!("'{}' is no time; write it such as 2026-03-14 21:30", printable(text));
    let whole = text.replacen(' ', "T", 1);
    // With a date alone, midnight.
    let whole = if whole.len() == 10 { format!("{whole}T00:00") } else { whole };
    let zoned = whole.parse::<jiff::Timestamp>().is_ok();
    if zoned && clock != Clock::Utc {
        return Err(format!(
            "'{}' has an offset from UTC, and the nights' times have none: write it by the recorder's clock",
            printable(text)
        ));
    }
    let at = if zoned { seconds(&whole) } else { whole.parse().ok().and_then(civil) };
    at.ok_or_else(no_time)
}

fn civil(at: jiff::civil::DateTime) -> Option<f64> {
    Some(jiff::tz::Offset::UTC.to_timestamp(at).ok()?.as_second() as f64)
}

/// A condition on the raster.
pub(super) struct Held {
    /// Share of each cell's recorded time in which it held.
    with: Vec<Cells>,
    /// Share that the table covers.
    covered: Vec<Cells>,
    pub(super) with_s: f64,
    pub(super) without_s: f64,
    pub(super) why_not: Option<String>,
    /// Place of the condition that held whenever this one did not.
    pub(super) opposite: Option<usize>,
}

impl Held {
    fn part(&self, rows: Range<usize>) -> Self {
        Self {
            with: self.with[rows.clone()].to_vec(),
            covered: self.covered[rows].to_vec(),
            why_not: self.why_not.clone(),
            ..*self
        }
    }
}

/// The conditions on the raster; what can't be tried says why.
pub(super) fn held(conditions: &Conditions, raster: &Raster, recorded: &[Span]) -> Vec<Held> {
    let shares = |spans: &[Span]| {
        let both = spans.iter().flat_map(|span| within(*span, recorded));
        let mut cells = raster.cells(both);
        for (cells, recorded) in cells.iter_mut().zip(&raster.recorded) {
            (0..BINS)
                .for_each(|bin| cells[bin] = if recorded[bin] > 0.0 { cells[bin] / recorded[bin] } else { 0.0 });
        }
        cells
    };
    let covered = shares(&[conditions.covered]);
    let length = |spans: &[Span]| -> f64 {
        spans.iter().flat_map(|span| within(*span, recorded)).map(|(from, to)| to - from).sum()
    };
    let covered_s = length(&[conditions.covered]);
    let mut all: Vec<Held> = Vec::new();
    for (_, spans) in &conditions.words {
        let with = shares(spans);
        let with_s = length(spans);
        let without_s = (covered_s - with_s).max(0.0);
        let mut one = Held { with, covered: covered.clone(), with_s, without_s, why_not: None, opposite: None };
        let days = |of: &dyn Fn(usize, usize) -> f64| -> usize {
            let day =
                |row: &usize| (0..BINS).map(|bin| of(*row, bin) * raster.recorded[*row][bin]).sum::<f64>() > 0.0;
            (0..raster.len()).filter(day).count()
        };
        let with_days = days(&|row, bin| one.with[row][bin]);
        let without_days = days(&|row, bin| one.covered[row][bin] - one.with[row][bin]);
        one.why_not = if with_days < LEAST_DAYS || without_days < LEAST_DAYS {
            let which = if with_days < LEAST_DAYS { "it held" } else { "it did not hold" };
            Some(format!("recorded on fewer than {LEAST_DAYS} days on which {which}"))
        } else {
            let opposite = |(place, other): (usize, &Held)| {
                let differs = |row: usize| {
                    (0..BINS)
                        .any(|bin| (one.with[row][bin] + other.with[row][bin] - covered[row][bin]).abs() > 1e-6)
                };
                (!(0..raster.len()).any(differs)).then_some(place)
            };
            one.opposite = all.iter().enumerate().find_map(opposite);
            one.opposite.map(|place| format!("{OPPOSITE_OF}{}", conditions.words[place].0))
        };
        if let Some(place) = one.opposite {
            all[place].opposite = Some(all.len());
        }
        all.push(one);
    }
    all
}

fn within(span: Span, recorded: &[Span]) -> Vec<Span> {
    let both = recorded.iter().map(|other| (span.0.max(other.0), span.1.min(other.1)));
    both.filter(|(from, to)| from < to).collect()
}

/// What a source and a condition have to do with each other.
#[derive(Clone, Copy)]
pub(super) struct TriedPair {
    pub(super) share_with: f64,
    pub(super) share_without: f64,
    pub(super) effect: f64,
    pub(super) effect_ci: Option<[f64; 2]>,
    /// `None`: too few blocks of days.
    pub(super) chance: Option<f64>,
    /// Days with the condition, and without.
    pub(super) days: [Days; 2],
}

/// Days on which a condition held, or did not, for some of the time recorded.
#[derive(Clone, Copy)]
pub(super) struct Days {
    pub(super) all: usize,
    /// Those on which the source was on meanwhile.
    pub(super) on: usize,
}

impl TriedPair {
    /// The same of the opposite condition.
    pub(super) fn turned(&self) -> Self {
        Self {
            share_with: self.share_without,
            share_without: self.share_with,
            effect: -self.effect,
            effect_ci: self.effect_ci.map(|[low, high]| [-high, -low]),
            chance: self.chance,
            days: [self.days[1], self.days[0]],
        }
    }
}

/// How much more a source is on with a condition than without, time of day taken off, and the chance of it.
///
/// Chance is how often the two differ as much once the condition's days are dealt anew in blocks, so that the hours
/// of a day stay what they are, and days that go on with a spell stay together. A block is as long as the shorter
/// memory of the two, since it is enough that one of them does not remember. The interval is the jackknife's over
/// the same blocks. Source: H. R. Künsch, Annals of Statistics 17, 1217, 1989, for blocks; dealing them anew is
/// common practice. `rows`: the days on which the source was about; one that went for good stays away in any weather.
pub(super) fn together(all: &Raster, on: &[Cells], held: &Held, rows: Range<usize>, seed: u64) -> TriedPair {
    let raster = &all.part(rows.clone());
    let (on, held) = (&on[rows.clone()], &held.part(rows));
    let profile = raster.profile(on);
    let days = raster.len();
    // Seconds on over those that its hours lead to expect.
    let rest: Vec<Cells> = (0..days)
        .map(|row| std::array::from_fn(|bin| on[row][bin] - profile[bin] * raster.recorded[row][bin]))
        .collect();
    // Sums with and without, of the rest and of the time recorded: a source's day beside a condition's.
    let beside = |source: usize, condition: usize| -> [f64; 4] {
        let mut sums = [0.0; 4];
        let (with, covered) = (&held.with[condition], &held.covered[condition]);
        for bin in 0..BINS {
            let (recorded, rest) = (raster.recorded[source][bin], rest[source][bin]);
            sums[0] += with[bin] * rest;
            sums[1] += (covered[bin] - with[bin]) * rest;
            sums[2] += with[bin] * recorded;
            sums[3] += (covered[bin] - with[bin]) * recorded;
        }
        sums
    };
    let effect = |sums: [f64; 4]| -> Option<f64> {
        (sums[2] > 0.0 && sums[3] > 0.0).then(|| sums[0] / sums[2] - sums[1] / sums[3])
    };
    let add = |all: [f64; 4], one: [f64; 4]| std::array::from_fn(|i| all[i] + one[i]);
    let each: Vec<[f64; 4]> = (0..days).map(|day| beside(day, day)).collect();
    let all = each.iter().copied().fold([0.0; 4], add);
    let found = effect(all).unwrap_or(0.0);
    let block = block(raster, &rest, held);
    let blocks = days.div_ceil(block);
    let chance = (blocks >= LEAST_BLOCKS).then(|| {
        let mut order: Vec<usize> = (0..blocks).collect();
        drawn(found.abs(), seed, |rng| {
            order.shuffle(rng);
            let by = rng.random_range(0..days);
            let dealt = order.iter().flat_map(|at| at * block..((at + 1) * block).min(days));
            let sums = dealt
                .enumerate()
                .fold([0.0; 4], |all, (source, day)| add(all, beside((source + by) % days, (day + by) % days)));
            effect(sums).map_or(0.0, f64::abs)
        })
    });
    let left_out: Vec<f64> = each
        .chunks(block)
        .filter_map(|gone| {
            let gone = gone.iter().copied().fold([0.0; 4], add);
            effect(std::array::from_fn(|i| all[i] - gone[i]))
        })
        .collect();
    let n = left_out.len() as f64;
    let effect_ci = (left_out.len() >= LEAST_BLOCKS).then(|| {
        let mean = left_out.iter().sum::<f64>() / n;
        let square: f64 = left_out.iter().map(|value| (value - mean).powi(2)).sum();
        let reach = student_975(n - 1.0) * ((n - 1.0) / n * square).sqrt();
        [(found - reach).max(-1.0), (found + reach).min(1.0)]
    });
    let share = |shares: &dyn Fn(usize, usize) -> f64, all_s: f64| {
        let day = |row: usize| (0..BINS).map(|bin| shares(row, bin) * on[row][bin]).sum::<f64>();
        if all_s > 0.0 { (0..days).map(day).sum::<f64>() / all_s } else { 0.0 }
    };
    let [_, _, with_s, without_s] = all;
    let with = |row: usize, bin: usize| held.with[row][bin];
    let without = |row: usize, bin: usize| held.covered[row][bin] - held.with[row][bin];
    let days_of = |shares: &dyn Fn(usize, usize) -> f64| {
        let on_some = |cells: &[Cells]| {
            let has = |row: &usize| (0..BINS).any(|bin| shares(*row, bin) > LEAST_PART && cells[*row][bin] > 0.0);
            (0..days).filter(has).count()
        };
        Days { all: on_some(&raster.recorded), on: on_some(on) }
    };
    TriedPair {
        share_with: share(&with, with_s),
        share_without: share(&without, without_s),
        days: [days_of(&with), days_of(&without)],
        effect: found,
        effect_ci,
        chance,
    }
}

/// Days in a block.
fn block(raster: &Raster, rest: &[Cells], held: &Held) -> usize {
    let of_day = |of: &dyn Fn(usize) -> f64| -> Vec<f64> {
        (0..raster.len()).map(|row| of(row) / sum(&raster.recorded[row]).max(1.0)).collect()
    };
    let source = of_day(&|row| sum(&rest[row]));
    let condition =
        of_day(&|row| (0..BINS).map(|bin| held.with[row][bin] * raster.recorded[row][bin]).sum::<f64>());
    let shorter = memory(&source).min(memory(&condition));
    ((MEMORIES * shorter).ceil() as usize).max(LEAST_BLOCK)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_is_read_and_its_wrong_lines_are_named() {
        let text = "from;until;word\n# weather\n2026-03-02 14:00;;rain\n2026-03-02T18:30;;Dry\n\
                    2026-03-03;2026-03-05 12:00;neighbours away\n2026-03-04 01:00;;rain\n";
        let read = Conditions::read(text, Clock::Local).unwrap().until(seconds("2026-03-06T00:00:00").unwrap());
        let at = |text: &str| seconds(&format!("2026-03-{text}:00")).unwrap();
        assert_eq!(
            read.words[0],
            ("rain".to_owned(), vec![(at("02T14:00"), at("02T18:30")), (at("04T01:00"), at("06T00:00"))])
        );
        assert_eq!(read.words[1].1, vec![(at("02T18:30"), at("04T01:00"))]);
        assert_eq!(read.words[2], ("neighbours away".to_owned(), vec![(at("03T00:00"), at("05T12:00"))]));
        assert_eq!(read.covered, (at("02T14:00"), at("06T00:00")));
        for (text, why) in [
            ("", "holds no line"),
            ("from,until,word\n", "holds no line"),
            ("yesterday,,rain", "line 1: 'yesterday' is no time"),
            ("2026-03-02 14:00,rain", "line 1: 2 fields, where there must be three"),
            ("2026-03-02 14:00,2026-03-02 13:00,rain", "line 1: ends before it begins"),
            ("# x\n\n2026-03-02 14:00,,", "line 3: no word"),
            ("2026-03-02T14:00Z,,rain", "line 1: '2026-03-02T14:00Z' has an offset"),
        ] {
            let told = Conditions::read(text, Clock::Local).unwrap_err().to_string();
            assert!(told.contains(why), "{why}: {told}");
        }
    }
}
