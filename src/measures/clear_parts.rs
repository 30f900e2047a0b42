//! Colour of the film from place to place: milky patches that are yellower or bluer than the rest.
//!
//! What it means: silver salt that the fixer left in the film sends light back cream or blue-white over black
//! support, and holds blue back by light from behind. It lies where the film is thick, so the plate itself
//! has places with more of it and with none.
//! Input: a squared-up plate in colour with its parts told apart; coated parts only.
//! Output: patches with their box (millimetres), area (square millimetres), how much yellower (positive) or
//! bluer (negative) than the plate's own tint at that light (CIELAB b*, D50), how much greener or redder (a*),
//! how much more silver they seem to hold than the film around them (density); and how much the plate's
//! colours scatter apart from them.
//! Method: means of 1 mm squares; the plate's tint as medians of red and blue over green, which warm silver,
//! varnish or japan share all over a plate; the difference of a* and b* from that tint at the same green light,
//! averaged over 3 by 3 squares; regions above a limit that follows the scatter.
//! Doubtful when: more than half of the plate is milky, since then the clear parts stand out; what is milky all
//! over does not show here at all. A plate toned, hand-coloured or aged unevenly scatters so much that little
//! can be told.

use crate::density::density;
use crate::plate::{Part, Plate};
use crate::raster::regions::label;
use crate::raster::stats::{median, median_and_sigma, quantile};
use crate::raster::{Grid, Mask};
use crate::scan::Scan;
use crate::units::lab_of_linear_srgb;

/// A patch of another colour than the plate's own tint.
#[derive(Debug, Clone, PartialEq)]
pub struct MilkyPatch {
    /// `[left, top, right, bottom]`, millimetres.
    pub box_mm: [f64; 4],
    /// Area, square millimetres.
    pub area_mm2: f64,
    /// Mean b* beyond that of the plate's tint: positive yellower, negative bluer.
    pub cast_b: f64,
    /// Mean a* beyond that of the plate's tint: positive redder, negative greener.
    pub cast_a: f64,
    /// Silver beyond that of the film around it, density: medians inside and 1 to 3 mm outside.
    pub excess_d: f64,
    /// Share of its squares that lie in the dark border.
    pub in_border: f64,
}

/// Colour of the film from place to place.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ClearParts {
    /// Patches, the largest first.
    pub patches: Vec<MilkyPatch>,
    /// Standard deviation of b* about that of the plate's tint, from the median deviation.
    pub scatter_b: f64,
    /// Distance in a* and b* from the plate's tint that one square in ten outside the patches exceeds.
    pub colourful: f64,
}

/// Side of a square, millimetres.
const SQUARE_MM: f64 = 1.0;
/// Light of a channel that counts at least, and from which on a square may be cut off at white.
const LEAST_LIGHT: f64 = 1e-4;
const NEAR_WHITE: f64 = 0.97;
/// Fewest squares that tell the usual colours of a plate: some 15 by 15 mm.
const FEWEST: usize = 200;
/// Difference of b* from which a square belongs to a patch, and as a multiple of the scatter.
const FROM_B: f64 = 1.0;
const FROM_SCATTER: f64 = 4.0;
/// Smallest patch, squares.
const LEAST_SQUARES: usize = 8;
/// How far the film around a patch is looked at, squares.
const AROUND: [usize; 2] = [1, 3];

/// Looks for patches of another colour; `None` for a grey scan. Too small a plate shows none.
pub fn measure(scan: &Scan, plate: &Plate) -> Option<ClearParts> {
    if scan.channels < 3 {
        return None;
    }
    let squares = Squares::of(plate);
    let known: Vec<usize> = (0..squares.light.len())
        .filter(|at| squares.known[*at])
        .collect();
    if known.len() < FEWEST {
        return Some(ClearParts::default());
    }
    Some(patches(plate.silver_sign(), &squares, &known))
}

/// Means of squares of the plate's picture, row by row.
struct Squares {
    rows: usize,
    columns: usize,
    pitch_mm: f64,
    light: Vec<[f64; 3]>,
    density_d: Vec<f64>,
    known: Vec<bool>,
    border: Vec<bool>,
}

