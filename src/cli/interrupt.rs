//! Ctrl-C, a closed terminal, a polite kill: what is half written is taken away first, then the program ends.
//!
//! While nothing is being written it ends at once. Hours of recordings are an exception: the report is then of what
//! was read. While something is, the writer is asked to give up: only it
//! knows how to leave the disk as it was. Asked once more the program ends all the same: what stands in its place is
//! whole at every moment, and what is left beside it the next run takes away.

use std::io::{self, IsTerminal, Write};
use std::process;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError, TryLockError};

/// Exit code of a program ended by Ctrl-C: 128 and the signal's number (common practice of shells).
pub const INTERRUPTED: u8 = 130;

static ASKED: AtomicBool = AtomicBool::new(false);
/// Whether what is done now ends early when asked to, with what it has.
static ENDS_EARLY: AtomicBool = AtomicBool::new(false);
/// Held while something is being written.
static WRITING: Mutex<()> = Mutex::new(());

/// Begins to listen. Where the caller has other plans for one of the signals (as `nohup` has for a closed
/// terminal), it stands, and the others are heard all the same.
pub fn listen() {
    if ctrlc::try_set_handler(heard).is_err() {
        #[cfg(unix)]
        listen_to_the_rest();
    }
}

fn heard() {
    if ASKED.swap(true, Ordering::SeqCst) {
        end();
    }
    match WRITING.try_lock() {
        // The guard is held to the end, so that no writer begins meanwhile.
        Ok(_guard) => end(),
        Err(TryLockError::Poisoned(_)) => end(),
        Err(TryLockError::WouldBlock) if ENDS_EARLY.load(Ordering::SeqCst) => {
            tell("stopping: the report of what was read is written; once more ends it at once");
        }
        Err(TryLockError::WouldBlock) => {}
    }
}

/// Ctrl-C and the polite kill, as far as the caller did not have them ignored. Which those are only Linux tells
/// without unsafe code; elsewhere none counts as ignored.
#[cfg(unix)]
fn listen_to_the_rest() {
    use signal_hook::consts::{SIGINT, SIGTERM};
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let ignored = status.lines().find_map(|line| line.strip_prefix("SigIgn:")).map(str::trim);
    let ignored = ignored.and_then(|mask| u64::from_str_radix(mask, 16).ok()).unwrap_or(0);
    let wanted = [SIGINT, SIGTERM].into_iter().filter(|signal| ignored & (1 << (signal - 1)) == 0);
    if let Ok(mut signals) = signal_hook::iterator::Signals::new(wanted) {
        std::thread::spawn(move || signals.forever().for_each(|_| heard()));
    }
}

/// Whether the user wants the program to end.
pub fn asked() -> bool {
    ASKED.load(Ordering::SeqCst)
}

/// Does work that leaves something half done if it ends in the middle. Having failed after being asked to end, or
/// being asked before it began, it ends the program.
pub fn writing<T>(work: impl FnOnce() -> anyhow::Result<T>) -> anyhow::Result<T> {
    let guard = WRITING.lock().unwrap_or_else(PoisonError::into_inner);
    if asked() {
        end();
    }
    let done = work();
    if done.is_err() && asked() {
        end();
    }
    drop(guard);
    done
}

/// Does work that ends early when asked to and then has what it got that far. With that the asking is done: what
/// follows is not stopped by it.
pub fn ending_early<T>(work: impl FnOnce() -> T) -> T {
    let guard = WRITING.lock().unwrap_or_else(PoisonError::into_inner);
    ENDS_EARLY.store(true, Ordering::SeqCst);
    let done = work();
    ENDS_EARLY.store(false, Ordering::SeqCst);
    ASKED.store(false, Ordering::SeqCst);
    drop(guard);
    done
}

/// Ends the program, having been asked to.
pub fn end() -> ! {
    tell("stopped; no report was written");
    process::exit(i32::from(INTERRUPTED))
}

fn tell(words: &str) {
    // A bar may stand in the line.
    let lead = if io::stderr().is_terminal() { "\r\x1b[2K" } else { "" };
    // Nowhere to complain about a standard error that can't be written.
    let _ = writeln!(io::stderr().lock(), "{lead}noisetally: {words}");
}
