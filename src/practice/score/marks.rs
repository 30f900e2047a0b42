//! Single marks of a group, reported against planted, matched one to one.
//!
//! A reported mark lies on a planted one when its centre is within 0.5 mm or the mark's own size,
//! whichever is more, of the true centre; for a comet of anywhere between head and tail's end; for a
//! line (a streak, a scratch) of anywhere along it, or within 2 % of its length.
//! Reported places are carried through the report's own corners into the truth's frame first, so
//! that a wrong scale or a corner a little off does not miss every mark.

use serde_json::Value;

use super::number;
use crate::practice::pose::{self, Map};

/// How far off a reported mark may lie, millimetres, and the size of marks that state none.
const NEAR_MM: f64 = 0.5;
const USUAL_SIZE_MM: f64 = 0.3;
/// How much nearer a mark that can be found counts than one that cannot, as a share of the reach.
const PREFER_FINDABLE: f64 = 0.2;
/// How far beyond a line's end its middle may be reported, millimetres, and how far beside it, as a
/// share of its length: no line is quite straight.
const BEYOND_MM: f64 = 1.0;
const LINE_SHARE: f64 = 0.02;
/// Dust and marks are grown by this before they are laid on each other, millimetres.
const DUST_GROWN_MM: f64 = 0.2;

/// Marks of one planted group, counted.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ScoredMarks {
    /// Planted, and of these such as can be found.
    pub planted: usize,
    pub findable: usize,
    /// Found, and of these such as can be found.
    pub found: usize,
    pub found_findable: usize,
    /// Reported in the findings that lie on this group, without those on natural specks.
    pub reported: usize,
    /// Of these on dust of the scanner's glass, and not on a planted mark.
    pub on_dust: usize,
    /// Size of the difference of directions of found comets, degrees, 0 to 180.
    pub direction_off_deg: Vec<f64>,
    /// Reported over true, of found marks.
    pub contrast_ratio: Vec<f64>,
    pub size_ratio: Vec<f64>,
}

/// What reports called the pieces of dust they named at all.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct ScoredDust {
    /// Marks reported on true dust: as dust, and as a mark of the plate.
    pub called_dust: usize,
    pub called_marks: usize,
    /// Marks reported as dust where there is none.
    pub not_dust: usize,
}

/// Carries reported places into the truth's frame; `None` leaves them where they are.
pub(super) fn carry(report: &Value, truth: &Value) -> Option<[Map; 2]> {
    let corners: Vec<[f64; 2]> = report
        .pointer("/plate/corners_px")?
        .as_array()?
        .iter()
        .map(point)
        .collect::<Option<_>>()?;
    let width = number(report, "/plate/width_mm")?;
    let height = number(report, "/plate/height_mm")?;
    let to_px = pose::rectangle_to(corners.try_into().ok()?, width, height);
    let there: Map =
        serde_json::from_value(truth.pointer("/plate/homography_mm_to_px")?.clone()).ok()?;
    Some([to_px, pose::inverse(&there)])
}

fn point(of: &Value) -> Option<[f64; 2]> {
    Some([of.get(0)?.as_f64()?, of.get(1)?.as_f64()?])
}

/// A reported mark in the truth's frame.
pub(super) struct Reported<'a> {
    pub(super) centre: [f64; 2],
    pub(super) box_mm: Option<[f64; 4]>,
    says: &'a Value,
}

pub(super) fn reported<'a>(finding: &'a Value, carry: Option<&[Map; 2]>) -> Vec<Reported<'a>> {
    let moved = |[x, y]: [f64; 2]| match carry {
        None => [x, y],
        Some([to_px, to_mm]) => {
            let [x, y] = pose::apply(to_px, x, y);
            pose::apply(to_mm, x, y)
        }
    };
    let members = finding["members"].as_array();
    members
        .into_iter()
        .flatten()
        .filter_map(|mark| {
            let box_mm = rectangle(mark).map(|[l, t, r, b]| {
                let corners = [[l, t], [r, t], [r, b], [l, b]].map(moved);
                corners
                    .iter()
                    .fold([f64::MAX, f64::MAX, f64::MIN, f64::MIN], |all, [x, y]| {
                        [
                            all[0].min(*x),
                            all[1].min(*y),
                            all[2].max(*x),
                            all[3].max(*y),
                        ]
                    })
            });
            let middle = box_mm.map(|[l, t, r, b]| [0.5 * (l + r), 0.5 * (t + b)]);
            Some(Reported {
                centre: point(&mark["centre_mm"]).map(moved).or(middle)?,
                box_mm,
                says: mark,
            })
        })
        .collect()
}

pub(super) fn rectangle(of: &Value) -> Option<[f64; 4]> {
    let sides: [f64; 4] = serde_json::from_value(of.get("box_mm")?.clone()).ok()?;
    let [a, b, c, d] = sides;
    Some([a.min(c), b.min(d), a.max(c), b.max(d)])
}

