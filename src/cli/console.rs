//! What the user sees while the work goes on, and how results and errors are printed.
#![allow(clippy::print_stdout, clippy::print_stderr)] // The one place that speaks.

use std::io::{self, IsTerminal, Write};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::session::printable;
use crate::tally::Watch;

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
    pub fn result(&self, text: &str) -> io::Result<()> {
        let mut out = io::stdout().lock();
        match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
            other => other,
        }
    }

    /// Says what was done, on standard error, unless told to be quiet.
    pub fn note(&self, text: &str) {
        if !self.quiet {
            self.stderr(text);
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
        self.stderr(&format!("noisetally: {text}"));
    }

    /// A bar for `count` recordings: drawn only where standard error is a terminal.
    pub fn progress(&self, count: usize) -> Progress {
        let visible = !self.quiet && io::stderr().is_terminal();
        let target = if visible { ProgressDrawTarget::stderr() } else { ProgressDrawTarget::hidden() };
        let bar = ProgressBar::with_draw_target(Some(count as u64), target);
        // Without colours: nothing for NO_COLOR to switch off.
        if let Ok(style) =
            ProgressStyle::with_template("measuring {pos} of {len}  {bar:24}  {eta} left  {wide_msg}")
        {
            bar.set_style(style);
        }
        Progress { bar }
    }

    fn stderr(&self, text: &str) {
        // Nowhere to complain about a standard error that can't be written.
        let _ = writeln!(io::stderr().lock(), "{text}");
    }
}

/// A progress bar over recordings.
pub struct Progress {
    bar: ProgressBar,
}

impl Watch for Progress {
    fn recording_done(&self, file: &str) {
        self.bar.set_message(printable(file));
        self.bar.inc(1);
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}
