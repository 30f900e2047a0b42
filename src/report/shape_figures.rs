//! The charts of a shape: silver across bands, and the lie of an even plate's coating.

use super::{Report, ReportedFinding, words};
use crate::charts::{
    ChartError, Frame, HeightMap, Line, LineChart, LineKind, height_map, line_chart,
};
use crate::findings::Fault;
use crate::handling::Spot;
use crate::raster::Grid;
use crate::raster::stats::rising_quantiles;

/// Size of the chart across bands, in the charts' text units.
const ACROSS_SIZE: (u32, u32) = (480, 230);
/// Smallest span of its silver axis, so that noise does not look like a mountain: our own choice, four
/// times the least band that is reported.
const LEAST_SPAN_D: f64 = 0.06;
/// Share of the values that may stick out at either end beside the bands: a border, a thing of the scene.
const STICKS_OUT: f64 = 0.01;
/// Long side of the pour's map, in the charts' text units.
const MAP_LONG: f64 = 300.0;

/// Silver known across less than this share of a plate's side is shown by itself, not the whole side.
const ENLARGED: f64 = 0.3;

/// Silver across a finding's bands, the bands marked; `None` where there are none.
pub(super) fn across(
    finding: &ReportedFinding,
    report: &Report,
) -> Result<Option<String>, ChartError> {
    let Some(across) = &finding.across else {
        return Ok(None);
    };
    let plate = &report.plate;
    let slanted = across.from == Spot::TopLeft;
    let side_mm = match across.from {
        Spot::Top => plate.height_mm,
        _ => plate.width_mm,
    };
    let edge = across.from.words();
    // Without a scale, places are told in per cent of the plate.
    let (first, step, bands, side, unit) =
        match (across.first_mm, across.step_mm, &across.bands_mm, side_mm) {
            (Some(first), Some(step), Some(bands), Some(side)) => {
                (first, step, bands.clone(), side, "mm")
            }
            _ => {
                let bands = across.bands_share.iter();
                let bands = bands.map(|band| band.map(|share| 100.0 * share)).collect();
                let (first, step) = (100.0 * across.first_share, 100.0 * across.step_share);
                (first, step, bands, 100.0, "% of the plate")
            }
        };
    let points: Vec<(f64, Option<f64>)> = across
        .silver_d
        .iter()
        .enumerate()
        .map(|(k, silver)| (first + step * k as f64, *silver))
        .collect();
    let chart = LineChart {
        frame: Frame {
            title: format!(
                "Silver across the plate from {edge}, {} marked",
                match bands.len() {
                    1 => "one line".to_owned(),
                    count => format!("{count} bands"),
                }
            ),
            x_label: format!("{unit} from {edge}"),
            y_label: "silver above its surroundings, D".to_owned(),
            x: match (points.first(), points.last()) {
                (Some(first), Some(last)) if slanted || last.0 - first.0 < ENLARGED * side => {
                    (first.0, last.0)
                }
                _ => (0.0, side),
            },
            y: span(&points, &bands),
            size: ACROSS_SIZE,
        },
        lines: vec![Line {
            points,
            kind: LineKind::Measured,
        }],
        shaded: None,
        marked: bands.iter().map(|[from, to]| (*from, *to)).collect(),
        rules: Vec::new(),
    };
    drawn(line_chart(&chart))
}

/// The bands of a fault in words: all of them, and one by one.
pub(super) fn bands_words(fault: Fault) -> [&'static str; 2] {
    match fault {
        Fault::DipLine => ["the line", "the line itself"],
        Fault::Ridges => ["the waves", "each wave that was found"],
        _ => ["the streaks", "each streak that was found"],
    }
}

/// Lower and upper end of the silver axis: all of the bands, nearly all of the rest.
fn span(points: &[(f64, Option<f64>)], bands: &[[f64; 2]]) -> (f64, f64) {
    let mut all: Vec<f64> = points.iter().filter_map(|(_, silver)| *silver).collect();
    let [low, high] =
        rising_quantiles(&mut all, [STICKS_OUT, 1.0 - STICKS_OUT]).unwrap_or_default();
    let in_band = |x: f64| bands.iter().any(|[from, to]| (*from..=*to).contains(&x));
    let banded = points.iter().filter(|(x, _)| in_band(*x));
    let (low, high) = banded
        .filter_map(|(_, silver)| *silver)
        .fold((low, high), |(low, high), silver| {
            (low.min(silver), high.max(silver))
        });
    let more = (LEAST_SPAN_D - (high - low)).max(0.16 * (high - low)) / 2.0;
    // Whole hundredths, so that ticks fall on round figures.
    (
        ((low - more) * 100.0).floor() / 100.0,
        ((high + more) * 100.0).ceil() / 100.0,
    )
}

/// Lines of like silver over an even plate, the thick corner marked; `None` of any other finding.
pub(super) fn pour_map(
    finding: &ReportedFinding,
    report: &Report,
) -> Result<Option<String>, ChartError> {
    let Some(rows) = &finding.lie_d else {
        return Ok(None);
    };
    let columns = rows.iter().map(Vec::len).min().unwrap_or(0);
    let corner = finding.measured.thick_corner;
    let aspect = report.plate.aspect.clamp(0.25, 4.0);
    let map = HeightMap {
        title: format!(
            "Map of silver over the plate{}",
            corner.map_or(String::new(), |corner| {
                format!(", most at {}", corner.spot().words())
            })
        ),
        heights: Grid::from_shape_fn((rows.len(), columns), |(i, j)| rows[i][j]),
        corner: corner.map(|corner| {
            let steps = corner.spot().steps();
            let toward = steps.map(|step| if step > 0.0 { 1 } else { -1 });
            (toward, "most silver".to_owned())
        }),
        size: (
            MAP_LONG.min(MAP_LONG / aspect) as u32,
            MAP_LONG.min(MAP_LONG * aspect) as u32,
        ),
    };
    drawn(height_map(&map))
}

/// What is said under the pour's map.
pub(super) fn map_words(report: &Report) -> String {
    format!(
        "Each line joins places of like silver, in density counted from {}; the deeper the tint, the more silver.",
        words::lowered(&report.density.zero_source)
    )
}

/// A chart without a span is left out; the page does without it.
fn drawn(chart: Result<String, ChartError>) -> Result<Option<String>, ChartError> {
    match chart {
        Ok(svg) => Ok(Some(svg)),
        Err(ChartError::Empty(_)) => Ok(None),
        Err(other) => Err(other),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_axis_holds_every_band_and_is_never_narrow() {
        let quiet: Vec<(f64, Option<f64>)> = (0..300)
            .map(|k| (f64::from(k), Some(if k == 150 { 0.2 } else { 0.001 })))
            .collect();
        let (low, high) = span(&quiet, &[[149.5, 150.5]]);
        assert!(low <= 0.0 && high >= 0.2, "{low} {high}");
        let (low, high) = span(&quiet, &[]);
        assert!(
            high < 0.1 && high - low >= LEAST_SPAN_D - 1e-9,
            "{low} {high}"
        );
        let (low, high) = span(&[], &[]);
        assert!(low < high);
    }
}
