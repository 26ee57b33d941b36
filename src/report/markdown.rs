//! stub
use super::contract::Report;
/// stub
pub fn markdown(_report: &Report) -> String {
    String::new()
}
