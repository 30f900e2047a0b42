//! What became of the plates that were to be kept, in words.

use std::collections::BTreeSet;

use oystermark::bath::Day;
use oystermark::bath::log::{Added, Unplaced};

use crate::cli::exit::Trouble;

/// Names and days that are listed in one sentence; the rest is counted. Our own choice.
const MOST_LISTED: usize = 3;

/// What was added, on one line: `2 new rows in baths.log, 1 was there already`.
pub fn in_words_added(added: Added, what: &str, log: &str) -> String {
    let mut said = format!("{} new {what} in {log}", added.new);
    let parts = [
        (added.known, "was there already", "were there already"),
        (
            added.anew,
            "read anew, replaces what stood there",
            "read anew, replace what stood there",
        ),
        (
            added.taken_back,
            "was withdrawn or corrected before, and stays so",
            "were withdrawn or corrected before, and stay so",
        ),
        (
            added.twins,
            "has the very figures of a plate of its name of another day (withdraw that one if its day was a slip)",
            "have the very figures of a plate of their name of another day (withdraw those if their day was a slip)",
        ),
    ];
    for (count, one, several) in parts {
        match count {
            0 => {}
            1 => said.push_str(&format!(", 1 {one}")),
            n => said.push_str(&format!(", {n} {several}")),
        }
    }
    said
}

/// That plates were not written because they may be plates of another day; `None` when there are none.
pub fn may_be_of_another_day(unplaced: &[Unplaced], bath: &str, today: Day) -> Option<Trouble> {
    let names: Vec<String> = unplaced.iter().map(|of| of.plate.clone()).collect();
    let days: BTreeSet<Day> = unplaced.iter().flat_map(|of| of.days.clone()).collect();
    let days: Vec<String> = days.iter().map(Day::to_string).collect();
    let last = days.last()?;
    let (plates, it) = match names.len() {
        1 => ("a plate of that name", "it was"),
        _ => ("plates of these names", "they were"),
    };
    Some(Trouble::of_command(
        format!(
            "{}: bath {bath} has {plates} in its log with other figures, of {}, so {it} not added",
            listed(&names),
            listed(&days)
        ),
        format!("type --on {last} to replace what stands there, or --on {today} for a new plate"),
    ))
}

fn listed(words: &[String]) -> String {
    match words.len().checked_sub(MOST_LISTED) {
        None | Some(0) => words.join(", "),
        Some(more) => format!("{} and {more} more", words[..MOST_LISTED].join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_sentence_says_what_to_type() {
        let day = |text: &str| -> Day { text.parse().unwrap() };
        let today = day("2026-05-20");
        assert_eq!(may_be_of_another_day(&[], "A", today), None);
        let plate = |name: &str| Unplaced {
            plate: name.to_owned(),
            days: vec![day("2026-05-12")],
        };
        let one = may_be_of_another_day(&[plate("A-1")], "A", today).unwrap();
        assert_eq!(
            one.sentence(),
            "oystermark: A-1: bath A has a plate of that name in its log with other figures, of 2026-05-12, so it was not added; type --on 2026-05-12 to replace what stands there, or --on 2026-05-20 for a new plate"
        );
        let many: Vec<Unplaced> = ["A-1", "A-2", "A-3", "A-4"].map(plate).into();
        let many = may_be_of_another_day(&many, "A", today).unwrap();
        assert!(
            many.reason
                .starts_with("A-1, A-2, A-3 and 1 more: bath A has plates")
        );
    }

    #[test]
    fn what_was_added_is_told_with_its_number() {
        let added = Added {
            new: 1,
            known: 2,
            anew: 1,
            ..Added::default()
        };
        assert_eq!(
            in_words_added(added, "row", "baths.log"),
            "1 new row in baths.log, 2 were there already, 1 read anew, replaces what stood there"
        );
    }
}
