//! Where the sound of a capture comes from: standard input, or a sound card where the program was built for it.

use std::io::{self, IsTerminal};

use anyhow::bail;

use super::args::CaptureArgs;
use crate::capture::{self, Origin, Pump, RawFormat};
use crate::cli::output::Console;

/// Refuses what can be refused before anything is written.
pub fn check(args: &CaptureArgs) -> anyhow::Result<()> {
    if args.card.is_some() {
        return card::check();
    }
    if io::stdin().is_terminal() {
        bail!("no sound comes on standard input: it is the terminal.\n  try: RECORDER | noisetally capture DIR");
    }
    Ok(())
}

/// Opens it and lets it flow.
pub fn open(args: &CaptureArgs, console: &Console) -> anyhow::Result<Pump> {
    if let Some(name) = &args.card {
        return card::open(Some(name.as_str()).filter(|name| !name.is_empty()), args, console);
    }
    let raw = RawFormat { rate_hz: args.rate, coding: args.format.clone(), channels: args.channels };
    console.note("waiting for sound on standard input");
    let mut stdin = io::stdin();
    let (format, first) = capture::open(&mut stdin, &raw)?;
    Ok(Pump::start(stdin, format, first, args.at_speed, Origin::standard_input()))
}

/// The cards, one a line: the name that `--card` takes, then the system's description.
pub fn list_cards() -> anyhow::Result<String> {
    card::list()
}

#[cfg(feature = "capture-card")]
mod card {
    use super::{CaptureArgs, Console, Origin, Pump, capture};
    use crate::labels::printable;

    pub fn check() -> anyhow::Result<()> {
        Ok(())
    }

    pub fn open(name: Option<&str>, args: &CaptureArgs, console: &Console) -> anyhow::Result<Pump> {
        let (stream, format, losses) = capture::open_card(name, args.rate, args.channels)?;
        console
            .note(&format!("recording from {}", name.map_or_else(|| "the usual sound card".to_owned(), printable)));
        let origin = Origin { name: "the sound card", losses };
        Ok(Pump::start(stream, format, Vec::new(), false, origin))
    }

    pub fn list() -> anyhow::Result<String> {
        let cards = capture::cards()?;
        if cards.is_empty() {
            anyhow::bail!(
                "no sound card that can record was found\n  try: plug it in; see that you may record from it"
            );
        }
        Ok(cards
            .iter()
            .map(|card| format!("{}\n    {}\n", printable(&card.name), printable(&card.words)))
            .collect())
    }
}

#[cfg(not(feature = "capture-card"))]
mod card {
    use super::{CaptureArgs, Console, Pump};

    fn not_built<T>() -> anyhow::Result<T> {
        anyhow::bail!(
            "this program was built without sound cards.\n  try: cargo install --path . --features capture-card \
             (on Linux with ALSA's headers: the package libasound2-dev of Debian); or a recorder's pipe: \
             RECORDER | noisetally capture DIR"
        )
    }

    pub fn check() -> anyhow::Result<()> {
        not_built()
    }

    pub fn open(_: Option<&str>, _: &CaptureArgs, _: &Console) -> anyhow::Result<Pump> {
        not_built()
    }

    pub fn list() -> anyhow::Result<String> {
        not_built()
    }
}
