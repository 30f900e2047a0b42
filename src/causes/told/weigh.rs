//! Weighs what a maker says: likenesses of words into odds of causes.
//!
//! For every telling (a look with one of its causes): the prior odds of its word (usual, sometimes, rare), and
//! for every saying how much it is like the look and like what is told of the cause, less how much it is like
//! what speaks for a rival. The sum is tempered, since sayings lean on each other, and shared out over all
//! tellings and "none of these". A cause that is told under several looks gathers what they have.

use std::collections::{BTreeMap, BTreeSet};

use super::Account;
use super::entries::{Entries, Facet, Look, Telling, ToldWeights};
use super::likeness::{Phrase, Rarity};
use super::words::{Features, Words};
use crate::causes::catalogue::{Catalogue, CatalogueError, Cause};
use crate::causes::rank::{Weighed, entry};
use crate::causes::{LikelyCause, NextCheck, next_check, notes};

/// The least likeness that is worth quoting as a reason. Our own choice; the tests of
/// `tests/accounts.rs` that read the reasons would notice a change.
const WORTH_QUOTING: f64 = 0.25;

/// Share of the likeness to a cause by which what speaks for its rivals is forgiven. Our own choice.
const RIVAL_SHARE: f64 = 0.5;

/// Likeness to a look's name from which a saying is that name and no more. Our own choice; the test of plain
/// words in `tests/accounts.rs` would notice a change.
const NAMES_LOOK: f64 = 0.8;

/// Reasons quoted for one cause, at most.
const MOST_REASONS: usize = 3;

/// A look and how likely it is the one that is told of.
#[derive(Debug, Clone, PartialEq)]
pub struct ToldLook {
    /// Its name in the catalogue.
    pub look: String,
    /// One line for people.
    pub title: String,
    /// Probability, 0 to 1.
    pub probability: f64,
}

/// What an account points to.
#[derive(Debug, Clone, PartialEq)]
pub struct ToldRanked {
    /// All causes, most likely first; with `none_of_these` their probabilities sum to one.
    pub causes: Vec<LikelyCause>,
    /// Probability that no cause of the catalogue is behind it.
    pub none_of_these: f64,
    /// All looks, most likely first.
    pub looks: Vec<ToldLook>,
    /// The check that tells most for its cost; `None` when no check would tell anything.
    pub check_next: Option<NextCheck>,
}

/// The looks and tellings of the catalogue, made ready for comparison.
pub struct Accounts {
    words: Words,
    weights: ToldWeights,
    rarity: Rarity,
    looks: Vec<ReadyLook>,
    tellings: Vec<ReadyTelling>,
}

struct ReadyLook {
    look: Look,
    /// Phrases by what they are about; tone on negatives and positives apart.
    negative: Vec<Phrase>,
    positive: Vec<Phrase>,
    names: Vec<Phrase>,
    by_facet: BTreeMap<Facet, Vec<Phrase>>,
}

struct ReadyTelling {
    telling: Telling,
    /// Index of its look and of its cause.
    look: usize,
    cause: usize,
    /// The things that the cause's title names.
    about: BTreeSet<String>,
    /// Phrases for it, each with its words.
    told: Vec<(Phrase, String)>,
    /// Phrases that speak for a rival.
    against: Vec<(Phrase, String)>,
}

/// One saying, made ready.
struct Saying {
    facet: Option<Facet>,
    words: String,
    phrase: Phrase,
    /// The things that it says are proved good.
    proved: BTreeSet<String>,
}

impl Accounts {
    /// Those that come with the program.
    ///
    /// # Errors
    /// Names the entry that contradicts the rules, should one ever slip through the tests.
    pub fn built_in(catalogue: &Catalogue) -> Result<Accounts, CatalogueError> {
        Accounts::new(Entries::built_in()?, catalogue)
    }

