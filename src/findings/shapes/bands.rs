//! Streaks, waves and a line of the dip.

use super::likeness::{
    edge_waves_likeness, likeness, line_likeness, sweep_likeness, waves_likeness,
};
use super::{band_signs, polarity};
use crate::doubts::Doubt;
use crate::findings::limits::{
    BandGround, FALSE_ALARMS_A_PLATE, bands_false_alarms, bands_in_border_false_alarms,
    bands_severity, confidence, drain_waves_false_alarms, edge_waves_false_alarms,
    line_false_alarms, line_over_border_false_alarms, line_over_scene_false_alarms,
    sweep_false_alarms,
};
use crate::findings::{Fault, Figure, Finding, Mark, Standing};
use crate::handling::Spot;
use crate::measures::{Family, Line, ShapeMeasures};
use crate::plate::{Plate, PlateKind};
use crate::raster::geometry::{between_axes_deg, direction_deg, distance};
use crate::raster::stats::median;
use crate::units::Reading;

/// Least contrast of a band that is looked at, density: soft bands below it no eye catches (from memory).
const VISIBLE_D: f64 = 0.015;
/// Fewest bands that are streaks, on even plates and over a scene. Our own choice.
const FEWEST: [usize; 2] = [2, 5];
/// Core below which streaks are looked for over a scene, millimetres: a scene's own parts are as broad as
/// broader bands.
const FINE_MM: f64 = 0.8;
/// Fewest bands whose spacing says anything.
const FEWEST_WAVES: usize = 4;
/// Self-likeness of the pattern from which bands are waves of one spacing. Our own choice, between 0.46, the most of 37
/// even plates with streaks, and 0.61, the least of waved ones (development seed 795000) but for three that are told by
/// their corner or edge.
const WAVES: f64 = 0.53;
/// Lines from which a scene is full of them, and the self-likeness of boards and blinds.
const MANY_LINES: usize = 8;
/// A line alone is this many times as strong as the strongest that lies elsewhere. Our own choice.
const ALONE: f64 = 2.5;
/// What is compared with a line alone runs over this share of the plate at least.
const MOSTLY: f64 = 0.85;
/// A line's own rims lie within so many of its cores, and change sign.
const OWN_RIM_CORES: f64 = 4.0;
/// How far from the edges that it runs along a line of the dip lies at least, millimetres. Our own choice.
const OFF_EDGE_MM: f64 = 4.0;
/// What the title of a line says that no thing of a scene can have drawn.
const ON_OVER_BORDER: &str = ", on over the border at both ends";
/// The same of streaks, some of which may end before.
const ON_INTO_BORDER: &str = ", on into the border";
/// Share of the plate's side that a line of the dip covers at least; on a small plate the border takes the last
/// stretch at either end, millimetres.
const WHOLE_SHARE: f64 = 0.75;
/// See [`WHOLE_SHARE`].
const END_MM: f64 = 9.0;

/// Whether a scene shows so many lines that streaks among them cannot be told.
pub(super) fn scene_has_lines(family: &Family) -> bool {
    family.scene.holding >= MANY_LINES
}

/// Whether bands can be told on a plate: the steps of a stepped plate are bands.
pub(in crate::findings) fn shows_bands(plate: &Plate) -> bool {
    plate.kind != PlateKind::Wedge
}

