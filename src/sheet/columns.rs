//! The columns of a sheet: their names, what they hold, and what the empty sheet says of them.

use super::units::{Quantity, Unit};

macro_rules! columns {
    ($($variant:ident, $name:literal, [$($also:literal),*], $holds:expr, $explain:literal, $example:literal;)+) => {
        /// A column of the sheet.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub(super) enum Column { $($variant,)+ }

        impl Column {
            /// All columns, in the order in which the empty sheet has them.
            pub(super) const ALL: &'static [Column] = &[$(Column::$variant,)+];

            /// Its name, without a unit.
            pub(super) fn name(self) -> &'static str {
                match self { $(Column::$variant => $name,)+ }
            }

            /// Other names that are understood.
            pub(super) fn also(self) -> &'static [&'static str] {
                match self { $(Column::$variant => &[$($also),*],)+ }
            }

            /// What its cells hold.
            pub(super) fn holds(self) -> Holds {
                match self { $(Column::$variant => $holds,)+ }
            }

            /// What the empty sheet says of it.
            pub(super) fn explain(self) -> &'static str {
                match self { $(Column::$variant => $explain,)+ }
            }

            /// An example for the empty sheet.
            pub(super) fn example(self) -> &'static str {
                match self { $(Column::$variant => $example,)+ }
            }
        }
    };
}

/// What the cells of a column hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Holds {
    /// Any words.
    Text,
    /// One of a few words, read in `row.rs`.
    Words,
    /// Yes or no.
    YesNo,
    /// An edge, a corner or the middle, in the words of a handling file's entry.
    Entry(&'static str),
    /// A figure.
    Figure(Figure),
}

/// A figure and how it is kept.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Figure {
    pub(super) quantity: Quantity,
    /// Its name in reports, which ends in its unit.
    pub(super) key: &'static str,
    /// What the quantity's own unit is divided by for that name.
    pub(super) per: f64,
    /// The unit where the header states none, for figures that have one unit only.
    pub(super) unit: Option<Unit>,
    /// The unit in the header of the empty sheet.
    pub(super) header_unit: &'static str,
    /// Least and greatest figure that can be meant, as kept under `key`. Our own choice, to catch a wrong
    /// unit or a slip of the finger.
    pub(super) range: [f64; 2],
}

const fn figure(
    quantity: Quantity,
    key: &'static str,
    header_unit: &'static str,
    range: [f64; 2],
) -> Holds {
    Holds::Figure(Figure {
        quantity,
        key,
        per: 1.0,
        unit: match quantity {
            Quantity::Share => Some(Unit::PerCent),
            Quantity::Angle => Some(Unit::Degrees),
            _ => None,
        },
        header_unit,
        range,
    })
}

/// A time that is kept in minutes.
const fn minutes(key: &'static str, most: f64) -> Holds {
    Holds::Figure(Figure {
        quantity: Quantity::Time,
        key,
        per: 60.0,
        unit: None,
        header_unit: "min",
        range: [0.0, most],
    })
}

