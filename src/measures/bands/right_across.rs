//! A single line that runs from side to side of a plate, under everything a scene shows.
//!
//! Where a plate stood still on its way into the bath, a line lies right across it: of one strength all along,
//! and alike on both sides. A thing of the scene may be as straight and as long, but its contrast changes
//! with what lies behind it, its two sides differ, or it has others beside it.

use super::form::{AcrossForm, Tried};
use super::look::{Look, core_cells};
use super::over_border::{OverBorder, over_border};
use super::response::KEEP_OFF_MM;
use super::tilted::{Run, Tilted, tilted};
use super::{Across, Line, response};
use crate::density::{Cells, FineSilver};
use crate::plate::Plate;
use crate::raster::regions::erode;
use crate::raster::stats::median;
use crate::raster::{Grid, several_at_a_time};

/// A line from side to side, and what tells whether the scene drew it.
#[derive(Debug, Clone, PartialEq)]
pub struct RightAcross {
    /// Whether it is more upright than level.
    pub upright: bool,
    /// Along it, degrees (0 upright, 90 level, clockwise).
    pub axis_deg: f64,
    /// Width of the core it was found with, millimetres.
    pub core_mm: f64,
    /// The line itself.
    pub line: Line,
    /// Silver across it and thereabouts.
    pub across: Across,
    /// Agreement of its stretches, as a share of the most there can be: 0 to 1.
    pub agreement: f64,
    /// Agreement of the strongest other line that runs its way, 0 to 1.
    pub elsewhere: f64,
    /// The same, but of a line with less contrast as much less.
    pub company: f64,
    /// Its second weakest stretch, standard deviations of what lies beside it.
    pub weakest: f64,
    /// Scatter of its contrast along it, as a share of the mean.
    pub unevenness: f64,
    /// Difference of silver between its two sides, stretch by stretch, over its contrast.
    pub unlike_sides: f64,
    /// What it is like across.
    pub form: AcrossForm,
    /// Whether it runs on over the dark border at both ends; `None` where that was not seen.
    pub over_border: Option<RunsOn>,
}

/// How a line runs on over the border, where nothing of a scene lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RunsOn {
    /// How far it stands out there, standard deviations: its weakest stretch at the weaker end.
    pub stands_out: f64,
    /// How far the strongest other line over one of the borders stands out.
    pub others: f64,
}

// What follows is our own choice; the table of shapes (`practice accuracy --about shapes`) would notice a change.

/// Length of a stretch, millimetres: a line that leans by 4 degrees stays within 0.3 mm of upright in it.
const STRETCH_MM: f64 = 4.0;
/// Fewest stretches along a line.
const FEWEST_STRETCHES: usize = 8;
/// Least share of the stretches in the picture that must be known of a line.
const KNOWN_SHARE: f64 = 0.75;
/// Widths of core looked for, millimetres. Its sides are as wide and lie half their width off.
const CORES_MM: [f64; 3] = [0.3, 0.6, 1.2];
/// Tilts looked at, degrees to either side, and their step.
const MOST_TILT_DEG: f64 = 4.0;
/// See [`MOST_TILT_DEG`].
const STEP_DEG: f64 = 0.25;
/// Most that one stretch counts, standard deviations: no bright thing outweighs the rest.
const MOST: f64 = 3.0;
/// A stretch has the line's sign clearly from here on, standard deviations.
const CLEAR: f64 = 0.5;
/// Lines of one tilt and core that are looked at, strongest first.
const STRONGEST: usize = 12;
/// Lines nearer than this to a stronger one are part of it, millimetres and cores.
const APART_MM: f64 = 3.0;
/// See [`APART_MM`].
const APART_CORES: f64 = 4.0;
/// Within so much of the strongest place, at so large a share of its agreement, the line's own middle is
/// where its contrast is largest and its sides are most alike: a rim of it agrees as well.
const OWN_MM: f64 = 1.5;
/// See [`OWN_MM`].
const OWN_SHARE: f64 = 0.9;
/// Least agreement on the picture, 0 to 1, of a line that runs on over the border: a busy scene leaves little of it.
/// Planted ones had 0.2 and more.
const LEAST_ON_PICTURE: f64 = 0.1;
/// Lines of each orientation that are compared with each other, and that are handed on.
const COMPARED: usize = 8;
/// See [`COMPARED`].
const HANDED_ON: usize = 4;
/// Beside a line so much is shown, millimetres to either side.
const SHOWN_MM: f64 = 4.0;

