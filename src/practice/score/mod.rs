//! A plate report against the truth of its plate.
//!
//! Comes in: a report (the fields of the published schema) and a truth. Goes out: [`Scored`], what
//! was found, missed and false. A finding matches a planted fault of its kind: fog at an edge by the
//! edge's name, a veil by its kind alone, everything else by boxes grown by 1 mm (30 % of the
//! smaller in common, or intersection over union of 0.1). Streaks and ridges must also run along the
//! same axis, within 15 degrees where both state one. One finding to one fault, best fits first;
//! further findings on a found fault are split, neither right nor false. Groups of marks are told by
//! their marks too, see `marks`; a finding on the few specks that any plate has is natural, neither
//! right nor false either, and so is a bare area along a rim that the coating left all along.

use std::collections::BTreeMap;

use serde_json::Value;

use super::pose::Map;
use super::scenes::SceneName;

mod densities;
mod dust;
mod figures;
mod marks;

pub use dust::{DustNamed, dust_named};
pub use marks::{ScoredDust, ScoredMarks};

/// Kinds that must run along the same axis, and how far it may be off, degrees.
const SAME_AXIS: [&str; 2] = ["streaks", "ridges"];
const AXIS_DEG: f64 = 15.0;

/// How a kind of fault is told to be the same one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum SameBy {
    /// It covers the whole plate: the kind is enough.
    Kind,
    /// It hangs on an edge, named by `place`.
    Place,
    /// It lies somewhere.
    Boxes,
}

/// The kinds that are not told by their boxes.
const SAME_BY: [(&str, SameBy); 5] = [
    ("veil", SameBy::Kind),
    ("uneven_pour", SameBy::Kind),
    ("underfixed", SameBy::Kind),
    ("flat_image", SameBy::Kind),
    ("edge_fog", SameBy::Place),
];

/// A finding of this kind is about the scanner's glass, not about the plate.
const DUST: &str = "scan_dust";

/// Kinds that are groups of single marks.
const MARKS: [&str; 3] = ["comets", "pinholes", "specks"];

/// A rim wider than the first shows; its waves and a report's blur reach to the others: rims, and
/// millimetres.
const RIM_MM: f64 = 0.2;
const RIM_WIDTHS: f64 = 2.5;
const RIM_MORE_MM: f64 = 0.6;

/// What became of a planted fault.
#[derive(Debug, Clone, PartialEq)]
pub struct ScoredFault {
    /// Its kind.
    pub fault: String,
    /// Strength meant, 1 to 4.
    pub level: u8,
    /// Whether the painting shows it well enough to be found.
    pub findable: bool,
    /// Whether a finding matched it.
    pub found: bool,
    /// Figures of the truth beside those of the finding, by name: `(true, reported)`.
    pub figures: BTreeMap<&'static str, (f64, f64)>,
    /// Its single marks, where it is a group of them.
    pub marks: Option<ScoredMarks>,
}

/// What a finding turned out to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// It names a planted fault.
    Right,
    /// It names a planted fault that another finding named better.
    Split,
    /// It names the few specks that any plate has.
    Natural,
    /// Nothing of the kind was planted there.
    False,
}

/// A finding of a report, judged.
#[derive(Debug, Clone, PartialEq)]
pub struct ScoredFinding {
    /// Its kind.
    pub fault: String,
    /// What it turned out to be.
    pub verdict: Verdict,
    /// Single marks it states.
    pub marks: usize,
    /// Stated probability that a fault of the kind is there.
    pub confidence: Option<f64>,
    /// Stated expectation of false alarms.
    pub expected_false_alarms: Option<f64>,
    /// `measured` or `suggested`.
    pub standing: Option<String>,
}

/// One plate, scored.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Scored {
    /// Stem of the report's name.
    pub stem: String,
    /// No fault was planted.
    pub clean: bool,
    /// The scene looks like fog.
    pub bait: bool,
    /// The scene has strong straight lines.
    pub lines: bool,
    /// The scene has little contrast.
    pub pale: bool,
    /// `picture`, `blank` ...
    pub kind: String,
    /// `positive_on_metal` ...
    pub process: String,
    /// `margin`, `exact` or `inside`.
    pub crop: String,
    /// A report was there.
    pub reported: bool,
    /// Every planted fault.
    pub faults: Vec<ScoredFault>,
    /// Every finding.
    pub findings: Vec<ScoredFinding>,
    /// What dust was called.
    pub dust: ScoredDust,
    /// Distances of the four corners from the true ones, millimetres, nearest first.
    pub corners_mm: Option<[f64; 4]>,
    /// Reported minus true density of the picture area, by name: `d_light`, `d_dark`, `p5`, `p50`,
    /// `p95`; with the stated half width of the 95 % interval where there is one.
    pub density: BTreeMap<&'static str, (f64, Option<f64>)>,
    /// Reported over true resolution, minus one.
    pub scale: Option<f64>,
}

