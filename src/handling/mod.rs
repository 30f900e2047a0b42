//! How the maker poured, dipped, swept and scanned the plate, as far as they said.
//!
//! Comes in: what the command line, a session sheet or a handling file states. Goes out: [`Handling`].
//! Angles are degrees in the plate frame: axes clockwise from the vertical, 0 to 180; directions
//! clockwise from twelve o'clock, 0 to 360. Not here: what it means for a finding (`causes`); reading
//! files (`cli`).

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

mod file;
mod spot;

pub use file::{HandlingError, HandlingFile, read, read_entries, slips};
pub use spot::{Corner, Spot, direction_between};

/// The side of the plate that lay toward the scanner.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ScannedFrom {
    CoatedSide,
    ThroughGlass,
}

/// Who stated the handling, the strongest first: a later word on the command line goes before what was
/// written down.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum HandlingSource {
    #[default]
    CommandLine,
    Sheet,
    File,
}

/// How the left and right of the maker's words became those of the scan.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum LeftRight {
    /// The coated side lay toward the scanner: they are the same.
    AsSeen,
    /// The plate was scanned through its glass: they were exchanged.
    Exchanged,
    /// Nobody said which side was scanned: taken as the same.
    SideUnknown,
}

/// What the maker said about one plate; every field may be missing. All is told as the plate lies in
/// the scan.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct Handling {
    /// Axis along which the plate went into the silver bath, degrees, 0 to 180.
    pub dip_axis_deg: Option<f64>,
    /// Edge or corner that went into the bath first.
    #[serde(default)]
    pub dipped_first: Option<Spot>,
    /// Direction toward which the developer was swept, degrees, 0 to 360.
    pub developer_direction_deg: Option<f64>,
    /// Edge or corner at which the developer was poured on.
    #[serde(default)]
    pub developer_from: Option<Spot>,
    /// Edge or corner at which its sweep ended.
    #[serde(default)]
    pub developer_to: Option<Spot>,
    /// Corner at which the collodion was drained.
    pub drain_corner: Option<Corner>,
    /// Where the collodion was poured on.
    #[serde(default)]
    pub poured_from: Option<Spot>,
    /// Edge or corner that stood lowest in the holder.
    #[serde(default)]
    pub lowest_in_holder: Option<Spot>,
    /// How left and right of the maker's words were brought into the scan; null where no word of theirs
    /// has a left or right.
    #[serde(default)]
    pub left_right: Option<LeftRight>,
    /// Where the statements come from: the strongest of them.
    pub source: HandlingSource,
    /// Where each statement comes from, by the name of its field.
    #[serde(default)]
    pub sources: BTreeMap<String, HandlingSource>,
}

/// Fields that state one and the same thing: who states one of them, states all of it.
const STATEMENTS: [&[&str]; 5] = [
    &["dip_axis_deg", "dipped_first"],
    &["developer_direction_deg", "developer_from", "developer_to"],
    &["drain_corner"],
    &["poured_from"],
    &["lowest_in_holder"],
];

impl Handling {
    /// Names of the fields that are stated.
    fn stated(&self) -> Vec<&'static str> {
        [
            ("dip_axis_deg", self.dip_axis_deg.is_some()),
            ("dipped_first", self.dipped_first.is_some()),
            (
                "developer_direction_deg",
                self.developer_direction_deg.is_some(),
            ),
            ("developer_from", self.developer_from.is_some()),
            ("developer_to", self.developer_to.is_some()),
            ("drain_corner", self.drain_corner.is_some()),
            ("poured_from", self.poured_from.is_some()),
            ("lowest_in_holder", self.lowest_in_holder.is_some()),
        ]
        .into_iter()
        .filter_map(|(name, stated)| stated.then_some(name))
        .collect()
    }

    /// The same, said by `source`; `None` when nothing is stated at all.
    pub fn said_by(mut self, source: HandlingSource) -> Option<Handling> {
        let stated = self.stated();
        self.source = source;
        self.sources = stated
            .iter()
            .map(|name| ((*name).to_owned(), source))
            .collect();
        (!stated.is_empty()).then_some(self)
    }

    /// Adds what a weaker source says of things that this one leaves open. What it says of the same
    /// thing in other words is left out: a dip axis typed now goes before the edge written down earlier.
    pub fn before(mut self, weaker: Handling) -> Handling {
        let (own, theirs) = (self.stated(), weaker.stated());
        for statement in STATEMENTS {
            if statement.iter().any(|field| own.contains(field)) {
                continue;
            }
            for field in statement.iter().filter(|field| theirs.contains(field)) {
                self.take(field, &weaker);
                let source = weaker.sources.get(*field).copied();
                self.sources
                    .insert((*field).to_owned(), source.unwrap_or(weaker.source));
            }
        }
        self.left_right = self.left_right.or(weaker.left_right);
        self
    }

    fn take(&mut self, field: &str, from: &Handling) {
        match field {
            "dip_axis_deg" => self.dip_axis_deg = from.dip_axis_deg,
            "dipped_first" => self.dipped_first = from.dipped_first,
            "developer_direction_deg" => {
                self.developer_direction_deg = from.developer_direction_deg;
            }
            "developer_from" => self.developer_from = from.developer_from,
            "developer_to" => self.developer_to = from.developer_to,
            "drain_corner" => self.drain_corner = from.drain_corner,
            "poured_from" => self.poured_from = from.poured_from,
            _ => self.lowest_in_holder = from.lowest_in_holder,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_stronger_source_goes_first_thing_by_thing() {
        let typed = Handling {
            dip_axis_deg: Some(90.0),
            ..Handling::default()
        };
        let written = Handling {
            dip_axis_deg: Some(0.0),
            dipped_first: Some(Spot::Bottom),
            drain_corner: Some(Corner::TopLeft),
            lowest_in_holder: Some(Spot::Bottom),
            left_right: Some(LeftRight::AsSeen),
            ..Handling::default()
        };
        let typed = typed.said_by(HandlingSource::CommandLine).unwrap();
        let both = typed.before(written.said_by(HandlingSource::File).unwrap());
        assert_eq!(both.dip_axis_deg, Some(90.0));
        assert_eq!(both.dipped_first, None, "the file's edge fits its own axis");
        assert_eq!(both.drain_corner, Some(Corner::TopLeft));
        assert_eq!(both.source, HandlingSource::CommandLine);
        let sources: Vec<_> = both.sources.iter().map(|(k, v)| (k.as_str(), *v)).collect();
        assert_eq!(
            sources,
            [
                ("dip_axis_deg", HandlingSource::CommandLine),
                ("drain_corner", HandlingSource::File),
                ("lowest_in_holder", HandlingSource::File),
            ]
        );
    }

    #[test]
    fn every_field_belongs_to_one_statement_and_silence_is_none() {
        let all = Handling {
            dip_axis_deg: Some(1.0),
            dipped_first: Some(Spot::Left),
            developer_direction_deg: Some(1.0),
            developer_from: Some(Spot::Left),
            developer_to: Some(Spot::Right),
            drain_corner: Some(Corner::TopLeft),
            poured_from: Some(Spot::Middle),
            lowest_in_holder: Some(Spot::Top),
            ..Handling::default()
        };
        let fields: Vec<&str> = STATEMENTS.iter().flat_map(|s| s.iter().copied()).collect();
        assert_eq!(all.stated(), fields);
        let nothing = Handling::default().said_by(HandlingSource::File);
        assert_eq!(nothing, None);
        let filled = Handling::default().before(all.clone());
        assert_eq!(filled.stated(), fields);
    }
}
