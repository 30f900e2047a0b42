//! The edge of a second flow: one soft step across the coating of an even plate, bowed or straight.
//!
//! What it means: collodion that ran back over a part that had set lies there twice, up to one line.
//! Input: silver of the picture area of a plate of one exposure (`flat`).
//! Output: the strongest such line, millimetres in the plate frame, and the step across it, density.
//! Method: arcs of every way, place and bend; for each the step between strips on either side of it, less what the
//! slope of the silver there makes, place by place along it.
//! Doubtful when: another fault has an edge of its own, such as a stain or a tongue of light.

use crate::density::{Cells, DensityMap};
use crate::plate::{Plate, PlateKind};
use crate::raster::Grid;
use crate::raster::stats::{median, median_and_sigma, rising_quantiles};
use crate::units::Reading;

/// One step across the coating.
#[derive(Debug, Clone, PartialEq)]
pub struct FlowEdge {
    /// The line, from end to end, millimetres in the plate frame.
    pub points_mm: Vec<[f64; 2]>,
    /// How much more silver its thicker side holds, median along it, density.
    pub step_d: Reading,
    /// What three quarters of its places show at least, density.
    pub nearly_all_d: f64,
    /// Scatter of the step from place to place, standard deviation, density.
    pub scatter_d: f64,
    /// A place beside the middle of the line, on its thicker side.
    pub thicker_mm: [f64; 2],
}

/// Side of the squares that silver is read in, a strip's width, and from one to the next, millimetres.
const STRIP_MM: f64 = 3.0;
/// See [`STRIP_MM`].
const SQUARES_MM: f64 = 1.0;
/// Distance of the middles of the near and of the far strips from the line, millimetres: a soft edge lies between the
/// near ones.
const STRIPS_MM: [f64; 2] = [2.5, 6.5];
/// The same to read the whole step: lines wind by a millimetre or two.
const CLEAR_STRIPS_MM: [f64; 2] = [4.0, 8.0];
/// From place to place along the line, millimetres.
const PLACES_MM: f64 = 2.0;
/// How far beyond the last places that show it the line is drawn, millimetres: under a border, as far as the far strips
/// reach.
const END_MM: f64 = 10.0;
/// How far from an edge a line lies at least somewhere, millimetres: borders are narrower.
const ALONG_EDGE_MM: f64 = 14.0;
/// Fewest places that make a line: with what a border hides of it some 20 mm.
const FEWEST_PLACES: usize = 8;
/// A line is nearly as good as the best where three quarters of its places show so large a share of that.
const AS_GOOD: f64 = 0.8;
/// Ways looked at, degrees from one to the next, and from line to line, millimetres.
const WAYS_DEG: usize = 10;
/// See [`WAYS_DEG`].
const LINES_MM: f64 = 1.5;
/// Bends looked at: one over the radius, millimetres.
const BENDS: [f64; 5] = [0.0, 1.0 / 120.0, 1.0 / 65.0, 1.0 / 45.0, 1.0 / 32.0];
/// Bend up to which lines along the sides are not looked at.
const LEAST_BEND_LEVEL: f64 = 0.01;

/// Looks for the edge of a second flow; `None` on anything but an evenly exposed plate.
pub(super) fn measure(plate: &Plate, cells: &Cells, map: &DensityMap) -> Option<FlowEdge> {
    if plate.kind != PlateKind::Flat {
        return None;
    }
    let strips = Strips::of(&cells.picture_silver(map), cells.pitch_mm);
    strips.strongest([plate.width_mm, plate.height_mm])
}

/// An arc across a plate.
#[derive(Debug, Clone, Copy)]
struct Arc {
    /// Its middle: on the line through the plate's middle along `out`.
    top: [f64; 2],
    /// Away from the middle of its circle.
    out: [f64; 2],
    /// One over its radius.
    bend: f64,
}

impl Arc {
    /// The place so far along it from its top, and the way out from there.
    fn at(&self, along: f64) -> ([f64; 2], [f64; 2]) {
        let (sin, cos) = (self.bend * along).sin_cos();
        let (aside, back) = match self.bend > 0.0 {
            true => (sin / self.bend, (1.0 - cos) / self.bend),
            false => (along, 0.0),
        };
        let ([x, y], [ox, oy]) = (self.top, self.out);
        (
            [x - aside * oy - back * ox, y + aside * ox - back * oy],
            [cos * ox - sin * oy, cos * oy + sin * ox],
        )
    }
}

/// Silver of squares as wide as a strip, so many to the millimetre: medians, since a hair or a scratch is no strip.
struct Strips {
    median_d: Grid<Option<f64>>,
    pitch_mm: f64,
}

impl Strips {
    fn of(silver: &Grid<Option<f64>>, pitch_mm: f64) -> Strips {
        let cells = |mm: f64| ((mm / pitch_mm).round() as usize).max(1);
        let (step, half) = (cells(SQUARES_MM), cells(0.5 * STRIP_MM));
        let (rows, columns) = silver.dim();
        let median_d = Grid::from_shape_fn((rows / step, columns / step), |(i, j)| {
            let [i, j] = [i, j].map(|k| k * step + step / 2);
            if i < half || j < half || i + half >= rows || j + half >= columns {
                return None;
            }
            let square = (i - half..=i + half)
                .flat_map(|a| (j - half..=j + half).map(move |b| silver[[a, b]]));
            median(&mut square.collect::<Option<Vec<f64>>>()?)
        });
        Strips {
            median_d,
            pitch_mm: step as f64 * pitch_mm,
        }
    }

