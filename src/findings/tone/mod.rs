//! Flat images, and what the fixer left: from numbers to named faults.
//!
//! Comes in: a plate with contrast and colours measured. Goes out: findings, and what the plate cannot tell.
//! Units: density, millimetres in the plate frame, CIELAB. Not here: limits (`findings::limits`), causes.

mod fixing;
mod flat;

pub(super) use fixing::{fixing, shows_fixing};
pub(super) use flat::flat;
