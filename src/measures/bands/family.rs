//! The best tilt of one way of looking, and the lines that hold there.

use super::in_border::Lines;
use super::response::{Response, laid};
use super::scene::{OverScene, far_agreement, over_scatter};
use super::tilted::{Run, Tilted, tilted};
use super::{Across, Ends, Family, Line, Over};
use crate::raster::Grid;
use crate::raster::stats::median;
use ndarray::ArrayView1;
use std::ops::Range;

/// Length of a stretch, millimetres.
const STRETCH_MM: f64 = 8.0;
/// Fewest stretches along a line.
const FEWEST_STRETCHES: usize = 4;
/// Tilts looked at, degrees to either side, and their step.
const MOST_TILT_DEG: f64 = 7.0;
/// See [`MOST_TILT_DEG`].
const STEP_DEG: f64 = 0.5;
/// Bends looked at for broad bands: how far the ends lie off the straight line at most, and their step,
/// millimetres. Fine bands come from the dip, which is straight.
const MOST_SAGITTA_MM: f64 = 6.0;
/// See [`MOST_SAGITTA_MM`].
const SAGITTA_STEP_MM: f64 = 2.0;
/// Core from which bands are broad, millimetres.
const BROAD_MM: f64 = 0.8;
/// Runs within so many degrees and millimetres of bend of the best one are like it.
const BESIDE_DEG: f64 = 1.1;
/// See [`BESIDE_DEG`].
const BESIDE_MM: f64 = 2.1;
/// Most that one stretch counts, standard deviations.
const MOST: f32 = 3.0;
/// A stretch has the line's sign clearly from here on, standard deviations.
const CLEAR: f32 = 0.5;
/// Least share of clear stretches, and least agreement, of a line that holds. Our own choice: by chance
/// seven stretches of ten agree so once in some hundred lines.
const LEAST_COVERAGE: f64 = 0.85;
/// See [`LEAST_COVERAGE`].
const LEAST_AGREEMENT: f64 = 3.0;
/// The same over a scene, where the family as a whole must hold first.
const SCENE_COVERAGE: f64 = 0.7;
/// See [`SCENE_COVERAGE`].
const SCENE_AGREEMENT: f64 = 2.0;
/// Least agreement of stretches one behind the other on an even plate, as of [`LEAST_COVERAGE`] clear ones, that are
/// the line though the rest of it shows nothing: a wave of developer starts and ends anywhere. Our own choice: so much
/// is five standard deviations, since a plate has some thousand such rows of stretches.
const PART_AGREEMENT: f64 = 5.0;
/// Mean of a line's stretches from which it is looked at as one of the scene, standard deviations.
const LOOKED_AT: f64 = 0.5;
/// Contrast that can be seen, density.
const SEEN_D: f64 = 0.015;

/// Lines this near to the strongest are as strong.
const FLAT_SHARE: f64 = 0.98;

/// One run, with each stretch's mean over the scatter of its neighbours.
struct Agreement {
    tilt_deg: f64,
    sagitta_mm: f64,
    run: Run,
    /// `[[stretch, line]]`.
    stretches: Grid<f32>,
    /// Sum over stretches over the root of their number; `None` where too few are known.
    lines: Vec<Option<f64>>,
    /// The same without a limit on what a stretch counts: where the limit is reached all over, this
    /// alone says where a line's middle is.
    unlimited: Vec<f64>,
    energy: f64,
    pad: usize,
}

