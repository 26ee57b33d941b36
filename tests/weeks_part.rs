//! A small part of the bench of weeks, with every run of the tests: what simulated months tell is their truth.

#[path = "weeks/judge.rs"]
mod judge;
#[path = "weeks/month.rs"]
mod month;

use judge::{found, judge};
use month::{Month, NOTHING, STORY};

/// Told is what is below 5 %: of ten months, two with anything false would come by chance in one of twelve runs.
/// Nineteen of twenty truths are to be named (the target of the bench).
#[test]
fn what_is_told_of_simulated_months_is_true() {
    let (mut wrong, mut missed, mut of) = (Vec::new(), Vec::new(), 0);
    for seed in 5001..5006 {
        for rules in [&STORY, &NOTHING] {
            let month = Month::of(seed, 30, rules);
            let score = judge(&month, &found(&month).weeks.weeks);
            assert_eq!(score.mismatched, 0, "{seed}");
            missed.extend(score.missed);
            of += score.of.iter().sum::<usize>();
            if !score.wrong.is_empty() {
                wrong.push(score.wrong);
            }
        }
    }
    assert!(wrong.len() < 2, "{wrong:?}");
    assert!(of >= 18 && missed.len() < 2, "{missed:?} of {of}");
}
