//! The frame of a chart: ticks, labels, rules.

use plotters::coord::Shift;
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::{ChartError, Frame, INK, Rule, SOFT};

/// Whole drawing units in one unit of [`Frame::size`]: the library draws on whole units only, and a
/// quarter is fine enough for the eye.
pub(super) const FINE: i32 = 4;
/// Height of text in drawing units. The library writes 1/1.24 of what it is told.
const TEXT: f64 = 12.5 * 1.24 * FINE as f64;

/// The library's drawing area as used here.
pub(super) type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;
/// A chart with its axes.
pub(super) type Axes<'a> =
    ChartContext<'a, SVGBackend<'a>, Cartesian2d<RangedCoordf64, RangedCoordf64>>;

/// Text in the chart's own face.
pub(super) fn face(colour: RGBColor) -> TextStyle<'static> {
    ("sans-serif", TEXT).into_font().color(&colour)
}

/// Draws ticks, labels and light lines across; `draw` adds the series.
pub(super) fn chart(
    frame: &Frame,
    y_ticks: bool,
    draw: impl FnOnce(&mut Axes) -> Result<(), ChartError>,
) -> Result<String, ChartError> {
    let spans = [frame.x, frame.y];
    let usable = |(from, to): &(f64, f64)| from.is_finite() && to.is_finite() && from < to;
    if !spans.iter().all(usable) {
        return Err(ChartError::Empty(frame.title.clone()));
    }
    let size = (frame.size.0 * FINE as u32, frame.size.1 * FINE as u32);
    let mut svg = String::new();
    {
        let area: Area = SVGBackend::with_string(&mut svg, size).into_drawing_area();
        let mut axes = ChartBuilder::on(&area)
            .margin_top(26 * FINE)
            .margin_right(14 * FINE)
            .x_label_area_size(46 * FINE)
            .y_label_area_size(if y_ticks { 48 * FINE } else { 16 * FINE })
            .build_cartesian_2d(frame.x.0..frame.x.1, frame.y.0..frame.y.1)
            .map_err(refused)?;
        mesh(&mut axes, frame, y_ticks)?;
        draw(&mut axes)?;
        area.draw(&Text::new(
            frame.y_label.clone(),
            (2 * FINE, 4 * FINE),
            face(SOFT),
        ))
        .map_err(refused)?;
        area.present().map_err(refused)?;
    }
    Ok(framed(&svg, &frame.title, size))
}

fn mesh(axes: &mut Axes, frame: &Frame, y_ticks: bool) -> Result<(), ChartError> {
    let (x_decimals, y_decimals) = (tick_decimals(frame.x), tick_decimals(frame.y));
    let x_words = |x: &f64| tick_words(*x, x_decimals);
    let y_words = |y: &f64| tick_words(*y, y_decimals);
    let mut mesh = axes.configure_mesh();
    mesh.disable_x_mesh()
        .light_line_style(TRANSPARENT)
        .bold_line_style(SOFT.mix(0.22).stroke_width(FINE as u32))
        .axis_style(SOFT.stroke_width(FINE as u32))
        .set_all_tick_mark_size(4 * FINE)
        .label_style(face(SOFT))
        .x_labels(6)
        .y_labels(if y_ticks { 5 } else { 0 })
        .x_label_formatter(&x_words)
        .y_label_formatter(&y_words)
        .x_desc(frame.x_label.clone())
        .axis_desc_style(face(SOFT));
    if !y_ticks {
        mesh.disable_y_mesh().disable_y_axis();
    }
    mesh.draw().map_err(refused)
}

/// A figure at a tick: a true minus sign, and none before nothing.
pub(super) fn tick_words(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.contains(|c: char| c.is_ascii_digit() && c != '0') => format!("−{rest}"),
        Some(rest) => rest.to_owned(),
        None => text,
    }
}

/// Decimals that tell about five ticks apart.
fn tick_decimals((from, to): (f64, f64)) -> usize {
    let step = (to - from) / 5.0;
    (0..4)
        .find(|decimals| step >= 0.9 * 10f64.powi(-(*decimals as i32)))
        .unwrap_or(4)
}

/// Upright rules with their words.
pub(super) fn rules(
    axes: &mut Axes,
    frame: &Frame,
    rules: &[Rule],
    colour: RGBColor,
) -> Result<(), ChartError> {
    let middle = (frame.x.0 + frame.x.1) / 2.0;
    for rule in rules {
        let ends = [(rule.x, frame.y.0), (rule.x, frame.y.1)];
        let style = colour.stroke_width(5 * FINE as u32 / 4);
        axes.draw_series(DashedLineSeries::new(ends, 5 * FINE, 4 * FINE, style))
            .map_err(refused)?;
        let (side, gap) = if rule.x <= middle {
            (HPos::Left, 5 * FINE)
        } else {
            (HPos::Right, -5 * FINE)
        };
        let style = face(INK).pos(Pos::new(side, VPos::Top));
        let word = EmptyElement::at((rule.x, frame.y.1))
            + Text::new(rule.label.clone(), (gap, 2 * FINE), style);
        axes.draw_series([word]).map_err(refused)?;
    }
    Ok(())
}

/// An error of the drawing library in our words.
pub(super) fn refused(why: impl std::fmt::Display) -> ChartError {
    ChartError::Draw(why.to_string())
}

/// Lets the drawing scale with its frame and says what it shows.
pub(super) fn framed(svg: &str, title: &str, (width, height): (u32, u32)) -> String {
    let body = svg.split_once('>').map_or("", |(_, body)| body);
    let title: String = title
        .chars()
        .filter(|c| !matches!(c, '<' | '>' | '&' | '"'))
        .collect();
    format!(
        "<svg class=\"chart\" role=\"img\" aria-label=\"{title}\" viewBox=\"0 0 {width} {height}\" \
         xmlns=\"http://www.w3.org/2000/svg\">{body}"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_has_no_sign() {
        assert_eq!(tick_words(-1e-17, 2), "0.00");
        assert_eq!(tick_words(-0.05, 2), "−0.05");
        assert_eq!(tick_words(0.1, 1), "0.1");
    }
}
