//! Waves of the pour by the corner or the edge where it drained.
//!
//! What it means: collodion that sets while it drains dries in waves square to its way, even ones, strongest where
//! it drained. Nothing in a scene is as even about one corner and nowhere else; along edges boards and blinds are,
//! so that straight waves by an edge are looked for on even plates only, and on pictures those that bend (`bent`).
//! Input: silver of the picture area in cells of about 0.4 mm.
//! Output: the corner or edge, axis and spacing at which silver along lines is the likest to even waves, how much
//! power such waves have there and elsewhere, and the crests (millimetres, density).
//! Method: silver less its surroundings over its local scatter, cut off, its means along lines, and their
//! periodogram from the corner or edge on (Schuster, Terrestrial Magnetism 3, 1898).
//! Doubtful when: a cloth or a floor in the corner is striped across the diagonal.

mod bent;
mod crests;
mod lines;
mod profile;

pub use bent::EdgeWaves;

use super::response::Response;
use super::{Family, Over};
use crate::handling::Spot;
use crate::raster::Grid;
use crests::crests;
use lines::Course;
use profile::{CORE_MM, Profile, Waves};

/// Axes looked at to either side of half a right angle and, on even plates, of upright and level, degrees, and
/// their step: the corner or edge that a hand tilts lowest is seldom missed by more.
const MOST_OFF_DEG: f64 = 10.0;
/// See [`MOST_OFF_DEG`].
const STEP_DEG: f64 = 2.5;

/// Share of all changes that waves have at least to be called even. Our own choice: of planted ones that pass none
/// has less than 0.6.
const LEAST_SHARE: f64 = 0.3;

/// Waves by one corner or edge, the strongest of a plate.
#[derive(Debug, Clone, PartialEq)]
pub struct DrainWaves {
    /// The corner or edge that they lie by.
    pub spot: Spot,
    /// From crest to crest, millimetres.
    pub spacing_mm: f64,
    /// Power of the even waves, in that of a line of the plate's own scatter.
    pub power: f64,
    /// Share that they have of all that changes across them, 0 to 1.
    pub share: f64,
    /// The most power of any even waves by another corner or edge.
    pub elsewhere: f64,
    /// The crests, as a family of bands.
    pub crests: Family,
}

/// The strongest even waves by a corner, on even plates by a corner or an edge, and those by an edge of a picture,
/// which are followed along their bend; `None` where the plate is too small or where none are even.
pub(in crate::measures) fn drain_waves(
    silver: &Grid<Option<f64>>,
    pitch_mm: f64,
    over: Over,
) -> (Option<DrainWaves>, Option<EdgeWaves>) {
    let Some(response) = Response::of(silver, pitch_mm, CORE_MM, Over::Even) else {
        return (None, None);
    };
    rayon::join(
        || straight_waves(&response, over),
        || match over {
            Over::Scene => bent::edge_waves(&response),
            Over::Even => None,
        },
    )
}

/// The strongest even waves along straight lines.
fn straight_waves(response: &Response, over: Over) -> Option<DrainWaves> {
    let profiles: Vec<Profile> = axes_deg(over)
        .map(|axis_deg| Profile::of(response, Course::straight(axis_deg)))
        .collect();
    let all: Vec<(&Profile, Waves)> = profiles
        .iter()
        .flat_map(|profile| [true, false].map(|low_end| Some((profile, profile.waves(low_end)?))))
        .flatten()
        .collect();
    let (profile, best) = *all.iter().max_by(|a, b| a.1.power.total_cmp(&b.1.power))?;
    let others = all.iter().filter(|(_, other)| other.spot != best.spot);
    let elsewhere = others.map(|(_, other)| other.power).fold(0.0, f64::max);
    if best.share < LEAST_SHARE {
        return None;
    }
    let best = profile.finer(best);
    let crests = crests(response, profile, &best);
    Some(DrainWaves {
        spot: best.spot,
        spacing_mm: best.spacing_mm,
        power: best.power,
        share: best.share,
        elsewhere,
        crests,
    })
}

