//! Least squares against certified values.

use oystermark::raster::least_squares::{Surface, least_squares};
use serde_json::Value;

fn known() -> Value {
    serde_json::from_str(include_str!("data/least_squares.json")).unwrap()
}

fn number(of: &Value) -> f64 {
    match of.as_str() {
        Some(text) => text.parse().unwrap(),
        None => of.as_f64().unwrap(),
    }
}

/// NIST Statistical Reference Datasets (StRD), linear regression: digits that agree with the certified
/// coefficients. Longley has six regressors, the others are polynomials in one.
#[test]
fn fits_reach_the_certified_coefficients() {
    let digits_wanted = [
        ("Norris", 12.0),
        ("Pontius", 12.0),
        ("Longley", 7.0),
        ("Wampler1", 7.0),
        ("Wampler4", 7.0),
    ];
    let known = known();
    for (name, wanted) in digits_wanted {
        let sets = known["sets"].as_array().unwrap();
        let set = sets.iter().find(|set| set["name"] == name).unwrap();
        let certified: Vec<f64> = set["certified"]["parameters"]
            .as_array()
            .unwrap()
            .iter()
            .map(|parameter| number(&parameter["estimate"]))
            .collect();
        let (mut a, mut y) = (Vec::new(), Vec::new());
        for row in set["data"].as_array().unwrap() {
            let row: Vec<f64> = row.as_array().unwrap().iter().map(number).collect();
            y.push(row[0]);
            match name {
                "Longley" => a.extend(std::iter::once(1.0).chain(row[1..].iter().copied())),
                _ => a.extend((0..certified.len()).map(|power| row[1].powi(power as i32))),
            }
        }
        let fit = least_squares(&a, &y, certified.len()).unwrap();
        for (ours, theirs) in fit.iter().zip(&certified) {
            let digits = -((ours - theirs).abs() / theirs.abs()).max(1e-16).log10();
            assert!(
                digits >= wanted,
                "{name}: {ours} for {theirs}, {digits:.1} digits"
            );
        }
    }
}

/// A surface exact by construction is met to 1e-10.
#[test]
fn a_quadratic_surface_is_met_exactly() {
    let known = known();
    let exact = &known["surface_exact"];
    let points: Vec<[f64; 3]> = serde_json::from_value(exact["points"].clone()).unwrap();
    let wanted: Vec<f64> = serde_json::from_value(exact["coefficients"].clone()).unwrap();
    let (surface, sigma) = Surface::through(&points).unwrap();
    for (ours, theirs) in surface.coefficients.iter().zip(&wanted) {
        assert!((ours - theirs).abs() <= 1e-10, "{ours} for {theirs}");
    }
    assert!(sigma < 1e-10);
}