    fn silver(&self, [x, y]: [f64; 2]) -> Option<f64> {
        if x < 0.0 || y < 0.0 {
            return None;
        }
        let [j, i] = [x, y].map(|at| (at / self.pitch_mm) as usize);
        *self.median_d.get((i, j))?
    }

    /// Silver of the far and the near strip on the inner side, and of the near and the far one on the outer.
    fn strips(&self, arc: &Arc, along: f64, [near, far]: [f64; 2]) -> Option<[f64; 4]> {
        let ([x, y], [ox, oy]) = arc.at(along);
        let at = |off: f64| self.silver([x + off * ox, y + off * oy]);
        Some([at(-far)?, at(-near)?, at(near)?, at(far)?])
    }

    /// How much more silver lies on the inner side, less what slopes beside could make, and so rather too little.
    fn step(&self, arc: &Arc, along: f64) -> Option<f64> {
        let [near, far] = STRIPS_MM;
        let [inner, inside, outside, outer] = self.strips(arc, along, STRIPS_MM)?;
        let by_near = inside - outside;
        // What slopes on either side alike, or rises on one side only, is no step.
        let less = |slope: f64| by_near - slope * 2.0 * near / (far - near);
        let steps = [by_near, less(inner - inside), less(outside - outer)];
        let least = steps
            .into_iter()
            .min_by(|a, b| a.abs().total_cmp(&b.abs()))?;
        let agree = steps.iter().all(|step| step * least > 0.0);
        Some(if agree { least } else { 0.0 })
    }

    /// How much more silver lies on the inner side, clear of a winding line, less what the mean slope makes.
    fn whole_step(&self, arc: &Arc, along: f64) -> Option<f64> {
        let [near, far] = CLEAR_STRIPS_MM;
        let [inner, inside, outside, outer] = self.strips(arc, along, CLEAR_STRIPS_MM)?;
        let slope = 0.5 * (inner - inside + outside - outer) / (far - near);
        Some(inside - outside - 2.0 * near * slope)
    }

    /// Distances along an arc at which both sides are known, and the steps there.
    fn along(&self, arc: &Arc, reach: i32) -> Vec<(f64, f64)> {
        let steps = places(arc, reach).filter_map(|along| Some((along, self.step(arc, along)?)));
        steps.collect()
    }

    /// The step that nine tenths and three quarters of the places along an arc show at least, to either side.
    fn judged(&self, arc: &Arc, reach: i32, size: [f64; 2]) -> Option<[f64; 2]> {
        let known = self.along(arc, reach);
        if known.len() < FEWEST_PLACES || is_along_edge(arc, &known, size) {
            return None;
        }
        let mut steps: Vec<f64> = known.into_iter().map(|(_, step)| step).collect();
        let [least, low, high, most] = rising_quantiles(&mut steps, [0.1, 0.25, 0.75, 0.9])?;
        Some(match low >= -high {
            true => [least, low],
            false => [-most, -high],
        })
    }

    fn strongest(&self, size: [f64; 2]) -> Option<FlowEdge> {
        let half = 0.5 * size[0].hypot(size[1]);
        let reach = (half / PLACES_MM) as i32;
        let judged =
            arcs(size, half).filter_map(|arc| Some((arc, self.judged(&arc, reach, size)?)));
        let judged: Vec<(Arc, [f64; 2])> = judged.collect();
        let best = judged.iter().map(|(_, [_, most])| *most);
        let best = best.max_by(f64::total_cmp)?;
        // Of lines nearly as good, the one that leaves the step nowhere.
        let near = judged
            .iter()
            .filter(|(_, [_, most])| *most >= AS_GOOD * best);
        let (arc, [_, nearly_all_d]) = *near.max_by(|a, b| a.1[0].total_cmp(&b.1[0]))?;
        let known = self.along(&arc, reach);
        let steps: Vec<f64> = known.iter().map(|(_, step)| *step).collect();
        let (least_d, scatter_d) = median_and_sigma(&steps)?;
        let whole = known
            .iter()
            .filter_map(|(along, _)| self.whole_step(&arc, *along));
        let mut whole: Vec<f64> = whole.map(|step| step * least_d.signum()).collect();
        let step_d = median(&mut whole).unwrap_or(0.0).max(least_d.abs());
        let [first, last] = [known.first()?.0, known.last()?.0];
        let seen = first - END_MM..=last + END_MM;
        let places = places(&arc, reach).filter(|along| seen.contains(along));
        let line = longest_run(places.map(|along| arc.at(along)).collect(), size);
        let ([x, y], [ox, oy]) = *line.get(line.len() / 2)?;
        let inward = -STRIPS_MM[0] * least_d.signum();
        // Clouds make neighbours alike.
        let u = 2.0 * scatter_d / (0.25 * steps.len() as f64).sqrt();
        Some(FlowEdge {
            points_mm: line.into_iter().map(|(point, _)| point).collect(),
            step_d: Reading::new(step_d, u.max(0.15 * step_d)),
            nearly_all_d,
            scatter_d,
            thicker_mm: [x + inward * ox, y + inward * oy],
        })
    }
}

