//! Parts of the night's recordings read again and measured as a session's recordings are.
//!
//! A recording whose parts can be gone to is read only there; any other is read through once more, and what lies
//! between is passed over. Either way what is held is a few parts' worth.

use rayon::prelude::*;

use super::pieces::Piece;
use crate::audio::{AudioError, ChannelChoice, Parts};
use crate::labels::Dated;
use crate::night::{Passage, Timeline};
use crate::signal::measure::{MeasureSettings, Measurement};

/// Parts measured at once and then handed out: enough for some cores, and bounded.
const AT_ONCE: usize = 4;

/// Reads the parts of one recording and hands out their measurements, by place in `pieces`, in the order in which
/// they are done: that of their begin. Parts that could not be read are not handed out.
///
/// # Errors
/// The recording can't be opened any more, or not be read to where the parts lie.
pub(crate) fn listen(
    passage: &Passage,
    channel: ChannelChoice,
    pieces: &[Piece],
    settings: &MeasureSettings,
    mut done: impl FnMut(usize, Measurement),
) -> Result<(), AudioError> {
    let parts = Parts::open(&passage.path, channel)?;
    let rate_hz = parts.facts().sample_rate_hz;
    let mut wanted: Vec<Wanted> =
        pieces.iter().enumerate().map(|(place, p)| Wanted::of(place, p, passage)).collect();
    wanted.sort_by_key(|one| (one.from, one.place));
    if parts.frames().is_none() {
        return read_through(&parts, &wanted, |place, samples| {
            done(place, Measurement::of_samples(rate_hz, samples, settings));
        });
    }
    for group in wanted.chunks(AT_ONCE) {
        let measured: Vec<Result<Measurement, AudioError>> =
            group.par_iter().map(|one| one.measure(&parts, settings)).collect();
        for (one, measurement) in group.iter().zip(measured) {
            done(one.place, measurement?);
        }
    }
    Ok(())
}

/// Reads the parts of one recording and hands out their samples, by place in `pieces`, in order of their begin.
///
/// # Errors
/// As those of [`listen`].
pub(crate) fn hear(
    passage: &Passage,
    channel: ChannelChoice,
    pieces: &[Piece],
    mut done: impl FnMut(usize, &[f32]),
) -> Result<(), AudioError> {
    let parts = Parts::open(&passage.path, channel)?;
    let mut wanted: Vec<Wanted> =
        pieces.iter().enumerate().map(|(place, p)| Wanted::of(place, p, passage)).collect();
    wanted.sort_by_key(|one| (one.from, one.place));
    if parts.frames().is_none() {
        return read_through(&parts, &wanted, done);
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

    fn measure(&self, parts: &Parts, settings: &MeasureSettings) -> Result<Measurement, AudioError> {
        let frames = self.to - self.from;
        let mut audio = parts.stretch(self.from, frames, frames)?;
        Measurement::stream(parts.facts().sample_rate_hz, settings, |out| audio.read_block(out))
    }
}

/// Reads from the start and collects what is wanted, in order of its begin.
fn read_through(parts: &Parts, wanted: &[Wanted], mut done: impl FnMut(usize, &[f32])) -> Result<(), AudioError> {
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
            done(one.place, &samples);
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
