//! Lines, homographies, resampling.
