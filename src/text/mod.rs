//! Text for readers: one model of a document, and the writers that make files of it.
//!
//! A [`Document`] is a row of blocks whose text is [`Words`]; neither holds markup. Each writer escapes and lays
//! out in its own way: [`markdown()`] for `.md`, [`html()`] for browsers, [`plain()`] for terminals, paper and
//! forums. Beside them the wording that any sentence needs: numbers, counts, labels. Not here: anything about
//! radio.

pub(crate) mod csv;
mod document;
mod format;
mod html;
mod label;
mod markdown;
mod plain;
mod words;

pub(crate) use document::{Column, Document, List, Mark, Picture, Table};
pub(crate) use format::{
    and, and_at_most, capital, clock, count, db, each_once, first_sentence, full_sentence, hz, interval, may_break,
    number, or_dash, percent, rate, signed, times,
};
pub(crate) use html::{Page, html, sheets};
pub(crate) use label::{label, one_line, shorten};
pub(crate) use markdown::markdown;
pub(crate) use plain::{Plain, plain, wrapped};
pub(crate) use words::Words;