/// How far a place is from a planted mark, as a share of how far it may be; `None` when too far.
fn nearness(planted: &Value, [x, y]: [f64; 2]) -> Option<f64> {
    let [cx, cy] = point(&planted["centre_mm"])?;
    let reach = planted["size_mm"]
        .as_f64()
        .unwrap_or(USUAL_SIZE_MM)
        .max(NEAR_MM);
    if let (Some(axis), Some(length), None) = (
        planted["axis_deg"].as_f64(),
        planted["length_mm"].as_f64(),
        point(&planted["tail_end_mm"]),
    ) {
        // A line: beside it counts, along it any place does.
        let (sin, cos) = (libm::sin(axis.to_radians()), libm::cos(axis.to_radians()));
        let along = ((x - cx) * sin - (y - cy) * cos).abs();
        let aside = (x - cx) * cos + (y - cy) * sin;
        let beyond = (along - 0.5 * length - BEYOND_MM).max(0.0);
        let away = libm::hypot(aside, beyond) / reach.max(LINE_SHARE * length);
        return (away <= 1.0).then_some(away);
    }
    let [ex, ey] = point(&planted["tail_end_mm"]).unwrap_or([cx, cy]);
    let (ux, uy) = (ex - cx, ey - cy);
    let along = ((x - cx) * ux + (y - cy) * uy) / (ux * ux + uy * uy).max(1e-9);
    let along = along.clamp(0.0, 1.0);
    let away = libm::hypot(x - cx - along * ux, y - cy - along * uy) / reach;
    (away <= 1.0).then_some(away)
}

/// Pairs of planted and reported marks, nearest first.
fn pairs(planted: &[Value], found: &[Reported]) -> Vec<(usize, usize)> {
    let mut near = Vec::new();
    for (i, mark) in planted.iter().enumerate() {
        let bonus = if mark["findable"] == Value::Bool(true) {
            PREFER_FINDABLE
        } else {
            0.0
        };
        for (j, reported) in found.iter().enumerate() {
            if let Some(away) = nearness(mark, reported.centre) {
                near.push((away - bonus, i, j));
            }
        }
    }
    near.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
    let mut used = (vec![false; planted.len()], vec![false; found.len()]);
    let mut pairs = Vec::new();
    for (_, i, j) in near {
        if !used.0[i] && !used.1[j] {
            (used.0[i], used.1[j]) = (true, true);
            pairs.push((i, j));
        }
    }
    pairs
}

/// Share of a planted group's marks that one finding names; `None` when either states no marks.
pub(super) fn share_named(fault: &Value, finding: &Value, carry: Option<&[Map; 2]>) -> Option<f64> {
    let planted = fault["members"].as_array().filter(|m| !m.is_empty())?;
    let found = reported(finding, carry);
    (!found.is_empty()).then(|| pairs(planted, &found).len() as f64 / planted.len() as f64)
}

/// Counts the marks of one planted group in the findings that lie on it.
pub(super) fn count(
    fault: &Value,
    findings: &[&Value],
    truth: &Value,
    carry: Option<&[Map; 2]>,
) -> Option<ScoredMarks> {
    let planted = fault["members"].as_array()?;
    let can = |mark: &Value| mark["findable"] == Value::Bool(true);
    let found: Vec<Reported> = findings
        .iter()
        .flat_map(|finding| reported(finding, carry))
        .collect();
    let pairs = pairs(planted, &found);
    let mut marks = ScoredMarks {
        planted: planted.len(),
        findable: planted.iter().filter(|mark| can(mark)).count(),
        found: pairs.len(),
        ..ScoredMarks::default()
    };
    for (i, j) in &pairs {
        let (mark, says) = (&planted[*i], found[*j].says);
        marks.found_findable += usize::from(can(mark));
        if let (Some(there), Some(here)) = (
            number(mark, "/direction_deg"),
            number(says, "/direction_deg"),
        ) {
            let turn = (here - there).rem_euclid(360.0);
            marks.direction_off_deg.push(turn.min(360.0 - turn));
        }
        for (path, into) in [
            ("/contrast_d", &mut marks.contrast_ratio),
            ("/size_mm", &mut marks.size_ratio),
        ] {
            if let (Some(there), Some(here)) = (number(mark, path), number(says, path))
                && there > 0.02
            {
                into.push(here / there);
            }
        }
    }
    for (j, mark) in found.iter().enumerate() {
        let named = pairs.iter().any(|(_, of)| *of == j);
        if named || !on_natural_speck(truth, mark.centre) {
            marks.reported += 1;
        }
        marks.on_dust += usize::from(!named && on_dust(truth, mark));
    }
    Some(marks)
}

fn on_natural_speck(truth: &Value, centre: [f64; 2]) -> bool {
    let specks = truth["residual"].as_array();
    specks
        .into_iter()
        .flatten()
        .any(|speck| nearness(speck, centre).is_some())
}

/// True when at least half of a finding's marks lie on the few specks that any plate has.
pub(super) fn is_natural(truth: &Value, finding: &Value, carry: Option<&[Map; 2]>) -> bool {
    let found = reported(finding, carry);
    let on = found
        .iter()
        .filter(|mark| on_natural_speck(truth, mark.centre))
        .count();
    on > 0 && 2 * on >= found.len()
}

