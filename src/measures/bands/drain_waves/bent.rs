//! Waves by an edge of a picture, followed along their bend.
//!
//! What it means: the film that drains to an edge dries in waves along it, which bend with the way that it took and
//! fade away inward. Boards, blinds and stairs of a scene are as even, but straight, and most go on across it.
//! Output: the edge, axis, bend and spacing of the strongest even waves, how much of their power straight ones
//! would have and what lies by the other edges, and the crests (millimetres, density).
//! Method: means over short blocks along the edge; for each spacing the sums of their phases from the edge on, each
//! block's turned as a tilt and a bend would have it, and added (Schuster's periodogram, as for straight ones).
//! Doubtful when: folds of a cloth or a ruffle run along the edge.

use rayon::prelude::*;

use super::crests::crests;
use super::lines::Course;
use super::profile::{Profile, WIDEST_MM, spacings_mm};
use crate::handling::Spot;
use crate::measures::bands::Family;
use crate::measures::bands::response::Response;
use crate::raster::Grid;

/// Length of a block along the edge, millimetres: short enough that waves as slanting as any stay apart in it.
const BLOCK_MM: f64 = 2.4;

/// How far from the edge waves are looked for, millimetres.
const DEPTHS_MM: [f64; 2] = [16.0, 28.0];

/// Spacings looked at, millimetres, evenly in the logarithm; waves are no wider than [`WIDEST_MM`].
const SPACINGS_MM: [f64; 2] = [1.8, 6.0];
/// Number of spacings.
const SPACINGS: usize = 18;

/// Tilts looked at, millimetres across for each along, to either side, and their number.
const MOST_TILT: f64 = 0.3;
/// See [`MOST_TILT`].
const TILTS: usize = 31;

/// Bends looked at, millimetres across for each square millimetre along, to either side, and their number: arcs
/// from 210 millimetres of radius on (from memory).
const MOST_BEND: f64 = 0.0024;
/// See [`MOST_BEND`].
const BENDS: usize = 13;
/// Waves that bend no more are straight.
const STRAIGHT: f64 = 0.0003;

/// Fewest cells of all blocks that say anything.
const FEWEST: f64 = 50.0;

/// Waves by one edge of a picture, the strongest of all edges.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeWaves {
    /// The edge that they lie by.
    pub spot: Spot,
    /// From crest to crest, millimetres.
    pub spacing_mm: f64,
    /// How much nearer the edge a wave lies off its middle, millimetres for each square millimetre along it: negative
    /// where it lies further in.
    pub bend: f64,
    /// Power of the waves, in that of a cell of the plate's own scatter.
    pub power: f64,
    /// Share that they have of all that changes across them, 0 to 1.
    pub share: f64,
    /// Power of the likest straight waves as a share of theirs, 0 to 1.
    pub straight: f64,
    /// The most power of any waves by another edge.
    pub elsewhere: f64,
    /// The crests, as a family of bands.
    pub crests: Family,
}

/// Means over blocks along one edge.
struct Blocks {
    spot: Spot,
    /// `[[block, cell from the edge]]`, 0 where unknown.
    means: Grid<f32>,
    /// 1 where known.
    known: Grid<f32>,
    /// Middle of each block off the edge's own, millimetres.
    off_mm: Vec<f64>,
    step_mm: f64,
}

/// What fits best by one edge.
#[derive(Debug, Clone, Copy)]
struct Fit {
    spot: Spot,
    spacing_mm: f64,
    tilt: f64,
    bend: f64,
    power: f64,
    share: f64,
    straight: f64,
}

/// The strongest even waves by an edge of a picture; `None` where the plate is too small or none are even.
pub(super) fn edge_waves(response: &Response) -> Option<EdgeWaves> {
    let edges = [Spot::Top, Spot::Right, Spot::Bottom, Spot::Left];
    let fits: Vec<Fit> = edges
        .into_par_iter()
        .filter_map(|spot| Blocks::of(response, spot)?.fit())
        .collect();
    let best = *fits.iter().max_by(|a, b| a.power.total_cmp(&b.power))?;
    let others = fits.iter().filter(|other| other.spot != best.spot);
    let elsewhere = others.map(|other| other.power).fold(0.0, f64::max);
    if best.spacing_mm > WIDEST_MM {
        return None;
    }
    let profile = Profile::of(response, best.course(response.pitch_mm));
    let low_end = matches!(best.spot, Spot::Top | Spot::Left);
    let waves = profile.finer(profile.waves(low_end)?);
    Some(EdgeWaves {
        spot: best.spot,
        spacing_mm: waves.spacing_mm,
        bend: best.bend,
        power: best.power,
        share: best.share,
        straight: best.straight,
        elsewhere,
        crests: crests(response, &profile, &waves),
    })
}

