//! Directions and places of many marks taken together.

use std::collections::{BTreeMap, BTreeSet};

use crate::raster::geometry::distance;
use crate::raster::stats::median_and_sigma;

/// Side of the squares that marks are counted by, millimetres.
const SQUARE_MM: f64 = 10.0;

/// Squares of a square centimetre with at least one of the places in them: what a fault of the whole
/// plate fills and a knot of scene does not.
pub fn squares(places_mm: &[[f64; 2]]) -> usize {
    places_mm.iter().map(square).collect::<BTreeSet<_>>().len()
}

/// Variance over mean of the counts in `total` squares: 1 where marks fall anywhere, more where they
/// cluster (the index of dispersion). `None` with fewer than two squares or without places.
pub fn overdispersion(places_mm: &[[f64; 2]], total: f64) -> Option<f64> {
    let mut counts: BTreeMap<_, f64> = BTreeMap::new();
    for place in places_mm {
        *counts.entry(square(place)).or_default() += 1.0;
    }
    let mean = places_mm.len() as f64 / total;
    if total < 2.0 || mean <= 0.0 {
        return None;
    }
    let empty = (total - counts.len() as f64).max(0.0) * mean * mean;
    let squares: f64 = counts.values().map(|n| (n - mean).powi(2)).sum();
    Some((squares + empty) / (total - 1.0) / mean)
}

fn square([x, y]: &[f64; 2]) -> (i64, i64) {
    (
        (x / SQUARE_MM).floor() as i64,
        (y / SQUARE_MM).floor() as i64,
    )
}

/// Nearest neighbours of places within a rectangle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Neighbours {
    /// Mean distance from each place to the nearest other one, millimetres.
    pub mean_mm: f64,
    /// That mean over the one expected of places anywhere in the rectangle: below 1 where they
    /// cluster, above 1 where they keep apart.
    pub ratio: f64,
    /// How many standard deviations the mean lies from the expected one.
    pub z: f64,
    /// Robust standard deviation of the distances over their median: about 0.56 of places anywhere,
    /// near 0 of a pattern, whatever lies beside it.
    pub variation: f64,
}

/// Clark and Evans' index (Ecology 35, 1954) with Donnelly's correction for the rectangle's edges
/// (1978); `None` with fewer than two places or without an area.
pub fn neighbours(places_mm: &[[f64; 2]], [width_mm, height_mm]: [f64; 2]) -> Option<Neighbours> {
    let n = places_mm.len() as f64;
    let (area, round) = (width_mm * height_mm, 2.0 * (width_mm + height_mm));
    if places_mm.len() < 2 || area <= 0.0 {
        return None;
    }
    let nearest: Vec<f64> = places_mm
        .iter()
        .enumerate()
        .map(|(i, place)| {
            let others = places_mm.iter().enumerate().filter(|(j, _)| *j != i);
            others.fold(f64::INFINITY, |least, (_, other)| {
                least.min(distance(*place, *other))
            })
        })
        .collect();
    let mean_mm = nearest.iter().sum::<f64>() / n;
    let (middle_mm, sigma_mm) = median_and_sigma(&nearest)?;
    let expected = 0.5 * (area / n).sqrt() + (0.0514 + 0.041 / n.sqrt()) * round / n;
    let variance = 0.070 * area / (n * n) + 0.037 * round * (area / n.powi(5)).sqrt();
    Some(Neighbours {
        mean_mm,
        ratio: mean_mm / expected,
        z: (mean_mm - expected) / variance.sqrt(),
        variation: sigma_mm / middle_mm.max(1e-9),
    })
}

/// How far a number of directions agree.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Agreement {
    /// Mean direction, degrees.
    pub mean_deg: f64,
    /// Mean resultant length, 0 to 1.
    pub resultant: f64,
    /// Circular standard deviation, degrees.
    pub spread_deg: f64,
    /// Probability of so long a resultant among directions drawn evenly: Rayleigh's test.
    pub p_even: f64,
}

