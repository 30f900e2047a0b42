//! Bands of a picture that run on into the dark border.
//!
//! What it means: the scene's light never reached what the holder's ledge covered, so that boards and blinds end
//! there; what the bath, the holder or the developer laid on the plate runs on.
//! Input: silver of the border in cells, and the agreement of the picture's lines at their best run.
//! Output: how far the border's profile across the bands is likelier to be theirs where it lies than moved aside,
//! in standard deviations of the latter, which hold whatever border and scene are like.
//! Doubtful when: the bands have less silver than what lies beside them; a border has none to lack.

use std::ops::RangeInclusive;

use ndarray::{Array1, ArrayView2, Axis, Slice};

use super::border::Border;
use super::response::SURROUND;
use super::tilted::Run;
use crate::plate::{Edge, Ledge};
use crate::raster::Grid;
use crate::raster::filter::gaussian_over;
use crate::raster::stats::median_and_sigma;

// What follows is our own choice; the table of shapes (`practice accuracy --about shapes`) would notice a change.

/// Least depth of a border, millimetres.
const LEAST_MM: f64 = 0.6;
/// Share of a border's depth that must be known.
const KNOWN_SHARE: f32 = 0.7;
/// Least scatter that is believed, density: an 8-bit file has steps of that size in the dark.
const LEAST_SCATTER_D: f64 = 0.002;
/// Most that a place counts, standard deviations: a speck must not outweigh the rest.
const MOST: f32 = 3.0;
/// Bands stray by so much between picture and border, millimetres.
const STRAY_MM: f64 = 0.6;
/// Moved aside by so much and more, and by so large a share of the plate and less, nothing lies where it belongs.
const ASIDE_MM: f64 = 3.0;
/// See [`ASIDE_MM`].
const ASIDE_SHARE: f64 = 0.4;
/// Fewest places that a likeness is told by.
const FEWEST: usize = 40;

/// What the border says of a picture's bands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InBorder {
    /// How far its likeness to them stands out where they run into it, standard deviations of what it is elsewhere.
    pub stands_out: f64,
    /// The same without the band that speaks for it most: one line of the dip runs on too.
    pub without_strongest: f64,
    /// The silver that it shows for each density across them.
    pub share: f64,
}

/// Silver of the borders at both ends of upright or level bands, laid so that the bands are upright.
pub(in crate::measures) struct Ends {
    /// Top and bottom, or left and right.
    strips: [Option<Strip>; 2],
    pitch_mm: f64,
}

/// Silver of one border.
struct Strip {
    /// Its first row of the grid.
    first: usize,
    /// NaN where it is no border.
    silver: Grid<f32>,
}

/// The run of the picture's lines, and their agreement by stretches.
pub(super) struct Lines<'a> {
    pub(super) run: Run,
    /// `[[stretch, line]]`, NaN where unknown.
    pub(super) stretches: ArrayView2<'a, f32>,
    /// Silver of the same stretches, density.
    pub(super) silver: ArrayView2<'a, f32>,
    /// Lines left of the grid's first column.
    pub(super) pad: usize,
    /// Standard deviation of the bands' core, cells.
    pub(super) core: f64,
    /// Rows of the grid.
    pub(super) rows: usize,
}

impl Ends {
    /// The borders that upright (or level) bands run into, in cells of so many rows and columns; `silver` tells that
    /// of a cell of the border, density.
    pub(in crate::measures) fn of(
        ledge: &Ledge,
        shape: (usize, usize),
        silver: impl Fn([usize; 2]) -> Option<f64>,
        pitch_mm: f64,
        upright: bool,
    ) -> Ends {
        let edges = match upright {
            true => [Edge::Top, Edge::Bottom],
            false => [Edge::Left, Edge::Right],
        };
        Ends {
            strips: edges.map(|edge| Strip::of(ledge, shape, &silver, pitch_mm, edge)),
            pitch_mm,
        }
    }

