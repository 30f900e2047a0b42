//! Drawing groups of marks. All ranges are our own choice: level 1 is near the limit of seeing, level
//! 4 is seen before the picture; heads and tails as wide as the trade's words for them.

use super::{Draw, five};
use crate::plate::{Edge, PlateKind};
use crate::practice::recipe::marks::{
    CometsRecipe, ContraryHeads, MarkSign, PinholesRecipe, Scatter, SpeckBody, SpecksRecipe,
};
use crate::practice::recipe::{Planted, PlateRecipe};

/// A range for each level.
type ByLevel = [(f64, f64); 4];

/// Silver on unexposed coating, density.
const SILVER_D: ByLevel = [(0.08, 0.16), (0.2, 0.34), (0.32, 0.5), (0.45, 0.75)];
/// Share of the silver that is missing.
const MISSING: ByLevel = [(0.2, 0.4), (0.45, 0.7), (0.65, 0.9), (0.85, 1.0)];
/// Marks of a group.
const COMETS: ByLevel = [(4.0, 8.0), (7.0, 16.0), (15.0, 34.0), (35.0, 80.0)];
const DOTS: ByLevel = [(5.0, 12.0), (12.0, 26.0), (28.0, 64.0), (80.0, 170.0)];
/// Diameter of pinholes and specks, millimetres.
const DOT_MM: ByLevel = [(0.07, 0.15), (0.1, 0.26), (0.12, 0.36), (0.14, 0.5)];

/// How often comets are of both signs: a speck may draw silver to it or keep it off.
const MIXED: f64 = 0.4;

/// Strengths of a head of a sign.
fn strengths(sign: MarkSign) -> ByLevel {
    match sign {
        MarkSign::MoreSilver => SILVER_D,
        MarkSign::LessSilver => MISSING,
    }
}

fn of(levels: ByLevel, level: u8) -> (f64, f64) {
    levels[usize::from(level.clamp(1, 4)) - 1]
}

impl Draw {
    fn at(&mut self, levels: ByLevel, level: u8) -> f64 {
        let (low, high) = of(levels, level);
        self.between(low, high)
    }

    /// Even in the logarithm.
    fn log_between(&mut self, low: f64, high: f64) -> f64 {
        five(low * libm::pow(high / low, self.between(0.0, 1.0)))
    }

    fn scatter(&mut self) -> Scatter {
        if self.yes(0.5) {
            Scatter::Spread
        } else if self.yes(0.5) {
            Scatter::Clusters
        } else {
            let toward = self.weighted(&Edge::ALL.map(|edge| (edge, 1.0)), Edge::Top);
            Scatter::Toward(toward)
        }
    }

    pub(super) fn comets(&mut self, level: u8, plate: &PlateRecipe) -> Planted {
        // What has no silver can lose none.
        let more = plate.kind == PlateKind::Blank || self.yes(0.6);
        let sign = match more {
            true => MarkSign::MoreSilver,
            false => MarkSign::LessSilver,
        };
        let strength = self.at(strengths(sign), level);
        let mut recipe = CometsRecipe {
            level,
            count: self.at(COMETS, level) as u32,
            scatter: self.scatter(),
            sign,
            strength,
            head_mm: self.log_between(0.09, 0.6),
            tail_mm: self.log_between(1.5, 14.0),
            tail_share: self.between(0.35, 0.75),
            direction_deg: self.between(0.0, 360.0),
            spread_deg: self.between(2.0, 16.0),
            both_ways: self.yes(0.25),
            size_spread: self.between(0.15, 0.45),
            strength_spread: self.between(0.05, 0.25),
            contrary: None,
        };
        if plate.kind != PlateKind::Blank && self.yes(MIXED) {
            recipe.contrary = Some(ContraryHeads {
                share: self.between(0.15, 0.5),
                strength: self.at(strengths(sign.contrary()), level),
            });
        }
        Planted::Comets(recipe)
    }

    pub(super) fn pinholes(&mut self, level: u8) -> Planted {
        Planted::Pinholes(PinholesRecipe {
            level,
            count: self.at(DOTS, level) as u32,
            scatter: self.scatter(),
            size_mm: self.at(DOT_MM, level),
            open: self.at(MISSING, level),
            size_spread: self.between(0.1, 0.4),
            strength_spread: self.between(0.05, 0.25),
        })
    }

    pub(super) fn specks(&mut self, level: u8, plate: &PlateRecipe) -> Planted {
        let silver = self.at(SILVER_D, level);
        let missing = self.at(MISSING, level);
        // Through the light all matter is dark; on a positive it is dark, or pale as lint and salts.
        let body = if self.yes(0.6) {
            SpeckBody::Silver(silver)
        } else if !plate.process.is_positive() {
            SpeckBody::Matter(self.between(1.6, 2.8))
        } else if plate.kind == PlateKind::Blank || self.yes(0.4) {
            SpeckBody::Matter(self.between(0.3, 0.6))
        } else {
            SpeckBody::Matter(self.between(1.7, 2.1))
        };
        Planted::Specks(SpecksRecipe {
            level,
            count: self.at(DOTS, level) as u32,
            scatter: self.scatter(),
            body,
            cover: if matches!(body, SpeckBody::Silver(_)) {
                1.0
            } else {
                missing
            },
            size_mm: self.at(DOT_MM, level),
            size_spread: self.between(0.1, 0.4),
            strength_spread: self.between(0.05, 0.25),
        })
    }
}