/// The family of one way of looking; `None` when the plate is too small for it.
///
/// On an even plate the best run is the one with the most agreement over all; over a scene the one where
/// stretches far apart agree best, since posts and edges agree over short ways along any run.
pub(super) fn best(
    response: &Response,
    upright: bool,
    over: Over,
    ends: Option<&Ends>,
) -> Option<Family> {
    let [cells, known, silver] =
        [&response.cells, &response.known, &response.silver].map(|grid| laid(grid, upright));
    let stretches = ((cells.nrows() as f64 * response.pitch_mm / STRETCH_MM).round()) as usize;
    if stretches < FEWEST_STRETCHES {
        return None;
    }
    let runs: Vec<Agreement> = sagittas_mm(response, over)
        .flat_map(|sagitta_mm| tilts_deg().map(move |tilt_deg| (tilt_deg, sagitta_mm)))
        .map(|(tilt_deg, sagitta_mm)| {
            let run = Run {
                tan: tilt_deg.to_radians().tan(),
                sagitta: sagitta_mm / response.pitch_mm,
            };
            Agreement::of(&cells, &known, run, stretches, tilt_deg, sagitta_mm)
        })
        .collect();
    let mut energies: Vec<f64> = runs.iter().map(|run| run.energy).collect();
    let strength: Vec<f64> = match over {
        Over::Even => energies.clone(),
        Over::Scene => runs
            .iter()
            .map(|run| far_agreement(run.stretches.view()).unwrap_or(f64::NEG_INFINITY))
            .collect(),
    };
    let at = (0..runs.len()).max_by(|a, b| strength[*a].total_cmp(&strength[*b]))?;
    let best = &runs[at];
    // Runs of one bend stand side by side.
    let tilts = tilts_deg().count();
    let first = at - at % tilts;
    let offset = peak_offset(&strength[first..first + tilts], at - first);
    let tilt_deg = best.tilt_deg + STEP_DEG * offset;
    let usual_energy = median(&mut energies)?;
    let silver = tilted(&silver, &known, best.run, stretches);
    let long: Vec<usize> = (0..best.lines.len())
        .filter(|line| best.lines[*line].is_some())
        .collect();
    let mut scene = OverScene::default();
    if over == Over::Scene {
        scene = OverScene::of(best.stretches.view(), &long);
        let beside = |run: &Agreement| {
            (run.tilt_deg - best.tilt_deg).abs() < BESIDE_DEG
                && (run.sagitta_mm - best.sagitta_mm).abs() < BESIDE_MM
        };
        let others = runs.iter().zip(&strength);
        scene.set_usual(
            others
                .filter(|(run, far)| !beside(run) && far.is_finite())
                .map(|(_, far)| *far)
                .collect(),
        );
        if let Some(steps) = response.steps(&known, upright) {
            let mut steps = tilted(&steps, &known, best.run, stretches);
            over_scatter(&mut steps);
            scene.steps_far = far_agreement(steps.means.view()).unwrap_or(0.0);
        }
        count_sides(&mut scene, best, &silver, response, &long);
        scene.in_border = ends.and_then(|ends| {
            ends.run_on(&Lines {
                run: best.run,
                stretches: best.stretches.view(),
                silver: silver.means.view(),
                pad: best.pad,
                core: response.core,
                rows: cells.nrows(),
            })
        });
    }
    let mut lines = lines(best, &silver, response, upright, cells.nrows(), over);
    lines.sort_by(|a, b| b.agreement.total_cmp(&a.agreement));
    Some(Family {
        // Clockwise from up: an upright line that leans right going down has its top end left.
        axis_deg: match upright {
            true => (-tilt_deg).rem_euclid(180.0),
            false => 90.0 + tilt_deg,
        },
        upright,
        slanted: false,
        scale_mm: response.core * response.pitch_mm,
        sagitta_mm: best.sagitta_mm,
        energy: best.energy,
        usual_energy,
        regularity: regularity(&best.lines),
        room: long.len() as f64 / (2.0 * response.core),
        scene,
        lines,
        across: Across::of(&silver, response.pitch_mm),
    })
}

fn tilts_deg() -> impl Iterator<Item = f64> {
    let steps = (MOST_TILT_DEG / STEP_DEG).round() as i32;
    (-steps..=steps).map(|k| f64::from(k) * STEP_DEG)
}

