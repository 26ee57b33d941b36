//! Faults for tests: one call that changes the disk fails, or the program ends there. Not in a release build.
//!
//! For the whole program by `NOISETALLY_FAULT`: `fail:7` has the seventh call fail as on a full disk, `end:7` ends
//! the program at it as a kill does, `count:FILE` leaves the number of calls in a file. With `apart,` before it the
//! system is one that can't exchange two folders. In a test, for its own thread, by [`with`].

use std::cell::RefCell;
use std::fs::File;
use std::io::{self, ErrorKind, Write};
use std::process;
use std::sync::OnceLock;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Exit code of a program that was ended by a fault: that of a kill (128 and the signal's number, 9).
const ENDED: i32 = 137;

/// What shall happen at a call.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Fault {
    /// It fails, the ones after it don't.
    Fail,
    /// It and all after it fail: to the disk that is a kill.
    #[cfg_attr(not(test), allow(dead_code))]
    Dead,
    /// The program ends.
    End,
}

/// The plan of a thread: what, at which call, how many were made, and whether folders can be exchanged.
#[derive(Debug, Clone, Copy)]
struct Plan {
    fault: Option<(Fault, usize)>,
    made: usize,
    apart: bool,
}

thread_local! {
    static HERE: RefCell<Option<Plan>> = const { RefCell::new(None) };
}

/// The program's plan.
struct Everywhere {
    fault: Option<(Fault, usize)>,
    count_into: Option<String>,
    read_from: Option<u64>,
    apart: bool,
}

static EVERYWHERE: OnceLock<Everywhere> = OnceLock::new();
static MADE: AtomicUsize = AtomicUsize::new(0);

fn everywhere() -> &'static Everywhere {
    EVERYWHERE.get_or_init(|| {
        let said = std::env::var("NOISETALLY_FAULT").unwrap_or_default();
        let (apart, said) = said.strip_prefix("apart,").map_or((false, said.as_str()), |rest| (true, rest));
        let (word, rest) = said.split_once(':').unwrap_or_default();
        let at = rest.parse().unwrap_or(usize::MAX);
        Everywhere {
            fault: match word {
                "fail" => Some((Fault::Fail, at)),
                "end" => Some((Fault::End, at)),
                _ => None,
            },
            count_into: (word == "count").then(|| rest.to_owned()),
            read_from: rest.parse().ok().filter(|_| word == "read"),
            apart,
        }
    })
}

/// Counts a call; what shall happen at it.
fn next() -> Option<Fault> {
    if let Some(planned) = HERE.with_borrow_mut(|plan| plan.as_mut().map(Plan::next)) {
        return planned;
    }
    let plan = everywhere();
    if plan.fault.is_none() && plan.count_into.is_none() {
        return None;
    }
    let made = MADE.fetch_add(1, Ordering::SeqCst) + 1;
    if let Some(file) = &plan.count_into {
        let _ = std::fs::write(file, made.to_string());
    }
    plan.fault.filter(|(_, at)| *at == made).map(|(fault, _)| fault)
}

impl Plan {
    fn next(&mut self) -> Option<Fault> {
        self.made += 1;
        let (fault, at) = self.fault?;
        (self.made == at || (fault == Fault::Dead && self.made > at)).then_some(fault)
    }
}

/// A call that changes the disk.
pub(super) fn step() -> io::Result<()> {
    match next() {
        None => Ok(()),
        Some(Fault::End) => process::exit(ENDED),
        Some(Fault::Fail | Fault::Dead) => Err(ErrorKind::StorageFull.into()),
    }
}

/// Bytes that go into a file: what breaks off leaves half of them.
pub(super) fn write(file: &mut File, bytes: &[u8]) -> io::Result<()> {
    let Some(fault) = next() else { return Ok(()) };
    file.write_all(&bytes[..bytes.len() / 2])?;
    if fault == Fault::End {
        process::exit(ENDED);
    }
    Err(ErrorKind::StorageFull.into())
}

/// Whether the system can exchange two folders.
pub(super) fn exchange() -> io::Result<()> {
    let apart = HERE.with_borrow(|plan| plan.map(|plan| plan.apart)).unwrap_or_else(|| everywhere().apart);
    if apart { Err(ErrorKind::Unsupported.into()) } else { Ok(()) }
}

/// What a disk that can't be read says: `NOISETALLY_FAULT=read:N` has recordings fail from frame N on.
pub(crate) fn read(frame: u64) -> io::Result<()> {
    let from = everywhere().read_from;
    if from.is_some_and(|from| frame >= from) { Err(io::Error::other("input/output error")) } else { Ok(()) }
}

/// Does some work with a fault at call `at`, on a system that can or (`apart`) can't exchange folders; returns what
/// came, and how many calls were made.
#[cfg(test)]
pub(crate) fn with<T>(fault: Fault, at: usize, apart: bool, work: impl FnOnce() -> T) -> (T, usize) {
    HERE.set(Some(Plan { fault: Some((fault, at)), made: 0, apart }));
    let done = work();
    let made = HERE.take().map_or(0, |plan| plan.made);
    (done, made)
}