columns! {
    Scan, "scan", ["file", "scan file", "file name", "filename", "image"], Holds::Text,
        "Name of the scan file; folder and ending may be left out", "plate-17.tif";
    Plate, "plate", ["plate number", "plate no"], Holds::Text,
        "Your own number of the plate", "17";
    Process, "process", [], Holds::Words,
        "tintype, ambrotype or negative", "tintype";
    Size, "size", ["plate size", "format"], Holds::Words,
        "By name or with its unit: quarter, half-uk, 4x5, 82.5x108mm", "sixth";
    Kind, "kind", ["plate kind", "made for"], Holds::Words,
        "picture, blank (never exposed), flat (evenly exposed) or wedge (exposed in steps)", "picture";
    Bath, "bath", ["silver bath", "bath name"], Holds::Text,
        "Which silver bath", "A";
    FreshBath, "fresh bath", ["new bath", "bath new", "bath fresh", "bath newly made"], Holds::YesNo,
        "yes for the first plates from a newly made bath, else no", "no";
    Collodion, "collodion", ["collodion batch", "batch", "collodion bottle"], Holds::Text,
        "Which batch of collodion", "May 2";
    CollodionAge, "collodion age", ["age of collodion", "age of the collodion", "age"],
        figure(Quantity::Age, "collodion_age_days", "days", [0.0, 4000.0]),
        "Since it was salted; days, weeks or months: the header says which", "12";
    PouredFrom, "poured from", ["collodion poured from", "pour"], Holds::Entry("poured_from"),
        "Where the collodion was poured on: an edge, a corner or the middle, as you see the plate with its coated side toward you and that edge up which is up in the scan", "middle";
    DrainedAt, "drained at", ["drained", "collodion drained at"], Holds::Entry("drained_at"),
        "Corner where the collodion ran off, seen in the same way", "bottom left";
    DippedFirst, "dipped first", ["first into the bath", "dip"], Holds::Entry("dipped_first"),
        "Edge or corner that went into the bath first", "bottom";
    DeveloperFrom, "developer from", ["developer poured from", "developed from"], Holds::Entry("developer_from"),
        "Edge or corner where the developer was poured on", "left";
    DeveloperTo, "developer to", ["developer toward", "developed to"], Holds::Entry("developer_to"),
        "Edge or corner where its sweep ended", "right";
    LowestInHolder, "lowest in holder", ["lowest in the holder", "lowest"], Holds::Entry("lowest_in_holder"),
        "Edge or corner that stood lowest in the holder", "bottom left";
    ScannedFrom, "scanned from", ["scanned side", "side toward scanner"], Holds::Entry("scanned_from"),
        "coated side, or through the glass", "coated side";
    DipAxis, "dip axis", [], figure(Quantity::Angle, "dip_axis_deg", "deg", [0.0, 180.0]),
        "Instead of dipped first, for who likes figures: 0 upright, 90 across, clockwise, as the plate lies in the scan", "";
    DeveloperDirection, "developer direction", ["sweep direction"],
        figure(Quantity::Angle, "developer_direction_deg", "deg", [0.0, 360.0]),
        "Instead of developer from and to: 0 toward the top, 90 right, 180 down, as the plate lies in the scan", "";
    DrainCorner, "drain corner", [], Holds::Entry("drain_corner"),
        "Instead of drained at: the corner as the plate lies in the scan", "";
    Holder, "holder", ["plate holder", "slide", "dark slide"], Holds::Text,
        "Which plate holder", "2";
    InBath, "in the bath", ["time in the bath", "in bath", "time in bath", "sensitized"],
        minutes("in_bath_min", 24.0 * 60.0),
        "How long the plate was in the silver bath", "4";
    BathToDeveloper, "bath to developer", ["from bath to developer", "from bath to development", "wait", "bath to development"],
        minutes("bath_to_developer_min", 24.0 * 60.0),
        "From the bath to the developer, exposure included", "6";
    Exposure, "exposure", ["exposure time", "exposed"],
        figure(Quantity::Time, "exposure_s", "s", [0.0, 24.0 * 3600.0]),
        "How long the lens was open", "8";
    DeveloperStrength, "developer strength", ["strength of the developer", "iron in the developer", "iron"],
        figure(Quantity::Strength, "developer_strength_g_per_l", "g/L", [0.0, 1000.0]),
        "Iron salt in the developer; g/L, %, gr per US oz or gr per UK oz: the header says which", "50";
    DeveloperTemperature, "developer temperature", ["developer temp", "temperature of the developer"],
        figure(Quantity::Temperature, "developer_temperature_c", "C", [-5.0, 60.0]),
        "C or F: the header says which", "20";
    DeveloperTime, "developer time", ["developed for", "development", "development time", "developing time", "developer on"],
        figure(Quantity::Time, "developer_time_s", "s", [0.0, 24.0 * 3600.0]),
        "How long the developer was on the plate", "18";
    Fixer, "fixer", ["fixed in", "fixing"], Holds::Text,
        "Which fixer", "hypo 20 %";
    RoomTemperature, "room temperature", ["room temp", "temperature of the room", "dark room temperature"],
        figure(Quantity::Temperature, "room_temperature_c", "C", [-20.0, 60.0]),
        "C or F: the header says which", "21";
    RoomHumidity, "room humidity", ["humidity", "relative humidity"],
        figure(Quantity::Share, "room_humidity_percent", "%", [0.0, 100.0]),
        "Of the air in the dark room", "55";
    Finish, "when scanned", ["finish", "wet dry or varnished", "wet dry varnished", "state when scanned", "varnished"],
        Holds::Words,
        "wet, dry or varnished when it was scanned", "varnished";
    RubsOff, "rubs off", ["veil rubs off"], Holds::YesNo,
        "yes when a cotton ball takes the veil off the dry, unvarnished film in a corner, no when it does not", "";
    Answers, "answers", ["answer", "checks", "checks made"], Holds::Words,
        "Checks that you made, by the names that stand beside them in the report, each with yes or no", "litmus: no; other_holder: yes";
    Verdicts, "verdicts", ["verdict", "what it was"], Holds::Words,
        "What you found a finding to be, by the name that stands under its title in the report: no fault, or the cause", "edge fog left: it was the holder";
    Remarks, "remarks", ["remark", "notes", "note", "comment", "comments"], Holds::Text,
        "Anything else; kept in the report", "";
}

impl Column {
    /// Its name with the unit that the empty sheet has.
    pub(super) fn header(self) -> String {
        match self.holds() {
            Holds::Figure(figure) => format!("{} ({})", self.name(), figure.header_unit),
            _ => self.name().to_owned(),
        }
    }

    /// Its name in reports.
    pub(super) fn key(self) -> String {
        self.name().replace(' ', "_")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn no_name_means_two_columns() {
        let mut seen = BTreeSet::new();
        for column in Column::ALL {
            assert!(seen.insert(column.name()), "{}", column.name());
            for also in column.also() {
                assert!(seen.insert(also), "{also}");
            }
            assert!(!column.explain().is_empty());
        }
    }
}
