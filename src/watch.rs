//! Where long work stands, for whoever watches it and may stop it. Not here: how that is shown (`cli`).

/// Whoever watches.
pub trait Watch: Sync {
    /// So many files are gone through now, "measuring" or "drawing" them.
    fn begin(&self, doing: &'static str, count: usize);

    /// One of them is done (or left out).
    fn done(&self, file: &str);

    /// So much of all audio has been gone through, in seconds; called from any thread. For hours of recordings,
    /// where a count of files tells too little.
    fn heard(&self, done_s: f64, all_s: f64, file: &str);

    /// Whether whoever watches wants to know what is found on the way.
    fn wants_to_know(&self) -> bool {
        false
    }

    /// Something was found, told in a line.
    fn found(&self, _line: &str) {}

    /// Whether the work is to end before it is complete.
    fn is_stopped(&self) -> bool {
        false
    }
}

/// Nobody watches.
impl Watch for () {
    fn begin(&self, _doing: &'static str, _count: usize) {}

    fn done(&self, _file: &str) {}

    fn heard(&self, _done_s: f64, _all_s: f64, _file: &str) {}
}

/// The work was ended by whoever watched it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("stopped before it was complete")]
pub struct Stopped;
