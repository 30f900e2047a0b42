//! Values over time as dots, with lines, levels and rules.

use plotters::prelude::*;

use super::axes::{self, FINE, refused};
use super::{ACCENT, ChartError, Frame, INK, Line, LineKind, Rule, SOFT};

/// Radius of a dot, in the frame's units.
const DOT: i32 = 2;

/// A level line over a part of the x axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// From and to on the x axis.
    pub x: (f64, f64),
    /// Its height.
    pub y: f64,
    /// Dashed, as a limit is; a plain line otherwise, as a centre is.
    pub dashed: bool,
}

/// Dots over time.
#[derive(Debug, Clone, PartialEq)]
pub struct SeriesChart {
    /// Axes and size.
    pub frame: Frame,
    /// `(x, y)` of each dot.
    pub dots: Vec<(f64, f64)>,
    /// Drawn over the dots.
    pub lines: Vec<Line>,
    /// Centres and limits.
    pub levels: Vec<Level>,
    /// Upright rules.
    pub rules: Vec<Rule>,
}

/// Draws the chart as SVG. What lies outside the axes is drawn at their ends.
///
/// # Errors
/// When an axis has no span.
pub fn series_chart(chart: &SeriesChart) -> Result<String, ChartError> {
    let frame = &chart.frame;
    let inside =
        |(x, y): (f64, f64)| (x.clamp(frame.x.0, frame.x.1), y.clamp(frame.y.0, frame.y.1));
    axes::chart(frame, true, |axes| {
        axes::rules(axes, frame, &chart.rules, SOFT)?;
        for level in &chart.levels {
            let ends = [inside((level.x.0, level.y)), inside((level.x.1, level.y))];
            let style = SOFT.stroke_width(5 * FINE as u32 / 4);
            match level.dashed {
                true => axes
                    .draw_series(DashedLineSeries::new(ends, 3 * FINE, 3 * FINE, style))
                    .map_err(refused)?,
                false => axes
                    .draw_series(LineSeries::new(ends, style))
                    .map_err(refused)?,
            };
        }
        let dots = chart.dots.iter().map(|dot| inside(*dot));
        axes.draw_series(dots.map(|dot| Circle::new(dot, DOT * FINE, INK.mix(0.6).filled())))
            .map_err(refused)?;
        for line in &chart.lines {
            let style = match line.kind {
                LineKind::Measured => INK.stroke_width(7 * FINE as u32 / 4),
                LineKind::Fit => ACCENT.stroke_width(9 * FINE as u32 / 4),
            };
            for run in line.points.split(|(_, y)| y.is_none()) {
                let known = run.iter().filter_map(|(x, y)| y.map(|y| inside((*x, y))));
                axes.draw_series(LineSeries::new(known, style))
                    .map_err(refused)?;
            }
        }
        Ok(())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dots_lines_and_levels_are_drawn_within_the_axes() {
        let chart = SeriesChart {
            frame: Frame {
                title: "a series".into(),
                x_label: "days".into(),
                y_label: "D".into(),
                x: (0.0, 4.0),
                y: (0.0, 1.0),
                size: (300, 200),
            },
            dots: vec![(0.0, 0.2), (1.0, 7.0), (2.0, 0.4)],
            lines: vec![Line {
                points: vec![
                    (0.0, Some(0.2)),
                    (1.0, None),
                    (2.0, Some(0.3)),
                    (3.0, Some(0.4)),
                ],
                kind: LineKind::Fit,
            }],
            levels: vec![Level {
                x: (0.0, 4.0),
                y: 0.5,
                dashed: false,
            }],
            rules: Vec::new(),
        };
        let svg = series_chart(&chart).unwrap();
        assert_eq!(svg.matches("<circle").count(), 3, "{svg}");
        assert!(svg.matches("<polyline").count() >= 2, "{svg}");
        let flat = SeriesChart {
            frame: Frame {
                y: (1.0, 1.0),
                ..chart.frame.clone()
            },
            ..chart
        };
        assert!(series_chart(&flat).is_err());
    }
}
