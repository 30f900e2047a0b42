//! Marks taken together, against values from the literature: directions, places, counts, tails, blurs.
//! Each with its source, tolerance and why.

use oystermark::measures::specks::{agreement, axis_agreement, neighbours};
use oystermark::raster::Grid;
use oystermark::raster::counts::{ln_binomial_tail, ln_poisson_tail, poisson_interval};
use oystermark::raster::filter::{average_down, gaussian};
use oystermark::raster::stats::quantile;
use serde_json::Value;

use crate::published::{close, rows, table, value};

/// J. H. Zar, Biostatistical Analysis, 5th ed. 2010, examples 26.2 and 27.1: r = 0.82522, z = 5.448, p
/// between 0.001 and 0.002 (z second-hand; r and the mean of 99 degrees from memory).
/// K. V. Mardia and P. E. Jupp, Directional Statistics, 2000, example 1.1: nine spins of a roulette wheel,
/// mean 51 degrees, resultant 0.711 (second-hand). Half a unit of the last place.
#[test]
fn directions_of_the_textbooks() {
    let zar = agreement(&[45.0, 55.0, 81.0, 96.0, 110.0, 117.0, 132.0, 154.0]).unwrap();
    close(zar.resultant, 0.82522, 1e-5);
    close(8.0 * zar.resultant * zar.resultant, 5.448, 5e-4);
    close(zar.mean_deg, 99.0, 0.5);
    assert!(zar.p_even > 0.001 && zar.p_even < 0.002);
    let roulette = [43.0, 45.0, 52.0, 61.0, 75.0, 88.0, 88.0, 279.0, 357.0];
    let roulette = agreement(&roulette).unwrap();
    close(roulette.mean_deg, 51.0, 0.5);
    close(roulette.resultant, 0.711, 5e-4);
}

/// Critical resultants of Rayleigh's test (J. C. Davis, Statistics and Data Analysis in Geology, table
/// A.10, from Mardia 1972): the approximation that is used gives the level back within 5 % from seven
/// directions on. Computed means and resultants to 1e-9.
#[test]
fn directions_agree_with_the_table_beside_the_checkout() {
    let Some(table) = table("07_directional.json") else {
        return;
    };
    for item in rows(&table, "items") {
        // Grouped data state how often each direction was seen.
        let times = |k: usize| item["weights"][k].as_u64().unwrap_or(1) as usize;
        let data: Vec<f64> = rows(item, "data_deg")
            .iter()
            .enumerate()
            .flat_map(|(k, deg)| vec![deg.as_f64().unwrap(); times(k)])
            .collect();
        let of = match item["mult"].as_f64() {
            Some(_) => axis_agreement(&data),
            None => agreement(&data),
        };
        let (of, computed) = (of.unwrap(), &item["computed"]);
        close(of.mean_deg, value(computed, "mean_direction_deg"), 1e-9);
        close(of.resultant, value(computed, "R_bar"), 1e-9);
        let p = value(computed, "p_zar_approximation");
        close(of.p_even, p, 1e-9 * p.max(1e-3));
        if item["mult"].is_null() {
            let spread = value(computed, "circular_sd_deg_sqrt_-2lnR");
            close(of.spread_deg, spread, 1e-9);
        }
    }
}

/// P. J. Clark and F. C. Evans, Ecology 35 (1954) 445; correction for edges by Donnelly (1978) as in NIST
/// Dataplot's help. Point sets of the R package spatstat.data: cells (Ripley 1977) are regular, Japanese
/// pines (Numata 1961) near random, redwood seedlings (Strauss 1975) clustered. Computed, to 1e-9.
#[test]
fn neighbours_agree_with_the_table_beside_the_checkout() {
    let Some(table) = table("08_spatial.json") else {
        return;
    };
    for set in rows(&table, "sets") {
        let ys = rows(set, "y").iter();
        let places: Vec<[f64; 2]> = rows(set, "x")
            .iter()
            .zip(ys)
            .map(|(x, y)| [x.as_f64().unwrap(), y.as_f64().unwrap()])
            .collect();
        let (of, theirs) = (
            neighbours(&places, [1.0, 1.0]).unwrap(),
            &set["clark_evans"],
        );
        close(of.mean_mm, value(theirs, "mean_nn"), 1e-9);
        close(of.ratio, value(theirs, "R_donnelly"), 1e-9);
        close(of.z, value(theirs, "z_donnelly"), 1e-7);
    }
}

/// F. Garwood, Biometrika 28 (1936) 437, from a report's table that drops digits (0.22 for 0.2422), so
/// within 0.03.
#[test]
fn intervals_of_counts_are_garwoods() {
    for (n, low, high) in [
        (18, 10.66, 28.45),
        (13, 6.91, 22.23),
        (12, 6.19, 20.96),
        (8, 3.44, 15.77),
        (6, 2.19, 13.06),
        (4, 1.08, 10.24),
        (2, 0.22, 7.22),
    ] {
        let ours = poisson_interval(n);
        close(ours[0], low, 0.03);
        close(ours[1], high, 0.03);
    }
}

