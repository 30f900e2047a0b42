//! Soft bands that run in from an edge of a picture, as developer leaves them that was swept on unevenly.
//!
//! What it means: where the developer ran too thin or too long, a few broad bands follow its way, a little bent, and
//! fade before the far edge. They lie on the scene and not in it: a band keeps its contrast while what lies under
//! it changes, and fades softly to both sides, where a thing of the scene has edges.
//! Input: silver of the picture area in cells of about 0.4 mm.
//! Output: for the strongest runs (upright and level, tilted and bent) the bands that hold along a good part of the
//! way: place, width (millimetres), contrast (density), sign, and what tells them from the scene's own parts.
//! Method: a core less both its sides, over the scatter of the same thereabouts, stretch by stretch, summed along
//! tilted and bent lines over parts of the way; across the strongest ones the likest bell and the likest box, by
//! least squares.
//! Doubtful when: folds of a cloth or soft shadows run from an edge.

mod along;
mod lies;
mod look;

use along::Along;
use lies::{Lie, ranges};
use look::{Look, SIDE_OFF};

use super::form::{AcrossForm, Tried};
use super::response::laid;
use super::tilted::{Run, Tilted, tilted};
use super::{Across, Family, Line, OverScene};
use crate::raster::regions::erode;
use crate::raster::stats::{median, robust_line};
use crate::raster::{Grid, several_at_a_time};

/// What tells a soft band from a thing of the scene.
#[derive(Debug, Clone, PartialEq)]
pub struct BandForm {
    /// What it is like across.
    pub across: AcrossForm,
    /// Median contrast along it, density.
    pub contrast_d: f64,
    /// Scatter of its contrast along it about a straight fall, as a share of the median.
    pub unevenness: f64,
    /// Share of its stretches that have its sign clearly.
    pub coverage: f64,
}

/// Bands along one run over a picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Sweep {
    /// The bands and their run.
    pub bands: Family,
    /// What tells each of its lines from a thing of the scene, in their order.
    pub forms: Vec<BandForm>,
}

// What follows is our own choice; the table of shapes (`practice accuracy --about shapes`) would notice a change.

/// Length of a stretch, millimetres: a line that leans by 8 degrees strays by 0.6 mm in it.
const STRETCH_MM: f64 = 4.0;
/// Fewest stretches along the way, and fewest along a band.
const FEWEST_STRETCHES: usize = 8;
/// See [`FEWEST_STRETCHES`].
const FEWEST_OF_BAND: usize = 6;
/// Widths looked for, millimetres.
const WIDTHS_MM: [f64; 4] = [1.2, 1.8, 2.7, 4.0];
/// Least share of its stretches that must be known.
const KNOWN_SHARE: f64 = 0.7;
/// A stretch has the band's sign clearly from here on, standard deviations.
const CLEAR: f32 = 0.5;
/// Agreement (sum over stretches over the root of their number) from which a band is looked at, and from which it
/// counts for its run.
const LOOKED_AT: f32 = 2.5;
/// See [`LOOKED_AT`].
const COUNTS: f32 = 3.0;
/// Bands of one run that are looked at, strongest first; they lie so many widths apart at least.
const BANDS: usize = 8;
/// See [`BANDS`].
const APART_WIDTHS: f64 = 2.0;
/// Runs of each orientation that are handed on, strongest first, none like another.
const HANDED_ON: usize = 6;

/// What is tried across a band.
const TRIED: Tried = Tried {
    widths_mm: &[0.7, 1.0, 1.3, 1.7, 2.2, 2.8, 3.5, 4.4, 5.5],
    off_mm: &[-0.4, 0.0, 0.4],
    finer: &[0.86, 0.93, 1.07, 1.15],
    edge_mm: 0.5,
    reach_mm: f64::INFINITY,
};
/// Least contrast that unevenness is a share of, density.
const LEAST_D: f64 = 2e-3;

