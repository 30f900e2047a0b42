//! Marks drawn over the plate's picture, as SVG.
//!
//! Only numbers and our own words go into the SVG text built here; words from a file never do.

use std::fmt::Write;

use super::{ReportedFinding, ReportedMark};
use crate::findings::Fault;

/// Long side of the map's own frame. All sizes below are in its units.
const LONG: f64 = 1000.0;
/// Radius of a numbered tag.
pub(super) const TAG_RADIUS: f64 = 23.0;
/// Least radius of a ring round a mark, so that it is seen on a phone.
const LEAST_RING: f64 = 9.0;
/// The same where there are many marks: rings must not hide the plate.
const LEAST_RING_AMONG_MANY: f64 = 5.0;
/// Marks from which there are many.
const MANY: usize = 80;
/// Most marks of one group that are drawn, the strongest: more neither the eye nor the page can bear. All
/// of them stand in the JSON.
pub(super) const MOST_DRAWN: usize = 500;
/// Distance of a whole-plate frame from the plate's edge.
const FRAME_INSET: f64 = 12.0;
/// Share of the plate above which a place is not shown enlarged.
const WHOLE_SHARE: f64 = 0.55;
/// Least side of an enlarged place.
const LEAST_CROP: f64 = 170.0;

/// The map's frame: the plate with its long side at [`LONG`].
#[derive(Debug, Clone, Copy)]
pub(super) struct PlateMap {
    pub(super) width: f64,
    pub(super) height: f64,
}

/// One finding drawn on the map.
#[derive(Debug, Clone)]
pub(super) struct DrawnFinding {
    /// SVG elements.
    pub(super) svg: String,
    /// Centre of its numbered tag.
    pub(super) tag: [f64; 2],
    /// `x y width height` of its place enlarged, when it is smaller than the plate.
    pub(super) crop: Option<[f64; 4]>,
}

impl PlateMap {
    /// `aspect` is height over width.
    pub(super) fn new(aspect: f64) -> PlateMap {
        let aspect = if aspect.is_finite() && aspect > 0.0 {
            aspect
        } else {
            1.0
        };
        PlateMap {
            width: LONG.min(LONG / aspect),
            height: LONG.min(LONG * aspect),
        }
    }

    /// Draws all findings; tags keep clear of each other.
    pub(super) fn draw(&self, findings: &[&ReportedFinding]) -> Vec<DrawnFinding> {
        let mut tags: Vec<[f64; 2]> = Vec::new();
        findings
            .iter()
            .map(|finding| {
                let tag = self.free_place(finding, &tags);
                tags.push(tag);
                DrawnFinding {
                    svg: self.shape(finding),
                    tag,
                    crop: self.crop(finding),
                }
            })
            .collect()
    }

    fn x(&self, share: f64) -> f64 {
        share * self.width
    }

    fn y(&self, share: f64) -> f64 {
        share * self.height
    }

    fn corners(&self, finding: &ReportedFinding) -> [f64; 4] {
        let [x0, y0, x1, y1] = finding.box_share;
        [self.x(x0), self.y(y0), self.x(x1), self.y(y1)]
    }

    fn shape(&self, finding: &ReportedFinding) -> String {
        match finding.fault {
            Fault::Veil | Fault::FlatImage => self.whole_frame(),
            Fault::EdgeFog => self.edge_band(finding),
            // The edge of a second flow, around the part that it lies over.
            Fault::Ridges if finding.outline_share.is_some() => self.outline(finding),
            Fault::UnevenPour if finding.outline_share.is_some() => {
                self.outline(finding) + &self.arrow(finding)
            }
            Fault::UnevenPour => self.whole_frame() + &self.arrow(finding),
            Fault::Comets
            | Fault::Pinholes
            | Fault::Specks
            | Fault::ScanDust
            | Fault::Streaks
            | Fault::Ridges
            | Fault::DipLine
            | Fault::Scratch => self.group(finding),
            Fault::LightLeak
            | Fault::BareArea
            | Fault::Stain
            | Fault::Lifting
            | Fault::Underfixed => self.outline(finding),
        }
    }

