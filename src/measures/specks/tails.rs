//! Tails: mean silver along rays from a head, minus their flanks.

use super::{Field, Speck};
use crate::raster::Grid;
use crate::raster::filter::gaussian;
use crate::raster::geometry::{BetweenCells, between_directions_deg};
use crate::raster::stats::median_and_sigma;

/// Blur before rays are read, cells: about half a tail's width.
const BLUR_CELLS: f64 = 1.2;

/// Directions tried.
const DIRECTIONS: usize = 72;

/// From one of them to the next, degrees.
pub const STEP_DEG: f64 = 360.0 / DIRECTIONS as f64;

/// Directions to either side of the opposite one that count as behind the head.
const BEHIND: usize = 2;

/// Lengths tried, millimetres.
const LENGTHS_MM: [f64; 7] = [1.0, 1.6, 2.5, 4.0, 6.3, 10.0, 16.0];

/// A ray counts when it stands out by so many robust standard deviations of all directions round the
/// head: the largest of 72 x 7 normal values seldom exceeds 4, and scenes have heavier tails.
const STANDS_OUT: f64 = 5.0;

/// Least standard deviation of the directions, density: no scan is evener.
const LEAST_SIGMA_D: f64 = 0.0015;

/// Share of the head's contrast that a tail must have, and least density.
const LEAST_SHARE: f64 = 0.06;
/// See [`LEAST_SHARE`].
const LEAST_D: f64 = 0.008;

/// How far off directions lie that are another's than the tail's, and how far those about it may, degrees. Our own
/// choice.
const RIVAL_OFF_DEG: f64 = 25.0;
/// See [`RIVAL_OFF_DEG`].
const ABOUT_DEG: f64 = 15.0;

/// Share of a tail's points that must stand above their flanks.
const UNBROKEN: f64 = 0.85;

/// A tail.
#[derive(Debug, Clone, PartialEq)]
pub struct Tail {
    /// From head to tail, degrees.
    pub direction_deg: f64,
    /// Length over which it stands out most, millimetres.
    pub plain_mm: f64,
    /// How far it can be followed from the head's rim, millimetres; at least `plain_mm`. A tail that fades to
    /// nothing shows over six tenths of its length (median of 1,077 planted ones, development seeds 750416 on).
    pub length_mm: f64,
    /// Mean difference from its flanks over the plain part, density, in the head's own sign.
    pub mean_d: f64,
    /// How far it stands out among all directions, robust standard deviations.
    pub stands_out: f64,
    /// How far the strongest of the directions elsewhere does, robust standard deviations; 0 where none does.
    pub rival: f64,
    /// Over how many degrees directions about it stand out at least half as far.
    pub breadth_deg: f64,
}

/// What stands out along one direction from a head, whether it makes a tail by itself or not.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Ray {
    /// How far it stands out among all directions, robust standard deviations; 0 where nothing runs that way.
    pub stands_out: f32,
    /// Length over which it does, millimetres.
    pub plain_mm: f32,
    /// Mean difference from its flanks over that length, density, in the head's own sign.
    pub mean_d: f32,
}

impl Ray {
    /// The ray of the k-th direction as a tail.
    pub fn as_tail(self, k: usize) -> Tail {
        let plain_mm = f64::from(self.plain_mm);
        Tail {
            direction_deg: k as f64 * STEP_DEG,
            plain_mm,
            length_mm: plain_mm,
            mean_d: f64::from(self.mean_d),
            stands_out: f64::from(self.stands_out),
            rival: 0.0,
            breadth_deg: 0.0,
        }
    }
}

/// The silver as rays read it.
pub(super) fn smooth(silver: &Grid<f32>) -> Grid<f32> {
    gaussian(silver, BLUR_CELLS)
}

