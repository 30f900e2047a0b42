//! The catalogue: causes, checks, cautions and sources as data, read and checked for sense.

use std::collections::BTreeMap;

use rayon::prelude::*;
use serde::Deserialize;

use super::{Side, rules};
use crate::findings::{Fault, Sign, SignName};
use parts::{Parts, parse};

mod parts;

/// The version of the catalogue's form that this program reads.
const SCHEMA: &str = "oystermark/causes/1";

/// The source key that stands for "common practice", which has no book.
pub(super) const COMMON_PRACTICE: &str = "common_practice";

/// The files of the built-in catalogue. A new file of causes is added here.
const BUILT_IN: &[(&str, &str)] = &[
    ("catalogue.toml", include_str!("catalogue.toml")),
    (
        "catalogue/checks.toml",
        include_str!("catalogue/checks.toml"),
    ),
    ("catalogue/bath.toml", include_str!("catalogue/bath.toml")),
    (
        "catalogue/developer.toml",
        include_str!("catalogue/developer.toml"),
    ),
    ("catalogue/room.toml", include_str!("catalogue/room.toml")),
    (
        "catalogue/holder.toml",
        include_str!("catalogue/holder.toml"),
    ),
    ("catalogue/marks.toml", include_str!("catalogue/marks.toml")),
    ("catalogue/pour.toml", include_str!("catalogue/pour.toml")),
    (
        "catalogue/varnish.toml",
        include_str!("catalogue/varnish.toml"),
    ),
    ("catalogue/scan.toml", include_str!("catalogue/scan.toml")),
    (
        "catalogue/checks_film.toml",
        include_str!("catalogue/checks_film.toml"),
    ),
    ("catalogue/dip.toml", include_str!("catalogue/dip.toml")),
    ("catalogue/sweep.toml", include_str!("catalogue/sweep.toml")),
    ("catalogue/coat.toml", include_str!("catalogue/coat.toml")),
    (
        "catalogue/stains.toml",
        include_str!("catalogue/stains.toml"),
    ),
    (
        "catalogue/scan_lines.toml",
        include_str!("catalogue/scan_lines.toml"),
    ),
    (
        "catalogue/checks_tone.toml",
        include_str!("catalogue/checks_tone.toml"),
    ),
    ("catalogue/film.toml", include_str!("catalogue/film.toml")),
    ("catalogue/tone.toml", include_str!("catalogue/tone.toml")),
    (
        "catalogue/fixing.toml",
        include_str!("catalogue/fixing.toml"),
    ),
];

/// Why a catalogue cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CatalogueError {
    /// The text is not TOML.
    #[error("{file} is not readable as TOML: {problem}; mend the line it names")]
    NotToml { file: String, problem: String },
    /// One entry cannot be read or contradicts itself.
    #[error("{file}: {entry}: {problem}")]
    Entry {
        file: String,
        entry: String,
        problem: String,
    },
}

/// On what a statement of the catalogue rests.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Basis {
    /// Read in a source that is named.
    Source,
    /// What the trade does; no source.
    CommonPractice,
    /// Believed to be so, not read in a source.
    Memory,
    /// Our own weighing.
    Judgement,
}

/// How often a cause is behind a fault, in the words of the trade's books.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Often {
    Usual,
    Sometimes,
    Rare,
}

impl Often {
    /// The word used in the catalogue.
    pub fn word(self) -> &'static str {
        match self {
            Often::Usual => "usual",
            Often::Sometimes => "sometimes",
            Often::Rare => "rare",
        }
    }
}

/// The numbers that all causes share; each is explained in `catalogue.toml`.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Weights {
    /// Odds of the word "usual", relative to the others.
    pub usual: f64,
    /// Odds of the word "sometimes".
    pub sometimes: f64,
    /// Odds of the word "rare".
    pub rare: f64,
    /// Prior probability that no listed cause is behind a fault, 0 to 1.
    pub none_of_these: f64,
    /// Exponent on the product of all sign ratios, above 0, at most 1.
    pub temper: f64,
    /// Share of the first cause's probability from which the second counts as its equal, 0 to 1.
    pub tie_ratio: f64,
    /// Causes named for one finding.
    pub listed_causes: usize,
    /// Silver nitrate a plate takes, milligrams a square centimetre.
    pub silver_mg_per_cm2: f64,
    /// Size of a plate where it is not known, square centimetres.
    pub usual_plate_cm2: f64,
    /// What any check costs before it begins, minutes.
    pub start_minutes: f64,
    /// What a gram of silver nitrate is worth, minutes.
    pub minutes_per_silver_g: f64,
}