/// Waves by a corner or an edge; streaks or other waves, or one line across the plate.
pub(in crate::findings) fn bands(
    plate: &Plate,
    shapes: &ShapeMeasures,
    findings: &mut Vec<Finding>,
) {
    if !shows_bands(plate) {
        return;
    }
    // Streaks, too, may start at an edge and lie nearly even, but not about a corner, and they are straight.
    let waves = drain_waves(plate, shapes);
    let (about_corner, by_edge) = match shapes.drain_waves.as_ref() {
        Some(of) if of.spot.corner().is_some() => (waves, None),
        _ => (None, waves),
    };
    let sure = about_corner.or_else(|| edge_waves(plate, shapes));
    let named_deg = sure.as_ref().and_then(|waves| waves.axis_deg);
    let surer =
        |a: &Finding, b: &Finding| a.expected_false_alarms.total_cmp(&b.expected_false_alarms);
    let is_other = |family: &Family| {
        named_deg.is_none_or(|deg| between_axes_deg(deg, family.axis_deg) > SAME_AXIS_DEG)
    };
    let streaks = [
        family(plate, shapes, is_other),
        sweep(plate, shapes, is_other),
    ];
    let bands = streaks.into_iter().flatten().min_by(surer).or(by_edge);
    let line = || line(plate, shapes).filter(|_| sure.is_none());
    let mut found: Vec<Finding> = bands.or_else(line).into_iter().chain(sure).collect();
    // Beyond what the scan shows they may stop.
    let cropped = (!plate.shows_its_edges()).then_some(Doubt::CroppedInside);
    for finding in &mut found {
        finding.doubts.extend(cropped);
    }
    findings.append(&mut found);
}

/// Whether it is a picture of which no corner or edge need be the plate's own.
fn cut_off(plate: &Plate) -> bool {
    plate.kind == PlateKind::Picture && !plate.shows_its_edges()
}

/// Even waves by a corner, on even plates by a corner or an edge.
fn drain_waves(plate: &Plate, shapes: &ShapeMeasures) -> Option<Finding> {
    let waves = shapes.drain_waves.as_ref()?;
    let expected = drain_waves_false_alarms(waves_likeness(waves), cut_off(plate));
    of_waves(plate, waves.spot, waves.spacing_mm, &waves.crests, expected)
}

/// Even waves by an edge of a picture.
fn edge_waves(plate: &Plate, shapes: &ShapeMeasures) -> Option<Finding> {
    let waves = shapes.edge_waves.as_ref()?;
    let expected = edge_waves_false_alarms(edge_waves_likeness(waves), cut_off(plate));
    of_waves(plate, waves.spot, waves.spacing_mm, &waves.crests, expected)
}

fn of_waves(
    plate: &Plate,
    spot: Spot,
    spacing_mm: f64,
    crests: &Family,
    expected: f64,
) -> Option<Finding> {
    let lines = visible(crests);
    if expected > FALSE_ALARMS_A_PLATE || lines.len() < FEWEST_WAVES {
        return None;
    }
    let mut finding = group(plate, crests, &lines, Fault::Ridges, expected);
    finding.measured.retain(|(name, _)| *name != "spacing_mm");
    finding
        .measured
        .push(("spacing_mm", Reading::new(spacing_mm, 0.1 * spacing_mm)));
    finding.title = format!(
        "{} waves by {}, {spacing_mm:.1} mm apart, about {:.2} D each",
        lines.len(),
        spot.words(),
        finding.reading("contrast_d").map_or(0.0, |d| d.value)
    );
    finding.place = Some(spot.word().to_owned());
    finding.signs = band_signs::of_group(plate, crests, &lines, Fault::Ridges);
    if plate.kind == PlateKind::Picture {
        finding.standing = Standing::Suggested;
        finding.doubts.push(Doubt::SceneMayDoIt);
    }
    Some(finding)
}

fn visible(family: &Family) -> Vec<&Line> {
    family
        .lines
        .iter()
        .filter(|line| line.contrast_d >= VISIBLE_D)
        .collect()
}

/// Least agreement of a line that is surely a band, and least width of one that starts or ends on the plate,
/// millimetres: a scratch is narrower. Our own choice.
const SURELY: f64 = 4.5;
/// See [`SURELY`].
const PART_WIDTH_MM: f64 = 0.9;