impl Blocks {
    fn of(response: &Response, spot: Spot) -> Option<Blocks> {
        let level = matches!(spot, Spot::Top | Spot::Bottom);
        let from_far = matches!(spot, Spot::Bottom | Spot::Right);
        let [rows, columns] = [response.cells.nrows(), response.cells.ncols()];
        let (deep, long) = if level {
            (rows, columns)
        } else {
            (columns, rows)
        };
        let cell = |depth: usize, along: usize| {
            let depth = if from_far { deep - 1 - depth } else { depth };
            if level {
                [depth, along]
            } else {
                [along, depth]
            }
        };
        let is_edge = |depth: &usize| {
            let known = (0..long).filter(|along| response.known[cell(*depth, *along)] > 0.0);
            2 * known.count() > long
        };
        let edge = (0..deep).find(is_edge)?;
        let step_mm = response.pitch_mm;
        let depths = (deep - edge).min((DEPTHS_MM[1] / step_mm) as usize);
        let count = ((long as f64 * step_mm / BLOCK_MM).round() as usize).max(2);
        let bounds = |block: usize| block * long / count;
        let mut means = Grid::zeros((count, depths));
        let mut known = Grid::zeros((count, depths));
        for block in 0..count {
            for depth in 0..depths {
                let (mut sum, mut cells) = (0.0, 0.0);
                for along in bounds(block)..bounds(block + 1) {
                    let at = cell(edge + depth, along);
                    sum += response.cells[at];
                    cells += response.known[at];
                }
                if 2.0 * cells > (bounds(block + 1) - bounds(block)) as f32 {
                    means[[block, depth]] = sum / cells;
                    known[[block, depth]] = 1.0;
                }
            }
        }
        let middle = |block| 0.5 * (bounds(block) + bounds(block + 1)) as f64 - 0.5 * long as f64;
        Some(Blocks {
            spot,
            means,
            known,
            off_mm: (0..count).map(|block| middle(block) * step_mm).collect(),
            step_mm,
        })
    }

    /// The likest waves of any spacing, tilt and bend.
    fn fit(&self) -> Option<Fit> {
        let fits = spacings_mm(SPACINGS_MM, SPACINGS).flat_map(|spacing_mm| {
            let turns = Turns::of(&self.off_mm, spacing_mm);
            DEPTHS_MM.map(|depth_mm| {
                let depth = ((depth_mm / self.step_mm) as usize).min(self.means.ncols());
                self.fit_of(depth, &turns)
            })
        });
        fits.flatten().max_by(|a, b| a.power.total_cmp(&b.power))
    }

    /// Sum of each block's means turned by their phase, so many cells from the edge on, and how many are known.
    fn phases(&self, depth: usize, spacing_mm: f64) -> Vec<([f64; 2], f64)> {
        let turns: Vec<[f64; 2]> = (0..depth)
            .map(|depth| turn(-(depth as f64 + 0.5) * self.step_mm / spacing_mm))
            .collect();
        let blocks = self.means.rows().into_iter().zip(self.known.rows());
        let of_block = blocks.map(|(means, known)| {
            let means = means.into_iter().zip(&turns);
            let sum = means.fold([0.0; 2], |[re, im], (mean, [cos, sin])| {
                let mean = f64::from(*mean);
                [re + mean * cos, im + mean * sin]
            });
            let known = known.into_iter().take(depth);
            (sum, f64::from(known.sum::<f32>()))
        });
        of_block.collect()
    }

    /// The likest waves of one spacing, so many cells from the edge on.
    fn fit_of(&self, depth: usize, turns: &Turns) -> Option<Fit> {
        let spacing_mm = turns.spacing_mm;
        let phases = self.phases(depth, spacing_mm);
        let count: f64 = phases.iter().map(|(_, known)| known).sum();
        let means = self.means.columns().into_iter().take(depth);
        let all: f64 = means.flatten().map(|mean| f64::from(*mean).powi(2)).sum();
        if count < FEWEST || all <= 0.0 {
            return None;
        }
        // The sum over blocks at a bend, for each tilt.
        let bent = |(bend, by): &(f64, Vec<[f64; 2]>)| {
            let phases = phases.iter().zip(by);
            let bent: Vec<[f64; 2]> = phases.map(|((sum, _), by)| times(*sum, *by)).collect();
            let sums = turns.tilted.iter().map(|(tilt, by)| {
                let sum = bent.iter().zip(by).fold([0.0; 2], |[re, im], (a, b)| {
                    let [more_re, more_im] = times(*a, *b);
                    [re + more_re, im + more_im]
                });
                (*tilt, *bend, sum)
            });
            sums.collect::<Vec<_>>()
        };
        let tried: Vec<(f64, f64, [f64; 2])> = turns.bent.iter().flat_map(bent).collect();
        let (tilt, bend, sum) = *tried
            .iter()
            .max_by(|a, b| square(a.2).total_cmp(&square(b.2)))?;
        let straight = tried
            .iter()
            .filter(|(_, bend, _)| bend.abs() < STRAIGHT)
            .map(|(_, _, sum)| square(*sum))
            .fold(0.0, f64::max);
        let power = square(sum) / count;
        Some(Fit {
            spot: self.spot,
            spacing_mm,
            tilt,
            bend,
            power,
            share: 2.0 * power / all,
            straight: straight / square(sum).max(f64::MIN_POSITIVE),
        })
    }
}