/// Scores one report; `None` when the plate was not read, which misses everything.
pub fn score(report: Option<&Value>, truth: &Value) -> Scored {
    let words = |path: &str| {
        truth
            .pointer(path)
            .and_then(Value::as_str)
            .unwrap_or_default()
            .to_owned()
    };
    let mut scored = Scored {
        stem: words("/stem"),
        clean: truth["clean"].as_bool().unwrap_or(false),
        bait: truth["bait"].as_bool().unwrap_or(false),
        lines: SceneName::LINES
            .iter()
            .any(|scene| truth["scene"] == scene.word()),
        pale: SceneName::PALE
            .iter()
            .any(|scene| truth["scene"] == scene.word()),
        kind: words("/plate/kind"),
        process: words("/plate/process"),
        crop: words("/scan/crop"),
        reported: report.is_some(),
        ..Scored::default()
    };
    let nothing = Vec::new();
    let planted = truth["faults"].as_array().unwrap_or(&nothing);
    let found = report
        .and_then(|report| report["findings"].as_array())
        .unwrap_or(&nothing);
    let carry = report.and_then(|report| marks::carry(report, truth));
    let carry = carry.as_ref();
    scored.dust = marks::dust(truth, found, carry, &MARKS);
    let fits = fits(planted, found, carry);
    let matched = assign(&fits);
    for (i, fault) in planted.iter().enumerate() {
        let finding = matched.iter().find(|(t, _)| *t == i).map(|(_, f)| *f);
        // All findings on this fault, the best one and those split from it.
        let on_it: Vec<&Value> = (0..found.len())
            .filter(|j| match matched.iter().find(|(_, f)| f == j) {
                Some((t, _)) => *t == i,
                None => best_fault(&fits, *j) == Some(i),
            })
            .filter_map(|j| found.get(j))
            .collect();
        scored.faults.push(ScoredFault {
            marks: marks::count(fault, &on_it, truth, carry),
            fault: fault["fault"].as_str().unwrap_or_default().to_owned(),
            level: fault["level"].as_u64().unwrap_or_default() as u8,
            findable: fault["findable"].as_bool().unwrap_or(false),
            found: finding.is_some(),
            figures: finding
                .and_then(|f| found.get(f))
                .map(|finding| figures::figures(fault, finding))
                .unwrap_or_default(),
        });
    }
    let has_dust = truth["dust"]
        .as_array()
        .is_some_and(|dust| !dust.is_empty());
    for (j, finding) in found.iter().enumerate() {
        let kind = finding["fault"].as_str().unwrap_or_default();
        let verdict = if matched.iter().any(|(_, f)| *f == j) || (kind == DUST && has_dust) {
            Verdict::Right
        } else if best_fault(&fits, j).is_some() {
            Verdict::Split
        } else if (MARKS.contains(&kind) && marks::is_natural(truth, finding, carry))
            || (kind == "bare_area" && is_rim(truth, finding))
        {
            Verdict::Natural
        } else {
            Verdict::False
        };
        scored.findings.push(ScoredFinding {
            fault: kind.to_owned(),
            verdict,
            marks: marks::stated(finding),
            confidence: finding["confidence"].as_f64(),
            expected_false_alarms: finding["expected_false_alarms"].as_f64(),
            standing: finding["standing"].as_str().map(str::to_owned),
        });
    }
    if let Some(report) = report {
        scored.corners_mm = corners(report, truth);
        scored.density = densities::densities(report, truth);
        scored.scale = number(report, "/scan/dpi_x")
            .zip(number(truth, "/scan/dpi_true"))
            .map(|(reported, true_dpi)| reported / true_dpi - 1.0);
    }
    scored
}

/// How well each finding lies on each planted fault, where it does: `(fit, fault, finding)`.
fn fits(planted: &[Value], found: &[Value], carry: Option<&[Map; 2]>) -> Vec<(f64, usize, usize)> {
    let mut fits = Vec::new();
    for (i, fault) in planted.iter().enumerate() {
        for (j, finding) in found.iter().enumerate() {
            let fit = fit(fault, finding, carry);
            if fit > 0.0 {
                fits.push((fit, i, j));
            }
        }
    }
    fits.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
    fits
}

