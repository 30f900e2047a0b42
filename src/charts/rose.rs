//! A rose: how many of many directions point each way.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::axes::{self, FINE, face, refused};
use super::{ACCENT, ChartError, INK, SOFT};

/// A line from the middle outward, or through it both ways, with a word at its end.
#[derive(Debug, Clone, PartialEq)]
pub struct Spoke {
    /// Clockwise from twelve o'clock, degrees.
    pub deg: f64,
    /// Whether it goes both ways, as an axis does.
    pub both_ways: bool,
    /// The word; none for the mean itself.
    pub label: Option<String>,
}

/// Directions counted in equal sectors, the first of them round twelve o'clock.
#[derive(Debug, Clone, PartialEq)]
pub struct Rose {
    /// Said aloud in place of the drawing.
    pub title: String,
    /// Count of each sector, clockwise.
    pub counts: Vec<usize>,
    /// Their mean, drawn strongest.
    pub mean: Option<Spoke>,
    /// What they are compared with, drawn dashed.
    pub others: Vec<Spoke>,
    /// Words at twelve, three, six and nine o'clock.
    pub quarters: [String; 4],
    /// Width and height, in units in which text is about 13 high.
    pub size: (u32, u32),
}

/// Room for the words round the rose, drawing units.
const ROOM: i32 = 30 * FINE;
/// How far the words of spokes stand out beyond the circle, drawing units.
const WORD_OUT: i32 = 9 * FINE;
/// Steps along the round side of a sector.
const ROUND_STEPS: usize = 6;

/// Draws the rose as SVG. Areas count: the radius of a sector goes with the root of its count.
///
/// # Errors
/// When there is nothing to count.
pub fn rose(chart: &Rose) -> Result<String, ChartError> {
    let most = chart.counts.iter().copied().max().unwrap_or(0);
    if most == 0 {
        return Err(ChartError::Empty(chart.title.clone()));
    }
    let size = (chart.size.0 * FINE as u32, chart.size.1 * FINE as u32);
    let middle = (size.0 as i32 / 2, size.1 as i32 / 2);
    let radius = f64::from(middle.0.min(middle.1) - ROOM);
    let mut svg = String::new();
    {
        let area = SVGBackend::with_string(&mut svg, size).into_drawing_area();
        for share in [1.0, 0.5f64.sqrt()] {
            let ring = Circle::new(middle, (radius * share) as i32, SOFT.mix(0.35));
            area.draw(&ring).map_err(refused)?;
        }
        let each = 360.0 / chart.counts.len() as f64;
        for (k, count) in chart.counts.iter().enumerate().filter(|(_, n)| **n > 0) {
            let out = radius * (*count as f64 / most as f64).sqrt();
            let from = each * (k as f64 - 0.5);
            let mut sector = vec![middle];
            sector.extend((0..=ROUND_STEPS).map(|step| {
                let deg = from + each * step as f64 / ROUND_STEPS as f64;
                at(middle, deg, out)
            }));
            area.draw(&Polygon::new(sector, ACCENT.mix(0.55).filled()))
                .map_err(refused)?;
        }
        for spoke in &chart.others {
            let ends = ends(middle, spoke, radius);
            let style = SOFT.stroke_width(3 * FINE as u32 / 2);
            for dash in dashes(ends[0], ends[1]) {
                area.draw(&PathElement::new(dash, style)).map_err(refused)?;
            }
        }
        if let Some(mean) = &chart.mean {
            let style = INK.stroke_width(2 * FINE as u32);
            area.draw(&PathElement::new(ends(middle, mean, radius), style))
                .map_err(refused)?;
            let tips = [0.0, 180.0];
            for turn in &tips[..if mean.both_ways { 2 } else { 1 }] {
                area.draw(&arrow_head(middle, mean.deg + turn, radius))
                    .map_err(refused)?;
            }
        }
        words(&area, chart, middle, radius)?;
        area.present().map_err(refused)?;
    }
    Ok(axes::framed(&svg, &chart.title, size))
}

/// A point so far from the middle in a direction.
fn at(middle: (i32, i32), deg: f64, out: f64) -> (i32, i32) {
    let (sin, cos) = deg.to_radians().sin_cos();
    let off = |v: f64| v.round() as i32;
    (middle.0 + off(out * sin), middle.1 - off(out * cos))
}

fn ends(middle: (i32, i32), spoke: &Spoke, radius: f64) -> [(i32, i32); 2] {
    let back = if spoke.both_ways { -radius } else { 0.0 };
    [at(middle, spoke.deg, back), at(middle, spoke.deg, radius)]
}