/// Soft bands of a picture, upright and level, the strongest runs of each.
pub(in crate::measures) fn sweeps(silver: &Grid<Option<f64>>, pitch_mm: f64) -> Vec<Sweep> {
    let keep_off = ((super::response::KEEP_OFF_MM / pitch_mm).round() as usize).max(1);
    let sure = erode(&silver.mapv(|cell| cell.is_some()), keep_off);
    let known = sure.mapv(|sure| if sure { 1.0f32 } else { 0.0 });
    let silver = Grid::from_shape_fn(silver.dim(), |at| match silver[at] {
        Some(silver) if sure[at] => silver as f32,
        _ => 0.0,
    });
    let of_way = |upright: bool| {
        let [silver, known] = [&silver, &known].map(|grid| laid(grid, upright).into_owned());
        let way = Way::of(silver, known, pitch_mm);
        way.map_or_else(Vec::new, |way| way.sweeps(upright))
    };
    let (upright, level) = rayon::join(|| of_way(true), || of_way(false));
    [upright, level].concat()
}

/// A band of one lie: the column at which it crosses the middle row, and what it was found with.
#[derive(Debug, Clone, Copy)]
struct Place {
    column: usize,
    /// Agreement, with its sign.
    agreement: f32,
    look: usize,
    /// Its first stretch, and the one past its last.
    range: (usize, usize),
}

/// All that is looked at one way: upright or level bands, laid so that they are upright.
struct Way {
    silver: Grid<f32>,
    known: Grid<f32>,
    /// Mean silver, `[[stretch, column]]`.
    means: Grid<f32>,
    /// Columns left of the grid's first.
    pad: usize,
    looks: Vec<Look>,
    /// The parts of the way that a band may cover, stretches.
    ranges: Vec<(usize, usize)>,
    pitch_mm: f64,
}

impl Way {
    /// `None` where the plate is too small.
    fn of(silver: Grid<f32>, known: Grid<f32>, pitch_mm: f64) -> Option<Way> {
        let count = (silver.nrows() as f64 * pitch_mm / STRETCH_MM).round() as usize;
        if count < FEWEST_STRETCHES {
            return None;
        }
        let straight = Run {
            tan: 0.0,
            sagitta: 0.0,
        };
        let Tilted { means, pad } = tilted(&silver, &known, straight, count);
        let looks = WIDTHS_MM.map(|width_mm| Look::of(&means, pitch_mm, width_mm));
        Some(Way {
            silver,
            known,
            means,
            pad,
            looks: looks.into(),
            ranges: ranges(count),
            pitch_mm,
        })
    }

    fn run(&self, lie: Lie) -> Run {
        Run {
            tan: lie.tilt_deg.to_radians().tan(),
            sagitta: lie.sagitta_mm / self.pitch_mm,
        }
    }

    /// Columns to the right of where a band crosses the middle row, in the middle of each stretch.
    fn shifts(&self, lie: Lie) -> Vec<i64> {
        let count = self.means.nrows();
        let half = 0.5 * self.silver.nrows() as f64;
        let below = |stretch: usize| ((2 * stretch + 1) as f64 / count as f64 - 1.0) * half;
        let shift = |stretch| self.run(lie).shift(below(stretch), half).round() as i64;
        (0..count).map(shift).collect()
    }

    fn sweeps(&self, upright: bool) -> Vec<Sweep> {
        let mut lies: Vec<(f32, Lie, Vec<Place>)> = Lie::all()
            .map(|lie| {
                let places = self.strongest(&self.shifts(lie));
                let counts = |place: &Place| (place.agreement.abs() - COUNTS).max(0.0).powi(2);
                (places.iter().map(counts).sum(), lie, places)
            })
            .collect();
        lies.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut taken: Vec<(Lie, Vec<Place>)> = Vec::new();
        for (_, lie, places) in lies {
            if taken.len() < HANDED_ON && taken.iter().all(|(other, _)| !lie.is_like(*other)) {
                taken.push((lie, places));
            }
        }
        taken.retain(|(_, places)| !places.is_empty());
        taken
            .into_iter()
            .map(|(lie, places)| self.describe(lie, &places, upright))
            .collect()
    }

