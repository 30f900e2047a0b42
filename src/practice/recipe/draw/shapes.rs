//! Drawing faults with a shape. All ranges are our own choice: level 1 is near the limit of seeing,
//! level 4 is seen before the picture; widths, counts and spacings as wide as the trade's words for
//! them.

use rand::RngExt;

use super::{Draw, five};
use crate::handling::Corner;
use crate::plate::{Edge, PlateKind};
use crate::practice::recipe::shapes::{
    BareAreaRecipe, BarePlace, Brink, DipLineRecipe, LineRun, PourForm, RidgeForm, RidgesRecipe,
    ScratchRecipe, StainForm, StainRecipe, StreakForm, StreakSign, StreaksRecipe, UnevenPourRecipe,
};
use crate::practice::recipe::{Planted, PlateRecipe};

/// A range for each level.
pub(super) type ByLevel = [(f64, f64); 4];

/// Density that a band, a line, a wave or a wedge changes.
const DIP_D: ByLevel = [(0.022, 0.035), (0.05, 0.08), (0.1, 0.15), (0.19, 0.28)];
const DEVELOPER_D: ByLevel = [(0.03, 0.05), (0.075, 0.11), (0.13, 0.19), (0.24, 0.34)];
const LINE_D: ByLevel = [(0.035, 0.06), (0.085, 0.14), (0.18, 0.27), (0.33, 0.48)];
const RIDGE_D: ByLevel = [(0.025, 0.04), (0.06, 0.09), (0.11, 0.16), (0.19, 0.28)];
const POUR_D: ByLevel = [(0.06, 0.09), (0.12, 0.17), (0.2, 0.28), (0.32, 0.42)];
/// Silver of a stain on unexposed coating, density.
const STAIN_D: ByLevel = [(0.07, 0.12), (0.17, 0.28), (0.36, 0.52), (0.65, 0.9)];
const STAIN_MM: ByLevel = [(12.0, 16.0), (12.0, 20.0), (16.0, 27.0), (22.0, 35.0)];
/// Length of a bare corner along an edge, millimetres.
const BARE_MM: ByLevel = [(3.0, 5.0), (5.5, 10.0), (9.0, 15.0), (12.0, 20.0)];
/// Share of the film that a scratch takes.
const TORN: ByLevel = [(0.15, 0.3), (0.35, 0.55), (0.55, 0.8), (0.8, 1.0)];

fn of(levels: ByLevel, level: u8) -> (f64, f64) {
    levels[usize::from(level.clamp(1, 4)) - 1]
}

pub(super) const CORNERS: [Corner; 4] = [
    Corner::TopLeft,
    Corner::TopRight,
    Corner::BottomRight,
    Corner::BottomLeft,
];

impl Draw {
    pub(super) fn at_level(&mut self, levels: ByLevel, level: u8) -> f64 {
        let (low, high) = of(levels, level);
        self.between(low, high)
    }

    fn edge(&mut self) -> Edge {
        Edge::ALL[self.0.random_range(0..4)]
    }

    fn corner(&mut self) -> Corner {
        CORNERS[self.0.random_range(0..4)]
    }

    fn ratio(&mut self, low: f64, high: f64) -> f64 {
        five(low * libm::pow(high / low, self.between(0.0, 1.0)))
    }

    pub(super) fn streaks(&mut self, level: u8, form: StreakForm, plate: &PlateRecipe) -> Planted {
        // What has no silver can lose none.
        let more = plate.kind == PlateKind::Blank;
        let sign = self.weighted(
            &[
                (StreakSign::Mixed, 0.5),
                (StreakSign::MoreSilver, 0.3),
                (StreakSign::LessSilver, 0.2),
            ],
            StreakSign::Mixed,
        );
        let from = self.edge();
        let sign = if more { StreakSign::MoreSilver } else { sign };
        let least_fog = if more { 0.6 } else { 0.03 };
        Planted::Streaks(match form {
            StreakForm::Dip => StreaksRecipe {
                level,
                form,
                from,
                count: self.0.random_range(15..=40),
                sign,
                contrast_d: self.at_level(DIP_D, level),
                width_mm: self.ratio(0.4, 0.95),
                width_spread: self.between(0.15, 0.35),
                strength_spread: self.between(0.2, 0.45),
                tilt_deg: self.between(-2.5, 2.5),
                radius_mm: None,
                fog_share: self.between(least_fog, 1.0),
            },
            StreakForm::Developer => {
                let side = if self.yes(0.5) { 1.0 } else { -1.0 };
                StreaksRecipe {
                    level,
                    form,
                    from,
                    count: self.0.random_range(3..=7),
                    sign,
                    contrast_d: self.at_level(DEVELOPER_D, level),
                    width_mm: self.ratio(1.5, 3.6),
                    width_spread: self.between(0.1, 0.3),
                    strength_spread: self.between(0.1, 0.3),
                    tilt_deg: self.between(-7.0, 7.0),
                    radius_mm: Some(five(side * self.between(200.0, 700.0))),
                    fog_share: self.between(least_fog, 1.0),
                }
            }
        })
    }

