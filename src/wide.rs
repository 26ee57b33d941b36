//! Loops over many samples with the widest registers that the processor has.
//!
//! The same operations in the same order as without, so the same bits on every machine.

/// Runs `work` compiled for them. What it calls gains from it as far as it is inlined.
#[inline]
pub(crate) fn wide<R>(work: impl FnOnce() -> R) -> R {
    pulp::Arch::new().dispatch(work)
}