/// Contrast of the second strongest line that is surely a band and none of an edge's, density; 0 without two.
fn second_contrast_d(plate: &Plate, family: &Family) -> f64 {
    let surely = family.lines.iter().filter(|line| {
        let runs_on = line.coverage >= MOSTLY || !family.slanted && line.width_mm >= PART_WIDTH_MM;
        let off_edges = family.slanted || is_off_edges(plate, family.upright, line);
        line.agreement >= SURELY && runs_on && off_edges
    });
    let mut contrasts: Vec<f64> = surely.map(|line| line.contrast_d).collect();
    contrasts.sort_by(|a, b| b.total_cmp(a));
    contrasts.get(1).copied().unwrap_or(0.0)
}

/// Bands whose axis lies within so many degrees of waves that are named already are these waves.
const SAME_AXIS_DEG: f64 = 12.0;

/// The family of bands with the least chance, but for those along waves that are named already.
fn family(
    plate: &Plate,
    shapes: &ShapeMeasures,
    is_other: impl Fn(&Family) -> bool,
) -> Option<Finding> {
    let even = matches!(plate.kind, PlateKind::Blank | PlateKind::Flat);
    let fewest = if even { FEWEST[0] } else { FEWEST[1] };
    let across = |family: &Family| {
        let others = shapes.bands.iter().filter(|other| {
            other.upright != family.upright
                && (other.scale_mm < FINE_MM) == (family.scale_mm < FINE_MM)
        });
        others.map(|other| other.scene.far).fold(0.0, f64::max)
    };
    // What runs on into the border is none of the scene's, broad or fine.
    let in_border = |family: &Family| match even {
        true => 1.0,
        false => bands_in_border_false_alarms(family.scene.in_border),
    };
    let (family, expected) = shapes
        .bands
        .iter()
        .filter(|family| visible(family).len() >= fewest)
        .filter(|family| is_other(family))
        .map(|family| {
            let expected = match even {
                true => bands_false_alarms(
                    family,
                    BandGround::Even {
                        visible: visible(family).len(),
                        second_d: second_contrast_d(plate, family),
                    },
                ),
                false if family.scale_mm < FINE_MM => {
                    let likeness = likeness(family, across(family));
                    bands_false_alarms(family, BandGround::Scene { likeness })
                }
                false => 1.0,
            };
            (family, expected.min(in_border(family)))
        })
        .min_by(|a, b| a.1.total_cmp(&b.1).then(b.0.energy.total_cmp(&a.0.energy)))?;
    if expected > FALSE_ALARMS_A_PLATE {
        return None;
    }
    let runs_on = in_border(family) <= FALSE_ALARMS_A_PLATE;
    let lines = visible(family);
    let waves = even && family.regularity >= WAVES && lines.len() >= FEWEST_WAVES;
    let (fault, noun) = match waves {
        true => (Fault::Ridges, "waves"),
        false => (Fault::Streaks, "streaks"),
    };
    let mut finding = group(plate, family, &lines, fault, expected);
    finding.title = format!(
        "{} {noun} {}, about {:.2} D each{}",
        lines.len(),
        lie(family.axis_deg),
        finding.reading("contrast_d").map_or(0.0, |d| d.value),
        if runs_on { ON_INTO_BORDER } else { "" }
    );
    finding.signs = band_signs::of_group(plate, family, &lines, fault);
    if fault == Fault::Streaks {
        finding.place =
            band_signs::start_edge(plate, family, &lines).map(|edge| edge.word().to_owned());
    }
    if !even && !runs_on {
        finding.standing = Standing::Suggested;
        finding.doubts.push(Doubt::SceneMayDoIt);
    }
    Some(finding)
}

