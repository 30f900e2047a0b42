//! Marks that stand in order, as things of a scene do and faults do not: in even rows, on a straight line, in pairs.
//!
//! Comes in: round marks of one sign. Goes out: those that do not stand so.

use crate::measures::Speck;
use crate::raster::counts::ln_binomial_tail;
use crate::raster::geometry::distance;

/// Marks that do not stand in lines, rows or pairs as things of a scene do. Lines come first, since rows take gaps into
/// them.
pub(super) fn not_in_order<'a>(marks: &[&'a Speck]) -> Vec<&'a Speck> {
    without_pairs(&without_rows(&without_lines(marks)))
}

/// How far apart the marks of a row may lie, millimetres.
const ROW_STEP_MM: f64 = 8.0;

/// What makes three marks stand in a row.
struct RowRule {
    /// How far the third may lie off the place opposite to the first, as a share of their step.
    off: f64,
    /// How much they may differ in size and contrast, as a ratio.
    alike: f64,
    /// In how many threes one of them stands at least: three of chance stand so now and then, several such threes
    /// with a mark in common hardly ever.
    threes: usize,
}

/// Marks of one make, evenly spaced, four or more; and marks as like as nails, five or more, driven by hand.
/// The second costs one in a hundred of planted marks (development seeds 700000 and 710000).
const ROWS: [RowRule; 2] = [
    RowRule {
        off: 0.1,
        alike: 1.5,
        threes: 2,
    },
    RowRule {
        off: 0.4,
        alike: 1.15,
        threes: 3,
    },
];

/// Marks without those that stand in evenly spaced rows: buttons, rivets, nails, beads, lace.
pub(super) fn without_rows<'a>(marks: &[&'a Speck]) -> Vec<&'a Speck> {
    let by_rule = ROWS.map(|rule| rule.rows(marks));
    let apart = (0..marks.len()).filter(|&k| by_rule.iter().all(|in_row| !in_row[k]));
    apart.map(|k| marks[k]).collect()
}

impl RowRule {
    /// Which of the marks stand in rows.
    fn rows(&self, marks: &[&Speck]) -> Vec<bool> {
        let near: Vec<Vec<usize>> = marks
            .iter()
            .map(|mark| {
                let near = marks.iter().enumerate().filter(|(_, other)| {
                    let away = distance(mark.centre_mm, other.centre_mm);
                    away > 0.0 && away <= ROW_STEP_MM && alike(mark, other, self.alike)
                });
                near.map(|(k, _)| k).collect()
            })
            .collect();
        let mut threes: Vec<[usize; 3]> = Vec::new();
        for (middle, near) in near.iter().enumerate() {
            let [x, y] = marks[middle].centre_mm;
            for (at, &a) in near.iter().enumerate() {
                let step = distance(marks[middle].centre_mm, marks[a].centre_mm);
                let [ax, ay] = marks[a].centre_mm;
                let mirrored = [2.0 * x - ax, 2.0 * y - ay];
                let opposite = near[at + 1..]
                    .iter()
                    .filter(|&&b| distance(mirrored, marks[b].centre_mm) <= self.off * step);
                threes.extend(opposite.map(|&b| [a, middle, b]));
            }
        }
        let mut times = vec![0; marks.len()];
        threes.iter().flatten().for_each(|&k| times[k] += 1);
        let mut in_row = vec![false; marks.len()];
        for three in &threes {
            if three.iter().any(|&k| times[k] >= self.threes) {
                three.iter().for_each(|&k| in_row[k] = true);
            }
        }
        in_row
    }
}

/// How far off a straight line its marks may lie, millimetres: nails are driven by hand. Our own choice.
const LINE_OFF_MM: f64 = 1.0;
/// How many times as far to either side marks tell how many lie on the line by chance.
const LINE_BESIDE: f64 = 5.0;
/// How near to each other marks do not count apart for a line, millimetres: the middle of a cluster would be one.
const LINE_STEP_MM: f64 = 2.0;
/// How much marks on a line may differ in size and contrast, as a ratio: they are of one make.
const LINE_ALIKE: f64 = 1.5;
/// Lines with so many marks on them that are expected of marks that lie anywhere: such a line is no chance.
const LINE_CHANCE: f64 = 0.01;
/// Most marks that are searched for lines. Among more, those of a line no longer make a group.
const MOST_FOR_LINES: usize = 200;

