//! The accuracy table in Markdown.

use std::fmt::Write;

use super::Accuracy;
use super::shares::{f1_with_lower_bound, false_per_clean_plate, precision, quantile, wilson};
use crate::practice::score::{Scored, ScoredFault, Verdict};

mod clean;
mod marks;
mod shapes;

/// The kinds of fault that are planted.
const FAULTS: [&str; 15] = [
    "veil",
    "edge_fog",
    "light_leak",
    "comets",
    "pinholes",
    "specks",
    "streaks",
    "dip_line",
    "ridges",
    "uneven_pour",
    "bare_area",
    "stain",
    "scratch",
    "flat_image",
    "underfixed",
];

/// Those of them that the design planted.
fn faults(plates: &[Scored]) -> Vec<&'static str> {
    FAULTS
        .into_iter()
        .filter(|fault| planted(plates, fault).next().is_some())
        .collect()
}

/// Words for some of the plates, and which they are.
type Group = (&'static str, fn(&Scored) -> bool);

/// Fog counts as measured when it is this near the truth: a quarter of it, or 0.02 D.
const FOG_SHARE: f64 = 0.25;
const FOG_D: f64 = 0.02;

pub(super) fn markdown(accuracy: &Accuracy) -> String {
    let plates = &accuracy.plates;
    let clean = plates.iter().filter(|plate| plate.clean).count();
    let bait = plates
        .iter()
        .filter(|plate| plate.clean && plate.bait)
        .count();
    let read = plates.iter().filter(|plate| plate.reported).count();
    let mut out = String::new();
    // Writing to a string cannot fail.
    let mut line = |text: String| {
        let _ = writeln!(out, "{text}");
    };
    line("# Accuracy on made-up plates".into());
    line(String::new());
    line(format!(
        "oystermark {}, design `{}`, seeds {} to {}: {} plates, {read} read, {clean} of them without a \
         planted fault ({bait} of these with a scene that looks like fog){}. Plates, scenes and faults \
         are drawn by our own painter; their densities are from memory of the trade and real plates \
         vary more. Intervals hold 95 %.",
        env!("CARGO_PKG_VERSION"),
        accuracy.design,
        accuracy.seeds.0,
        accuracy.seeds.1,
        plates.len(),
        match accuracy.turned {
            true => ", each scanned twice, the second time turned half round on the glass",
            false => "",
        },
    ));
    for block in [
        found(plates),
        levels(plates),
        by_kind(plates),
        clean::plates(plates),
        clean::by_fault(plates),
        figures(plates),
        shapes::figures(plates),
        marks::marks(plates),
        marks::dust(plates),
        marks::even(accuracy.design),
        shapes::even(accuracy.design),
        geometry(plates),
        densities(plates),
        confidence(plates),
    ] {
        if !block.is_empty() {
            line(String::new());
            line(block);
        }
    }
    out
}

fn percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

/// `12/15 = 80 % (55 to 93)`.
fn share(hits: usize, of: usize) -> String {
    match wilson(hits, of) {
        None => "-".into(),
        Some((low, high)) => format!(
            "{hits}/{of} = {} ({:.0} to {:.0})",
            percent(hits as f64 / of as f64),
            100.0 * low,
            100.0 * high
        ),
    }
}

fn number(value: Option<f64>, decimals: usize) -> String {
    value.map_or("-".into(), |value| format!("{value:.decimals$}"))
}

fn planted<'a>(plates: &'a [Scored], fault: &'a str) -> impl Iterator<Item = &'a ScoredFault> {
    plates
        .iter()
        .flat_map(|plate| &plate.faults)
        .filter(move |f| f.fault == fault)
}

fn table(title: &str, note: &str, head: &[&str], rows: Vec<Vec<String>>) -> String {
    let mut out = format!("## {title}\n\n");
    if !note.is_empty() {
        out += &format!("{note}\n\n");
    }
    out += &format!("| {} |\n", head.join(" | "));
    out += &format!("|{}\n", "---|".repeat(head.len()));
    for row in rows {
        out += &format!("| {} |\n", row.join(" | "));
    }
    out.trim_end().to_owned()
}

fn found(plates: &[Scored]) -> String {
    let rows = faults(plates)
        .iter()
        .map(|fault| {
            let can: Vec<&ScoredFault> = planted(plates, fault)
                .filter(|f| f.findable && f.level >= 2)
                .collect();
            let hits = can.iter().filter(|f| f.found).count();
            let (right, said) = precision(plates, fault);
            let f1 = f1_with_lower_bound(plates, fault);
            vec![
                format!("`{fault}`"),
                planted(plates, fault).count().to_string(),
                can.len().to_string(),
                share(hits, can.len()),
                share(right, said),
                number(f1.map(|f| f.0), 2),
                number(f1.map(|f| f.1), 2),
                number(false_per_clean_plate(plates, Some(fault)), 3),
            ]
        })
        .collect();
    table(
        "Faults found",
        "Recall and F1 are over plantings of levels 2 (clear) to 4 (ruins the plate) that the painting \
         shows well enough to be found; precision is over all findings of the kind. The lower bound of \
         F1 is from a bootstrap over plates.",
        &[
            "fault",
            "planted",
            "can be found, 2 to 4",
            "recall",
            "precision",
            "F1",
            "F1 at least",
            "false a clean plate",
        ],
        rows,
    )
}

fn levels(plates: &[Scored]) -> String {
    let rows = faults(plates)
        .iter()
        .map(|fault| {
            let mut row = vec![format!("`{fault}`")];
            for level in 1..=4 {
                let can = planted(plates, fault).filter(|f| f.level == level && f.findable);
                let (hits, of) = can.fold((0, 0), |(h, n), f| (h + usize::from(f.found), n + 1));
                row.push(share(hits, of));
            }
            let hard = planted(plates, fault).filter(|f| !f.findable);
            let (hits, of) = hard.fold((0, 0), |(h, n), f| (h + usize::from(f.found), n + 1));
            row.push(format!("{hits}/{of}"));
            row
        })
        .collect();
    table(
        "Recall by strength",
        "",
        &[
            "fault",
            "1, near the limit",
            "2, clear",
            "3, strong",
            "4, ruins the plate",
            "found though hidden",
        ],
        rows,
    )
}

fn by_kind(plates: &[Scored]) -> String {
    let faults = faults(plates);
    let groups: [Group; 7] = [
        ("pictures", |p| p.kind == "picture"),
        ("blank plates", |p| p.kind == "blank"),
        ("flat plates", |p| p.kind == "flat"),
        ("positives on metal", |p| p.process == "positive_on_metal"),
        ("positives on glass", |p| p.process == "positive_on_glass"),
        ("negatives on glass", |p| p.process == "negative_on_glass"),
        ("scans cropped to or inside the edge", |p| {
            p.crop != "margin"
        }),
    ];
    let rows = groups
        .iter()
        .map(|(name, belongs)| {
            let mut row = vec![(*name).to_owned()];
            for fault in &faults {
                let can = plates
                    .iter()
                    .filter(|plate| belongs(plate))
                    .flat_map(|plate| &plate.faults)
                    .filter(|f| f.fault == **fault && f.findable && f.level >= 2);
                let (hits, of) = can.fold((0, 0), |(h, n), f| (h + usize::from(f.found), n + 1));
                row.push(share(hits, of));
            }
            row
        })
        .collect();
    let names: Vec<String> = faults.iter().map(|fault| format!("`{fault}`")).collect();
    let mut head = vec!["plates"];
    head.extend(names.iter().map(String::as_str));
    table("Recall by plate, levels 2 to 4", "", &head, rows)
}

fn figures(plates: &[Scored]) -> String {
    let pairs = |fault: &str, name: &'static str| -> Vec<(f64, f64)> {
        planted(plates, fault)
            .filter_map(|f| f.figures.get(name).copied())
            .collect()
    };
    let mut rows = Vec::new();
    for (fault, name) in [("veil", "veil_d"), ("edge_fog", "fog_d")] {
        let pairs = pairs(fault, name);
        let near = pairs
            .iter()
            .filter(|(truth, said)| (said - truth).abs() <= (FOG_SHARE * truth).max(FOG_D))
            .count();
        let mut errors: Vec<f64> = pairs.iter().map(|(truth, said)| said - truth).collect();
        let bias = quantile(&mut errors, 0.5);
        let mut sizes: Vec<f64> = errors.iter().map(|e| e.abs()).collect();
        rows.push(vec![
            format!("`{fault}` `{name}`"),
            share(near, pairs.len()),
            number(bias, 3),
            number(quantile(&mut sizes, 0.5), 3),
            number(quantile(&mut sizes, 0.95), 3),
        ]);
    }
    let depths = pairs("edge_fog", "depth_mm");
    let within = depths
        .iter()
        .filter(|(truth, said)| *said > 0.0 && (said / truth).max(truth / said) <= 1.6)
        .count();
    let mut ratios: Vec<f64> = depths.iter().map(|(truth, said)| said / truth).collect();
    rows.push(vec![
        "`edge_fog` `depth_mm`, as a ratio".into(),
        share(within, depths.len()),
        number(quantile(&mut ratios, 0.5), 2),
        number(quantile(&mut ratios, 0.05), 2),
        number(quantile(&mut ratios, 0.95), 2),
    ]);
    // Name of the figure, its period, and how near is near enough, degrees.
    for (fault, name, period, near) in [
        ("light_leak", "direction_deg", 360.0, 30.0),
        ("comets", "direction_deg", 360.0, 5.0),
        ("comets", "axis_deg", 180.0, 5.0),
    ] {
        let mut off: Vec<f64> = pairs(fault, name)
            .iter()
            .map(|(truth, said): &(f64, f64)| {
                let turn = (said - truth).rem_euclid(period);
                turn.min(period - turn)
            })
            .collect();
        let within = off.iter().filter(|turn| **turn <= near).count();
        rows.push(vec![
            format!("`{fault}` `{name}`"),
            share(within, off.len()),
            "-".into(),
            number(quantile(&mut off, 0.5), 1),
            number(quantile(&mut off, 0.95), 1),
        ]);
    }
    table(
        "Figures of the faults that were found",
        "Near enough: fog within a quarter or 0.02 D, depth within a factor of 1.6, the direction of a \
         leak within 30 degrees, of comets within 5. For the depth the last three columns are the median ratio and its 5th and 95th \
         percentiles.",
        &[
            "figure",
            "near enough",
            "median error",
            "median size of error",
            "95th percentile",
        ],
        rows,
    )
}

