//! A small fixed part of the bench of findings: one household of known noises. The whole of it:
//! `cargo bench --bench findings -- --only known`.
#![allow(dead_code)] // The bench's tables are not printed here.

#[path = "findings/known.rs"]
mod known;
#[path = "validation/random.rs"]
mod random;

const SEED: u64 = 20_260_315;

/// The targets are 90 % right and under 2 % of strangers taken for a known one: of ten each, one may miss and none
/// may be taken.
#[test]
fn devices_are_known_again_and_strangers_are_not() {
    let heard = known::household(SEED, 0);
    let missed: Vec<&str> =
        heard.iter().filter(|h| h.known && h.told != "right").map(|h| h.words.as_str()).collect();
    assert!(missed.len() <= 1, "{missed:#?}");
    let taken: Vec<&str> = heard
        .iter()
        .filter(|h| !h.known && ["wrong", "either"].contains(&h.told))
        .map(|h| h.words.as_str())
        .collect();
    assert!(taken.is_empty(), "{taken:#?}");
    assert_eq!(heard.len(), 20);
}