    /// Those of the entries given.
    ///
    /// # Errors
    /// [`CatalogueError`], naming the entry and what is wrong with it.
    pub fn new(entries: Entries, catalogue: &Catalogue) -> Result<Accounts, CatalogueError> {
        entries.check(catalogue)?;
        let words = Words::of(&entries.words);
        let features = |phrases: &[String]| -> Vec<Features> {
            phrases
                .iter()
                .map(|phrase| words.features(phrase))
                .collect()
        };
        let told: Vec<(usize, Vec<String>)> = entries
            .tellings
            .iter()
            .filter_map(|telling| {
                let cause = catalogue
                    .causes
                    .iter()
                    .position(|c| c.id == telling.cause)?;
                let title = catalogue.causes.get(cause).map(|cause| cause.title.clone());
                let phrases = telling.says.iter().chain(&telling.we_say).cloned();
                Some((cause, phrases.chain(title).collect()))
            })
            .collect();
        let documents: Vec<Vec<Features>> = told
            .iter()
            .map(|(_, phrases)| features(phrases))
            .chain(entries.looks.iter().map(|look| features(&look.phrases())))
            .collect();
        let weights = entries.weights;
        let rarity = Rarity::of(&documents, &weights);
        let ready = |phrases: &[String]| -> Vec<Phrase> {
            features(phrases).iter().map(|f| rarity.phrase(f)).collect()
        };
        let with_words = |phrases: &[String]| -> Vec<(Phrase, String)> {
            ready(phrases)
                .into_iter()
                .zip(phrases.iter().cloned())
                .collect()
        };
        let tellings = entries
            .tellings
            .iter()
            .zip(&told)
            .filter_map(|(telling, (cause, phrases))| {
                Some(ReadyTelling {
                    look: entries
                        .looks
                        .iter()
                        .position(|look| look.id == telling.look)?,
                    cause: *cause,
                    about: catalogue
                        .causes
                        .get(*cause)
                        .map(|cause| words.things(&cause.title))
                        .unwrap_or_default(),
                    told: with_words(phrases),
                    against: with_words(&telling.against),
                    telling: telling.clone(),
                })
            })
            .collect();
        let looks = entries
            .looks
            .iter()
            .map(|look| ReadyLook {
                negative: ready(&look.negative),
                positive: ready(&look.positive),
                names: ready(&look.names),
                by_facet: [
                    (Facet::Shape, &look.shape),
                    (Facet::Place, &look.place),
                    (Facet::Direction, &look.direction),
                    (Facet::FirstSeen, &look.first_seen),
                ]
                .into_iter()
                .map(|(facet, phrases)| (facet, ready(phrases)))
                .collect(),
                look: look.clone(),
            })
            .collect();
        Ok(Accounts {
            weights,
            looks,
            tellings,
            rarity,
            words,
        })
    }

    /// All looks, in the order of the files.
    pub fn looks(&self) -> impl Iterator<Item = &Look> {
        self.looks.iter().map(|ready| &ready.look)
    }

    /// What is told under a look, in the order of the files.
    pub fn tellings<'a>(&'a self, look: &'a str) -> impl Iterator<Item = &'a Telling> {
        let all = self.tellings.iter().map(|ready| &ready.telling);
        all.filter(move |telling| telling.look == look)
    }

    /// Weighs what a maker says.
    pub fn rank(&self, account: &Account, catalogue: &Catalogue) -> ToldRanked {
        let sayings: Vec<Saying> = account
            .sayings()
            .map(|(facet, words)| Saying {
                proved: self.words.proved(words),
                facet,
                words: words.trim().to_owned(),
                phrase: self.rarity.phrase(&self.words.features(words)),
            })
            .collect();
        let of_looks: Vec<f64> = self
            .looks
            .iter()
            .map(|look| self.look_score(look, account, &sayings))
            .collect();
        let scores: Vec<f64> = self
            .tellings
            .iter()
            .map(|telling| {
                let look = of_looks.get(telling.look).copied().unwrap_or_default();
                look + self.telling_score(telling, &sayings)
            })
            .collect();
        let none = self.weights.none_for_each * sayings.len() as f64;
        let shares = self.shares(&scores, none, catalogue);
        let none_of_these = 1.0 - shares.iter().sum::<f64>();
        self.ranked(&shares, none_of_these, &sayings, catalogue)
    }