    /// The bands of one lie that agree best, each clear of stronger ones.
    fn strongest(&self, shifts: &[i64]) -> Vec<Place> {
        let columns = self.means.ncols();
        let mut best = vec![0.0f32; columns];
        // Look and range, in one number.
        let mut found_with = vec![0u32; columns];
        several_at_a_time(|| {
            for (at, look) in self.looks.iter().enumerate() {
                let sums = Along::of(look, shifts);
                for (r, range) in self.ranges.iter().enumerate() {
                    let least =
                        FEWEST_OF_BAND.max((KNOWN_SHARE * (range.1 - range.0) as f64) as usize);
                    let agreements = sums.agreements(*range, least);
                    let code = (at * self.ranges.len() + r) as u32;
                    let to = best.iter_mut().zip(&mut found_with);
                    for (agreement, (best, found_with)) in agreements.into_iter().zip(to) {
                        // Without a way out, so that several columns are worked at a time.
                        let better = agreement.abs() > best.abs();
                        *best = if better { agreement } else { *best };
                        *found_with = if better { code } else { *found_with };
                    }
                }
            }
        });
        let mut places = Vec::new();
        for _ in 0..BANDS {
            let strongest = best.iter().map(|own| own.abs()).fold(0.0, f32::max);
            let column = best.iter().rposition(|own| own.abs() == strongest);
            let Some(column) = column.filter(|_| strongest >= LOOKED_AT) else {
                break;
            };
            let code = found_with[column] as usize;
            let (look, range) = (code / self.ranges.len(), code % self.ranges.len());
            places.push(Place {
                column,
                agreement: best[column],
                look,
                range: self.ranges[range],
            });
            let apart = (APART_WIDTHS * self.looks[look].width_mm / self.pitch_mm) as usize;
            let last = (column + apart).min(columns - 1);
            best[column.saturating_sub(apart)..=last].fill(0.0);
        }
        places
    }

    fn describe(&self, lie: Lie, places: &[Place], upright: bool) -> Sweep {
        let shifts = self.shifts(lie);
        let forms: Vec<BandForm> = places
            .iter()
            .map(|place| self.form(&shifts, *place))
            .collect();
        let lines: Vec<Line> = places
            .iter()
            .zip(&forms)
            .map(|(place, form)| self.line(lie, &shifts, *place, form, upright))
            .collect();
        let along = tilted(&self.silver, &self.known, self.run(lie), self.means.nrows());
        let mut widths: Vec<f64> = forms.iter().map(|form| form.across.width_mm).collect();
        Sweep {
            bands: Family {
                axis_deg: match upright {
                    true => (-lie.tilt_deg).rem_euclid(180.0),
                    false => 90.0 + lie.tilt_deg,
                },
                upright,
                slanted: false,
                scale_mm: 0.5 * median(&mut widths).unwrap_or(WIDTHS_MM[0]),
                sagitta_mm: lie.sagitta_mm,
                energy: 0.0,
                usual_energy: 0.0,
                regularity: 0.0,
                scene: OverScene::default(),
                room: 0.0,
                lines,
                across: Across::of(&along, self.pitch_mm),
            },
            forms,
        }
    }

    /// What a grid of its look holds along a band, with the stretch, as far as it is known.
    fn along<'a>(
        &'a self,
        of_look: impl Fn(&'a Look) -> &'a Grid<f32>,
        shifts: &'a [i64],
        place: Place,
    ) -> impl Iterator<Item = (usize, f64)> {
        let look = &self.looks[place.look];
        let grid = of_look(look);
        let value = move |(stretch, shift): (usize, &i64)| {
            let column = usize::try_from(place.column as i64 + shift).ok()?;
            let known = *look.known.get([stretch, column])? > 0.0;
            known.then(|| (stretch, f64::from(grid[[stretch, column]])))
        };
        shifts.iter().enumerate().filter_map(value)
    }