fn geometry(plates: &[Scored]) -> String {
    let rows = ["margin", "exact", "inside"]
        .iter()
        .map(|crop| {
            let of: Vec<&Scored> = plates.iter().filter(|p| p.crop == *crop).collect();
            let corners: Vec<[f64; 4]> = of.iter().filter_map(|p| p.corners_mm).collect();
            let mut worst: Vec<f64> = corners.iter().map(|c| c[3]).collect();
            let mut all: Vec<f64> = corners.iter().flatten().copied().collect();
            let within = |mm: f64| worst.iter().filter(|w| **w <= mm).count();
            let (half, one) = (within(0.5), within(1.0));
            vec![
                (*crop).to_owned(),
                of.len().to_string(),
                number(quantile(&mut all, 0.5), 2),
                number(quantile(&mut worst, 0.95), 2),
                share(half, of.len()),
                share(one, of.len()),
            ]
        })
        .collect();
    table(
        "Corners",
        "Distance of reported corners from the true ones, millimetres.",
        &[
            "crop",
            "plates",
            "median",
            "95th percentile of the worst",
            "worst within 0.5 mm",
            "within 1 mm",
        ],
        rows,
    )
}

fn densities(plates: &[Scored]) -> String {
    let rows = ["d_light", "d_dark", "p5", "p50", "p95"]
        .iter()
        .map(|name| {
            let pairs: Vec<(f64, Option<f64>)> = plates
                .iter()
                .filter_map(|p| p.density.get(name).copied())
                .collect();
            let mut errors: Vec<f64> = pairs.iter().map(|(error, _)| *error).collect();
            let bias = quantile(&mut errors, 0.5);
            let mut sizes: Vec<f64> = errors.iter().map(|e| e.abs()).collect();
            let near = sizes.iter().filter(|size| **size <= 0.05).count();
            let stated: Vec<bool> = pairs
                .iter()
                .filter_map(|(error, u)| u.map(|u| error.abs() <= u))
                .collect();
            vec![
                format!("`{name}`"),
                number(bias, 3),
                number(quantile(&mut sizes, 0.5), 3),
                number(quantile(&mut sizes, 0.95), 3),
                share(near, pairs.len()),
                share(
                    stated.iter().filter(|inside| **inside).count(),
                    stated.len(),
                ),
            ]
        })
        .collect();
    table(
        "Density of the picture area",
        "Reported minus true density of the plate; the scanner's gain and flare, which no single scan \
         can show, are part of the error.",
        &[
            "figure",
            "median error",
            "median size of error",
            "95th percentile",
            "within 0.05 D",
            "inside its own interval",
        ],
        rows,
    )
}

