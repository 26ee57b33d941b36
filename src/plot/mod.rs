//! Pictures of the results. One file a figure, each with the data it shows (in the units of its axes) and its
//! drawing.
//!
//! The words on a figure (title, labels, verdicts) come from the caller: nothing here judges a measurement. Values
//! that are missing or not finite are left out, and a figure without data says so. The same data give the same
//! bytes.

pub mod axis;
pub mod canvas;
pub mod chart;
pub mod letters;
pub mod page;
pub mod palette;
pub mod theme;

pub use page::PlotError;
