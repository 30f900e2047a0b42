//! Faults of the whole picture: too little between blacks and lights, and what the fixer left.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::handling::Corner;

/// A value to check: name, value, least, most.
type Range = (&'static str, f64, f64, f64);

/// What went wrong on the way to a flat image.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum FlatForm {
    /// Exposed too long: the blacks of the picture are filled, the border stays clear.
    OverExposed,
    /// Silver was lost or never there: the lights stay weak, the blacks stay clear.
    WeakLights,
    /// A stale bath, or developed too long: blacks veiled, border and all, and lights weak.
    Stale,
}

/// Too little between the blacks and the lights.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FlatImageRecipe {
    /// Strength meant, 1 to 4.
    pub level: u8,
    pub form: FlatForm,
    /// Share of every difference in density that is left.
    pub keeps: f64,
    /// The tone that stays as it is, as a share of the way from unexposed to full silver: what lies below
    /// gains silver, what lies above loses some.
    pub pivot: f64,
}

/// Colour of what the fixer left.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Cast {
    /// Cream to yellow.
    Cream,
    /// Blue-white, as thin milk looks over black. By light from behind it is yellow like the other.
    BlueWhite,
}

/// Silver salt that the fixer left in the film: milky patches where the film is thick.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct UnderfixedRecipe {
    /// Strength meant, 1 to 4.
    pub level: u8,
    pub cast: Cast,
    /// Where the film is thickest, if a patch lies there.
    pub corner: Option<Corner>,
    /// Patches elsewhere.
    pub patches: u32,
    /// About half the width of a patch, millimetres.
    pub size_mm: f64,
    /// On a positive: light that the milk sends back where it is thickest, as a share of white. On a
    /// negative: density that it adds there.
    pub milk: f64,
}

impl FlatImageRecipe {
    pub(super) fn ranges(&self) -> Vec<Range> {
        vec![
            ("flat_image keeps", self.keeps, 0.02, 1.0),
            ("flat_image pivot", self.pivot, 0.0, 1.0),
        ]
    }
}

impl UnderfixedRecipe {
    pub(super) fn ranges(&self) -> Vec<Range> {
        vec![
            ("underfixed patches", f64::from(self.patches), 0.0, 40.0),
            ("underfixed size_mm", self.size_mm, 0.5, 60.0),
            ("underfixed milk", self.milk, 0.0, 1.0),
        ]
    }

    /// Some patch somewhere.
    pub(super) fn has_patches(&self) -> bool {
        self.patches > 0 || self.corner.is_some()
    }
}
