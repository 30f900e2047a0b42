//! How the maker poured, dipped, swept and scanned the plate, as far as they said.
//!
//! Comes in: what the command line (later a file or a session sheet) states. Goes out: [`Handling`].
//! Angles are degrees in the plate frame: axes clockwise from the vertical, 0 to 180; directions
//! clockwise from twelve o'clock, 0 to 360. Not here: what it means for a finding (`causes`).

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A corner of the plate as it lies in the scan.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Corner {
    TopLeft,
    TopRight,
    BottomRight,
    BottomLeft,
}

/// Who stated the handling.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum HandlingSource {
    CommandLine,
    Sheet,
    File,
}

/// What the maker said about one plate; every field may be missing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Handling {
    /// Axis along which the plate went into the silver bath, degrees, 0 to 180.
    pub dip_axis_deg: Option<f64>,
    /// Direction toward which the developer was swept, degrees, 0 to 360.
    pub developer_direction_deg: Option<f64>,
    /// Corner at which the collodion was drained.
    pub drain_corner: Option<Corner>,
    /// Where the statement comes from.
    pub source: HandlingSource,
}
