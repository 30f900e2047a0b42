//! A labelled figure of the page.

use serde::Serialize;

/// A label, a figure in words, and the doubts beside it.
#[derive(Serialize)]
pub(super) struct NumberView {
    pub(super) label: String,
    pub(super) value: String,
    pub(super) notes: Vec<&'static str>,
}

impl NumberView {
    /// A figure without doubts.
    pub(super) fn plain(label: impl Into<String>, value: String) -> NumberView {
        NumberView {
            label: label.into(),
            value,
            notes: Vec::new(),
        }
    }
}
