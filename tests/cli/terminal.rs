//! What is seen on a terminal and without one: help of 80 columns, colours, the progress bar.

use std::process::Command;

use crate::bench::Bench;

const COMMANDS: [&str; 11] =
    ["session", "pair", "describe", "draft", "check", "demo", "sheet", "capture", "guide", "completions", "manual"];

#[test]
fn help_fits_80_columns_and_has_no_colours_without_a_terminal() {
    let bench = Bench::new();
    let mut pages = vec![vec!["--help"], vec!["-h"], vec!["help"]];
    pages.extend(COMMANDS.iter().flat_map(|command| [vec![*command, "--help"], vec![*command, "-h"]]));
    for page in pages {
        let output = bench.command().env("COLUMNS", "80").args(&page).output().unwrap();
        let text = String::from_utf8(output.stdout).unwrap();
        assert_eq!((output.status.code(), output.stderr.len()), (Some(0), 0), "{page:?}");
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{page:?}: {text}");
        assert!(!text.contains('\u{1b}'), "{page:?}");
    }
}

#[test]
fn the_help_teaches_a_first_evening_with_commands_that_exist() {
    let bench = Bench::new();
    let output = bench.command().arg("--help").output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    let taught: Vec<&str> = text.lines().filter_map(|line| line.strip_prefix("  noisetally ")).collect();
    let commands: Vec<&str> = taught.iter().filter_map(|line| line.split_whitespace().next()).collect();
    assert_eq!(commands, ["demo", "session", "sheet", "draft", "check", "session"]);
    assert!(commands.iter().all(|command| COMMANDS.contains(command)));
}

#[test]
fn wrong_use_is_told_on_standard_error() {
    let bench = Bench::new();
    for args in
        [vec!["sesion", "x"], vec!["pair", "only-one.wav"], vec!["session"], vec!["check", "x", "--bogus"], vec![]]
    {
        let output = bench.command().args(&args).output().unwrap();
        assert_eq!((output.status.code(), output.stdout.len()), (Some(2), 0), "{args:?}");
        let said = String::from_utf8(output.stderr).unwrap();
        assert!(said.contains("Usage: noisetally") && !said.contains('\u{1b}'), "{args:?}: {said}");
    }
}

#[test]
fn quiet_says_nothing_but_results_and_errors() {
    let bench = Bench::shed();
    let loud = bench.run(["check", "shed"]);
    let quiet = bench.run(["--quiet", "check", "shed"]);
    quiet.exit(0).stdout(&loud.stdout).stderr("").no_files();
    let ran = bench.run(["session", "gone", "--quiet"]);
    ran.exit(2).stdout("").no_files();
    assert!(ran.stderr.starts_with("noisetally: gone: the folder can't be read."), "{ran:#?}");
}

/// Runs a command line on a terminal of its own, made by `script` (util-linux); all that the terminal was sent.
#[cfg(target_os = "linux")]
fn on_a_terminal(bench: &Bench, arguments: &str, no_color: bool) -> String {
    let line = format!("stty cols 100; '{}' {arguments}", env!("CARGO_BIN_EXE_noisetally"));
    let mut command = Command::new("script");
    command.args(["-qec", &line, "/dev/null"]).current_dir(bench.path("")).env("TERM", "xterm");
    command.env_remove("NO_COLOR").env_remove("COLUMNS").stdin(std::process::Stdio::null());
    if no_color {
        command.env("NO_COLOR", "1");
    }
    let output = command.output().unwrap();
    assert!(output.status.success(), "{output:?}");
    String::from_utf8(output.stdout).unwrap()
}

#[cfg(target_os = "linux")]
#[test]
fn a_terminal_shows_a_bar_with_time_left_that_is_gone_in_the_end() {
    let bench = Bench::shed();
    let shown = on_a_terminal(&bench, "session shed", false);
    for stretch in ["measuring", "drawing"] {
        assert!(shown.contains(&format!("{stretch} ")), "{shown:?}");
    }
    assert!(shown.contains(" left"), "{shown:?}");
    // The line of the bar is cleared (ECMA-48, EL: erase in line) before the result is printed in it.
    let (_, last) = shown.rsplit_once("\u{1b}[2K").unwrap();
    assert!(
        last.trim_start_matches('\r').starts_with("4 recordings and 1 comparison in reports/shed"),
        "{shown:?}"
    );
    assert!(!last.contains('\u{1b}'), "{shown:?}");
    let quiet = on_a_terminal(&bench, "session shed --quiet", false);
    assert!(quiet.starts_with("lamp: "), "{quiet:?}");
}

/// no-color.org: software that adds colour checks for `NO_COLOR`, and adds none where it is set and not empty.
#[cfg(target_os = "linux")]
#[test]
fn no_color_is_respected() {
    let bench = Bench::new();
    // ECMA-48, SGR with a colour: 30 to 37, 38, 90 to 97. Bold and underline are no colours.
    assert!(on_a_terminal(&bench, "--help", false).contains("\u{1b}["));
    let plain = on_a_terminal(&bench, "--help", true);
    assert!(!plain.contains("\u{1b}["), "{plain:?}");
}
