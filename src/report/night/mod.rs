//! What is written of a night: its report, its digest, its table of minutes, its lines for the terminal. Not here:
//! what was found (`crate::night`) and its figures (`crate::night::figures`).

mod carriers;
pub(crate) mod digest;
mod patterns;
pub mod section;
pub mod words;