/// All arcs that are looked at, but for straight ones along the sides: those are a ledge's or a line of the dip.
fn arcs(size: [f64; 2], half: f64) -> impl Iterator<Item = Arc> {
    let lines = (half / LINES_MM) as i32;
    (0..360 / WAYS_DEG).flat_map(move |way| {
        let deg = way * WAYS_DEG;
        let (sin, cos) = (deg as f64).to_radians().sin_cos();
        let bends = BENDS
            .iter()
            .filter(move |bend| !deg.is_multiple_of(90) || **bend > LEAST_BEND_LEVEL);
        bends.flat_map(move |bend| {
            (-lines..=lines).map(move |line| {
                let off = f64::from(line) * LINES_MM;
                Arc {
                    top: [0.5 * size[0] + off * cos, 0.5 * size[1] + off * sin],
                    out: [cos, sin],
                    bend: *bend,
                }
            })
        })
    })
}

/// Whether all places lie near one and the same edge of the plate: there lies a ledge that was not seen to be one.
fn is_along_edge(arc: &Arc, known: &[(f64, f64)], size: [f64; 2]) -> bool {
    let near = |from_edge: &dyn Fn([f64; 2]) -> f64| {
        let mut places = known.iter().map(|(along, _)| arc.at(*along).0);
        places.all(|at| from_edge(at) < ALONG_EDGE_MM)
    };
    (0..2).any(|k| near(&|at| at[k]) || near(&|at| size[k] - at[k]))
}

/// Distances along an arc from its top, so many places to either side, no more than once around.
fn places(arc: &Arc, reach: i32) -> impl Iterator<Item = f64> {
    let bend = arc.bend;
    let places = (-reach..=reach).map(|k| PLACES_MM * f64::from(k));
    places.filter(move |along| (bend * along).abs() < std::f64::consts::PI)
}

/// The longest run of places, each with the way out there, that lie on the plate.
fn longest_run(places: Vec<([f64; 2], [f64; 2])>, size: [f64; 2]) -> Vec<([f64; 2], [f64; 2])> {
    places
        .split(|(at, _)| !(0..2).all(|k| (0.0..=size[k]).contains(&at[k])))
        .max_by_key(|run| run.len())
        .map_or_else(Vec::new, <[_]>::to_vec)
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIZE_MM: [f64; 2] = [70.0, 83.0];

    /// The strongest step of silver painted over a plate, in cells of 0.4 mm with noise.
    fn strongest(silver: impl Fn(f64, f64) -> f64) -> FlowEdge {
        let shape = (207, 175);
        let cells = Grid::from_shape_fn(shape, |(i, j)| {
            let noise = (i * 7919 + j * 104_729) % 101;
            let [x, y] = [j, i].map(|k| 0.4 * (k as f64 + 0.5));
            Some(silver(x, y) + 0.0002 * (noise as f64 - 50.0))
        });
        Strips::of(&cells, 0.4).strongest(SIZE_MM).unwrap()
    }

    #[test]
    fn a_bowed_step_is_found_with_its_height_its_lie_and_its_thicker_side() {
        // About a place beyond the corner at the top right.
        let away = |x: f64, y: f64| (x - 80.0).hypot(y + 10.0);
        let found = strongest(|x, y| 0.8 + if away(x, y) < 48.0 { 0.06 } else { 0.0 });
        assert!((found.step_d.value - 0.06).abs() < 0.005, "{found:?}");
        assert!(found.nearly_all_d > 0.04, "{found:?}");
        let [x, y] = found.thicker_mm;
        assert!(away(x, y) < 48.0);
        let off = found
            .points_mm
            .iter()
            .map(|[x, y]| (away(*x, *y) - 48.0).abs());
        assert!(off.fold(0.0, f64::max) < 3.0, "{:?}", found.points_mm);
    }

    #[test]
    fn slopes_waves_hairs_and_ledges_are_no_step() {
        let hair = |x: f64, y: f64| ((x - 80.0).hypot(y + 10.0) - 48.0).abs() < 0.3;
        let none = [
            strongest(|x, y| 0.8 + 0.004 * x + 0.00005 * y * y),
            strongest(|x, y| if hair(x, y) { 1.3 } else { 0.8 }),
            strongest(|x, y| if x + 0.05 * y > 65.0 { 0.5 } else { 0.8 }),
        ];
        for found in none {
            assert!(found.nearly_all_d < 0.012, "{found:?}");
        }
        // Of waves as far apart as ridges are less than half shows.
        let waves = strongest(|x, y| 0.8 + 0.03 * ((x + y) / 0.9).sin());
        assert!(waves.nearly_all_d < 0.5 * 0.03, "{waves:?}");
    }
}