impl Squares {
    fn of(plate: &Plate) -> Squares {
        let side = ((SQUARE_MM / plate.picture_pitch_mm).round() as usize).max(1);
        let pitch_mm = side as f64 * plate.picture_pitch_mm;
        let (rows, columns) = (plate.picture.nrows() / side, plate.picture.ncols() / side);
        let mut squares = Squares {
            rows,
            columns,
            pitch_mm,
            light: Vec::with_capacity(rows * columns),
            density_d: Vec::with_capacity(rows * columns),
            known: Vec::with_capacity(rows * columns),
            border: Vec::with_capacity(rows * columns),
        };
        for i in 0..rows {
            // Whole numbers, which no order of adding changes.
            let mut sums = vec![[0u64; 3]; columns];
            for row in i * side..(i + 1) * side {
                let row = plate.picture.row(row);
                for (sum, cells) in sums.iter_mut().zip(row.exact_chunks(side)) {
                    for rgb in cells {
                        (0..3).for_each(|k| sum[k] += u64::from(rgb[k]));
                    }
                }
            }
            let full = (side * side) as f64 * 65_535.0;
            for (j, sum) in sums.into_iter().enumerate() {
                let light = sum.map(|v| v as f64 / full);
                // Luminance of linear sRGB (IEC 61966-2-1).
                let y = 0.2126 * light[0] + 0.7152 * light[1] + 0.0722 * light[2];
                let [least, most] = parts_of(plate, [i, j], pitch_mm);
                squares.light.push(light);
                squares.density_d.push(density(y as f32));
                let whole = light.iter().all(|v| *v < NEAR_WHITE);
                squares.known.push(whole && least >= Part::Border);
                squares
                    .border
                    .push(least == Part::Border && most == Part::Border);
            }
        }
        squares
    }

    /// Squares beside one, itself among them, up to `reach` squares off.
    fn beside(&self, at: usize, reach: usize) -> impl Iterator<Item = usize> + '_ {
        let (i, j) = (at / self.columns, at % self.columns);
        let down = i.saturating_sub(reach)..(i + reach + 1).min(self.rows);
        down.flat_map(move |a| {
            let across = j.saturating_sub(reach)..(j + reach + 1).min(self.columns);
            across.map(move |b| a * self.columns + b)
        })
        .filter(|at| self.known[*at])
    }
}

/// The least and the greatest of the plate's parts that a square touches, at nine places of it.
fn parts_of(plate: &Plate, [i, j]: [usize; 2], pitch_mm: f64) -> [Part; 2] {
    let (rows, columns) = plate.parts.dim();
    let cell = |at: usize, step: usize, cells: usize| {
        let mm = (at as f64 + 0.5 * step as f64) * pitch_mm;
        ((mm / plate.pitch_mm) as usize).min(cells - 1)
    };
    let mut ends = [Part::Picture, Part::Outside];
    for step in 0..9 {
        let part = plate.parts[[cell(i, step / 3, rows), cell(j, step % 3, columns)]];
        ends = [ends[0].min(part), ends[1].max(part)];
    }
    ends
}

/// Natural logarithms of red and blue over green that half of the squares exceed: the tint of image, support
/// and varnish together.
fn tint(squares: &Squares, known: &[usize]) -> [f64; 2] {
    [0, 2].map(|k| {
        let ratio = |at: &usize| {
            let [other, green] = [squares.light[*at][k], squares.light[*at][1]];
            (other.max(LEAST_LIGHT) / green.max(LEAST_LIGHT)).ln()
        };
        let mut ratios: Vec<f64> = known.iter().map(ratio).collect();
        median(&mut ratios).unwrap_or(0.0)
    })
}

fn patches(silver_sign: f64, squares: &Squares, known: &[usize]) -> ClearParts {
    let [red, blue] = tint(squares, known).map(f64::exp);
    let casts = [1, 2].map(|k| {
        let mut single = vec![0.0; squares.light.len()];
        for at in known {
            let green = squares.light[*at][1];
            let usual = lab_of_linear_srgb([green * red, green, green * blue]);
            single[*at] = lab_of_linear_srgb(squares.light[*at])[k] - usual[k];
        }
        let mut smooth = vec![0.0; squares.light.len()];
        for at in known {
            let (sum, count) = squares.beside(*at, 1).fold((0.0, 0.0), |(sum, count), at| {
                (sum + single[at], count + 1.0)
            });
            smooth[*at] = sum / f64::max(count, 1.0);
        }
        (single, smooth)
    });
    let [(_, cast_a), (single_b, cast_b)] = &casts;
    let values: Vec<f64> = known.iter().map(|at| cast_b[*at]).collect();
    let scatter_b = median_and_sigma(&values).map_or(0.0, |(_, sigma)| sigma);
    let from_b = FROM_B.max(FROM_SCATTER * scatter_b);
    let mut patches = Vec::new();
    let mut in_patch = vec![false; squares.light.len()];
    for sign in [1.0, -1.0] {
        let mask = Mask::from_shape_fn((squares.rows, squares.columns), |(i, j)| {
            let at = i * squares.columns + j;
            squares.known[at] && sign * cast_b[at] > from_b
        });
        for members in regions(&label(&mask)) {
            if members.len() >= LEAST_SQUARES {
                members.iter().for_each(|at| in_patch[*at] = true);
                patches.push(patch(
                    silver_sign,
                    squares,
                    &members,
                    [cast_a, cast_b, single_b],
                ));
            }
        }
    }
    patches.sort_by(|a: &MilkyPatch, b| b.area_mm2.total_cmp(&a.area_mm2));
    let mut others: Vec<f64> = known
        .iter()
        .filter(|at| !in_patch[**at])
        .map(|at| cast_a[*at].hypot(cast_b[*at]))
        .collect();
    ClearParts {
        patches,
        scatter_b,
        colourful: quantile(&mut others, 0.9).unwrap_or(0.0),
    }
}

