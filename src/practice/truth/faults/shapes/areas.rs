//! Shapes that are areas: an uneven pour, a bare place, a stain.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use super::{lost, stands, with};
use crate::handling::Corner;
use crate::plate::PlateKind;
use crate::practice::paint::{Painter, Shape, Zone};
use crate::practice::recipe::{
    BareAreaRecipe, BarePlace, Brink, PourForm, StainForm, StainRecipe, UnevenPourRecipe,
};
use crate::practice::truth::faults::{CORE, LEAST_BACKGROUND_D, Parts, Standing};
use crate::practice::truth::{Mean, Spot, View, round, rounded};

/// Cells that an uneven pour, a bare place and a stain are compared by, millimetres.
const POUR_MM: f64 = 8.0;
const BARE_MM: f64 = 1.0;
const STAIN_MM: f64 = 1.5;
/// Independent patches of a pour: its rise is as wide as the plate, so few.
const POUR_PATCHES: f64 = 7.0;
/// A bare place shows where it changes at least this much over a cell, and when that much shows.
const SHOWS_D: f64 = 0.05;
const SHOWS_MM2: f64 = 3.0;
/// How far around an area the background is looked at, in its cells.
const AROUND_CELLS: f64 = 4.0;
/// A stain reaches to where this share of its strongest is left.
const REACH: f64 = 0.1;

fn cell(spot: &Spot, side_mm: f64) -> (i32, i32) {
    (
        (spot.x / side_mm).floor() as i32,
        (spot.y / side_mm).floor() as i32,
    )
}

/// Least and greatest but two in a hundred at each end.
fn range(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    let at = |share: f64| {
        let last = values.len().saturating_sub(1) as f64;
        values
            .get((share * last).round() as usize)
            .copied()
            .unwrap_or(0.0)
    };
    at(0.98) - at(0.02)
}

fn corner_word(corner: Corner) -> &'static str {
    match corner {
        Corner::TopLeft => "top_left",
        Corner::TopRight => "top_right",
        Corner::BottomRight => "bottom_right",
        Corner::BottomLeft => "bottom_left",
    }
}

pub(super) fn uneven_pour(view: &View, shape: &Shape, recipe: &UnevenPourRecipe) -> Value {
    // Without the fault, with it, and the surface meant, cell by cell.
    let mut cells: BTreeMap<(i32, i32), [Mean; 3]> = BTreeMap::new();
    let sign = if view.plate.process.is_positive() {
        -1.0
    } else {
        1.0
    };
    let mut surface = Vec::new();
    for (i, spot) in view.spots().enumerate() {
        let [x, y] = spot.whole.map(|at| at as f32);
        if i % 37 == 0 {
            surface.push([spot.x, spot.y, f64::from(shape.change(x, y).thick_d)]);
        }
        if spot.sample.zone == Zone::Picture {
            let means = cells.entry(cell(&spot, POUR_MM)).or_default();
            means[0].add(f64::from(spot.sample.clean_d));
            means[1].add(sign * f64::from(spot.sample.d - spot.sample.clean_d));
        }
    }
    let fullest = cells.values().map(|c| c[0].count).fold(0.0, f64::max);
    let whole = |of: usize| -> Vec<f64> {
        cells
            .values()
            .filter(|c| c[0].count >= 0.4 * fullest)
            .filter_map(|c| c[of].get())
            .collect()
    };
    let (clean, mut change) = (whole(0), whole(1));
    let mean = clean.iter().sum::<f64>() / clean.len().max(1) as f64;
    let square: f64 = clean.iter().map(|d| (d - mean) * (d - mean)).sum();
    let sd = (square / clean.len().saturating_sub(1).max(1) as f64)
        .sqrt()
        .max(LEAST_BACKGROUND_D);
    let on_picture = range(&mut change);
    let direction = rise_deg(&surface);
    let mut meant: Vec<f64> = surface.iter().map(|[_, _, d]| *d).collect();
    let standing = Standing {
        contrast_d: on_picture,
        background_sd_d: sd,
        visibility: on_picture / sd,
        snr: on_picture / sd * POUR_PATCHES.sqrt(),
    };
    let because = match view.plate.kind {
        PlateKind::Flat => standing.hidden(),
        PlateKind::Blank => Some("there is no silver that could show it"),
        PlateKind::Picture | PlateKind::Wedge => Some("looks like the light of the scene"),
    };
    let corner = corner_word(recipe.corner);
    let double = recipe.form == PourForm::DoubleFlow;
    let truth = json!({
        "variant": if double { "double_flow" } else { "wedge" },
        "accept": if double { json!(["uneven_pour", "ridges"]) } else { json!(["uneven_pour"]) },
        "place": corner,
        "box_mm": rounded([0.0, 0.0, view.width_mm, view.height_mm]),
        "direction_deg": round(direction),
        "measured": {"range_d": round(range(&mut meant)), "range_d_on_picture": round(on_picture),
                     "direction_deg": round(direction), "thick_corner": corner},
    });
    with(truth, stands(&standing, POUR_MM, because))
}

