//! The figures that tell how a bath is, plate by plate and day by day.

use std::collections::BTreeMap;

use super::Day;
use super::log::{Row, Table};
use crate::raster::stats::median;

/// A figure of a plate that a bath can spoil.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Figure {
    /// Veil above bare support, density.
    Veil,
    /// Silver in the border that the holder kept dark, density; how much more than on the other plates, since nothing
    /// bare lies beside it.
    Border,
    /// Pinholes a square centimetre.
    Pinholes,
    /// Comets a square centimetre.
    Comets,
    /// Comets along the dip axis a square centimetre.
    DipComets,
    /// Contrast of streaks along the dip axis, density.
    DipStreaks,
    /// Density range.
    Range,
}

impl Figure {
    /// All of them, the most telling first.
    pub const ALL: [Figure; 7] = [
        Figure::Veil,
        Figure::Border,
        Figure::Pinholes,
        Figure::Comets,
        Figure::DipComets,
        Figure::DipStreaks,
        Figure::Range,
    ];

    /// Its name in JSON, with the unit.
    pub fn name(self) -> &'static str {
        match self {
            Figure::Veil => "veil_d",
            Figure::Border => "border_silver_d",
            Figure::Pinholes => "pinholes_per_cm2",
            Figure::Comets => "comets_per_cm2",
            Figure::DipComets => "dip_comets_per_cm2",
            Figure::DipStreaks => "dip_streaks_d",
            Figure::Range => "range_d",
        }
    }

    /// Its unit, for people.
    pub fn unit(self) -> &'static str {
        match self {
            Figure::Veil | Figure::Border | Figure::DipStreaks | Figure::Range => "D",
            Figure::Pinholes | Figure::Comets | Figure::DipComets => "a cm2",
        }
    }

    /// Words for people.
    pub fn words(self) -> &'static str {
        match self {
            Figure::Veil => "veil",
            Figure::Border => "silver in the dark border",
            Figure::Pinholes => "pinholes",
            Figure::Comets => "comets",
            Figure::DipComets => "comets along the dip axis",
            Figure::DipStreaks => "streaks along the dip axis",
            Figure::Range => "density range",
        }
    }

    /// Whether more of it is worse; a range gets worse as it falls.
    pub fn worse_when_higher(self) -> bool {
        self != Figure::Range
    }

    /// Scatter of the measuring itself, standard deviation in the figure's unit: none is believed below it. Our own
    /// choice: a fifth of what the eye sees of wide bands (0.01 D), and a mark on a small plate.
    pub fn least_sd(self) -> f64 {
        match self {
            Figure::Veil | Figure::Border | Figure::DipStreaks | Figure::Range => 0.002,
            Figure::Pinholes | Figure::Comets | Figure::DipComets => 0.01,
        }
    }

    /// What the plate says of it. Only plates that can be compared: a border counts from its own support, so its sign
    /// goes by the process.
    fn of(self, plate: &Row) -> Option<f64> {
        match self {
            Figure::Border => {
                let negative = plate.text("process")? == "negative_on_glass";
                let border_d = plate.number("border_d")?;
                Some(if negative { border_d } else { -border_d })
            }
            Figure::Range if plate.text("kind") != Some("picture") => None,
            Figure::Range => plate.number("range_d"),
            figure => plate.number(figure.name()),
        }
    }
}

/// One day of a figure.
#[derive(Debug, Clone, PartialEq)]
pub struct DayPoint {
    /// The day.
    pub day: Day,
    /// Median of its plates.
    pub median: f64,
    /// Each plate's value, in order of writing.
    pub values: Vec<f64>,
}

/// Days of a figure between two resets.
#[derive(Debug, Clone, PartialEq)]
pub struct Segment {
    /// The event that began it, if it did not begin with the log: what was done, and when.
    pub since: Option<(String, Day)>,
    /// Its days with plates.
    pub days: Vec<DayPoint>,
}

impl Segment {
    /// Medians of the days.
    pub fn medians(&self) -> Vec<f64> {
        self.days.iter().map(|day| day.median).collect()
    }

    /// Plates in it.
    pub fn plates(&self) -> usize {
        self.days.iter().map(|day| day.values.len()).sum()
    }
}

/// Whether an event begins a figure anew, so that what came before is no longer a measure of it.
///
/// A bath made anew resets everything. Sun, acid, bicarbonate and rest are cures of veil; a filter takes out what makes
/// marks; a topped up bath is another strength, and so another range and other streaks. Our own judgement.
pub fn resets(what: &str, figure: Figure) -> bool {
    use Figure::{Border, Comets, DipComets, DipStreaks, Pinholes, Range, Veil};
    match what {
        "made" => true,
        "sunned" | "rested" | "acid_added" | "bicarbonate_added" => {
            matches!(figure, Veil | Border | Range)
        }
        "filtered" => matches!(figure, Pinholes | Comets | DipComets),
        "topped_up" => matches!(figure, Range | DipStreaks),
        _ => false,
    }
}