/// The tail of a mark, if one direction stands out and the opposite one does not, and what stands out along
/// every direction; no directions where the head lies too near the edge.
pub(super) fn follow(
    smooth: &Grid<f32>,
    field: &Field,
    pitch_mm: f64,
    speck: &Speck,
) -> (Option<Tail>, Vec<Ray>) {
    let sign = speck.contrast_d.signum();
    let start_mm = 0.6 * speck.size_mm + 0.12;
    let flank_mm = (0.9 * speck.size_mm).max(0.25);
    let step_mm = 0.1;
    let [cx, cy] = speck.centre_mm;
    let surface = BetweenCells::of(smooth);
    let cells_per_mm = 1.0 / pitch_mm;
    let value = |x: f64, y: f64| f64::from(surface.at(x * cells_per_mm, y * cells_per_mm));
    let on_field = |x: f64, y: f64| {
        let cell = |at: f64| (at * cells_per_mm).max(0.0) as usize;
        field.holds(cell(y), cell(x))
    };
    // Running mean of the difference from both flanks, direction by direction. A scene's edge has one
    // flank as strong as the ray, so the nearer flank counts.
    let rays: Vec<Vec<Option<f64>>> = (0..DIRECTIONS)
        .map(|k| {
            let angle = k as f64 * std::f64::consts::TAU / DIRECTIONS as f64;
            let (dx, dy) = (angle.sin(), -angle.cos());
            let (mut sums, mut n, mut above) = ([0.0; 2], 0.0, 0.0);
            let mut at_length = Vec::with_capacity(LENGTHS_MM.len());
            let mut along = start_mm;
            let mut lost = false;
            for length in LENGTHS_MM {
                while along < start_mm + length && !lost {
                    let (x, y) = (cx + along * dx, cy + along * dy);
                    lost = !on_field(x, y);
                    let ray = value(x, y);
                    let both = [flank_mm, -flank_mm]
                        .map(|side| sign * (ray - value(x - side * dy, y + side * dx)));
                    sums = [sums[0] + both[0], sums[1] + both[1]];
                    above += f64::from(u8::from(both[0] + both[1] > 0.0));
                    n += 1.0;
                    along += step_mm;
                }
                // A few strong places on the way are other marks, not a tail.
                let share = if above >= UNBROKEN * n { 1.0 } else { 0.0 };
                at_length.push((!lost && n > 0.0).then(|| share * sums[0].min(sums[1]) / n));
            }
            at_length
        })
        .collect();
    let mut best: Option<Tail> = None;
    let mut strongest: Vec<Ray> = Vec::new();
    for (l, length_mm) in LENGTHS_MM.into_iter().enumerate() {
        let known: Vec<f64> = rays.iter().filter_map(|ray| ray[l]).collect();
        if known.len() < DIRECTIONS / 2 {
            break;
        }
        let Some((centre, sigma)) = median_and_sigma(&known) else {
            break;
        };
        let sigma = sigma.max(LEAST_SIGMA_D);
        strongest.resize(DIRECTIONS, Ray::default());
        for (k, ray) in rays.iter().enumerate() {
            let Some(mean_d) = ray[l] else { continue };
            // A line goes on behind the head, if not quite straight.
            let opposite = (0..=2 * BEHIND)
                .filter_map(|turn| rays[(k + DIRECTIONS / 2 + turn - BEHIND) % DIRECTIONS][l])
                .fold(0.0, f64::max);
            let stands_out = (mean_d - centre.max(0.0)) / sigma;
            let strong = mean_d >= LEAST_D.max(LEAST_SHARE * speck.contrast_d.abs());
            if !strong || opposite >= 0.5 * mean_d {
                continue;
            }
            if stands_out > f64::from(strongest[k].stands_out) {
                strongest[k] = Ray {
                    stands_out: stands_out as f32,
                    plain_mm: length_mm as f32,
                    mean_d: mean_d as f32,
                };
            }
            if stands_out >= STANDS_OUT && best.as_ref().is_none_or(|b| stands_out > b.stands_out) {
                best = Some(Tail {
                    direction_deg: finer(&rays, l, k),
                    plain_mm: length_mm,
                    length_mm,
                    mean_d,
                    stands_out,
                    rival: 0.0,
                    breadth_deg: 0.0,
                });
            }
        }
    }
    let Some(mut best) = best else {
        return (None, strongest);
    };
    let over_flanks = |x: f64, y: f64, (dx, dy): (f64, f64)| {
        let flank = |side: f64| value(x - side * dy, y + side * dx);
        let ray = value(x, y);
        let both = [flank_mm, -flank_mm].map(|side| sign * (ray - flank(side)));
        on_field(x, y).then(|| both[0].min(both[1]))
    };
    let off = |k: usize| between_directions_deg(k as f64 * STEP_DEG, best.direction_deg);
    let elsewhere = (0..DIRECTIONS).filter(|k| off(*k) > RIVAL_OFF_DEG);
    let rival = elsewhere.map(|k| f64::from(strongest[k].stands_out));
    let half = 0.5 * best.stands_out;
    let about = (0..DIRECTIONS)
        .filter(|k| off(*k) <= ABOUT_DEG && f64::from(strongest[*k].stands_out) > half);
    (best.rival, best.breadth_deg) = (rival.fold(0.0, f64::max), about.count() as f64 * STEP_DEG);
    best.length_mm = reach(&best, [cx, cy], start_mm, over_flanks).max(best.plain_mm);
    (Some(best), strongest)
}

