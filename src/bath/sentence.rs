//! What a log says of a bath, in one line.

use super::figures::{Figure, area_since_top_up, silver_left};
use super::limit::{Reach, reach};
use super::log::{Row, Table};
use super::verdict::{Cure, Judged, LEAST_DAYS, Standing, Treated};

/// The verdict on one bath, in one line.
pub fn verdict_line(bath: &str, judged: &[Judged], limits: &[(Figure, f64)]) -> String {
    format!(
        "bath {bath}: {}",
        verdict_clauses(judged, limits).join("; ")
    )
}

/// The verdict in clauses, the gravest first.
pub(super) fn verdict_clauses(judged: &[Judged], limits: &[(Figure, f64)]) -> Vec<String> {
    let mut said = Vec::new();
    for j in judged {
        if matches!(j.standing, Standing::Drifts { .. }) {
            said.push(standing_line(j));
        }
        for (_, limit) in limits.iter().filter(|(figure, _)| *figure == j.figure) {
            said.extend(reach_words(j, *limit));
        }
        for treated in &j.cures {
            said.push(format!("{}: {}", j.figure.words(), cure_words(treated, j)));
        }
    }
    let steady = judged.iter().filter_map(|j| match j.standing {
        Standing::Steady { days } => Some(days),
        _ => None,
    });
    let few = judged
        .iter()
        .filter(|j| matches!(j.standing, Standing::TooFew { .. }));
    let figures = |n: usize| match n {
        1 => "1 figure".to_owned(),
        n => format!("{n} figures"),
    };
    if let Some(least) = steady.clone().min() {
        said.push(format!(
            "{} steady over {least} days or more",
            figures(steady.count())
        ));
    }
    match few.count() {
        0 => {}
        few => said.push(format!(
            "of {} too few days with plates to say anything (at least {LEAST_DAYS} are needed)",
            figures(few)
        )),
    }
    if said.is_empty() {
        said.push("no plates in the log that tell of it".to_owned());
    }
    said
}

/// How one figure stands, in one clause.
pub(super) fn standing_line(judged: &Judged) -> String {
    let name = judged.figure.words();
    match &judged.standing {
        Standing::TooFew { days } => format!(
            "{name}: {days} days with plates since the last reset, and nothing is said of fewer than {LEAST_DAYS}"
        ),
        Standing::Steady { days } => {
            format!("{name}: over {days} days nothing that chance would not do")
        }
        Standing::Drifts { called, pace } => {
            let way = if judged.figure.worse_when_higher() {
                "grows"
            } else {
                "falls"
            };
            let pace = pace.map_or(String::new(), |pace| {
                format!(
                    ", by {} {} a day ({} to {})",
                    short(pace.slope),
                    judged.figure.unit(),
                    short(pace.low),
                    short(pace.high)
                )
            });
            format!("{name} {way}, told since {called}{pace}")
        }
    }
}

/// What is known of silver and use beside the plates' figures; empty where nothing is.
pub fn use_line(rows: &[Row]) -> String {
    let mut said = Vec::new();
    let (area_cm2, unknown) = area_since_top_up(rows);
    if area_cm2 > 0.0 {
        let more = match unknown {
            0 => String::new(),
            _ => format!(" (and {unknown} plates of unknown size)"),
        };
        said.push(format!(
            "{area_cm2:.0} cm2 sensitized since it was made or topped up{more}"
        ));
    }
    // A bath made anew has nothing of what was read before.
    let made = |row: &Row| row.table() == Table::Event && row.text("what") == Some("made");
    let since = rows.iter().rposition(made).unwrap_or(0);
    let readings = || {
        rows.iter()
            .skip(since)
            .rev()
            .filter(|row| row.table() == Table::Reading)
    };
    let strength = readings().find_map(|row| Some((row.number("g_per_l")?, row)));
    if let Some((g_per_l, row)) = strength {
        let u = row.number("g_per_l_u");
        let give = u.map_or(String::new(), |u| format!(" \u{b1} {u:.1}"));
        said.push(format!(
            "{g_per_l:.1}{give} g/l silver nitrate by hydrometer on {} (alcohol in an old bath makes it read low)",
            row.day()
        ));
    }
    if let Some(left) = silver_left(rows) {
        said.push(format!(
            "{:.0} \u{b1} {:.0} g of it in the bath then, and some {:.0} g taken out by the plates since (half or twice as much is as likely)",
            left.grams, left.u, left.used_since
        ));
    }
    said.join("; ")
}

