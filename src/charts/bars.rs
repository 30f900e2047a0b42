//! Bars over a number axis, edge to edge.

use plotters::prelude::*;

use super::axes::{self, refused};
use super::{ACCENT, ChartError, Frame, INK, Rule};

/// Bars between neighbouring edges.
#[derive(Debug, Clone, PartialEq)]
pub struct BarChart {
    /// Axes and size.
    pub frame: Frame,
    /// Bin edges, rising; one more than heights.
    pub edges: Vec<f64>,
    /// Heights, in the unit of the y axis.
    pub heights: Vec<f64>,
    /// Upright rules.
    pub rules: Vec<Rule>,
}

/// Draws the chart as SVG. The y axis carries no figures: the shape is what counts.
///
/// # Errors
/// When an axis has no span.
pub fn bar_chart(chart: &BarChart) -> Result<String, ChartError> {
    let frame = &chart.frame;
    axes::chart(frame, false, |axes| {
        let bars = chart
            .edges
            .windows(2)
            .zip(&chart.heights)
            .filter(|(edges, height)| {
                **height > 0.0 && edges[0] >= frame.x.0 && edges[1] <= frame.x.1
            })
            .map(|(edges, height)| {
                let corners = [(edges[0], frame.y.0), (edges[1], height.min(frame.y.1))];
                Rectangle::new(corners, INK.mix(0.72).filled())
            });
        axes.draw_series(bars).map_err(refused)?;
        axes::rules(axes, frame, &chart.rules, ACCENT)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn empty_bins_draw_nothing() {
        let svg = bar_chart(&BarChart {
            frame: Frame {
                title: "bars".into(),
                x_label: "density".into(),
                y_label: "share".into(),
                x: (0.0, 3.0),
                y: (0.0, 5.0),
                size: (300, 200),
            },
            edges: vec![0.0, 1.0, 2.0, 3.0],
            heights: vec![2.0, 0.0, 4.0],
            rules: Vec::new(),
        })
        .unwrap();
        assert_eq!(svg.matches("<rect").count(), 2, "{svg}");
    }
}
