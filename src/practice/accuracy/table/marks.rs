//! Single marks, and what dust was called.

use super::{number, percent, planted, share, table};
use crate::practice::accuracy::even_limits;
use crate::practice::accuracy::shares::quantile;
use crate::practice::score::{Scored, ScoredMarks, Verdict};

const MARKS: [&str; 3] = ["comets", "pinholes", "specks"];

/// Mark by mark, over the plates where a group was planted; false marks over the clean ones.
pub(super) fn marks(plates: &[Scored]) -> String {
    let clean: Vec<&Scored> = plates.iter().filter(|plate| plate.clean).collect();
    let rows = MARKS
        .iter()
        .map(|fault| {
            let groups: Vec<&ScoredMarks> = planted(plates, fault)
                .filter_map(|f| f.marks.as_ref())
                .collect();
            let sum = |of: fn(&ScoredMarks) -> usize| groups.iter().map(|m| of(m)).sum::<usize>();
            let all = |of: fn(&ScoredMarks) -> &Vec<f64>| -> Vec<f64> {
                groups.iter().flat_map(|m| of(m).iter().copied()).collect()
            };
            let mut off = all(|m| &m.direction_off_deg);
            let reversed = off.iter().filter(|deg| **deg > 90.0).count();
            let mut contrast = all(|m| &m.contrast_ratio);
            let mut size = all(|m| &m.size_ratio);
            let wrong: usize = clean
                .iter()
                .flat_map(|plate| &plate.findings)
                .filter(|f| f.fault == *fault && f.verdict == Verdict::False)
                .map(|f| f.marks)
                .sum();
            let each = (!clean.is_empty()).then(|| wrong as f64 / clean.len() as f64);
            vec![
                format!("`{fault}`"),
                share(sum(|m| m.found_findable), sum(|m| m.findable)),
                share(sum(|m| m.found), sum(|m| m.reported)),
                number(quantile(&mut contrast, 0.5), 2),
                number(quantile(&mut size, 0.5), 2),
                number(quantile(&mut off, 0.5), 1),
                format!("{reversed}/{}", off.len()),
                sum(|m| m.on_dust).to_string(),
                number(each, 3),
            ]
        })
        .collect();
    table(
        "Single marks",
        "Each mark of the planted groups, matched one to one within 0.5 mm or its own size, a comet \
         anywhere from head to tail's end. Recall is over marks that can be found; precision over all \
         marks reported where a group was planted. Marks cluster on plates, so the intervals are \
         narrower than they should be.",
        &[
            "marks",
            "recall",
            "precision",
            "contrast, median ratio",
            "size, median ratio",
            "direction off, median degrees",
            "turned about",
            "dust taken for it",
            "false marks a clean plate",
        ],
        rows,
    )
}

/// Dust of the scanner's glass that a report named at all: as dust or as a mark of the plate.
pub(super) fn dust(plates: &[Scored]) -> String {
    let count = |of: fn(&Scored) -> usize| plates.iter().map(of).sum::<usize>();
    let right = count(|p| p.dust.called_dust);
    let wrong = count(|p| p.dust.called_marks);
    let other = count(|p| p.dust.not_dust);
    let said = right + other;
    table(
        "Dust on the scanner's glass",
        "",
        &[
            "dust that was reported, called dust",
            "called dust though nothing lay there",
        ],
        vec![vec![
            share(right, right + wrong),
            if said == 0 {
                "-".into()
            } else {
                format!("{other}/{said} = {}", percent(other as f64 / said as f64))
            },
        ]],
    )
}

/// The search for heads against the matched filter; only where a design is about marks.
pub(super) fn even(design: &str) -> String {
    if !matches!(design, "full" | "marks") {
        return String::new();
    }
    let limits = even_limits();
    let ratios = limits.first().map_or(&[][..], |limit| &limit.found);
    let mut head: Vec<String> = vec!["diameter, mm".into()];
    head.extend(ratios.iter().map(|(ratio, _)| format!("{ratio} x")));
    head.push("half found at".into());
    head.push("false heads".into());
    let rows = limits
        .iter()
        .map(|limit| {
            let mut row = vec![limit.size_mm.to_string()];
            row.extend(limit.found.iter().map(|(_, share)| percent(*share)));
            row.push(limit.half.map_or("-".into(), |half| format!("{half:.2} x")));
            row.push(limit.false_heads.to_string());
            row
        })
        .collect();
    let head: Vec<&str> = head.iter().map(String::as_str).collect();
    table(
        "Heads on an even ground",
        "Share of discs found in white noise, by their contrast over that at which the best possible \
         detector, the matched filter for just this size and shape, finds half of them with as many \
         false alarms (0.1 a plate of 61 mm at 600 cells an inch, in each octave and of each sign).",
        &head,
        rows,
    )
}