/// Soft bands over a picture, those of the run that is the least like things of the scene, but for those along waves
/// that are named already.
fn sweep(
    plate: &Plate,
    shapes: &ShapeMeasures,
    is_other: impl Fn(&Family) -> bool,
) -> Option<Finding> {
    if plate.kind != PlateKind::Picture {
        return None;
    }
    let judged = shapes
        .sweeps
        .iter()
        .map(|sweep| (sweep, sweep_likeness(sweep)));
    let (sweep, (lines, likeness)) = judged.max_by(|a, b| a.1.1.total_cmp(&b.1.1))?;
    let lines: Vec<&Line> = lines
        .into_iter()
        .filter(|line| line.contrast_d >= VISIBLE_D)
        .collect();
    let expected = sweep_false_alarms(likeness);
    let family = &sweep.bands;
    if expected > FALSE_ALARMS_A_PLATE || lines.is_empty() || !is_other(family) {
        return None;
    }
    let mut finding = group(plate, family, &lines, Fault::Streaks, expected);
    finding.title = format!(
        "{} {}, about {:.2} D each",
        match lines.len() {
            1 => "One broad streak".to_owned(),
            count => format!("{count} broad streaks"),
        },
        lie(family.axis_deg),
        finding.reading("contrast_d").map_or(0.0, |d| d.value)
    );
    finding.signs = band_signs::of_group(plate, family, &lines, Fault::Streaks);
    finding.place =
        band_signs::start_edge(plate, family, &lines).map(|edge| edge.word().to_owned());
    finding.standing = Standing::Suggested;
    finding.doubts.push(Doubt::SceneMayDoIt);
    Some(finding)
}

/// `upright`, `level`, or the axis in degrees.
fn lie(axis_deg: f64) -> String {
    match axis_deg {
        axis if between_axes_deg(axis, 0.0) < 3.0 => "upright".to_owned(),
        axis if between_axes_deg(axis, 90.0) < 3.0 => "level".to_owned(),
        axis => format!("along {axis:.0} degrees"),
    }
}

fn group(plate: &Plate, family: &Family, lines: &[&Line], fault: Fault, expected: f64) -> Finding {
    let of = |figure: &dyn Fn(&Line) -> f64| {
        let mut values: Vec<f64> = lines.iter().map(|line| figure(line)).collect();
        median(&mut values).unwrap_or(0.0)
    };
    let contrast_d = of(&|line| line.contrast_d);
    let width_mm = of(&|line| line.width_mm);
    let area: f64 = lines
        .iter()
        .map(|line| line.width_mm * distance(line.ends_mm[0], line.ends_mm[1]))
        .sum();
    let area_fraction = (area / (plate.width_mm * plate.height_mm)).min(1.0);
    let axis_u = (family.scale_mm / (0.5 * plate.width_mm.min(plate.height_mm)))
        .atan()
        .to_degrees();
    let mut measured = vec![
        ("count", Reading::new(lines.len() as f64, 0.0)),
        ("width_mm", Reading::new(width_mm, 0.3 * width_mm)),
        ("contrast_d", Reading::new(contrast_d, 0.3 * contrast_d)),
        ("axis_deg", Reading::new(family.axis_deg, axis_u)),
        (
            "area_fraction",
            Reading::new(area_fraction, 0.3 * area_fraction),
        ),
    ];
    if fault == Fault::Ridges
        && let Some(spacing_mm) = spacing_mm(family, lines)
    {
        measured.push(("spacing_mm", Reading::new(spacing_mm, 0.1 * spacing_mm)));
    }
    Finding {
        id: String::new(),
        fault,
        place: None,
        title: String::new(),
        measured,
        polarity: polarity(lines),
        box_mm: bounds(plate, lines),
        outline_mm: None,
        axis_deg: Some(family.axis_deg),
        direction_deg: None,
        direction_spread_deg: None,
        members: Some(
            lines
                .iter()
                .map(|line| mark(plate, family, line, expected))
                .collect(),
        ),
        confidence: confidence(expected),
        expected_false_alarms: expected,
        standing: Standing::Measured,
        severity: bands_severity(contrast_d),
        signs: Vec::new(),
        doubts: Vec::new(),
        figure: Some(Figure::Bands {
            across: family.across.clone(),
            upright: family.upright,
            slanted: family.slanted,
            bands_mm: lines
                .iter()
                .map(|line| {
                    let at = place_across(family, line);
                    [at - 0.5 * line.width_mm, at + 0.5 * line.width_mm]
                })
                .collect(),
        }),
    }
}

