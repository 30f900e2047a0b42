//! The silver bath over weeks.
//!
//! Comes in: hydrometer readings, plate reports, what the maker did to a bath. Goes out: the bath's strength and
//! what brings it to another one; a log that keeps all of it; whether a figure drifts and whether a cure helped; a page.
//! Units: as in the names; concentrations in grams a litre. Not here: typing, printing, today's date (`cli`).

mod baseline;
mod charts;
mod dates;
pub mod exchange;
pub mod figures;
mod from_report;
pub mod limit;
pub mod log;
mod page;
pub mod sentence;
pub mod strength;
pub mod verdict;

pub use dates::{Day, Span};
pub use from_report::{PlateOf, of_report, plate_row};
pub use page::{PageError, page};
