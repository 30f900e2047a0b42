//! A finding and a plate to start a test from.

use super::PlateFacts;
pub(super) use crate::findings::made::finding;
use crate::plate::{PlateKind, Process};

/// A picture on glass of which nothing else is known.
pub(super) fn facts() -> PlateFacts {
    PlateFacts {
        process: Process::PositiveOnGlass,
        kind: PlateKind::Picture,
        has_border: true,
        size_mm: None,
        clipped_fraction: None,
        surround_light: None,
        signs: Vec::new(),
        answers: Vec::new(),
        verdicts: Vec::new(),
        doubts: Vec::new(),
    }
}
