//! From results to words: Markdown, JSON, CSV, the post digest. Knows nothing of signal processing.

pub mod contract;
