//! Faults with a shape as they ended up on the plate.
//!
//! # When a shape can be found
//! All ask a contrast of at least 0.02 D, a visibility of at least 0.7 and an `snr` of at least 4, the
//! limits of fog; what these are differs with the shape.
//! - Streaks, the dip line, ridges and scratches are lines. `contrast_d` is the mean change of density
//!   along a line's middle. `background_sd_d` is what the plate without its faults shows of the same
//!   kind: strips as wide as the line beside and along it, 5 mm long or three widths, each against the
//!   mean of its two neighbours (a step: one neighbour against the other); border and picture apart.
//!   A fence so hides streaks along its palings. `snr` is visibility times the root of the number of
//!   strips that fit on the line.
//! - Streaks can be found when three of their bands can (of the developer, two), ridges by all their
//!   crests and troughs together, a scratch group by one line; for a scratch contrast and background
//!   are those that the scanner's blur leaves, and `snr` must be 6 as for other fine marks.
//! - An uneven pour can be found on a flat plate only: on a picture it is as good as the scene's own
//!   light, on a blank there is no silver to show it, on a wedge the steps hide it. The background is
//!   that of cells of 8 mm of the plate without it.
//! - A bare area and a stain are compared with cells of 1 and 1.5 mm in and around them, border and
//!   picture apart; the core is where film is missing, or where the stain is more than 35 % of its
//!   strongest. Of a bare area 3 mm² must differ by 0.05 D or more.

use serde_json::{Value, json};

use super::Standing;
use crate::practice::paint::{Painter, Shape};
use crate::practice::recipe::{Planted, RidgeForm, StreakForm};
use crate::practice::truth::{View, round, rounded};

mod areas;
mod lines;
#[cfg(test)]
mod tests;

use super::blurred::Blurred;
use lines::{Filter, Reading};

/// A finer mark asks for more; see the head of this file.
const LEAST_SCRATCH_SNR: f64 = 6.0;

/// One planted shape; nothing for a fault without one.
pub(super) fn shape(view: &View, painter: &Painter, index: usize, fault: &Planted) -> Value {
    let Some(shape) = painter.shape(index) else {
        return json!({});
    };
    match fault {
        Planted::Streaks(recipe) => {
            let (form, least) = match recipe.form {
                StreakForm::Dip => ("dip", 3),
                StreakForm::Developer => ("developer", 2),
            };
            streaks(view, shape, form, least)
        }
        Planted::DipLine(_) => dip_line(view, shape),
        Planted::Ridges(recipe) => ridges(view, shape, recipe),
        Planted::UnevenPour(recipe) => areas::uneven_pour(view, shape, recipe),
        Planted::BareArea(recipe) => areas::bare_area(view, painter, shape, recipe),
        Planted::Stain(recipe) => areas::stain(view, shape, recipe),
        Planted::Scratch(_) => scratch(view, shape),
        _ => json!({}),
    }
}

/// The fields that say how a fault stands out.
fn stands(standing: &Standing, scale_mm: f64, because: Option<&str>) -> Value {
    json!({
        "contrast_d": round(standing.contrast_d),
        "background_sd_d": round(standing.background_sd_d),
        "scale_mm": round(scale_mm),
        "visibility": round(standing.visibility),
        "snr": round(standing.snr),
        "findable": because.is_none(),
        "not_findable_because": because,
    })
}

/// One object of both, the second's fields added.
fn with(mut one: Value, other: Value) -> Value {
    if let (Value::Object(one), Value::Object(other)) = (&mut one, other) {
        one.extend(other);
    }
    one
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}

fn union(readings: &[Reading]) -> [f64; 4] {
    let boxes = readings.iter().map(|reading| reading.bounds);
    boxes
        .reduce(|a, b| {
            [
                a[0].min(b[0]),
                a[1].min(b[1]),
                a[2].max(b[2]),
                a[3].max(b[3]),
            ]
        })
        .unwrap_or([0.0; 4])
}

/// Mean axis weighted by length, by doubled angles (Mardia and Jupp 2000, 3.5).
fn common_axis(readings: &[Reading]) -> f64 {
    let (mut sin, mut cos) = (0.0, 0.0);
    for reading in readings {
        let angle = (2.0 * reading.axis_deg).to_radians();
        sin += reading.length_mm * libm::sin(angle);
        cos += reading.length_mm * libm::cos(angle);
    }
    (0.5 * libm::atan2(sin, cos).to_degrees()).rem_euclid(180.0)
}

/// What a group of lines shows together: medians, and the power of all.
fn together(readings: &[Reading]) -> Standing {
    let typical =
        |of: fn(&Standing) -> f64| median(readings.iter().map(|r| of(&r.stands)).collect());
    let power: f64 = readings.iter().map(|r| r.stands.snr * r.stands.snr).sum();
    Standing {
        contrast_d: typical(|s| s.contrast_d),
        background_sd_d: typical(|s| s.background_sd_d),
        visibility: typical(|s| s.visibility),
        snr: power.sqrt(),
    }
}

fn sign(more: bool) -> &'static str {
    if more { "more_silver" } else { "less_silver" }
}

/// The sign of a group: mixed where its lines differ.
fn common_sign(readings: &[Reading]) -> &'static str {
    let more = readings.iter().filter(|r| r.more_silver).count();
    match more {
        0 => "less_silver",
        _ if more == readings.len() => "more_silver",
        _ => "mixed",
    }
}

const OUTSIDE: &str = "none of it is in the scan";

