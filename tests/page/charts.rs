//! The charts of shapes: silver across bands, the map of an uneven pour, and that no word of any chart is cut.

use std::path::PathBuf;

use ndarray::Array2;
use oystermark::causes::Ranked;
use oystermark::findings::{Fault, Figure, Finding};
use oystermark::handling::{Handling, HandlingSource};
use oystermark::measures::Across;
use oystermark::plate::{PlateKind, ScaleSource};
use oystermark::report::Report;
use serde_json::Value;

use super::made::*;
use super::{assert_no_network, assert_well_formed};

/// Bands from the left or the top edge, with what lies across them.
fn bands(fault: Fault, upright: bool, at_mm: &[f64], width_mm: f64, contrast_d: f64) -> Finding {
    let side_mm = if upright { WIDTH_MM } else { HEIGHT_MM };
    let step_mm = 0.2;
    let silver = |x: f64| -> f64 {
        let sigma = width_mm / 2.355;
        let band = |at: &f64| (-0.5 * ((x - at) / sigma).powi(2)).exp();
        contrast_d * at_mm.iter().map(band).sum::<f64>() + 0.004 * (7.3 * x).sin()
    };
    let silver_d = (0..(side_mm / step_mm) as usize)
        .map(|k| {
            let x = step_mm * (k as f64 + 0.5);
            (x > 2.6 && x < side_mm - 2.6).then(|| silver(x))
        })
        .collect();
    Finding {
        axis_deg: Some(if upright { 1.5 } else { 91.0 }),
        figure: Some(Figure::Bands {
            across: Across {
                first_mm: 0.5 * step_mm,
                step_mm,
                silver_d,
            },
            upright,
            slanted: false,
            bands_mm: at_mm
                .iter()
                .map(|at| [at - 0.5 * width_mm, at + 0.5 * width_mm])
                .collect(),
        }),
        ..finding("f", fault, fault.short(), [3.0, 3.0, 57.0, 67.0])
    }
}

/// A flat test plate with streaks, waves, a line of the dip and an uneven pour.
fn shapes(scale_source: ScaleSource) -> Report {
    let (scan, mut plate, tone) = (scan("market day 14.tif"), plate(scale_source), tone());
    plate.kind = PlateKind::Flat;
    let handling = Handling {
        source: HandlingSource::CommandLine,
        ..Handling::default()
    };
    let streaks_mm: Vec<f64> = (0..14)
        .map(|k| 5.0 + 3.6 * f64::from(k) + 0.3 * f64::from(k * k % 5))
        .collect();
    let findings = [
        bands(Fault::Streaks, true, &streaks_mm, 0.8, 0.07),
        bands(
            Fault::Ridges,
            false,
            &[12.0, 17.0, 22.0, 27.0, 32.0],
            2.0,
            -0.11,
        ),
        bands(Fault::DipLine, false, &[41.3], 0.5, 0.21),
        Finding {
            place: Some("bottom_left".into()),
            figure: Some(Figure::Lie(Array2::from_shape_fn((29, 29), |(i, j)| {
                0.62 + 0.0004 * (i as f64).powf(1.6) - 0.003 * j as f64
                    + 0.004 * (0.5 * i as f64).sin() * (0.4 * j as f64).cos()
            }))),
            ..finding(
                "f",
                Fault::UnevenPour,
                "Uneven pour",
                [0.0, 0.0, WIDTH_MM, HEIGHT_MM],
            )
        },
    ];
    Report::assemble(oystermark::report::Parts {
        ranked: Ranked {
            per_finding: Vec::new(),
            rest: Vec::new(),
            plate: Vec::new(),
            check_next: None,
        },
        ..parts(&scan, &plate, &handling, &tone, &[], &findings, &[])
    })
}