/// Marks without those that stand on one straight line, however they are spaced along it, where too few like ones lie
/// beside it for that to be chance: nails along a rail, studs along a seam. Seven or more: fewer may by chance (a
/// binomial tail over all lines through two of them; Desolneux, Moisan, Morel, Int. Journal of Computer Vision 40,
/// 2000, for the way of counting).
fn without_lines<'a>(marks: &[&'a Speck]) -> Vec<&'a Speck> {
    if marks.len() > MOST_FOR_LINES {
        return marks.to_vec();
    }
    let mut apart: Vec<&Speck> = Vec::new();
    for mark in marks {
        let far = |other: &&Speck| distance(mark.centre_mm, other.centre_mm) >= LINE_STEP_MM;
        if apart.iter().all(far) {
            apart.push(mark);
        }
    }
    let mut in_line: Vec<&Speck> = Vec::new();
    for (one, first) in apart.iter().enumerate() {
        for other in &apart[one + 1..] {
            in_line.extend(on_line(&apart, first, other));
        }
    }
    let stands_apart = |mark: &&&Speck| !in_line.iter().any(|of| std::ptr::eq(*of, **mark));
    marks.iter().filter(stands_apart).copied().collect()
}

/// Which of the marks stand on the line through two of them; none where chance may have put as many there.
fn on_line<'a>(marks: &[&'a Speck], first: &Speck, other: &Speck) -> Vec<&'a Speck> {
    let step_mm = distance(first.centre_mm, other.centre_mm);
    if step_mm <= LINE_BESIDE * LINE_OFF_MM || !alike(first, other, LINE_ALIKE) {
        return Vec::new();
    }
    let along = [0, 1].map(|k| (other.centre_mm[k] - first.centre_mm[k]) / step_mm);
    let off_mm = |mark: &Speck| {
        let [dx, dy] = [0, 1].map(|k| mark.centre_mm[k] - first.centre_mm[k]);
        (dx * along[1] - dy * along[0]).abs()
    };
    let near: Vec<&'a Speck> = marks
        .iter()
        .filter(|mark| alike(mark, first, LINE_ALIKE))
        .filter(|mark| off_mm(mark) <= LINE_BESIDE * LINE_OFF_MM)
        .copied()
        .collect();
    let on = near.iter().filter(|mark| off_mm(mark) <= LINE_OFF_MM);
    let on: Vec<&'a Speck> = on.copied().collect();
    // The two that it was drawn through say nothing.
    let [on_by_chance, of] = [on.len(), near.len()].map(|count| count.saturating_sub(2));
    let chance = ln_binomial_tail(on_by_chance, of, 1.0 / LINE_BESIDE).exp();
    let tried = (marks.len() * marks.len().saturating_sub(1) / 2) as f64;
    match tried * chance <= LINE_CHANCE {
        true => on,
        false => Vec::new(),
    }
}

/// How far apart the marks of a pair lie, millimetres, and how far from level or upright, degrees.
const PAIR_MM: [f64; 2] = [1.5, 8.0];
/// See [`PAIR_MM`].
const PAIR_OFF_DEG: f64 = 5.0;
/// How much marks of a pair may differ in size and contrast, as a ratio.
const PAIR_ALIKE: f64 = 1.25;

/// Marks without pairs of one size and contrast that lie level or upright, each the other's nearest: a sitter's
/// eyes, two buttons. Of marks that lie anywhere about one in thirty is lost (six in ten have such a nearest
/// neighbour, one in nine of these lies so, fewer yet are alike).
fn without_pairs<'a>(marks: &[&'a Speck]) -> Vec<&'a Speck> {
    let away = |a: &Speck, b: &Speck| distance(a.centre_mm, b.centre_mm);
    let nearest: Vec<Option<usize>> = (0..marks.len())
        .map(|one| {
            let others = (0..marks.len()).filter(|other| *other != one);
            others
                .min_by(|a, b| away(marks[one], marks[*a]).total_cmp(&away(marks[one], marks[*b])))
        })
        .collect();
    let pairs = |one: usize, other: usize| {
        let (a, b) = (marks[one], marks[other]);
        let [dx, dy] = [0, 1].map(|k| (a.centre_mm[k] - b.centre_mm[k]).abs());
        let off_deg = dx.min(dy).atan2(dx.max(dy)).to_degrees();
        nearest[other] == Some(one)
            && (PAIR_MM[0]..=PAIR_MM[1]).contains(&away(a, b))
            && off_deg <= PAIR_OFF_DEG
            && alike(a, b, PAIR_ALIKE)
    };
    let single = |one: &usize| !nearest[*one].is_some_and(|other| pairs(*one, other));
    (0..marks.len())
        .filter(single)
        .map(|one| marks[one])
        .collect()
}