/// Half the quantiles of chi squared, to 1e-9.
#[test]
fn intervals_agree_with_the_table_beside_the_checkout() {
    let Some(table) = table("09_intervals.json") else {
        return;
    };
    for row in rows(&table, "poisson_95") {
        let ours = poisson_interval(value(row, "n") as usize);
        close(
            ours[0],
            value(row, "low"),
            1e-9 * value(row, "low").max(1.0),
        );
        close(
            ours[1],
            value(row, "high"),
            1e-9 * value(row, "high").max(1.0),
        );
    }
}

/// Exact: all of n at p are p to the n; A. Desolneux, L. Moisan and J.-M. Morel, Meaningful Alignments,
/// IJCV 40 (2000) 7: nine aligned points of nine in a picture of 512 at p = 1/16 have a number of false
/// alarms of just 1.
#[test]
fn nine_of_nine_aligned_points_are_just_meaningful() {
    let tests = 4.0 * 512f64.ln();
    close(tests + ln_binomial_tail(9, 9, 1.0 / 16.0), 0.0, 1e-10);
}

/// Tails in the logarithm, computed with 50 digits, to a share of 1e-9.
#[test]
fn tails_agree_with_the_table_beside_the_checkout() {
    let Some(table) = table("11_a_contrario.json") else {
        return;
    };
    let text = |row: &serde_json::Value, name: &str| -> f64 {
        let text = row[name].as_str().expect("a number in quotes");
        match text.split_once('/') {
            Some((top, bottom)) => top.parse::<f64>().unwrap() / bottom.parse::<f64>().unwrap(),
            None => text.parse().unwrap(),
        }
    };
    let same = |ours: f64, theirs: f64| {
        let ours = ours / std::f64::consts::LN_10;
        close(ours, theirs, 1e-9 * theirs.abs().max(1.0));
    };
    for row in rows(&table, "items") {
        let (n, k) = (value(row, "n") as usize, value(row, "k") as usize);
        let ours = ln_binomial_tail(k, n, text(row, "p"));
        same(ours, text(row, "log10_tail"));
    }
    for row in rows(&table, "poisson_tail") {
        let ours = ln_poisson_tail(value(row, "k") as usize, text(row, "lambda"));
        same(ours, text(row, "log10_tail"));
    }
}

/// A Gaussian spot of unit height and width s, blurred by sigma, has the height s2 / (s2 + sigma2) (closed
/// form); the difference of two such blurs in the ratio k is strongest at sigma = s / sqrt k
/// (T. Lindeberg, IJCV 30, 1998, for the limit of k = 1). Within 2 %: the blur is cut off and sampled.
#[test]
fn a_blurred_spot_has_the_height_of_the_closed_form() {
    let s: f64 = 4.0;
    let spot = Grid::from_shape_fn((129, 129), |(i, j)| {
        let r2 = (i as f64 - 64.0).powi(2) + (j as f64 - 64.0).powi(2);
        (-r2 / (2.0 * s * s)).exp() as f32
    });
    let height = |sigma: f64| f64::from(gaussian(&spot, sigma)[[64, 64]]);
    for sigma in [2.0, 3.0, 4.0, 6.0] {
        let wanted = s * s / (s * s + sigma * sigma);
        close(height(sigma), wanted, 0.02 * wanted);
    }
    let k: f64 = 1.6;
    let answer = |sigma: f64| height(sigma) - height(k * sigma);
    let peak = s / k.sqrt();
    assert!(answer(peak) > answer(0.8 * peak) && answer(peak) > answer(1.25 * peak));
}

/// A piece of a sample plate through SciPy and NumPy, whose versions and calls stand in the file: blurs within
/// 2e-4 of a step (ours are in single precision), means and quantiles exactly.
#[test]
fn blurs_means_and_quantiles_agree_with_scipy() {
    let known: Value = serde_json::from_str(include_str!("data/scipy.json")).unwrap();
    let grid = |of: &Value| -> Grid<f32> {
        let rows: Vec<Vec<f32>> = serde_json::from_value(of.clone()).unwrap();
        Grid::from_shape_fn((rows.len(), rows[0].len()), |(i, j)| rows[i][j])
    };
    let picture = grid(&known["picture"]);
    let agree = |ours: &Grid<f32>, theirs: &Grid<f32>, within: f64| {
        assert_eq!(ours.dim(), theirs.dim());
        for (a, b) in ours.iter().zip(theirs) {
            close(f64::from(*a), f64::from(*b), within);
        }
    };
    for blurred in known["blurred"].as_array().unwrap() {
        let sigma = blurred["sigma"].as_f64().unwrap();
        agree(&gaussian(&picture, sigma), &grid(&blurred["values"]), 2e-4);
    }
    agree(
        &average_down(&picture, 4),
        &grid(&known["block_means"]),
        1e-4,
    );
    let mut values: Vec<f64> = picture.iter().map(|v| f64::from(*v)).collect();
    for at in known["quantiles"].as_array().unwrap() {
        let ours = quantile(&mut values, at["q"].as_f64().unwrap()).unwrap();
        close(ours, at["value"].as_f64().unwrap(), 1e-9);
    }
}
