//! Pictures of the results. One file a figure, each with the data it shows (in the units of its axes) and its drawing.
//!
//! The words on a figure (title, labels, verdicts) come from the caller: nothing here judges a measurement. Values that
//! are missing or not finite are left out, and a figure without data says so. The same data give the same bytes.

mod apd;
mod axis;
mod budget;
mod canvas;
mod card;
mod chart;
mod envelope;
mod excess;
mod hours;
mod ladder;
mod ladder_carriers;
mod letters;
mod man_made;
mod on_times;
mod page;
mod palette;
mod spectra;
mod spectrogram;
mod switching_comb;
mod theme;
mod timeline;
mod waterfall;

pub use apd::ApdFigure;
pub use budget::{BudgetBar, BudgetFigure};
pub use card::CardFigure;
pub use envelope::EnvelopeFigure;
pub use excess::ExcessFigure;
pub use hours::{Hours, HoursDay};
pub use ladder::{LadderBar, LadderFigure};
pub use ladder_carriers::CarrierTrace;
pub use man_made::{ManMadeCurve, ManMadeFigure, ManMadeLevel};
pub use on_times::{OnTimesFigure, OnTimesRow};
pub use page::PlotError;
pub use spectra::{LineKind, MarkedLine, SpectraFigure};
pub use spectrogram::{Image, SpectrogramFigure};
pub use switching_comb::{CombStretch, SwitchingCombFigure};
pub use timeline::{MarkedEpisode, TimelineCell, TimelineFigure};
pub use waterfall::WaterfallFigure;