/// Whether two marks are of one size and contrast, but for a ratio.
fn alike(a: &Speck, b: &Speck, ratio: f64) -> bool {
    let within = |a: f64, b: f64| a.max(b) <= ratio * a.min(b);
    within(a.size_mm, b.size_mm) && within(a.contrast_d.abs(), b.contrast_d.abs())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::specks::tests::strong;

    /// Whether a rule leaves just these marks out of others that lie anywhere.
    fn leaves_out(
        rule: impl for<'a> Fn(&[&'a Speck]) -> Vec<&'a Speck>,
        ordered: &[Speck],
    ) -> bool {
        let scattered =
            [(3.0, 4.0), (17.0, 9.5), (24.0, 61.0), (50.0, 18.0)].map(|(x, y)| strong(x, y));
        let all: Vec<&Speck> = ordered.iter().chain(&scattered).collect();
        let left = rule(&all);
        assert!(
            left == all || left == scattered.iter().collect::<Vec<_>>(),
            "{left:?}"
        );
        left.len() == scattered.len()
    }

    #[test]
    fn buttons_are_left_out_and_scattered_marks_are_not() {
        let buttons: Vec<Speck> = (0..6)
            .map(|k| strong(20.0, 10.0 + 5.0 * f64::from(k)))
            .collect();
        assert!(leaves_out(without_rows, &buttons));
    }

    #[test]
    fn nails_driven_by_hand_are_left_out() {
        // To and fro by an eighth of their step.
        let nails: Vec<Speck> = (0..9)
            .map(|k| {
                strong(
                    31.0 + 0.5 * f64::from(k * 5 % 3 - 1),
                    10.0 + 4.3 * f64::from(k),
                )
            })
            .collect();
        assert!(leaves_out(without_rows, &nails));
    }

    #[test]
    fn marks_on_one_line_are_left_out_however_they_are_spaced_and_clusters_are_not() {
        // To and fro by half a millimetre, nine millimetres apart, every third missing.
        let nails: Vec<Speck> = (0..12)
            .filter(|k| k % 3 != 2)
            .map(|k| {
                strong(
                    4.0 + 9.0 * f64::from(k),
                    30.0 + 0.5 * f64::from(k * 5 % 3 - 1),
                )
            })
            .collect();
        assert!(leaves_out(without_lines, &nails));
        // Six may lie on a line by chance, and so may any that are not alike.
        assert!(!leaves_out(without_lines, &nails[..6]));
        let unlike: Vec<Speck> = nails
            .iter()
            .zip([0.2, 0.9, 0.4, 1.7, 0.15, 0.6, 2.5, 0.3])
            .map(|(nail, size_mm)| Speck {
                size_mm,
                ..nail.clone()
            })
            .collect();
        assert!(!leaves_out(without_lines, &unlike));
        // A cluster, denser toward its middle.
        let cluster: Vec<Speck> = (0..40)
            .map(|k| {
                let (turn, away) = (f64::from(k * 13 % 40) / 40.0, f64::from(k) / 10.0);
                let (sin, cos) = (std::f64::consts::TAU * turn).sin_cos();
                strong(30.0 + away * cos, 40.0 + away * sin)
            })
            .collect();
        let cluster: Vec<&Speck> = cluster.iter().collect();
        assert_eq!(without_lines(&cluster), cluster);
    }

    #[test]
    fn two_eyes_are_left_out_and_two_marks_aslant_are_not() {
        let eyes = [strong(20.0, 30.0), strong(23.5, 30.1)];
        let aslant = [strong(50.0, 60.0), strong(53.0, 62.0)];
        let all: Vec<&Speck> = eyes.iter().chain(&aslant).collect();
        assert_eq!(without_pairs(&all), aslant.iter().collect::<Vec<_>>());
        assert_eq!(without_pairs(&all[..1]), all[..1].to_vec());
    }
}