fn axes_deg(over: Over) -> impl Iterator<Item = f64> {
    let steps = (MOST_OFF_DEG / STEP_DEG).round() as i32;
    let middles: &[f64] = match over {
        Over::Even => &[0.0, 45.0, 90.0, 135.0],
        Over::Scene => &[45.0, 135.0],
    };
    middles
        .iter()
        .flat_map(move |middle| (-steps..=steps).map(move |k| middle + f64::from(k) * STEP_DEG))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Silver of 70 by 80 mm in cells of 0.4 mm with some texture; waves fade away from a corner.
    fn picture(waves_d: f64) -> Grid<Option<f64>> {
        let (sin, cos) = 132f64.to_radians().sin_cos();
        let mut state = 1u32;
        Grid::from_shape_fn((200, 175), |(i, j)| {
            let (x, y) = (0.4 * (j as f64 + 0.5), 0.4 * (i as f64 + 0.5));
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let texture = 0.04 * (f64::from(state >> 8) / 16_777_216.0 - 0.5);
            let thing = if (x - 40.0).hypot(y - 35.0) < 15.0 {
                0.3
            } else {
                0.0
            };
            // From the bottom left corner.
            let away = 80.0 * sin - (x * cos + y * sin);
            let wave = waves_d * (-away / 15.0).exp() * (std::f64::consts::TAU * away / 3.4).cos();
            Some(0.5 + texture + thing + wave)
        })
    }

    #[test]
    fn waves_about_a_corner_are_found_where_they_are() {
        let found = drain_waves(&picture(0.06), 0.4, Over::Scene).0.unwrap();
        assert_eq!(found.spot, Spot::BottomLeft);
        assert!(
            (found.spacing_mm - 3.4).abs() < 0.15,
            "{}",
            found.spacing_mm
        );
        assert!((found.crests.axis_deg - 132.0).abs() <= STEP_DEG);
        assert!(found.share > 0.5 && found.power > 5.0 * found.elsewhere);
        assert!(found.crests.lines.len() >= 4);
        for line in &found.crests.lines {
            let (sin, cos) = 132f64.to_radians().sin_cos();
            let away = 80.0 * sin - (line.middle_mm[0] * cos + line.middle_mm[1] * sin);
            let off = (away / 3.4 - (away / 3.4).round()).abs() * 3.4;
            assert!(off < 0.9, "{away}");
            assert!((0.005..0.1).contains(&line.contrast_d));
        }
    }

    #[test]
    fn straight_waves_by_an_edge_are_looked_for_on_even_plates_alone() {
        let mut state = 1u32;
        let silver = Grid::from_shape_fn((200, 175), |(i, j)| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let texture = 0.04 * (f64::from(state >> 8) / 16_777_216.0 - 0.5);
            // From the right edge, three degrees aslant.
            let (x, y) = (0.4 * (j as f64 + 0.5), 0.4 * (i as f64 + 0.5));
            let away = 70.0 - x + 0.0524 * (y - 40.0);
            let wave = 0.05 * (-away / 15.0).exp() * (std::f64::consts::TAU * away / 3.0).cos();
            Some(0.5 + texture + wave)
        });
        let found = drain_waves(&silver, 0.4, Over::Even).0.unwrap();
        assert_eq!(found.spot, Spot::Right);
        assert!((found.spacing_mm - 3.0).abs() < 0.15);
        assert!(found.crests.upright && !found.crests.slanted);
        for line in &found.crests.lines {
            assert!((line.middle_mm[1] - 40.0).abs() < 0.3);
            let away = 70.0 - line.middle_mm[0];
            let off = (away / 3.0 - (away / 3.0).round()).abs() * 3.0;
            assert!(off < 0.6, "{away}");
        }
        // The chart's profile lies where the crests do.
        let across = &found.crests.across;
        let at =
            |mm: f64| across.silver_d[((mm - across.first_mm) / across.step_mm).round() as usize];
        let strongest = found.crests.lines.last().unwrap().middle_mm[0];
        assert!(at(strongest).unwrap() > at(strongest - 1.5).unwrap());
        let (over_scene, _) = drain_waves(&silver, 0.4, Over::Scene);
        assert!(over_scene.is_none_or(|found| found.power < 8.0));
    }

    #[test]
    fn a_picture_without_waves_shows_none_that_stand_out() {
        let (found, _) = drain_waves(&picture(0.0), 0.4, Over::Scene);
        assert!(found.is_none_or(|found| found.power < 5.0));
    }
}
