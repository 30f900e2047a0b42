//! Words of makers and books, brought to one word each.
//!
//! A clause becomes features: the things and properties named in it, each said or denied, and every pair of
//! them, because "bath old, collodion fresh" is not "bath fresh, collodion old". Endings are cut off by the
//! English Snowball stemmer (Porter, 2001, from memory).

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

use rust_stemmers::{Algorithm, Stemmer};
use serde::Deserialize;

/// One thing and what people call it.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Word {
    pub(super) is: String,
    pub(super) says: Vec<String>,
}

/// Something that can be so or the other way round.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Property {
    pub(super) is: String,
    pub(super) low: Vec<String>,
    pub(super) high: Vec<String>,
}

/// All words as they stand in the file.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct WordList {
    pub(super) words: Vec<Word>,
    pub(super) properties: Vec<Property>,
    pub(super) deny: Vec<String>,
    pub(super) empty: Vec<String>,
    /// The word by which something is said to be proved good.
    pub(super) innocent: String,
    /// Words that stand for several things at once.
    pub(super) groups: BTreeMap<String, Vec<String>>,
}

impl WordList {
    /// A word that is said of two things.
    pub(super) fn ambiguous(&self) -> Option<&str> {
        let things = self.words.iter().flat_map(|word| word.says.iter());
        let properties = self
            .properties
            .iter()
            .flat_map(|p| p.low.iter().chain(&p.high));
        let mut all: Vec<&str> = things.chain(properties).map(String::as_str).collect();
        all.sort_unstable();
        let twice = all.windows(2).find(|pair| pair.first() == pair.last())?;
        twice.first().copied()
    }
}

/// What people call one thing or one end of a property.
struct Saying {
    stems: Vec<String>,
    concept: String,
    sign: i8,
}

/// Words made ready for reading.
pub(super) struct Words {
    stemmer: Stemmer,
    /// By their first stem, the longest first.
    sayings: HashMap<String, Vec<Saying>>,
    deny: Vec<Vec<String>>,
    empty: HashSet<String>,
    innocent: String,
    groups: BTreeMap<String, Vec<String>>,
    /// Names of things, not of properties.
    things: HashSet<String>,
}

/// Words that end a clause.
const BREAKS: [&str; 4] = ["but", "yet", "though", "while"];

/// One thing or property named in a clause.
struct Said {
    concept: String,
    /// The end of a property, -1 or 1; 1 for things.
    end: i8,
    denied: bool,
}

impl Said {
    fn sign(&self) -> i8 {
        if self.denied { -self.end } else { self.end }
    }

    /// The feature of two things said together.
    fn with(&self, other: &Said) -> String {
        let (one, two) = (&self.concept, &other.concept);
        let (first, second) = if one < two { (one, two) } else { (two, one) };
        format!("{first}{PAIR}{second}")
    }

    /// Its sign: a clause that denies one of the two, or both, denies that they go together.
    fn sign_with(&self, other: &Said) -> i8 {
        let ends = self.end * other.end;
        if self.denied || other.denied {
            -ends
        } else {
            ends
        }
    }
}

/// A feature of a phrase and whether it is said (1) or denied (-1).
pub(super) type Features = BTreeMap<String, i8>;

impl Words {
    pub(super) fn of(list: &WordList) -> Words {
        let stemmer = Stemmer::create(Algorithm::English);
        let mut sayings: HashMap<String, Vec<Saying>> = HashMap::new();
        let mut add = |says: &str, concept: &str, sign: i8| {
            let stems: Vec<String> = split(says)
                .iter()
                .map(|word| stemmer.stem(word).into_owned())
                .collect();
            if let Some(first) = stems.first() {
                sayings.entry(first.clone()).or_default().push(Saying {
                    stems: stems.clone(),
                    concept: concept.to_owned(),
                    sign,
                });
            }
        };
        for word in &list.words {
            word.says.iter().for_each(|says| add(says, &word.is, 1));
        }
        for property in &list.properties {
            property
                .low
                .iter()
                .for_each(|says| add(says, &property.is, -1));
            property
                .high
                .iter()
                .for_each(|says| add(says, &property.is, 1));
        }
        for known in sayings.values_mut() {
            known.sort_by_key(|saying| std::cmp::Reverse(saying.stems.len()));
        }
        let mut deny: Vec<Vec<String>> = list.deny.iter().map(|words| split(words)).collect();
        deny.sort_by_key(|words| std::cmp::Reverse(words.len()));
        Words {
            stemmer,
            sayings,
            deny,
            empty: list.empty.iter().cloned().collect(),
            innocent: list.innocent.clone(),
            groups: list.groups.clone(),
            things: list.words.iter().map(|word| word.is.clone()).collect(),
        }
    }

