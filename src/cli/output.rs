//! What all commands share: results and errors as they are printed, and what is seen while the work goes on.
//!
//! The one door for text: whatever names and labels hold, nothing that passes here steers a terminal.
#![allow(clippy::print_stdout, clippy::print_stderr)] // The one place that speaks.

use std::io::{self, IsTerminal, Write};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use anyhow::Context;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::interrupt;
use crate::labels::{printable, shown};
use crate::watch::Watch;

/// Standard output and error, and how talkative to be.
pub struct Console {
    quiet: bool,
}

impl Console {
    /// `quiet`: results and errors only.
    pub fn new(quiet: bool) -> Self {
        Self { quiet }
    }

    /// Prints a result on standard output. A reader that has had enough (a closed pipe) is no error.
    ///
    /// # Errors
    /// Any other failure to write, such as a full disk behind a redirection.
    pub fn result(&self, text: &str) -> anyhow::Result<()> {
        let mut out = io::stdout().lock();
        match out.write_all(shown(text).as_bytes()).and_then(|()| out.flush()) {
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
            other => other.context("standard output can't be written"),
        }
    }

    /// Says what was done, on standard error, unless told to be quiet.
    pub fn note(&self, text: &str) {
        if !self.quiet {
            stderr(text);
        }
    }

    /// Says what must be heard whatever was asked for: the talk at the bench.
    pub fn say(&self, text: &str) {
        stderr(text.strip_suffix('\n').unwrap_or(text));
    }

    /// Asks; the answer is typed in the same line.
    pub fn prompt(&self, text: &str) {
        let mut err = io::stderr().lock();
        let _ = write!(err, "{}", shown(text)).and_then(|()| err.flush());
    }

    /// A line that the next one takes the place of; an empty one clears it. Only where standard error is a
    /// terminal.
    pub fn live(&self, text: &str) {
        let mut err = io::stderr().lock();
        if io::stderr().is_terminal() {
            let _ = write!(err, "\r\x1b[2K{}", shown(text)).and_then(|()| err.flush());
        }
    }

    /// Prints an error with its causes.
    pub fn error(&self, error: &anyhow::Error) {
        let mut text = error.to_string();
        for cause in error.chain().skip(1) {
            let cause = cause.to_string();
            if !text.contains(&cause) {
                text = format!("{text}\n  because: {cause}");
            }
        }
        stderr(&format!("noisetally: {text}"));
    }

    /// A bar for work to come: drawn only where standard error is a terminal.
    pub fn progress(&self) -> Progress {
        Progress { is_drawn: !self.quiet && io::stderr().is_terminal(), bar: Mutex::new(ProgressBar::hidden()) }
    }
}

fn stderr(text: &str) {
    // Nowhere to complain about a standard error that can't be written.
    let _ = writeln!(io::stderr().lock(), "{}", shown(text));
}

/// A progress bar, one stretch of work after the other.
pub struct Progress {
    is_drawn: bool,
    bar: Mutex<ProgressBar>,
}

/// How often the bar is drawn anew while nothing is done: the time left goes on (chosen).
const REDRAWN: Duration = Duration::from_millis(250);

impl Progress {
    fn bar(&self) -> MutexGuard<'_, ProgressBar> {
        self.bar.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Watch for Progress {
    fn begin(&self, doing: &'static str, count: usize) {
        let mut bar = self.bar();
        bar.finish_and_clear();
        if !self.is_drawn {
            return;
        }
        *bar = ProgressBar::with_draw_target(Some(count as u64), ProgressDrawTarget::stderr()).with_prefix(doing);
        // Without colours: nothing for NO_COLOR to switch off.
        if let Ok(style) = ProgressStyle::with_template("{prefix} {pos} of {len}  {bar:24}  {eta} left  {wide_msg}")
        {
            bar.set_style(style);
        }
        bar.enable_steady_tick(REDRAWN);
    }

    fn done(&self, file: &str) {
        let bar = self.bar();
        bar.set_message(printable(file));
        bar.inc(1);
    }

    /// A bar by time instead of by files.
    fn heard(&self, done_s: f64, all_s: f64, file: &str) {
        if !self.is_drawn {
            return;
        }
        let mut bar = self.bar();
        if bar.is_hidden() {
            *bar = ProgressBar::with_draw_target(Some(1), ProgressDrawTarget::stderr()).with_prefix("listening");
            if let Ok(style) =
                ProgressStyle::with_template("{prefix} {percent} %  {bar:24}  {eta} left  {wide_msg}")
            {
                bar.set_style(style);
            }
            bar.enable_steady_tick(REDRAWN);
        }
        bar.set_length(all_s.max(done_s) as u64);
        bar.set_message(printable(file));
        bar.set_position(done_s as u64);
    }

    fn wants_to_know(&self) -> bool {
        self.is_drawn
    }

    /// Above the bar.
    fn found(&self, line: &str) {
        self.bar().println(printable(line));
    }

    fn is_stopped(&self) -> bool {
        interrupt::asked()
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.bar().finish_and_clear();
    }
}
