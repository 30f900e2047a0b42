//! One test binary; each file below is one way of asking whether the program is right.

mod common;

/// Who may import whom, and which words may stand where.
mod house;
/// Values from the literature and from standards.
mod published;
mod published_fits;
mod published_marks;
mod published_trend;
mod published_bath;
mod bath;
/// The catalogue of causes and how it is weighed.
mod causes;
/// A maker's own words, and the worked cases of the handbooks.
mod accounts;
mod bad_scans;
mod published_scan;
mod refused_scans;
mod scan_files;
mod scans;
mod practice;
/// What looks like something else.
mod alike;
/// A second scan of the plate turned half round.
mod turned;
mod page;
/// The built program from outside: exit codes, what it prints, what it writes.
mod cli;
/// The session sheet from outside.
mod sheet;
