//! Axes, lines, dots, bars, roses and maps as SVG text.
//!
//! Comes in: series of numbers with labels. Goes out: an SVG fragment that scales with its frame.
//! Units: those of the labels it is given. Not here: what a plate is.

use plotters::style::RGBColor;

mod axes;
mod bars;
mod lines;
mod map;
mod rose;
mod series;

pub use bars::{BarChart, bar_chart};
pub use lines::{Line, LineChart, LineKind, line_chart};
pub use map::{HeightMap, height_map};
pub use rose::{Rose, Spoke, rose};
pub use series::{Level, SeriesChart, series_chart};

/// Ink of text and measured lines. A page may recolour it by matching the attribute.
pub const INK: RGBColor = RGBColor(0x23, 0x1d, 0x17);
/// Ticks, grid and shading.
pub const SOFT: RGBColor = RGBColor(0x6b, 0x60, 0x54);
/// What the eye should find first.
pub const ACCENT: RGBColor = RGBColor(0x9d, 0x3a, 0x12);

/// A chart that could not be drawn.
#[derive(Debug, thiserror::Error)]
pub enum ChartError {
    /// The drawing library refused.
    #[error("chart could not be drawn: {0}")]
    Draw(String),
    /// There is no span to draw over.
    #[error("chart {0} has no numbers to draw")]
    Empty(String),
}

/// What every chart needs besides its series.
#[derive(Debug, Clone, PartialEq)]
pub struct Frame {
    /// Said aloud in place of the drawing.
    pub title: String,
    /// Along the lower side, with unit.
    pub x_label: String,
    /// Above the upright axis, with unit.
    pub y_label: String,
    /// Lower and upper end of the x axis.
    pub x: (f64, f64),
    /// Lower and upper end of the y axis.
    pub y: (f64, f64),
    /// Width and height, in units in which text is about 13 high.
    pub size: (u32, u32),
}

/// An upright line across the chart with a word at its head.
#[derive(Debug, Clone, PartialEq)]
pub struct Rule {
    /// Where it stands.
    pub x: f64,
    /// The word, drawn away from the nearer side of the chart.
    pub label: String,
}