/// Where a line crosses the plate's middle, across it, millimetres.
pub(super) fn place_across(family: &Family, line: &Line) -> f64 {
    family.across_mm(line.middle_mm)
}

/// Median distance between neighbouring waves of one sign, millimetres.
fn spacing_mm(family: &Family, lines: &[&Line]) -> Option<f64> {
    let mut gaps = Vec::new();
    for sign in [1.0, -1.0] {
        let mut places: Vec<f64> = lines
            .iter()
            .filter(|line| line.sign == sign)
            .map(|line| place_across(family, line))
            .collect();
        places.sort_by(f64::total_cmp);
        gaps.extend(places.windows(2).map(|pair| pair[1] - pair[0]));
    }
    median(&mut gaps)
}

fn bounds(plate: &Plate, lines: &[&Line]) -> [f64; 4] {
    let mut bounds = [
        f64::INFINITY,
        f64::INFINITY,
        f64::NEG_INFINITY,
        f64::NEG_INFINITY,
    ];
    for line in lines {
        let half = 0.5 * line.width_mm;
        for [x, y] in line.ends_mm {
            bounds[0] = bounds[0].min(x - half);
            bounds[1] = bounds[1].min(y - half);
            bounds[2] = bounds[2].max(x + half);
            bounds[3] = bounds[3].max(y + half);
        }
    }
    let (w, h) = (plate.width_mm, plate.height_mm);
    [
        bounds[0].clamp(0.0, w),
        bounds[1].clamp(0.0, h),
        bounds[2].clamp(0.0, w),
        bounds[3].clamp(0.0, h),
    ]
}

fn mark(plate: &Plate, family: &Family, line: &Line, expected: f64) -> Mark {
    let [from, to] = line.ends_mm;
    let length_mm = distance(from, to);
    let side_mm = match family.upright {
        true => plate.height_mm,
        false => plate.width_mm,
    };
    // A piece of a bent line has its own middle, from which both its ends lie off by less.
    let sagitta_mm = family.sagitta_mm * (length_mm / side_mm).powi(2);
    let half_way = [0, 1].map(|k| 0.5 * (from[k] + to[k]));
    let chord_deg = direction_deg(to[0] - from[0], to[1] - from[1]).rem_euclid(180.0);
    let (centre_mm, axis_deg) = match (family.sagitta_mm == 0.0, family.upright) {
        (true, _) => (line.middle_mm, family.axis_deg),
        (false, true) => ([half_way[0] - sagitta_mm, half_way[1]], chord_deg),
        (false, false) => ([half_way[0], half_way[1] - sagitta_mm], chord_deg),
    };
    Mark {
        box_mm: bounds(plate, &[line]),
        centre_mm,
        size_mm: line.width_mm,
        length_mm: Some(length_mm),
        direction_deg: None,
        axis_deg: Some(axis_deg),
        sagitta_mm,
        contrast_d: line.contrast_d,
        expected_false_alarms: expected,
    }
}

/// One line right across the plate.
fn line(plate: &Plate, shapes: &ShapeMeasures) -> Option<Finding> {
    match plate.kind {
        PlateKind::Picture => line_over_scene(plate, shapes),
        PlateKind::Blank | PlateKind::Flat | PlateKind::Wedge => line_on_even(plate, shapes),
    }
}

/// Whether a line across the plate lies clear of the edges that it runs along, where rim, lip and the edge of
/// a fog draw lines of their own.
fn is_off_edges(plate: &Plate, upright: bool, line: &Line) -> bool {
    let (at, side_mm) = match upright {
        true => (line.middle_mm[0], plate.width_mm),
        false => (line.middle_mm[1], plate.height_mm),
    };
    at.min(side_mm - at) >= OFF_EDGE_MM
}

/// The strongest line of an even plate that runs right across, with its family.
pub(super) fn strongest_line<'a>(
    plate: &Plate,
    shapes: &'a ShapeMeasures,
) -> Option<(&'a Family, &'a Line)> {
    upright_and_level(shapes)
        .filter(|(family, line)| line.coverage >= 1.0 && is_off_edges(plate, family.upright, line))
        .max_by(|a, b| a.1.contrast_d.total_cmp(&b.1.contrast_d))
}