/// Over a scene no broad bands are named, so none are followed round a bend.
fn sagittas_mm(response: &Response, over: Over) -> impl Iterator<Item = f64> {
    let broad = response.core * response.pitch_mm >= BROAD_MM;
    let steps = match broad && over == Over::Even {
        true => (MOST_SAGITTA_MM / SAGITTA_STEP_MM).round() as i32,
        false => 0,
    };
    (-steps..=steps).map(|k| f64::from(k) * SAGITTA_STEP_MM)
}

/// Counts the lines of a scene's best run by what lies on their two sides.
fn count_sides(
    scene: &mut OverScene,
    best: &Agreement,
    silver: &Tilted,
    response: &Response,
    long: &[usize],
) {
    let reach = (2.0 * response.core).round() as usize;
    let all: Vec<usize> = (0..best.stretches.nrows()).collect();
    let mean = |line: usize| best.lines[line].map(|sum| sum / best.root_of(line));
    for line in long {
        let Some(own) = mean(*line).filter(|own| own.abs() >= LOOKED_AT) else {
            continue;
        };
        let last = (line + reach).min(best.lines.len() - 1);
        let peak = (line.saturating_sub(reach)..=last)
            .filter_map(mean)
            .all(|other| other * own.signum() <= own.abs() + 1e-9);
        if !peak {
            continue;
        }
        let profile = Profile::of(silver, &all, *line, response.core);
        let (contrast_d, step_d) = (own.signum() * profile.contrast(), profile.step().abs());
        let seen = contrast_d >= SEEN_D;
        scene.level_sided += usize::from(seen && step_d <= 0.5 * contrast_d);
        scene.stepped += usize::from(step_d > contrast_d);
        let holds = coverage(best, *line, own.signum() as f32) >= 0.75;
        scene.holding += usize::from(seen && holds && step_d <= contrast_d);
    }
}

/// Where the peak lies between neighbours, steps, by a parabola.
fn peak_offset(values: &[f64], at: usize) -> f64 {
    let (Some(before), Some(after)) = (
        at.checked_sub(1).and_then(|k| values.get(k)),
        values.get(at + 1),
    ) else {
        return 0.0;
    };
    let bend = before - 2.0 * values[at] + after;
    match bend < 0.0 {
        true => (0.5 * (before - after) / bend).clamp(-0.5, 0.5),
        false => 0.0,
    }
}

impl Agreement {
    fn of(
        cells: &Grid<f32>,
        known: &Grid<f32>,
        run: Run,
        stretches: usize,
        tilt_deg: f64,
        sagitta_mm: f64,
    ) -> Agreement {
        let mut along = tilted(cells, known, run, stretches);
        over_scatter(&mut along);
        let Tilted { means, pad } = along;
        let lines: Vec<Option<f64>> = means
            .columns()
            .into_iter()
            .map(|line| {
                let known = line.iter().filter(|mean| mean.is_finite());
                let count = known.clone().count();
                let sum: f32 = known.map(|mean| mean.clamp(-MOST, MOST)).sum();
                (count >= FEWEST_STRETCHES).then(|| f64::from(sum) / (count as f64).sqrt())
            })
            .collect();
        let known = |line: ArrayView1<f32>| -> f64 {
            line.iter()
                .filter(|mean| mean.is_finite())
                .map(|mean| f64::from(*mean))
                .sum()
        };
        let unlimited = means.columns().into_iter().map(known).collect();
        let count = lines.iter().flatten().count().max(1) as f64;
        Agreement {
            tilt_deg,
            sagitta_mm,
            run,
            energy: lines.iter().flatten().map(|line| line * line).sum::<f64>() / count,
            stretches: means,
            lines,
            unlimited,
            pad,
        }
    }

    /// Root of the number of known stretches of a line.
    fn root_of(&self, line: usize) -> f64 {
        let column = self.stretches.column(line);
        let known = column.iter().filter(|mean| mean.is_finite()).count();
        (known.max(1) as f64).sqrt()
    }
}