    pub(super) fn dip_line(&mut self, level: u8, plate: &PlateRecipe) -> Planted {
        let run = if self.yes(0.6) {
            LineRun::Across
        } else {
            LineRun::Down
        };
        let side = match run {
            LineRun::Across => plate.height_mm,
            LineRun::Down => plate.width_mm,
        };
        let strength = self.at_level(LINE_D, level);
        let blank = plate.kind == PlateKind::Blank;
        let sign = if blank || self.yes(0.55) { 1.0 } else { -1.0 };
        let step = self.yes(0.3);
        let step_d = sign * strength * self.between(0.3, 0.6);
        Planted::DipLine(DipLineRecipe {
            level,
            run,
            at_mm: five(side * self.between(0.12, 0.88)),
            tilt_deg: self.between(-2.0, 2.0),
            width_mm: self.ratio(0.2, 1.2),
            contrast_d: five(sign * strength),
            step_d: if step { five(step_d) } else { 0.0 },
            fog_share: self.between(if blank { 0.8 } else { 0.2 }, 1.0),
        })
    }

    pub(super) fn ridges(&mut self, level: u8, plate: &PlateRecipe) -> Planted {
        let corner = self.corner();
        let form = self.weighted(
            &[
                (RidgeForm::Edge, 0.4),
                (RidgeForm::Diagonal, 0.4),
                (RidgeForm::Step, 0.2),
            ],
            RidgeForm::Edge,
        );
        let sides = Edge::of_corner(corner);
        let edge = sides[self.0.random_range(0..2)];
        let spacing_mm = self.between(2.0, 5.0);
        let waves = self.between(6.0, 14.0);
        let short = plate.width_mm.min(plate.height_mm);
        let reach_mm = match form {
            RidgeForm::Step => five(short * self.between(0.3, 0.7)),
            RidgeForm::Edge | RidgeForm::Diagonal => five((spacing_mm * waves).clamp(20.0, 45.0)),
        };
        Planted::Ridges(RidgesRecipe {
            level,
            form,
            corner,
            edge,
            spacing_mm,
            reach_mm,
            contrast_d: self.at_level(RIDGE_D, level),
            tilt_deg: self.between(-4.5, 4.5),
        })
    }

    pub(super) fn uneven_pour(&mut self, level: u8) -> Planted {
        Planted::UnevenPour(UnevenPourRecipe {
            level,
            form: if self.yes(0.6) {
                PourForm::Wedge
            } else {
                PourForm::DoubleFlow
            },
            corner: self.corner(),
            range_d: self.at_level(POUR_D, level),
            bend: self.between(0.9, 1.6),
        })
    }

    pub(super) fn bare_area(&mut self, level: u8, plate: &PlateRecipe) -> Planted {
        let middle =
            [plate.width_mm, plate.height_mm].map(|side| five(side * self.between(0.2, 0.8)));
        let corner = self.corner();
        let island = self.yes(0.25);
        Planted::BareArea(BareAreaRecipe {
            level,
            place: if island {
                BarePlace::Island(middle)
            } else {
                BarePlace::Corner(corner)
            },
            a_mm: self.at_level(BARE_MM, level),
            b_mm: self.at_level(BARE_MM, level),
            round: if island {
                self.between(1.8, 2.3)
            } else {
                self.between(1.1, 1.6)
            },
            lip_d: self.between(0.08, 0.3),
        })
    }

    pub(super) fn stain(&mut self, level: u8, plate: &PlateRecipe) -> Planted {
        let form = self.weighted(
            &[
                (StainForm::Oyster, 0.5),
                (StainForm::Curtain, 0.25),
                (StainForm::Drain, 0.25),
            ],
            StainForm::Oyster,
        );
        let edge = self.edge();
        let corner = self.corner();
        let from_edge = form == StainForm::Curtain || self.yes(0.5);
        let side = match edge {
            Edge::Top | Edge::Bottom => plate.width_mm,
            Edge::Left | Edge::Right => plate.height_mm,
        };
        Planted::Stain(StainRecipe {
            level,
            form,
            from: if from_edge {
                Brink::Edge(edge)
            } else {
                Brink::Corner(corner)
            },
            at_mm: five(side * self.between(0.15, 0.85)),
            size_mm: self.at_level(STAIN_MM, level),
            peak_d: self.at_level(STAIN_D, level),
        })
    }

    pub(super) fn scratch(&mut self, level: u8) -> Planted {
        Planted::Scratch(ScratchRecipe {
            level,
            count: self.0.random_range(1..=3),
            width_mm: self.ratio(0.09, 0.28),
            length_mm: self.ratio(12.0, 55.0),
            open: self.at_level(TORN, level),
            bend: if self.yes(0.5) {
                self.between(0.01, 0.06)
            } else {
                0.0
            },
        })
    }
}