    fn whole_frame(&self) -> String {
        let (w, h) = (
            self.width - 2.0 * FRAME_INSET,
            self.height - 2.0 * FRAME_INSET,
        );
        cased(&format!(
            "<rect x=\"{FRAME_INSET}\" y=\"{FRAME_INSET}\" width=\"{w:.1}\" height=\"{h:.1}\" rx=\"6\"/>"
        ))
    }

    /// A band that fades inward, and a dashed line where the fog has fallen to 1/e.
    fn edge_band(&self, finding: &ReportedFinding) -> String {
        let [x0, y0, x1, y1] = self.corners(finding);
        let place = finding.place.as_deref().unwrap_or_default();
        let (w, h) = (self.width, self.height);
        let across = match place {
            "top" | "bottom" => h,
            _ => w,
        };
        let depth = finding.depth_share.map(|share| share * across);
        let reach = |from_box: f64| depth.map_or(from_box, |d| 2.0 * d).max(6.0).min(across);
        let (band, line) = match place {
            "top" => ([x0, 0.0, x1, reach(y1)], depth.map(|d| [x0, d, x1, d])),
            "bottom" => (
                [x0, h - reach(h - y0), x1, h],
                depth.map(|d| [x0, h - d, x1, h - d]),
            ),
            "left" => ([0.0, y0, reach(x1), y1], depth.map(|d| [d, y0, d, y1])),
            "right" => (
                [w - reach(w - x0), y0, w, y1],
                depth.map(|d| [w - d, y0, w - d, y1]),
            ),
            _ => return self.outline(finding),
        };
        let mut svg = format!(
            "<rect class=\"band\" fill=\"url(#fade-{place})\" {}/>",
            rect(band)
        );
        if let Some([x0, y0, x1, y1]) = line {
            svg += &cased(&format!(
                "<line class=\"dash\" x1=\"{x0:.1}\" y1=\"{y0:.1}\" x2=\"{x1:.1}\" y2=\"{y1:.1}\"/>"
            ));
        }
        svg
    }

    fn outline(&self, finding: &ReportedFinding) -> String {
        match finding.outline_share.as_deref() {
            Some(points) if points.len() > 2 => {
                let mut path = String::from("M");
                for [x, y] in points {
                    // Writing to a string cannot fail.
                    let _ = write!(path, "{:.1} {:.1} ", self.x(*x), self.y(*y));
                }
                cased(&format!("<path d=\"{}Z\"/>", path))
            }
            _ => cased(&format!(
                "<rect rx=\"10\" {}/>",
                rect(self.corners(finding))
            )),
        }
    }

    /// Rings, squares or lines for the marks of a group; without marks, its box or axis.
    fn group(&self, finding: &ReportedFinding) -> String {
        let mut marks: Vec<&ReportedMark> = finding.members.iter().flatten().collect();
        if marks.is_empty() {
            return match finding.axis_deg {
                Some(axis_deg) => self.axis_lines(finding, axis_deg),
                None => self.outline(finding),
            };
        }
        marks.sort_by(|a, b| b.contrast_d.total_cmp(&a.contrast_d));
        marks.truncate(MOST_DRAWN);
        let least = match marks.len() {
            n if n > MANY => LEAST_RING_AMONG_MANY,
            _ => LEAST_RING,
        };
        let shapes: String = marks
            .iter()
            .map(|mark| self.mark(finding.fault, finding.axis_deg, mark, least))
            .collect();
        cased(&shapes)
    }

