//! Each episode against the quiet beside it: which parts of the audio, how they are read again, what they show.

pub mod compare;
pub mod listen;
pub mod motion;
pub mod pieces;