fn confidence(plates: &[Scored]) -> String {
    let said: Vec<(f64, bool)> = plates
        .iter()
        .flat_map(|plate| &plate.findings)
        .filter(|f| f.verdict != Verdict::Natural)
        .filter_map(|f| Some((f.confidence?.clamp(0.0, 1.0), f.verdict != Verdict::False)))
        .collect();
    let mut rows = Vec::new();
    let mut gap = 0.0;
    for bin in 0..5 {
        let (low, high) = (f64::from(bin) / 5.0, f64::from(bin + 1) / 5.0);
        let inside: Vec<&(f64, bool)> = said
            .iter()
            .filter(|(c, _)| *c >= low && (*c < high || (bin == 4 && *c <= 1.0)))
            .collect();
        let right = inside.iter().filter(|(_, right)| *right).count();
        let count = inside.len().max(1) as f64;
        let mean = inside.iter().map(|(c, _)| c).sum::<f64>() / count;
        gap += (mean - right as f64 / count).abs() * inside.len() as f64;
        rows.push(vec![
            format!("{low:.1} to {high:.1}"),
            inside.len().to_string(),
            number((!inside.is_empty()).then_some(mean), 2),
            share(right, inside.len()),
        ]);
    }
    let count = said.len().max(1) as f64;
    let brier = said
        .iter()
        .map(|(c, right)| (c - f64::from(u8::from(*right))).powi(2))
        .sum::<f64>()
        / count;
    let expected: f64 = plates
        .iter()
        .filter(|plate| plate.clean)
        .flat_map(|plate| &plate.findings)
        .filter_map(|f| f.expected_false_alarms)
        .sum();
    table(
        "Confidence",
        &format!(
            "The share of right findings among those of like confidence. Brier score {}, mean gap over \
             the five bins {}; false alarms that findings on clean plates expected of themselves: {expected:.2}.",
            number((!said.is_empty()).then_some(brier), 3),
            number((!said.is_empty()).then_some(gap / count), 3),
        ),
        &["confidence", "findings", "mean", "right"],
        rows,
    )
}