    fn mark(
        &self,
        fault: Fault,
        group_axis_deg: Option<f64>,
        mark: &ReportedMark,
        least: f64,
    ) -> String {
        let [x, y] = [self.x(mark.centre_share[0]), self.y(mark.centre_share[1])];
        let r = (0.8 * self.x(mark.size_share)).max(least);
        let length = mark.length_share.map(|share| self.x(share));
        match fault {
            Fault::Comets => {
                let mut svg = ring(x, y, r);
                if let (Some(direction_deg), Some(length)) = (mark.direction_deg, length) {
                    let (dx, dy) = unit(direction_deg);
                    svg += &segment(
                        [x + dx * r, y + dy * r],
                        [x + dx * (length + r), y + dy * (length + r)],
                    );
                }
                svg
            }
            Fault::Specks => format!(
                "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\"/>",
                x - r,
                y - r,
                2.0 * r,
                2.0 * r
            ),
            Fault::ScanDust if length.is_some() => {
                // A hair: a line along it.
                let (dx, dy) = unit(mark.axis_deg.unwrap_or(0.0));
                let half = length.unwrap_or(0.0) / 2.0;
                segment(
                    [x - dx * half, y - dy * half],
                    [x + dx * half, y + dy * half],
                )
                .replace("<line", "<line class=\"dash\"")
            }
            Fault::ScanDust => format!(
                "<path d=\"M{:.1} {:.1} l{:.1} {:.1} l{:.1} 0 Z\"/>",
                x,
                y - 1.2 * r,
                1.1 * r,
                2.0 * r,
                -2.2 * r
            ),
            Fault::Streaks | Fault::Ridges | Fault::DipLine | Fault::Scratch => {
                match (mark.axis_deg.or(group_axis_deg), length) {
                    (Some(axis_deg), Some(length)) => {
                        let (dx, dy) = unit(axis_deg);
                        let half = length / 2.0;
                        let off = self.x(mark.sagitta_share.unwrap_or(0.0));
                        // Off to the right of upright ones, below level ones.
                        let (nx, ny) = if dy.abs() > dx.abs() {
                            (off, 0.0)
                        } else {
                            (0.0, off)
                        };
                        let ends = [-half, half].map(|at| [x + dx * at + nx, y + dy * at + ny]);
                        match off == 0.0 {
                            true => {
                                segment(ends[0], ends[1]).replace("<line", "<line class=\"dash\"")
                            }
                            false => bent(ends, [x, y]),
                        }
                    }
                    _ => ring(x, y, r),
                }
            }
            _ => ring(x, y, r),
        }
    }

    /// Three lines along an axis through the box.
    fn axis_lines(&self, finding: &ReportedFinding, axis_deg: f64) -> String {
        let [x0, y0, x1, y1] = self.corners(finding);
        let (dx, dy) = unit(axis_deg);
        let (cx, cy) = ((x0 + x1) / 2.0, (y0 + y1) / 2.0);
        // Half lengths along and across the axis that stay inside the box.
        let along = inside(dx, dy, x1 - x0, y1 - y0);
        let across = inside(dy, -dx, x1 - x0, y1 - y0) * 0.6;
        let offsets: &[f64] = if finding.fault == Fault::DipLine {
            &[0.0]
        } else {
            &[-1.0, 0.0, 1.0]
        };
        let lines: String = offsets
            .iter()
            .map(|offset| {
                let (ox, oy) = (cx + dy * across * offset, cy - dx * across * offset);
                let half = along * (1.0 - 0.35 * offset.abs());
                segment(
                    [ox - dx * half, oy - dy * half],
                    [ox + dx * half, oy + dy * half],
                )
                .replace("<line", "<line class=\"dash\"")
            })
            .collect();
        cased(&lines)
    }

    /// An arrow across the middle of the plate.
    fn arrow(&self, finding: &ReportedFinding) -> String {
        let direction_deg = finding
            .direction_deg
            .or_else(|| finding.measured.number("direction_deg"));
        let Some(direction_deg) = direction_deg else {
            return String::new();
        };
        let (dx, dy) = unit(direction_deg);
        let (cx, cy) = (self.width / 2.0, self.height / 2.0);
        let half = 0.32 * self.width.min(self.height);
        let tip = [cx + dx * half, cy + dy * half];
        let barb = |turn_deg: f64| {
            let (bx, by) = unit(direction_deg + turn_deg);
            segment(tip, [tip[0] + bx * 40.0, tip[1] + by * 40.0])
        };
        cased(&format!(
            "{}{}{}",
            segment([cx - dx * half, cy - dy * half], tip),
            barb(150.0),
            barb(210.0)
        ))
    }

