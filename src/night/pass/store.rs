//! Rows within bounds: when all rows of the night together outgrow them, neighbours are merged, two into one.
//!
//! Rows are merged by their place in the recording (0 and 1, 2 and 3 …), so that the outcome does not hang on when the
//! bound was reached. Where each recording has but one, those of recordings that follow each other are merged the same
//! way.

use super::row::Measured;
use super::ticks::MOST_IN_A_STEP;
use super::timeline::{JOIN_S, Passage, Row, Step, Tick};

/// Bytes of spectra kept. Chosen: 12 h of 12 kHz audio in rows of 10 s, 24 h in rows of 20 s, next to nothing on
/// any machine.
const MOST_BYTES: usize = 18 << 20;

/// Clicks kept, all recordings together; 6 MiB. Chosen: one a second for nine days. Where there are more, each step
/// keeps half as many, the strongest.
const MOST_TICKS: usize = 6 << 17;

/// The passages so far.
pub(crate) struct Store {
    pub passages: Vec<Passage>,
    /// Rows as measured that make one row now.
    merged: u32,
    /// Recordings, one after another, that make one row now.
    joined: usize,
    bytes: usize,
    most_bytes: usize,
    ticks: usize,
    /// Most of a step.
    ticks_in_step: usize,
}

impl Store {
    pub fn new() -> Self {
        Self::within(MOST_BYTES)
    }

    /// With another bound.
    pub fn within(most_bytes: usize) -> Self {
        Self {
            passages: Vec::new(),
            merged: 1,
            joined: 1,
            bytes: 0,
            most_bytes,
            ticks: 0,
            ticks_in_step: MOST_IN_A_STEP,
        }
    }

    /// Begins a recording; the one before is complete.
    pub fn begin(&mut self, passage: Passage) {
        if let Some(last) = self.passages.len().checked_sub(1) {
            self.join(last);
        }
        self.passages.push(passage);
    }

    /// Takes the recording's row `place`, counted from its start; rows come in order, some may be missing.
    pub fn add(&mut self, place: u32, measured: Measured) {
        let Some(passage) = self.passages.last_mut() else { return };
        let steps_per_row = passage.grid.frames_per_row() / passage.grid.frames_per_step;
        // What is missing stands as silence.
        passage.steps.resize(place as usize * steps_per_row, Step::default());
        passage.steps.extend_from_slice(&measured.steps);
        let row_start = place as usize * passage.grid.row_samples();
        let scale = Tick::PER_S / f64::from(passage.grid.rate_hz);
        let before = passage.ticks.len();
        passage.ticks.extend(
            measured
                .ticks
                .iter()
                .map(|tick| Tick { at: ((row_start + tick.at) as f64 * scale) as u32, sigmas: tick.sigmas }),
        );
        self.ticks += passage.ticks.len() - before;
        let row =
            Row { first: place, frames: measured.frames, sounding: measured.sounding, density: measured.density };
        self.bytes += bytes(&row);
        match passage.rows.last_mut() {
            Some(last) if last.first / self.merged == place / self.merged => {
                self.bytes -= bytes(last) + bytes(&row);
                last.merge(&row);
                self.bytes += bytes(last);
            }
            _ => passage.rows.push(row),
        }
        while self.bytes > self.most_bytes && self.merge_neighbours() {}
        // One in a second takes less room than the second's levels do.
        if self.ticks > MOST_TICKS && self.ticks_in_step > 1 {
            self.thin_ticks();
        }
    }

    /// Takes away the recording in hand.
    pub fn give_up(&mut self) {
        if let Some(passage) = self.passages.pop() {
            self.bytes -= passage.rows.iter().map(bytes).sum::<usize>();
            self.ticks -= passage.ticks.len();
        }
    }

    /// Keeps half as many clicks of each second, the strongest.
    fn thin_ticks(&mut self) {
        let second = |tick: &Tick| tick.at_s() as u32;
        let most = (self.ticks_in_step / 2).max(1);
        self.ticks_in_step = most;
        for passage in &mut self.passages {
            let all = std::mem::take(&mut passage.ticks);
            let seconds = all.chunk_by(|a, b| second(a) == second(b));
            passage.ticks = seconds.flat_map(|of_it| strongest(of_it.to_vec(), most)).collect();
        }
        self.ticks = self.passages.iter().map(|passage| passage.ticks.len()).sum();
    }

    /// Whether it made anything smaller.
    fn merge_neighbours(&mut self) -> bool {
        if self.passages.iter().all(|passage| passage.rows.len() < 2) {
            return self.join_recordings();
        }
        self.merged *= 2;
        let merged = self.merged;
        for passage in &mut self.passages {
            passage.rows.dedup_by(|later, earlier| {
                let together = earlier.first / merged == later.first / merged;
                if together {
                    earlier.merge(later);
                }
                together
            });
        }
        self.count();
        true
    }

    /// Whether it made anything smaller.
    fn join_recordings(&mut self) -> bool {
        if self.joined >= self.passages.len() {
            return false;
        }
        self.joined *= 2;
        (1..self.passages.len() - 1).for_each(|at| self.join(at));
        self.count();
        true
    }

    /// Gives the only row of a recording to the one before it, where it goes on from there.
    fn join(&mut self, at: usize) {
        let Some((passage, before)) = self.passages[..=at].split_last_mut() else { return };
        let of_it = &mut before[at - at % self.joined..];
        if passage.rows.len() != 1 || !of_it.last().is_some_and(|last| last.goes_on_in(passage)) {
            return;
        }
        let holder = of_it.iter_mut().rev().find_map(|one| one.rows.last_mut());
        if let (Some(holder), Some(row)) = (holder, passage.rows.pop()) {
            self.bytes -= bytes(&row);
            holder.merge(&row);
        }
    }

    fn count(&mut self) {
        self.bytes = self.passages.iter().flat_map(|passage| &passage.rows).map(bytes).sum();
    }
}

/// Those of some clicks, in order of time.
fn strongest(mut ticks: Vec<Tick>, most: usize) -> Vec<Tick> {
    if ticks.len() > most {
        ticks.sort_by(|a, b| b.sigmas.total_cmp(&a.sigmas).then(a.at.cmp(&b.at)));
        ticks.truncate(most);
        ticks.sort_by_key(|tick| tick.at);
    }
    ticks
}

fn bytes(row: &Row) -> usize {
    size_of::<Row>() + size_of::<f32>() * row.density.len()
}

impl Passage {
    /// Whether another one follows it at once and has spectra of the same kind.
    fn goes_on_in(&self, next: &Self) -> bool {
        let gap_s = next.started.duration_since(self.started).as_secs_f64() - self.duration_s;
        gap_s.abs() <= JOIN_S && (self.grid, self.bins) == (next.grid, next.bins)
    }
}

impl Row {
    /// Takes in the row that follows.
    fn merge(&mut self, next: &Row) {
        let share = next.sounding as f32 / (self.sounding + next.sounding).max(1) as f32;
        blend(&mut self.density, &next.density, share);
        self.frames += next.frames;
        self.sounding += next.sounding;
    }
}

/// Mean of two, `share` of it from the second.
fn blend(values: &mut [f32], others: &[f32], share: f32) {
    for (value, other) in values.iter_mut().zip(others) {
        *value += share * (other - *value);
    }
}
