//! Surround that shows at nicks and clipped corners.

use std::collections::BTreeMap;

use super::{CORNER_MM, REGION_MM, SKIN_MM, fill};
use crate::plate::{Part, Plate};
use crate::raster::Mask;
use crate::raster::filter::average_down;
use crate::raster::regions::{dilate, erode, label, reached_from_rim};
use crate::raster::stats::median;

/// Density below which a surround is a white lid or lit glass: lighter than any silver on a positive
/// and clearer than any coated negative (from memory).
const LIGHT_LID_D: f64 = 0.3;

/// Deepest nick in an edge, millimetres. Our own choice.
const NICK_MM: f64 = 3.0;

/// Widest region that can be a nick or a clipped corner, millimetres.
const WIDEST_NICK_MM: f64 = 13.0;

/// Least density of glass without coating over the lamp or the lid: its two faces send back 0.04 of the light each
/// (Fresnel's law at an index of 1.5), which is 0.036, less what lids vary. Of 190 corners and nicks of practice plates
/// (seeds 700000 and 710000) that show the lid, none but one of 18 cells read more than 0.009.
const GLASS_D: f64 = 0.03;
/// Cells along a region's line that its blur takes, and the fewest within it that tell a density.
const BLURRED_CELLS: usize = 2;
/// See [`BLURRED_CELLS`].
const FEWEST_CELLS: usize = 9;

/// How far beside a region the rise of density is read, cells of [`REGION_MM`]: past the scanner's blur, and a
/// millimetre off.
const BESIDE_CELLS: [usize; 2] = [3, 6];
/// Share of its density farther off that a plate has at least right beside a nick, over the lid's. Our own choice.
const SOFT_SHARE: f64 = 0.75;

/// Connected regions that are wider or taller than `widest` cells, as lists of their cells.
fn wide_regions(mask: &Mask, widest: usize) -> Vec<Vec<[usize; 2]>> {
    let mut regions: BTreeMap<u32, Vec<[usize; 2]>> = BTreeMap::new();
    for ((i, j), region) in label(mask)
        .indexed_iter()
        .filter(|(_, region)| **region > 0)
    {
        regions.entry(*region).or_default().push([i, j]);
    }
    let extent = |cells: &[[usize; 2]], axis: usize| {
        let along = cells.iter().map(|cell| cell[axis]);
        along.clone().max().unwrap_or(0) - along.min().unwrap_or(0)
    };
    regions
        .into_values()
        .filter(|cells| extent(cells, 0).max(extent(cells, 1)) > widest)
        .collect()
}

/// Unsets the regions that are darker than the surround by what glass takes of the light.
fn unset_glass(outside: &mut Mask, over_surround_d: impl Fn((usize, usize)) -> f64) {
    let labels = label(outside);
    let mut cores: BTreeMap<u32, Vec<f64>> = BTreeMap::new();
    for (at, _) in erode(outside, BLURRED_CELLS)
        .indexed_iter()
        .filter(|(_, set)| **set)
    {
        cores
            .entry(labels[at])
            .or_default()
            .push(over_surround_d(at));
    }
    cores.retain(|_, over_d| {
        over_d.len() >= FEWEST_CELLS && median(over_d).is_some_and(|over_d| over_d > GLASS_D)
    });
    outside.zip_mut_with(&labels, |set, label| *set &= !cores.contains_key(label));
}

/// Unsets the regions beside which density rises slowly: a nick has a sharp line, and a tongue of fog as light as the
/// lid has none. `over_surround_d` is `None` where nothing of the plate is to be read.
fn unset_soft(outside: &mut Mask, over_surround_d: impl Fn((usize, usize)) -> Option<f64>) {
    let [near, far] = BESIDE_CELLS.map(|cells| {
        let mut ring = dilate(outside, cells);
        ring.zip_mut_with(&dilate(outside, cells - 1), |ring, inner| *ring &= !inner);
        ring
    });
    let labels = label(&dilate(outside, BESIDE_CELLS[1]));
    let mut beside: BTreeMap<u32, [Vec<f64>; 2]> = BTreeMap::new();
    for (which, ring) in [near, far].iter().enumerate() {
        for (at, _) in ring.indexed_iter().filter(|(_, set)| **set) {
            if let Some(over_d) = over_surround_d(at) {
                beside.entry(labels[at]).or_default()[which].push(over_d);
            }
        }
    }
    beside.retain(|_, [near, far]| {
        let fewest = near.len().min(far.len());
        let rise = median(near).zip(median(far));
        fewest >= FEWEST_CELLS && rise.is_some_and(|(near, far)| near < SOFT_SHARE * far)
    });
    outside.zip_mut_with(&labels, |set, label| *set &= !beside.contains_key(label));
}