/// The plates of a bath that can be compared: those of the process and the kind that most of them have.
fn alike(rows: &[Row], figure: Figure) -> Vec<&Row> {
    let plates = || {
        rows.iter()
            .filter(|row| row.table() == Table::Plate && figure.of(row).is_some())
    };
    let group = |row: &Row| {
        let text = |name| row.text(name).unwrap_or_default().to_owned();
        (text("process"), text("kind"))
    };
    let mut counts = BTreeMap::new();
    for plate in plates() {
        *counts.entry(group(plate)).or_insert(0usize) += 1;
    }
    let most = counts.into_iter().max_by_key(|(_, count)| *count);
    let Some((most, _)) = most else {
        return Vec::new();
    };
    plates().filter(|row| group(row) == most).collect()
}

/// A figure over the time of a bath, cut where an event begins it anew. `rows` are the rows in force of one bath, in
/// order; an event counts for the plates of later days and for those of its day that were written after it.
pub fn segments(rows: &[Row], figure: Figure) -> Vec<Segment> {
    let alike = alike(rows, figure);
    let mut found = vec![Segment {
        since: None,
        days: Vec::new(),
    }];
    let mut next = alike.into_iter().peekable();
    for row in rows {
        if row.table() == Table::Event {
            let what = row.text("what").unwrap_or_default();
            if resets(what, figure) {
                found.push(Segment {
                    since: Some((what.to_owned(), row.day())),
                    days: Vec::new(),
                });
            }
        } else if next.peek().is_some_and(|plate| plate.key() == row.key()) {
            next.next();
            let (Some(value), Some(segment)) = (figure.of(row), found.last_mut()) else {
                continue;
            };
            match segment.days.last_mut() {
                Some(last) if last.day == row.day() => last.values.push(value),
                _ => segment.days.push(DayPoint {
                    day: row.day(),
                    median: value,
                    values: vec![value],
                }),
            }
        }
    }
    for day in found.iter_mut().flat_map(|segment| &mut segment.days) {
        day.median = median(&mut day.values.clone()).unwrap_or(day.median);
    }
    found
}

/// Silver nitrate that a plate takes out of the bath with film and drips, grams a cm2: 10.7 grains a plate of 7.5 by
/// 7.5 inches (E. L. Wilson, Wilson's Photographics, 1881, notes to par. 170: 1,920 grains gone after some 180 plates).
pub const SILVER_A_PLATE_G_PER_CM2: f64 = 0.0019;

/// Silver nitrate in a bath by its last reading of strength and volume, and what the plates took out since.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SilverLeft {
    /// Day of the reading.
    pub day: Day,
    /// Grams by strength times volume.
    pub grams: f64,
    /// Half width of the strength's share in it, grams; the volume is taken as read.
    pub u: f64,
    /// Grams taken out by the plates since, by [`SILVER_A_PLATE_G_PER_CM2`]: one account of one bath, so that half
    /// or twice as much is as likely.
    pub used_since: f64,
}

/// Silver nitrate left in a bath since it was last made; `None` without a reading of strength and of volume. A
/// reading of anything else (litmus, a volume alone) leaves the account as it is.
pub fn silver_left(rows: &[Row]) -> Option<SilverLeft> {
    let mut strength: Option<(Day, f64, f64)> = None;
    // The volume at the strength's reading; stated later, it counts for that reading too.
    let (mut volume, mut last_litres) = (None, None);
    let (mut added, mut used_since) = (0.0, 0.0);
    for row in rows {
        match row.table() {
            Table::Event => match row.text("what") {
                Some("made") => {
                    (strength, volume, last_litres) = (None, None, None);
                    (added, used_since) = (0.0, 0.0);
                }
                Some("topped_up") => added += row.number("grams").unwrap_or(0.0),
                _ => {}
            },
            Table::Reading => {
                last_litres = row.number("litres").or(last_litres);
                if let Some(g_per_l) = row.number("g_per_l") {
                    let u = row.number("g_per_l_u").unwrap_or(0.0);
                    strength = Some((row.day(), g_per_l, u));
                    volume = last_litres;
                    (added, used_since) = (0.0, 0.0);
                }
                volume = volume.or(last_litres);
            }
            Table::Plate => {
                let area_cm2 = row
                    .number("width_mm")
                    .zip(row.number("height_mm"))
                    .map_or(0.0, |(width_mm, height_mm)| width_mm * height_mm / 100.0);
                used_since += SILVER_A_PLATE_G_PER_CM2 * area_cm2;
            }
        }
    }
    let ((day, g_per_l, u), litres) = strength.zip(volume)?;
    Some(SilverLeft {
        day,
        grams: g_per_l * litres + added,
        u: u * litres,
        used_since,
    })
}

/// Area of the plates sensitized since the bath was last made or topped up, cm2, and how many plates state no size.
pub fn area_since_top_up(rows: &[Row]) -> (f64, usize) {
    let (mut area_cm2, mut unknown) = (0.0, 0);
    for row in rows {
        match row.table() {
            Table::Event => {
                if matches!(row.text("what"), Some("made" | "topped_up")) {
                    (area_cm2, unknown) = (0.0, 0);
                }
            }
            Table::Plate => match (row.number("width_mm"), row.number("height_mm")) {
                (Some(width_mm), Some(height_mm)) => area_cm2 += width_mm * height_mm / 100.0,
                _ => unknown += 1,
            },
            Table::Reading => {}
        }
    }
    (area_cm2, unknown)
}
