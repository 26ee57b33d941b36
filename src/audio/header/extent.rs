//! How many bytes of samples a file really holds, when its header says something else.
//!
//! A recorder that loses power leaves a size of 0, of 0xFFFFFFFF or of its last save; one that records past 4 GiB
//! wraps round. The samples are all there, so the file's own length decides, with good sense for what may follow
//! them.

/// How far the samples reach.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Extent {
    /// Bytes of samples to read.
    pub len: u64,
    /// Bytes the header promises; `len` where it never got that far.
    pub promised: u64,
    pub cut: Cut,
}

/// What is wrong with the header's size.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Cut {
    /// Nothing, or a 32-bit size that wrapped in a file that is whole.
    Whole,
    /// It was never written.
    NeverWritten,
    /// It is an earlier save: the file holds more.
    Stale,
    /// The file holds less.
    Short,
}

/// What stands in the file from some place on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Tail {
    /// The file ends there.
    End,
    /// Another chunk, or a tag.
    Chunk,
    /// Only zeros.
    Zeros,
    /// Neither: samples.
    Samples,
}

/// From here on a 32-bit size that the file does not hold is a placeholder: programs writing to a pipe put
/// 0xFFFFFFFF (ffmpeg) or 0x7FFFF000 (sox) there.
const PLACEHOLDER: u64 = 0x7fff_0000;

/// Judges a size of `declared` bytes, a field of 32 bits or (`wide`) 64, when `rest` bytes follow. `tail` looks at
/// what stands at an offset of that many bytes into the data; `tiny` bytes after the samples are not worth doubting
/// a header for.
pub(super) fn judge(declared: u64, wide: bool, rest: u64, tiny: u64, mut tail: impl FnMut(u64) -> Tail) -> Extent {
    let whole = |len| Extent { len, promised: len, cut: Cut::Whole };
    let all = |cut| Extent { len: rest, promised: rest, cut };
    if declared == 0 {
        return if matches!(tail(0), Tail::End | Tail::Chunk) { whole(0) } else { all(Cut::NeverWritten) };
    }
    if declared > rest {
        let placeholder = if wide { declared > u64::MAX / 4 } else { declared >= PLACEHOLDER };
        return if placeholder {
            all(Cut::NeverWritten)
        } else {
            Extent { len: rest, promised: declared, cut: Cut::Short }
        };
    }
    if rest - declared <= tiny {
        return whole(declared);
    }
    let past_32_bits = !wide && rest > u64::from(u32::MAX);
    match tail(declared) {
        Tail::End | Tail::Chunk => whole(declared),
        Tail::Zeros if !past_32_bits => whole(declared),
        _ if past_32_bits => {
            let unwrapped = declared + ((rest - declared) >> 32 << 32);
            let ends_well = rest - unwrapped <= tiny || matches!(tail(unwrapped), Tail::End | Tail::Chunk);
            if ends_well { whole(unwrapped) } else { Extent { len: rest, promised: declared, cut: Cut::Stale } }
        }
        _ => Extent { len: rest, promised: declared, cut: Cut::Stale },
    }
}

impl Extent {
    /// Plain words for the account; `bytes_per_s` of samples.
    pub fn in_words(&self, bytes_per_s: f64) -> Option<String> {
        let (has_s, promised_s) = (self.len as f64 / bytes_per_s, self.promised as f64 / bytes_per_s);
        match self.cut {
            Cut::Whole => None,
            Cut::NeverWritten => Some(
                "its header never got the length (a recorder cut off, or written to a pipe): read to the file's end"
                    .into(),
            ),
            Cut::Stale => Some(format!(
                "its header knows of {promised_s:.1} s only (a recorder cut off?): all {has_s:.1} s in the file \
                 were read"
            )),
            Cut::Short => Some(format!("it ends after {has_s:.1} s of the {promised_s:.1} s its header promises")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GIB: u64 = 1 << 30;

    #[test]
    fn sizes_are_judged_by_the_file() {
        let at_end = |end: u64| move |at: u64| if at >= end { Tail::End } else { Tail::Samples };
        let judged = |declared, wide, rest| {
            let extent = judge(declared, wide, rest, 100, at_end(rest));
            (extent.len, extent.promised, extent.cut)
        };
        assert_eq!(judged(1000, false, 1000), (1000, 1000, Cut::Whole));
        assert_eq!(judged(999, false, 1000), (999, 999, Cut::Whole));
        assert_eq!(judged(1000, false, 500), (500, 1000, Cut::Short));
        assert_eq!(judged(1000, false, 5000), (5000, 1000, Cut::Stale));
        assert_eq!(judged(0, false, 5000), (5000, 5000, Cut::NeverWritten));
        assert_eq!(judged(0, false, 0), (0, 0, Cut::Whole));
        assert_eq!(judged(0xffff_ffff, false, 5000), (5000, 5000, Cut::NeverWritten));
        assert_eq!(judged(0x7fff_f000, false, 5000), (5000, 5000, Cut::NeverWritten));
        assert_eq!(judged(u64::MAX, true, 5000), (5000, 5000, Cut::NeverWritten));
        assert_eq!(judged(5 * GIB, true, 5000), (5000, 5 * GIB, Cut::Short));
        assert_eq!(judged(GIB, false, 5 * GIB), (5 * GIB, 5 * GIB, Cut::Whole));
        assert_eq!(judged(GIB, false, 9 * GIB), (9 * GIB, 9 * GIB, Cut::Whole));
        assert_eq!(judged(GIB, false, 8 * GIB), (8 * GIB, GIB, Cut::Stale));
    }

    #[test]
    fn what_follows_the_samples_is_not_sound() {
        let from = |what, end: u64| move |at: u64| if at >= end { what } else { Tail::Samples };
        assert_eq!(judge(1000, false, 5000, 100, from(Tail::Chunk, 1000)).len, 1000);
        assert_eq!(judge(1000, false, 5000, 100, from(Tail::Zeros, 1000)).len, 1000);
        assert_eq!(judge(0, false, 5000, 100, from(Tail::Chunk, 0)).len, 0);
        assert_eq!(judge(GIB, false, 5 * GIB + 5000, 100, from(Tail::Chunk, 5 * GIB)).len, 5 * GIB);
    }
}
