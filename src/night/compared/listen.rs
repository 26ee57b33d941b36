//! Parts of the night's recordings read again and measured as a session's recordings are.
//!
//! A recording whose parts can be gone to is read only there; any other is read through once more, and what lies
//! between is passed over. Either way what is held is a few parts' worth.

use std::sync::atomic::{AtomicUsize, Ordering};

use super::pieces::Piece;
use crate::audio::{AudioError, ChannelChoice, Parts};
use crate::labels::Dated;
use crate::night::{Passage, Timeline};
use crate::signal::measure::{MeasureSettings, Measurement};
use crate::signal::recording::of_file;

/// A recording of the night, opened again.
pub(crate) struct Recording<'a> {
    pub passage: &'a Passage,
    settings: MeasureSettings,
    parts: Result<Parts, AudioError>,
}

impl<'a> Recording<'a> {
    /// Opens it.
    pub fn open(passage: &'a Passage, channel: ChannelChoice, mains_hz: f64) -> Self {
        // The passband of the whole recording: found anew in each part it would differ a little from part to part.
        let settings = MeasureSettings { passband: Some(passage.passband), mains_hz };
        Self { passage, settings, parts: Parts::open(&passage.path, channel) }
    }

    /// Whether its parts can't be gone to.
    pub fn is_read_through(&self) -> bool {
        self.parts.as_ref().is_ok_and(|parts| parts.frames().is_none())
    }

    /// Reads it through and hands out the measurements of its parts, by place in `pieces`, in any order. Reading goes
    /// on while the other cores measure; at most a part for each of them waits.
    ///
    /// # Errors
    /// It can't be read to where the parts lie. Parts that could not be read are not handed out.
    pub fn listen(&self, pieces: &[Piece], done: impl Fn(usize, Measurement) + Sync) -> Result<(), AudioError> {
        let parts = self.parts.as_ref().map_err(AudioError::clone)?;
        let wanted = Wanted::in_order(pieces, self.passage);
        let waiting = AtomicUsize::new(0);
        let (done, waiting) = (&done, &waiting);
        rayon::scope(|scope| {
            read_through(parts, &wanted, |place, samples| {
                let measure = move || {
                    let measured = Measurement::of_samples(parts.facts().sample_rate_hz, &samples, &self.settings);
                    done(place, self.finished(measured));
                };
                if waiting.fetch_add(1, Ordering::Relaxed) + 1 < rayon::current_num_threads() {
                    scope.spawn(move |_| {
                        measure();
                        waiting.fetch_sub(1, Ordering::Relaxed);
                    });
                } else {
                    measure();
                    waiting.fetch_sub(1, Ordering::Relaxed);
                }
            })
        })
    }

    /// Goes to a part and measures it.
    ///
    /// # Errors
    /// It can't be opened any more, or not be read there.
    pub fn measure(&self, piece: &Piece) -> Result<Measurement, AudioError> {
        let parts = self.parts.as_ref().map_err(AudioError::clone)?;
        let wanted = Wanted::of(0, piece, self.passage);
        let frames = wanted.to - wanted.from;
        let mut audio = parts.stretch(wanted.from, frames, frames)?;
        let measured =
            Measurement::stream(parts.facts().sample_rate_hz, &self.settings, |out| audio.read_block(out))?;
        Ok(self.finished(measured))
    }

    /// With what the file tells, and no more than a comparison needs.
    fn finished(&self, mut measured: Measurement) -> Measurement {
        measured.warnings.splice(0..0, of_file(&self.passage.facts, &self.passage.account));
        measured.slim();
        measured
    }
}

/// Reads the parts of one recording and hands out their samples, by place in `pieces`, in order of their begin.
///
/// # Errors
/// It can't be opened any more, or not be read to where the parts lie.
pub(crate) fn hear(
    passage: &Passage,
    channel: ChannelChoice,
    pieces: &[Piece],
    mut done: impl FnMut(usize, &[f32]),
) -> Result<(), AudioError> {
    let parts = Parts::open(&passage.path, channel)?;
    let wanted = Wanted::in_order(pieces, passage);
    if parts.frames().is_none() {
        return read_through(&parts, &wanted, |place, samples| done(place, &samples));
    }
    for one in wanted {
        let frames = one.to - one.from;
        let mut audio = parts.stretch(one.from, frames, frames)?;
        let mut samples = Vec::with_capacity(frames as usize);
        while audio.read_block(&mut samples)? {}
        done(one.place, &samples);
    }
    Ok(())
}

/// A part in frames of its recording.
#[derive(Debug, Clone, Copy)]
struct Wanted {
    place: usize,
    from: u64,
    to: u64,
}

impl Wanted {
    fn of(place: usize, piece: &Piece, passage: &Passage) -> Self {
        let frame =
            |at_s: f64| ((at_s - passage.start_s) * f64::from(passage.grid.rate_hz)).round().max(0.0) as u64;
        Self { place, from: frame(piece.from_s), to: frame(piece.to_s) }
    }

    /// In order of their begin.
    fn in_order(pieces: &[Piece], passage: &Passage) -> Vec<Self> {
        let mut wanted: Vec<Self> =
            pieces.iter().enumerate().map(|(place, piece)| Self::of(place, piece, passage)).collect();
        wanted.sort_by_key(|one| (one.from, one.place));
        wanted
    }
}

/// Reads from the start and collects what is wanted, in order of its begin.
fn read_through(parts: &Parts, wanted: &[Wanted], mut done: impl FnMut(usize, Vec<f32>)) -> Result<(), AudioError> {
    let mut audio = parts.stretch(0, u64::MAX, u64::MAX)?;
    let mut next = wanted.iter().copied().peekable();
    let mut open: Vec<(Wanted, Vec<f32>)> = Vec::new();
    let (mut block, mut at, mut more) = (Vec::new(), 0u64, true);
    while more && (next.peek().is_some() || !open.is_empty()) {
        block.clear();
        more = audio.read_block(&mut block)?;
        let end = at + block.len() as u64;
        while let Some(one) = next.next_if(|one| one.from < end) {
            open.push((one, Vec::new()));
        }
        for (one, samples) in &mut open {
            let (first, last) = (one.from.max(at), one.to.min(end));
            if first < last {
                samples.extend_from_slice(&block[(first - at) as usize..(last - at) as usize]);
            }
        }
        // In order of their begin, so that any way of reading hands them out alike.
        while open.first().is_some_and(|(one, _)| one.to <= end || !more) {
            let (one, samples) = open.remove(0);
            done(one.place, samples);
        }
        at = end;
    }
    Ok(())
}

/// The channel that each recording of a night was gone through with; its words were understood then.
pub(crate) fn channels(files: &[Dated], night: &Timeline, wished: ChannelChoice) -> Vec<ChannelChoice> {
    let of = |passage: &Passage| {
        let dated = files.iter().find(|dated| dated.path == passage.path);
        dated.and_then(|dated| dated.channel.as_deref()?.parse().ok()).unwrap_or(wished)
    };
    night.passages.iter().map(of).collect()
}