/// The fault that a finding lies on best.
fn best_fault(fits: &[(f64, usize, usize)], finding: usize) -> Option<usize> {
    fits.iter()
        .find(|(_, _, j)| *j == finding)
        .map(|(_, i, _)| *i)
}

/// Pairs of planted fault and finding, best fits first.
fn assign(fits: &[(f64, usize, usize)]) -> Vec<(usize, usize)> {
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    for (_, i, j) in fits {
        if pairs.iter().all(|(t, f)| t != i && f != j) {
            pairs.push((*i, *j));
        }
    }
    pairs
}

/// How well a finding lies on a planted fault, 0 = not at all, 1 = as well as can be.
fn fit(fault: &Value, finding: &Value, carry: Option<&[Map; 2]>) -> f64 {
    let kind = finding["fault"].as_str();
    let accepted = fault["accept"]
        .as_array()
        .is_some_and(|names| names.iter().any(|name| name.as_str() == kind));
    if kind.is_none() || !accepted {
        return 0.0;
    }
    let best = if fault["fault"].as_str() == kind {
        1.0
    } else {
        0.7
    };
    if SAME_AXIS.contains(&fault["fault"].as_str().unwrap_or_default())
        && let (Some(there), Some(here)) = (axis(fault), axis(finding))
    {
        let turn = (here - there).rem_euclid(180.0);
        if turn.min(180.0 - turn) > AXIS_DEG {
            return 0.0;
        }
    }
    let same_by = SAME_BY
        .iter()
        .find(|(name, _)| fault["fault"].as_str() == Some(name))
        .map_or(SameBy::Boxes, |(_, how)| *how);
    match same_by {
        SameBy::Kind => best,
        SameBy::Place if finding["place"].is_string() => {
            if finding["place"] == fault["place"] {
                best
            } else {
                0.0
            }
        }
        SameBy::Place | SameBy::Boxes => {
            let (of_smaller, of_union) = match (rectangle(fault), rectangle(finding)) {
                (Some(a), Some(b)) => overlap(a, b),
                _ => (0.0, 0.0),
            };
            let by_box = if of_smaller >= 0.3 || of_union >= 0.1 {
                0.3 + 0.7 * of_union
            } else {
                0.0
            };
            // Where both name their marks, these count: a box can hold the wrong ones.
            best * match marks::share_named(fault, finding, carry) {
                None => by_box,
                Some(share) if share > 0.0 => by_box.max(0.25 + 0.7 * share),
                Some(_) => 0.5 * by_box,
            }
        }
    }
}

/// The axis of a fault or a finding, degrees.
fn axis(of: &Value) -> Option<f64> {
    number(of, "/axis_deg").or_else(|| number(of, "/measured/axis_deg"))
}

/// True when a bare area is no more than the rim that the coating left along an edge.
fn is_rim(truth: &Value, finding: &Value) -> bool {
    let side = |name: &str| number(truth, &format!("/plate/{name}"));
    let (Some([l, t, r, b]), Some(w), Some(h), Some(rims)) = (
        marks::rectangle(finding),
        side("width_mm"),
        side("height_mm"),
        truth
            .pointer("/plate/coat_margin_mm")
            .and_then(Value::as_array),
    ) else {
        return false;
    };
    let depths = [b, w - l, h - t, r];
    rims.iter().zip(depths).any(|(rim, depth)| {
        rim.as_f64()
            .is_some_and(|rim| rim > RIM_MM && depth <= RIM_WIDTHS * rim + RIM_MORE_MM)
    })
}

/// The box of a fault or a finding, grown by 1 mm, `[left, top, right, bottom]`.
fn rectangle(of: &Value) -> Option<[f64; 4]> {
    let sides = of["box_mm"].as_array()?;
    let mut b = [0.0; 4];
    if sides.len() != 4 {
        return None;
    }
    for (to, from) in b.iter_mut().zip(sides) {
        *to = from.as_f64()?;
    }
    Some([
        b[0].min(b[2]) - 1.0,
        b[1].min(b[3]) - 1.0,
        b[0].max(b[2]) + 1.0,
        b[1].max(b[3]) + 1.0,
    ])
}

/// Common area of two boxes over the smaller, and over their union.
fn overlap(a: [f64; 4], b: [f64; 4]) -> (f64, f64) {
    let area = |r: [f64; 4]| (r[2] - r[0]).max(0.0) * (r[3] - r[1]).max(0.0);
    let common = area([
        a[0].max(b[0]),
        a[1].max(b[1]),
        a[2].min(b[2]),
        a[3].min(b[3]),
    ]);
    let smaller = area(a).min(area(b));
    let union = area(a) + area(b) - common;
    let share = |whole: f64| if whole > 0.0 { common / whole } else { 0.0 };
    (share(smaller), share(union))
}

