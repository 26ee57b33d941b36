//! Who watches the work and may stop it.

/// Where the work stands, for whoever watches and may stop it.
pub trait Watch: Sync {
    /// So many files are gone through now, "measuring" or "drawing" them.
    fn begin(&self, doing: &'static str, count: usize);

    /// One of them is done (or left out).
    fn done(&self, file: &str);

    /// Whether the work is to end before it is complete.
    fn is_stopped(&self) -> bool {
        false
    }
}

/// Nobody watches.
impl Watch for () {
    fn begin(&self, _doing: &'static str, _count: usize) {}

    fn done(&self, _file: &str) {}
}

/// The work was ended by whoever watched it.
#[derive(Debug, thiserror::Error)]
#[error("stopped before it was complete")]
pub struct Stopped;
