//! What a row of the log may hold. The names are those of the database, the CSV and the JSON.

/// The three tables of the log.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Table {
    /// What was done to a bath.
    Event,
    /// What was measured on a bath.
    Reading,
    /// The figures of a plate sensitized in it.
    Plate,
}

impl Table {
    /// All of them.
    pub const ALL: [Table; 3] = [Table::Event, Table::Reading, Table::Plate];

    /// The word in the column `row`.
    pub fn word(self) -> &'static str {
        match self {
            Table::Event => "event",
            Table::Reading => "reading",
            Table::Plate => "plate",
        }
    }

    /// Its name in the database.
    pub(super) fn name(self) -> &'static str {
        match self {
            Table::Event => "events",
            Table::Reading => "readings",
            Table::Plate => "plates",
        }
    }

    /// Columns of its rows.
    pub fn columns(self) -> impl Iterator<Item = &'static Column> {
        let own = match self {
            Table::Event => EVENTS,
            Table::Reading => READINGS,
            Table::Plate => PLATES,
        };
        COMMON.iter().chain(own)
    }
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Kind {
    /// Text of at most so many characters.
    Text(usize),
    /// A date.
    Day,
    /// Date and time of writing, UTC.
    Stamp,
    /// The key of another row.
    Key,
    /// A number between two others, ends included.
    Number(f64, f64),
    /// One of a few words.
    Word(&'static [&'static str]),
}

/// A column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Column {
    /// Its name, with the unit where it has one.
    pub name: &'static str,
    /// What it holds.
    pub kind: Kind,
    /// It must not be empty.
    pub needed: bool,
}

const fn may(name: &'static str, kind: Kind) -> Column {
    Column {
        name,
        kind,
        needed: false,
    }
}

const fn must(name: &'static str, kind: Kind) -> Column {
    Column {
        name,
        kind,
        needed: true,
    }
}

const COMMON: &[Column] = &[
    must("bath", Kind::Text(40)),
    must("day", Kind::Day),
    must("recorded", Kind::Stamp),
    may("corrects", Kind::Key),
    may("remark", Kind::Text(500)),
];

/// What can be done to a bath; `withdrawn` takes back the row it corrects.
pub const EVENTS_OF_A_BATH: &[&str] = &[
    "made",
    "filtered",
    "sunned",
    "topped_up",
    "acid_added",
    "bicarbonate_added",
    "rested",
    "other",
    "withdrawn",
];

const EVENTS: &[Column] = &[
    must("what", Kind::Word(EVENTS_OF_A_BATH)),
    may("grams", Kind::Number(0.0, 100_000.0)),
    may("ml", Kind::Number(0.0, 1_000_000.0)),
];

const READINGS: &[Column] = &[
    may("density_g_cm3", Kind::Number(0.5, 3.0)),
    may("temp_c", Kind::Number(-20.0, 100.0)),
    may("g_per_l", Kind::Number(0.0, 1_000.0)),
    may("g_per_l_u", Kind::Number(0.0, 1_000.0)),
    may("ph", Kind::Number(0.0, 14.0)),
    may("litmus", Kind::Word(&["red", "purple", "blue"])),
    may("litres", Kind::Number(0.0, 10_000.0)),
];

const PLATES: &[Column] = &[
    must("plate", Kind::Text(200)),
    may(
        "process",
        Kind::Word(&[
            "positive_on_metal",
            "positive_on_glass",
            "negative_on_glass",
        ]),
    ),
    may("kind", Kind::Word(&["picture", "blank", "flat", "wedge"])),
    may("width_mm", Kind::Number(1.0, 2_000.0)),
    may("height_mm", Kind::Number(1.0, 2_000.0)),
    may("veil_d", Kind::Number(-1.0, 6.0)),
    may("veil_d_u", Kind::Number(0.0, 6.0)),
    may("border_d", Kind::Number(-1.0, 6.0)),
    may("range_d", Kind::Number(0.0, 6.0)),
    may("range_d_u", Kind::Number(0.0, 6.0)),
    may("pinholes_per_cm2", Kind::Number(0.0, 100_000.0)),
    may("comets_per_cm2", Kind::Number(0.0, 100_000.0)),
    may("dip_comets_per_cm2", Kind::Number(0.0, 100_000.0)),
    may("dip_streaks_d", Kind::Number(0.0, 6.0)),
    may("program", Kind::Text(60)),
];

/// Every column once, in the order of the CSV, behind `row` and `key`.
pub fn all_columns() -> Vec<&'static Column> {
    let own = [EVENTS, READINGS, PLATES].into_iter().flatten();
    COMMON.iter().chain(own).collect()
}
