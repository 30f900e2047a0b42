//! The figures of a plate's report that tell of its bath.

use serde::Deserialize;

use super::log::{NewRow, Row, Table, short};
use crate::density::ZeroSource;
use crate::findings::Fault;
use crate::report::{Report, SCHEMA};

/// How far a tail or streak may lie from the dip axis and still be one along it, degrees. Our own choice: the spread
/// of tails along one steady direction, see `findings/specks`.
const ALONG_DIP_DEG: f64 = 15.0;

/// What a report does not say of its plate.
#[derive(Debug, Clone, Copy)]
pub struct PlateOf<'a> {
    /// The plate's name: that of its report, since a scan may hold several plates.
    pub plate: &'a str,
    /// The bath it was sensitized in.
    pub bath: &'a str,
    /// The day it was made.
    pub day: &'a str,
    /// The time of writing, UTC.
    pub recorded: &'a str,
}

/// The row of a plate from the JSON of its report.
///
/// Kept are veil, border, range, pinholes and comets a square centimetre, comets and streaks along the dip axis. What
/// the plate cannot show is left empty, and zero stands only where it was looked for and would have been seen.
///
/// # Errors
/// In words: no report, a report of another schema, a figure out of any range.
pub fn plate_row(json: &str, of: &PlateOf) -> Result<Row, String> {
    #[derive(Deserialize)]
    struct Marked {
        schema: String,
    }
    let marked: Marked = serde_json::from_str(json)
        .map_err(|error| format!("this is not the JSON of a plate report: {error}"))?;
    if marked.schema != SCHEMA {
        return Err(format!(
            "its schema is `{}`; this program reads {SCHEMA}",
            short(&marked.schema)
        ));
    }
    let report: Report = serde_json::from_str(json)
        .map_err(|error| format!("this plate report is damaged: {error}"))?;
    of_report(&report, of)
}

/// The same from a report at hand.
///
/// # Errors
/// In words, when a name or figure cannot stand in a log.
pub fn of_report(report: &Report, of: &PlateOf) -> Result<Row, String> {
    let mut row = NewRow::of(Table::Plate);
    row.set("bath", of.bath)?;
    row.set("day", of.day)?;
    row.set("recorded", of.recorded)?;
    row.set("plate", of.plate)?;
    for (name, word) in [
        ("process", serde_json::to_value(report.plate.process)),
        ("kind", serde_json::to_value(report.plate.kind)),
    ] {
        let word = word.ok();
        row.set(
            name,
            word.as_ref().and_then(|w| w.as_str()).unwrap_or_default(),
        )?;
    }
    let program = format!("{} {}", report.program.name, report.program.version);
    row.set("program", &program)?;
    let density = &report.density;
    let border_d = border(report);
    for (name, figure) in [
        ("width_mm", report.plate.width_mm),
        ("height_mm", report.plate.height_mm),
        ("veil_d", density.veil_d),
        ("veil_d_u", density.veil_d.and(density.veil_d_u)),
        ("border_d", border_d),
        ("range_d", Some(density.range_d.max(0.0))),
        ("range_d_u", density.range_d_u),
        (
            "pinholes_per_cm2",
            per_cm2(report, Fault::Pinholes, |_| true),
        ),
        ("comets_per_cm2", per_cm2(report, Fault::Comets, |_| true)),
        (
            "dip_comets_per_cm2",
            along_dip(report, |dip| {
                per_cm2(report, Fault::Comets, |direction| near(direction, dip))
            }),
        ),
        (
            "dip_streaks_d",
            along_dip(report, |dip| streaks(report, dip)),
        ),
    ] {
        if let Some(figure) = figure {
            row.set_number(name, figure)?;
        }
    }
    row.finish()
}

/// Density of the border that the holder kept dark: the zero of the plate's silver, or off by the veil from a zero on
/// a bare rim.
fn border(report: &Report) -> Option<f64> {
    let density = &report.density;
    if density.zero_source == ZeroSource::Border.words() {
        return Some(density.zero_d);
    }
    if density.zero_source != ZeroSource::BareRim.words() {
        return None;
    }
    let veil_d = density.veil_d?;
    // More silver is lighter on a positive, denser on a negative.
    Some(match report.plate.process.is_positive() {
        true => density.zero_d - veil_d,
        false => density.zero_d + veil_d,
    })
}