    /// The things that are named in a phrase.
    pub(super) fn things(&self, phrase: &str) -> BTreeSet<String> {
        let clauses = clauses(phrase);
        let said = clauses.iter().flat_map(|clause| self.said(clause));
        said.map(|said| said.concept)
            .filter(|concept| self.things.contains(concept) && *concept != self.innocent)
            .collect()
    }

    /// The things that a phrase says are proved good, clause by clause.
    pub(super) fn proved(&self, phrase: &str) -> BTreeSet<String> {
        let mut proved = BTreeSet::new();
        for clause in clauses(phrase) {
            let said = self.said(&clause);
            let good = |said: &Said| said.concept == self.innocent && !said.denied;
            if !said.iter().any(good) {
                continue;
            }
            for said in said.into_iter().filter(|said| !said.denied && !good(said)) {
                match self.groups.get(&said.concept) {
                    Some(group) => proved.extend(group.iter().cloned()),
                    None if self.things.contains(&said.concept) => {
                        proved.insert(said.concept);
                    }
                    None => {}
                }
            }
        }
        proved
    }

    /// The features of a phrase.
    pub(super) fn features(&self, phrase: &str) -> Features {
        let mut features = Features::new();
        for clause in clauses(phrase) {
            let said = self.said(&clause);
            for one in &said {
                features.entry(one.concept.clone()).or_insert(one.sign());
            }
            for (at, one) in said.iter().enumerate() {
                let others = said.iter().skip(at + 1);
                for other in others.filter(|other| other.concept != one.concept) {
                    features
                        .entry(one.with(other))
                        .or_insert(one.sign_with(other));
                }
            }
            // The very word counts beside what it stands for: those who use it mean the same.
            for word in &clause {
                let stem = self.stemmer.stem(word);
                if word.len() > 1 && !self.empty.contains(word) && !self.empty.contains(&*stem) {
                    features.entry(format!("{OWN}{stem}")).or_insert(1);
                }
            }
        }
        features
    }

    /// What a clause says, in its order: a concept, or a word that has none.
    fn said(&self, clause: &[String]) -> Vec<Said> {
        let stems: Vec<String> = clause
            .iter()
            .map(|word| self.stemmer.stem(word).into_owned())
            .collect();
        let mut said = Vec::new();
        let (mut at, mut denied) = (0, false);
        while let (Some(word), Some(stem)) = (clause.get(at), stems.get(at)) {
            let rest = clause.get(at..).unwrap_or_default();
            if let Some(denial) = self.deny.iter().find(|denial| rest.starts_with(denial)) {
                denied = true;
                at += denial.len().max(1);
                continue;
            }
            let rest = stems.get(at..).unwrap_or_default();
            let known = self.sayings.get(stem).into_iter().flatten();
            if let Some(saying) = known
                .into_iter()
                .find(|saying| rest.starts_with(&saying.stems))
            {
                said.push(Said {
                    concept: saying.concept.clone(),
                    end: saying.sign,
                    denied,
                });
                at += saying.stems.len().max(1);
                continue;
            }
            if word.len() > 1 && !self.empty.contains(word) {
                said.push(Said {
                    concept: format!("{OWN}{stem}"),
                    end: 1,
                    denied,
                });
            }
            at += 1;
        }
        said
    }
}

/// Stands between the two words of a pair.
const PAIR: char = '&';

/// Stands before a word that no list knows.
const OWN: char = '=';

/// Whether a feature is a pair of words.
pub(super) fn is_pair(feature: &str) -> bool {
    feature.contains(PAIR)
}

/// Whether a feature is a single word that no list knows, of which a denial says little.
pub(super) fn is_own(feature: &str) -> bool {
    feature.starts_with(OWN) && !is_pair(feature)
}