/// A number, written plainly or as an object with a `value`.
fn number(of: &Value, path: &str) -> Option<f64> {
    let value = of.pointer(path)?;
    value
        .as_f64()
        .or_else(|| value.get("value").and_then(Value::as_f64))
        .filter(|value| value.is_finite())
}

fn corners(report: &Value, truth: &Value) -> Option<[f64; 4]> {
    let px_per_mm = number(truth, "/scan/dpi_true")? / crate::units::MM_PER_INCH;
    let points = |of: &Value| -> Option<Vec<[f64; 2]>> {
        of.pointer("/plate/corners_px")?
            .as_array()?
            .iter()
            .map(|p| Some([p.get(0)?.as_f64()?, p.get(1)?.as_f64()?]))
            .collect()
    };
    let (here, there) = (points(report)?, points(truth)?);
    if here.len() != 4 || there.len() != 4 {
        return None;
    }
    let mut away: [f64; 4] = std::array::from_fn(|i| {
        libm::hypot(here[i][0] - there[i][0], here[i][1] - there[i][1]) / px_per_mm
    });
    away.sort_by(f64::total_cmp);
    Some(away)
}

#[cfg(test)]
mod shapes_tests;

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn truth(faults: Value) -> Value {
        json!({"stem": "A-001", "clean": false, "faults": faults, "dust": [],
               "plate": {"kind": "picture", "process": "positive_on_glass",
                         "corners_px": [[10, 10], [110, 10], [110, 210], [10, 210]]},
               "scan": {"crop": "margin", "dpi_true": 254.0},
               "density": {"image_area": {"p2": 0.5, "p5": 0.6, "p50": 1.0, "p95": 1.8, "p98": 1.9}}})
    }

    #[test]
    fn edges_match_by_name_leaks_by_box_and_the_rest_is_false() {
        let truth = truth(json!([
            {"fault": "edge_fog", "accept": ["edge_fog"], "place": "top", "level": 3,
             "findable": true, "box_mm": [0, 0, 70, 8], "measured": {"fog_d": 0.2}},
            {"fault": "light_leak", "accept": ["light_leak"], "place": "left", "level": 2,
             "findable": true, "box_mm": [0, 40, 20, 46]},
        ]));
        let report = json!({"findings": [
            {"fault": "edge_fog", "place": "top", "measured": {"fog_d": {"value": 0.22}}, "confidence": 0.9},
            {"fault": "edge_fog", "place": "left", "box_mm": [0, 0, 8, 80]},
            {"fault": "light_leak", "box_mm": [2, 41, 18, 47]},
            {"fault": "light_leak", "box_mm": [0, 40, 4, 46]},
            {"fault": "veil"},
        ]});
        let scored = score(Some(&report), &truth);
        assert!(scored.faults.iter().all(|fault| fault.found));
        assert_eq!(scored.faults[0].figures["fog_d"], (0.2, 0.22));
        let verdicts: Vec<Verdict> = scored.findings.iter().map(|f| f.verdict).collect();
        use Verdict::{False, Right, Split};
        assert_eq!(verdicts, [Right, False, Right, Split, False]);
    }

    #[test]
    fn a_plate_without_a_report_misses_everything() {
        let truth =
            truth(json!([{"fault": "veil", "accept": ["veil"], "level": 2, "findable": true}]));
        let scored = score(None, &truth);
        assert!(!scored.reported && !scored.faults[0].found && scored.findings.is_empty());
    }

    #[test]
    fn corners_and_densities_are_compared() {
        let report = json!({
            "plate": {"corners_px": [[13, 14], [110, 10], [110, 210], [10, 210]]},
            "density": {"d_light": 0.52, "d_light_u": 0.03,
                        "histogram": {"edges_d": [0.0, 1.0, 2.0], "picture_counts": [50, 50]}},
            "scan": {"dpi_x": 254.0}, "findings": []});
        let scored = score(Some(&report), &truth(json!([])));
        // 254 dpi is 10 pixels a millimetre: (3, 4) pixels are half a millimetre.
        assert_eq!(scored.corners_mm, Some([0.0, 0.0, 0.0, 0.5]));
        let (error, sure) = scored.density["d_light"];
        assert!((error - 0.02).abs() < 1e-12 && sure == Some(0.03));
        assert!(scored.density["p50"].0.abs() < 1e-12);
        assert_eq!(scored.scale, Some(0.0));
    }
}
