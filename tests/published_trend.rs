//! Control charts and tests of drift against published examples. The larger tables lie beside the checkout.

use oystermark::trend::{
    Summary, change, cusum, ewma, ewma_limits, individuals, mann_kendall, sen,
};
use serde_json::Value;

use crate::published::{close, rows, table, value};

fn numbers(list: &Value) -> Vec<f64> {
    let list = list.as_array().expect("a list");
    list.iter().map(|v| v.as_f64().expect("a number")).collect()
}

/// NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.2; printed to four decimals.
#[test]
fn individuals_of_the_handbook() {
    let flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
    let chart = individuals(&flow).expect("ten values");
    close(chart.centre, 50.81, 6e-5);
    close(chart.mean_range, 1.8778, 6e-5);
    close(chart.high, 55.8041, 6e-5);
    close(chart.low, 45.8159, 6e-5);
}

/// The same handbook, section 6.3.2.4: averages printed to two decimals. Its limits are computed with a root
/// rounded to 0.4201.
#[test]
fn moving_average_of_the_handbook() {
    let values = [
        52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8,
        51.2, 52.6, 52.4, 53.6, 52.1,
    ];
    let printed = [
        50.6, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52,
        50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
    ];
    for (ours, theirs) in ewma(&values, 0.3, 50.0).iter().zip(printed) {
        close(*ours, theirs, 0.00501);
    }
    let [low, high] = ewma_limits(50.0, 2.0539, 0.3, 3.0, None);
    close(low, 47.4115, 2e-4);
    close(high, 52.5884, 2e-4);
}

/// D. C. Montgomery and G. C. Runger, Applied Statistics and Probability for Engineers, 2003, table 16-7:
/// printed to one decimal.
#[test]
fn cumulative_sums_of_the_textbook() {
    let values = [
        102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1, 101.3, 98.7, 101.1, 98.4,
        97.0, 96.7, 100.3, 101.4, 97.2, 101.0,
    ];
    let high = [
        2.0, 0.0, 0.0, 0.0, 2.0, 0.5, 0.0, 0.0, 0.0, 0.0, 1.3, 0.0, 1.1, 0.0, 0.0, 0.0, 0.3, 1.7,
        0.0, 1.0,
    ];
    let low = [
        0.0, 3.2, 2.9, 2.5, 0.0, 0.0, 0.0, 0.3, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 2.3, 0.0, 0.0,
        0.8, 0.0,
    ];
    let sums = cusum(&values, 99.0, 1.0);
    for at in 0..values.len() {
        close(sums.high[at], high[at], 0.0501);
        close(sums.low[at], low[at], 0.0501);
    }
}

/// J. Little, College of the Holy Cross, course note "Mann-Kendall by hand": s, variance, z and one-sided chance
/// as printed there.
#[test]
fn mann_and_kendall_by_hand() {
    let values = [
        12.9, 14.8, 13.2, 15.7, 13.8, 15.6, 12.9, 11.0, 17.3, 15.9, 19.0, 18.3, 20.1, 21.7,
    ];
    let test = mann_kendall(&values).expect("fourteen values");
    assert_eq!(test.s, 54);
    close(test.variance, 332.666_666_667, 1e-9);
    close(test.z, 2.9058, 6e-5);
    close(test.p_normal / 2.0, 0.0018, 6e-5);
}

/// R. O. Gilbert, Statistical Methods for Environmental Pollution Monitoring, 1987, page 212 (as quoted by
/// others): many ties, z printed as 3.1.
#[test]
fn mann_and_kendall_with_ties() {
    let values = [
        20.0, 20.0, 20.0, 20.0, 15.0, 20.0, 20.0, 30.0, 27.0, 26.0, 23.0, 35.0, 25.0, 28.0, 70.0,
        26.0, 24.0, 34.0, 32.0, 23.0, 50.0, 30.0,
    ];
    close(mann_kendall(&values).expect("values").z, 3.1, 0.05);
}

/// The handbook, section 1.3.5.3, miles per gallon of cars of two countries (figures from memory; the statistic
/// and the degrees of freedom follow from them by hand): t = -12.94627, 136.875 degrees.
#[test]
fn two_means_of_unlike_spread() {
    let one = Summary {
        n: 79,
        mean: 30.48101,
        sd: 6.10771,
    };
    let other = Summary {
        n: 249,
        mean: 20.14458,
        sd: 6.4147,
    };
    let found = change(one, other, 0.0).expect("a difference");
    close(found.difference / found.error, -12.94627, 5e-5);
    close(found.freedom, 136.875, 5e-3);
    assert!(found.low < found.difference && found.high < 0.0);
}

