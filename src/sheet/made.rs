//! A sheet to start a test from.

use super::{Context, Sheet, read};
use crate::causes::Catalogue;

/// The sheet of a text, read with nothing typed beside it.
pub(super) fn sheet(text: &str) -> Sheet {
    let catalogue = Catalogue::built_in().unwrap();
    let context = Context {
        file: "day.csv",
        side_typed: None,
        side_else: None,
        catalogue: &catalogue,
    };
    read(text.as_bytes(), &context).unwrap()
}
