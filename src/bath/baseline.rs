//! The days that the centre line and the limits of a chart come from.

use std::collections::BTreeSet;

use super::Day;
use super::dates::Span;
use super::figures::{DayPoint, Segment};
use super::log::{Row, Table};
use super::page::{BASELINE_DAYS, PageError};
use super::verdict::Judged;

/// Days with plates that a chosen span must have: one day has no scatter. It is what limits need at the least.
const LEAST_CHOSEN: usize = 2;

/// Days of a figure that the limits of one of its segments come from: those in the chosen span, whatever was done
/// meanwhile, or the first [`BASELINE_DAYS`] of the segment.
pub(super) fn baseline<'a>(
    judged: &'a Judged,
    segment: &'a Segment,
    chosen: Option<Span>,
) -> Vec<&'a DayPoint> {
    match chosen {
        None => segment.days.iter().take(BASELINE_DAYS).collect(),
        Some(span) => {
            let days = judged.segments.iter().flat_map(|segment| &segment.days);
            days.filter(|day| span.holds(day.day)).collect()
        }
    }
}

/// Their medians.
pub(super) fn medians(days: &[&DayPoint]) -> Vec<f64> {
    days.iter().map(|day| day.median).collect()
}

/// Which days those are, in words. Empty without any.
pub(super) fn words(days: &[&DayPoint], chosen: Option<Span>) -> String {
    let (Some(first), Some(last)) = (days.first(), days.last()) else {
        return String::new();
    };
    let (count, first, last) = (days.len(), first.day, last.day);
    match chosen {
        None => format!(
            "Line and limits since the last reset come from its first {count} days with plates, {first} to {last}"
        ),
        Some(span) => format!(
            "Line and limits come from the days that were chosen, {span}: {count} days with plates, {first} to {last}"
        ),
    }
}

/// Refuses a span in which the bath has too few days with plates.
pub(super) fn check(bath: &str, rows: &[Row], chosen: Span) -> Result<(), PageError> {
    let plates = rows.iter().filter(|row| row.table() == Table::Plate);
    let days: BTreeSet<Day> = plates
        .map(Row::day)
        .filter(|day| chosen.holds(*day))
        .collect();
    if days.len() >= LEAST_CHOSEN {
        return Ok(());
    }
    Err(PageError::Baseline {
        bath: bath.to_owned(),
        span: chosen,
        days: days.len(),
    })
}