/// What is tried across a line.
const TRIED: Tried = Tried {
    widths_mm: &[0.15, 0.2, 0.27, 0.36, 0.48, 0.64, 0.85, 1.1, 1.5, 2.0],
    off_mm: &[-0.3, -0.2, -0.1, 0.0, 0.1, 0.2, 0.3],
    finer: &[],
    edge_mm: 0.16,
    reach_mm: 2.4,
};

/// Lines that run right across a picture, upright and level: first one that runs on over the border, then the
/// others, strongest first. `cells` tell where picture and border are.
pub(in crate::measures) fn right_across(
    plate: &Plate,
    cells: &Cells,
    fine: &FineSilver,
) -> Vec<RightAcross> {
    let keep_off = ((KEEP_OFF_MM / cells.pitch_mm).round() as usize).max(1);
    let sure = erode(cells.in_picture(), keep_off);
    let near = |cell: usize| ((cell as f64 + 0.5) * fine.pitch_mm / cells.pitch_mm) as usize;
    let columns: Vec<usize> = (0..fine.silver.ncols()).map(near).collect();
    let known = Grid::from_shape_fn(fine.silver.dim(), |(i, j)| {
        let sure = sure.get([near(i), columns[j]]);
        f32::from(u8::from(sure.copied().unwrap_or(false)))
    });
    let is_border = |at: [usize; 2]| cells.is_border(at.map(near));
    let tried = CORES_MM.map(|core_mm| core_cells(core_mm, fine.pitch_mm));
    let most_tan = MOST_TILT_DEG.to_radians().tan();
    let over_border = |upright| {
        let tried = (tried.as_slice(), most_tan);
        over_border(
            &plate.ledge,
            &fine.silver,
            is_border,
            fine.pitch_mm,
            upright,
            tried,
        )
    };
    let over_borders = [over_border(true), over_border(false)];
    of_silver(&fine.silver, &known, fine.pitch_mm, over_borders)
}

/// The same on a grid of silver; `known` is 1 where lines are looked for, else 0.
fn of_silver(
    silver: &Grid<f32>,
    known: &Grid<f32>,
    pitch_mm: f64,
    over_borders: [Option<OverBorder>; 2],
) -> Vec<RightAcross> {
    let silver = silver * known;
    let way = |upright, over_border| of_way(&silver, known, pitch_mm, upright, over_border);
    let [over_upright, over_level] = over_borders;
    let (upright, level) = rayon::join(|| way(true, over_upright), || way(false, over_level));
    [upright, level].concat()
}

fn of_way(
    silver: &Grid<f32>,
    known: &Grid<f32>,
    pitch_mm: f64,
    upright: bool,
    over_border: Option<OverBorder>,
) -> Vec<RightAcross> {
    let [silver, known] = [silver, known].map(|grid| response::laid(grid, upright));
    let rows = silver.nrows();
    let count = (rows as f64 * pitch_mm / STRETCH_MM).round() as usize;
    if count < FEWEST_STRETCHES {
        return Vec::new();
    }
    let straight = Run {
        tan: 0.0,
        sagitta: 0.0,
    };
    let Tilted { means, pad } = tilted(&silver, &known, straight, count);
    let looks: Vec<Look> = CORES_MM
        .iter()
        .map(|core_mm| Look::of(&means, pitch_mm, *core_mm))
        .collect();
    // Of a small plate the border takes much.
    let in_picture = (means.columns().into_iter())
        .map(|column| column.iter().filter(|mean| mean.is_finite()).count());
    let share = KNOWN_SHARE * in_picture.max().unwrap_or(0) as f64;
    let way = Way {
        fewest: FEWEST_STRETCHES.max(share.ceil() as usize),
        looks: &looks,
        means: &means,
        rows,
        pad,
        pitch_mm,
        upright,
    };
    let runs_on = over_border.and_then(|line| way.runs_on(&line));
    runs_on.into_iter().chain(way.lines()).collect()
}

/// All that is looked at one way: upright or level.
struct Way<'a> {
    looks: &'a [Look],
    /// Mean silver, `[[stretch, column]]`.
    means: &'a Grid<f32>,
    rows: usize,
    pad: usize,
    pitch_mm: f64,
    upright: bool,
    /// Fewest stretches of a line that lie in the picture.
    fewest: usize,
}

