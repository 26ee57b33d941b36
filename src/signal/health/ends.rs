//! Digital silence before and after the sound, where the recorder ran without a receiver or stopped early: it is
//! left out of everything, and said. Not here: holes within the sound (`samples`).

use super::samples::HOLE_S;
use crate::warning::{Code, Warning};

/// Silence at the ends that is worth a word, s. Chosen: a slice; a converter's start takes less.
const WORTH_A_WORD_S: f64 = 0.25;
/// Silence within the sound is given in blocks of so many samples. Chosen: bounds memory.
const BLOCK: usize = 65_536;

/// Takes digital silence (samples of exactly 0) off both ends of a stream.
pub struct SilentEnds {
    rate_hz: f64,
    begun: bool,
    more: bool,
    /// Silent samples within the sound that are to be given before `held`.
    owed: usize,
    held: Vec<f32>,
    /// Silent samples that came since the last other one: the end's, unless more sound follows.
    pending: usize,
    before: usize,
}

impl SilentEnds {
    /// Of a recording of this sample rate.
    pub fn new(sample_rate_hz: u32) -> Self {
        Self {
            rate_hz: f64::from(sample_rate_hz),
            begun: false,
            more: true,
            owed: 0,
            held: Vec::new(),
            pending: 0,
            before: 0,
        }
    }

    /// Appends the next samples of `next` to `out`, without silence at the ends; false at the end. A recording of
    /// nothing but silence is left as it is.
    ///
    /// # Errors
    /// Those of `next`.
    pub fn cut<E>(
        &mut self,
        out: &mut Vec<f32>,
        next: &mut impl FnMut(&mut Vec<f32>) -> Result<bool, E>,
    ) -> Result<bool, E> {
        if self.owed > 0 {
            return Ok(self.pay(out));
        }
        let from = out.len();
        self.more = next(out)?;
        let silent_at_end = out[from..].iter().rev().take_while(|x| **x == 0.0).count();
        if silent_at_end == out.len() - from {
            self.pending += silent_at_end;
            out.truncate(from);
        } else {
            let silent_first = out[from..].iter().take_while(|x| **x == 0.0).count();
            out.truncate(out.len() - silent_at_end);
            self.held = out.split_off(from);
            if !self.begun && self.is_silence(self.pending + silent_first) {
                self.before = self.pending + silent_first;
                self.held.drain(..silent_first);
            } else {
                self.owed = self.pending;
            }
            (self.begun, self.pending) = (true, silent_at_end);
        }
        if !self.more && (!self.begun || !self.is_silence(self.pending)) {
            // Of silence alone nothing is held; of sound, a few samples are left at the end.
            self.owed += if self.begun { 0 } else { self.pending };
            self.held.extend(std::iter::repeat_n(0.0, if self.begun { self.pending } else { 0 }));
            self.pending = 0;
        }
        Ok(self.pay(out))
    }

    /// Gives silence that turned out to lie within the sound, in blocks, and then what followed it.
    fn pay(&mut self, out: &mut Vec<f32>) -> bool {
        let now = self.owed.min(BLOCK);
        out.extend(std::iter::repeat_n(0.0, now));
        self.owed -= now;
        if self.owed == 0 {
            out.append(&mut self.held);
        }
        self.owed > 0 || self.more
    }

    /// Noise crosses zero: a few samples of 0 are sound.
    fn is_silence(&self, samples: usize) -> bool {
        samples as f64 >= HOLE_S * self.rate_hz
    }

    /// What was left out, after the last block.
    pub fn warning(&self) -> Option<Warning> {
        let told = |samples: usize, place: &str| {
            let seconds = samples as f64 / self.rate_hz;
            (seconds >= WORTH_A_WORD_S).then(|| format!("the {place} {seconds:.1} s"))
        };
        let both: Vec<String> =
            [told(self.before, "first"), told(self.pending, "last")].into_iter().flatten().collect();
        (!both.is_empty()).then(|| {
            Warning::new(
                Code::SilentEnds,
                format!("{} of the recording are digital silence and left out of everything.", both.join(" and ")),
            )
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The samples that are left of these blocks, and what is said.
    fn cut(blocks: &[&[f32]]) -> (Vec<f32>, Option<String>) {
        let mut ends = SilentEnds::new(1000);
        let (mut out, mut blocks) = (Vec::new(), blocks.iter());
        let mut next = |out: &mut Vec<f32>| -> Result<bool, std::convert::Infallible> {
            let Some(block) = blocks.next() else { return Ok(false) };
            out.extend_from_slice(block);
            Ok(true)
        };
        while ends.cut(&mut out, &mut next).unwrap() {}
        (out, ends.warning().map(|warning| warning.message))
    }

    #[test]
    fn silence_at_the_ends_goes_and_is_said_whatever_the_blocks() {
        let mut all = vec![0.0; 400];
        all.extend([0.5, 0.0, 0.0, -0.5]);
        all.extend([0.0; 700]);
        all.extend([0.25; 3]);
        all.extend([0.0; 1200]);
        let wanted = &all[400..1107];
        for size in [1, 7, 399, 400, 401, 5000] {
            let blocks: Vec<&[f32]> = all.chunks(size).collect();
            let (left, said) = cut(&blocks);
            assert_eq!(left, wanted, "blocks of {size}");
            assert_eq!(
                said.unwrap(),
                "the first 0.4 s and the last 1.2 s of the recording are digital silence and left out of everything."
            );
        }
    }

    #[test]
    fn a_few_zeros_are_sound_and_silence_alone_stays() {
        let few = [0.0, 0.0, 0.3, 0.1, 0.0];
        assert_eq!(cut(&[&few]), (few.to_vec(), None));
        assert_eq!(cut(&[&few[..1], &few[1..]]), (few.to_vec(), None));
        assert_eq!(cut(&[&[0.0; 500], &[0.0; 600]]).0.len(), 1100);
        let long = vec![0.0; 3 * BLOCK];
        assert_eq!(cut(&[&[0.5], &long, &[0.5]]).0.len(), 3 * BLOCK + 2, "silence within the sound stays");
        assert_eq!(cut(&[]), (Vec::new(), None));
    }
}