/// Small letters and digits, word by word.
fn split(phrase: &str) -> Vec<String> {
    clauses_of_words(phrase, false).concat()
}

fn clauses(phrase: &str) -> Vec<Vec<String>> {
    clauses_of_words(phrase, true)
}

fn clauses_of_words(phrase: &str, with_breaks: bool) -> Vec<Vec<String>> {
    let mut clauses = vec![Vec::new()];
    let mut word = String::new();
    let end_word = |word: &mut String, clauses: &mut Vec<Vec<String>>| {
        if word.is_empty() {
            return;
        }
        let whole = std::mem::take(word);
        if with_breaks && BREAKS.contains(&whole.as_str()) {
            clauses.push(Vec::new());
        } else if let Some(clause) = clauses.last_mut() {
            clause.push(whole);
        }
    };
    for letter in phrase.chars().flat_map(char::to_lowercase) {
        match letter {
            '\u{2019}' | '\'' => word.push('\''),
            letter if letter.is_alphanumeric() => word.push(letter),
            ',' | ';' | ':' | '.' | '(' | ')' => {
                end_word(&mut word, &mut clauses);
                clauses.push(Vec::new());
            }
            _ => end_word(&mut word, &mut clauses),
        }
    }
    end_word(&mut word, &mut clauses);
    clauses.retain(|clause| !clause.is_empty());
    clauses
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words() -> Words {
        let word = |is: &str, says: &[&str]| Word {
            is: is.into(),
            says: says.iter().map(|s| (*s).to_owned()).collect(),
        };
        Words::of(&WordList {
            words: vec![
                word("bath", &["bath", "tank", "silver solution"]),
                word("smell", &["smell", "reek"]),
                word("spirits", &["spirits", "alcohol"]),
                word("proved", &["proved", "in order"]),
                word("liquids", &["liquids"]),
            ],
            properties: vec![Property {
                is: "age".into(),
                low: vec!["fresh".into(), "new".into()],
                high: vec!["old".into(), "worn out".into()],
            }],
            deny: vec!["no".into(), "free of".into()],
            empty: vec!["of".into(), "the".into(), "is".into()],
            innocent: "proved".into(),
            groups: [(
                "liquids".to_owned(),
                vec!["bath".to_owned(), "spirits".to_owned()],
            )]
            .into(),
        })
    }

    fn sign(phrase: &str, feature: &str) -> Option<i8> {
        words().features(phrase).get(feature).copied()
    }

    #[test]
    fn what_people_call_a_thing_becomes_one_word() {
        for phrase in ["the bath", "The tanks", "Silver solutions"] {
            assert_eq!(sign(phrase, "bath"), Some(1), "{phrase}");
        }
        assert_eq!(sign("worn out tank", "age"), Some(1));
        assert_eq!(sign("a kettle", "=kettl"), Some(1));
    }

    #[test]
    fn a_denial_turns_what_follows_in_its_clause() {
        assert_eq!(sign("no smell of spirits", "smell"), Some(-1));
        assert_eq!(sign("no smell of spirits", "smell&spirits"), Some(-1));
        assert_eq!(sign("bath free of alcohol", "spirits"), Some(-1));
        assert_eq!(sign("no smell, tank old", "bath"), Some(1));
        assert_eq!(sign("no smell but old", "age"), Some(1));
    }

    #[test]
    fn what_is_proved_is_innocent() {
        let proved = |phrase: &str| words().proved(phrase).into_iter().collect::<Vec<_>>();
        assert_eq!(proved("tank proved, alcohol old"), ["bath"]);
        assert_eq!(proved("liquids in order"), ["bath", "spirits"]);
        assert!(proved("no tank proved").is_empty());
        let things: Vec<String> = words().things("the old tank smells").into_iter().collect();
        assert_eq!(things, ["bath", "smell"]);
    }

    #[test]
    fn properties_are_kept_with_what_they_are_said_of() {
        assert_eq!(sign("bath fresh, spirits old", "age&bath"), Some(-1));
        assert_eq!(sign("bath fresh, spirits old", "age&spirits"), Some(1));
        assert_eq!(sign("bath fresh, spirits old", "bath&spirits"), None);
    }
}