/// The stretches over which a line shows, and their agreement: from the first clear one to the last of a line that
/// runs right across; on an even plate also those of a line that starts or ends on the plate. `None` where it does
/// not hold.
fn extent(agreement: &Agreement, line: usize, over: Over) -> Option<(Range<usize>, f64)> {
    let sum = agreement.lines[line]?;
    let sign = sum.signum() as f32;
    let (least_agreement, least_coverage) = match over {
        Over::Even => (LEAST_AGREEMENT, LEAST_COVERAGE),
        Over::Scene => (SCENE_AGREEMENT, SCENE_COVERAGE),
    };
    let stretches = agreement.stretches.column(line);
    if sum.abs() >= least_agreement && coverage(agreement, line, sign) >= least_coverage {
        let clear = |mean: &f32| mean * sign > CLEAR;
        let first = stretches.iter().position(clear)?;
        let last = stretches.iter().rposition(clear)?;
        return Some((first..last + 1, sum.abs()));
    }
    match over {
        Over::Even => strongest_part(stretches, sign),
        Over::Scene => None,
    }
}

/// The stretches one behind the other that agree most, if they do by [`PART_AGREEMENT`].
fn strongest_part(stretches: ArrayView1<f32>, sign: f32) -> Option<(Range<usize>, f64)> {
    let count = stretches.len();
    let starts = 0..count.saturating_sub(FEWEST_STRETCHES - 1);
    let parts = starts.flat_map(|from| (from + FEWEST_STRETCHES..=count).map(move |to| from..to));
    parts
        .filter_map(|part| {
            let known = || {
                let of_part = part.clone().map(|at| stretches[at] * sign);
                of_part.filter(|mean| mean.is_finite())
            };
            let length = known().count() as f64;
            let clear = known().filter(|mean| *mean > CLEAR).count() as f64;
            let sum: f32 = known().map(|mean| mean.clamp(-MOST, MOST)).sum();
            let agreement = f64::from(sum) / length.max(1.0).sqrt();
            let holds = agreement >= PART_AGREEMENT && clear >= LEAST_COVERAGE * length;
            holds.then_some((part, agreement))
        })
        .max_by(|a, b| a.1.total_cmp(&b.1))
}

/// Share of the known stretches of a line that have its sign clearly.
fn coverage(agreement: &Agreement, line: usize, sign: f32) -> f64 {
    let column = agreement.stretches.column(line);
    let known = column.iter().filter(|mean| mean.is_finite());
    let clear = known.clone().filter(|mean| **mean * sign > CLEAR).count();
    clear as f64 / known.count().max(1) as f64
}

/// The lines that hold: peaks of agreement, none within a core of a stronger one.
fn lines(
    best: &Agreement,
    silver: &Tilted,
    response: &Response,
    upright: bool,
    rows: usize,
    over: Over,
) -> Vec<Line> {
    let reach = (2.0 * response.core).round() as usize;
    (0..best.lines.len())
        .filter_map(|line| {
            let sign = best.lines[line]?.signum();
            extent(best, line, over)?;
            let own = best.unlimited[line] * sign;
            let last = (line + reach).min(best.lines.len() - 1);
            let peak = (line.saturating_sub(reach)..=last).all(|other| {
                let other_own = best.unlimited[other] * sign;
                other == line || other_own < own || (other_own == own && other > line)
            });
            if !peak {
                return None;
            }
            // Where the response is cut off all across a band, its middle is where it is plainest.
            let plainness = |line: &Line| line.contrast_d - 0.5 * line.step_d.abs();
            let flat = (line.saturating_sub(reach)..=last)
                .filter(|other| best.unlimited[*other] * sign >= FLAT_SHARE * own)
                .filter_map(|at| {
                    let extent = extent(best, at, over)?;
                    Some(describe(best, silver, response, upright, rows, at, extent))
                });
            flat.max_by(|a, b| plainness(a).total_cmp(&plainness(b)))
        })
        // The rim of a stronger band and the edge of a thing step to one side.
        .filter(|line| line.step_d.abs() <= line.contrast_d)
        .collect()
}

