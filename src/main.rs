//! The `oystermark` program; everything is in `cli`.
#![forbid(unsafe_code)]

fn main() {}