/// Pieces of a dashed line.
fn dashes(from: (i32, i32), to: (i32, i32)) -> Vec<[(i32, i32); 2]> {
    let (dx, dy) = (f64::from(to.0 - from.0), f64::from(to.1 - from.1));
    let (dash, gap) = (f64::from(5 * FINE), f64::from(4 * FINE));
    let length = dx.hypot(dy).max(1.0);
    let along = |way: f64| {
        let share = (way / length).min(1.0);
        (
            from.0 + (dx * share).round() as i32,
            from.1 + (dy * share).round() as i32,
        )
    };
    let count = (length / (dash + gap)).ceil() as usize;
    (0..count)
        .map(|k| k as f64 * (dash + gap))
        .map(|start| [along(start), along(start + dash)])
        .collect()
}

fn arrow_head(middle: (i32, i32), deg: f64, radius: f64) -> Polygon<(i32, i32)> {
    let tip = at(middle, deg, radius);
    let barb = |turn: f64| at(tip, deg + turn, f64::from(11 * FINE));
    Polygon::new(vec![tip, barb(158.0), barb(202.0)], INK.filled())
}

/// Words of the quarters and of the spokes; a spoke's word stands where no quarter's does.
fn words(
    area: &axes::Area,
    chart: &Rose,
    middle: (i32, i32),
    radius: f64,
) -> Result<(), ChartError> {
    let mut taken: Vec<f64> = Vec::new();
    let write = |word: &str, deg: f64, colour| -> Result<(), ChartError> {
        let (x, y) = at(middle, deg, radius + f64::from(WORD_OUT));
        let (sin, cos) = deg.to_radians().sin_cos();
        let side = match sin {
            s if s > 0.35 => HPos::Left,
            s if s < -0.35 => HPos::Right,
            _ => HPos::Center,
        };
        let level = match cos {
            c if c > 0.8 => VPos::Bottom,
            c if c < -0.8 => VPos::Top,
            _ => VPos::Center,
        };
        let style = face(colour).pos(Pos::new(side, level));
        area.draw(&Text::new(word.to_owned(), (x, y), style))
            .map_err(refused)
    };
    for spoke in &chart.others {
        let Some(word) = &spoke.label else { continue };
        // An axis may have its word at either end.
        let ends = [spoke.deg, spoke.deg + 180.0];
        let free = |deg: &&f64| taken.iter().all(|other| apart(**deg, *other) > 25.0);
        let ends = &ends[..if spoke.both_ways { 2 } else { 1 }];
        if let Some(deg) = ends.iter().find(free) {
            write(word, *deg, INK)?;
            taken.push(*deg);
        }
    }
    for (k, word) in chart.quarters.iter().enumerate() {
        let deg = 90.0 * k as f64;
        if taken.iter().all(|other| apart(deg, *other) > 25.0) {
            write(word, deg, SOFT)?;
        }
    }
    Ok(())
}

fn apart(a: f64, b: f64) -> f64 {
    let d = (a - b).rem_euclid(360.0);
    d.min(360.0 - d)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chart() -> Rose {
        let mut counts = vec![0; 24];
        (counts[10], counts[11]) = (4, 9);
        Rose {
            title: "tails".into(),
            counts,
            mean: Some(Spoke {
                deg: 163.0,
                both_ways: false,
                label: None,
            }),
            others: vec![Spoke {
                deg: 0.0,
                both_ways: true,
                label: Some("dip".into()),
            }],
            quarters: ["top", "right", "bottom", "left"].map(str::to_owned),
            size: (260, 240),
        }
    }

    #[test]
    fn sectors_the_mean_and_words_are_drawn_once() {
        let svg = rose(&chart()).unwrap();
        // Two sectors and the arrow's head.
        assert_eq!(svg.matches("<polygon").count(), 3, "{svg}");
        // The dip's word stands in place of the top's.
        assert!(svg.contains("dip") && !svg.contains("\ntop"), "{svg}");
        assert!(svg.contains("right") && svg.contains("left"));
    }

    #[test]
    fn without_directions_there_is_no_rose() {
        let mut none = chart();
        none.counts = vec![0; 24];
        assert!(matches!(rose(&none), Err(ChartError::Empty(_))));
        assert_eq!(at((0, 0), 90.0, 10.0), (10, 0));
        assert_eq!(at((0, 0), 0.0, 10.0), (0, -10));
    }
}