fn describe(
    best: &Agreement,
    silver: &Tilted,
    response: &Response,
    upright: bool,
    rows: usize,
    line: usize,
    (extent, agreement): (Range<usize>, f64),
) -> Line {
    let sign = best.lines[line].unwrap_or(1.0).signum();
    let stretches = best.stretches.nrows();
    let clear: Vec<usize> = extent
        .clone()
        .filter(|s| best.stretches[[*s, line]] * sign as f32 > CLEAR)
        .collect();
    let at = |row: f64, shift: f64| {
        let column = line as f64 - best.pad as f64 + shift;
        let [x, y] = [column + 0.5, row].map(|cells| cells * response.pitch_mm);
        if upright { [x, y] } else { [y, x] }
    };
    let end = |stretch: usize| {
        let row = (stretch * rows) as f64 / stretches as f64;
        let half = rows as f64 / 2.0;
        at(row, best.run.shift(row - half, half))
    };
    let profile = Profile::of(silver, &clear, line, response.core);
    Line {
        ends_mm: [end(extent.start), end(extent.end)],
        middle_mm: at(rows as f64 / 2.0, 0.0),
        agreement,
        coverage: coverage(best, line, sign as f32),
        sign,
        width_mm: profile.width(sign) * response.pitch_mm,
        contrast_d: (sign * profile.contrast()).max(0.0),
        step_d: profile.step(),
    }
}

/// Median silver across a line, over its clear stretches.
struct Profile {
    silver: Vec<Option<f64>>,
    /// Cells to either side.
    reach: usize,
    core: f64,
}

impl Profile {
    fn of(silver: &Tilted, stretches: &[usize], line: usize, core: f64) -> Profile {
        let reach = (4.0 * core).ceil() as usize;
        // Each stretch counts from its own middle: a scene is lighter here and darker there.
        let at = |stretch: usize, offset: usize| {
            let column = (line + offset).checked_sub(reach)?;
            let mean = *silver.means.get([stretch, column])?;
            mean.is_finite().then_some(f64::from(mean))
        };
        let silver = (0..=2 * reach)
            .map(|offset| {
                let mut values: Vec<f64> = stretches
                    .iter()
                    .filter_map(|s| Some(at(*s, offset)? - at(*s, reach)?))
                    .collect();
                median(&mut values)
            })
            .collect();
        Profile {
            silver,
            reach,
            core,
        }
    }

    fn beside(&self, side: i64) -> Option<f64> {
        let cells = (2.0 * self.core).round().max(2.0) as i64;
        let mut known: Vec<f64> = (cells..=cells + self.core.ceil() as i64)
            .filter_map(|k| usize::try_from(self.reach as i64 + side * k).ok())
            .filter_map(|k| self.silver.get(k).copied().flatten())
            .collect();
        median(&mut known)
    }

    /// Core less both sides.
    fn contrast(&self) -> f64 {
        match (self.beside(-1), self.beside(1)) {
            (Some(before), Some(beyond)) => -0.5 * (before + beyond),
            (Some(one), None) | (None, Some(one)) => -one,
            (None, None) => 0.0,
        }
    }

    fn step(&self) -> f64 {
        match (self.beside(-1), self.beside(1)) {
            (Some(before), Some(beyond)) => beyond - before,
            _ => 0.0,
        }
    }

    /// Cells around the middle that keep more than half of the contrast.
    fn width(&self, sign: f64) -> f64 {
        let floor = -0.5 * sign * self.contrast();
        let keeps = |k: usize| {
            self.silver
                .get(k)
                .copied()
                .flatten()
                .is_some_and(|silver| sign * silver > floor)
        };
        let right = (self.reach..).take_while(|k| keeps(*k)).count();
        let left = (0..self.reach).rev().take_while(|k| keeps(*k)).count();
        (right + left).max(1) as f64
    }
}

