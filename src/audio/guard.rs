//! The one door behind which decoders run: their panics become a value, and nothing of them reaches the terminal.
//!
//! Decoders assert on lying headers now and then. `catch_unwind` keeps that in the file's own error, and the panic
//! hook stays silent for as long as this thread is behind the door.

use std::cell::Cell;
use std::panic::{AssertUnwindSafe, catch_unwind, set_hook, take_hook};
use std::sync::Once;

use super::Problem;

thread_local! {
    static BEHIND_THE_DOOR: Cell<bool> = const { Cell::new(false) };
}

static HOOK: Once = Once::new();

/// Runs `work`; a panic in it is [`Problem::DecoderFailed`].
///
/// What `work` borrows may be left half done by a panic: the caller must not use it again (`Mono` closes its
/// source).
pub(super) fn guarded<T>(work: impl FnOnce() -> Result<T, Problem>) -> Result<T, Problem> {
    HOOK.call_once(|| {
        let earlier = take_hook();
        set_hook(Box::new(move |panic| {
            if !BEHIND_THE_DOOR.get() {
                earlier(panic);
            }
        }));
    });
    let outer = BEHIND_THE_DOOR.replace(true);
    let done = catch_unwind(AssertUnwindSafe(work));
    BEHIND_THE_DOOR.set(outer);
    done.unwrap_or(Err(Problem::DecoderFailed))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_becomes_this_files_error() {
        assert_eq!(guarded::<()>(|| panic!("a lying header")), Err(Problem::DecoderFailed));
        assert_eq!(guarded(|| Ok(7)), Ok(7));
    }
}