    /// The first place for a tag that is free.
    fn free_place(&self, finding: &ReportedFinding, taken: &[[f64; 2]]) -> [f64; 2] {
        let [x0, y0, x1, y1] = self.corners(finding);
        let (cx, cy) = ((x0 + x1) / 2.0, (y0 + y1) / 2.0);
        let r = TAG_RADIUS + 6.0;
        let (w, h) = (self.width, self.height);
        let place = finding.place.as_deref().unwrap_or_default();
        let first = match (finding.fault, place) {
            (Fault::Veil | Fault::FlatImage | Fault::UnevenPour, _) => {
                [w - r - FRAME_INSET, h - r - FRAME_INSET]
            }
            (Fault::EdgeFog, "top") => [cx, r],
            (Fault::EdgeFog, "bottom") => [cx, h - r],
            (Fault::EdgeFog, "left") => [r, cy],
            (Fault::EdgeFog, "right") => [w - r, cy],
            _ => [x1, y0],
        };
        let keep_in = |[x, y]: [f64; 2]| [within(x, r, w - r), within(y, r, h - r)];
        let free = |tag: &[f64; 2]| {
            let apart = |other: &[f64; 2]| (tag[0] - other[0]).hypot(tag[1] - other[1]) > 2.4 * r;
            taken.iter().all(apart)
        };
        let near = [first, [x0, y0], [x1, y1], [x0, y1], [cx, cy]];
        let ring = (1..8).flat_map(|ring| {
            (0..8).map(move |i| {
                let (dx, dy) = unit(45.0 * f64::from(i));
                let distance = 2.5 * r * f64::from(ring);
                [first[0] + dx * distance, first[1] + dy * distance]
            })
        });
        near.into_iter()
            .chain(ring)
            .map(keep_in)
            .find(free)
            .unwrap_or_else(|| keep_in(first))
    }

    /// The place enlarged, when that shows more than the whole plate does.
    fn crop(&self, finding: &ReportedFinding) -> Option<[f64; 4]> {
        let [x0, y0, x1, y1] = self.corners(finding);
        let (cx, cy) = ((x0 + x1) / 2.0, (y0 + y1) / 2.0);
        if finding.fault == Fault::EdgeFog {
            let across = match finding.place.as_deref() {
                Some("top" | "bottom") => self.height,
                _ => self.width,
            };
            let depth = finding.depth_share.unwrap_or(0.05) * across;
            let deep = (3.5 * depth).max(LEAST_CROP).min(0.6 * across);
            return Some(match finding.place.as_deref() {
                Some("top") => self.window(cx, 0.0, 1.5 * deep, 2.0 * deep),
                Some("bottom") => self.window(cx, self.height, 1.5 * deep, 2.0 * deep),
                Some("left") => self.window(0.0, cy, 2.0 * deep, 1.4 * deep),
                _ => self.window(self.width, cy, 2.0 * deep, 1.4 * deep),
            });
        }
        let strongest = finding
            .members
            .iter()
            .flatten()
            .max_by(|a, b| a.contrast_d.total_cmp(&b.contrast_d));
        if let Some(mark) = strongest {
            let long = mark.size_share.max(mark.length_share.unwrap_or(0.0));
            let side = (5.0 * self.x(long))
                .max(LEAST_CROP)
                .min(0.7 * self.width.min(self.height));
            let [x, y] = mark.centre_share;
            return Some(self.window(self.x(x), self.y(y), 1.3 * side, side));
        }
        let (wide, high) = (x1 - x0, y1 - y0);
        if wide * high > WHOLE_SHARE * self.width * self.height {
            return None;
        }
        let wide_crop = (1.3 * wide).max(LEAST_CROP).max(0.8 * high);
        let high_crop = (1.3 * high).max(LEAST_CROP).max(0.5 * wide_crop);
        Some(self.window(cx, cy, wide_crop, high_crop))
    }

    /// A window of that size round a point, moved and cut so that it lies on the plate. A window
    /// whose centre lies on an edge shows the half that is on the plate.
    fn window(&self, cx: f64, cy: f64, wide: f64, high: f64) -> [f64; 4] {
        let cut = |centre: f64, size: f64, whole: f64| {
            if centre <= 0.0 || centre >= whole {
                let half = (size / 2.0).min(whole);
                return (within(centre, 0.0, whole - half), half);
            }
            let size = size.min(whole);
            (within(centre - size / 2.0, 0.0, whole - size), size)
        };
        let (x, w) = cut(cx, wide, self.width);
        let (y, h) = cut(cy, high, self.height);
        [x, y, w, h]
    }
}

