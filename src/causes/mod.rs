//! From findings to what may have caused them.
//!
//! Comes in: [`Finding`](crate::findings::Finding)s, what the plate is and what the maker said. Goes
//! out: [`Ranked`], the likely causes, best first, with reasons, remedy, next check and cautions.
//! Units: probabilities, 0 to 1; information in bits; costs in minutes. Not here: numbers of the
//! plate (`measures`); weights live in `catalogue.toml` and `catalogue/`, never in code.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

mod axes;
pub mod catalogue;
mod evidence;
#[cfg(test)]
mod made;
mod movement;
mod next_check;
mod notes;
mod places;
mod rank;
mod rules;
mod session;
mod session_signs;
mod tails;
pub mod told;
mod verdicts;

pub use catalogue::{Basis, Catalogue, CatalogueError, Cause, Check};
pub use evidence::{Answer, PlateFacts};
pub use movement::Movement;
pub use notes::says_one_axis;
pub use rank::rank;
pub use session::{SessionRanked, rank_session};
pub use session_signs::{SessionPlate, Shares, session_signs};
pub use verdicts::{Says, Verdict};

/// Where a cause sits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    Chemistry,
    Handling,
    Equipment,
    Scan,
}

impl Side {
    /// All of them.
    pub const ALL: [Side; 4] = [Side::Chemistry, Side::Handling, Side::Equipment, Side::Scan];
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
    /// Probability that it is behind the finding, if the finding is real.
    pub probability: f64,
    /// What speaks for it, with the plate's own numbers.
    pub because: Vec<String>,
    /// What speaks against it.
    pub against: Vec<String>,
    /// What to do about it.
    pub remedy: String,
    /// The check that would confirm or clear it.
    pub check_next: String,
    /// The name of that check, for the maker's answer; empty when there is none.
    #[serde(default)]
    pub check: String,
    /// What can hurt.
    pub cautions: Vec<String>,
    /// Where the trade says so.
    pub sources: Vec<String>,
}

/// What is left beside the causes that are named for one finding.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Rest {
    /// Probability of the catalogue's other causes together.
    pub other_causes: f64,
    /// Probability that none of the catalogue's causes is behind it.
    pub none_of_these: f64,
}

/// The check that tells most for its cost.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NextCheck {
    /// The name of the check, for the maker's answer.
    #[serde(default)]
    pub check: String,
    /// What to do.
    pub words: String,
    /// What "yes" would look like.
    pub yes: String,
    /// Expected gain, bits, averaged over the plate's findings by their confidence.
    pub gain_bits: f64,
    /// Work, minutes.
    pub minutes: f64,
    /// Silver nitrate that its plates take, grams.
    pub silver_g: f64,
    /// The named causes that a yes would point to, most likely first.
    pub for_causes: Vec<String>,
    /// What can hurt.
    pub cautions: Vec<String>,
}

/// The causes of one plate's findings, weighed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Ranked {
    /// For each finding, in their order: its causes, most likely first. Their probabilities and the
    /// finding's [`Rest`] sum to one.
    pub per_finding: Vec<Vec<LikelyCause>>,
    /// For each finding, what is left beside the named causes.
    pub rest: Vec<Rest>,
    /// Causes at work on this plate, most likely first. Several may be at work at once, so these do
    /// not sum to one.
    pub plate: Vec<LikelyCause>,
    /// The check that tells most for its cost; `None` when no check would tell anything.
    pub check_next: Option<NextCheck>,
}
