//! What stands about plate, scan, handling and settings.

use super::number::NumberView;
use crate::doubts::Doubt;
use crate::findings::Fault;
use crate::handling::{Corner, Handling};
use crate::plate::{ScaleSource, ScannedFrom};
use crate::report::{Report, words};

/// Process, kind, size: the line under the plate's name.
pub(in crate::report) fn plate_line(report: &Report) -> Vec<String> {
    let plate = &report.plate;
    let judged = |doubt: Doubt| plate.doubts.contains(&doubt);
    let (process, kind) = (plate.process.words(), plate.kind.words());
    let mut facts = match (judged(Doubt::ProcessJudged), judged(Doubt::KindJudged)) {
        (true, true) => vec![format!("{process}, {kind} (judged from the scan)")],
        (true, false) => vec![format!("{process} (judged from the scan)"), kind.to_owned()],
        (false, true) => vec![process.to_owned(), format!("{kind} (judged from the scan)")],
        (false, false) => vec![process.to_owned(), kind.to_owned()],
    };
    if let (Some(width), Some(height)) = (plate.width_mm, plate.height_mm) {
        facts.push(format!("{width:.1} × {height:.1} mm"));
    }
    if let Some(name) = &plate.size_name {
        facts.push(format!("{} plate", words::place(name)));
    }
    facts
}

/// The faults that were looked for, in words.
pub(super) fn looked_for(report: &Report) -> Option<String> {
    let names = report.looked_for.iter();
    let names: Vec<String> = names.map(|f: &Fault| words::lowered(f.short())).collect();
    (!names.is_empty()).then(|| words::listed(&names))
}

/// The scan and how the plate lies in it.
pub(super) fn scan_facts(report: &Report) -> Vec<NumberView> {
    let (scan, plate) = (&report.scan, &report.plate);
    let row = |label: &str, value: String| NumberView::plain(label, value);
    let mut rows = vec![
        row("File", scan.file.clone()),
        row(
            "Picture",
            format!(
                "{} × {} pixels, {} bits, {}",
                scan.width_px,
                scan.height_px,
                scan.bits,
                match scan.channels {
                    1 => "1 channel".to_owned(),
                    channels => format!("{channels} channels"),
                }
            ),
        ),
        row("Tone curve", scan.colour_source.clone()),
        row(
            "Densities",
            scan.calibration
                .clone()
                .unwrap_or_else(|| "as the scanner believes, not calibrated".to_owned()),
        ),
    ];
    if let (Some(x), Some(y)) = (scan.dpi_x, scan.dpi_y) {
        let dpi = if (x - y).abs() < 0.5 {
            format!("{x:.0} dots per inch")
        } else {
            format!("{x:.0} × {y:.0} dots per inch")
        };
        rows.push(row("Resolution", dpi));
    }
    rows.push(row(
        "Scale",
        match scan.scale_source {
            ScaleSource::FileTag => "from the file",
            ScaleSource::FileTagUnitCorrected => "from the file, its unit corrected",
            ScaleSource::PlateSize => "from the plate size",
            ScaleSource::Unknown => "unknown, lengths are left out",
        }
        .to_owned(),
    ));
    rows.push(row(
        "Plate",
        match (plate.found, plate.turn_deg) {
            (false, _) => "outline not found, the whole picture was taken".to_owned(),
            (true, turn) if turn.abs() < 0.05 => "found, lying straight".to_owned(),
            (true, turn) => format!(
                "found, turned {} {}",
                words::decimal(turn.abs(), 1) + "°",
                if turn > 0.0 {
                    "clockwise"
                } else {
                    "anticlockwise"
                }
            ),
        },
    ));
    if let Some(side) = plate.scanned_from {
        let side = match side {
            ScannedFrom::CoatedSide => "the coated side",
            ScannedFrom::ThroughGlass => "through the glass",
        };
        rows.push(row("Scanned from", side.to_owned()));
    }
    rows
}

/// What the maker said.
pub(super) fn handling_facts(handling: &Handling) -> Vec<String> {
    let mut facts = Vec::new();
    if let Some(axis_deg) = handling.dip_axis_deg {
        facts.push(format!("dipped along {axis_deg:.0}° from the vertical"));
    }
    if let Some(direction_deg) = handling.developer_direction_deg {
        let toward = words::toward(direction_deg);
        facts.push(format!(
            "developer swept toward {toward} ({direction_deg:.0}°)"
        ));
    }
    if let Some(corner) = handling.drain_corner {
        let corner = match corner {
            Corner::TopLeft => "top left",
            Corner::TopRight => "top right",
            Corner::BottomRight => "bottom right",
            Corner::BottomLeft => "bottom left",
        };
        facts.push(format!("collodion drained at the {corner} corner"));
    }
    facts
}

/// The settings of the run as text; none when nothing is known of them.
pub(super) fn settings_text(settings: &serde_json::Value) -> Option<String> {
    if settings.is_null() {
        return None;
    }
    serde_json::to_string_pretty(settings).ok()
}

/// The plate's name for the foot of a printed sheet, which is set by the style sheet: only names that
/// need no escaping there.
pub(super) fn sheet_name(name: &str) -> Option<&str> {
    let harmless = |c: char| c.is_ascii_alphanumeric() || " -_.".contains(c);
    (!name.is_empty() && name.len() <= 60 && name.chars().all(harmless)).then_some(name)
}
