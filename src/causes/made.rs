//! A finding and a plate to start a test from.

use super::PlateFacts;
use crate::findings::{Fault, Finding, Polarity, Severity, Standing};
use crate::plate::{PlateKind, Process};

/// A finding of a kind at a place, without figures, lie or marks.
pub(super) fn finding(fault: Fault, place: Option<&str>) -> Finding {
    Finding {
        id: "f1".into(),
        fault,
        place: place.map(str::to_owned),
        title: String::new(),
        measured: Vec::new(),
        polarity: Polarity::MoreSilver,
        box_mm: [0.0; 4],
        outline_mm: None,
        axis_deg: None,
        direction_deg: None,
        direction_spread_deg: None,
        members: None,
        confidence: 1.0,
        expected_false_alarms: 0.0,
        standing: Standing::Measured,
        severity: Severity::Visible,
        signs: Vec::new(),
        doubts: Vec::new(),
        figure: None,
    }
}

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