fn short(value: f64) -> String {
    // A slow pace needs one figure more.
    let places = if value.abs() < 0.01 { 4 } else { 3 };
    let text = format!("{value:.places$}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn reach_words(judged: &Judged, limit: f64) -> Option<String> {
    let figure = judged.figure;
    let of = format!("the limit {limit} {} of {}", figure.unit(), figure.words());
    Some(match reach(judged, limit) {
        Reach::Reached => format!("{of} is reached"),
        Reach::Day {
            likely,
            earliest,
            latest: Some(latest),
        } => format!("{of} will be reached about {likely} ({earliest} to {latest})"),
        Reach::Day {
            likely, earliest, ..
        } => {
            format!("{of} will be reached about {likely}, {earliest} at the earliest")
        }
        Reach::CannotSayYet if matches!(judged.standing, Standing::Drifts { .. }) => {
            format!("cannot say yet when {of} will be reached")
        }
        Reach::CannotSayYet => return None,
    })
}

fn cure_words(treated: &Treated, judged: &Judged) -> String {
    let done = treated
        .resets
        .iter()
        .map(|(what, day)| format!("{} on {day}", what.replace('_', " ")));
    let what = done.collect::<Vec<_>>().join(" and ");
    let unit = judged.figure.unit();
    // As the maker would say it: lower by 0.05, not by -0.05.
    let by = |change: &crate::trend::Change| {
        let (word, sign) = match change.difference < 0.0 {
            true => ("lower", -1.0),
            false => ("higher", 1.0),
        };
        let (one, two) = (sign * change.low, sign * change.high);
        format!(
            "{word} by {} {unit} ({} to {}) since then",
            short(sign * change.difference),
            short(one.min(two)),
            short(one.max(two))
        )
    };
    match &treated.cure {
        Cure::CannotSayYet => format!("cannot say yet whether {what} helped"),
        Cure::Cured(change) => format!("cured, {what}: {}", by(change)),
        Cure::Helped(change) => format!(
            "{what} helped, {}, but not all of the loss is regained",
            by(change)
        ),
        Cure::NoHelp(change) => format!(
            "no help by {what} that could be told: the change is {} {unit} ({} to {})",
            short(change.difference),
            short(change.low),
            short(change.high)
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bath::log::NewRow;

    fn row(table: Table, day: &str, cells: &[(&str, &str)]) -> Row {
        let mut row = NewRow::of(table);
        let recorded = format!("{day}T12:00:00Z");
        for (name, text) in [("bath", "A"), ("day", day), ("recorded", &recorded)] {
            row.set(name, text).unwrap();
        }
        for (name, text) in cells {
            row.set(name, text).unwrap();
        }
        row.finish().unwrap()
    }

    #[test]
    fn silver_and_use_are_told_where_they_are_known() {
        assert_eq!(use_line(&[]), "");
        let plate = |day, name| {
            let cells = [("plate", name), ("width_mm", "100"), ("height_mm", "125")];
            row(Table::Plate, day, &cells)
        };
        let strength = [("g_per_l", "90"), ("g_per_l_u", "10"), ("litres", "2")];
        let mut rows = vec![
            plate("2026-05-01", "A-1"),
            row(Table::Reading, "2026-05-02", &strength),
            plate("2026-05-03", "A-2"),
        ];
        let left = silver_left(&rows).unwrap();
        assert_eq!((left.grams, left.u), (180.0, 20.0));
        assert!((left.used_since - 0.2375).abs() < 1e-9);
        assert!(use_line(&rows).starts_with("250 cm2 sensitized"));
        rows.push(row(
            Table::Event,
            "2026-05-04",
            &[("what", "topped_up"), ("grams", "20")],
        ));
        assert_eq!(silver_left(&rows).unwrap().grams, 200.0);
        assert!(!use_line(&rows).contains("cm2"), "{}", use_line(&rows));
    }

    #[test]
    fn a_bath_without_plates_is_told_so() {
        assert_eq!(
            verdict_line("A", &[], &[]),
            "bath A: no plates in the log that tell of it"
        );
    }
}
