//! The command that switches a relay or a plug: words with places to fill in, started without a shell.

use std::process::{Command, Stdio};

use anyhow::{Context, bail};

use crate::capture::Take;
use crate::labels::State;

/// What can be filled in.
const PLACES: [&str; 3] = ["{state}", "{device}", "{remedy}"];

/// What stands for `{state}` with the attenuator in.
const ATTENUATED: &str = "attenuated";

/// A command to run before each take.
#[derive(Debug, PartialEq)]
pub struct Switch {
    words: Vec<String>,
}

impl Switch {
    /// Reads the command: words divided by blanks, a word with blanks in it in double quotes.
    ///
    /// # Errors
    /// When it is empty, a quote is left open, or a place has another name.
    pub fn of(typed: &str) -> anyhow::Result<Self> {
        let mut words = Vec::new();
        let mut word: Option<String> = None;
        let mut is_quoted = false;
        for c in typed.chars() {
            match c {
                '"' => {
                    is_quoted = !is_quoted;
                    word.get_or_insert_default();
                }
                c if c.is_whitespace() && !is_quoted => words.extend(word.take()),
                c => word.get_or_insert_default().push(c),
            }
        }
        words.extend(word);
        if is_quoted || words.is_empty() {
            bail!("--switch-command {typed:?}: empty, or a quote is left open");
        }
        for word in &words {
            let rest = PLACES.iter().fold(word.clone(), |word, place| word.replace(place, ""));
            if rest.contains(['{', '}']) {
                bail!("--switch-command: `{word}` has a place with no meaning\n  try: {}", PLACES.join(", "));
            }
        }
        Ok(Self { words })
    }

    /// Runs it for a take.
    ///
    /// # Errors
    /// When it can't be started or says that it failed.
    pub fn turn(&self, take: &Take) -> anyhow::Result<()> {
        self.run(take.state.word(), take.device.as_deref(), take.remedy.as_deref())
    }

    /// Switches the attenuator of a receiver check in, everything off; or everything off and it out.
    ///
    /// # Errors
    /// As for [`Switch::turn`].
    pub fn attenuate(&self, is_attenuated: bool) -> anyhow::Result<()> {
        self.run(if is_attenuated { ATTENUATED } else { State::Off.word() }, None, None)
    }

    /// Switches everything off.
    ///
    /// # Errors
    /// As for [`Switch::turn`].
    pub fn all_off(&self) -> anyhow::Result<()> {
        self.run(State::Off.word(), None, None)
    }

    fn run(&self, state: &str, device: Option<&str>, remedy: Option<&str>) -> anyhow::Result<()> {
        let filled = self.filled(state, device.unwrap_or_default(), remedy.unwrap_or_default());
        // Standard input is the sound, standard output belongs to results.
        let status = Command::new(&filled[0])
            .args(&filled[1..])
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .status()
            .with_context(|| format!("the switch command `{}` can't be started", filled[0]))?;
        if !status.success() {
            bail!(
                "the switch command `{}` failed ({status}); is the device in the state it should be?",
                filled.join(" ")
            );
        }
        Ok(())
    }

    /// Never empty: [`Switch::of`] sees to it. A place is filled once: what fills it is not looked through again.
    fn filled(&self, state: &str, device: &str, remedy: &str) -> Vec<String> {
        let fill = |word: &String| {
            let mut out = String::new();
            let mut rest = word.as_str();
            while let Some(at) = rest.find('{') {
                out.push_str(&rest[..at]);
                let place = PLACES.iter().position(|place| rest[at..].starts_with(place)).unwrap_or(0);
                out.push_str([state, device, remedy][place]);
                rest = &rest[at + PLACES[place].len()..];
            }
            out + rest
        };
        self.words.iter().map(fill).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_and_places_are_read_without_a_shell() {
        let switch = Switch::of("relay \"--name={device}\" {state} {remedy} \"two words\"").unwrap();
        assert_eq!(
            switch.filled("on", "lamp; rm {state}", ""),
            ["relay", "--name=lamp; rm {state}", "on", "", "two words"]
        );
        for wrong in ["", "  ", "relay \"on", "relay {power}", "relay {state"] {
            assert!(Switch::of(wrong).is_err(), "{wrong}");
        }
    }
}
