//! The charts of a bath's page.

use super::baseline::{baseline, medians};
use super::figures::Figure;
use super::verdict::{Judged, rank_sums};
use super::{Day, Span};
use crate::charts::{ChartError, Frame, Level, Line, LineKind, Rule, SeriesChart, series_chart};
use crate::raster::stats::median;
use crate::trend::{ewma, individuals};

/// Size of a chart, in the charts' text units.
const SIZE: (u32, u32) = (760, 230);

/// Share of a new day in the weighted average, as in the handbook's example.
const EWMA_WEIGHT: f64 = 0.3;

/// Plates that are drawn one by one; with more, only the days are.
const MOST_DOTS: usize = 1_500;

/// What the values are counted from: the border's silver has no zero of its own, so its first days serve.
pub(super) fn zero_of(judged: &Judged) -> f64 {
    if judged.figure != Figure::Border {
        return 0.0;
    }
    let first = judged.segments.iter().find(|s| !s.days.is_empty());
    let days = first.map(|segment| baseline(judged, segment, None));
    median(&mut medians(&days.unwrap_or_default())).unwrap_or(0.0)
}

/// Each plate, the weighted average of the days, centre and limits, resets. Limits come from the `chosen` days, if any.
pub(super) fn values(
    judged: &Judged,
    start: Day,
    chosen: Option<Span>,
) -> Result<String, ChartError> {
    let x_of = |day: Day| (day.number() - start.number()) as f64;
    let zero = zero_of(judged);
    let y_label = match judged.figure {
        Figure::Border => format!("{}, above the first days", judged.figure.unit()),
        figure => figure.unit().to_owned(),
    };
    let plates: usize = judged.segments.iter().map(|segment| segment.plates()).sum();
    let mut chart = SeriesChart {
        frame: frame(judged, start, &y_label),
        dots: Vec::new(),
        lines: Vec::new(),
        levels: Vec::new(),
        rules: rules(judged, start),
    };
    for segment in &judged.segments {
        for day in &segment.days {
            let each = match plates <= MOST_DOTS {
                true => day.values.as_slice(),
                false => std::slice::from_ref(&day.median),
            };
            chart
                .dots
                .extend(each.iter().map(|value| (x_of(day.day), *value - zero)));
        }
        let baseline = medians(&baseline(judged, segment, chosen));
        let (Some(limits), Some(first), Some(last)) = (
            individuals(&baseline),
            segment.days.first(),
            segment.days.last(),
        ) else {
            continue;
        };
        let x = (x_of(first.day), x_of(last.day));
        for (y, dashed) in [
            (limits.centre, false),
            (limits.low, true),
            (limits.high, true),
        ] {
            let y = y - zero;
            chart.levels.push(Level { x, y, dashed });
        }
        let averages = ewma(&segment.medians(), EWMA_WEIGHT, limits.centre);
        let points = segment.days.iter().zip(averages);
        chart.lines.push(Line {
            points: points
                .map(|(day, y)| (x_of(day.day), Some(y - zero)))
                .collect(),
            kind: LineKind::Fit,
        });
    }
    let heights = chart.dots.iter().map(|(_, y)| *y);
    chart.frame.y = span(heights.chain(chart.levels.iter().map(|level| level.y)));
    series_chart(&chart)
}

/// The cumulative sums of the ranks and the height above which chance is not believed.
pub(super) fn sums(judged: &Judged, start: Day) -> Result<String, ChartError> {
    let x_of = |day: Day| (day.number() - start.number()) as f64;
    let mut chart = SeriesChart {
        frame: frame(judged, start, "sum of ranks"),
        dots: Vec::new(),
        lines: Vec::new(),
        levels: Vec::new(),
        rules: rules(judged, start),
    };
    let mut highest: f64 = 1.0;
    for segment in &judged.segments {
        let found = rank_sums(judged.figure, segment);
        let mut points = Vec::new();
        for ((day, (sum, height)), next) in segment
            .days
            .iter()
            .zip(&found)
            .zip(segment.days.iter().skip(1).map(Some).chain([None]))
        {
            points.push((x_of(day.day), Some(*sum)));
            highest = highest.max(*sum).max(height.unwrap_or(0.0));
            if let Some(y) = *height {
                let to = next.map_or(x_of(day.day) + 1.0, |next| x_of(next.day));
                let x = (x_of(day.day), to);
                chart.levels.push(Level { x, y, dashed: true });
            }
        }
        chart.lines.push(Line {
            points,
            kind: LineKind::Measured,
        });
    }
    chart.frame.y = (0.0, 1.1 * highest);
    series_chart(&chart)
}

fn frame(judged: &Judged, start: Day, y_label: &str) -> Frame {
    let last = judged.segments.iter().rev().find_map(|s| s.days.last());
    let days = last.map_or(0, |last| last.day.number() - start.number());
    Frame {
        title: format!("{} over {days} days from {start} on", judged.figure.words()),
        x_label: format!("days from {start} on"),
        y_label: y_label.to_owned(),
        x: (-0.5, days as f64 + 1.0),
        y: (0.0, 1.0),
        size: SIZE,
    }
}

fn rules(judged: &Judged, start: Day) -> Vec<Rule> {
    let resets = judged.segments.iter().filter_map(|s| s.since.as_ref());
    let at = |day: &Day| (day.number() - start.number()) as f64 - 0.25;
    resets
        .filter(|(_, day)| at(day) >= -0.5)
        .map(|(what, day)| Rule {
            x: at(day),
            label: what.replace('_', " "),
        })
        .collect()
}

/// An axis that holds all of them, never without a span.
fn span(values: impl Iterator<Item = f64>) -> (f64, f64) {
    let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
        (low.min(v), high.max(v))
    });
    let room = (0.08 * (high - low)).max(0.005);
    match low.is_finite() && high.is_finite() {
        true => (low - room, high + room),
        false => (0.0, 1.0),
    }
}
