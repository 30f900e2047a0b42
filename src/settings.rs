//! Every knob of the rooms above, in one place.
//!
//! Comes in: what the command line sets. Goes out: [`Settings`], echoed in the report so that a run
//! can be repeated.