/// Surround that shows at nicks and clipped corners.
pub(super) fn mark_outside(plate: &mut Plate) {
    let Some(surround) = plate.surround_light.and_then(crate::units::density_of) else {
        return;
    };
    let factor = plate.cells_along(REGION_MM);
    let coarse = average_down(&plate.light, factor);
    let (rows, columns) = coarse.dim();
    let q = |mm: f64| (mm / (factor as f64 * plate.pitch_mm)) as usize;
    // Only near the edges, which is a small part of the plate.
    let density = |at: (usize, usize)| -f64::from(coarse[at].max(1e-5)).log10();
    let depth = |i: usize, j: usize| i.min(j).min(rows - 1 - i).min(columns - 1 - j);
    let mut ring: Vec<f64> = (0..rows)
        .flat_map(|i| (0..columns).map(move |j| (i, j)))
        .filter(|(i, j)| (q(0.6)..q(1.4)).contains(&depth(*i, *j)))
        .map(density)
        .collect();
    let Some(edge_d) = median(&mut ring) else {
        return;
    };
    let contrast = (edge_d - surround).abs();
    // Too alike: a dark plate on a dark lid. What shows at a nick then looks like the border.
    if contrast < 0.08 {
        return;
    }
    // A tongue of fog can pass through the density of a dark lid; only what matches it closely, as a
    // nick does, counts as lid.
    let widest = if surround < LIGHT_LID_D { 0.22 } else { 0.06 };
    let tolerance = (0.4 * contrast).min(widest);
    let near_edge = |i: usize, j: usize| {
        let from_side = i.min(rows - 1 - i);
        let from_end = j.min(columns - 1 - j);
        depth(i, j) < q(NICK_MM) || (from_side < q(CORNER_MM) && from_end < q(CORNER_MM))
    };
    // In light, since so many logarithms take their time.
    let [least, most] = [tolerance, -tolerance].map(|by| 10f64.powf(-(surround + by)) as f32);
    let like_surround = Mask::from_shape_fn((rows, columns), |(i, j)| {
        near_edge(i, j) && (least..most).contains(&coarse[[i, j]].max(1e-5))
    });
    let mut outside = reached_from_rim(&like_surround);
    // A whole stretch of border as dark as the lid is fogged border, not a nick.
    let inner = Mask::from_shape_fn(outside.dim(), |(i, j)| {
        outside[[i, j]] && depth(i, j) >= q(SKIN_MM + 0.1)
    });
    for cells in wide_regions(&inner, q(WIDEST_NICK_MM)) {
        for at in cells {
            outside[at] = false;
        }
    }
    // The support of a positive is dark, so that a lid in the plate's shadow is all that can look so.
    if surround < LIGHT_LID_D && !plate.process.is_positive() {
        unset_glass(&mut outside, |at| density(at) - surround);
    }
    // On a positive on a lighter lid fog may be as light as the lid.
    if plate.process.is_positive() && surround < edge_d {
        let past_skin = |(i, j)| depth(i, j) >= q(SKIN_MM + 0.1);
        if outside
            .indexed_iter()
            .any(|(at, set)| *set && past_skin(at))
        {
            unset_soft(&mut outside, |at| {
                past_skin(at).then(|| density(at) - surround)
            });
        }
    }
    for ((i, j), _) in outside.indexed_iter().filter(|(_, set)| **set) {
        let (top, left) = (i * factor, j * factor);
        let (rows, columns) = (top..top + factor, left..left + factor);
        fill(&mut plate.parts, rows, columns, Part::Outside);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_corner_as_clear_as_glass_is_not_the_lid() {
        // The lid shows at a corner that was cut off and, darker by the glass, at one without coating.
        let in_corner = |i: usize, j: usize| i + j < 12 || i + (39 - j) < 12;
        let corners = Mask::from_shape_fn((40, 40), |(i, j)| in_corner(i, j));
        let read = |glass_d: f64| {
            let mut outside = corners.clone();
            unset_glass(&mut outside, |(_, j)| if j < 20 { 0.01 } else { glass_d });
            [outside[[0, 0]], outside[[0, 39]]]
        };
        assert_eq!(read(0.036), [true, false]);
        assert_eq!(read(0.02), [true, true]);
        // Too few cells to tell.
        let mut small = Mask::from_shape_fn((40, 40), |(i, j)| i + j < 5);
        unset_glass(&mut small, |_| 0.1);
        assert!(small[[0, 0]]);
    }

    #[test]
    fn a_tongue_as_light_as_the_lid_is_no_nick() {
        let away = |i: usize, j: usize, row: f64| (i as f64 - row).hypot(j as f64);
        // A nick with a sharp line above, a tongue that fades below.
        let over_d = |(i, j): (usize, usize)| match i < 40 {
            true if away(i, j, 20.0) < 7.0 => 0.0,
            true => 1.2,
            false => 1.2 * (1.0 - (-(away(i, j, 60.0) / 11.0).powi(2)).exp()),
        };
        let mut outside = Mask::from_shape_fn((80, 40), |at| over_d(at) < 0.2);
        assert!(outside[[20, 2]] && outside[[60, 2]]);
        unset_soft(&mut outside, |at| Some(over_d(at)));
        assert!(outside[[20, 2]] && !outside[[60, 2]]);
    }
}