#[test]
fn bands_and_pours_have_their_charts() {
    let report = shapes(ScaleSource::FileTag);
    let html = report.html(&picture()).unwrap();
    assert_well_formed(&html);
    assert_no_network(&html);
    assert_eq!(html.matches("<figure class=\"across\">").count(), 3);
    assert_eq!(html.matches("<figure class=\"pour-map\">").count(), 1);
    for needed in [
        "Silver across the streaks",
        "Silver across the waves",
        "Silver across the line",
        "Silver across the plate from the left edge, 14 bands marked",
        "Silver across the plate from the top edge, one line marked",
        "Map of silver over the plate, most at the bottom left corner",
        "most silver",
        "mm from the top edge",
    ] {
        assert!(html.contains(needed), "{needed} is missing");
    }
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("pages");
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join("shapes.html"), &html).unwrap();
}

#[test]
fn a_strip_stands_for_each_band_and_lies_where_the_silver_does() {
    let html = shapes(ScaleSource::FileTag).html(&picture()).unwrap();
    let across = charts(&html)
        .into_iter()
        .find(|svg| svg.contains("14 bands marked"))
        .unwrap();
    let strips = across.split("<rect").skip(1);
    assert_eq!(strips.count(), 14);
    // The first band's strip holds the line's first peak: the highest point left of the second band.
    let strip = across.split("<rect").nth(1).unwrap();
    let (from, wide) = (number(strip, " x=\""), number(strip, " width=\""));
    let lines = across.split("<polyline").skip(1);
    let longest = lines.max_by_key(|line| line.len()).unwrap();
    let (_, points) = longest.split_once("points=\"").unwrap();
    let points: Vec<(f64, f64)> = points
        .split('"')
        .next()
        .unwrap()
        .split_whitespace()
        .filter_map(|point| point.split_once(','))
        .map(|(x, y)| (x.parse().unwrap(), y.parse().unwrap()))
        .collect();
    let left = points.iter().filter(|(x, _)| *x < from + 3.0 * wide);
    let peak = left.min_by(|a, b| a.1.total_cmp(&b.1)).unwrap().0;
    assert!((from..=from + wide).contains(&peak), "{peak} {from} {wide}");
}

#[test]
fn without_a_scale_charts_count_in_per_cent() {
    let report = shapes(ScaleSource::Unknown);
    let html = report.html(&picture()).unwrap();
    assert!(html.contains("% of the plate from the left edge") && !html.contains("mm from the"));
    let across = report.findings[0].across.as_ref().unwrap();
    assert!(across.first_mm.is_none() && across.bands_mm.is_none());
    assert!((across.bands_share[0][0] - (5.0 - 0.4) / WIDTH_MM).abs() < 1e-4);
}

#[test]
fn what_charts_are_drawn_from_stands_in_the_json() {
    let report = shapes(ScaleSource::FileTag);
    let json: Value = serde_json::from_str(&report.json().unwrap()).unwrap();
    let streaks = &json["findings"][0]["across"];
    assert_eq!(streaks["from"], "left");
    let silver = streaks["silver_d"].as_array().unwrap();
    assert!(silver.len() <= 400 && silver[0].is_null());
    assert_eq!(streaks["bands_mm"][0], serde_json::json!([4.6, 5.4]));
    let lie = json["findings"][3]["lie_d"].as_array().unwrap();
    assert!(lie.iter().all(|row| row.as_array().unwrap().len() == 29));
    assert!(json["findings"][3].get("across").is_none());
    assert!(report.json().unwrap().len() < 60_000);
}

/// All drawings of that class on a page.
fn charts(html: &str) -> Vec<&str> {
    html.split("<svg class=\"chart\"")
        .skip(1)
        .map(|rest| rest.split("</svg>").next().unwrap_or_default())
        .collect()
}

fn number(text: &str, key: &str) -> f64 {
    let (_, rest) = text
        .split_once(key)
        .unwrap_or_else(|| panic!("no {key} in {text}"));
    rest.split('"').next().unwrap().parse().unwrap()
}

