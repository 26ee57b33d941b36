//! The short takes of a receiver check: the band with a known attenuator in and out, in turn. They lie in a folder
//! of their own and stand in the manifest's `[receiver_check]`, so that nobody compares them as states of a device.
//! Not here: what they show (`findings::receiver_check`).

use std::path::Path;

use crate::labels::{ReceiverCheckLabel, quoted};

/// The folder within that of the recordings.
pub const CHECK_DIR: &str = "receiver-check";
/// Length of each, s: in 2 kHz of noise two of them give the step to about 0.1 dB (radiometer equation).
pub const CHECK_S: f64 = 6.0;

/// How many there are. Chosen: two of each, so that one that went wrong is seen.
pub const CHECKS: usize = 4;

/// One of them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CheckTake {
    /// Its place, from 1.
    pub number: usize,
    /// Its name in [`CHECK_DIR`].
    pub file: String,
    /// Whether the attenuator is in.
    pub is_attenuated: bool,
    /// What to do before it, as a sentence.
    pub before: String,
}

/// In and out twice, so that a band that moves shows; out at the end, as the session needs it.
pub fn check_takes(attenuator_db: f64) -> Vec<CheckTake> {
    let take = |number: usize| {
        let is_attenuated = number % 2 == 1;
        let word = if is_attenuated { "in" } else { "out" };
        let before = match number {
            1 => format!(
                "Everything off, the antenna connected. Switch the attenuator of {attenuator_db} dB in, ahead \
                 of the receiver."
            ),
            _ => format!("Switch the attenuator {word}. Touch nothing else."),
        };
        CheckTake { number, file: format!("{number}-attenuator-{word}.wav"), is_attenuated, before }
    };
    (1..=CHECKS).map(take).collect()
}

/// The files as the manifest of the folder `dir` names them.
pub fn check_label(attenuator_db: f64, dir: &Path) -> ReceiverCheckLabel {
    let takes = check_takes(attenuator_db);
    let files = |is_attenuated: bool| {
        let some = takes.iter().filter(|take| take.is_attenuated == is_attenuated);
        some.map(|take| format!("{CHECK_DIR}/{}", take.file)).collect()
    };
    ReceiverCheckLabel { attenuator_db, out: files(false), inserted: files(true), dir: dir.to_owned() }
}

/// The manifest's table.
pub(super) fn check_table(attenuator_db: f64) -> String {
    let label = check_label(attenuator_db, Path::new(""));
    let list = |files: &[String]| files.iter().map(|file| quoted(file)).collect::<Vec<_>>().join(", ");
    format!(
        "\n[receiver_check]\nattenuator_db = {attenuator_db:?}\nattenuator_out = [{}]\nattenuator_in = [{}]\n",
        list(&label.out),
        list(&label.inserted)
    )
}
