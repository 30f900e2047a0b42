//! Lines over a number axis.

use plotters::prelude::*;

use super::axes::{self, FINE, refused};
use super::{ACCENT, ChartError, Frame, INK, Rule, SOFT};

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LineKind {
    /// Measured values: thin, ink.
    Measured,
    /// A fit through them: thick, accent.
    Fit,
}

/// A series; unknown values leave a gap.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// `(x, y)`, x rising.
    pub points: Vec<(f64, Option<f64>)>,
    /// How it is drawn.
    pub kind: LineKind,
}

/// Lines with an optional shaded part of the x axis.
#[derive(Debug, Clone, PartialEq)]
pub struct LineChart {
    /// Axes and size.
    pub frame: Frame,
    /// Drawn in this order.
    pub lines: Vec<Line>,
    /// From and to on the x axis.
    pub shaded: Option<(f64, f64)>,
    /// Strips that the eye should find, from and to on the x axis.
    pub marked: Vec<(f64, f64)>,
    /// Upright rules.
    pub rules: Vec<Rule>,
}

/// Narrowest strip that is drawn, in the frame's units.
const LEAST_STRIP: f64 = 2.0;

/// Draws the chart as SVG.
///
/// # Errors
/// When an axis has no span.
pub fn line_chart(chart: &LineChart) -> Result<String, ChartError> {
    let frame = &chart.frame;
    axes::chart(frame, true, |axes| {
        if let Some((from, to)) = chart.shaded {
            let corners = [(from, frame.y.0), (to.min(frame.x.1), frame.y.1)];
            axes.draw_series([Rectangle::new(corners, SOFT.mix(0.14).filled())])
                .map_err(refused)?;
        }
        let least = LEAST_STRIP * (frame.x.1 - frame.x.0) / f64::from(frame.size.0);
        let strips = chart.marked.iter().map(|(from, to)| {
            let (middle, half) = ((from + to) / 2.0, ((to - from) / 2.0).max(least / 2.0));
            let inside = |x: f64| x.clamp(frame.x.0, frame.x.1);
            let corners = [
                (inside(middle - half), frame.y.0),
                (inside(middle + half), frame.y.1),
            ];
            Rectangle::new(corners, ACCENT.mix(0.2).filled())
        });
        axes.draw_series(strips).map_err(refused)?;
        axes::rules(axes, frame, &chart.rules, SOFT)?;
        for line in &chart.lines {
            let style = match line.kind {
                LineKind::Measured => INK.stroke_width(7 * FINE as u32 / 4),
                LineKind::Fit => ACCENT.stroke_width(5 * FINE as u32 / 2),
            };
            for run in line.points.split(|(_, y)| y.is_none()) {
                let known = run.iter().filter_map(|(x, y)| y.map(|y| (*x, y)));
                let inside = known.filter(|(x, _)| (frame.x.0..=frame.x.1).contains(x));
                let clamped = inside.map(|(x, y)| (x, y.clamp(frame.y.0, frame.y.1)));
                axes.draw_series(LineSeries::new(clamped, style))
                    .map_err(refused)?;
            }
        }
        Ok(())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chart(x: (f64, f64)) -> LineChart {
        LineChart {
            frame: Frame {
                title: "a <b> chart".into(),
                x_label: "mm".into(),
                y_label: "D & more".into(),
                x,
                y: (0.0, 1.0),
                size: (300, 200),
            },
            lines: vec![Line {
                points: vec![
                    (0.0, Some(0.1)),
                    (1.0, Some(0.5)),
                    (2.0, None),
                    (3.0, Some(0.2)),
                ],
                kind: LineKind::Fit,
            }],
            shaded: Some((0.0, 1.0)),
            marked: vec![(2.2, 2.4), (3.9, 4.5)],
            rules: vec![Rule {
                x: 1.0,
                label: "ledge".into(),
            }],
        }
    }

    #[test]
    fn gaps_split_the_line_and_words_are_escaped() {
        let svg = line_chart(&chart((0.0, 4.0))).unwrap();
        assert!(svg.matches("<polyline").count() >= 2, "{svg}");
        // The shaded part and two strips, beside the ground.
        assert_eq!(svg.matches("<rect").count(), 3, "{svg}");
        assert!(svg.contains("D &amp; more") && !svg.contains("<b>"));
        assert!(svg.trim_end().ends_with("</svg>"));
    }

    #[test]
    fn an_axis_without_span_is_an_error() {
        assert!(line_chart(&chart((1.0, 1.0))).is_err());
        assert!(line_chart(&chart((0.0, f64::NAN))).is_err());
    }
}
