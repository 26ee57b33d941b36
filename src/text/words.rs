//! Running text as spans that say what they are, not how a writer shows it.

use std::borrow::Cow;

/// A stretch of text that stands on one line, however long.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Words {
    pub(super) spans: Vec<Span>,
}

/// Text of one kind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Span {
    Plain(String),
    /// What must not be overlooked.
    Strong(String),
    /// A term that is explained.
    Term(String),
    /// What is typed or read literally: a file, a command, a field.
    Code(String),
    /// Room to write by hand, in columns.
    Blank(usize),
}

impl Words {
    pub(crate) fn strong(text: impl Into<String>) -> Self {
        Self { spans: vec![Span::Strong(text.into())] }
    }

    pub(crate) fn code(text: impl Into<String>) -> Self {
        Self { spans: vec![Span::Code(text.into())] }
    }

    /// Room to write by hand; what follows at once stands a little apart.
    pub(crate) fn blank(columns: usize) -> Self {
        Self { spans: vec![Span::Blank(columns)] }
    }

    /// The program's own prose, in which "`…`" marks code and "*…*" a term; never for a user's words.
    pub(crate) fn prose(text: &str) -> Self {
        let mut words = Self::default();
        let mut rest = text;
        while let Some(at) = rest.find(['`', '*']) {
            let (before, marked) = rest.split_at(at);
            let (mark, inner) = marked.split_at(1);
            let Some((inner, after)) = inner.split_once(mark) else { break };
            words = words.then(before);
            let inner = inner.to_owned();
            words.spans.push(if mark == "`" { Span::Code(inner) } else { Span::Term(inner) });
            rest = after;
        }
        words.then(rest)
    }

    /// These words, then more.
    pub(crate) fn then(mut self, more: impl Into<Self>) -> Self {
        self.spans.extend(more.into().spans);
        self
    }

    /// The text alone.
    pub(crate) fn told(&self) -> String {
        self.spans.iter().map(|span| span.text().into_owned()).collect()
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.spans.iter().all(|span| span.text().is_empty())
    }
}

impl Span {
    /// What stands in it, without what it is.
    pub(super) fn text(&self) -> Cow<'_, str> {
        match self {
            Self::Plain(text) | Self::Strong(text) | Self::Term(text) | Self::Code(text) => text.into(),
            Self::Blank(columns) => "_".repeat(*columns).into(),
        }
    }
}

impl From<String> for Words {
    fn from(text: String) -> Self {
        let spans = if text.is_empty() { vec![] } else { vec![Span::Plain(text)] };
        Self { spans }
    }
}

impl From<&str> for Words {
    fn from(text: &str) -> Self {
        text.to_owned().into()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn prose_marks_code_and_terms() {
        let words = Words::prose("*Comb*: see `report.json`, a * b");
        assert_eq!(
            words.spans,
            [
                Span::Term("Comb".into()),
                Span::Plain(": see ".into()),
                Span::Code("report.json".into()),
                Span::Plain(", a * b".into())
            ]
        );
    }
}
