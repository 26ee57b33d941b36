//! What several comparisons together tell: what each remedy bought, what choke theory makes of it, what came to
//! light and what is new, which device adds how much, which spacing explains carriers all over the dial, what the
//! noise costs a listener, how the station stands against published noise, and whether the receiver follows its
//! input.
//!
//! A folder a topic, which holds all of it: which comparisons it takes, the arithmetic, the result as the JSON has
//! it, the words, the figure. Each has the same few functions, as far as it has them: `of` (from the
//! [`basis::Basis`], its result), `section` (into the report), `figures`, `digest` (for the post). One more is a
//! folder, its field in the contract, its line in `run::session` and its entry in `report::findings`. Not here: a
//! single comparison (`contrast`).

pub mod anchor;
pub mod basis;
pub mod budget;
pub mod description;
pub mod draws;
pub mod known_noise;
pub mod ladder;
pub mod listening;
pub mod man_made;
pub mod names;
pub mod picture;
pub mod ranking;
pub mod receiver_check;
pub mod supply;
pub mod switching_comb;
pub mod target;
