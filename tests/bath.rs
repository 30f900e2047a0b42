//! The silver bath from outside: its strength, its log, its verdicts.

use crate::common::Bench;

#[path = "bath/strength.rs"]
mod strength;
#[path = "bath/log.rs"]
mod log;
#[path = "bath/seasons.rs"]
mod seasons;
#[path = "bath/kill.rs"]
mod kill;
#[path = "bath/page.rs"]
mod page;
#[path = "bath/verdict.rs"]
mod verdict;

fn json(out: &str) -> serde_json::Value {
    serde_json::from_str(out).expect("one JSON object")
}