    /// What both borders, or one of them, say of the lines; `None` without a border.
    pub(super) fn run_on(&self, lines: &Lines) -> Option<InBorder> {
        let half = lines.stretches.nrows().div_ceil(2) as isize;
        let of_end = |strip: &Option<Strip>, near: Slice| {
            let border = strip.as_ref()?.rises(lines)?;
            let [picture, silver] =
                [lines.stretches, lines.silver].map(|all| means(all.slice_axis(Axis(0), near)));
            let silver = rises(&silver, lines.core);
            self.likeness(&picture, &silver, &border, lines.core)
        };
        let first = of_end(&self.strips[0], Slice::from(0..half));
        let last = of_end(&self.strips[1], Slice::from(-half..));
        let (Some(first), Some(last)) = (first, last) else {
            return first.or(last);
        };
        let both = InBorder {
            stands_out: std::f64::consts::FRAC_1_SQRT_2 * (first.stands_out + last.stands_out),
            without_strongest: std::f64::consts::FRAC_1_SQRT_2
                * (first.without_strongest + last.without_strongest),
            share: 0.5 * (first.share + last.share),
        };
        [both, first, last]
            .into_iter()
            .max_by(|a, b| a.stands_out.total_cmp(&b.stands_out))
    }

    /// Likeness of two profiles where they lie, against what it is with one moved aside; and the share of the silver
    /// across the lines that the border shows.
    fn likeness(
        &self,
        picture: &[f32],
        silver: &[f32],
        border: &[f32],
        core: f64,
    ) -> Option<InBorder> {
        let response = over_scatter(border)?;
        let cells = |mm: f64| (mm / self.pitch_mm).round() as isize;
        let most = (ASIDE_SHARE * picture.len() as f64) as isize;
        let at = |lags: RangeInclusive<isize>| {
            lags.filter_map(|lag| Some((correlation(picture, &response, lag)?, lag)))
        };
        let stray = cells(STRAY_MM);
        let (here, lag) = at(-stray..=stray).max_by(|a, b| a.0.total_cmp(&b.0))?;
        let aside = at(-most..=-cells(ASIDE_MM)).chain(at(cells(ASIDE_MM)..=most));
        let aside: Vec<f64> = aside.map(|(likeness, _)| likeness).collect();
        if aside.len() < FEWEST {
            return None;
        }
        let (usual, sigma) = median_and_sigma(&aside)?;
        let products = paired(silver, border, lag)
            .fold([0.0; 2], |[both, own], (a, b)| [both + a * b, own + a * a]);
        let others = without_strongest(picture, &response, lag, core);
        let without_strongest = correlation(&others, &response, lag).unwrap_or(usual);
        (sigma > 0.0).then(|| InBorder {
            stands_out: (here - usual) / sigma,
            without_strongest: (without_strongest - usual) / sigma,
            share: products[0] / products[1].max(f64::MIN_POSITIVE),
        })
    }
}

/// Mean of the known stretches of each line.
fn means(stretches: ArrayView2<f32>) -> Vec<f32> {
    let of_line = |line: ndarray::ArrayView1<f32>| {
        let known = line.iter().filter(|mean| mean.is_finite());
        let count = known.clone().count();
        let sum: f32 = known.map(|mean| mean.clamp(-MOST, MOST)).sum();
        if 2 * count > line.len() {
            sum / count as f32
        } else {
            f32::NAN
        }
    };
    stretches.columns().into_iter().map(of_line).collect()
}

/// Values of two profiles that lie on each other when the second is moved by so many cells, where both are known.
fn paired(picture: &[f32], border: &[f32], lag: isize) -> impl Iterator<Item = (f64, f64)> {
    let [skip, skip_border] = [(-lag).max(0), lag.max(0)].map(|cells| cells as usize);
    let pairs = picture
        .iter()
        .skip(skip)
        .zip(border.iter().skip(skip_border));
    pairs
        .filter(|(a, b)| a.is_finite() && b.is_finite())
        .map(|(a, b)| (f64::from(*a), f64::from(*b)))
}

