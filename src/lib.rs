//! noisetally: recordings of a receiver with a device off and on, turned into trustworthy numbers.
//!
//! Data flows one way, left to right:
//!
//! ```text
//! files ─> audio ─> measure ─> contrast ─> report
//!          decode   one        on against  Markdown, PNG,
//!          blocks   recording  off         JSON, CSV, post
//! ```
//!
//! A later stage never reopens the audio: a recording is read once, in blocks, in bounded memory, and becomes a
//! measurement that holds all that later stages need. `units` and the plain data types are the ground floor; `cli`
//! is the roof.

pub mod audio;
pub mod capture;
pub mod cautions;
pub mod cli;
pub mod contrast;
pub mod demo;
mod disk;
pub mod findings;
pub mod labels;
pub mod night;
mod notes;
pub mod plot;
pub mod report;
pub mod run;
pub mod signal;
mod text;
pub mod units;
pub mod warning;
pub mod watch;
mod wide;
