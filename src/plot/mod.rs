//! What figures are drawn with: a page counted in pixels, charts and their axes, letters, colours, the way into a
//! PNG.
//!
//! No figure is in here: each stands with its topic, holds the data it shows in the units of its axes, and is a
//! [`Drawing`]. Values that are missing or not finite are left out, and a figure without data says so. The same
//! data give the same bytes.

pub mod axis;
pub mod canvas;
pub mod chart;
pub mod dots;
pub mod image;
pub mod letters;
pub mod page;
pub mod palette;
pub mod rows;
pub mod theme;

pub use page::{Drawing, PlotError};
