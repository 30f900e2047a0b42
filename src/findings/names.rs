//! The name by which a finding goes in the maker's own notes: its fault and its place.

use super::Fault;
use crate::handling::Spot;

/// A finding as the maker names it: `edge fog left`, `comets`, `stain top left 2`.
///
/// Numbers of findings (`f1`) are not taken: they change with what else is found, and a note of last
/// month must not come to mean another mark.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FindingName {
    /// Which fault.
    pub fault: Fault,
    /// Its edge or corner, in the word of the reports; `None` when not told.
    pub place: Option<String>,
    /// Which of several alike, in the order of the report, from 1; `None` when not told.
    pub number: Option<usize>,
}

/// The names of a plate's findings, in their order, each unlike the others.
pub fn names<'a>(findings: impl Iterator<Item = (Fault, Option<&'a str>)>) -> Vec<String> {
    let mut counted: Vec<(String, usize)> = Vec::new();
    findings
        .map(|(fault, place)| {
            let place = place.map_or(String::new(), |place| format!(" {}", spaced(place)));
            let name = format!("{}{place}", fault.short().to_lowercase());
            match counted.iter_mut().find(|(known, _)| *known == name) {
                Some((_, count)) => {
                    *count += 1;
                    format!("{name} {count}")
                }
                None => {
                    counted.push((name.clone(), 1));
                    name
                }
            }
        })
        .collect()
}

fn spaced(word: &str) -> String {
    word.replace('_', " ")
}

/// Words in lower case without those that add nothing to a place.
fn words(text: &str) -> Vec<String> {
    text.to_lowercase()
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(str::to_owned)
        .collect()
}

impl FindingName {
    /// Reads a name, forgiving on capitals, hyphens and small words; `None` when no fault of the reports is
    /// named or what follows is no place.
    pub fn read(text: &str) -> Option<FindingName> {
        let said = words(text);
        let (fault, used) = Fault::ALL
            .iter()
            .flat_map(|fault| {
                [
                    (*fault, words(fault.name())),
                    (*fault, words(fault.short())),
                ]
            })
            .filter(|(_, name)| said.starts_with(name))
            .map(|(fault, name)| (fault, name.len()))
            .max_by_key(|(_, used)| *used)?;
        let mut rest: Vec<&str> = said
            .iter()
            .skip(used)
            .map(String::as_str)
            .filter(|word| {
                !matches!(
                    *word,
                    "the" | "edge" | "corner" | "at" | "along" | "of" | "on" | "in"
                )
            })
            .map(|word| match word {
                "upper" => "top",
                "lower" => "bottom",
                "centre" | "center" => "middle",
                same => same,
            })
            .collect();
        let number = rest.last().and_then(|word| word.parse().ok());
        if number.is_some() {
            rest.pop();
        }
        let place = match rest[..] {
            [] => None,
            [one] => Some(Spot::of_word(one)?),
            [one, two] => Some(
                Spot::of_word(&format!("{one}_{two}"))
                    .or_else(|| Spot::of_word(&format!("{two}_{one}")))?,
            ),
            _ => return None,
        };
        Some(FindingName {
            fault,
            place: place.map(|spot| spot.word().to_owned()),
            number,
        })
    }

    /// Which of the findings is meant: the only one of that fault, place and number.
    pub fn find<'a>(
        &self,
        findings: impl Iterator<Item = (Fault, Option<&'a str>)>,
    ) -> Option<usize> {
        let alike: Vec<(usize, Option<&str>)> = findings
            .enumerate()
            .filter(|(_, (fault, _))| *fault == self.fault)
            .map(|(index, (_, place))| (index, place))
            .collect();
        let here: Vec<(usize, Option<&str>)> = match self.place.as_deref() {
            Some(told) => alike
                .into_iter()
                .filter(|(_, place)| *place == Some(told))
                .collect(),
            // "stain 2" means the second of those without a place; "stain" the only stain there is.
            None if self.number.is_some() => alike
                .into_iter()
                .filter(|(_, place)| place.is_none())
                .collect(),
            None => alike,
        };
        match (self.number, &here[..]) {
            (Some(number), here) => here.get(number.checked_sub(1)?).map(|(index, _)| *index),
            (None, [(index, _)]) => Some(*index),
            // Of several at one place the first goes without a number.
            (None, [(index, place), others @ ..])
                if others.iter().all(|(_, other)| other == place) =>
            {
                Some(*index)
            }
            (None, _) => None,
        }
    }

    /// The name as the report prints it.
    pub fn words(&self) -> String {
        let place = self.place.as_deref();
        let place = place.map_or(String::new(), |place| format!(" {}", spaced(place)));
        let number = self
            .number
            .map_or(String::new(), |number| format!(" {number}"));
        format!("{}{place}{number}", self.fault.short().to_lowercase())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLATE: [(Fault, Option<&str>); 6] = [
        (Fault::EdgeFog, Some("left")),
        (Fault::EdgeFog, Some("top")),
        (Fault::Stain, Some("top_left")),
        (Fault::Comets, None),
        (Fault::Stain, Some("top_left")),
        (Fault::BareArea, Some("bottom_right")),
    ];

    #[test]
    fn every_printed_name_means_its_finding() {
        let printed = names(PLATE.into_iter());
        assert_eq!(
            printed,
            [
                "edge fog left",
                "edge fog top",
                "stain top left",
                "comets",
                "stain top left 2",
                "bare place bottom right",
            ]
        );
        for (index, name) in printed.iter().enumerate() {
            let read = FindingName::read(name).unwrap();
            assert_eq!(read.find(PLATE.into_iter()), Some(index), "{name}");
            assert_eq!(FindingName::read(&read.words()), Some(read));
        }
    }

    #[test]
    fn names_are_forgiving_and_never_guess() {
        let found =
            |text: &str| FindingName::read(text).and_then(|name| name.find(PLATE.into_iter()));
        assert_eq!(found("Edge-fog, along the left edge"), Some(0));
        assert_eq!(found("bare_area at the bottom right corner"), Some(5));
        assert_eq!(found("bare place"), Some(5), "there is one only");
        assert_eq!(found("stain left top 2"), Some(4));
        for text in [
            "edge fog",
            "edge fog bottom",
            "stain top left 3",
            "stain 0",
            "streaks",
            "comets sideways",
            "f1",
            "1",
            "",
        ] {
            assert_eq!(found(text), None, "{text}");
        }
    }
}
