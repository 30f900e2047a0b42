//! What stands about plate, scan, handling and settings.

use super::number::NumberView;
use crate::doubts::Doubt;
use crate::findings::Fault;
use crate::handling::{Handling, HandlingSource, LeftRight};
use crate::plate::{Process, ScaleSource, ScannedFrom};
use crate::raster::geometry::between_axes_deg;
use crate::report::{LaidByName, Report, words};

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
    if let Some(turned) = &scan.turned {
        let laid = match (turned.laid_by, turned.within_mm) {
            (LaidByName::Picture, Some(mm)) => format!("laid on by the picture to {mm:.2} mm"),
            (LaidByName::Picture, None) => "laid on by the picture".to_owned(),
            (LaidByName::Outline, _) => "laid on by the outline".to_owned(),
        };
        rows.push(row(
            "Second scan",
            format!("{}, the plate turned half round; {laid}", turned.file),
        ));
    }
    if let Some(side) = plate.scanned_from {
        let side = match side {
            ScannedFrom::CoatedSide => "the coated side",
            ScannedFrom::ThroughGlass => "through the glass",
        };
        rows.push(row("Scanned from", side.to_owned()));
    }
    rows
}

/// What the maker said of pour, dip, developer and holder, one row each.
/// What the maker told: the handling, and what else their row of the sheet holds, as written.
pub(super) fn told_facts(report: &Report) -> Vec<NumberView> {
    let mut rows = handling_facts(report);
    let Some(maker) = &report.maker else {
        return rows;
    };
    rows.extend(
        maker
            .cells
            .iter()
            .filter(|cell| !SHOWN_ELSEWHERE.contains(&cell.name.as_str()))
            .map(|cell| NumberView::plain(words::capitalised(&cell.column), cell.text.clone())),
    );
    let row = format!("{}, line {}", maker.sheet, maker.line);
    rows.push(NumberView::plain("Sheet", row));
    rows
}

/// Columns of the sheet that the page shows in other words.
const SHOWN_ELSEWHERE: [&str; 14] = [
    "scan",
    "process",
    "size",
    "kind",
    "poured_from",
    "drained_at",
    "dipped_first",
    "developer_from",
    "developer_to",
    "lowest_in_holder",
    "scanned_from",
    "dip_axis",
    "developer_direction",
    "drain_corner",
];

fn handling_facts(report: &Report) -> Vec<NumberView> {
    let Some(handling) = &report.handling else {
        return Vec::new();
    };
    let mut rows = Vec::new();
    let mut row = |label: &str, parts: Vec<String>| {
        if !parts.is_empty() {
            rows.push(NumberView::plain(label, parts.join(", ")));
        }
    };
    let poured = handling
        .poured_from
        .map(|spot| format!("poured on at {}", spot.words()));
    let drained = handling
        .drain_corner
        .map(|corner| format!("drained at {}", corner.spot().words()));
    row("Collodion", poured.into_iter().chain(drained).collect());
    let first = handling
        .dipped_first
        .map(|spot| format!("{} first", spot.words()));
    let along = handling
        .dip_axis_deg
        .map(|deg| format!("along {}", axis(deg)));
    row("Dip", first.into_iter().chain(along).collect());
    let from = handling
        .developer_from
        .map(|spot| format!("from {}", spot.words()));
    let toward = handling
        .developer_direction_deg
        .map(|deg| format!("toward {} ({deg:.0}°)", words::toward(deg)));
    row("Developer", from.into_iter().chain(toward).collect());
    let lowest = handling
        .lowest_in_holder
        .map(|spot| format!("{} lowest", spot.words()));
    row("In the holder", lowest.into_iter().collect());
    row("Said", vec![said(handling)]);
    rows.extend(
        left_right(report, handling)
            .map(|words| NumberView::plain("Left and right", words.to_owned())),
    );
    rows
}

fn axis(axis_deg: f64) -> String {
    let words = match axis_deg {
        deg if between_axes_deg(deg, 0.0) <= 10.0 => "the upright",
        deg if between_axes_deg(deg, 90.0) <= 10.0 => "the width",
        deg if deg < 90.0 => "the rising diagonal",
        _ => "the falling diagonal",
    };
    format!("{words} ({axis_deg:.0}°)")
}

/// Who said it.
fn said(handling: &Handling) -> String {
    let mut sources: Vec<HandlingSource> = handling.sources.values().copied().collect();
    sources.push(handling.source);
    sources.sort();
    sources.dedup();
    let words = sources.iter().map(|source| match source {
        HandlingSource::CommandLine => "on the command line",
        HandlingSource::Sheet => "in the session sheet",
        HandlingSource::File => "in the handling file",
    });
    words::listed(&words.map(str::to_owned).collect::<Vec<_>>())
}

/// How left and right of the maker's words came into the scan. Metal has but one side to scan.
fn left_right(report: &Report, handling: &Handling) -> Option<&'static str> {
    match handling.left_right? {
        LeftRight::AsSeen => None,
        LeftRight::Exchanged => Some(
            "exchanged against the maker's words, since the plate was scanned through its glass",
        ),
        LeftRight::SideUnknown if report.plate.process == Process::PositiveOnMetal => None,
        LeftRight::SideUnknown => {
            Some("as seen on the coated side; nobody said which side lay toward the scanner")
        }
    }
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
