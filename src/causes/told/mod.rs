//! From a maker's own words to likely causes, without a scan.
//!
//! Comes in: an [`Account`]. Goes out: [`ToldRanked`], causes with their probabilities and the words that
//! speak for and against each. Units: probabilities, 0 to 1. Not here: findings of a scan (`rank.rs`).
//!
//! What people say is cut into clauses and brought to common words ([`words`]); every clause is compared
//! with the phrases of the catalogue that tell one cause from its rivals ([`likeness`]); the likenesses are
//! weighed into odds ([`weigh`]). The phrases are data in `catalogue/looks_*.toml` and `told_*.toml`.

mod account;
mod entries;
mod likeness;
mod weigh;
mod words;

pub use account::Account;
pub use entries::{Entries, Look, Telling, ToldWeights};
pub use weigh::{Accounts, ToldLook, ToldRanked};

/// The files of looks and tellings that come with the program, beside the words that makers use.
pub(super) const BUILT_IN: &[(&str, &str)] = &[(
    "catalogue/words.toml",
    include_str!("../catalogue/words.toml"),
)];
