//! What of the coarse picture is surround: a smooth surface through its rim, flooded inward.

use super::density;
use crate::raster::geometry::Point;
use crate::raster::regions::{dilate, erode, reached_from_rim};
use crate::raster::stats::{median, median_and_sigma, solve};
use crate::raster::{Grid, Mask};

/// Share of the picture's rim that must fit one smooth surface before it counts as surround. Our own
/// choice; cropped scans in `tests/` would notice a change.
const RIM_SHARE: f64 = 0.55;

/// Share of the rim from which the surround is all round the plate. What lies on the glass beside it
/// takes a little of the rim; a picture that goes on over the rim takes more. Our own choice; of the
/// practice plates with a margin none is below 0.99, of the cropped ones one in ten is above.
const CLEAN_RIM_SHARE: f64 = 0.97;

/// Light below which a surround can be mistaken for a plate without silver, or for the border that a
/// holder kept dark (density above 0.5; supports of positives are 1.2 and more).
pub(super) const DARK_SURROUND: f64 = 0.3;

/// Share of the picture that marks on a plate as dark as its lid may take. Our own choice.
const BARE_SHARE: f64 = 0.1;

/// Share of what stands out from the lid that lies beyond a plate: dust, fibres. Our own choice.
const BEYOND_SHARE: f64 = 0.03;

/// Width of a plate's shadow on the lid, share of its side. Our own choice: two millimetres of 70.
const SHADOW_SHARE: f64 = 0.03;

/// Half the width of the widest fibre, coarse cells: what is taken for a bridge between two plates.
pub(super) const FIBRE_CELLS: usize = 2;

/// What of the coarse picture is surround.
pub(super) struct Surround {
    /// Everything that does not hang together with the rim at the surround's density.
    pub(super) foreground: Mask,
    /// What is like the surround wherever it lies, on a plate too.
    like_it: Mask,
    pub(super) mean_light: f64,
    /// Share of the rim that goes on smoothly, 0 to 1.
    pub(super) share: f64,
}

impl Surround {
    /// Floods inward from the rim over cells whose density goes on smoothly. `None` when the rim is
    /// not of one piece (no surround is in the scan).
    pub(super) fn of(coarse: &Grid<f32>) -> Option<Self> {
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
        let d = coarse.mapv(density);
        let samples: Vec<(Point, f64)> = d
            .indexed_iter()
            .filter(|((i, j), _)| in_ring(*i, *j))
            .map(|((i, j), v)| (place(i, j), *v))
            .collect();
        let (surface, sigma) = smooth_surface(&samples)?;
        // Six sigma of the rim's own scatter, but never finer than a plate's faintest edge and never
        // so coarse that a clear negative would drown in a lit surround.
        let tolerance = (6.0 * sigma).clamp(0.025, 0.12);
        let fits = |p: Point, v: f64| (v - evaluate(&surface, p)).abs() <= tolerance;
        let share =
            samples.iter().filter(|(p, v)| fits(*p, *v)).count() as f64 / samples.len() as f64;
        if share < RIM_SHARE {
            return None;
        }
        let like_rim = Mask::from_shape_fn((rows, columns), |(i, j)| fits(place(i, j), d[[i, j]]));
        let background = reached_from_rim(&like_rim);
        let (sum, count) = background
            .indexed_iter()
            .filter(|(_, set)| **set)
            .fold((0.0, 0usize), |(sum, n), (at, _)| {
                (sum + f64::from(coarse[at]), n + 1)
            });
        Some(Surround {
            share,
            foreground: background.mapv(|set| !set),
            like_it: like_rim,
            mean_light: sum / count.max(1) as f64,
        })
    }

    /// The same flooded on across fibres. Those that lie on the glass in loops, or cross each other and a plate,
    /// shut off pieces of the surround that then seem to belong to the plate. Not done at first: a plate whose
    /// border is as narrow as a fibre would be flooded too.
    pub(super) fn across_fibres(&self) -> Surround {
        let joined = erode(&dilate(&self.like_it, FIBRE_CELLS), FIBRE_CELLS);
        Surround {
            foreground: reached_from_rim(&joined).mapv(|set| !set),
            like_it: joined,
            ..*self
        }
    }

    /// Whether the plates lie free, with surround all round them.
    pub(super) fn is_all_round(&self) -> bool {
        self.share >= CLEAN_RIM_SHARE
    }

