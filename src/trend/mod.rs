//! Numbers that follow each other in time: control charts, tests of drift, before and after.
//!
//! Comes in: slices of numbers in their order, times where steps are uneven. Goes out: limits, charted
//! values, test results with their intervals. Units: those of the numbers; slopes are a unit of time.
//! Not here: what the numbers mean, and whether anything should be done about them.

mod change;
mod charts;
mod distributions;
mod mann_kendall;
mod ranks;
mod sen;

pub use change::{Change, Summary, change};
pub use charts::{Cusum, Individuals, cusum, ewma, ewma_limits, individuals};
pub use distributions::{normal_quantile, normal_upper_tail, student_quantile, student_upper_tail};
pub use mann_kendall::{MannKendall, mann_kendall};
pub use ranks::{rank_cusum, sequential_scores};
pub use sen::{Sen, sen};

/// Standard normal quantile at 0.975: the half width of a 95 % interval in standard deviations.
pub const Z_95: f64 = 1.959_963_984_540_054;