    /// Probabilities of the tellings; what is left is that of none of them.
    fn shares(&self, scores: &[f64], none: f64, catalogue: &Catalogue) -> Vec<f64> {
        let shared = &catalogue.weights;
        let temper = self.weights.temper;
        let prior: Vec<f64> = self
            .tellings
            .iter()
            .map(|ready| {
                let odds = shared.odds(ready.telling.often);
                odds.powf(self.weights.prior * temper)
            })
            .collect();
        let sum: f64 = prior.iter().sum();
        let most = scores.iter().copied().fold(none, f64::max);
        let odds: Vec<f64> = scores
            .iter()
            .zip(&prior)
            .map(|(score, prior)| {
                (1.0 - shared.none_of_these) * prior / sum * (temper * (score - most)).exp()
            })
            .collect();
        let none = shared.none_of_these * (temper * (none - most)).exp();
        let all = none + odds.iter().sum::<f64>();
        odds.iter().map(|odds| odds / all).collect()
    }

    fn look_score(&self, ready: &ReadyLook, account: &Account, sayings: &[Saying]) -> f64 {
        let w = &self.weights;
        let tones: Vec<&[Phrase]> = match account.plate.as_str() {
            "negative" => vec![&ready.negative],
            "positive" => vec![&ready.positive],
            _ => vec![&ready.negative, &ready.positive],
        };
        let anything = |saying: &Saying| {
            let facets = ready.by_facet.values();
            let all = [&ready.negative, &ready.positive, &ready.names];
            self.best(saying, facets.chain(all).flatten())
        };
        sayings
            .iter()
            .map(|saying| {
                let own = match saying.facet {
                    None => return w.look_at_large * anything(saying),
                    Some(Facet::Tone) => {
                        let tones = tones.iter().copied().flatten();
                        self.best(saying, tones.chain(&ready.names))
                    }
                    Some(Facet::Shape) => {
                        let shape = ready.by_facet.get(&Facet::Shape);
                        self.best(saying, shape.into_iter().flatten().chain(&ready.names))
                    }
                    Some(facet) => {
                        let phrases = ready.by_facet.get(&facet);
                        self.best(saying, phrases.into_iter().flatten())
                    }
                };
                w.look * own.max(w.other_facet * anything(saying))
            })
            .sum()
    }