/// Steps in which a tail is followed beyond its plain part, millimetres, and how far.
const STEP_MM: f64 = 0.5;
/// See [`STEP_MM`].
const FARTHEST_MM: f64 = 30.0;
/// How much a tail may bend at a step, degrees.
const BEND_DEG: [f64; 5] = [0.0, -3.0, 3.0, -6.0, 6.0];
/// A tail ends where a step has less than this share of its plain part's mean, and less than [`LEAST_D`]. Our
/// own choice: the planted ones fade evenly to nothing.
const ENDS_AT: f64 = 0.2;

/// How far a tail can be followed from where its rays start, millimetres, step by step and bending a little
/// with it. `over_flanks` is the difference at a place from the nearer of both flanks, across a direction;
/// `None` off the field.
fn reach(
    tail: &Tail,
    [cx, cy]: [f64; 2],
    start_mm: f64,
    over_flanks: impl Fn(f64, f64, (f64, f64)) -> Option<f64>,
) -> f64 {
    let toward = |deg: f64| {
        let (sin, cos) = deg.to_radians().sin_cos();
        (sin, -cos)
    };
    let least_d = (ENDS_AT * tail.mean_d).max(LEAST_D);
    let mut deg = tail.direction_deg;
    let (dx, dy) = toward(deg);
    let mut at = [cx + start_mm * dx, cy + start_mm * dy];
    let mut length_mm = 0.0;
    while length_mm < FARTHEST_MM {
        let steps = BEND_DEG.iter().filter_map(|bend| {
            let along = toward(deg + bend);
            let points = (1..=5).map(|k| {
                let away = STEP_MM * f64::from(k) / 5.0;
                over_flanks(at[0] + away * along.0, at[1] + away * along.1, along)
            });
            let sum = points.sum::<Option<f64>>()?;
            Some((sum / 5.0, deg + bend))
        });
        let Some((mean_d, bent)) = steps.max_by(|a, b| a.0.total_cmp(&b.0)) else {
            break;
        };
        if mean_d < least_d {
            break;
        }
        // Bends only as far as it has to: noise would lead it astray.
        deg = tail.direction_deg + (bent - tail.direction_deg).clamp(-12.0, 12.0);
        let (dx, dy) = toward(deg);
        at = [at[0] + STEP_MM * dx, at[1] + STEP_MM * dy];
        length_mm += STEP_MM;
    }
    length_mm
}

/// Direction between the steps, by the parabola through three neighbours.
fn finer(rays: &[Vec<Option<f64>>], l: usize, k: usize) -> f64 {
    let at = |k: usize| rays[k % DIRECTIONS][l];
    let shift = match (at(k + DIRECTIONS - 1), at(k), at(k + 1)) {
        (Some(a), Some(b), Some(c)) if 2.0 * b - a - c > 1e-9 => {
            (0.5 * (c - a) / (2.0 * b - a - c)).clamp(-0.5, 0.5)
        }
        _ => 0.0,
    };
    ((k as f64 + shift) * STEP_DEG).rem_euclid(360.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measures::specks::Nature;

    #[test]
    fn a_tail_is_followed_and_a_line_is_not() {
        let picture = |both: bool| {
            Grid::from_shape_fn((500, 500), |(i, j)| {
                let (x, y) = (j as f32 - 250.0, i as f32 - 250.0);
                let noise = 0.01 * (((i * 7919 + j * 104_729) % 97) as f32 / 48.0 - 1.0);
                let along = if both { x.abs() } else { x };
                let tail = y.abs() < 2.0 && along > 0.0 && along < 60.0;
                let head = x.hypot(y) < 3.0;
                noise + if head { 0.3 } else { 0.0 } + if tail { 0.1 } else { 0.0 }
            })
        };
        let speck = Speck {
            centre_mm: [250.5 * 0.0423, 250.5 * 0.0423],
            size_mm: 0.25,
            size_cells: 6.0,
            contrast_d: 0.3,
            elongation: 1.0,
            steepness: 1.0,
            light: 0.1,
            expected_false_alarms: 1e-6,
            tail: None,
            rays: Vec::new(),
            nature: Nature::Unsure,
        };
        let field = Field::all((500, 500));
        let (tail, rays) = follow(&smooth(&picture(false)), &field, 0.0423, &speck);
        let tail = tail.unwrap();
        let strongest =
            (0..rays.len()).max_by(|&a, &b| rays[a].stands_out.total_cmp(&rays[b].stands_out));
        assert_eq!(strongest, Some((90.0 / STEP_DEG) as usize));
        assert!(
            (tail.direction_deg - 90.0).abs() < 3.0,
            "{}",
            tail.direction_deg
        );
        // It is painted 60 cells long.
        let long_mm = 60.0 * 0.0423;
        assert!((tail.length_mm - long_mm).abs() < 0.6, "{}", tail.length_mm);
        let (tail, _) = follow(&smooth(&picture(true)), &field, 0.0423, &speck);
        assert_eq!(tail, None);
    }
}
