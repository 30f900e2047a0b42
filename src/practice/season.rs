//! Six weeks of two silver baths: some sixty plates of market-day portraits in a hill town that does not exist. Bath A
//! stays sound. The veil of bath B grows from the third week on, until the bath is sunned in the fifth.

use rand::RngExt;
use rand_chacha::ChaCha8Rng;

use super::maths;
use super::{FileFormat, Glass, Planted, Recipe, ScanRecipe, SceneName, ToneRecipe, Wish};
use crate::bath::Day;
use crate::bath::log::{NewRow, Row, Table};
use crate::bath::strength::{Measurement, Strength};
use crate::plate::{PlateKind, Process};

/// Seed of the season; another one would be another season.
const SEED: u64 = 1_862;

/// Days with plates in six weeks: three a week.
pub const DAYS: usize = 18;

/// First day on which the veil of bath B is more than it was, counted in days with plates from 0.
pub const DRIFT_FROM: usize = 6;

/// Bath B has been sunned before this day with plates.
const SUNNED_BEFORE: usize = 14;

/// Veil of a sound bath, density, and what each further plate of bath B adds to it; invented.
pub const SOUND_VEIL_D: f64 = 0.05;
pub const DRIFT_D: f64 = 0.004;

/// Scatter of the veil from plate to plate and from day to day, density; invented.
pub const SCATTER_D: [f64; 2] = [0.006, 0.004];

/// Resolution of the scans, dots per inch: enough for veil and border.
const DPI: f64 = 300.0;

/// Bare rim all round the coating and the holder's ledge, millimetres: both wide enough to be read, so that the
/// veil in the border can be told from the bare support beside it.
const RIM_MM: f64 = 0.8;
const LEDGE_MM: f64 = 5.0;

/// One kind of plate stock for the whole season.
const STOCK: ToneRecipe = ToneRecipe {
    support_d: 1.78,
    unexposed_d: 1.77,
    full_silver_d: 0.6,
    gamma: 1.4,
    warmth: [1.05, 0.91],
};

/// Something of the season, in order of time.
#[derive(Debug, Clone)]
pub enum SeasonStep {
    /// What was measured or done.
    Entry(Row),
    /// A plate to paint and read.
    Plate {
        /// The bath it was sensitized in.
        bath: &'static str,
        /// The day.
        day: Day,
        /// When it would have been logged.
        recorded: String,
        /// The plate.
        recipe: Box<Recipe>,
    },
}

/// Mondays, Wednesdays and Saturdays from 2026-05-04 on.
fn day_of(day: usize) -> Day {
    Day::from_number(20_577 + (day / 3 * 7 + [0, 2, 5][day % 3]) as i64)
}

/// The steps of the season, always the same.
///
/// # Errors
/// In words, if a row of it could not stand in a log; that would be a mistake in this file.
pub fn season() -> Result<Vec<SeasonStep>, String> {
    let mut steps = Vec::new();
    let mut chance = maths::stream(SEED, "season");
    let (mut drifted, mut plates) = (0usize, [0usize; 2]);
    for day in 0..DAYS {
        let of_day = [normal(&mut chance), normal(&mut chance)];
        for (at, bath) in ["A", "B"].into_iter().enumerate() {
            entries(&mut steps, bath, day)?;
            for _ in 0..1 + (day % 3).min(1) {
                plates[at] += 1;
                let drifts = bath == "B" && (DRIFT_FROM..SUNNED_BEFORE).contains(&day);
                drifted += usize::from(drifts);
                let growth = if drifts {
                    DRIFT_D * drifted as f64
                } else {
                    0.0
                };
                let scatter = SCATTER_D[0] * normal(&mut chance) + SCATTER_D[1] * of_day[at];
                let fog_d = (SOUND_VEIL_D + growth + scatter).max(0.0);
                steps.push(SeasonStep::Plate {
                    bath,
                    day: day_of(day),
                    recorded: format!("{}T18:{:02}:00.000Z", day_of(day), plates[at]),
                    recipe: Box::new(recipe(bath, plates[at], fog_d)),
                });
            }
        }
    }
    Ok(steps)
}

