//! `completions` and `manual`: what a shell and `man` want to know, made from the same description as the help.

use anyhow::Context;
use clap::CommandFactory;

use super::Exit;
use super::args::{Cli, CompletionsArgs};
use super::output::Console;

/// Prints completions.
pub fn completions(args: &CompletionsArgs, console: &Console) -> anyhow::Result<Exit> {
    let mut text = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "noisetally", &mut text);
    printed(text, console)
}

/// Prints the manual: the program's own page, and a section for each command.
pub fn manual(console: &Console) -> anyhow::Result<Exit> {
    let mut command = Cli::command();
    command.build();
    let mut text = Vec::new();
    clap_mangen::Man::new(command.clone()).render(&mut text)?;
    for sub in command.get_subcommands().filter(|sub| sub.get_name() != "help") {
        let page = clap_mangen::Man::new(sub.clone());
        text.extend_from_slice(format!(".SH \"NOISETALLY {}\"\n", sub.get_name().to_uppercase()).as_bytes());
        page.render_description_section(&mut text)?;
        page.render_synopsis_section(&mut text)?;
        page.render_options_section(&mut text)?;
    }
    printed(text, console)
}

fn printed(text: Vec<u8>, console: &Console) -> anyhow::Result<Exit> {
    console.result(&String::from_utf8(text).context("what was made is no text")?)?;
    Ok(Exit::Done)
}
