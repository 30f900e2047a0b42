//! Density of a pure silver nitrate solution by its strength and temperature.

/// Molar mass of silver nitrate, g/mol (conventional atomic weights of IUPAC).
const MOLAR_MASS: f64 = 169.8722;

/// Highest strength of the table, per cent by mass.
pub(super) const MOST_PERCENT: f64 = 40.0;

/// Temperatures between which the density of water is interpolated, degrees Celsius.
pub(super) const TEMPERATURES_C: [f64; 2] = [10.0, 30.0];

/// Density of water every 5 degrees from 10 to 30 C, g/cm3 (the usual handbook table, from memory).
const WATER: [f64; 5] = [0.99970, 0.99910, 0.99821, 0.99705, 0.99565];

/// Per cent by mass and density at 20 C, g/cm3: Engineering ToolBox, "Density of aqueous solutions of inorganic
/// substances at 20 C". Its row at 1 % (1.0070) is left out: it lies 0.0003 above a smooth curve through the
/// others.
const ROWS: [[f64; 2]; 5] = [
    [5.0, 1.0417],
    [10.0, 1.0882],
    [20.0, 1.1942],
    [30.0, 1.3204],
    [40.0, 1.4743],
];

/// Apparent molar volume of the salt in cm3/mol, `a + b sqrt(c) + d c` with c in mol/L: our own least squares fit
/// to [`ROWS`]. It is within 0.0003 g/cm3 of each of them; what is left over is put back in straight
/// lines between them.
const MOLAR_VOLUME: [f64; 3] = [25.655_271_51, 4.927_358_47, -0.598_775_563_2];

/// Density of water, g/cm3, from 10 to 30 C; by the parabola through the three nearest rows.
pub(super) fn water(temp_c: f64) -> f64 {
    let place = (temp_c - TEMPERATURES_C[0]) / 5.0;
    let middle = (place.round() as usize).clamp(1, WATER.len() - 2);
    let t = place - middle as f64;
    let [before, at, after] = [WATER[middle - 1], WATER[middle], WATER[middle + 1]];
    at + 0.5 * t * (after - before) + 0.5 * t * t * (after - 2.0 * at + before)
}

/// Density at 20 C by the molar volume alone.
fn smooth_20(percent: f64) -> f64 {
    let share = percent / 100.0;
    let [a, b, d] = MOLAR_VOLUME;
    let mut density = water(20.0) + 0.009 * percent;
    // The volume depends on the concentration, which depends on the density: it settles at once.
    for _ in 0..60 {
        let mol_per_l = share * density / MOLAR_MASS * 1000.0;
        let volume = a + b * mol_per_l.sqrt() + d * mol_per_l;
        density = 1.0 / ((1.0 - share) / water(20.0) + share / MOLAR_MASS * volume);
    }
    density
}

/// Density of a solution, g/cm3: `percent` by mass from 0 to 40, at 10 to 30 C.
///
/// Away from 20 C the water in it is taken to expand as water does and the salt not at all: a model, since no
/// measured table was found.
pub(super) fn density(percent: f64, temp_c: f64) -> f64 {
    let mut last = [0.0, 0.0];
    let mut left_over = 0.0;
    for [at, printed] in ROWS {
        let row = [at, printed - smooth_20(at)];
        if percent <= at {
            left_over = last[1] + (row[1] - last[1]) * (percent - last[0]) / (at - last[0]);
            break;
        }
        last = row;
    }
    let density_20 = smooth_20(percent) + left_over;
    let of_water = 1.0 - percent / 100.0;
    1.0 / (1.0 / density_20 + of_water * (1.0 / water(temp_c) - 1.0 / water(20.0)))
}

/// Per cent by mass of the solution of that density; `None` when it is lighter than water or heavier than the
/// strongest solution of the table.
pub(super) fn percent(density_g_cm3: f64, temp_c: f64) -> Option<f64> {
    where_reached(density_g_cm3, |percent| density(percent, temp_c))
}

/// Per cent by mass of the solution that holds so many grams a litre; `None` outside the table.
pub(super) fn percent_of(g_per_l: f64, temp_c: f64) -> Option<f64> {
    where_reached(g_per_l, |percent| 10.0 * percent * density(percent, temp_c))
}

/// Where a function that rises from 0 to 40 per cent reaches a value.
fn where_reached(value: f64, of: impl Fn(f64) -> f64) -> Option<f64> {
    let (mut low, mut high) = (0.0, MOST_PERCENT);
    // The last place of a printed table may round to either side of its end.
    let slack = 1e-9 * of(high);
    if !(value >= of(low) - slack && value <= of(high) + slack) {
        return None;
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if of(middle) < value {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(0.5 * (low + high))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_curve_goes_through_the_rows_and_rises() {
        for [at, printed] in ROWS {
            assert!((density(at, 20.0) - printed).abs() < 1e-9, "{at}");
            assert!((smooth_20(at) - printed).abs() < 3e-4, "{at}");
            assert!((percent(printed, 20.0).unwrap() - at).abs() < 1e-6);
        }
        for tenth in 0..400 {
            let at = f64::from(tenth) / 10.0;
            for temp_c in [10.0, 17.0, 30.0] {
                assert!(density(at + 0.1, temp_c) > density(at, temp_c));
            }
        }
    }

    #[test]
    fn outside_the_table_there_is_no_strength() {
        assert_eq!(percent(0.98, 20.0), None);
        assert_eq!(percent(1.6, 20.0), None);
        assert_eq!(percent(f64::NAN, 20.0), None);
    }
}