/// Number of marks a finding states.
pub(super) fn stated(finding: &Value) -> usize {
    finding["members"].as_array().map_or(0, Vec::len)
}

fn on_dust(truth: &Value, mark: &Reported) -> bool {
    let grown = |[l, t, r, b]: [f64; 4]| {
        let m = DUST_GROWN_MM;
        [l - m, t - m, r + m, b + m]
    };
    let [x, y] = mark.centre;
    let here = grown(mark.box_mm.unwrap_or([x, y, x, y]));
    let dust = truth["dust"].as_array();
    dust.into_iter()
        .flatten()
        .filter_map(rectangle)
        .any(|there| super::overlap(here, grown(there)).0 > 0.5)
}

/// What a report called the dust that it named.
pub(super) fn dust(
    truth: &Value,
    findings: &[Value],
    carry: Option<&[Map; 2]>,
    group_faults: &[&str],
) -> ScoredDust {
    let mut scored = ScoredDust::default();
    let planted: Vec<&Value> = truth["faults"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|fault| fault["members"].as_array())
        .flatten()
        .collect();
    for finding in findings {
        let kind = finding["fault"].as_str().unwrap_or_default();
        for mark in reported(finding, carry) {
            let dusty = on_dust(truth, &mark);
            if kind == super::DUST {
                scored.called_dust += usize::from(dusty);
                scored.not_dust += usize::from(!dusty);
            } else if group_faults.contains(&kind) {
                // A planted mark that happens to lie by dust is no mistake.
                let planted = planted.iter().any(|p| nearness(p, mark.centre).is_some());
                scored.called_marks += usize::from(dusty && !planted);
            }
        }
    }
    scored
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn truth() -> Value {
        json!({"residual": [{"centre_mm": [40.0, 40.0], "size_mm": 0.1}],
               "dust": [{"box_mm": [50.0, 50.0, 50.2, 50.2]}],
               "faults": [{"fault": "comets", "members": [
                   {"centre_mm": [10.0, 10.0], "tail_end_mm": [10.0, 20.0], "size_mm": 0.2,
                    "direction_deg": 180.0, "contrast_d": 0.4, "findable": true},
                   {"centre_mm": [30.0, 10.0], "tail_end_mm": [30.0, 12.0], "size_mm": 0.2,
                    "direction_deg": 350.0, "contrast_d": 0.2, "findable": false}]}]})
    }

    #[test]
    fn marks_match_one_to_one_anywhere_along_a_tail() {
        let truth = truth();
        let finding = json!({"fault": "comets", "members": [
            {"centre_mm": [10.1, 15.0], "size_mm": 0.1, "direction_deg": 190.0, "contrast_d": 0.2},
            {"centre_mm": [10.0, 10.1], "direction_deg": 20.0},
            {"centre_mm": [40.1, 40.0]},
            {"centre_mm": [50.1, 50.1]},
            {"centre_mm": [60.0, 60.0]}]});
        let marks = count(&truth["faults"][0], &[&finding], &truth, None).unwrap();
        assert_eq!((marks.planted, marks.findable), (2, 1));
        assert_eq!((marks.found, marks.found_findable), (1, 1));
        // The natural speck is neither right nor wrong; the dust and the two others are.
        assert_eq!((marks.reported, marks.on_dust), (4, 1));
        assert_eq!(share_named(&truth["faults"][0], &finding, None), Some(0.5));
        assert!(marks.direction_off_deg[0] <= 160.0);
    }

    #[test]
    fn dust_called_dust_and_dust_called_marks_are_told_apart() {
        let truth = truth();
        let at = |fault: &str, x: f64| json!({"fault": fault, "members": [{"centre_mm": [x, x]}]});
        let findings = [
            at("scan_dust", 50.1),
            at("scan_dust", 70.0),
            at("specks", 50.0),
        ];
        let scored = dust(&truth, &findings, None, &["specks"]);
        assert_eq!(
            scored,
            ScoredDust {
                called_dust: 1,
                called_marks: 1,
                not_dust: 1
            }
        );
        assert!(is_natural(&truth, &at("specks", 40.1), None));
        assert!(!is_natural(&truth, &at("specks", 45.0), None));
    }

    #[test]
    fn places_are_carried_through_the_reports_own_corners() {
        // The report took the plate for twice its size.
        let mut truth = truth();
        truth["plate"] = json!({"homography_mm_to_px":
            [[10.0, 0.0, 5.0], [0.0, 10.0, 5.0], [0.0, 0.0, 1.0]]});
        let report = json!({"plate": {"width_mm": 140.0, "height_mm": 160.0,
            "corners_px": [[5, 5], [705, 5], [705, 805], [5, 805]]}});
        let carry = carry(&report, &truth).unwrap();
        let finding = json!({"members": [{"centre_mm": [20.0, 20.0]}]});
        assert_eq!(
            share_named(&truth["faults"][0], &finding, Some(&carry)),
            Some(0.5)
        );
    }
}
