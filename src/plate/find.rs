//! Finds the outlines of the plates in a scan.
//!
//! Three steps: what of the picture is surround (a smooth surface fitted to the picture's rim and
//! flooded inward), which regions remain and the smallest rectangle around each, and each side
//! placed again on the working grid by a robust line through its edge points.

use imageproc::geometry::min_area_rect;
use imageproc::point::Point as PixelPoint;

use super::PlateError;
use crate::doubts::Doubt;
use crate::raster::filter::average_down;
use crate::raster::geometry::{Point, distance, meet, sample};
use crate::raster::regions::{dilate, erode, label, reached_from_rim};
use crate::raster::stats::{median, median_and_sigma, robust_line, solve};
use crate::raster::{Grid, Mask};
use crate::scan::Scan;

/// Cells along the long side of the coarse picture that outlines are first looked for in. Our own
/// choice: a quarter plate on an A4 scan still spans more than 150 cells.
const COARSE_CELLS: usize = 480;

/// Darkest light that takes part in finding an outline; below it, noise rules. Our own choice.
const LIGHT_FLOOR: f32 = 0.003;

/// Regions smaller than this share of the picture are dust, labels or rulers. Our own choice.
const SMALLEST_SHARE: f64 = 0.02;

/// Share of the picture's rim that must fit one smooth surface before it counts as surround. Our own
/// choice; cropped scans in `tests/` would notice a change.
const RIM_SHARE: f64 = 0.55;

/// An outline in cells of the working grid (centres at .5).
#[derive(Debug, Clone)]
pub(super) struct Outline {
    /// Clockwise from the top left.
    pub corners: [Point; 4],
    /// False when the whole picture was taken.
    pub found: bool,
    /// Mean light of the surround, when there is one.
    pub surround_light: Option<f64>,
    /// What is doubtful about it.
    pub doubts: Vec<Doubt>,
}

impl Outline {
    fn whole(light: &Grid<f32>, doubt: Doubt) -> Self {
        let (rows, columns) = light.dim();
        let (w, h) = (columns as f64, rows as f64);
        Outline {
            corners: [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]],
            found: false,
            surround_light: None,
            doubts: vec![doubt],
        }
    }

    fn centre(&self) -> Point {
        let sum = |k: usize| self.corners.iter().map(|c| c[k]).sum::<f64>() / 4.0;
        [sum(0), sum(1)]
    }

    fn short_side(&self) -> f64 {
        distance(self.corners[0], self.corners[1]).min(distance(self.corners[1], self.corners[2]))
    }
}

/// The outlines of all plates in the picture, in reading order; the whole picture when none can be
/// told from its surround.
///
/// `misfit` says how far a rectangle of so many cells (width, height) is from any plate size that may
/// be expected, as a share of a side; `None` when nothing is expected.
pub(super) fn outlines(
    light: &Grid<f32>,
    misfit: &dyn Fn(f64, f64) -> Option<f64>,
) -> Vec<Outline> {
    let (rows, columns) = light.dim();
    let factor = rows.max(columns).div_ceil(COARSE_CELLS).max(1);
    let coarse = average_down(light, factor);
    let by_density = Surround::of(&coarse, &coarse.mapv(density), [0.025, 0.12]);
    let mut found = by_density.map_or(Vec::new(), |s| outlines_in(light, &s, factor, misfit));
    if found.is_empty() {
        // A blank plate on a dark lid can match its density to a hundredth; its grain differs.
        let grain = grain(light, factor);
        let by_grain = Surround::of(&coarse, &grain, [0.06, 0.3]);
        found = by_grain.map_or(Vec::new(), |s| outlines_in(light, &s, factor, misfit));
    }
    if found.is_empty() {
        return vec![Outline::whole(light, Doubt::PlateNotFound)];
    }
    in_reading_order(&mut found);
    found
}

fn outlines_in(
    light: &Grid<f32>,
    surround: &Surround,
    factor: usize,
    misfit: &dyn Fn(f64, f64) -> Option<f64>,
) -> Vec<Outline> {
    rectangles(&surround.foreground)
        .into_iter()
        .map(|corners| {
            let corners = corners.map(|[x, y]| [x * factor as f64, y * factor as f64]);
            place_sides(light, corners, surround.mean_light)
        })
        .filter(|outline| !is_inside_a_cropped_plate(light, outline, misfit))
        .collect()
}