/// The cells of each region, counted row by row.
fn regions(labels: &Grid<u32>) -> Vec<Vec<usize>> {
    let most = labels.iter().copied().max().unwrap_or(0) as usize;
    let mut members = vec![Vec::new(); most];
    for (at, label) in labels.iter().enumerate() {
        if *label > 0 {
            members[*label as usize - 1].push(at);
        }
    }
    members
}

fn patch(
    silver_sign: f64,
    squares: &Squares,
    members: &[usize],
    [cast_a, cast_b, single_b]: [&[f64]; 3],
) -> MilkyPatch {
    let mean = |values: &[f64]| {
        members.iter().map(|at| values[*at]).sum::<f64>() / members.len().max(1) as f64
    };
    let mut inside = vec![false; squares.light.len()];
    members.iter().for_each(|at| inside[*at] = true);
    let [near, far] = AROUND;
    let mut ring = vec![false; squares.light.len()];
    for at in members {
        squares.beside(*at, far).for_each(|at| ring[at] = true);
    }
    for at in members {
        squares.beside(*at, near).for_each(|at| ring[at] = false);
    }
    let middle = |at: &dyn Fn(usize) -> bool| {
        let mut values: Vec<f64> = (0..ring.len())
            .filter(|k| at(*k))
            .map(|k| squares.density_d[k])
            .collect();
        median(&mut values)
    };
    let excess_d = middle(&|at| inside[at])
        .zip(middle(&|at| ring[at] && !inside[at]))
        .map_or(0.0, |(inside, around)| silver_sign * (inside - around));
    let mut corners = [usize::MAX, usize::MAX, 0, 0];
    for at in members {
        let (i, j) = (at / squares.columns, at % squares.columns);
        corners = [
            corners[0].min(j),
            corners[1].min(i),
            corners[2].max(j + 1),
            corners[3].max(i + 1),
        ];
    }
    // The average over 3 by 3 squares widens a patch by one all round.
    let whole_b = mean(cast_b);
    let half_b = 0.5 * whole_b.abs();
    let milky = members
        .iter()
        .filter(|at| whole_b.signum() * single_b[**at] > half_b)
        .count();
    let border = members.iter().filter(|at| squares.border[**at]).count();
    MilkyPatch {
        box_mm: corners.map(|cells| cells as f64 * squares.pitch_mm),
        area_mm2: milky as f64 * squares.pitch_mm.powi(2),
        cast_b: whole_b,
        cast_a: mean(cast_a),
        excess_d,
        in_border: border as f64 / members.len().max(1) as f64,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Squares of a plate of 30 by 30 mm whose light rises from left to right, `cast` times as blue in a patch.
    fn squares(cast: f64) -> Squares {
        let side = 30;
        let light = (0..side * side).map(|at| {
            let (i, j) = (at / side, at % side);
            let green = 0.02 + 0.4 * j as f64 / side as f64;
            let milky = (8..14).contains(&i) && (4..12).contains(&j);
            [
                1.06 * green,
                green,
                0.9 * green * if milky { cast } else { 1.0 },
            ]
        });
        Squares {
            rows: side,
            columns: side,
            pitch_mm: 1.0,
            light: light.collect(),
            density_d: vec![1.0; side * side],
            known: vec![true; side * side],
            border: vec![false; side * side],
        }
    }

    fn looked_at(cast: f64) -> ClearParts {
        let known: Vec<usize> = (0..900).collect();
        patches(-1.0, &squares(cast), &known)
    }

    #[test]
    fn a_patch_less_blue_than_the_tint_is_yellow_and_lies_where_it_lies() {
        let found = looked_at(0.8);
        let [patch] = &found.patches[..] else {
            panic!("{found:?}");
        };
        assert!(patch.cast_b > 2.0, "{patch:?}");
        assert!((patch.area_mm2 - 48.0).abs() < 16.0, "{patch:?}");
        let [x0, y0, x1, y1] = patch.box_mm;
        assert!((x0 - 4.0).abs() < 2.0 && (x1 - 12.0).abs() < 2.0);
        assert!((y0 - 8.0).abs() < 2.0 && (y1 - 14.0).abs() < 2.0);
        assert!(found.colourful < 0.5);
        assert!(looked_at(1.25).patches[0].cast_b < -2.0);
    }

    #[test]
    fn one_warm_tint_from_dark_to_light_is_no_patch() {
        let found = looked_at(1.0);
        assert!(
            found.patches.is_empty() && found.colourful < 1e-9,
            "{found:?}"
        );
    }
}
