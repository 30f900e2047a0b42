//! What a plate shows that speaks for one cause or another, by name.
//!
//! Measures and the maker's words set signs; the catalogue of causes weighs them. A sign that is
//! neither seen nor ruled out is simply not there.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Name of a sign.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum SignName {
    /// The border that the holder kept dark is fogged like the rest.
    BorderFogged,
    /// Fog enters from at least three edges.
    SeveralEdges,
    /// Fog enters from one edge only.
    OneEdge,
    /// The fog starts at a corner.
    FromCorner,
    /// The fog is a narrow tongue.
    NarrowTongue,
    /// The plate is an unexposed test plate.
    Unexposed,
}

/// A sign seen (or seen to be absent) on this plate, with the plate's own numbers in words.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Sign {
    /// Which sign.
    pub name: SignName,
    /// True when seen, false when looked for and absent.
    pub holds: bool,
    /// Plain words with the plate's own numbers, to stand after "because".
    pub words: String,
}