/// Highest self-likeness of the sums past the first dip below nothing, up to half their room.
fn regularity(lines: &[Option<f64>]) -> f64 {
    let known: Vec<f64> = lines.iter().flatten().copied().collect();
    let mean = known.iter().sum::<f64>() / known.len().max(1) as f64;
    let from: Vec<f64> = known.iter().map(|line| line - mean).collect();
    let likeness = |lag: usize| -> f64 { from.iter().zip(&from[lag..]).map(|(a, b)| a * b).sum() };
    if from.is_empty() {
        return 0.0;
    }
    let all = likeness(0).max(1e-9);
    let half = from.len() / 2;
    (0..half)
        .map(|lag| likeness(lag) / all)
        .skip_while(|likeness| *likeness >= 0.0)
        .fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plate(silver: impl Fn(usize, usize) -> f64) -> Response {
        let grid = Grid::from_shape_fn((400, 350), |(i, j)| {
            // Noise without a pattern: the place, well mixed (splitmix64's steps).
            let mut hash = (i * 350 + j) as u64;
            hash = hash.wrapping_add(0x9e37_79b9_7f4a_7c15);
            hash = (hash ^ (hash >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            hash = (hash ^ (hash >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            hash ^= hash >> 31;
            Some(silver(i, j) + 0.01 * ((hash % 1000) as f64 / 500.0 - 1.0))
        });
        Response::of(&grid, 0.2, 0.35, Over::Even).unwrap()
    }

    #[test]
    fn streaks_are_counted_along_their_axis() {
        let response = plate(|i, j| {
            let across = j as f64 - 0.0262 * (i as f64 - 200.0);
            let near = [60.0, 95.0, 160.0, 170.0, 250.0]
                .iter()
                .map(|at| (-0.5 * ((across - at) / 2.0_f64).powi(2)).exp())
                .sum::<f64>();
            0.5 + 0.05 * near
        });
        let family = best(&response, true, Over::Even, None).unwrap();
        assert!((family.axis_deg - 178.5).abs() < 0.3, "{}", family.axis_deg);
        let more: Vec<&Line> = family.lines.iter().filter(|line| line.sign > 0.0).collect();
        assert!((4..=6).contains(&more.len()), "{}", more.len());
        assert!(family.stands_out() > 3.0);
        let strongest = more[0];
        assert!((strongest.contrast_d - 0.05).abs() < 0.015, "{strongest:?}");
        assert!((strongest.width_mm - 0.94).abs() < 0.3, "{strongest:?}");
        let level = best(&response, false, Over::Even, None).unwrap();
        let seen = level.lines.iter().filter(|line| line.contrast_d > 0.01);
        assert_eq!(seen.count(), 0);
    }

    #[test]
    fn a_wave_that_ends_on_the_plate_is_a_line_as_far_as_it_goes() {
        let part = |means: &[f32]| strongest_part(ArrayView1::from(means), 1.0);
        let (shown, agreement) =
            part(&[0.2, -0.3, 0.1, 3.4, 3.0, 2.5, 9.0, f32::NAN, 2.8, -0.4]).unwrap();
        assert_eq!(shown, 3..9);
        assert!((agreement - 14.3 / 5.0_f64.sqrt()).abs() < 1e-6);
        // Too short, too faint, and of the other sign.
        assert_eq!(part(&[0.2, -0.3, 3.0, 3.0, 3.0, -0.4, 0.1, 0.2]), None);
        assert_eq!(part(&[1.2, 1.3, 1.0, 1.4, 1.3, 1.4, 1.1, 1.2]), None);
        assert_eq!(part(&[-3.0; 6]), None);
    }

    #[test]
    fn an_even_plate_has_no_lines() {
        let response = plate(|_, _| 0.5);
        for upright in [true, false] {
            let family = best(&response, upright, Over::Even, None).unwrap();
            assert!(family.lines.len() <= 1, "{}", family.lines.len());
            assert!(family.stands_out() < 3.0);
        }
    }
}