/// A straight line: which look, its tilt, and where it crosses the middle row.
#[derive(Debug, Clone, Copy)]
struct Place {
    look: usize,
    tilt_deg: f64,
    column: usize,
    /// Agreement with sign, as a share of the most there can be.
    agreement: f64,
}

/// How far the stretches stand out, made ready for adding up: at most [`MOST`] counts, and 0 where unknown.
struct Held {
    /// `[[stretch, column]]`.
    cells: Grid<f64>,
    /// 1 where known.
    known: Grid<u32>,
}

impl Held {
    fn of(stands_out: &Grid<f32>) -> Held {
        let held = |value: &f32| match value.is_finite() {
            true => f64::from(*value).clamp(-MOST, MOST),
            false => 0.0,
        };
        Held {
            cells: stands_out.map(held),
            known: stands_out.map(|value| u32::from(value.is_finite())),
        }
    }
}

impl Way<'_> {
    /// Columns to the right of where a line crosses the middle row, in the middle of a stretch.
    fn shift(&self, tilt_deg: f64, stretch: usize) -> i64 {
        let below_middle = (stretch as f64 + 0.5) / self.means.nrows() as f64 - 0.5;
        (tilt_deg.to_radians().tan() * below_middle * self.rows as f64).round() as i64
    }

    /// Column of a line in each stretch; `None` beyond the grid.
    fn columns(&self, place: Place) -> impl Iterator<Item = Option<usize>> {
        let (count, columns) = self.means.dim();
        (0..count).map(move |stretch| {
            let column = place.column as i64 + self.shift(place.tilt_deg, stretch);
            usize::try_from(column).ok().filter(|at| *at < columns)
        })
    }

    /// What a grid holds along a line.
    fn along(&self, grid: &Grid<f32>, place: Place) -> Vec<f64> {
        let columns = self.columns(place).enumerate();
        let cells = columns.filter_map(|(stretch, column)| Some(grid[[stretch, column?]]));
        cells
            .filter(|value| value.is_finite())
            .map(f64::from)
            .collect()
    }

    /// Places of any look and tilt whose stretches agree best, strongest first.
    fn strongest(&self) -> Vec<Place> {
        let steps = (MOST_TILT_DEG / STEP_DEG).round() as i32;
        let mut places: Vec<Place> = Vec::new();
        for (look, of) in self.looks.iter().enumerate() {
            let held = Held::of(&of.stands_out);
            let tilts = (-steps..=steps).map(|step| f64::from(step) * STEP_DEG);
            places.extend(tilts.flat_map(|tilt_deg| self.strongest_of(look, &held, tilt_deg)));
        }
        places.sort_by(|a, b| b.agreement.abs().total_cmp(&a.agreement.abs()));
        places
    }

    fn strongest_of(&self, look: usize, held: &Held, tilt_deg: f64) -> Vec<Place> {
        let columns = self.means.ncols();
        let (mut sums, mut known) = (vec![0.0f64; columns], vec![0u32; columns]);
        several_at_a_time(|| {
            let stretches = held.cells.rows().into_iter().zip(held.known.rows());
            for (s, (cells, is_known)) in stretches.enumerate() {
                let shift = self.shift(tilt_deg, s);
                let (before, after) = (shift.max(0) as usize, (-shift).max(0) as usize);
                let from = cells.iter().zip(is_known).skip(before);
                let to = sums.iter_mut().zip(&mut known).skip(after);
                for ((cell, is_known), (sum, known)) in from.zip(to) {
                    *sum += cell;
                    *known += is_known;
                }
            }
        });
        // Of places that agree wholly there are several: the leftmost come first.
        let mut strongest: Vec<Place> = Vec::with_capacity(STRONGEST + 1);
        for (column, (sum, known)) in sums.into_iter().zip(known).enumerate() {
            if (known as usize) < self.fewest {
                continue;
            }
            let agreement = sum / (MOST * f64::from(known));
            let as_strong = |other: &Place| other.agreement.abs() >= agreement.abs();
            if strongest.len() == STRONGEST && strongest.last().is_some_and(as_strong) {
                continue;
            }
            let place = Place {
                look,
                tilt_deg,
                column,
                agreement,
            };
            strongest.insert(strongest.partition_point(as_strong), place);
            strongest.truncate(STRONGEST);
        }
        strongest
    }

    fn lines(&self) -> Vec<RightAcross> {
        let places = self.strongest();
        let away_mm = |a: &Place, b: &Place| a.column.abs_diff(b.column) as f64 * self.pitch_mm;
        let mut tops: Vec<&Place> = Vec::new();
        for place in &places {
            if tops.iter().all(|top| away_mm(top, place) > APART_MM) {
                tops.push(place);
            }
        }
        tops.truncate(COMPARED);
        let middles: Vec<(Place, f64)> = tops
            .iter()
            .filter_map(|top| {
                let own = places.iter().filter(|place| {
                    away_mm(top, place) <= OWN_MM
                        && place.agreement.abs() >= OWN_SHARE * top.agreement.abs()
                });
                let plain = own.map(|place| (self.plainness(*place), *place));
                let (_, plainest) = plain.max_by(|a, b| a.0.total_cmp(&b.0))?;
                Some((plainest, self.contrast_d(plainest).max(0.0)))
            })
            .collect();
        // A faint line beside a strong one is little company for it, however well it holds together.
        let others = |(own, own_d): &(Place, f64)| {
            let apart_mm = APART_MM.max(APART_CORES * self.looks[own.look].core_mm);
            let others = middles
                .iter()
                .filter(|(other, _)| away_mm(own, other) > apart_mm);
            let of = others.map(|(other, d)| {
                let agreement = other.agreement.abs();
                [
                    agreement,
                    agreement * (d / own_d.max(f64::EPSILON)).min(1.0),
                ]
            });
            of.fold([0.0, 0.0], |[a, b], [c, d]| {
                [f64::max(a, c), f64::max(b, d)]
            })
        };
        let handed_on = middles.iter().take(HANDED_ON);
        handed_on
            .map(|line| self.describe(line.0, others(line)))
            .collect()
    }

    /// The line that runs on over the border, as the picture between shows it; `None` where too little of it lies on
    /// the picture, or the picture does not show it.
    fn runs_on(&self, line: &OverBorder) -> Option<RightAcross> {
        let mut place = Place {
            look: line.core,
            tilt_deg: line.tan.atan().to_degrees(),
            column: (line.middle.round() as usize) + self.pad,
            agreement: 1.0,
        };
        let held = self.along(&self.looks[place.look].stands_out, place);
        if 2 * held.len() < self.means.nrows() {
            return None;
        }
        let sum: f64 = held.iter().map(|own| own.clamp(-MOST, MOST)).sum();
        place.agreement = sum / (MOST * held.len() as f64);
        (place.agreement > LEAST_ON_PICTURE).then(|| RightAcross {
            over_border: Some(RunsOn {
                stands_out: line.stands_out,
                others: line.others,
            }),
            ..self.describe(place, [0.0; 2])
        })
    }

    /// Contrast of a line, density: median of its stretches.
    fn contrast_d(&self, place: Place) -> f64 {
        let mut contrasts = self.along(&self.looks[place.look].contrast_d, place);
        place.agreement.signum() * median(&mut contrasts).unwrap_or(0.0)
    }

    /// Contrast of a line less half the difference of its sides, density.
    fn plainness(&self, place: Place) -> f64 {
        self.contrast_d(place) - 0.5 * self.mean_step_d(place)
    }

    /// Difference of silver between a line's sides, whichever has more, density: mean of its stretches.
    fn mean_step_d(&self, place: Place) -> f64 {
        let steps = self.along(&self.looks[place.look].step_d, place);
        steps.iter().map(|step| step.abs()).sum::<f64>() / steps.len().max(1) as f64
    }

    fn describe(&self, place: Place, [elsewhere, company]: [f64; 2]) -> RightAcross {
        let look = &self.looks[place.look];
        let sign = place.agreement.signum();
        let signed = |grid: &Grid<f32>| -> Vec<f64> {
            let along = self.along(grid, place);
            along.into_iter().map(|value| sign * value).collect()
        };
        let mut stands_out = signed(&look.stands_out);
        let mut contrasts = signed(&look.contrast_d);
        let mut steps = self.along(&look.step_d, place);
        let count = contrasts.len().max(1) as f64;
        let mean = contrasts.iter().sum::<f64>() / count;
        let variance = contrasts
            .iter()
            .map(|d| (d - mean) * (d - mean))
            .sum::<f64>()
            / count;
        let contrast_d = median(&mut contrasts).unwrap_or(0.0);
        let clear = stands_out.iter().filter(|own| **own > CLEAR).count();
        stands_out.sort_by(f64::total_cmp);
        RightAcross {
            upright: self.upright,
            axis_deg: match self.upright {
                true => (180.0 - place.tilt_deg).rem_euclid(180.0),
                false => 90.0 + place.tilt_deg,
            },
            core_mm: look.core_mm,
            line: Line {
                ends_mm: self.ends_mm(place),
                middle_mm: self.at_mm(place, 0.5 * self.rows as f64),
                agreement: place.agreement.abs() * MOST * count.sqrt(),
                coverage: clear as f64 / count,
                sign,
                width_mm: self.width_mm(place, sign),
                contrast_d,
                step_d: median(&mut steps).unwrap_or(0.0),
            },
            across: self.across(place),
            agreement: place.agreement.abs(),
            elsewhere,
            company,
            weakest: stands_out.get(1).copied().unwrap_or(0.0),
            unevenness: variance.sqrt() / mean.abs().max(1e-6),
            unlike_sides: self.mean_step_d(place) / contrast_d.max(1e-6),
            form: self.form(place, sign),
            over_border: None,
        }
    }

    fn form(&self, place: Place, sign: f64) -> AcrossForm {
        let reach = (SHOWN_MM / self.pitch_mm).round() as i64;
        let across = self.profile(place, reach).into_iter();
        let across: Vec<Option<f64>> = across.map(|silver| silver.map(|d| sign * d)).collect();
        AcrossForm::of(&across, self.pitch_mm, &TRIED)
    }

    /// The place of a line at a row, millimetres of the plate.
    fn at_mm(&self, place: Place, row: f64) -> [f64; 2] {
        let shift = place.tilt_deg.to_radians().tan() * (row - 0.5 * self.rows as f64);
        let column = place.column as f64 - self.pad as f64 + shift + 0.5;
        let [x, y] = [column, row].map(|cells| cells * self.pitch_mm);
        if self.upright { [x, y] } else { [y, x] }
    }

    /// Where the first and the last known stretch end.
    fn ends_mm(&self, place: Place) -> [[f64; 2]; 2] {
        let count = self.means.nrows();
        let look = &self.looks[place.look];
        let columns = self.columns(place).enumerate();
        let known = columns.filter(|(stretch, column)| {
            column.is_some_and(|column| look.contrast_d[[*stretch, column]].is_finite())
        });
        let known: Vec<usize> = known.map(|(stretch, _)| stretch).collect();
        let first = known.first().copied().unwrap_or(0);
        let last = known.last().copied().unwrap_or(count - 1) + 1;
        [first, last].map(|edge| self.at_mm(place, (edge * self.rows) as f64 / count as f64))
    }

    /// Silver across a line to so many cells on both sides, each stretch less what lies beside the line there:
    /// the median of the stretches.
    fn profile(&self, place: Place, reach: i64) -> Vec<Option<f64>> {
        let beside = 2 * self.core_cells(place);
        let columns: Vec<Option<usize>> = self.columns(place).collect();
        (-reach..=reach)
            .map(|off| {
                let of_stretch = |(stretch, column): (usize, &Option<usize>)| {
                    let at = |off: i64| {
                        let column = usize::try_from((*column)? as i64 + off).ok()?;
                        let mean = *self.means.get([stretch, column])?;
                        mean.is_finite().then_some(f64::from(mean))
                    };
                    Some(at(off)? - 0.5 * (at(-beside)? + at(beside)?))
                };
                let mut values: Vec<f64> =
                    columns.iter().enumerate().filter_map(of_stretch).collect();
                median(&mut values)
            })
            .collect()
    }

    fn core_cells(&self, place: Place) -> i64 {
        let cells = self.looks[place.look].core_mm / self.pitch_mm;
        cells.round().max(1.0) as i64
    }

    /// Width at half height.
    fn width_mm(&self, place: Place, sign: f64) -> f64 {
        let reach = 2 * self.core_cells(place);
        let profile = self.profile(place, reach);
        let near = |off: i64| sign * profile[(reach + off) as usize].unwrap_or(0.0);
        let half = 0.5 * (-1..=1).map(near).fold(0.0, f64::max);
        let right = (0..=reach).take_while(|off| near(*off) > half).count();
        let left = (1..=reach).take_while(|off| near(-off) > half).count();
        (right + left).max(1) as f64 * self.pitch_mm
    }

    /// Silver across a line and some millimetres of what lies beside it, for a chart.
    fn across(&self, place: Place) -> Across {
        let reach = (SHOWN_MM / self.pitch_mm).round() as i64;
        let profile = self.profile(place, reach);
        let known = |silver: &Option<f64>| silver.is_some();
        let first = profile.iter().position(known).unwrap_or(0);
        let last = profile.iter().rposition(known).map_or(first, |at| at + 1);
        let column = place.column as i64 - self.pad as i64 - reach + first as i64;
        Across {
            first_mm: (column as f64 + 0.5) * self.pitch_mm,
            step_mm: self.pitch_mm,
            silver_d: profile[first..last].to_vec(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A scene of soft slopes and a dark thing, with noise (the place, well mixed: splitmix64's steps).
    fn scene(own: impl Fn(f64, f64) -> f64) -> Vec<RightAcross> {
        let grid = Grid::from_shape_fn((800, 700), |(i, j)| {
            let mut hash = (i * 700 + j) as u64;
            hash = hash.wrapping_add(0x9e37_79b9_7f4a_7c15);
            hash = (hash ^ (hash >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            hash = (hash ^ (hash >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            hash ^= hash >> 31;
            let (x, y) = (j as f64 / 10.0, i as f64 / 10.0);
            let thing = if (x - 35.0).hypot(y - 40.0) < 18.0 {
                0.3
            } else {
                0.0
            };
            let slopes = 0.6 + 0.1 * (x / 25.0).sin() + 0.08 * (y / 20.0).cos();
            (slopes - thing + 0.02 * ((hash % 1000) as f64 / 500.0 - 1.0) + own(x, y)) as f32
        });
        of_silver(&grid, &Grid::from_elem(grid.dim(), 1.0), 0.1, [None; 2])
    }

    fn bell(off: f64, width: f64) -> f64 {
        (-2.7726 * (off / width).powi(2)).exp()
    }

    #[test]
    fn a_faint_line_under_a_scene_is_found_where_it_lies() {
        let tan = 1.5_f64.to_radians().tan();
        let found = scene(|x, y| 0.04 * bell(y - 55.0 - tan * (x - 35.0), 0.5));
        let best = found
            .iter()
            .max_by(|a, b| (a.agreement - a.elsewhere).total_cmp(&(b.agreement - b.elsewhere)))
            .unwrap();
        assert!(
            !best.upright && (best.axis_deg - 91.5).abs() < 0.3,
            "{best:?}"
        );
        assert!((best.line.middle_mm[1] - 55.0).abs() < 0.3, "{best:?}");
        // A core finer than the line reads up to a third too little.
        assert!((best.line.contrast_d - 0.04).abs() < 0.015, "{best:?}");
        assert!((best.line.width_mm - 0.5).abs() < 0.25, "{best:?}");
        assert!(best.agreement > 0.9 && best.elsewhere < 0.6, "{best:?}");
        // The rim of the thing differs on both sides of it in two stretches; the edge of a thing does so all along.
        assert!(best.unevenness < 0.4 && best.unlike_sides < 1.0, "{best:?}");
    }

    #[test]
    fn a_scene_without_a_line_has_none_that_agrees() {
        let most = scene(|_, _| 0.0)
            .iter()
            .map(|line| line.agreement)
            .fold(0.0, f64::max);
        assert!(most < 0.6, "{most}");
    }

    #[test]
    fn a_bar_before_a_changing_ground_is_uneven() {
        // A rail of one darkness, before a ground that goes from light to dark.
        let rail = |x: f64, y: f64| (-0.1 - 0.005 * x) * bell(y - 55.0, 0.5);
        let found = scene(rail);
        let best = found
            .iter()
            .max_by(|a, b| a.agreement.total_cmp(&b.agreement))
            .unwrap();
        assert!(best.agreement > 0.9 && best.unevenness > 0.3, "{best:?}");
    }
}
