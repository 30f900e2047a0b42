//! From a maker's own words to likely causes, without a scan.
//!
//! Comes in: an [`Account`]. Goes out: [`ToldRanked`], causes with their probabilities and the words that
//! speak for and against each. Units: probabilities, 0 to 1. Not here: findings of a scan (`rank.rs`).
//!
//! What people say is cut into clauses and brought to common words (`words`); every clause is compared
//! with the phrases of the catalogue that tell one cause from its rivals (`likeness`); the likenesses are
//! weighed into odds (`weigh`). The phrases are data in `catalogue/looks_*.toml` and `told_*.toml`.

mod account;
mod entries;
mod likeness;
mod weigh;
mod words;

pub use account::Account;
pub use entries::{Entries, Look, Telling, ToldWeights};
pub use weigh::{Accounts, ToldLook, ToldRanked};

/// The files of looks and tellings that come with the program, beside the words that makers use. A new file is
/// added here.
pub(super) const BUILT_IN: &[(&str, &str)] = &[
    (
        "catalogue/words.toml",
        include_str!("../catalogue/words.toml"),
    ),
    (
        "catalogue/looks_coat.toml",
        include_str!("../catalogue/looks_coat.toml"),
    ),
    (
        "catalogue/looks_developer.toml",
        include_str!("../catalogue/looks_developer.toml"),
    ),
    (
        "catalogue/looks_film.toml",
        include_str!("../catalogue/looks_film.toml"),
    ),
    (
        "catalogue/looks_finish.toml",
        include_str!("../catalogue/looks_finish.toml"),
    ),
    (
        "catalogue/looks_fog.toml",
        include_str!("../catalogue/looks_fog.toml"),
    ),
    (
        "catalogue/looks_lines.toml",
        include_str!("../catalogue/looks_lines.toml"),
    ),
    (
        "catalogue/looks_scan.toml",
        include_str!("../catalogue/looks_scan.toml"),
    ),
    (
        "catalogue/looks_spots.toml",
        include_str!("../catalogue/looks_spots.toml"),
    ),
    (
        "catalogue/looks_stains.toml",
        include_str!("../catalogue/looks_stains.toml"),
    ),
    (
        "catalogue/looks_tone.toml",
        include_str!("../catalogue/looks_tone.toml"),
    ),
    (
        "catalogue/told_coat.toml",
        include_str!("../catalogue/told_coat.toml"),
    ),
    (
        "catalogue/told_dark.toml",
        include_str!("../catalogue/told_dark.toml"),
    ),
    (
        "catalogue/told_developer.toml",
        include_str!("../catalogue/told_developer.toml"),
    ),
    (
        "catalogue/told_film.toml",
        include_str!("../catalogue/told_film.toml"),
    ),
    (
        "catalogue/told_finish.toml",
        include_str!("../catalogue/told_finish.toml"),
    ),
    (
        "catalogue/told_fog.toml",
        include_str!("../catalogue/told_fog.toml"),
    ),
    (
        "catalogue/told_hands.toml",
        include_str!("../catalogue/told_hands.toml"),
    ),
    (
        "catalogue/told_lines.toml",
        include_str!("../catalogue/told_lines.toml"),
    ),
    (
        "catalogue/told_scan.toml",
        include_str!("../catalogue/told_scan.toml"),
    ),
    (
        "catalogue/told_spots.toml",
        include_str!("../catalogue/told_spots.toml"),
    ),
    (
        "catalogue/told_stains.toml",
        include_str!("../catalogue/told_stains.toml"),
    ),
    (
        "catalogue/told_tone.toml",
        include_str!("../catalogue/told_tone.toml"),
    ),
];
