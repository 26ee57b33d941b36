//! Parse, run, print the error, exit code: nothing else.

use std::process::ExitCode;

fn main() -> ExitCode {
    noisetally::cli::main()
}