impl Weights {
    /// Odds of a word.
    pub fn odds(&self, often: Often) -> f64 {
        match often {
            Often::Usual => self.usual,
            Often::Sometimes => self.sometimes,
            Often::Rare => self.rare,
        }
    }
}

/// What a sign is worth for one cause.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SignWeight {
    /// Factor on the odds when the sign holds: P(sign | cause) / P(sign | none of these).
    pub seen: f64,
    /// Factor when the sign was looked for and is absent.
    pub absent: f64,
    /// Where the numbers' direction comes from; the numbers themselves are judgement.
    #[serde(default = "judgement")]
    pub basis: Basis,
    /// Half a sentence that says why, to stand after a colon; may be empty.
    #[serde(default)]
    pub why: String,
    /// The same for an absent sign, where `why` would not fit.
    #[serde(default)]
    pub why_absent: Option<String>,
}

impl SignWeight {
    /// Factor on the odds of the cause. A sign of direction is worth the more the closer the marks lie: hands
    /// that follow the way are mixed with others that may point anywhere.
    pub fn factor(&self, sign: &Sign) -> f64 {
        match sign.closeness {
            Some(closeness) => self.absent + (self.seen - self.absent) * closeness,
            None if sign.holds => self.seen,
            None => self.absent,
        }
    }

    /// Half a sentence that says why; may be empty.
    pub fn why(&self, holds: bool) -> &str {
        match &self.why_absent {
            Some(why) if !holds => why,
            _ => &self.why,
        }
    }
}

fn judgement() -> Basis {
    Basis::Judgement
}

/// A check that confirms or clears causes.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Check {
    /// What to do.
    pub words: String,
    /// What "yes" looks like.
    pub answer: String,
    /// Other words by which a maker may name its "yes" when they give back what they found.
    #[serde(default)]
    pub said: Vec<String>,
    /// Work, minutes.
    pub minutes: f64,
    /// Plates it uses up.
    #[serde(default)]
    pub plates: u32,
    /// Where the check comes from.
    pub basis: Basis,
    /// Chance of a yes for every cause not named in `yes_if`, and for none of these.
    pub otherwise: f64,
    /// The sign that answers it: where that is known of a plate, the check is not asked for.
    #[serde(default)]
    pub settled_by: Option<SignName>,
    /// Chance of a yes when that cause is the one.
    pub yes_if: BTreeMap<String, f64>,
}

impl Check {
    /// Chance of a yes when the cause of that name is the one (`None`: none of the catalogue's).
    pub fn chance_of_yes(&self, cause: Option<&str>) -> f64 {
        cause
            .and_then(|id| self.yes_if.get(id))
            .copied()
            .unwrap_or(self.otherwise)
    }

    /// What an answer is worth: factor on the odds of that cause against none of these.
    pub fn factor(&self, cause: &str, yes: bool) -> f64 {
        let chance = self.chance_of_yes(Some(cause));
        if yes {
            chance / self.otherwise
        } else {
            (1.0 - chance) / (1.0 - self.otherwise)
        }
    }
}

/// A printed source.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Source {
    pub author: String,
    pub title: String,
    pub year: String,
    /// Page, paragraph or chapter.
    pub place: String,
}

impl Source {
    /// One line for people.
    pub fn line(&self) -> String {
        format!(
            "{}, {}, {}, {}",
            self.author, self.title, self.year, self.place
        )
    }
}

/// A caution and the words that call for it.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Caution {
    /// Starts of words in a remedy or check that call for this caution, lower case.
    pub words: Vec<String>,
    /// What can hurt and what guards against it.
    pub text: String,
}

/// One cause.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Cause {
    /// Its name.
    pub id: String,
    /// One line for people.
    pub title: String,
    /// Where it sits.
    pub side: Side,
    /// On what it rests.
    pub basis: Basis,
    /// Keys of sources, or `common_practice`.
    pub sources: Vec<String>,
    /// How often it is behind its faults.
    pub prior: Often,
    /// Where that word comes from.
    pub prior_basis: Basis,
    /// The faults it can show as, and how readily (0 to 1).
    pub faults: BTreeMap<Fault, f64>,
    /// Sets of signs it shares with others; earlier ones go before later ones.
    #[serde(default)]
    pub patterns: Vec<String>,
    /// What to do about it.
    pub remedy: String,
    /// On what the remedy rests; `None`: on the same as the cause.
    #[serde(default)]
    pub remedy_basis: Option<Basis>,
    /// Checks that confirm or clear it, its own first.
    pub checks: Vec<String>,
    /// What signs are worth; after reading, those of the patterns are in here too.
    #[serde(default)]
    pub signs: BTreeMap<SignName, SignWeight>,
    /// Keys of the cautions that its remedy and checks call for; filled while reading.
    #[serde(skip)]
    pub cautions: Vec<String>,
}

