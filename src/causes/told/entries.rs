//! The entries of the catalogue that hold words: how a fault looks, and what makers tell of a cause.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::words::{Property, Word, WordList};
use crate::causes::catalogue::{self, Basis, COMMON_PRACTICE, Catalogue, CatalogueError, Often};
use crate::findings::Fault;

/// What a saying is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Facet {
    Tone,
    Shape,
    Place,
    Direction,
    FirstSeen,
}

/// How one fault of the trade looks.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Look {
    /// Its name.
    pub id: String,
    /// Its name in the trade's list of faults.
    pub row: String,
    /// One line for people.
    pub title: String,
    /// The report's label for it, where a scan can show it.
    #[serde(default)]
    pub fault: Option<Fault>,
    /// On what the description rests.
    pub basis: Basis,
    /// Keys of sources.
    #[serde(default)]
    pub sources: Vec<String>,
    /// What the trade calls it.
    pub names: Vec<String>,
    /// Its tone on a negative.
    #[serde(default)]
    pub negative: Vec<String>,
    /// Its tone on a positive.
    #[serde(default)]
    pub positive: Vec<String>,
    /// Its shape.
    #[serde(default)]
    pub shape: Vec<String>,
    /// Where it lies.
    #[serde(default)]
    pub place: Vec<String>,
    /// Which way it runs.
    #[serde(default)]
    pub direction: Vec<String>,
    /// When it is first seen.
    #[serde(default)]
    pub first_seen: Vec<String>,
    /// Looks that are easily taken for it.
    #[serde(default)]
    pub confused_with: Vec<String>,
}

/// What makers tell when a look has a cause.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Telling {
    /// Its name in the trade's list of causes.
    pub row: String,
    /// The look.
    pub look: String,
    /// The cause, as in the catalogue.
    pub cause: String,
    /// How often this cause is behind this look.
    pub often: Often,
    /// Where that word comes from.
    pub often_basis: Basis,
    /// On what `says` rests.
    pub basis: Basis,
    /// Keys of sources of `says`.
    #[serde(default)]
    pub sources: Vec<String>,
    /// Circumstances that the sources state.
    pub says: Vec<String>,
    /// Circumstances that a maker would report, by our own judgement.
    #[serde(default)]
    pub we_say: Vec<String>,
    /// What speaks for a rival.
    #[serde(default)]
    pub against: Vec<String>,
}

/// The numbers that turn likenesses of words into odds. All are our own judgement, set on made-up accounts.
#[derive(Debug, Clone, Copy, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ToldWeights {
    /// Weight of two words said together in one clause, beside that of a word alone.
    pub pair: f64,
    /// Weight of the very words beside what they stand for.
    pub own: f64,
    /// How much a denial takes away from a likeness, as a share of what an agreement adds.
    pub denial: f64,
    /// Weight that two phrases must share, in squares of the rarity of features, before their likeness counts in
    /// full: short phrases that share one common word are not alike.
    pub substance: f64,
    /// Logarithm of odds for a look that is told in the very words, for each facet.
    pub look: f64,
    /// Share of that for words that fit the look under another facet.
    pub other_facet: f64,
    /// Logarithm of odds for a look when something said at large fits it.
    pub look_at_large: f64,
    /// Logarithm of odds for a cause when something said at large fits it in the very words.
    pub cause: f64,
    /// The same when what is said of tone, shape and place fits it.
    pub cause_of_facet: f64,
    /// Logarithm of odds that the second best phrase adds, for something said at large.
    pub second: f64,
    /// The same for what is said of tone, shape and place.
    pub second_of_facet: f64,
    /// Logarithm of odds against a cause when what is said fits what speaks for its rivals.
    pub against: f64,
    /// Logarithm of odds against a cause when what is said denies one of its phrases.
    pub denied: f64,
    /// Logarithm of odds against a cause that is about something proved good.
    pub innocent: f64,
    /// Exponent on the prior odds of the words usual, sometimes, rare.
    pub prior: f64,
    /// Logarithm of odds of "none of these" for each saying, which a cause must make good.
    pub none_for_each: f64,
    /// Exponent on all of it, because sayings lean on each other.
    pub temper: f64,
}

/// All that makers' words are compared with.
#[derive(Debug, Clone, PartialEq)]
pub struct Entries {
    pub(super) words: WordList,
    /// The numbers that turn likenesses into odds.
    pub weights: ToldWeights,
    /// How faults look.
    pub looks: Vec<Look>,
    /// What makers tell of their causes.
    pub tellings: Vec<Telling>,
}

/// One file, as it is written.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(default)]
    weights: Option<ToldWeights>,
    #[serde(default)]
    deny: Vec<String>,
    #[serde(default)]
    empty: Vec<String>,
    #[serde(default)]
    innocent: Option<String>,
    #[serde(default)]
    group: BTreeMap<String, Vec<String>>,
    #[serde(default)]
    word: Vec<Word>,
    #[serde(default)]
    property: Vec<Property>,
    #[serde(default)]
    look: Vec<Look>,
    #[serde(default)]
    told: Vec<Telling>,
}