/// Like `clamp`, but never panics.
fn within(value: f64, low: f64, high: f64) -> f64 {
    value.min(high).max(low)
}

/// Unit vector of a direction clockwise from twelve o'clock, y down.
fn unit(direction_deg: f64) -> (f64, f64) {
    let (sin, cos) = direction_deg.to_radians().sin_cos();
    (sin, -cos)
}

/// How far one can go from the middle of a box along a unit vector.
fn inside(dx: f64, dy: f64, wide: f64, high: f64) -> f64 {
    let reach = |step: f64, size: f64| {
        if step.abs() < 1e-9 {
            f64::INFINITY
        } else {
            size / 2.0 / step.abs()
        }
    };
    reach(dx, wide).min(reach(dy, high)).min(2.0 * LONG)
}

fn rect([x0, y0, x1, y1]: [f64; 4]) -> String {
    format!(
        "x=\"{x0:.1}\" y=\"{y0:.1}\" width=\"{:.1}\" height=\"{:.1}\"",
        (x1 - x0).max(0.0),
        (y1 - y0).max(0.0)
    )
}

fn ring(x: f64, y: f64, r: f64) -> String {
    format!("<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{r:.1}\"/>")
}

fn segment([x1, y1]: [f64; 2], [x2, y2]: [f64; 2]) -> String {
    format!("<line x1=\"{x1:.1}\" y1=\"{y1:.1}\" x2=\"{x2:.1}\" y2=\"{y2:.1}\"/>")
}

/// A dashed line from end to end through a middle.
fn bent([from, to]: [[f64; 2]; 2], middle: [f64; 2]) -> String {
    let by = |k: usize| 2.0 * middle[k] - 0.5 * (from[k] + to[k]);
    format!(
        "<path class=\"dash\" d=\"M{:.1} {:.1} Q{:.1} {:.1} {:.1} {:.1}\"/>",
        from[0],
        from[1],
        by(0),
        by(1),
        to[0],
        to[1]
    )
}

/// A dark casing under a light line: seen on any tone.
fn cased(shapes: &str) -> String {
    format!("<g class=\"case\">{shapes}</g><g class=\"line\">{shapes}</g>")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn windows_lie_on_the_plate() {
        let map = PlateMap::new(1.25);
        assert_eq!((map.width, map.height), (800.0, 1000.0));
        for (cx, cy) in [(0.0, 500.0), (800.0, 3.0), (5.0, 999.0), (400.0, 1000.0)] {
            let [x, y, w, h] = map.window(cx, cy, 300.0, 2000.0);
            assert!(x >= 0.0 && y >= 0.0 && x + w <= 800.0 && y + h <= 1000.0);
        }
        assert_eq!(
            map.window(400.0, 0.0, 300.0, 400.0),
            [250.0, 0.0, 300.0, 200.0]
        );
    }

    #[test]
    fn a_bent_line_passes_through_its_middle() {
        let drawn = bent([[10.0, 0.0], [10.0, 80.0]], [4.0, 40.0]);
        // Half way along, such a curve is a quarter of each end and half of the point between.
        assert!(drawn.contains("M10.0 0.0 Q-2.0 40.0 10.0 80.0"), "{drawn}");
        assert_eq!(0.25 * 10.0 + 0.5 * -2.0 + 0.25 * 10.0, 4.0);
    }

    #[test]
    fn directions_run_clockwise_from_the_top() {
        let (x, y) = unit(90.0);
        assert!((x - 1.0).abs() < 1e-12 && y.abs() < 1e-12);
        let (x, y) = unit(0.0);
        assert!(x.abs() < 1e-12 && (y + 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_strange_aspect_does_no_harm() {
        for aspect in [0.0, f64::NAN, f64::INFINITY, -1.0] {
            let map = PlateMap::new(aspect);
            assert!(map.width > 0.0 && map.height > 0.0);
        }
    }
}
