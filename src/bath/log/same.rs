//! Which rows are the same plate, and which of them counts.
//!
//! One plate is one name, one bath and one day on which it was made. Read again it is a row of its own only where its
//! figures are others, and that row corrects the one that counted; so a plate counts once, and every reading of it stays
//! in the file.

use std::collections::{BTreeMap, HashMap};

use rusqlite::Connection;

use super::row::Row;
use super::{BathError, Table, Writing, cells_of, read_row};
use crate::bath::Day;

/// Where the day of a plate comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DayFrom {
    /// The maker said it.
    Maker,
    /// Nobody said it, and today stands for it.
    Today,
}

impl DayFrom {
    /// By the day that the maker said, if any.
    pub fn of(said: Option<Day>) -> DayFrom {
        match said {
            Some(_) => DayFrom::Maker,
            None => DayFrom::Today,
        }
    }
}

/// A plate without a stated day that was not written: its name is in the log under other days, with other figures, so
/// it may be one of those plates or a new one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unplaced {
    /// Its name.
    pub plate: String,
    /// Days of the plates of that name, in order.
    pub days: Vec<Day>,
}

/// What became of a row after it was written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Fate {
    Stands,
    Corrected,
    Withdrawn,
}

/// Which of a plate's rows, in order of writing, counts: the last that stands. A withdrawal takes back the plate and
/// not only its last reading, so what was written before a withdrawn row does not come back.
fn counting(fates: &[Fate]) -> Option<usize> {
    let last = |fate| fates.iter().rposition(|of| *of == fate);
    let stands = last(Fate::Stands)?;
    last(Fate::Withdrawn)
        .is_none_or(|withdrawn| withdrawn < stands)
        .then_some(stands)
}

/// The rows that count: without those that were corrected or withdrawn, and of each plate one. `rows` in order of day
/// and writing.
pub fn in_force(rows: Vec<Row>) -> Vec<Row> {
    let mut ends: HashMap<String, Fate> = HashMap::new();
    for row in &rows {
        if let Some(key) = row.text("corrects") {
            let fate = match row.text("what") {
                Some("withdrawn") => Fate::Withdrawn,
                _ => Fate::Corrected,
            };
            let end = ends.entry(key.to_owned()).or_insert(fate);
            if fate == Fate::Withdrawn {
                *end = fate;
            }
        }
    }
    let fates: Vec<Fate> = rows
        .iter()
        .map(|row| ends.get(row.key()).copied().unwrap_or(Fate::Stands))
        .collect();
    let mut counts: Vec<bool> = rows
        .iter()
        .zip(&fates)
        .map(|(row, fate)| *fate == Fate::Stands && row.text("what") != Some("withdrawn"))
        .collect();
    let mut plates: HashMap<(&str, Day, &str), Vec<usize>> = HashMap::new();
    for (at, row) in rows.iter().enumerate() {
        if let Some(plate) = row.text("plate") {
            let same = plates.entry((row.bath(), row.day(), plate)).or_default();
            same.push(at);
        }
    }
    for same in plates.into_values().filter(|same| same.len() > 1) {
        let of_plate: Vec<Fate> = same.iter().map(|at| fates[*at]).collect();
        let kept = counting(&of_plate).map(|place| same[place]);
        for at in same {
            counts[at] = Some(at) == kept;
        }
    }
    let mut counts = counts.into_iter();
    rows.into_iter()
        .filter(|_| counts.next() == Some(true))
        .collect()
}

/// Whether two rows of one plate say the same of it. When and by what version it was read does not matter, and a
/// remark only where the new row brings one.
fn same_figures(new: &Row, held: &Row) -> bool {
    Table::Plate.columns().all(|column| match column.name {
        "day" | "recorded" | "corrects" | "program" => true,
        "remark" if new.text("remark").is_none() => true,
        name => new.cell(name) == held.cell(name),
    })
}

/// What is to become of a plate's row.
#[derive(Debug, PartialEq)]
enum Place {
    /// The log does not hold it; `twin` when it has the figures of a plate of that name of another day.
    New { twin: bool },
    /// The log holds it.
    Known,
    /// The log holds it with other figures; the key of the row that counts.
    Anew(String),
    /// The log holds it, taken back.
    TakenBack,
    /// It may be a plate of one of these days.
    Unplaced(Vec<Day>),
}

/// The rows of one day that have the plate's name.
#[derive(Debug, Default)]
struct Namesake {
    rows: Vec<Row>,
    fates: Vec<Fate>,
}