/// Largest size at which the style sheet sets the words of a figure's chart, drawing units: on a phone and on
/// paper they are larger than they were laid out.
fn largest(html: &str, figure: &str) -> f64 {
    let of = match figure {
        "rose" | "sizes" => "pair",
        "" => "profiles",
        other => other,
    };
    let rule = format!(".{of} .chart text {{ font-size: ");
    let rules = html.split(&rule);
    let sizes = rules
        .skip(1)
        .map(|rule| rule.split("px").next().unwrap().parse().unwrap());
    sizes.fold(50.0, f64::max)
}

/// Width of a digit or letter over its size, in the common faces without serifs.
const WIDE: f64 = 0.56;

#[test]
fn no_word_of_a_chart_is_cut_or_lies_on_another() {
    let pages = [
        shapes(ScaleSource::FileTag),
        shapes(ScaleSource::Unknown),
        full_report("a.tif", ScaleSource::FileTag),
    ];
    let mut words = 0;
    for report in pages {
        let html = report.html(&picture()).unwrap();
        let figures = html
            .split("<figure")
            .skip(1)
            .filter(|rest| rest.contains("<svg class=\"chart\""));
        for figure in figures {
            let (tag, rest) = figure.split_once('>').unwrap();
            let figure = tag.split('"').nth(1).unwrap_or_default();
            let Some(svg) = charts(rest.split("</figure>").next().unwrap()).pop() else {
                continue;
            };
            let (_, frame) = svg.split_once("viewBox=\"0 0 ").unwrap();
            let frame = frame.split('"').next().unwrap();
            let (width, _) = frame.split_once(' ').unwrap();
            let width: f64 = width.parse().unwrap();
            // A chart that is as wide as its column cannot push it.
            assert!(!svg.split('>').next().unwrap().contains(" width="));
            let mut boxes: Vec<(String, [f64; 4])> = Vec::new();
            for text in svg.split("<text").skip(1) {
                words += 1;
                let (tag, rest) = text.split_once('>').unwrap();
                let word = rest.split('<').next().unwrap().trim();
                let size = number(tag, "font-size=\"").max(largest(&html, figure));
                let (x, long) = (
                    number(tag, " x=\""),
                    WIDE * size * word.chars().count() as f64,
                );
                let from = match tag {
                    tag if tag.contains("text-anchor=\"end\"") => x - long,
                    tag if tag.contains("text-anchor=\"middle\"") => x - long / 2.0,
                    _ => x,
                };
                assert!(
                    from >= -0.01 * width && from + long <= 1.02 * width,
                    "{word} runs from {from:.0} to {:.0} of {width}",
                    from + long
                );
                let down = match tag
                    .split_once("dy=\"")
                    .map_or("", |(_, dy)| dy.split('"').next().unwrap())
                {
                    dy if dy.ends_with("em") => dy.trim_end_matches("em").parse().unwrap(),
                    // About half an em.
                    dy if dy.ends_with("ex") => {
                        0.5 * dy.trim_end_matches("ex").parse::<f64>().unwrap()
                    }
                    _ => 0.0,
                };
                let base = number(tag, " y=\"") + down * size;
                let own = [from, base - 0.72 * size, from + long, base];
                for (other, at) in &boxes {
                    let over = |k: usize| own[k + 2].min(at[k + 2]) - own[k].max(at[k]);
                    let apart = over(0).min(over(1)) <= 0.0;
                    assert!(apart, "{word} lies on {other}: {own:?} {at:?}");
                }
                boxes.push((word.to_owned(), own));
            }
        }
    }
    assert!(words > 60, "{words}");
}

#[test]
fn findings_never_widen_a_narrow_page() {
    let html = shapes(ScaleSource::FileTag).html(&picture()).unwrap();
    // A column of `1fr` alone is never narrower than what stands in it; a phone would scroll sideways.
    let (_, rule) = html.split_once(".finding { ").unwrap();
    assert!(
        rule.split('}')
            .next()
            .unwrap()
            .contains("grid-template-columns: minmax(0, 1fr)")
    );
    for rule in html.split(".finding { grid-template-columns: ").skip(1) {
        assert!(rule.split('}').next().unwrap().contains("minmax(0, 1fr)"));
    }
    assert!(html.contains(".chart { display: block; width: 100%;"));
}
