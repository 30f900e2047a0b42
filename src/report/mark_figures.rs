//! The charts of a group of marks: which way its tails point, how large its marks are.

use super::{ReportedFinding, words};
use crate::charts::{BarChart, ChartError, Frame, Rose, Rule, Spoke, bar_chart, rose};
use crate::findings::Fault;
use crate::handling::Handling;

/// Sectors of a rose: 15 degrees each, as far as tails of one group stray.
const SECTORS: usize = 24;
/// Size of the rose, in the charts' text units.
const ROSE_SIZE: (u32, u32) = (330, 240);
/// Size of the histogram of sizes.
const SIZES_SIZE: (u32, u32) = (300, 215);
/// Fewest marks whose sizes make a histogram: fewer are better read one by one.
const FEWEST_SIZES: usize = 8;
/// Widths that the bins of a histogram may have, millimetres, finest first.
const BINS_MM: [f64; 7] = [0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0];
/// Most bins of a histogram.
const MOST_BINS: f64 = 24.0;

/// The rose of a group's tails with what the maker said of dip, developer and drain; `None` where marks
/// have no tails.
pub(super) fn tails(
    finding: &ReportedFinding,
    handling: Option<&Handling>,
) -> Result<Option<String>, ChartError> {
    if finding.fault != Fault::Comets {
        return Ok(None);
    }
    let each = 360.0 / SECTORS as f64;
    let mut counts = vec![0; SECTORS];
    let members = finding.members.iter().flatten();
    for deg in members.filter_map(|mark| mark.direction_deg) {
        counts[((deg / each).round().rem_euclid(SECTORS as f64)) as usize % SECTORS] += 1;
    }
    let total: usize = counts.iter().sum();
    let one_way = finding.direction_deg.map(|deg| (deg, false));
    let mean = one_way.or(finding.axis_deg.map(|deg| (deg, true)));
    let chart = Rose {
        title: match mean {
            Some((deg, false)) => {
                format!(
                    "Rose of {total} tails, most toward {deg:.0} degrees clockwise from the top"
                )
            }
            Some((deg, true)) => {
                format!(
                    "Rose of {total} tails, both ways along {deg:.0} degrees clockwise from the upright"
                )
            }
            None => format!("Rose of {total} tails"),
        },
        counts,
        mean: mean.map(|(deg, both_ways)| Spoke {
            deg,
            both_ways,
            label: None,
        }),
        others: handling.map(told).unwrap_or_default(),
        quarters: ["top", "right", "bottom", "left"].map(str::to_owned),
        size: ROSE_SIZE,
    };
    match rose(&chart) {
        Ok(svg) => Ok(Some(svg)),
        Err(ChartError::Empty(_)) => Ok(None),
        Err(other) => Err(other),
    }
}

/// Ways that liquids ran, as the maker said.
fn told(handling: &Handling) -> Vec<Spoke> {
    let spoke = |deg: Option<f64>, both_ways: bool, label: &str| {
        deg.map(|deg| Spoke {
            deg,
            both_ways,
            label: Some(label.to_owned()),
        })
    };
    let drain = handling
        .drain_corner
        .and_then(|corner| corner.spot().direction_deg());
    [
        spoke(drain, false, "drain"),
        spoke(handling.developer_direction_deg, false, "developer"),
        spoke(handling.dip_axis_deg, true, "dip"),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// How many marks of a group are of which size; `None` for a few, and where no scale is known.
pub(super) fn sizes(finding: &ReportedFinding) -> Result<Option<String>, ChartError> {
    let members = finding.members.iter().flatten();
    let sizes: Vec<f64> = members.filter_map(|mark| mark.size_mm).collect();
    // Waves have one width, which follows from their spacing.
    let alike = sizes.iter().all(|size| *size == sizes[0]);
    if sizes.len() < FEWEST_SIZES || alike {
        return Ok(None);
    }
    let most = sizes.iter().copied().fold(0.0, f64::max);
    let bin = BINS_MM
        .into_iter()
        .find(|bin| most / bin <= MOST_BINS)
        .unwrap_or(most / MOST_BINS);
    let bins = ((most / bin).floor() as usize + 1).max(4);
    let mut heights = vec![0.0; bins];
    for size in &sizes {
        heights[((size / bin) as usize).min(bins - 1)] += 1.0;
    }
    let tallest = heights.iter().copied().fold(0.0, f64::max);
    let (noun, figure) = match finding.fault {
        Fault::Streaks | Fault::Ridges => ("bands", "width"),
        Fault::Scratch => ("scratches", "width"),
        _ => ("marks", "size"),
    };
    let middle = finding.measured.number(&format!("{figure}_mm"));
    let chart = BarChart {
        frame: Frame {
            title: format!(
                "{} of {} {}, the most common bin holds {tallest:.0}",
                words::capitalised(&format!("{figure}s")),
                sizes.len(),
                noun
            ),
            x_label: format!("{figure}, mm"),
            y_label: noun.to_owned(),
            x: (0.0, bin * bins as f64),
            y: (0.0, tallest * 1.28),
            size: SIZES_SIZE,
        },
        edges: (0..=bins).map(|k| bin * k as f64).collect(),
        heights,
        rules: middle
            .map(|x| Rule {
                x,
                label: format!("half are below {x:.2}"),
            })
            .into_iter()
            .collect(),
    };
    match bar_chart(&chart) {
        Ok(svg) => Ok(Some(svg)),
        Err(ChartError::Empty(_)) => Ok(None),
        Err(other) => Err(other),
    }
}
