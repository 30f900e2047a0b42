//! How alike two phrases are.
//!
//! The cosine of their features, each weighed by how rare it is over all phrases of the catalogue (inverse
//! document frequency; Salton and Buckley, Information Processing and Management 24, 1988, from memory). What
//! one phrase says and the other denies counts against them.

use std::collections::HashMap;

use super::entries::ToldWeights;
use super::words::{Features, is_own, is_pair};

/// How much each feature tells.
pub(super) struct Rarity {
    documents: f64,
    /// Number of each known feature, and in how many documents it stands.
    known: HashMap<String, (u32, f64)>,
    pair: f64,
    own: f64,
    denial: f64,
    substance: f64,
}

/// A phrase as features with weights.
#[derive(Debug, Clone)]
pub(super) struct Phrase {
    /// `(number, sign, weight)`, by number.
    features: Vec<(u32, f64, f64)>,
    /// Features that no phrase of the catalogue has count in the length alone.
    length: f64,
}

/// Weights are marked by bits of the number, so that a comparison needs no names.
const SOFT: u32 = 1 << 31;

impl Rarity {
    /// Counts in how many documents each feature stands. Of the weights, `pair` is that of pairs and `own` that
    /// of the very words beside what they stand for; `denial` the share of an agreement that a denial takes.
    pub(super) fn of(documents: &[Vec<Features>], weights: &ToldWeights) -> Rarity {
        let mut known: HashMap<String, (u32, f64)> = HashMap::new();
        for document in documents {
            let mut seen: Vec<&String> = document.iter().flat_map(|phrase| phrase.keys()).collect();
            seen.sort_unstable();
            seen.dedup();
            for feature in seen {
                let next = known.len() as u32;
                // A single word that no list knows is denied without much meaning.
                let number = if is_own(feature) { next | SOFT } else { next };
                known.entry(feature.clone()).or_insert((number, 0.0)).1 += 1.0;
            }
        }
        Rarity {
            documents: documents.len() as f64,
            known,
            pair: weights.pair,
            own: weights.own,
            denial: weights.denial,
            substance: weights.substance,
        }
    }

    fn weight(&self, feature: &str) -> f64 {
        let count = self.known.get(feature).map_or(0.0, |(_, count)| *count);
        let rare = ((self.documents + 1.0) / (count + 0.5)).ln();
        match () {
            _ if is_pair(feature) => rare * self.pair,
            _ if is_own(feature) => rare * self.own,
            _ => rare,
        }
    }

    pub(super) fn phrase(&self, features: &Features) -> Phrase {
        let mut square = 0.0;
        let mut list = Vec::with_capacity(features.len());
        for (feature, sign) in features {
            let weight = self.weight(feature);
            square += weight * weight;
            if let Some((number, _)) = self.known.get(feature) {
                list.push((*number, f64::from(*sign), weight));
            }
        }
        list.sort_unstable_by_key(|(number, _, _)| *number);
        Phrase {
            features: list,
            length: if square > 0.0 { square.sqrt() } else { 1.0 },
        }
    }

    /// From -1 (one denies all that the other says) to 1 (the same words).
    pub(super) fn likeness(&self, one: &Phrase, other: &Phrase) -> f64 {
        let (mut a, mut b) = (
            one.features.iter().peekable(),
            other.features.iter().peekable(),
        );
        let mut sum = 0.0;
        while let (Some((x, sign, weight)), Some((y, other_sign, _))) = (a.peek(), b.peek()) {
            match x.cmp(y) {
                std::cmp::Ordering::Less => drop(a.next()),
                std::cmp::Ordering::Greater => drop(b.next()),
                std::cmp::Ordering::Equal => {
                    if sign * other_sign > 0.0 {
                        sum += weight * weight;
                    } else if x & SOFT == 0 {
                        sum -= self.denial * weight * weight;
                    }
                    a.next();
                    b.next();
                }
            }
        }
        let substance = match self.substance > 0.0 {
            true => (sum.abs() / self.substance).min(1.0).sqrt(),
            false => 1.0,
        };
        substance * sum / (one.length * other.length)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn features(list: &[(&str, i8)]) -> Features {
        list.iter()
            .map(|(name, sign)| ((*name).to_owned(), *sign))
            .collect()
    }

    /// By hand: three documents. `bath` stands in two, `old` in one: weights ln(4 / 2.5) = 0.470004 and
    /// ln(4 / 1.5) = 0.980829. Alike: 1. Sharing `bath` alone: 0.470004^2 / (0.470004 x 1.087623) = 0.432138.
    #[test]
    fn likeness_by_hand() {
        let documents = [
            vec![features(&[("bath", 1), ("old", 1)])],
            vec![features(&[("bath", 1)])],
            vec![features(&[("=tea", 1)])],
        ];
        let rarity = Rarity::of(
            &documents,
            &ToldWeights {
                pair: 0.5,
                own: 1.0,
                denial: 0.5,
                ..ToldWeights::default()
            },
        );
        let old = rarity.phrase(&features(&[("bath", 1), ("old", 1)]));
        let bath = rarity.phrase(&features(&[("bath", 1)]));
        assert!((rarity.likeness(&old, &old) - 1.0).abs() < 1e-12);
        assert!((rarity.likeness(&old, &bath) - 0.432_138).abs() < 1e-6);
        // Denied: half as much, the other way; a word that no list knows says nothing when denied.
        let not = rarity.phrase(&features(&[("bath", -1)]));
        assert!((rarity.likeness(&bath, &not) + 0.5).abs() < 1e-12);
        let (tea, no_tea) = (features(&[("=tea", 1)]), features(&[("=tea", -1)]));
        let (tea, no_tea) = (rarity.phrase(&tea), rarity.phrase(&no_tea));
        assert_eq!(rarity.likeness(&tea, &no_tea), 0.0);
    }
}
