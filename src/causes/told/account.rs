//! What a maker says of a spoilt plate.

use serde::{Deserialize, Serialize};

use super::entries::Facet;

/// A maker's account, in their own words. Every part may be missing; parts that are not known here are
/// passed over.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct Account {
    /// `negative`, `positive`, or anything else for either.
    pub plate: String,
    /// How light or dark it is.
    pub tone: String,
    /// Its shape.
    pub shape: String,
    /// Where on the plate.
    #[serde(rename = "where")]
    pub place: String,
    /// Which way it runs.
    pub direction: String,
    /// When it was first seen.
    pub first_noticed: String,
    /// What else is known: what was done, tried, proved.
    pub context: Vec<String>,
}

impl Account {
    /// An account given as free words, such as "comets, tails to the drain corner, only the first plate".
    pub fn of_words(words: &str) -> Account {
        let mut account = Account::default();
        for clause in words.split([',', ';', '.', '\n']) {
            let clause = clause.trim();
            if !clause.is_empty() {
                account.context.push(clause.to_owned());
            }
        }
        account
    }

    /// Whether nothing at all is said.
    pub fn is_empty(&self) -> bool {
        self.sayings().next().is_none()
    }

    /// Each saying with what it is about; `None` for what is about anything.
    pub(super) fn sayings(&self) -> impl Iterator<Item = (Option<Facet>, &str)> {
        [
            (Facet::Tone, &self.tone),
            (Facet::Shape, &self.shape),
            (Facet::Place, &self.place),
            (Facet::Direction, &self.direction),
            (Facet::FirstSeen, &self.first_noticed),
        ]
        .into_iter()
        .map(|(facet, words)| (Some(facet), words.as_str()))
        .chain(self.context.iter().map(|words| (None, words.as_str())))
        .filter(|(_, words)| !matches!(words.trim(), "" | "none"))
    }
}