/// How far blocks' phases are turned by each tilt and each bend, at one spacing.
struct Turns {
    spacing_mm: f64,
    tilted: Vec<(f64, Vec<[f64; 2]>)>,
    bent: Vec<(f64, Vec<[f64; 2]>)>,
}

impl Turns {
    fn of(off_mm: &[f64], spacing_mm: f64) -> Turns {
        let by = |across: &dyn Fn(f64) -> f64| -> Vec<[f64; 2]> {
            let off = off_mm.iter();
            off.map(|off_mm| turn(-across(*off_mm) / spacing_mm))
                .collect()
        };
        Turns {
            spacing_mm,
            tilted: evenly(MOST_TILT, TILTS)
                .map(|tilt| (tilt, by(&|off_mm| tilt * off_mm)))
                .collect(),
            bent: evenly(MOST_BEND, BENDS)
                .map(|bend| (bend, by(&|off_mm| bend * off_mm * off_mm)))
                .collect(),
        }
    }
}

impl Fit {
    /// The lines along which these waves lie.
    fn course(&self, pitch_mm: f64) -> Course {
        let off_deg = self.tilt.atan().to_degrees();
        let (axis_deg, sign) = match self.spot {
            Spot::Top => (90.0 - off_deg, 1.0),
            Spot::Bottom => (90.0 + off_deg, -1.0),
            Spot::Right => (-off_deg, -1.0),
            _ => (off_deg, 1.0),
        };
        Course {
            axis_deg,
            bend: sign * self.bend * pitch_mm * off_deg.to_radians().cos(),
        }
    }
}

/// So many values from one side to the other.
fn evenly(most: f64, count: usize) -> impl Iterator<Item = f64> {
    (0..count).map(move |k| most * (2.0 * k as f64 / (count - 1) as f64 - 1.0))
}

/// Cosine and sine of so many turns.
fn turn(turns: f64) -> [f64; 2] {
    let (sin, cos) = (std::f64::consts::TAU * turns).sin_cos();
    [cos, sin]
}

fn times([a, b]: [f64; 2], [c, d]: [f64; 2]) -> [f64; 2] {
    [a * c - b * d, a * d + b * c]
}

fn square([re, im]: [f64; 2]) -> f64 {
    re * re + im * im
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measures::bands::Over;
    use crate::measures::bands::drain_waves::profile::CORE_MM;

    /// Silver of 70 by 80 mm in cells of 0.4 mm with some texture and a thing in it; waves from the right edge, a
    /// little aslant, bend, and fade away inward unless they go on.
    fn found(bend: f64, fades: bool) -> Option<EdgeWaves> {
        let mut state = 1u32;
        let silver = Grid::from_shape_fn((200, 175), |(i, j)| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let texture = 0.04 * (f64::from(state >> 8) / 16_777_216.0 - 0.5);
            let (x, y) = (0.4 * (j as f64 + 0.5), 0.4 * (i as f64 + 0.5));
            let thing = if (x - 40.0).hypot(y - 35.0) < 15.0 {
                0.3
            } else {
                0.0
            };
            let off = y - 40.0;
            let away = 70.0 - x + 0.05 * off + bend * off * off;
            let height = if fades { (-away / 15.0).exp() } else { 1.0 };
            let wave = 0.06 * height * (std::f64::consts::TAU * away / 3.0).cos();
            Some(0.5 + texture + thing + wave)
        });
        edge_waves(&Response::of(&silver, 0.4, CORE_MM, Over::Even).unwrap())
    }

    #[test]
    fn bent_waves_by_an_edge_are_followed() {
        for bend in [0.0012, -0.0016] {
            let found = found(bend, true).unwrap();
            assert_eq!(found.spot, Spot::Right);
            assert!((found.spacing_mm - 3.0).abs() < 0.15);
            assert!((found.bend - bend).abs() < 0.0003, "{}", found.bend);
            assert!(found.straight < 0.75);
            assert!(found.power > 4.0 * found.elsewhere);
            // A crest crosses the plate's middle where a wave does; both ends lie off alike.
            assert!(found.crests.upright && found.crests.lines.len() >= 4);
            assert!((found.crests.sagitta_mm - bend * 1600.0).abs() < 0.6);
            for line in &found.crests.lines {
                assert!((line.middle_mm[1] - 40.0).abs() < 0.3);
                let away = 70.0 - line.middle_mm[0];
                let off = (away / 3.0 - (away / 3.0).round()).abs() * 3.0;
                assert!(off < 0.6, "{away}");
            }
        }
    }

    #[test]
    fn boards_are_straight_and_lie_by_both_edges() {
        let boards = found(0.0, false).unwrap();
        assert!(boards.straight > 0.99 && boards.elsewhere > 0.8 * boards.power);
    }

    #[test]
    fn a_bent_course_lies_where_its_waves_do() {
        let fit = Fit {
            spot: Spot::Bottom,
            spacing_mm: 3.0,
            tilt: 0.1,
            bend: 0.001,
            power: 1.0,
            share: 1.0,
            straight: 0.0,
        };
        let course = fit.course(0.4);
        // Further right such waves lie nearer the bottom, and both ends lower than the middle does.
        assert!((course.axis_deg - 95.7).abs() < 0.1 && course.bend < 0.0);
    }
}