/// A portrait on one stock of plates, with that veil.
fn recipe(bath: &str, number: usize, fog_d: f64) -> Recipe {
    let name = format!("{bath}-{number:03}");
    let wish = Wish {
        process: Some(Process::PositiveOnMetal),
        kind: Some(PlateKind::Picture),
        scene: Some(match number % 3 {
            0 => SceneName::Standing,
            1 => SceneName::Portrait,
            _ => SceneName::BrightPortrait,
        }),
        crop: Some(super::Crop::Margin),
        dpi: Some(DPI),
        size_name: Some("sixth"),
        format: Some(FileFormat::Jpeg),
        glass: Some(Glass::Clean),
        bare_rim: true,
        ..Wish::default()
    };
    let mut recipe = Recipe::random(maths::sub_seed(SEED, &name), &name, &wish);
    // One scanner with one setting for the whole season, or its changes would pass for changes of the bath.
    let scanner = Recipe::random(maths::sub_seed(SEED, "scanner"), "scanner", &wish).scan;
    recipe.scan = ScanRecipe {
        area_mm: recipe.scan.area_mm,
        ..scanner
    };
    for plate in &mut recipe.plates {
        plate.tone = STOCK;
        plate.lip = None;
        plate.rim_mm = [RIM_MM; 4];
        if let Some(ledge) = &mut plate.ledge {
            ledge.width_mm = [LEDGE_MM; 4];
        }
        plate.faults = vec![Planted::Veil {
            level: 1,
            fog_d: (fog_d * 1e5).round() / 1e5,
            spares_border: false,
        }];
    }
    recipe
}

/// What is measured and done on a bath before the plates of a day.
fn entries(steps: &mut Vec<SeasonStep>, bath: &str, day: usize) -> Result<(), String> {
    let mut enter = |table, cells: &[(&str, &str)], numbers: &[(&str, f64)]| {
        let date = day_of(day).to_string();
        let stamp = format!("{date}T08:{:02}:00.000Z", steps.len() % 60);
        let mut row = NewRow::of(table);
        for (name, text) in [("bath", bath), ("day", &date), ("recorded", &stamp)] {
            row.set(name, text)?;
        }
        for (name, text) in cells {
            row.set(name, text)?;
        }
        for (name, number) in numbers {
            row.set_number(name, *number)?;
        }
        steps.push(SeasonStep::Entry(row.finish()?));
        Ok::<(), String>(())
    };
    if day == 0 {
        enter(Table::Event, &[("what", "made")], &[("grams", 216.0)])?;
    }
    if day.is_multiple_of(6) {
        // Plates carry silver away: the density falls a little every fortnight.
        let measured = Measurement {
            density_g_cm3: 1.0735 - 0.0012 * (day / 6) as f64,
            density_u: None,
            temp_c: 20.0,
            temp_u_c: None,
        };
        let strength = Strength::of(measured)
            .map_err(|error| error.to_string())?
            .g_per_l;
        let tenths = |value: f64| (value * 10.0).round() / 10.0;
        let numbers = [
            (
                "density_g_cm3",
                (measured.density_g_cm3 * 1e4).round() / 1e4,
            ),
            ("temp_c", measured.temp_c),
            ("g_per_l", tenths(strength.value)),
            ("g_per_l_u", tenths(strength.u)),
            ("litres", 2.4),
        ];
        enter(Table::Reading, &[("litmus", "red")], &numbers)?;
    }
    if bath == "B" && day == SUNNED_BEFORE {
        let cells = [
            ("what", "sunned"),
            ("remark", "two days in the window, then filtered"),
        ];
        enter(Table::Event, &cells, &[])?;
    }
    Ok(())
}

/// Standard normal, near enough: twelve even draws (central limit).
fn normal(chance: &mut ChaCha8Rng) -> f64 {
    (0..12).map(|_| chance.random_range(0.0..1.0)).sum::<f64>() - 6.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_season_has_sixty_plates_of_two_baths_in_order() {
        let steps = season().unwrap();
        let mut plates = Vec::new();
        let mut sunned = 0;
        for step in &steps {
            match step {
                SeasonStep::Plate {
                    bath, day, recipe, ..
                } => {
                    recipe.check().unwrap();
                    plates.push((*day, *bath, recipe.name.clone()));
                }
                SeasonStep::Entry(row) => {
                    sunned += usize::from(row.text("what") == Some("sunned"));
                }
            }
        }
        assert_eq!((plates.len(), sunned), (60, 1));
        assert_eq!(
            plates.iter().filter(|(_, bath, _)| *bath == "B").count(),
            30
        );
        assert!(plates.windows(2).all(|pair| pair[0].0 <= pair[1].0));
        assert_eq!(plates[0].0.to_string(), "2026-05-04");
    }
}
