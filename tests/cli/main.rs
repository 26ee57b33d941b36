//! The program as its users run it: what it prints, what it writes, and how it ends, on recordings good and bad.
//!
//! Every test accounts for standard output, standard error, files and exit code. Not here: whether the figures are
//! right (the rooms' own tests, against published values).

mod bench;
mod capture;
mod card;
mod compare;
mod describe;
#[cfg(unix)]
mod evening;
mod faults;
mod handout;
mod hostile;

mod known;
mod labels;
mod listening;
#[allow(dead_code)] // The bench of weeks uses the rest.
#[path = "../weeks/month.rs"]
mod month;
mod names;
mod night;
mod output;
mod spoilt;
mod terminal;
mod weeks;
mod wishes;