impl Namesake {
    /// One of its readings, corrected since or not, had these figures. So a table that is imported again does not undo
    /// a correction.
    fn has_been(&self, row: &Row) -> bool {
        self.rows.iter().any(|held| same_figures(row, held))
    }

    fn counts(&self) -> Option<&Row> {
        self.rows.get(counting(&self.fates)?)
    }
}

/// Finds the place of a plate among those of its name.
fn place(row: &Row, from: DayFrom, namesakes: &BTreeMap<Day, Namesake>) -> Place {
    let of_day = namesakes.get(&row.day());
    if from == DayFrom::Today {
        let mut same = namesakes.values().filter(|of| of.has_been(row)).peekable();
        if same.peek().is_some() {
            return match same.any(|of| of.counts().is_some()) {
                true => Place::Known,
                false => Place::TakenBack,
            };
        }
        if of_day.is_none() && !namesakes.is_empty() {
            return Place::Unplaced(namesakes.keys().copied().collect());
        }
    }
    let Some(of_day) = of_day else {
        let same = |of: &Namesake| of.counts().is_some_and(|held| same_figures(row, held));
        let twin = namesakes.values().any(same);
        return Place::New { twin };
    };
    match of_day.counts() {
        None => Place::TakenBack,
        Some(_) if of_day.has_been(row) => Place::Known,
        Some(held) => Place::Anew(held.key().to_owned()),
    }
}

impl Writing<'_> {
    /// Adds a row that is new to every log. A plate is first looked for by name, bath and day: with the figures of a
    /// row that is there nothing is written, with other ones the new row corrects the one that counts, and a plate
    /// that was taken back stays so. A row that states what it corrects is written as it stands.
    ///
    /// Where today only stands for the day, a plate with the figures of another day's is that plate; with other
    /// figures it is not written, and comes back.
    ///
    /// # Errors
    /// When the file cannot be read or written.
    pub fn enter(&mut self, row: &Row, day: DayFrom) -> Result<Option<Unplaced>, BathError> {
        let Some(plate) = row.text("plate").filter(|_| row.cell("corrects").is_none()) else {
            self.add(row)?;
            return Ok(None);
        };
        let namesakes = namesakes(self.connection, self.path, row.bath(), plate)?;
        match place(row, day, &namesakes) {
            Place::New { twin } => {
                self.add(row)?;
                self.added.twins += usize::from(twin);
            }
            Place::Known => self.added.known += 1,
            Place::TakenBack => self.added.taken_back += 1,
            Place::Anew(key) => self.added.anew += self.insert(&row.correcting(&key))?,
            Place::Unplaced(days) => {
                let plate = plate.to_owned();
                return Ok(Some(Unplaced { plate, days }));
            }
        }
        Ok(None)
    }
}

/// Rows of a name in a bath in order, each with whether it was withdrawn, and whether it was corrected.
pub(super) fn namesakes_query() -> String {
    format!(
        "SELECT {}, EXISTS (SELECT 1 FROM events e WHERE e.corrects = p.key AND e.what = 'withdrawn'),
             EXISTS (SELECT 1 FROM plates c WHERE c.corrects = p.key)
             OR EXISTS (SELECT 1 FROM events c WHERE c.corrects = p.key)
             OR EXISTS (SELECT 1 FROM readings c WHERE c.corrects = p.key)
         FROM plates p WHERE bath = ?1 AND plate = ?2 ORDER BY day, recorded, n",
        cells_of(Table::Plate)
    )
}

/// All rows of a plate's name in a bath, by day.
fn namesakes(
    connection: &Connection,
    path: &str,
    bath: &str,
    plate: &str,
) -> Result<BTreeMap<Day, Namesake>, BathError> {
    let sql = |why: rusqlite::Error| BathError::sql(path, &why);
    let mut statement = connection.prepare(&namesakes_query()).map_err(sql)?;
    let mut found = statement.query([bath, plate]).map_err(sql)?;
    let mut namesakes: BTreeMap<Day, Namesake> = BTreeMap::new();
    let cells = 1 + Table::Plate.columns().count();
    while let Some(values) = found.next().map_err(sql)? {
        let row = read_row(path, Table::Plate, values)?;
        let withdrawn = values.get(cells).map_err(sql)?;
        let corrected = values.get(cells + 1).map_err(sql)?;
        let of_day = namesakes.entry(row.day()).or_default();
        of_day.fates.push(match (withdrawn, corrected) {
            (true, _) => Fate::Withdrawn,
            (false, true) => Fate::Corrected,
            (false, false) => Fate::Stands,
        });
        of_day.rows.push(row);
    }
    Ok(namesakes)
}