#[test]
fn charts_agree_with_the_table_beside_the_checkout() {
    let Some(table) = table("05_control_charts.json") else {
        return;
    };
    let nist = &table["individuals_nist_6_3_2_2"];
    let chart = individuals(&numbers(&nist["data"])).expect("values");
    let computed = &nist["computed"];
    close(chart.centre, value(computed, "mean"), 1e-9);
    close(chart.mean_range, value(computed, "mr_bar"), 1e-9);
    close(chart.sigma, value(computed, "sigma"), 1e-9);
    close(chart.high, value(computed, "ucl"), 1e-9);
    close(chart.low, value(computed, "lcl"), 1e-9);
    close(chart.range_high, value(computed, "mr_ucl_D4_3.267"), 1e-9);

    let pyzdek = &table["individuals_pyzdek"];
    let data = numbers(&pyzdek["data"]);
    let chart = individuals(&data).expect("values");
    close(chart.mean_range, value(&pyzdek["computed"], "mr_bar"), 1e-9);
    // The book's 2.66 for 3 / 1.128, which is 2.6596.
    close(chart.high, value(&pyzdek["computed"], "ucl_2.66"), 4e-3);

    let nist = &table["ewma_nist_6_3_2_4"];
    let [low, high] = ewma_limits(50.0, value(nist, "sigma"), 0.3, 3.0, None);
    close(low, value(&nist["computed"], "lcl"), 1e-9);
    close(high, value(&nist["computed"], "ucl"), 1e-9);

    let book = &table["ewma_montgomery_data"];
    let averages = ewma(&numbers(&book["data"]), 0.1, 10.0);
    let limits = numbers(&book["computed"]["ucl_exact"]);
    let mut signals = Vec::new();
    for (at, theirs) in numbers(&book["computed"]["ewma"]).iter().enumerate() {
        close(averages[at], *theirs, 1e-9);
        let [low, high] = ewma_limits(10.0, 1.0, 0.1, 2.7, Some(at + 1));
        close(high, limits[at], 1e-9);
        if averages[at] > high || averages[at] < low {
            signals.push((at + 1) as f64);
        }
    }
    assert_eq!(signals, numbers(&book["computed"]["signals_points"]));

    let nist = &table["cusum_nist_6_3_2_3"];
    let data = numbers(&nist["data"]);
    let sums = cusum(&data, value(nist, "target"), value(nist, "k"));
    let mut signals = Vec::new();
    for (at, row) in rows(nist, "published").iter().enumerate() {
        let row = numbers(row);
        close(sums.high[at], row[1], 0.00501);
        close(sums.low[at], row[2], 0.00501);
        if sums.high[at].max(sums.low[at]) > value(nist, "h") {
            signals.push((at + 1) as f64);
        }
    }
    assert_eq!(signals, numbers(&nist["signals_groups"]));
}

#[test]
fn tests_of_drift_agree_with_the_table_beside_the_checkout() {
    let Some(table) = table("06_trend_tests.json") else {
        return;
    };
    for series in rows(&table, "series") {
        let data = numbers(&series["data"]);
        let theirs = &series["computed"];
        let test = mann_kendall(&data).expect("values");
        assert_eq!(test.s, theirs["S"].as_i64().expect("a whole number"));
        close(test.variance, value(theirs, "var_S"), 1e-8);
        close(test.z, value(theirs, "Z"), 1e-9);
        close(test.p_normal, value(theirs, "p_two_sided"), 1e-8);
        let steps: Vec<f64> = (0..data.len()).map(|k| k as f64).collect();
        let line = sen(&steps, &data).expect("values");
        close(line.slope, value(theirs, "sen_slope"), 1e-9);
        close(
            line.intercept,
            value(theirs, "sen_intercept_median_form"),
            1e-9,
        );
        let other = &theirs["scipy_theilslopes"];
        close(line.low, value(other, "low95"), 1e-9);
        close(line.high, value(other, "high95"), 1e-9);
    }
}
