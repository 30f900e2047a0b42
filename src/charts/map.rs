//! A map of heights: lines of one height over a tinted ground.

use std::fmt::Write;

use plotters::style::RGBColor;

use super::axes::{FINE, framed, tick_words};
use super::{ACCENT, ChartError, INK, SOFT};
use crate::raster::Grid;
use crate::raster::contours::{Place, outlines};

/// Heights over a rectangle, with one corner marked.
#[derive(Debug, Clone, PartialEq)]
pub struct HeightMap {
    /// Said aloud in place of the drawing.
    pub title: String,
    /// Heights at equal distances, the outermost on the rectangle's sides.
    pub heights: Grid<f64>,
    /// Corner to mark, -1 for left and top, 1 for right and bottom, and its word.
    pub corner: Option<([i8; 2], String)>,
    /// Width and height of the rectangle, in units in which text is about 13 high.
    pub size: (u32, u32),
}

/// Steps that lines may have, finest first.
const STEPS: [f64; 9] = [0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0];
/// Most steps over the range of the map: more lines crowd.
const MOST_STEPS: f64 = 10.0;
/// Room above and below the rectangle for the corner's word, and beside it, in the map's units.
const ROOM: [f64; 2] = [4.0, 22.0];
/// Height of text, in the map's units.
const TEXT: f64 = 12.5;
/// How far the middles of labels stay from the left and right sides, and from top and bottom.
const SIDE_CLEAR: [f64; 2] = [24.0, 15.0];
/// How far labels stay from each other if they can.
const CLEAR: f64 = 62.0;
/// Lines shorter than this bear no label.
const LEAST_LABELLED: f64 = 40.0;
/// Sides of the mark in a corner.
const CORNER: f64 = 20.0;
/// Strength of the tint that each step adds.
const TINT: f64 = 0.075;

/// Height from line to line.
fn step_of(range: f64) -> f64 {
    STEPS
        .into_iter()
        .find(|step| range / step <= MOST_STEPS)
        .unwrap_or(range / MOST_STEPS)
}

/// Draws the map as SVG: the deeper the tint the higher, a figure on each line.
///
/// # Errors
/// When the heights have no range.
pub fn height_map(map: &HeightMap) -> Result<String, ChartError> {
    let heights = map.heights.iter().copied().filter(|h| h.is_finite());
    let (low, high) = heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), h| {
        (low.min(h), high.max(h))
    });
    let (rows, columns) = map.heights.dim();
    if low >= high || rows < 2 || columns < 2 || map.size.0 == 0 || map.size.1 == 0 {
        return Err(ChartError::Empty(map.title.clone()));
    }
    let step = step_of(high - low);
    let last = [(columns - 1) as f64, (rows - 1) as f64];
    let sides = [f64::from(map.size.0), f64::from(map.size.1)];
    let scaled = |at: Place| [0, 1].map(|k| ROOM[k] + at[k] / last[k] * sides[k]);
    let on_side =
        |a: Place, b: Place| (0..2).any(|k| a[k] == b[k] && (a[k] == 0.0 || a[k] == last[k]));
    let mut tints = String::new();
    let mut lines = String::new();
    let mut labels: Vec<(Place, f64)> = Vec::new();
    let corner_at = map
        .corner
        .as_ref()
        .map(|(corner, _)| [0, 1].map(|k| ROOM[k] + if corner[k] > 0 { sides[k] } else { 0.0 }));
    for k in ((low / step).floor() as i64 + 1)..=((high / step).ceil() as i64 - 1) {
        let level = k as f64 * step;
        let mut ground = String::new();
        let mut longest: Vec<Place> = Vec::new();
        for outline in outlines(&map.heights, level) {
            ground += &path(outline.iter().map(|at| scaled(*at)));
            ground.push('Z');
            for line in open_lines(&outline, on_side) {
                let line: Vec<Place> = line.into_iter().map(scaled).collect();
                lines += &path(line.iter().copied());
                if length(&line) > length(&longest) {
                    longest = line;
                }
            }
        }
        // Writing to a string cannot fail.
        let _ = write!(tints, "<path d=\"{ground}\"/>");
        let taken: Vec<Place> = labels.iter().map(|(at, _)| *at).chain(corner_at).collect();
        if length(&longest) >= LEAST_LABELLED
            && let Some(at) = label_place(&longest, &taken, sides)
        {
            labels.push((at, level));
        }
    }
    let decimals = (0..4)
        .find(|decimals| step >= 0.99 * 10f64.powi(-decimals))
        .unwrap_or(4) as usize;
    let svg = format!(
        "<svg>\n<g fill=\"{accent}\" fill-opacity=\"{TINT}\" fill-rule=\"evenodd\">{tints}</g>\n\
         <path d=\"{lines}\" fill=\"none\" stroke=\"{accent}\" stroke-opacity=\"0.75\" stroke-width=\"{thin}\"/>\n\
         {corner}<rect {outline} fill=\"none\" stroke=\"{ink}\" stroke-width=\"{thick}\"/>\n{labels}</svg>",
        accent = hex(ACCENT),
        ink = hex(INK),
        thin = drawn(1.3),
        thick = drawn(1.5),
        outline = format_args!(
            "x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"",
            drawn(ROOM[0]),
            drawn(ROOM[1]),
            drawn(sides[0]),
            drawn(sides[1])
        ),
        corner = corner_mark(map, sides),
        labels = labels
            .iter()
            .map(|(at, level)| text(*at, "middle", "0.35em", INK, &tick_words(*level, decimals)))
            .collect::<String>(),
    );
    let whole = [0, 1].map(|k| ((sides[k] + 2.0 * ROOM[k]) * f64::from(FINE)) as u32);
    Ok(framed(&svg, &map.title, (whole[0], whole[1])))
}