/// Where the plane that fits a surface best rises to, degrees clockwise from twelve o'clock.
fn rise_deg(surface: &[[f64; 3]]) -> f64 {
    let n = surface.len().max(1) as f64;
    let mean = |k: usize| surface.iter().map(|s| s[k]).sum::<f64>() / n;
    let [mx, my, md] = [mean(0), mean(1), mean(2)];
    let (mut xx, mut xy, mut yy, mut xd, mut yd) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for [x, y, d] in surface {
        let (x, y, d) = (x - mx, y - my, d - md);
        xx += x * x;
        xy += x * y;
        yy += y * y;
        xd += x * d;
        yd += y * d;
    }
    // The normal equations of the plane; their determinant stands as a common factor only.
    let (gx, gy) = (xd * yy - yd * xy, yd * xx - xd * xy);
    libm::atan2(gx, -gy).to_degrees().rem_euclid(360.0)
}

/// Where an area lies on the visible plate, and how much of it there is.
struct Extent {
    bounds: [f64; 4],
    area_mm2: f64,
}

fn extent(view: &View, is_in: impl Fn(&Spot) -> bool) -> Option<Extent> {
    let mut bounds = [f64::MAX, f64::MAX, f64::MIN, f64::MIN];
    let mut count = 0.0;
    for spot in view.spots().filter(|spot| is_in(spot)) {
        bounds[0] = bounds[0].min(spot.x);
        bounds[1] = bounds[1].min(spot.y);
        bounds[2] = bounds[2].max(spot.x);
        bounds[3] = bounds[3].max(spot.y);
        count += 1.0;
    }
    (count > 0.0).then(|| {
        // Pixels are told by their middles.
        let half = 0.5 * view.pixel_mm;
        Extent {
            bounds: [
                (bounds[0] - half).max(0.0),
                (bounds[1] - half).max(0.0),
                (bounds[2] + half).min(view.width_mm),
                (bounds[3] + half).min(view.height_mm),
            ],
            area_mm2: count * view.pixel_mm * view.pixel_mm,
        }
    })
}

fn around(bounds: [f64; 4], spot: &Spot, margin: f64) -> bool {
    spot.x > bounds[0] - margin
        && spot.x < bounds[2] + margin
        && spot.y > bounds[1] - margin
        && spot.y < bounds[3] + margin
}