/// All lines but slanted ones: a plate goes into the bath upright.
fn upright_and_level(shapes: &ShapeMeasures) -> impl Iterator<Item = (&Family, &Line)> {
    let families = shapes.bands.iter().filter(|family| !family.slanted);
    families.flat_map(|family| family.lines.iter().map(move |line| (family, line)))
}

/// The strongest line of an even plate, where it runs right across and stands alone.
fn line_on_even(plate: &Plate, shapes: &ShapeMeasures) -> Option<Finding> {
    let (family, strongest) = strongest_line(plate, shapes)?;
    let at = place_across(family, strongest);
    let beside = |other: &Family, line: &Line| {
        other.upright != family.upright
            || (place_across(other, line) - at).abs()
                > OWN_RIM_CORES * family.scale_mm.max(other.scale_mm) + strongest.width_mm
    };
    let elsewhere = upright_and_level(shapes)
        .filter(|(other, line)| beside(other, line) && line.coverage >= MOSTLY)
        // What lies along an edge is the edge's.
        .filter(|(other, line)| is_off_edges(plate, other.upright, line))
        .map(|(_, line)| line.contrast_d)
        .fold(0.0, f64::max);
    let side = if family.upright {
        plate.height_mm
    } else {
        plate.width_mm
    };
    let least_mm = (WHOLE_SHARE * side).min(side - 2.0 * END_MM);
    let whole = distance(strongest.ends_mm[0], strongest.ends_mm[1]) >= least_mm;
    let expected = line_false_alarms(strongest.contrast_d);
    if !whole || strongest.contrast_d < ALONE * elsewhere || expected > FALSE_ALARMS_A_PLATE {
        return None;
    }
    Some(of_line(plate, family, strongest, expected))
}

/// The line of a picture that is the least like a thing of the scene: most of all one that runs on over the border.
fn line_over_scene(plate: &Plate, shapes: &ShapeMeasures) -> Option<Finding> {
    let lines = shapes.right_across.iter();
    let (found, on_border, expected) = lines
        .filter(|found| found.line.contrast_d >= VISIBLE_D)
        .filter(|found| is_off_edges(plate, found.upright, &found.line))
        .filter_map(|found| match &found.over_border {
            Some(runs_on) => Some((found, true, line_over_border_false_alarms(runs_on))),
            None => {
                let likeness = line_likeness(found)?;
                Some((found, false, line_over_scene_false_alarms(likeness)))
            }
        })
        .min_by(|a, b| a.2.total_cmp(&b.2))?;
    if expected > FALSE_ALARMS_A_PLATE {
        return None;
    }
    let mut ways = shapes.bands.iter();
    let way = ways.find(|family| family.upright == found.upright && !family.slanted)?;
    let family = Family {
        axis_deg: found.axis_deg,
        scale_mm: found.core_mm,
        across: found.across.clone(),
        ..way.clone()
    };
    let mut finding = of_line(plate, &family, &found.line, expected);
    if on_border {
        finding.title.push_str(ON_OVER_BORDER);
    } else {
        finding.standing = Standing::Suggested;
        finding.doubts.push(Doubt::SceneMayDoIt);
    }
    Some(finding)
}

fn of_line(plate: &Plate, family: &Family, line: &Line, expected: f64) -> Finding {
    let mut finding = group(plate, family, &[line], Fault::DipLine, expected);
    finding.title = format!(
        "A line straight across the plate, {}, {:.2} D",
        lie(family.axis_deg),
        line.contrast_d
    );
    finding
        .measured
        .retain(|(name, _)| !matches!(*name, "count" | "area_fraction"));
    finding.members = None;
    finding.signs = band_signs::of_scan_axis(plate, family.axis_deg, "it lies")
        .into_iter()
        .collect();
    finding
}
