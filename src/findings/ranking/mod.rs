//! Many devices of one setting, the loudest first: which add noise, which add none that shows. From the
//! comparisons alone; it has a figure and no words of its own.

pub mod figure;

pub(crate) use figure::figures;
