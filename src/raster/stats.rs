//! Percentiles, robust scale, fits, intervals, tails.