/// All causes with what they share.
#[derive(Debug, Clone, PartialEq)]
pub struct Catalogue {
    pub weights: Weights,
    /// In the order of the files.
    pub causes: Vec<Cause>,
    pub checks: BTreeMap<String, Check>,
    pub sources: BTreeMap<String, Source>,
    pub cautions: BTreeMap<String, Caution>,
    /// Stands after every caution.
    pub caution_ending: String,
    /// Starts of words that no remedy and no check may contain.
    pub never: Vec<String>,
}

impl Catalogue {
    /// The catalogue that comes with the program.
    ///
    /// # Errors
    /// Names the entry that contradicts the rules, should one ever slip through the tests.
    pub fn built_in() -> Result<Catalogue, CatalogueError> {
        Catalogue::from_files(BUILT_IN)
    }

    /// A catalogue from one text that holds everything.
    ///
    /// # Errors
    /// [`CatalogueError`], naming the entry and what is wrong with it.
    pub fn from_toml(text: &str) -> Result<Catalogue, CatalogueError> {
        Catalogue::from_files(&[("catalogue", text)])
    }

    /// A catalogue from several texts, each with the name to use in errors. What all causes share
    /// (`weights`, `cautions`, `never`) stands in the first; causes, checks, sources and patterns may
    /// stand in any.
    ///
    /// # Errors
    /// [`CatalogueError`], naming the file, the entry and what is wrong with it.
    pub fn from_files(files: &[(&str, &str)]) -> Result<Catalogue, CatalogueError> {
        // Every read of a scan waits for the catalogue, and most of its time is parsing.
        let tables: Vec<_> = files
            .par_iter()
            .map(|(file, text)| parse(file, text))
            .collect();
        let mut parts = Parts::default();
        for ((file, _), table) in files.iter().zip(tables) {
            parts.read(file, table?)?;
        }
        let catalogue = parts.assemble()?;
        rules::check(&catalogue).map_err(|(entry, problem)| CatalogueError::Entry {
            file: parts.file_of(&entry),
            entry,
            problem,
        })?;
        Ok(catalogue)
    }

    /// The cause of that name.
    pub fn cause(&self, id: &str) -> Option<&Cause> {
        self.causes.iter().find(|cause| cause.id == id)
    }

    /// The sources of a cause, one line each; says so when there is none.
    pub fn source_lines(&self, cause: &Cause) -> Vec<String> {
        if cause.sources.is_empty() {
            return vec![
                match cause.basis {
                    Basis::Source | Basis::CommonPractice => "common practice, no source",
                    Basis::Memory => "from memory, no source",
                    Basis::Judgement => "our own judgement, no source",
                }
                .to_string(),
            ];
        }
        cause
            .sources
            .iter()
            .filter_map(|key| match key.as_str() {
                COMMON_PRACTICE => Some("common practice, no source".to_string()),
                key => self.sources.get(key).map(Source::line),
            })
            .collect()
    }

    /// The cautions of those keys, each with the line that defers to codes, supplier and licence.
    pub fn caution_lines(&self, keys: &[String]) -> Vec<String> {
        keys.iter()
            .filter_map(|key| self.cautions.get(key))
            .map(|caution| format!("{} {}", caution.text, self.caution_ending))
            .collect()
    }

    /// Keys of the cautions that words of people call for.
    pub(super) fn cautions_for(&self, words: &[&str]) -> Vec<String> {
        self.cautions
            .iter()
            .filter(|(_, caution)| {
                words
                    .iter()
                    .any(|text| rules::word_in(text, &caution.words).is_some())
            })
            .map(|(key, _)| key.clone())
            .collect()
    }
}

pub(super) fn wrong(file: &str, name: &str, problem: impl Into<String>) -> CatalogueError {
    CatalogueError::Entry {
        file: file.to_string(),
        entry: name.to_string(),
        problem: problem.into(),
    }
}

/// One entry of the file as the type it must have.
pub(super) fn entry<T: serde::de::DeserializeOwned>(
    file: &str,
    name: &str,
    value: toml::Value,
) -> Result<T, CatalogueError> {
    value
        .try_into()
        .map_err(|error: toml::de::Error| wrong(file, name, error.message().to_string()))
}