    fn form(&self, shifts: &[i64], place: Place) -> BandForm {
        let sign = f64::from(place.agreement.signum());
        let within = |(stretch, _): &(usize, f64)| (place.range.0..place.range.1).contains(stretch);
        let contrasts: Vec<(f64, f64)> = self
            .along(|look| &look.contrast_d, shifts, place)
            .filter(within)
            .map(|(stretch, contrast_d)| (stretch as f64, sign * contrast_d))
            .collect();
        let clear = self.along(|look| &look.clear, shifts, place).filter(within);
        let clear: Vec<bool> = clear
            .map(|(_, own)| sign * own > f64::from(CLEAR))
            .collect();
        let coverage = clear.iter().filter(|clear| **clear).count() as f64;
        let mut sorted: Vec<f64> = contrasts
            .iter()
            .map(|(_, contrast_d)| *contrast_d)
            .collect();
        let contrast_d = median(&mut sorted).unwrap_or(0.0);
        let scatter = robust_line(&contrasts).map_or(f64::INFINITY, |(_, _, scatter)| scatter);
        BandForm {
            across: AcrossForm::of(&self.across(shifts, place), self.pitch_mm, &TRIED),
            contrast_d,
            unevenness: scatter / contrast_d.max(LEAST_D),
            coverage: coverage / clear.len().max(1) as f64,
        }
    }

    /// Silver across a band to both sides, its sign taken as more silver, each stretch less the mean of its
    /// sides there: the median of its stretches.
    fn across(&self, shifts: &[i64], place: Place) -> Vec<Option<f64>> {
        let width = self.looks[place.look].width_mm / self.pitch_mm;
        let reach = (2.2 * width) as i64 + 2;
        let sides = (SIDE_OFF * width).round() as i64;
        let sign = f64::from(place.agreement.signum());
        let at = |stretch: usize, off: i64| {
            let column = usize::try_from(place.column as i64 + shifts[stretch] + off).ok()?;
            let mean = *self.means.get([stretch, column])?;
            mean.is_finite().then_some(f64::from(mean))
        };
        (-reach..=reach)
            .map(|off| {
                let of_stretch = |stretch| {
                    let beside = 0.5 * (at(stretch, -sides)? + at(stretch, sides)?);
                    Some(sign * (at(stretch, off)? - beside))
                };
                let stretches = place.range.0..place.range.1;
                let mut values: Vec<f64> = stretches.filter_map(of_stretch).collect();
                median(&mut values)
            })
            .collect()
    }

    fn line(&self, lie: Lie, shifts: &[i64], place: Place, form: &BandForm, upright: bool) -> Line {
        let sign = f64::from(place.agreement.signum());
        let clear: Vec<usize> = self
            .along(|look| &look.clear, shifts, place)
            .filter(|(_, own)| sign * own > f64::from(CLEAR))
            .map(|(stretch, _)| stretch)
            .collect();
        let goes_on = |stretch: &usize| clear.contains(stretch);
        let (first, last) = place.range;
        // As far as it goes on beyond the part of the way that it was found in.
        let before = (0..first).rev().take_while(goes_on).count();
        let beyond = (last..self.means.nrows()).take_while(goes_on).count();
        let (rows, count) = (self.silver.nrows() as f64, self.means.nrows() as f64);
        let at = |row: f64| {
            let half = 0.5 * rows;
            let column =
                (place.column as f64 - self.pad as f64) + self.run(lie).shift(row - half, half);
            let [x, y] = [column + 0.5, row].map(|cells| cells * self.pitch_mm);
            if upright { [x, y] } else { [y, x] }
        };
        let end = |stretch: usize| at(stretch as f64 * rows / count);
        let steps = self.along(|look| &look.step_d, shifts, place);
        let mut steps: Vec<f64> = steps.map(|(_, step)| step).collect();
        Line {
            ends_mm: [end(first - before), end(last + beyond)],
            middle_mm: at(0.5 * rows),
            agreement: f64::from(place.agreement.abs()),
            coverage: form.coverage,
            sign,
            width_mm: form.across.width_mm,
            contrast_d: form.across.height_d,
            step_d: median(&mut steps).unwrap_or(0.0),
        }
    }
}

#[cfg(test)]
mod tests;
