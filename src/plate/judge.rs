//! What kind of plate it is, where the maker did not say.

use super::{Given, Part, Plate, PlateKind, Process};
use crate::doubts::Doubt;
use crate::raster::filter::average_down;
use crate::raster::stats::quantile;

/// Light of a lit surround, at least. The scanner's own white; common practice puts it at or near
/// the top of its range.
const LIT_SURROUND: f64 = 0.75;

/// Density of the least dense part of a negative, at most: clear base 0.05 to 0.20 (from memory) and
/// a heavy veil. The lights of a positive are silver on black and hardly reach 0.45.
const CLEAR_BASE_D: f64 = 0.38;

/// Silver-free support of a positive, at least (from memory).
const DARK_SUPPORT_D: f64 = 1.2;

/// Spread of density (2nd to 98th percentile of 1 mm patches) below which a plate counts as even.
/// Our own choice; pictures in the tests span 0.4 and more.
const EVEN_RANGE_D: f64 = 0.15;

/// Sets the process: given, or a negative when the plate is lit from behind and has clear parts.
pub(super) fn process(plate: &mut Plate, given: &Given) {
    if given.process.is_some() {
        return;
    }
    plate.doubts.push(Doubt::ProcessJudged);
    let clearest = patches(plate, |_| true).first_quantile(0.02);
    let lit = plate
        .surround_light
        .is_none_or(|light| light > LIT_SURROUND);
    plate.process = match clearest {
        Some(d) if lit && d < CLEAR_BASE_D => Process::NegativeOnGlass,
        _ => Process::PositiveOnMetal,
    };
}

/// Sets the kind: given, or an even test plate when the picture area hardly varies.
pub(super) fn kind(plate: &mut Plate, given: &Given) {
    if given.kind.is_some() {
        return;
    }
    plate.doubts.push(Doubt::KindJudged);
    let patches = patches(plate, |part| part == Part::Picture);
    let (Some(low), Some(high)) = (patches.first_quantile(0.02), patches.first_quantile(0.98))
    else {
        return;
    };
    let unexposed = match plate.process.is_positive() {
        true => low > DARK_SUPPORT_D,
        false => high < CLEAR_BASE_D,
    };
    plate.kind = match high - low < EVEN_RANGE_D {
        true if unexposed => PlateKind::Blank,
        true => PlateKind::Flat,
        false => PlateKind::Picture,
    };
}

struct Patches(Vec<f64>);

impl Patches {
    fn first_quantile(&self, q: f64) -> Option<f64> {
        quantile(&mut self.0.clone(), q)
    }
}

/// Densities of 1 mm patches that lie wholly in the wanted parts.
fn patches(plate: &Plate, wanted: impl Fn(Part) -> bool) -> Patches {
    let side = plate.cells_along(1.0);
    let (rows, columns) = plate.light.dim();
    let means = average_down(&plate.light, side);
    // Whole patches only, which those at the far edges may not be.
    let whole = means
        .rows()
        .into_iter()
        .take(rows / side)
        .flat_map(|row| row.into_iter().take(columns / side));
    let densities = plate
        .parts
        .exact_chunks((side, side))
        .into_iter()
        .zip(whole)
        .filter(|(parts, _)| parts.iter().all(|part| wanted(*part)))
        .filter_map(|(_, light)| crate::units::density_of(f64::from(*light)))
        .collect();
    Patches(densities)
}
