//! Keys from the terminal itself, whatever standard input is: whole lines, so that a plain terminal over ssh serves
//! and nothing has to be put back when the program ends.

use std::fs::File;
use std::io::{BufRead, BufReader};

use anyhow::Context;

use crate::cli::output::Console;

#[cfg(unix)]
const PATH: &str = "/dev/tty";
#[cfg(not(unix))]
const PATH: &str = "CONIN$";

/// The terminal the program was started from.
pub struct Terminal {
    keys: BufReader<File>,
}

impl Terminal {
    /// `None` where there is none.
    pub fn open() -> Option<Self> {
        File::open(PATH).ok().map(|file| Self { keys: BufReader::new(file) })
    }

    /// Asks, and waits for a line: what it says, in small letters its first word, and the rest. `None`: the
    /// terminal is gone.
    ///
    /// # Errors
    /// When the terminal can't be read.
    pub fn ask(&mut self, prompt: &str, console: &Console) -> anyhow::Result<Option<(String, String)>> {
        self.forget();
        console.prompt(prompt);
        let mut line = String::new();
        if self.keys.read_line(&mut line).context("the terminal can't be read")? == 0 {
            return Ok(None);
        }
        let (word, rest) = line.trim().split_once(char::is_whitespace).unwrap_or((line.trim(), ""));
        Ok(Some((word.to_lowercase(), rest.trim().to_owned())))
    }

    /// Keys pressed during a take answer no question that was asked after it.
    fn forget(&mut self) {
        let typed = self.keys.buffer().len();
        self.keys.consume(typed);
        #[cfg(unix)]
        let _ = rustix::termios::tcflush(self.keys.get_ref(), rustix::termios::QueueSelector::IFlush);
    }
}