/// Mean direction, resultant and Rayleigh's test (Mardia and Jupp, Directional Statistics, 2000, with
/// the approximation of Wilkie 1983); `None` without directions.
pub fn agreement(directions_deg: &[f64]) -> Option<Agreement> {
    if directions_deg.is_empty() {
        return None;
    }
    let n = directions_deg.len() as f64;
    let (sin, cos) = directions_deg
        .iter()
        .map(|d| d.to_radians().sin_cos())
        .fold((0.0, 0.0), |(s, c), (ds, dc)| (s + ds, c + dc));
    let resultant = (sin.hypot(cos) / n).min(1.0);
    let long = n * resultant;
    let p = ((1.0 + 4.0 * n + 4.0 * (n * n - long * long)).sqrt() - (1.0 + 2.0 * n)).exp();
    Some(Agreement {
        mean_deg: sin.atan2(cos).to_degrees().rem_euclid(360.0),
        resultant,
        spread_deg: (-2.0 * resultant.max(1e-9).ln())
            .max(0.0)
            .sqrt()
            .to_degrees(),
        p_even: p.clamp(0.0, 1.0),
    })
}

/// [`agreement`] of axes: directions that point either way along one line agree. Angles are doubled,
/// and the mean, 0 to 180, and the spread halved again (Mardia and Jupp 2000, section 1.4).
pub fn axis_agreement(directions_deg: &[f64]) -> Option<Agreement> {
    let doubled: Vec<f64> = directions_deg.iter().map(|deg| 2.0 * deg).collect();
    agreement(&doubled).map(|of| Agreement {
        mean_deg: 0.5 * of.mean_deg,
        spread_deg: 0.5 * of.spread_deg,
        ..of
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clusters_fill_few_squares() {
        let spread: Vec<[f64; 2]> = (0..25)
            .map(|k| [10.0 * f64::from(k % 5) + 5.0, 10.0 * f64::from(k / 5) + 5.0])
            .collect();
        let knot = vec![[5.0, 5.0]; 25];
        assert_eq!((squares(&spread), squares(&knot)), (25, 1));
        // Evenly spread marks have no variance; a knot of n in one of N squares has n.
        assert!(overdispersion(&spread, 25.0).unwrap() < 1e-12);
        assert!((overdispersion(&knot, 25.0).unwrap() - 25.0).abs() < 1e-9);
        assert_eq!(overdispersion(&[], 25.0), None);
    }

    #[test]
    fn a_lattice_keeps_apart_and_pairs_cluster() {
        let lattice: Vec<[f64; 2]> = (0..64)
            .map(|k| [f64::from(k % 8) + 0.5, f64::from(k / 8) + 0.5])
            .collect();
        let kept = neighbours(&lattice, [8.0, 8.0]).unwrap();
        assert!(kept.ratio > 1.7 && kept.z > 5.0 && kept.variation < 1e-9);
        let pairs: Vec<[f64; 2]> = lattice
            .iter()
            .flat_map(|[x, y]| [[*x, *y], [x + 0.1, *y]])
            .collect();
        assert!(neighbours(&pairs, [8.0, 8.0]).unwrap().ratio < 0.5);
        assert_eq!(neighbours(&[[1.0, 1.0]], [8.0, 8.0]), None);
    }

    #[test]
    fn either_way_along_a_line_is_one_axis() {
        let both = axis_agreement(&[350.0, 170.0, 10.0, 190.0]).unwrap();
        assert!(both.mean_deg < 1e-6 || both.mean_deg > 180.0 - 1e-6);
        assert!(both.resultant > 0.9 && both.p_even < 0.05);
        assert!(agreement(&[350.0, 170.0, 10.0, 190.0]).unwrap().p_even > 0.9);
    }

    #[test]
    fn directions_that_agree_do_so_by_no_chance() {
        let one_way = agreement(&[350.0, 0.0, 10.0, 5.0, 355.0]).unwrap();
        assert!(one_way.mean_deg < 1.0 || one_way.mean_deg > 359.0);
        assert!(one_way.p_even < 0.01 && one_way.spread_deg < 10.0);
        let all_ways = agreement(&[0.0, 90.0, 180.0, 270.0]).unwrap();
        assert!(all_ways.resultant < 1e-9 && all_ways.p_even > 0.9);
        // Two of three opposed: R = 1/3.
        let three = agreement(&[0.0, 0.0, 180.0]).unwrap();
        assert!((three.resultant - 1.0 / 3.0).abs() < 1e-12);
    }
}