pub(super) fn bare_area(
    view: &View,
    painter: &Painter,
    shape: &Shape,
    recipe: &BareAreaRecipe,
) -> Value {
    let bare = |spot: &Spot| {
        let [x, y] = spot.whole.map(|at| at as f32);
        shape.change(x, y).bare > 0.5
    };
    let Some(extent) = extent(view, bare) else {
        return lost();
    };
    let mut parts = Parts::default();
    let mut shown: BTreeMap<(i32, i32), Mean> = BTreeMap::new();
    let margin = AROUND_CELLS * BARE_MM;
    let mut change = Mean::default();
    for mut spot in view.spots() {
        if !around(extent.bounds, &spot, margin) {
            continue;
        }
        let in_core = bare(&spot);
        if in_core {
            let by = f64::from(spot.sample.d - spot.sample.clean_d);
            shown.entry(cell(&spot, BARE_MM)).or_default().add(by);
            change.add(by);
            // A bare place lies in the border or in the picture all the same.
            let [x, y] = spot.whole.map(|at| at as f32);
            let open = painter.open(x, y);
            spot.sample.zone = if open <= 0.005 {
                Zone::Border
            } else if open >= 0.995 {
                Zone::Picture
            } else {
                Zone::HalfShadow
            };
        }
        parts.add(&spot, spot.x / BARE_MM, spot.y / BARE_MM, in_core);
    }
    let standing = parts.standing(view.pixel_mm, 1.0, BARE_MM * BARE_MM);
    let pixel_mm2 = view.pixel_mm * view.pixel_mm;
    let visible_mm2 = shown
        .values()
        .filter(|cell| cell.get().is_some_and(|d| d.abs() >= SHOWS_D))
        .fold(0.0, |sum, cell| sum + cell.count * pixel_mm2);
    let because = match standing.hidden() {
        None if visible_mm2 < SHOWS_MM2 => Some("bare support looks like the plate around it"),
        hidden => hidden,
    };
    let (place, variant) = match recipe.place {
        BarePlace::Corner(corner) => (json!(corner_word(corner)), Value::Null),
        BarePlace::Island(_) => (Value::Null, json!("island")),
    };
    let lighter = change.get().unwrap_or(0.0) < 0.0;
    let truth = json!({
        "variant": variant,
        "place": place,
        "box_mm": rounded(extent.bounds),
        "direction_deg": null,
        "polarity": super::sign(lighter == view.plate.process.is_positive()),
        "measured": {"area_mm2": round(extent.area_mm2), "visible_area_mm2": round(visible_mm2),
                     "contrast_d": round(standing.contrast_d)},
    });
    with(truth, stands(&standing, BARE_MM, because))
}

pub(super) fn stain(view: &View, shape: &Shape, recipe: &StainRecipe) -> Value {
    let fog = |spot: &Spot| {
        let [x, y] = spot.whole.map(|at| at as f32);
        f64::from(shape.change(x, y).fog_d)
    };
    let strongest = view.spots().map(|spot| fog(&spot)).fold(0.0, f64::max);
    let Some(extent) = extent(view, |spot| {
        strongest > 0.0 && fog(spot) > REACH * strongest
    }) else {
        return lost();
    };
    let mut parts = Parts::default();
    for spot in view.spots() {
        if around(extent.bounds, &spot, AROUND_CELLS * STAIN_MM) {
            let in_core = fog(&spot) > CORE * strongest;
            parts.add(&spot, spot.x / STAIN_MM, spot.y / STAIN_MM, in_core);
        }
    }
    let standing = parts.standing(view.pixel_mm, STAIN_MM, STAIN_MM * STAIN_MM);
    let place = match recipe.from {
        Brink::Edge(edge) => edge.word(),
        Brink::Corner(corner) => corner_word(corner),
    };
    let truth = json!({
        "variant": match recipe.form {
            StainForm::Oyster => "oyster",
            StainForm::Curtain => "curtain",
            StainForm::Drain => "drain",
        },
        "place": place,
        "box_mm": rounded(extent.bounds),
        "direction_deg": null,
        "measured": {"peak_d": round(strongest), "area_mm2": round(extent.area_mm2),
                     "contrast_d": round(standing.contrast_d)},
    });
    with(truth, stands(&standing, STAIN_MM, standing.hidden()))
}
