//! Shares and their intervals.

use rand::RngExt;

use crate::practice::maths;
use crate::practice::score::{Scored, Verdict};

/// Half the width of a 95 % interval in standard deviations.
const Z95: f64 = 1.959_964;

/// Wilson's interval of a share (Wilson 1927; Brown, Cai and DasGupta 2001, equation 4), 95 %.
pub(super) fn wilson(hits: usize, of: usize) -> Option<(f64, f64)> {
    if of == 0 {
        return None;
    }
    let n = of as f64;
    let p = hits as f64 / n;
    let z2 = Z95 * Z95;
    let middle = (p + z2 / (2.0 * n)) / (1.0 + z2 / n);
    let half = Z95 / (1.0 + z2 / n) * (p * (1.0 - p) / n + z2 / (4.0 * n * n)).sqrt();
    Some(((middle - half).max(0.0), (middle + half).min(1.0)))
}

/// A share with its interval, as in `12/15 = 80.0 % (54.8 to 93.0)`; `-` of nothing.
pub(super) fn in_words(hits: usize, of: usize) -> String {
    match wilson(hits, of) {
        None => "-".into(),
        Some((low, high)) => format!(
            "{hits}/{of} = {:.1} % ({:.1} to {:.1})",
            100.0 * hits as f64 / of as f64,
            100.0 * low,
            100.0 * high
        ),
    }
}

/// What F1 needs to know of one plate.
#[derive(Debug, Clone, Copy, Default)]
struct Counts {
    /// Planted at levels 2 to 4 and findable; and how many of them were found.
    can: usize,
    hit: usize,
    /// Findings that are right, and that are false.
    right: usize,
    wrong: usize,
}

impl Counts {
    fn of(plate: &Scored, fault: &str) -> Counts {
        let can = |hit: bool| {
            plate
                .faults
                .iter()
                .filter(|f| f.fault == fault && f.findable && f.level >= 2 && (f.found || !hit))
                .count()
        };
        let with = |verdict: Verdict| {
            plate
                .findings
                .iter()
                .filter(|f| f.fault == fault && f.verdict == verdict)
                .count()
        };
        Counts {
            can: can(false),
            hit: can(true),
            right: with(Verdict::Right),
            wrong: with(Verdict::False),
        }
    }

    fn plus(self, other: Counts) -> Counts {
        Counts {
            can: self.can + other.can,
            hit: self.hit + other.hit,
            right: self.right + other.right,
            wrong: self.wrong + other.wrong,
        }
    }

    /// Harmonic mean of recall and precision; `None` when nothing could be found.
    fn f1(self) -> Option<f64> {
        if self.can == 0 {
            return None;
        }
        let recall = self.hit as f64 / self.can as f64;
        let said = self.right + self.wrong;
        let precision = self.right as f64 / said.max(1) as f64;
        let sum = recall + precision;
        Some(if sum > 0.0 {
            2.0 * recall * precision / sum
        } else {
            0.0
        })
    }
}

/// Draws of the bootstrap (Efron 1979).
const DRAWS: usize = 2000;

/// F1 at levels 2 to 4, and the lower end of its 95 % bootstrap interval over plates.
pub(super) fn f1_with_lower_bound(plates: &[Scored], fault: &str) -> Option<(f64, f64)> {
    let counts: Vec<Counts> = plates
        .iter()
        .map(|plate| Counts::of(plate, fault))
        .collect();
    let all = counts.iter().fold(Counts::default(), |sum, c| sum.plus(*c));
    let f1 = all.f1()?;
    let mut chance = maths::stream(0, "bootstrap over plates");
    let mut draws: Vec<f64> = (0..DRAWS)
        .filter_map(|_| {
            (0..counts.len())
                .fold(Counts::default(), |sum, _| {
                    sum.plus(counts[chance.random_range(0..counts.len())])
                })
                .f1()
        })
        .collect();
    draws.sort_by(f64::total_cmp);
    let low = draws.get(draws.len() / 40).copied()?;
    Some((f1, low))
}

/// Precision of one kind: right findings, and all that are right or false.
pub(super) fn precision(plates: &[Scored], fault: &str) -> (usize, usize) {
    plates.iter().fold((0, 0), |(right, all), plate| {
        let c = Counts::of(plate, fault);
        (right + c.right, all + c.right + c.wrong)
    })
}

/// False findings a clean plate, of one kind or of all; `None` without clean plates.
pub(super) fn false_per_clean_plate(plates: &[Scored], fault: Option<&str>) -> Option<f64> {
    let clean: Vec<&Scored> = plates.iter().filter(|plate| plate.clean).collect();
    let wrong = clean
        .iter()
        .flat_map(|plate| &plate.findings)
        .filter(|f| f.verdict == Verdict::False && fault.is_none_or(|name| f.fault == name))
        .count();
    (!clean.is_empty()).then(|| wrong as f64 / clean.len() as f64)
}

/// Sorts and takes a quantile, linear between order statistics; `None` of nothing.
pub(super) fn quantile(values: &mut [f64], share: f64) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let last = values.len().checked_sub(1)?;
    let at = share * last as f64;
    let low = at.floor() as usize;
    let high = (low + 1).min(last);
    Some(values[low] + (values[high] - values[low]) * (at - low as f64))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::practice::score::{ScoredFault, ScoredFinding};

    #[test]
    fn wilson_agrees_with_the_formula_worked_by_hand() {
        // 8 of 10: (0.8 + 0.19207) / 1.38415 = 0.71674; half width
        // 1.41600 * sqrt(0.016 + 0.0096036) = 0.22658.
        let (low, high) = wilson(8, 10).unwrap();
        assert!(
            (low - 0.4902).abs() < 2e-4 && (high - 0.9433).abs() < 2e-4,
            "{low} {high}"
        );
        assert_eq!(wilson(0, 0), None);
    }

    #[test]
    fn f1_counts_levels_two_to_four_that_can_be_found() {
        let fault = |level, findable, found| ScoredFault {
            fault: "veil".into(),
            level,
            findable,
            found,
            figures: Default::default(),
            marks: None,
        };
        let finding = |verdict| ScoredFinding {
            fault: "veil".into(),
            verdict,
            marks: 0,
            confidence: None,
            expected_false_alarms: None,
            standing: None,
        };
        let plates = [
            Scored {
                faults: vec![fault(2, true, true), fault(1, true, false)],
                findings: vec![finding(Verdict::Right)],
                ..Scored::default()
            },
            Scored {
                faults: vec![fault(3, true, false), fault(4, false, false)],
                findings: vec![finding(Verdict::False), finding(Verdict::Split)],
                ..Scored::default()
            },
        ];
        // Recall 1 of 2, precision 1 of 2.
        let (f1, low) = f1_with_lower_bound(&plates, "veil").unwrap();
        assert!((f1 - 0.5).abs() < 1e-12 && low == 0.0);
        assert_eq!(f1_with_lower_bound(&plates, "edge_fog"), None);
    }

    #[test]
    fn quantiles_are_linear_between_values() {
        assert_eq!(quantile(&mut [3.0, 1.0, 2.0], 0.75), Some(2.5));
        assert_eq!(quantile(&mut [], 0.5), None);
    }
}