/// The picture's profile without the band whose rise in both says most, when the second is moved by so many cells.
fn without_strongest(picture: &[f32], border: &[f32], lag: isize, core: f64) -> Vec<f32> {
    let half = (2.0 * SURROUND * core).ceil() as usize;
    let product = |k: usize| {
        let other = k.checked_add_signed(lag).and_then(|at| border.get(at));
        let product = other.map_or(0.0, |other| picture[k] * other);
        if product.is_finite() { product } else { 0.0 }
    };
    let around = |k: usize| k.saturating_sub(half)..(k + half + 1).min(picture.len());
    let speaks = |k: usize| around(k).map(product).sum::<f32>();
    let strongest = (0..picture.len()).max_by(|a, b| speaks(*a).total_cmp(&speaks(*b)));
    let mut others = picture.to_vec();
    if let Some(strongest) = strongest {
        others[around(strongest)].fill(f32::NAN);
    }
    others
}

/// Correlation without means of two profiles, the second moved by so many cells.
fn correlation(picture: &[f32], border: &[f32], lag: isize) -> Option<f64> {
    let (mut both, mut own, mut other, mut count) = (0.0, 0.0, 0.0, 0);
    for (a, b) in paired(picture, border, lag) {
        both += a * b;
        own += a * a;
        other += b * b;
        count += 1;
    }
    (count >= FEWEST && own * other > 0.0).then(|| both / (own * other).sqrt())
}

/// A profile less its surroundings; NaN where unknown.
fn rises(profile: &[f32], core: f64) -> Vec<f32> {
    let known = |value: &f32| f32::from(u8::from(value.is_finite()));
    let weights = Array1::from_iter(profile.iter().map(known)).insert_axis(Axis(0));
    let values = profile
        .iter()
        .map(|value| if value.is_finite() { *value } else { 0.0 });
    let values = Array1::from_iter(values).insert_axis(Axis(0));
    let blurred = |sigma: f64| gaussian_over(&values, &weights, sigma);
    let rises = blurred(core) - blurred(SURROUND * core);
    let of = |(rise, known): (&f32, &f32)| if *known > 0.0 { *rise } else { f32::NAN };
    rises.iter().zip(&weights).map(of).collect()
}

/// A profile over its scatter, so that no place outweighs the rest.
fn over_scatter(profile: &[f32]) -> Option<Vec<f32>> {
    let known: Vec<f32> = profile.iter().copied().filter(|d| d.is_finite()).collect();
    let scatter_d = median_and_sigma(&known)?.1.max(LEAST_SCATTER_D) as f32;
    let over = |d: &f32| (d / scatter_d).clamp(-MOST, MOST);
    Some(profile.iter().map(over).collect())
}

impl Strip {
    fn of(
        ledge: &Ledge,
        shape: (usize, usize),
        silver: impl Fn([usize; 2]) -> Option<f64>,
        pitch_mm: f64,
        edge: Edge,
    ) -> Option<Strip> {
        let is_border = |at| silver(at).is_some();
        let border = Border::of(ledge, shape, is_border, pitch_mm, edge)?;
        if (border.depths.len() as f64) < LEAST_MM / pitch_mm {
            return None;
        }
        let depths = border.in_order();
        let strip = Grid::from_shape_fn((depths.len(), border.along), |(row, k)| {
            match (silver(border.cell(depths[row], k)), silver(border.past(k))) {
                (Some(silver), None) => silver as f32,
                _ => f32::NAN,
            }
        });
        Some(Strip {
            first: border.first(),
            silver: strip,
        })
    }

