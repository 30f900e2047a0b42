//! From findings to what may have caused them.
//!
//! Comes in: [`Finding`](crate::findings::Finding)s and what the maker said. Goes out:
//! [`LikelyCause`]s, best first, each with reasons for and against, remedy, next check, cautions.
//! Units: probabilities, 0 to 1. Not here: numbers of the plate (`measures`); weights live in
//! `catalogue.toml`, never in code.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Where a cause sits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    Chemistry,
    Handling,
    Equipment,
    Scan,
}

/// One possible cause of a finding, weighed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LikelyCause {
    /// Its name in the catalogue.
    pub cause: String,
    /// One line for people.
    pub title: String,
    /// Chemistry, handling, equipment or the scan itself.
    pub side: Side,
    /// Probability that it is behind the finding.
    pub probability: f64,
    /// What speaks for it, with the plate's own numbers.
    pub because: Vec<String>,
    /// What speaks against it.
    pub against: Vec<String>,
    /// What to do about it.
    pub remedy: String,
    /// The check that would confirm or clear it.
    pub check_next: String,
    /// What can hurt.
    pub cautions: Vec<String>,
    /// Where the trade says so.
    pub sources: Vec<String>,
}
