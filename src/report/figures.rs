//! The charts of a page: density histogram, silver against distance from each edge.

use super::{Report, ReportedProfile};
use crate::charts::{
    BarChart, ChartError, Frame, Line, LineChart, LineKind, Rule, bar_chart, line_chart,
};
use crate::plate::{Edge, ScaleSource};

/// Size of the histogram, in the charts' text units.
const HISTOGRAM_SIZE: (u32, u32) = (560, 250);
/// Size of each of the four edge charts: a phone shows one nearly one to one, a desk four abreast.
const PROFILE_SIZE: (u32, u32) = (310, 215);
/// Smallest span of the silver axis, so that noise does not look like a mountain: our own choice,
/// the size of a fog that is plain to see.
const LEAST_SPAN_D: f64 = 0.2;
/// Points of a drawn fit.
const FIT_POINTS: usize = 80;

/// The density histogram; `None` when it holds nothing.
pub(super) fn histogram(report: &Report) -> Result<Option<String>, ChartError> {
    let density = &report.density;
    let (edges, counts) = (
        &density.histogram.edges_d,
        &density.histogram.picture_counts,
    );
    let total: u64 = counts.iter().sum();
    let filled = |i: &usize| counts.get(*i).is_some_and(|count| *count > 0);
    let (Some(first), Some(last)) = (
        (0..counts.len()).find(|i| filled(i)),
        (0..counts.len()).rev().find(|i| filled(i)),
    ) else {
        return Ok(None);
    };
    let (Some(&from), Some(&to)) = (edges.get(first), edges.get(last + 1)) else {
        return Ok(None);
    };
    let heights: Vec<f64> = counts
        .iter()
        .map(|count| 100.0 * *count as f64 / total as f64)
        .collect();
    let tallest = heights.iter().copied().fold(0.0, f64::max);
    // Whole fifths of a density unit round the filled bins, so that ticks fall on round figures.
    let (from, to) = ((from * 5.0).floor() / 5.0, (to * 5.0).ceil() / 5.0);
    let rule = |x: f64, label: &str| Rule {
        x,
        label: label.to_owned(),
    };
    let chart = BarChart {
        frame: Frame {
            title: format!(
                "Histogram of density over the picture area, from {:.2} to {:.2} D between the marks",
                density.d_light, density.d_dark
            ),
            x_label: "density (light to the left, dark to the right)".to_owned(),
            y_label: "share of the picture area".to_owned(),
            x: (from, to.max(from + 0.2)),
            y: (0.0, tallest * 1.22),
            size: HISTOGRAM_SIZE,
        },
        edges: edges.clone(),
        heights,
        rules: vec![
            rule(density.d_light, "lightest"),
            rule(density.d_dark, "darkest"),
        ],
    };
    drawn(bar_chart(&chart))
}

/// One chart an edge, all four with the same silver axis.
pub(super) fn profiles(report: &Report) -> Result<Vec<(Edge, String)>, ChartError> {
    let profiles: Vec<&ReportedProfile> = report
        .profiles
        .iter()
        .filter(|p| p.silver_d.iter().any(Option::is_some) && p.distance_share.len() > 1)
        .collect();
    let known = || profiles.iter().flat_map(|p| &p.silver_d).flatten().copied();
    let low = known().fold(f64::INFINITY, f64::min).min(0.0);
    let fitted = profiles
        .iter()
        .filter_map(|p| p.fit)
        .map(|fit| fit.base_d + fit.fog_d);
    let high = known().chain(fitted).fold(f64::NEG_INFINITY, f64::max);
    let y = (
        (low * 20.0).floor() / 20.0,
        ((high * 1.1).max(low + LEAST_SPAN_D) * 20.0).ceil() / 20.0,
    );
    let scaled = report.scan.scale_source != ScaleSource::Unknown;
    let mut charts = Vec::new();
    for profile in profiles {
        let chart = profile_chart(profile, y, scaled);
        if let Some(svg) = drawn(line_chart(&chart))? {
            charts.push((profile.edge, svg));
        }
    }
    Ok(charts)
}

/// A chart without a span is left out; the page does without it.
fn drawn(chart: Result<String, ChartError>) -> Result<Option<String>, ChartError> {
    match chart {
        Ok(svg) => Ok(Some(svg)),
        Err(ChartError::Empty(_)) => Ok(None),
        Err(other) => Err(other),
    }
}

fn profile_chart(profile: &ReportedProfile, y: (f64, f64), scaled: bool) -> LineChart {
    // Without a scale, distance is told in per cent of the plate.
    let per_cent = |share: f64| share * 100.0;
    let (distance, ledge, x_label): (Vec<f64>, _, _) = match &profile.distance_mm {
        Some(distance_mm) if scaled => (distance_mm.clone(), profile.ledge_mm, "mm from the edge"),
        _ => (
            profile
                .distance_share
                .iter()
                .copied()
                .map(per_cent)
                .collect(),
            profile.ledge_share.map(per_cent),
            "% of the plate from the edge",
        ),
    };
    let depth = profile.fit.map(|fit| match fit.depth_mm {
        Some(depth_mm) if scaled => depth_mm,
        _ => per_cent(fit.depth_share),
    });
    let farthest = distance.last().copied().unwrap_or(0.0);
    let mut lines = vec![Line {
        points: distance
            .iter()
            .copied()
            .zip(profile.silver_d.iter().copied())
            .collect(),
        kind: LineKind::Measured,
    }];
    if let (Some(fit), Some(depth)) = (profile.fit, depth.filter(|depth| *depth > 0.0)) {
        let points = (0..=FIT_POINTS).map(|i| {
            let x = farthest * i as f64 / FIT_POINTS as f64;
            (x, Some(fit.base_d + fit.fog_d * (-x / depth).exp()))
        });
        lines.push(Line {
            points: points.collect(),
            kind: LineKind::Fit,
        });
    }
    LineChart {
        frame: Frame {
            title: format!(
                "Silver against distance from the {} edge",
                profile.edge.word()
            ),
            x_label: x_label.to_owned(),
            y_label: "silver, D".to_owned(),
            x: (0.0, farthest),
            y,
            size: PROFILE_SIZE,
        },
        lines,
        shaded: ledge.map(|ledge| (0.0, ledge)),
        marked: Vec::new(),
        rules: ledge
            .map(|x| Rule {
                x,
                label: "ledge".to_owned(),
            })
            .into_iter()
            .collect(),
    }
}
