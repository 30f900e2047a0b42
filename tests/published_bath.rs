//! Strength of a silver bath against published densities, and the two ounces.

use oystermark::bath::strength::{
    Concentration, GRAIN_G, Measurement, Strength, UK_OUNCE_L, US_OUNCE_L,
};

use crate::published::{close, rows, table, value};

fn at(density_g_cm3: f64, temp_c: f64) -> Strength {
    Strength::of(Measurement {
        density_g_cm3,
        density_u: None,
        temp_c,
        temp_u_c: None,
    })
    .expect("a strength")
}

/// The density that the strength was found from lies within `tolerance` of the one that belongs to `percent`.
#[track_caller]
fn close_in_density(density: f64, temp_c: f64, percent: f64, tolerance: f64) {
    let low = at(density - tolerance, temp_c).mass_percent.value;
    // The table ends at 40 %.
    let high = at((density + tolerance).min(1.4743), temp_c)
        .mass_percent
        .value;
    assert!(
        low <= percent && percent <= high + 1e-6,
        "{density}: {low} to {high}, not {percent}"
    );
}

/// Engineering ToolBox, "Density of aqueous solutions of inorganic substances at 20 C". The row at 1 % lies 0.0004
/// above a smooth curve, hence the wider tolerance below 4 %.
#[test]
fn densities_of_the_printed_table() {
    for (percent, density) in [
        (5.0, 1.0417),
        (10.0, 1.0882),
        (20.0, 1.1942),
        (30.0, 1.3204),
        (40.0, 1.4743),
    ] {
        close(at(density, 20.0).mass_percent.value, percent, 1e-6);
    }
    close_in_density(1.007, 20.0, 1.0, 0.0006);
    let ten = at(1.0882, 20.0);
    close(ten.g_per_l.value, 108.82, 1e-4);
    assert!(ten.mass_percent.u > 0.09 && ten.mass_percent.u < 0.13);
}

/// Old books reckon in grains an ounce and seldom say which (common practice): 45 grains are 98.6 g/l by the US
/// ounce and 102.6 g/l by the imperial one. Exact by the definitions of grain and ounces.
#[test]
fn the_two_ounces_are_four_per_cent_apart() {
    let grams = |typed: &str| {
        let typed: Concentration = typed.parse().expect("a concentration");
        typed.g_per_l(20.0).expect("within the table")
    };
    close(grams("45 gr/us-oz"), 98.600_031_62, 1e-8);
    close(grams("45 gr/uk-oz"), 102.627_126_2, 1e-7);
    close(grams("10 %w/w"), 108.82, 1e-6);
}

#[test]
fn silver_nitrate_agrees_with_the_table_beside_the_checkout() {
    let Some(table) = table("10_silver_nitrate.json") else {
        return;
    };
    let tolerance = |percent: f64| if percent < 4.0 { 0.0006 } else { 0.0003 };
    for row in rows(&table, "density_20C_seen") {
        let percent = value(row, "mass_percent");
        close_in_density(
            value(row, "density_g_cm3"),
            20.0,
            percent,
            tolerance(percent),
        );
    }
    for row in rows(&table["density_20C_recalled"], "rows") {
        let percent = value(row, "mass_percent");
        close_in_density(
            value(row, "density_g_cm3"),
            20.0,
            percent,
            tolerance(percent),
        );
    }
    for row in rows(&table["derived_table_20C"], "rows") {
        let percent = value(row, "mass_percent");
        if percent == 0.0 {
            continue;
        }
        let density = value(row, "density_20C");
        close_in_density(density, 20.0, percent, tolerance(percent));
        let found = at(density, 20.0);
        // A density 0.0003 out moves grams a litre by so much.
        let slack = 40.0 * tolerance(percent) * 30.0;
        close(found.g_per_l.value, value(row, "g_per_L"), slack);
    }
    for row in rows(&table["temperature_effect_estimate"], "rows") {
        let percent = value(row, "mass_percent");
        for cell in rows(row, "values") {
            let (temp_c, density) = (value(cell, "T_C"), value(cell, "density"));
            close_in_density(density, temp_c, percent, 0.0004);
        }
    }
    let conversions = &table["conversions"];
    close(GRAIN_G * 1000.0, value(conversions, "grain_mg"), 1e-9);
    close(US_OUNCE_L * 1000.0, value(conversions, "us_floz_mL"), 1e-9);
    close(UK_OUNCE_L * 1000.0, value(conversions, "imp_floz_mL"), 1e-9);
    for row in rows(conversions, "examples") {
        let grains = value(row, "grains_per_oz");
        for (unit, name) in [("gr/us-oz", "us_g_per_L"), ("gr/uk-oz", "imp_g_per_L")] {
            let typed: Concentration = format!("{grains}{unit}").parse().expect("a concentration");
            // Printed to seven places.
            close(typed.g_per_l(20.0).expect("grams"), value(row, name), 6e-8);
        }
    }
}
