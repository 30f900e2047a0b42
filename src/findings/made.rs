//! A finding to start a test from.

use super::{Fault, Finding, Polarity, Severity, Standing};

/// A finding of a kind at a place, without figures, lie or marks.
pub(crate) fn finding(fault: Fault, place: Option<&str>) -> Finding {
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
