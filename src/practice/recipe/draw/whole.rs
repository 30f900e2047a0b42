//! Drawing faults of the whole picture. All ranges are our own choice: level 1 is near the limit of
//! seeing, level 4 is seen before the picture.

use rand::RngExt;

use super::Draw;
use super::shapes::{ByLevel, CORNERS};
use crate::practice::recipe::{
    Cast, FlatForm, FlatImageRecipe, Planted, PlateRecipe, UnderfixedRecipe,
};

/// Share of every difference in density that is left.
const KEEPS: ByLevel = [(0.7, 0.8), (0.46, 0.6), (0.28, 0.4), (0.12, 0.22)];
/// Light that the milk sends back on a positive, and density that it adds on a negative.
const MILK: ByLevel = [(0.006, 0.012), (0.02, 0.04), (0.05, 0.09), (0.11, 0.2)];
const MILK_D: ByLevel = [(0.03, 0.05), (0.09, 0.15), (0.2, 0.32), (0.4, 0.6)];

impl Draw {
    pub(super) fn flat_image(&mut self, level: u8) -> Planted {
        let form = self.weighted(
            &[
                (FlatForm::OverExposed, 0.4),
                (FlatForm::WeakLights, 0.25),
                (FlatForm::Stale, 0.35),
            ],
            FlatForm::OverExposed,
        );
        let pivot = match form {
            FlatForm::OverExposed => self.between(0.65, 0.9),
            FlatForm::WeakLights => self.between(0.0, 0.12),
            FlatForm::Stale => self.between(0.3, 0.55),
        };
        Planted::FlatImage(FlatImageRecipe {
            level,
            form,
            keeps: self.at_level(KEEPS, level),
            pivot,
        })
    }

    pub(super) fn underfixed(&mut self, level: u8, plate: &PlateRecipe) -> Planted {
        let milk = match plate.process.is_positive() {
            true => self.at_level(MILK, level),
            false => self.at_level(MILK_D, level),
        };
        let corner = self.yes(0.6).then(|| CORNERS[self.0.random_range(0..4)]);
        Planted::Underfixed(UnderfixedRecipe {
            level,
            cast: if self.yes(0.6) {
                Cast::Cream
            } else {
                Cast::BlueWhite
            },
            corner,
            patches: self.0.random_range(u32::from(corner.is_none())..=5),
            size_mm: self.between(3.0, 9.0),
            milk,
        })
    }
}