/// The pieces of an outline that do not run along the rectangle's sides.
fn open_lines(outline: &[Place], on_side: impl Fn(Place, Place) -> bool) -> Vec<Vec<Place>> {
    let count = outline.len();
    let pair = |k: usize| (outline[k % count], outline[(k + 1) % count]);
    // From a side on, so that no piece is cut in two where the outline happens to start.
    let start = (0..count).find(|k| {
        let (a, b) = pair(*k);
        on_side(a, b)
    });
    let mut lines = Vec::new();
    let mut line: Vec<Place> = Vec::new();
    for k in start.unwrap_or(0)..start.unwrap_or(0) + count {
        let (a, b) = pair(k);
        if on_side(a, b) {
            lines.push(std::mem::take(&mut line));
            continue;
        }
        if line.is_empty() {
            line.push(a);
        }
        line.push(b);
    }
    lines.push(line);
    lines.retain(|line| line.len() > 1);
    lines
}

fn length(line: &[Place]) -> f64 {
    let pairs = line.windows(2);
    pairs
        .map(|pair| (pair[1][0] - pair[0][0]).hypot(pair[1][1] - pair[0][1]))
        .sum()
}

/// The place on a line that is clear of what is taken and of the sides, the nearest to its middle.
fn label_place(line: &[Place], taken: &[Place], sides: [f64; 2]) -> Option<Place> {
    let clear = |at: &Place| {
        (0..2).all(|k| {
            let inside = at[k] - ROOM[k];
            inside.min(sides[k] - inside) >= SIDE_CLEAR[k]
        })
    };
    let free = |at: &Place| {
        let apart = |other: &Place| (at[0] - other[0]).hypot(at[1] - other[1]);
        taken.iter().map(apart).fold(CLEAR, f64::min)
    };
    let inside = line.iter().filter(|at| clear(at));
    let best = inside.clone().map(free).fold(0.0, f64::max);
    // A label on another is worse than none.
    if best < 1.6 * TEXT {
        return None;
    }
    let good: Vec<&Place> = inside.filter(|at| free(at) >= best - 1e-9).collect();
    good.get(good.len() / 2).map(|at| **at)
}

