//! What is written of a night: its report, its digest, its table of minutes, its lines for the terminal. Not here:
//! what was found (`crate::night`) and its figures (`crate::night::figures`).

pub mod brief;
mod carriers;
pub(crate) mod details;
pub(crate) mod digest;
pub mod log;
mod sources;
pub mod words;
