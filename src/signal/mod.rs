//! What one recording holds: its spectrum, its envelope, its health, all of it one [`measure::Measurement`].

pub mod envelope;
pub mod excerpt;
pub mod health;
pub mod measure;
pub mod recording;
pub mod recording_result;
pub mod shelf;
pub mod spectrum;