    /// The greatest likeness to some phrases, not below 0.
    fn best<'a>(&self, saying: &Saying, phrases: impl Iterator<Item = &'a Phrase>) -> f64 {
        phrases
            .map(|phrase| self.rarity.likeness(&saying.phrase, phrase))
            .fold(0.0, f64::max)
    }

    fn telling_score(&self, ready: &ReadyTelling, sayings: &[Saying]) -> f64 {
        let w = &self.weights;
        let innocent = |saying: &Saying| !saying.proved.is_disjoint(&ready.about);
        // Who names the look has told the look, and nothing of its cause.
        let names = self
            .looks
            .get(ready.look)
            .map_or(&[][..], |look| &look.names);
        let names_look = |saying: &Saying| self.best(saying, names.iter()) >= NAMES_LOOK;
        // What proves a thing good is no word for a cause that is about it.
        let told: f64 = sayings
            .iter()
            .filter(|saying| !innocent(saying) && !names_look(saying))
            .map(|saying| {
                let (mut best, mut second, mut worst) = (0.0_f64, 0.0_f64, 0.0_f64);
                for (phrase, _) in &ready.told {
                    let likeness = self.rarity.likeness(&saying.phrase, phrase);
                    worst = worst.min(likeness);
                    if likeness > best {
                        (best, second) = (likeness, best);
                    } else {
                        second = second.max(likeness);
                    }
                }
                let rival = self.best(saying, ready.against.iter().map(|(phrase, _)| phrase));
                let (first, next) = match saying.facet {
                    None => (w.cause, w.second),
                    Some(_) => (w.cause_of_facet, w.second_of_facet),
                };
                let rival = (rival - RIVAL_SHARE * best).max(0.0);
                first * best + next * second - w.against * rival + w.denied * worst
            })
            .sum();
        if sayings.iter().any(innocent) {
            told - w.innocent
        } else {
            told
        }
    }

    fn ranked(
        &self,
        shares: &[f64],
        none_of_these: f64,
        sayings: &[Saying],
        catalogue: &Catalogue,
    ) -> ToldRanked {
        let mut of_causes: BTreeMap<usize, f64> = BTreeMap::new();
        let mut of_looks = vec![0.0; self.looks.len()];
        for (ready, share) in self.tellings.iter().zip(shares) {
            *of_causes.entry(ready.cause).or_default() += share;
            if let Some(sum) = of_looks.get_mut(ready.look) {
                *sum += share;
            }
        }
        let mut order: Vec<(usize, f64)> = of_causes.into_iter().collect();
        order.sort_by(|a, b| b.1.total_cmp(&a.1));
        let causes = order
            .iter()
            .filter_map(|(index, probability)| {
                let cause = catalogue.causes.get(*index)?;
                let (because, against) = self.reasons(*index, cause, shares, sayings);
                Some(entry(cause, *probability, because, against, catalogue))
            })
            .collect();
        let mut looks: Vec<ToldLook> = self
            .looks
            .iter()
            .zip(of_looks)
            .map(|(ready, probability)| ToldLook {
                look: ready.look.id.clone(),
                title: ready.look.title.clone(),
                probability,
            })
            .collect();
        looks.sort_by(|a, b| b.probability.total_cmp(&a.probability));
        let leading: Vec<usize> = order
            .iter()
            .take(catalogue.weights.listed_causes)
            .map(|(index, _)| *index)
            .collect();
        let weighed = Weighed {
            causes: order,
            none_of_these,
        };
        ToldRanked {
            causes,
            none_of_these,
            looks,
            check_next: next_check::choose(&[(1.0, weighed)], &leading, None, &[], catalogue),
        }
    }

    /// What was said that is most like what is told of a cause, and what is most like its rivals: each saying
    /// counts on the side where it is more at home, and each phrase is quoted once.
    fn reasons(
        &self,
        index: usize,
        cause: &Cause,
        shares: &[f64],
        sayings: &[Saying],
    ) -> (Vec<String>, Vec<String>) {
        let own = self
            .tellings
            .iter()
            .zip(shares)
            .filter(|(t, _)| t.cause == index);
        let Some((ready, _)) = own.max_by(|a, b| a.1.total_cmp(b.1)) else {
            return (Vec::new(), Vec::new());
        };
        let (mut speaks_for, mut speaks_against) = (Vec::new(), Vec::new());
        for saying in sayings {
            let told = ready.told.iter().filter(|(_, words)| *words != cause.title);
            let told = self.nearest(saying, told);
            let rival = self.nearest(saying, ready.against.iter());
            match (told, rival) {
                (Some(told), rival) if rival.is_none_or(|rival| told.0 >= rival.0) => {
                    speaks_for.push((told.0, saying, told.1));
                }
                (_, Some(rival)) => speaks_against.push((rival.0, saying, rival.1)),
                _ => {}
            }
        }
        let mut because = quotes(speaks_for, "told of this cause");
        let telling = &ready.telling;
        let (often, basis) = (telling.often, telling.often_basis);
        because.push(notes::often_words(often, basis, "this look"));
        (because, quotes(speaks_against, "told of another cause"))
    }

    /// The phrase that a saying is most like, where it is worth quoting.
    fn nearest<'a>(
        &self,
        saying: &Saying,
        phrases: impl Iterator<Item = &'a (Phrase, String)>,
    ) -> Option<(f64, &'a str)> {
        phrases
            .map(|(phrase, words)| {
                let likeness = self.rarity.likeness(&saying.phrase, phrase);
                (likeness, words.as_str())
            })
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .filter(|(likeness, _)| *likeness >= WORTH_QUOTING)
    }
}

/// The strongest reasons as sentences, each phrase of the catalogue once.
fn quotes(mut found: Vec<(f64, &Saying, &str)>, lead: &str) -> Vec<String> {
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut quoted: Vec<&str> = Vec::new();
    let mut lines = Vec::new();
    for (_, saying, phrase) in found {
        if lines.len() < MOST_REASONS && !quoted.contains(&phrase) {
            quoted.push(phrase);
            let said = &saying.words;
            lines.push(format!("you say \u{201c}{said}\u{201d}; {lead}: {phrase}"));
        }
    }
    lines
}
