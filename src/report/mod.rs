//! The report of one plate: the only thing that is written or shown.
//!
//! Comes in: a plate, its measures, findings and causes. Goes out: [`Report`] as JSON, HTML and a
//! line of text. Units: as in the names of the fields. Not here: judging anything.
