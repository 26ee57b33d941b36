//! The one pass over a night's audio, in bounded memory: recordings become steps (the level) and rows (the spectrum).

pub mod clock;
pub mod faults;
pub mod look;
pub mod noise;
pub mod plan;
pub mod read;
pub mod row;
pub mod store;
#[cfg(test)]
mod tests;
pub mod timeline;
