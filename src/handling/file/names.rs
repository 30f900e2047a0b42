//! Names of entries and places, and which one a misspelt word meant.

use crate::handling::Spot;

/// What may stand before an equals sign.
pub(super) const ENTRIES: [&str; 10] = [
    "poured_from",
    "drained_at",
    "dipped_first",
    "developer_from",
    "developer_to",
    "lowest_in_holder",
    "scanned_from",
    "dip_axis_deg",
    "developer_direction_deg",
    "drain_corner",
];

/// The words of a value in lower case, without those that add nothing.
pub(super) fn plain_words(text: &str) -> Vec<String> {
    text.to_lowercase()
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !matches!(*word, "" | "the" | "edge" | "corner" | "of" | "plate"))
        .map(|word| {
            match word {
                "upper" => "top",
                "lower" => "bottom",
                "centre" | "center" => "middle",
                same => same,
            }
            .to_owned()
        })
        .collect()
}

pub(super) fn spot_of(text: &str) -> Option<Spot> {
    let words = plain_words(text);
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    match words[..] {
        [one] => Spot::of_word(one),
        [one, two] => Spot::of_word(&format!("{one}_{two}"))
            .or_else(|| Spot::of_word(&format!("{two}_{one}"))),
        _ => None,
    }
}

pub(super) fn spaced(spot: Spot) -> String {
    spot.word().replace('_', " ")
}

/// The place whose name is most like what was written.
pub(super) fn nearest_spot(text: &str, fits: fn(Spot) -> bool) -> Option<Spot> {
    let said = plain_words(text).join(" ");
    Spot::ALL
        .into_iter()
        .filter(|spot| fits(*spot))
        .map(|spot| (slips(&said, &spaced(spot)), spot))
        .filter(|(slips, spot)| 3 * slips <= spot.word().len())
        .min_by_key(|(slips, _)| *slips)
        .map(|(_, spot)| spot)
}

/// The entry whose name is most like what was written.
pub(super) fn nearest(entry: &str) -> Option<&'static str> {
    let said = entry.to_lowercase().replace([' ', '-'], "_");
    ENTRIES
        .into_iter()
        .map(|entry| (slips(&said, entry), entry))
        .filter(|(slips, entry)| 5 * slips <= 2 * entry.len())
        .min_by_key(|(slips, _)| *slips)
        .map(|(_, entry)| entry)
}

/// Letters to add, drop, change or swap with a neighbour to get from one word to the other (Damerau,
/// Communications of the ACM 7, 1964, restricted to one change a place).
pub fn slips(one: &str, two: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (one.chars().take(80).collect(), two.chars().collect());
    let mut before: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for i in 1..=a.len() {
        let mut row = vec![i];
        for j in 1..=b.len() {
            let change = last[j - 1] + usize::from(a[i - 1] != b[j - 1]);
            let mut least = change.min(last[j] + 1).min(row[j - 1] + 1);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                least = least.min(before[j - 2] + 1);
            }
            row.push(least);
        }
        before = std::mem::replace(&mut last, row);
    }
    last.last().copied().unwrap_or(0)
}