    /// Silver less its surroundings along the border, line by line; NaN where unknown.
    fn rises(&self, lines: &Lines) -> Option<Vec<f32>> {
        let count = lines.stretches.ncols();
        let half_rows = 0.5 * lines.rows as f64;
        let mut sums = vec![(0.0f32, 0.0f32); count];
        for (row, silver) in self.silver.rows().into_iter().enumerate() {
            let below_middle = (self.first + row) as f64 - half_rows;
            let shift = lines.run.shift(below_middle, half_rows).round() as isize;
            for (column, silver) in silver.iter().enumerate().filter(|(_, d)| d.is_finite()) {
                let line = column as isize + lines.pad as isize - shift;
                let sum = usize::try_from(line)
                    .ok()
                    .and_then(|line| sums.get_mut(line));
                if let Some((sum, known)) = sum {
                    *sum += silver;
                    *known += 1.0;
                }
            }
        }
        let least = KNOWN_SHARE * self.silver.nrows() as f32;
        let mean = |(sum, known): (f32, f32)| {
            if known >= least {
                sum / known
            } else {
                f32::NAN
            }
        };
        let means: Vec<f32> = sums.into_iter().map(mean).collect();
        Some(rises(&means, lines.core))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measures::bands::response::Response;
    use crate::measures::bands::{Over, family};

    /// Noise by place, well mixed (splitmix64's last steps), -0.5 to 0.5.
    fn noise(place: u64) -> f64 {
        let mut hash = place.wrapping_add(0x9e37_79b9_7f4a_7c15);
        hash = (hash ^ (hash >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        hash = (hash ^ (hash >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (hash >> 40) as f64 / 16_777_216.0 - 0.5
    }

    /// A plate of 60 by 70 mm in cells of 0.2 mm with a border of 3 mm: so many uneven upright bands over a scene of
    /// squares, of which the border shows a share.
    fn seen(count: usize, in_border: f64) -> InBorder {
        let (rows, columns) = (350, 300);
        let is_border = |[i, j]: [usize; 2]| i.min(rows - 1 - i).min(j.min(columns - 1 - j)) < 15;
        let bands: Vec<(f64, f64)> = (0..count)
            .map(|k| {
                (
                    60.0 * (0.5 + noise(k as u64)),
                    0.06 + 0.06 * noise(k as u64 + 99),
                )
            })
            .collect();
        let of_bands = |x: f64| -> f64 {
            let of_one = |(at, d): &(f64, f64)| d * (-2.7726 * ((x - at) / 0.7).powi(2)).exp();
            bands.iter().map(of_one).sum()
        };
        let silver = |[i, j]: [usize; 2]| {
            let own = of_bands(0.2 * (j as f64 + 0.5)) + 0.01 * noise((i * columns + j) as u64);
            match is_border([i, j]) {
                true => 0.02 + in_border * own,
                false => 0.5 + 0.1 * noise((i / 25 * 40 + j / 25) as u64) + own,
            }
        };
        let picture = Grid::from_shape_fn((rows, columns), |(i, j)| {
            (!is_border([i, j])).then(|| silver([i, j]))
        });
        let ledge = Ledge {
            width_mm: [Some(3.0); 4],
            assumed: [false; 4],
        };
        let of_border = |at| is_border(at).then(|| silver(at));
        let ends = Ends::of(&ledge, (rows, columns), of_border, 0.2, true);
        let response = Response::of(&picture, 0.2, 0.35, Over::Scene).unwrap();
        let family = family::best(&response, true, Over::Scene, Some(&ends)).unwrap();
        family.scene.in_border.unwrap()
    }

    #[test]
    fn bands_that_run_into_the_border_are_told_from_boards_that_do_not() {
        let (runs_on, ends) = (seen(18, 0.5), seen(18, 0.0));
        assert!(runs_on.stands_out > 4.5, "{runs_on:?}");
        assert!((runs_on.share - 0.5).abs() < 0.15, "{runs_on:?}");
        assert!(
            runs_on.without_strongest > 0.7 * runs_on.stands_out,
            "{runs_on:?}"
        );
        assert!(ends.stands_out < 3.0 && ends.share.abs() < 0.05, "{ends:?}");
    }

    #[test]
    fn one_line_that_runs_into_the_border_is_told_from_several() {
        let one = seen(1, 0.5);
        assert!(one.stands_out > 4.5, "{one:?}");
        assert!(one.without_strongest < 0.5 * one.stands_out, "{one:?}");
    }
}
