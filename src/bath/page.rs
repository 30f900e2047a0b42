//! The page of one bath: its verdict, its figures over time, what was measured and done.

use serde_json::{Value, json};

use super::baseline;
use super::charts::{sums, values, zero_of};
use super::figures::{Figure, Segment};
use super::log::{Row, Table};
use super::sentence::{standing_line, use_line, verdict_clauses};
use super::verdict::{Judged, LEAST_DAYS, judge};
use super::{Day, Span};
use crate::charts::ChartError;
use crate::report::fill_page;
use crate::trend::{individuals, mann_kendall};

/// The page's frame.
const TEMPLATE: &str = include_str!("page.html");

/// Said on every page.
const CAUTION: &str = "Silver nitrate burns skin and eyes and blackens both: gloves and tight eye protection at every pour. What is added to a bath, and what becomes of a worn one, is for local codes, the supplier's safety data sheet and licensed disposal to say.";

/// Days at the start of a part of the log that the limits are drawn from, if there are so many.
pub(super) const BASELINE_DAYS: usize = 8;

/// Readings and events that are listed, the latest.
const MOST_ENTRIES: usize = 200;

/// Why a page could not be made.
#[derive(Debug, thiserror::Error)]
pub enum PageError {
    /// A chart could not be drawn.
    #[error("{0}")]
    Chart(#[from] ChartError),
    /// The days that were chosen for the limits are too few.
    #[error(
        "bath {bath}: the days chosen for the limits, {span}, hold {days} with plates, and it takes two at the least"
    )]
    Baseline {
        bath: String,
        span: Span,
        days: usize,
    },
    /// The page could not be filled in.
    #[error("page of bath {bath} could not be filled in: {why}")]
    Page { bath: String, why: String },
}

/// The page of a bath that needs nothing else: no network, no other file. `rows` are its rows in force, in order. The
/// limits of its charts come from the days with plates in `chosen`, or from the first days since each reset.
///
/// # Errors
/// When there are fewer than two such days, a chart cannot be drawn or the page cannot be filled in.
pub fn page(
    bath: &str,
    rows: &[Row],
    limits: &[(Figure, f64)],
    chosen: Option<Span>,
) -> Result<String, PageError> {
    if let Some(span) = chosen {
        baseline::check(bath, rows, span)?;
    }
    let judged = judge(rows, &[]);
    let figures = judged
        .iter()
        .map(|judged| figure(judged, chosen))
        .collect::<Result<Vec<_>, PageError>>()?;
    let plates = rows
        .iter()
        .filter(|row| row.table() == Table::Plate)
        .count();
    let mut facts = vec![match plates {
        1 => "1 plate".to_owned(),
        n => format!("{n} plates"),
    }];
    if let (Some(first), Some(last)) = (rows.first(), rows.last()) {
        facts.push(format!("{} to {}", first.day(), last.day()));
    }
    let used = use_line(rows);
    facts.extend((!used.is_empty()).then_some(used));
    let entries: Vec<Value> = rows
        .iter()
        .rev()
        .filter_map(entry)
        .take(MOST_ENTRIES)
        .collect();
    let verdict: Vec<String> = verdict_clauses(&judged, limits)
        .iter()
        .map(|clause| capitalised(clause))
        .collect();
    let view = json!({
        "bath": bath,
        "verdict": verdict,
        "facts": facts,
        "figures": figures,
        "entries": entries,
        "caution": CAUTION,
        "program": {"name": env!("CARGO_PKG_NAME"), "version": env!("CARGO_PKG_VERSION")},
    });
    fill_page("bath.html", TEMPLATE, &view).map_err(|why| PageError::Page {
        bath: bath.to_owned(),
        why,
    })
}

fn capitalised(clause: &str) -> String {
    let mut letters = clause.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string());
    format!("{}{}.", first.unwrap_or_default(), letters.as_str())
}

fn figure(judged: &Judged, chosen: Option<Span>) -> Result<Value, PageError> {
    let start = judged.segments.iter().find_map(|s| s.days.first());
    let start: Day = start.map_or(Day::from_number(0), |day| day.day);
    let zero = zero_of(judged);
    let mut limits = None;
    let mut test = None;
    if let Some(last) = judged.segments.last() {
        let medians = last.medians();
        let days = baseline::baseline(judged, last, chosen);
        let from = baseline::words(&days, chosen);
        if let Some(chart) = individuals(&baseline::medians(&days)) {
            limits = Some(format!(
                "{from}: {:.3}, {:.3} to {:.3} (moving range). They are for the eye; the verdict does not rest on them.",
                chart.centre - zero,
                chart.low - zero,
                chart.high - zero
            ));
        } else if let Some(span) = chosen {
            limits = Some(format!(
                "Fewer than two of the days that were chosen, {span}, tell of it, so there is no line and there are no limits."
            ));
        }
        // Asked once, of the days as they now are; the verdict has its own count of chances.
        if let Some(found) = mann_kendall(&medians) {
            let days = medians.len();
            test = Some(match found.s.signum() {
                0 => format!(
                    "Since the last reset, by the test of Mann and Kendall: neither a rise nor a fall over {days} days."
                ),
                sign => format!(
                    "Since the last reset, by the test of Mann and Kendall: chance orders {days} days into a {} this plain in {} of a hundred cases.",
                    if sign > 0 { "rise" } else { "fall" },
                    hundredths(found.p)
                ),
            });
        }
    }
    // A part of the log that is long enough shows its sums, even where the last reset was lately.
    let long_enough = |segment: &Segment| segment.days.len() >= LEAST_DAYS;
    let sums = match judged.segments.iter().any(long_enough) {
        false => None,
        true => Some(sums(judged, start)?),
    };
    Ok(json!({
        "title": capitalised(judged.figure.words()).trim_end_matches('.'),
        "standing": capitalised(&standing_line(judged)),
        "values": values(judged, start, chosen)?,
        "limits": limits,
        "sums": sums,
        "test": test,
    }))
}

fn hundredths(p: f64) -> String {
    if p < 0.001 {
        "less than 0.1".to_owned()
    } else {
        format!("{:.1}", 100.0 * p)
    }
}

/// A reading or event in words.
fn entry(row: &Row) -> Option<Value> {
    let mut words = Vec::new();
    match row.table() {
        Table::Plate => return None,
        Table::Event => words.push(row.text("what")?.replace('_', " ")),
        Table::Reading => {}
    }
    for (name, unit) in [
        ("grams", "g"),
        ("ml", "ml"),
        ("density_g_cm3", "g/cm3"),
        ("temp_c", "C"),
        ("g_per_l", "g/l silver nitrate"),
        ("litres", "l"),
    ] {
        if let Some(number) = row.number(name) {
            words.push(format!("{number} {unit}"));
        }
    }
    words.extend(row.number("ph").map(|ph| format!("pH {ph}")));
    words.extend(row.text("litmus").map(|colour| format!("litmus {colour}")));
    Some(json!({
        "day": row.day().to_string(),
        "what": words.join(", "),
        "remark": row.text("remark").unwrap_or_default(),
    }))
}