impl Look {
    /// Every phrase of it.
    pub(super) fn phrases(&self) -> Vec<String> {
        let tone = self.negative.iter().chain(&self.positive);
        let lie = self.shape.iter().chain(&self.place).chain(&self.direction);
        tone.chain(lie)
            .chain(&self.first_seen)
            .chain(&self.names)
            .cloned()
            .collect()
    }
}

impl Entries {
    /// Those that come with the program.
    ///
    /// # Errors
    /// Names the file and what is wrong with it, should one ever slip through the tests.
    pub fn built_in() -> Result<Entries, CatalogueError> {
        Entries::from_files(super::BUILT_IN)
    }

    /// Those of several texts, each with the name to use in errors. One of them holds the weights.
    ///
    /// # Errors
    /// [`CatalogueError`], naming the file and what is wrong with it.
    pub fn from_files(files: &[(&str, &str)]) -> Result<Entries, CatalogueError> {
        let mut all = Entries {
            words: WordList::default(),
            weights: ToldWeights::default(),
            looks: Vec::new(),
            tellings: Vec::new(),
        };
        let mut weights = None;
        for (name, text) in files {
            let file: File = toml::from_str(text).map_err(|error| CatalogueError::NotToml {
                file: (*name).to_owned(),
                problem: error.to_string().trim_end().to_owned(),
            })?;
            weights = weights.or(file.weights);
            all.words.deny.extend(file.deny);
            all.words.empty.extend(file.empty);
            if let Some(innocent) = file.innocent {
                all.words.innocent = innocent;
            }
            all.words.groups.extend(file.group);
            all.words.words.extend(file.word);
            all.words.properties.extend(file.property);
            all.looks.extend(file.look);
            all.tellings.extend(file.told);
        }
        let missing = || catalogue::wrong("catalogue/words.toml", "weights", "is missing");
        all.weights = weights.ok_or_else(missing)?;
        Ok(all)
    }

    /// Whether they make sense beside the catalogue.
    ///
    /// # Errors
    /// [`CatalogueError`], naming the entry and what is wrong with it.
    pub(super) fn check(&self, catalogue: &Catalogue) -> Result<(), CatalogueError> {
        let broken = |entry: String, problem: String| {
            Err(catalogue::wrong(
                "the tellings of the catalogue",
                &entry,
                problem,
            ))
        };
        let unknown = |sources: &[String]| {
            let known = |key: &&String| {
                catalogue.sources.contains_key(*key) || key.as_str() == COMMON_PRACTICE
            };
            sources.iter().find(|key| !known(key)).cloned()
        };
        for cause in &catalogue.causes {
            let told = self
                .tellings
                .iter()
                .any(|telling| telling.cause == cause.id);
            if cause.faults.is_empty() && !told {
                let problem = "shows as no fault of a scan and is told under no look";
                return broken(format!("cause {}", cause.id), problem.into());
            }
        }
        if let Some(word) = self.words.ambiguous() {
            let problem = format!("\"{word}\" stands for two things; leave it with one of them");
            return broken("words".into(), problem);
        }
        for (at, look) in self.looks.iter().enumerate() {
            let entry = format!("look {}", look.id);
            if self.looks.iter().take(at).any(|other| other.id == look.id) {
                return broken(entry, "is there twice".into());
            }
            if let Some(source) = unknown(&look.sources) {
                return broken(
                    entry,
                    format!("names the source {source}, which is not there"),
                );
            }
            if look.names.is_empty() || look.phrases().iter().any(|words| words.trim().is_empty()) {
                return broken(entry, "needs a name, and no phrase may be empty".into());
            }
            if !self.tellings.iter().any(|telling| telling.look == look.id) {
                return broken(entry, "has no cause: nothing is told under it".into());
            }
            let known = |id: &&String| self.looks.iter().any(|other| other.id == **id);
            if let Some(other) = look.confused_with.iter().find(|id| !known(id)) {
                return broken(entry, format!("names the look {other}, which is not there"));
            }
        }
        for telling in &self.tellings {
            let entry = format!("told {}", telling.row);
            if !self.looks.iter().any(|look| look.id == telling.look) {
                let problem = format!("names the look {}, which is not there", telling.look);
                return broken(entry, problem);
            }
            if catalogue.cause(&telling.cause).is_none() {
                let problem = format!("names the cause {}, which is not there", telling.cause);
                return broken(entry, problem);
            }
            if let Some(source) = unknown(&telling.sources) {
                return broken(
                    entry,
                    format!("names the source {source}, which is not there"),
                );
            }
            if telling.basis == Basis::Source && telling.sources.is_empty() {
                return broken(entry, "rests on a source and names none".into());
            }
            if telling.says.len() + telling.we_say.len() == 0 {
                return broken(entry, "tells nothing".into());
            }
        }
        Ok(())
    }
}
