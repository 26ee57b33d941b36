//! Recordings and texts that wear, cuts and lies have changed: every one ends with samples or a named error. Another
//! round each day; `cargo bench --bench fuzz -- --minutes N` goes on for longer.
#![allow(clippy::print_stdout, clippy::print_stderr)] // The seed, to make the same inputs again.

mod mutator;
mod rounds;

/// How many inputs are tried with the tests (chosen: seconds).
const INPUTS: usize = 20_000;

#[test]
fn inputs_of_the_day_break_nothing() {
    let seed = jiff::Timestamp::now().as_second() as u64 / 86_400;
    println!("seed {seed}");
    let outcome = rounds::run(seed, |inputs| inputs >= INPUTS);
    println!("{outcome:#?}");
    assert!(outcome.faults.is_empty(), "{:#?}", outcome.faults);
    // A mutator that breaks every file before its decoder sees it would find nothing. Chosen: two fifths of each
    // format; some half do.
    for (ending, (decoded, all)) in &outcome.decoded {
        assert!(5 * decoded > 2 * *all, "{ending}: only {decoded} of {all} decode");
    }
}