/// A figure that needs to know the dip axis.
fn along_dip(report: &Report, of: impl Fn(f64) -> Option<f64>) -> Option<f64> {
    let handling = report.handling.as_ref()?;
    handling.dip_axis_deg.and_then(of)
}

/// Whether two axes, degrees, are nearly one.
fn near(one: f64, other: f64) -> bool {
    let apart = (one - other).rem_euclid(180.0);
    apart.min(180.0 - apart) <= ALONG_DIP_DEG
}

/// The fault would have been seen on this plate if it were there.
fn would_show(report: &Report, fault: Fault) -> bool {
    report.looked_for.contains(&fault) && report.cannot_tell.iter().all(|c| c.fault != fault)
}

/// Marks a square centimetre of the findings of one kind; those that point a way only where it is `wanted`.
fn per_cm2(report: &Report, fault: Fault, wanted: impl Fn(f64) -> bool) -> Option<f64> {
    let mut found = would_show(report, fault).then_some(0.0);
    for finding in report.findings.iter().filter(|f| f.fault == fault) {
        let points = finding.direction_deg.or(finding.axis_deg);
        if let Some(marks) = finding.measured.number("per_cm2") {
            let marks = if points.is_none_or(&wanted) {
                marks
            } else {
                0.0
            };
            *found.get_or_insert(0.0) += marks;
        }
    }
    found
}

/// Contrast of the strongest streaks along the dip axis, density.
fn streaks(report: &Report, dip: f64) -> Option<f64> {
    let found = report
        .findings
        .iter()
        .filter(|f| f.fault == Fault::Streaks && f.axis_deg.is_some_and(|axis| near(axis, dip)))
        .filter_map(|f| f.measured.number("contrast_d").map(f64::abs))
        .max_by(f64::total_cmp);
    found.or_else(|| would_show(report, Fault::Streaks).then_some(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample(name: &str) -> String {
        let root = env!("CARGO_MANIFEST_DIR");
        std::fs::read_to_string(format!("{root}/reports/{name}.json")).unwrap()
    }

    fn row(json: &str) -> Result<Row, String> {
        plate_row(
            json,
            &PlateOf {
                plate: "A-011",
                bath: "A",
                day: "2026-05-12",
                recorded: "2026-05-12T19:30:15.000Z",
            },
        )
    }

    #[test]
    fn every_sample_report_can_stand_in_the_log() {
        let folder = format!("{}/reports", env!("CARGO_MANIFEST_DIR"));
        let mut seen = 0;
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_some_and(|ending| ending == "json") {
                let row = row(&std::fs::read_to_string(&path).unwrap()).unwrap();
                assert!(row.number("range_d").is_some() && row.number("width_mm").is_some());
                seen += 1;
            }
        }
        assert!(seen >= 10, "{seen}");
    }

    #[test]
    fn the_border_stands_for_the_bath_where_nothing_bare_lies_beside_it() {
        let told = row(&sample("A-011")).unwrap();
        assert_eq!(told.number("border_d"), Some(1.8073));
        assert_eq!(told.number("veil_d"), None);
        assert_eq!(
            told.number("comets_per_cm2"),
            None,
            "a picture cannot show a few"
        );
        assert_eq!(
            told.number("dip_streaks_d"),
            Some(0.0),
            "looked for along the dip that was told, and none found"
        );
        let mut untold: serde_json::Value = serde_json::from_str(&sample("A-011")).unwrap();
        untold["handling"] = serde_json::Value::Null;
        assert_eq!(
            row(&untold.to_string()).unwrap().number("dip_streaks_d"),
            None,
            "nobody said how it was dipped"
        );
    }

    #[test]
    fn what_is_no_report_is_refused_in_words() {
        let newer = sample("A-011").replace("plate-report/1", "plate-report/7");
        assert!(row(&newer).unwrap_err().contains("plate-report/7"));
        assert!(
            row("{}")
                .unwrap_err()
                .contains("not the JSON of a plate report")
        );
        let damaged = sample("A-011").replace("\"range_d\"", "\"rage_d\"");
        assert!(row(&damaged).unwrap_err().contains("damaged"));
    }

    #[test]
    fn axes_are_compared_round_the_clock() {
        assert!(near(359.0, 0.0) && near(175.0, 2.0) && near(190.0, 2.0));
        assert!(!near(90.0, 0.0) && !near(20.0, 0.0));
    }
}
