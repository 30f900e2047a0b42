//! Blurs and downsampling.