    /// Whether nothing of size stands out from a dark lid: a plate may lie there that is as dark.
    pub(super) fn is_dark_all_over(&self) -> bool {
        let stands_out = self.foreground.iter().filter(|set| **set).count();
        self.is_all_round()
            && self.mean_light < DARK_SURROUND
            && stands_out as f64 <= BARE_SHARE * self.foreground.len() as f64
    }

    /// Whether something stands out, and hardly any of it beyond a rectangle whose corners go clockwise, coarse cells,
    /// and the shadow round it.
    pub(super) fn stands_out_within(&self, corners: [Point; 4]) -> bool {
        let middle = [0, 1].map(|k| corners.iter().map(|corner| corner[k]).sum::<f64>() / 4.0);
        let corners = corners.map(|corner| {
            [0, 1].map(|k| middle[k] + (1.0 + 2.0 * SHADOW_SHARE) * (corner[k] - middle[k]))
        });
        let inside = |[x, y]: Point| {
            (0..4).all(|k| {
                let ([x0, y0], [x1, y1]) = (corners[k], corners[(k + 1) % 4]);
                (x1 - x0) * (y - y0) >= (y1 - y0) * (x - x0)
            })
        };
        let stands_out = self.foreground.indexed_iter().filter(|(_, set)| **set);
        let (mut all, mut beyond) = (0usize, 0usize);
        for ((i, j), _) in stands_out {
            all += 1;
            beyond += usize::from(!inside([j as f64 + 0.5, i as f64 + 0.5]));
        }
        all > 0 && beyond as f64 <= BEYOND_SHARE * all as f64
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Light 0.8 with a dark plate over some rows and columns.
    fn scan(rows: std::ops::Range<usize>, columns: std::ops::Range<usize>) -> Grid<f32> {
        Grid::from_shape_fn((60, 60), |(i, j)| {
            let lid = 0.8 + 0.001 * j as f32;
            if rows.contains(&i) && columns.contains(&j) {
                0.1
            } else {
                lid
            }
        })
    }

    #[test]
    fn all_of_the_rim_is_surround_round_a_plate_that_lies_free() {
        let surround = Surround::of(&scan(10..50, 12..45)).unwrap();
        assert_eq!(surround.share, 1.0);
        assert!(surround.foreground[[30, 30]] && !surround.foreground[[5, 30]]);
    }

    #[test]
    fn what_stands_out_lies_within_a_plate_and_its_shadow_or_beyond() {
        let surround = Surround::of(&scan(10..50, 12..45)).unwrap();
        let round = |[left, top, right, bottom]: [f64; 4]| {
            let corners = [[left, top], [right, top], [right, bottom], [left, bottom]];
            surround.stands_out_within(corners)
        };
        assert!(round([12.0, 10.0, 45.0, 50.0]));
        // A cell too narrow is the shadow; a third of it is another plate.
        assert!(round([13.0, 11.0, 44.0, 49.0]));
        assert!(!round([12.0, 10.0, 34.0, 50.0]));
        let bare = Surround::of(&Grid::from_elem((60, 60), 0.1)).unwrap();
        assert!(!bare.stands_out_within([[10.0, 10.0], [50.0, 10.0], [50.0, 50.0], [10.0, 50.0]]));
    }

    #[test]
    fn a_loop_of_hair_beside_a_plate_is_surround() {
        let mut hairy = scan(10..40, 12..45);
        // From the plate down, along, and up to the plate again.
        for i in 40..52 {
            (hairy[[i, 15]], hairy[[i, 40]]) = (0.4, 0.4);
        }
        for j in 15..41 {
            hairy[[51, j]] = 0.4;
        }
        let surround = Surround::of(&hairy).unwrap();
        assert!(surround.foreground[[45, 30]], "the hair shuts it off");
        let across = surround.across_fibres();
        assert!(!across.foreground[[45, 30]] && across.foreground[[30, 30]]);
    }

    #[test]
    fn a_plate_that_reaches_the_rim_takes_its_share_of_it() {
        let surround = Surround::of(&scan(10..50, 12..60)).unwrap();
        assert!((0.75..0.9).contains(&surround.share), "{}", surround.share);
    }

    #[test]
    fn a_rim_of_many_pieces_is_no_surround() {
        let patches = Grid::from_shape_fn((60, 60), |(i, j)| {
            [0.9, 0.05, 0.3, 0.5][(i / 9 + 2 * (j / 7)) % 4]
        });
        assert!(Surround::of(&patches).is_none());
    }
}