fn streaks(view: &View, shape: &Shape, form: &str, least: usize) -> Value {
    let lines = shape.lines();
    let read: Vec<Reading> = lines
        .iter()
        .filter_map(|line| lines::read(view, line, Filter::Bump, &lines::painted(view)))
        .collect();
    let findable = read.iter().filter(|r| r.stands.hidden().is_none()).count();
    let because = match (read.is_empty(), findable >= least) {
        (true, _) => Some(OUTSIDE),
        (_, false) => Some("too few bands stand out from what is around them"),
        _ => None,
    };
    let all = together(&read);
    let width = median(read.iter().map(|r| r.width_mm).collect());
    let area: f64 = read.iter().map(|r| r.width_mm * r.length_mm).sum();
    let axis = common_axis(&read);
    let truth = json!({
        "variant": form,
        "place": null,
        "box_mm": rounded(union(&read)),
        "axis_deg": round(axis),
        "direction_deg": null,
        "polarity": common_sign(&read),
        "measured": {"count": read.len(), "count_findable": findable, "width_mm": round(width),
                     "axis_deg": round(axis), "contrast_d": round(all.contrast_d),
                     "area_fraction": round(area / (view.width_mm * view.height_mm))},
        "members": read.iter().map(|r| r.json(r.stands.hidden().is_none())).collect::<Vec<_>>(),
    });
    with(truth, stands(&all, 0.5 * width, because))
}

fn dip_line(view: &View, shape: &Shape) -> Value {
    let read: Vec<Reading> = shape
        .lines()
        .iter()
        .filter_map(|line| lines::read(view, line, Filter::Bump, &lines::painted(view)))
        .collect();
    let Some(line) = read.first() else {
        return lost();
    };
    let truth = json!({
        "variant": null,
        "place": null,
        "box_mm": rounded(line.bounds),
        "axis_deg": round(line.axis_deg),
        "direction_deg": null,
        "polarity": sign(line.more_silver),
        "measured": {"width_mm": round(line.width_mm), "axis_deg": round(line.axis_deg),
                     "contrast_d": round(line.stands.contrast_d)},
    });
    with(
        truth,
        stands(&line.stands, 0.5 * line.width_mm, line.stands.hidden()),
    )
}

/// A shape that the crop left out.
fn lost() -> Value {
    let truth = json!({"variant": null, "place": null, "box_mm": [0.0, 0.0, 0.0, 0.0],
                       "direction_deg": null, "measured": {}});
    with(truth, stands(&Standing::default(), 0.0, Some(OUTSIDE)))
}

fn ridges(view: &View, shape: &Shape, recipe: &crate::practice::recipe::RidgesRecipe) -> Value {
    let step = recipe.form == RidgeForm::Step;
    let filter = if step { Filter::Step } else { Filter::Bump };
    let read: Vec<Reading> = shape
        .lines()
        .iter()
        .filter_map(|line| lines::read(view, line, filter, &lines::painted(view)))
        .collect();
    if read.is_empty() {
        return lost();
    }
    let all = together(&read);
    let crests = read.iter().filter(|r| r.meant_more).count();
    let axis = common_axis(&read);
    let width = median(read.iter().map(|r| r.width_mm).collect());
    let truth = json!({
        "variant": if step { json!("step") } else { Value::Null },
        // The edge of a second flow is as much an uneven pour.
        "accept": if step { json!(["ridges", "uneven_pour"]) } else { json!(["ridges"]) },
        "place": recipe.corner,
        "box_mm": rounded(union(&read)),
        "axis_deg": round(axis),
        "direction_deg": null,
        "measured": {"count": crests, "width_mm": round(width), "axis_deg": round(axis),
                     "spacing_mm": if step { Value::Null } else { json!(round(recipe.spacing_mm)) },
                     "contrast_d": round(all.contrast_d)},
    });
    with(truth, stands(&all, 0.5 * width, all.hidden()))
}

fn scratch(view: &View, shape: &Shape) -> Value {
    let blurred = Blurred::new(view);
    let lines = shape.lines();
    let read: Vec<(Reading, Reading)> = lines
        .iter()
        .filter_map(|line| {
            let plain = lines::read(view, line, Filter::Bump, &lines::painted(view))?;
            let scanned = lines::read(view, line, Filter::Bump, &|at| blurred.densities(at))?;
            Some((plain, scanned))
        })
        .collect();
    if read.is_empty() {
        return lost();
    }
    let can = |scanned: &Reading| {
        scanned.stands.hidden().is_none() && scanned.stands.snr >= LEAST_SCRATCH_SNR
    };
    let findable = read.iter().filter(|(_, scanned)| can(scanned)).count();
    let members: Vec<Value> = read
        .iter()
        .map(|(plain, scanned)| {
            let more = json!({"contrast_d": round(plain.stands.contrast_d),
                              "contrast_scanned_d": round(scanned.stands.contrast_d)});
            with(scanned.json(can(scanned)), more)
        })
        .collect();
    let (plain, scanned): (Vec<Reading>, Vec<Reading>) = read.into_iter().unzip();
    let mut all = together(&scanned);
    all.contrast_d = together(&plain).contrast_d;
    let longest = plain
        .iter()
        .max_by(|a, b| a.length_mm.total_cmp(&b.length_mm))
        .map(|line| round(line.axis_deg));
    let width = median(plain.iter().map(|r| r.width_mm).collect());
    let truth = json!({
        "variant": null,
        "place": null,
        "box_mm": rounded(union(&plain)),
        "axis_deg": longest,
        "direction_deg": null,
        "polarity": common_sign(&plain),
        "measured": {"count": plain.len(), "count_findable": findable, "width_mm": round(width)},
        "members": members,
    });
    let because = (findable == 0).then_some("lost in the plate's own structure");
    with(truth, stands(&all, 0.5 * width, because))
}