/// Decimal logarithm of the mean relative difference between neighbouring cells, per coarse cell.
fn grain(light: &Grid<f32>, factor: usize) -> Grid<f64> {
    let (rows, columns) = light.dim();
    let differences = Grid::from_shape_fn((rows, columns), |(i, j)| {
        let next = light[[i, (j + 1).min(columns - 1)]];
        let here = light[[i, j]].max(LIGHT_FLOOR);
        ((next - here) / here).abs()
    });
    average_down(&differences, factor).mapv(|v| f64::from(v.max(1e-4)).log10())
}

fn density(light: f32) -> f64 {
    -f64::from(light.max(LIGHT_FLOOR)).log10()
}

/// The outline that the maker stated, in file pixels; refused when it is no quadrilateral within the
/// picture.
pub(super) fn stated(scan: &Scan, corners_px: [Point; 4]) -> Result<Outline, PlateError> {
    let (w, h) = (scan.width_px as f64, scan.height_px as f64);
    let inside = corners_px
        .iter()
        .all(|[x, y]| (-1.0..=w + 1.0).contains(x) && (-1.0..=h + 1.0).contains(y));
    let turns: Vec<f64> = (0..4)
        .map(|k| {
            let [a, b, c] = [
                corners_px[k],
                corners_px[(k + 1) % 4],
                corners_px[(k + 2) % 4],
            ];
            (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
        })
        .collect();
    // A convex quadrilateral turns the same way at each corner; 1 % of the picture is the least area.
    let convex = turns.iter().all(|t| *t > 0.0) || turns.iter().all(|t| *t < 0.0);
    let large = turns.iter().all(|t| t.abs() > 0.01 * w * h);
    if !(inside && convex && large) {
        return Err(PlateError::Corners {
            file: scan.file.clone(),
            width_px: scan.width_px,
            height_px: scan.height_px,
        });
    }
    let reduce = scan.reduce as f64;
    Ok(Outline {
        corners: clockwise_from_top_left(corners_px).map(|[x, y]| [x / reduce, y / reduce]),
        found: true,
        surround_light: None,
        doubts: Vec::new(),
    })
}

// ---------------------------------------------------------------- surround

/// What of the coarse picture is surround.
struct Surround {
    /// Everything that does not hang together with the rim at the surround's density.
    foreground: Mask,
    mean_light: f64,
}

impl Surround {
    /// Floods inward from the rim over cells whose `feature` goes on smoothly; `tolerance` bounds
    /// how far from smooth still counts. `None` when the rim is not of one piece (no surround is in
    /// the scan).
    fn of(coarse: &Grid<f32>, feature: &Grid<f64>, tolerance: [f64; 2]) -> Option<Self> {
        let (rows, columns) = coarse.dim();
        if rows < 24 || columns < 24 {
            return None;
        }
        let ring = (rows.min(columns) / 60).max(2);
        let in_ring =
            |i: usize, j: usize| i < ring || j < ring || i + ring >= rows || j + ring >= columns;
        let place = |i: usize, j: usize| {
            [
                2.0 * (j as f64 + 0.5) / columns as f64 - 1.0,
                2.0 * (i as f64 + 0.5) / rows as f64 - 1.0,
            ]
        };
        let samples: Vec<(Point, f64)> = feature
            .indexed_iter()
            .filter(|((i, j), _)| in_ring(*i, *j))
            .map(|((i, j), v)| (place(i, j), *v))
            .collect();
        let (surface, sigma) = smooth_surface(&samples)?;
        // Six sigma of the rim's own scatter, but never finer than a plate's faintest edge and never
        // so coarse that a clear negative would drown in a lit surround.
        let tolerance = (6.0 * sigma).clamp(tolerance[0], tolerance[1]);
        let fits = |p: Point, v: f64| (v - evaluate(&surface, p)).abs() <= tolerance;
        let share =
            samples.iter().filter(|(p, v)| fits(*p, *v)).count() as f64 / samples.len() as f64;
        if share < RIM_SHARE {
            return None;
        }
        let like_rim =
            Mask::from_shape_fn((rows, columns), |(i, j)| fits(place(i, j), feature[[i, j]]));
        let background = reached_from_rim(&like_rim);
        let (sum, count) = background
            .indexed_iter()
            .filter(|(_, set)| **set)
            .fold((0.0, 0usize), |(sum, n), (at, _)| {
                (sum + f64::from(coarse[at]), n + 1)
            });
        Some(Surround {
            foreground: background.mapv(|set| !set),
            mean_light: sum / count.max(1) as f64,
        })
    }
}

/// Terms of a quadratic surface in x and y.
fn terms([x, y]: Point) -> [f64; 6] {
    [1.0, x, y, x * x, x * y, y * y]
}

fn evaluate(surface: &[f64; 6], p: Point) -> f64 {
    terms(p).iter().zip(surface).map(|(t, c)| t * c).sum()
}

/// Quadratic surface through most of the samples (bisquare weights around a median start) and the
/// robust scatter about it.
fn smooth_surface(samples: &[(Point, f64)]) -> Option<([f64; 6], f64)> {
    let values: Vec<f64> = samples.iter().map(|(_, v)| *v).collect();
    let (centre, spread) = median_and_sigma(&values)?;
    let mut surface = [centre, 0.0, 0.0, 0.0, 0.0, 0.0];
    let mut sigma = spread.max(0.01);
    for _ in 0..12 {
        let mut a = vec![0.0; 36];
        let mut b = vec![0.0; 6];
        for (p, v) in samples {
            let u = (v - evaluate(&surface, *p)) / (4.685 * sigma);
            if u.abs() >= 1.0 {
                continue;
            }
            let weight = (1.0 - u * u).powi(2);
            let t = terms(*p);
            for row in 0..6 {
                for column in 0..6 {
                    a[row * 6 + column] += weight * t[row] * t[column];
                }
                b[row] += weight * t[row] * v;
            }
        }
        // A little weight on flatness keeps the fit tame where one side of the rim is missing.
        for k in 1..6 {
            a[k * 6 + k] += 1e-3 * samples.len() as f64;
        }
        let solved = solve(a, b)?;
        surface.copy_from_slice(&solved);
        let mut away: Vec<f64> = samples
            .iter()
            .map(|(p, v)| (v - evaluate(&surface, *p)).abs())
            .collect();
        sigma = (median(&mut away)? * crate::raster::stats::MAD_TO_SIGMA).max(0.002);
    }
    Some((surface, sigma))
}

// ---------------------------------------------------------------- regions and rectangles

/// Smallest rectangles around the large regions, corners clockwise from the top left, coarse cells.
fn rectangles(foreground: &Mask) -> Vec<[Point; 4]> {
    let (rows, columns) = foreground.dim();
    let smallest = (SMALLEST_SHARE * (rows * columns) as f64) as usize;
    // Shrinking cuts fibres that bridge two plates or a plate and the rim.
    let labels = label(&erode(foreground, 2));
    let highest = labels.iter().copied().max().unwrap_or(0);
    (1..=highest)
        .filter_map(|region| {
            let core = labels.mapv(|l| l == region);
            let size = core.iter().filter(|set| **set).count();
            if size < smallest {
                return None;
            }
            let whole = dilate(&core, 2);
            let hull: Vec<PixelPoint<i32>> = whole
                .indexed_iter()
                .filter(|((i, j), set)| **set && is_outline(&whole, *i, *j))
                .map(|((i, j), _)| PixelPoint::new(j as i32, i as i32))
                .collect();
            if hull.len() < 8 {
                return None;
            }
            let corners =
                min_area_rect(&hull).map(|p| [f64::from(p.x) + 0.5, f64::from(p.y) + 0.5]);
            Some(clockwise_from_top_left(corners))
        })
        .collect()
}

fn is_outline(mask: &Mask, i: usize, j: usize) -> bool {
    let (rows, columns) = mask.dim();
    i == 0
        || j == 0
        || i + 1 == rows
        || j + 1 == columns
        || !mask[[i - 1, j]]
        || !mask[[i + 1, j]]
        || !mask[[i, j - 1]]
        || !mask[[i, j + 1]]
}

/// Orders the corners of a quadrilateral clockwise as seen, the first nearest to the top left.
pub(super) fn clockwise_from_top_left(mut corners: [Point; 4]) -> [Point; 4] {
    let centre = [0, 1].map(|k| corners.iter().map(|c| c[k]).sum::<f64>() / 4.0);
    let angle = |p: &Point| (p[1] - centre[1]).atan2(p[0] - centre[0]);
    corners.sort_by(|a, b| angle(a).total_cmp(&angle(b)));
    let first = (0..4)
        .min_by(|&a, &b| {
            let sum = |k: usize| corners[k][0] + corners[k][1];
            sum(a).total_cmp(&sum(b))
        })
        .unwrap_or(0);
    corners.rotate_left(first);
    corners
}

fn in_reading_order(outlines: &mut [Outline]) {
    // Plates belong to one row when their centres differ by less than half a plate in height.
    let row_height = outlines
        .iter()
        .map(Outline::short_side)
        .fold(f64::INFINITY, f64::min)
        .max(1.0)
        * 0.5;
    outlines.sort_by(|a, b| a.centre()[1].total_cmp(&b.centre()[1]));
    let mut start = 0;
    while start < outlines.len() {
        let top = outlines[start].centre()[1];
        let end = outlines[start..]
            .iter()
            .position(|o| o.centre()[1] - top > row_height)
            .map_or(outlines.len(), |k| start + k);
        outlines[start..end].sort_by(|a, b| a.centre()[0].total_cmp(&b.centre()[0]));
        start = end;
    }
}

// ---------------------------------------------------------------- sides

/// How one side of the rectangle looks across.
struct Side {
    from: Point,
    to: Point,
    /// Unit vector out of the plate.
    out: Point,
    /// Strength of the step at each profile and offset, in multiples of its noise, capped.
    strength: Vec<Vec<f64>>,
    /// Offset of the first entry of a strength row, cells (negative is inside).
    first_offset: f64,
}

/// Profiles across a side.
const PROFILES: usize = 96;
/// Cells between two samples of a profile.
const STEP: f64 = 0.5;
/// Strength at which a step counts as certain; more does not count more, so that one scratch or the
/// edge of a bright shape cannot outvote the rest of the side.
const STRENGTH_CAP: f64 = 8.0;

impl Side {
    /// Profiles from `first` to `last` cells out of the line, each a mean over `2 * half_width + 1`
    /// cells along it.
    fn across(
        light: &Grid<f32>,
        from: Point,
        to: Point,
        out: Point,
        first: f64,
        last: f64,
        half_width: i32,
    ) -> Self {
        let along = [to[0] - from[0], to[1] - from[1]];
        let length = along[0].hypot(along[1]).max(1.0);
        let unit = [along[0] / length, along[1] / length];
        let samples = ((last - first) / STEP) as usize + 1;
        let mut steps: Vec<Vec<f64>> = Vec::with_capacity(PROFILES);
        for k in 0..PROFILES {
            let t = share_along(k);
            let base = [from[0] + t * along[0], from[1] + t * along[1]];
            let profile: Vec<f64> = (0..samples)
                .map(|s| {
                    let u = s as f64 * STEP + first;
                    let mean = (-half_width..=half_width)
                        .map(|v| {
                            let x = base[0] + u * out[0] + f64::from(v) * unit[0];
                            let y = base[1] + u * out[1] + f64::from(v) * unit[1];
                            sample(light, x, y)
                        })
                        .sum::<f32>()
                        / (2 * half_width + 1) as f32;
                    density(mean)
                })
                .collect();
            steps.push(step_across(&profile));
        }
        let mut all: Vec<f64> = steps.iter().flatten().map(|g| g.abs()).collect();
        let noise = (median(&mut all).unwrap_or(0.0) * 1.4826).max(0.004);
        let strength = steps
            .into_iter()
            .map(|row| {
                row.into_iter()
                    .map(|g| (g.abs() / noise).min(STRENGTH_CAP))
                    .collect()
            })
            .collect();
        Side {
            from,
            to,
            out,
            strength,
            first_offset: first,
        }
    }

    /// Mean strength along the line that leaves the side by `u0` at its start and `u1` at its end.
    fn score(&self, u0: f64, u1: f64) -> f64 {
        let mut sum = 0.0;
        for (k, row) in self.strength.iter().enumerate() {
            let t = share_along(k);
            let u = u0 + t * (u1 - u0);
            let at = ((u - self.first_offset) / STEP).round() as i64;
            let best = (at - 2..=at + 2)
                .filter_map(|s| usize::try_from(s).ok().and_then(|s| row.get(s)))
                .fold(0.0f64, |m, v| m.max(*v));
            sum += best;
        }
        sum / PROFILES as f64
    }

    /// The outermost line that is nearly as well marked as the best one: two points on it and how
    /// well it is marked (0 to [`STRENGTH_CAP`]).
    fn place(&self, slant: f64) -> ([Point; 2], f64) {
        let samples = self.strength.first().map_or(0, Vec::len);
        // A step is seen from two samples on either side, so every fourth sample misses none.
        let offsets: Vec<f64> = (0..samples)
            .step_by(4)
            .map(|s| s as f64 * STEP + self.first_offset)
            .collect();
        let mut lines: Vec<(f64, f64, f64)> = Vec::new();
        for &u0 in &offsets {
            for &u1 in &offsets {
                if (u1 - u0).abs() <= slant {
                    lines.push((self.score(u0, u1), u0, u1));
                }
            }
        }
        let best = lines.iter().map(|l| l.0).fold(0.0, f64::max);
        let (score, u0, u1) = lines
            .iter()
            .filter(|l| l.0 >= 0.7 * best)
            .max_by(|a, b| (a.1 + a.2).total_cmp(&(b.1 + b.2)))
            .copied()
            .unwrap_or((0.0, 0.0, 0.0));
        // From the outermost good line, climb to the nearest peak.
        let (mut score, mut u0, mut u1) = (score, u0, u1);
        loop {
            let better = [
                (-0.5, 0.0),
                (0.5, 0.0),
                (0.0, -0.5),
                (0.0, 0.5),
                (-0.5, -0.5),
                (0.5, 0.5),
            ]
            .into_iter()
            .map(|(a, b)| (self.score(u0 + a, u1 + b), u0 + a, u1 + b))
            .max_by(|a, b| a.0.total_cmp(&b.0));
            match better {
                Some(next) if next.0 > score + 1e-9 => (score, u0, u1) = next,
                _ => break,
            }
        }
        let points: Vec<(f64, f64)> = self
            .strength
            .iter()
            .enumerate()
            .filter_map(|(k, row)| {
                let t = share_along(k);
                let u = u0 + t * (u1 - u0);
                centroid(row, (u - self.first_offset) / STEP, 5)
                    .map(|s| (t, s * STEP + self.first_offset))
            })
            .collect();
        let (a, b) = match robust_line(&points) {
            Some((a, b, _)) if points.len() >= PROFILES / 4 => (a, b),
            _ => (u0, u1 - u0),
        };
        let point = |t: f64| {
            let u = a + b * t;
            [0, 1].map(|k| self.from[k] + t * (self.to[k] - self.from[k]) + u * self.out[k])
        };
        ([point(0.0), point(1.0)], score)
    }
}

/// Profiles keep away from the corners, which are often nicked or rounded.
fn share_along(k: usize) -> f64 {
    0.05 + 0.9 * (k as f64 + 0.5) / PROFILES as f64
}

/// Step at each sample: mean over two cells beyond minus mean over two cells before.
fn step_across(profile: &[f64]) -> Vec<f64> {
    let reach = (2.0 / STEP) as usize;
    (0..profile.len())
        .map(|s| {
            if s < reach || s + reach >= profile.len() {
                return 0.0;
            }
            let before: f64 = profile[s - reach..s].iter().sum();
            let beyond: f64 = profile[s + 1..=s + reach].iter().sum();
            (beyond - before) / reach as f64
        })
        .collect()
}

/// Strength-weighted centre near a sample; `None` where nothing stands out.
fn centroid(row: &[f64], at: f64, reach: i64) -> Option<f64> {
    let middle = at.round() as i64;
    let (mut weight, mut sum) = (0.0, 0.0);
    for s in middle - reach..=middle + reach {
        let Some(v) = usize::try_from(s).ok().and_then(|s| row.get(s)) else {
            continue;
        };
        // What is within the noise carries no weight.
        let w = (v - 3.0).max(0.0);
        weight += w;
        sum += w * s as f64;
    }
    (weight > 0.0).then(|| sum / weight)
}

/// Unit vector out of the quadrilateral across its side `k`.
fn outward(corners: &[Point; 4], k: usize) -> Point {
    let (from, to) = (corners[k], corners[(k + 1) % 4]);
    let along = [to[0] - from[0], to[1] - from[1]];
    let length = along[0].hypot(along[1]).max(1.0);
    let out = [along[1] / length, -along[0] / length];
    let inside = [0, 1].map(|k| corners.iter().map(|c| c[k]).sum::<f64>() / 4.0);
    let away = [
        (from[0] + to[0]) / 2.0 - inside[0],
        (from[1] + to[1]) / 2.0 - inside[1],
    ];
    if out[0] * away[0] + out[1] * away[1] < 0.0 {
        [-out[0], -out[1]]
    } else {
        out
    }
}

/// Corners where neighbouring sides meet; a corner stays where it was when they do not.
fn meet_all(lines: &[[Point; 2]; 4], corners: [Point; 4]) -> [Point; 4] {
    std::array::from_fn(|k| {
        let before = lines[(k + 3) % 4];
        meet(before[0], before[1], lines[k][0], lines[k][1]).unwrap_or(corners[k])
    })
}

/// Light below which a surround can be mistaken for the border that a holder kept dark (density
/// above 0.5; supports of positives are 1.2 and more).
const DARK_SURROUND: f64 = 0.3;

/// Share of the short side that a holder's ledge can take: 4.5 mm of a 50 mm plate.
const LEDGE_SHARE: f64 = 0.09;

/// On a dark lid the holder's dark border looks like the lid, and the strongest line is where the
/// picture begins. A fainter straight line further out, along the whole side, is the plate's edge.
fn fainter_line_outside(light: &Grid<f32>, corners: &[Point; 4], k: usize) -> Option<[Point; 2]> {
    let (from, to) = (corners[k], corners[(k + 1) % 4]);
    let short = distance(corners[0], corners[1]).min(distance(corners[1], corners[2]));
    let out = outward(corners, k);
    let (rows, columns) = light.dim();
    let room = [from, to]
        .iter()
        .map(|p| {
            let x = if out[0] > 0.5 {
                columns as f64 - p[0]
            } else if out[0] < -0.5 {
                p[0]
            } else {
                f64::INFINITY
            };
            let y = if out[1] > 0.5 {
                rows as f64 - p[1]
            } else if out[1] < -0.5 {
                p[1]
            } else {
                f64::INFINITY
            };
            x.min(y)
        })
        .fold(f64::INFINITY, f64::min);
    let first = 0.012 * short;
    let last = (LEDGE_SHARE * short).min(room - 3.0);
    if last - first < 12.0 {
        return None;
    }
    let side = Side::across(light, from, to, out, first, last, 9);
    let (line, score) = side.place(0.012 * short);
    (score > FAINT_LINE).then_some(line)
}

/// Mean strength, in multiples of the noise, from which a faint line outside is believed. Along a
/// side of pure noise the best of all lines scores about 1.7 (see the test of this file).
const FAINT_LINE: f64 = 2.6;

/// Places the four sides of a coarse rectangle on the working grid.
fn place_sides(light: &Grid<f32>, coarse: [Point; 4], surround_light: f64) -> Outline {
    let mut corners = coarse;
    let mut weakest = STRENGTH_CAP;
    let mut lines = [[[0.0; 2]; 2]; 4];
    let short = distance(coarse[0], coarse[1]).min(distance(coarse[1], coarse[2]));
    // First wide, since shadows and lips blur the coarse outline, then close.
    for reach in [
        (0.045 * short).clamp(8.0, 120.0),
        (0.006 * short).clamp(4.0, 12.0),
    ] {
        weakest = STRENGTH_CAP;
        for (k, line) in lines.iter_mut().enumerate() {
            let (from, to) = (corners[k], corners[(k + 1) % 4]);
            let side = Side::across(light, from, to, outward(&corners, k), -reach, reach, 2);
            let (placed, score) = side.place((0.5 * reach).max(6.0));
            *line = placed;
            weakest = weakest.min(score);
        }
        corners = meet_all(&lines, corners);
    }
    // On a light surround every part of a plate's edge stands out, and a shadow beside it could be
    // taken for an edge.
    if surround_light < DARK_SURROUND {
        for k in 0..4 {
            if let Some(line) = fainter_line_outside(light, &corners, k) {
                lines[k] = line;
                corners = meet_all(&lines, corners);
            }
        }
    }
    let mut doubts = Vec::new();
    // A side marked less than three times its noise on average: our own choice.
    if weakest < 3.0 {
        doubts.push(Doubt::OutlineUncertain);
    }
    Outline {
        corners,
        found: true,
        surround_light: Some(surround_light),
        doubts,
    }
}

// ---------------------------------------------------------------- cropped plates

/// True when the "plate" is only the picture area of a plate whose dark border fills the rim of a
/// cropped scan.
///
/// A plate's edge is as sharp as the scanner; the half shadow of a holder's ledge or a dark slide is
/// softer. And where a size is expected, the whole scan fits it while the rectangle does not.
fn is_inside_a_cropped_plate(
    light: &Grid<f32>,
    outline: &Outline,
    misfit: &dyn Fn(f64, f64) -> Option<f64>,
) -> bool {
    let (rows, columns) = light.dim();
    let c = &outline.corners;
    let margins = [
        c[0][1].max(c[1][1]),
        columns as f64 - c[1][0].min(c[2][0]),
        rows as f64 - c[2][1].min(c[3][1]),
        c[3][0].max(c[0][0]),
    ];
    let widest = margins.iter().copied().fold(0.0, f64::max);
    let narrow = widest <= LEDGE_SHARE * outline.short_side();
    let mut widths: Vec<f64> = (0..4)
        .filter_map(|k| step_width(light, c[k], c[(k + 1) % 4], outline.centre()))
        .collect();
    let soft = median(&mut widths).unwrap_or(0.0);
    if soft > SOFT_CELLS[1] || (narrow && soft > SOFT_CELLS[0]) {
        return true;
    }
    let whole = misfit(columns as f64, rows as f64);
    let inner = misfit(distance(c[0], c[1]), distance(c[1], c[2]));
    match (whole, inner) {
        (Some(whole), Some(inner)) if narrow => whole < 0.045 && inner > whole + 0.012,
        (Some(whole), Some(inner)) => whole < 0.045 && inner > 0.03 + 2.0 * whole,
        _ => false,
    }
}

/// Widths of a step in cells (see [`step_width`]) that are too soft for a plate's edge: when the
/// margins are as narrow as a ledge, and in any case. A scanner's blur of 0.8 cells gives 1.6; half
/// shadows of 0.2 to 0.5 mm give 4 to 10 at 600 cells an inch.
const SOFT_CELLS: [f64; 2] = [2.8, 4.5];

/// Cells that 80 % of the step across a side would take at its steepest slope, median along the side:
/// a shadow on the lid beside a plate widens the step but not its steepest part.
fn step_width(light: &Grid<f32>, from: Point, to: Point, centre: Point) -> Option<f64> {
    let along = [to[0] - from[0], to[1] - from[1]];
    let length = along[0].hypot(along[1]).max(1.0);
    let mut out = [along[1] / length, -along[0] / length];
    if out[0] * (from[0] - centre[0]) + out[1] * (from[1] - centre[1]) < 0.0 {
        out = [-out[0], -out[1]];
    }
    let mut widths: Vec<f64> = (0..PROFILES)
        .filter_map(|k| {
            let t = share_along(k);
            let profile: Vec<f64> = (-24..=24)
                .map(|s| {
                    let u = f64::from(s) * STEP;
                    let x = from[0] + t * along[0] + u * out[0];
                    let y = from[1] + t * along[1] + u * out[1];
                    f64::from(sample(light, x, y))
                })
                .collect();
            let inner = profile[..8].iter().sum::<f64>() / 8.0;
            let outer = profile[profile.len() - 8..].iter().sum::<f64>() / 8.0;
            if (inner - outer).abs() < 0.02 {
                return None;
            }
            let steepest = profile
                .windows(3)
                .map(|w| (w[2] - w[0]).abs() / (2.0 * STEP))
                .fold(0.0, f64::max);
            Some(0.8 * (inner - outer).abs() / steepest.max(1e-9))
        })
        .collect();
    median(&mut widths)
}