/// A filled corner and its word outside the rectangle.
fn corner_mark(map: &HeightMap, sides: [f64; 2]) -> String {
    let Some((corner, word)) = &map.corner else {
        return String::new();
    };
    let far = [0, 1].map(|k| corner[k] > 0);
    let at = [0, 1].map(|k| ROOM[k] + if far[k] { sides[k] } else { 0.0 });
    let inward = far.map(|far| if far { -CORNER } else { CORNER });
    let triangle = path([at, [at[0] + inward[0], at[1]], [at[0], at[1] + inward[1]]].into_iter());
    let beside = if far[1] { 15.0 } else { -6.0 };
    let anchor = if far[0] { "end" } else { "start" };
    format!(
        "<path d=\"{triangle}Z\" fill=\"{}\"/>\n{}",
        hex(ACCENT),
        text([at[0], at[1] + beside], anchor, "0", SOFT, word)
    )
}

/// Straight from point to point.
fn path(points: impl Iterator<Item = Place>) -> String {
    let mut path = String::new();
    for (k, [x, y]) in points.enumerate() {
        let word = if k == 0 { 'M' } else { 'L' };
        // Writing to a string cannot fail.
        let _ = write!(path, "{word}{} {}", drawn(x), drawn(y));
    }
    path
}

/// A length in whole drawing units.
fn drawn(units: f64) -> i64 {
    (units * f64::from(FINE)).round() as i64
}

fn text([x, y]: Place, anchor: &str, dy: &str, colour: RGBColor, words: &str) -> String {
    let words = words.replace(['<', '>', '&', '"'], "");
    format!(
        "<text x=\"{}\" y=\"{}\" dy=\"{dy}\" text-anchor=\"{anchor}\" font-family=\"sans-serif\" \
         font-size=\"{}\" fill=\"{}\">{words}</text>\n",
        drawn(x),
        drawn(y),
        drawn(TEXT),
        hex(colour)
    )
}

fn hex(RGBColor(r, g, b): RGBColor) -> String {
    format!("#{r:02X}{g:02X}{b:02X}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn map(heights: Grid<f64>, corner: Option<[i8; 2]>) -> HeightMap {
        HeightMap {
            title: "a <map>".into(),
            heights,
            corner: corner.map(|corner| (corner, "most".to_owned())),
            size: (300, 240),
        }
    }

    #[test]
    fn a_slope_has_a_figure_on_each_line_and_its_corner_marked() {
        let slope = Grid::from_shape_fn((25, 25), |(i, j)| 0.5 + 0.005 * (i + j) as f64);
        let svg = height_map(&map(slope, Some([1, 1]))).unwrap();
        // 0.50 to 0.74: lines at 0.55, 0.60, 0.65 and 0.70, and the corner's word.
        assert_eq!(svg.matches("<text").count(), 5, "{svg}");
        for label in [">0.55<", ">0.60<", ">0.65<", ">0.70<", ">most<"] {
            assert!(svg.contains(label), "{label}");
        }
        assert!(svg.contains("text-anchor=\"end\"") && svg.trim_end().ends_with("</svg>"));
        assert!(!svg.contains("<map>"));
    }

    #[test]
    fn labels_keep_apart() {
        let bowl = Grid::from_shape_fn((33, 33), |(i, j)| {
            0.002 * ((i as f64 - 16.0).powi(2) + (j as f64 - 16.0).powi(2))
        });
        let svg = height_map(&map(bowl, None)).unwrap();
        let number = |text: &str, key: &str| -> f64 {
            let (_, rest) = text.split_once(key).unwrap();
            rest.split('"').next().unwrap().parse().unwrap()
        };
        let at: Vec<[f64; 2]> = svg
            .split("<text ")
            .skip(1)
            .map(|text| [number(text, "x=\""), number(text, "y=\"")])
            .collect();
        assert!(at.len() >= 3, "{svg}");
        for (k, a) in at.iter().enumerate() {
            for b in &at[..k] {
                let apart = (a[0] - b[0]).hypot(a[1] - b[1]) / f64::from(FINE);
                assert!(apart >= 1.6 * TEXT, "{a:?} {b:?}");
            }
        }
    }

    #[test]
    fn level_ground_has_no_map() {
        let level = height_map(&map(Grid::from_elem((5, 5), 1.0), None));
        assert!(matches!(level, Err(ChartError::Empty(_))));
    }
}
