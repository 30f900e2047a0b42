//! Flat images and what the fixer left.
//!
//! # When they can be found
//! A flat image: on a stepped plate when at least a third of its range and 0.2 D are gone, since the steps
//! run from black to white on any sound plate. A flat picture and a misty morning look alike; a picture can
//! be found only when what went wrong also veiled its border, by what a veil must have to be found, and less
//! than 0.35 D is left between the 2nd and 98th percentile of 1 mm squares.
//!
//! What the fixer left: in a colour scan, when the core of its patches (more than 35 % of the thickest) covers
//! 12 square millimetres and changes CIELAB b* there by 2 or more on the mean, half of what the eye needs
//! at an edge to be sure (from memory). Our own choice.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use super::{
    CORE, DENSEST_CLEAR_D, LEAST_BACKGROUND_D, LEAST_BEYOND_CLEAR_D, LEAST_BORDER_MM, LEAST_RIM_MM,
    LEAST_VEIL_D, Mean, Spot, View, Zone, mean_density, round, rounded,
};
use crate::plate::PlateKind;
use crate::practice::maths::pow10;
use crate::practice::paint::Painter;
use crate::practice::recipe::{FlatForm, Planted};
use crate::units::lab_of_linear_srgb;

/// Most range of a picture under a veil that is flat, density.
const MOST_VEILED_RANGE_D: f64 = 0.35;
/// What a stepped plate must lose, as a share of its range and in density.
const LOST_SHARE: f64 = 1.0 / 3.0;
const LOST_D: f64 = 0.2;
/// Least area (square millimetres) and change of b* of what the fixer left.
const LEAST_MM2: f64 = 12.0;
const LEAST_CAST: f64 = 2.0;

pub(super) fn whole(view: &View, painter: &Painter, fault: &Planted) -> Value {
    match fault {
        Planted::FlatImage(recipe) => flat_image(view, recipe.form),
        Planted::Underfixed(recipe) => underfixed(view, painter, json!(recipe.cast)),
        _ => Value::Null,
    }
}

/// Least and most density of 1 mm squares of the picture area, as 2nd and 98th percentile.
fn ends(squares: &BTreeMap<(i32, i32), Mean>) -> [f64; 2] {
    let fullest = squares.values().map(|s| s.count).fold(0.0, f64::max);
    let mut means: Vec<f64> = squares
        .values()
        .filter(|square| square.count >= 0.9 * fullest)
        .filter_map(|square| mean_density(*square))
        .collect();
    means.sort_by(f64::total_cmp);
    let at = |share: f64| {
        let place = share * means.len().saturating_sub(1) as f64;
        means.get(place.round() as usize).copied().unwrap_or(0.0)
    };
    [at(0.02), at(0.98)]
}

fn flat_image(view: &View, form: FlatForm) -> Value {
    let mut squares: [BTreeMap<(i32, i32), Mean>; 2] = Default::default();
    for spot in view.spots().filter(|s| s.sample.zone == Zone::Picture) {
        let at = (spot.x.floor() as i32, spot.y.floor() as i32);
        for (squares, d) in squares.iter_mut().zip([spot.sample.clean_d, spot.sample.d]) {
            squares.entry(at).or_default().add(f64::from(pow10(-d)));
        }
    }
    let [without, with] = squares.map(|squares| ends(&squares));
    let range = |[light, dark]: [f64; 2]| dark - light;
    let lost = range(without) - range(with);
    let positive = view.plate.process.is_positive();
    let [lights, blacks] = if positive { [0, 1] } else { [1, 0] };
    let findable = match view.plate.kind {
        PlateKind::Wedge => lost >= LOST_D && lost >= LOST_SHARE * range(without),
        _ => range(with) < MOST_VEILED_RANGE_D && veils_border(view),
    };
    let because = (!findable).then_some(match view.plate.kind {
        PlateKind::Wedge => "little of the range is gone",
        _ => "a scene of little contrast looks like this",
    });
    // A stale bath veils the border too, so a veil is a right name for it.
    let accept: &[&str] = match form {
        FlatForm::Stale => &["flat_image", "veil"],
        FlatForm::OverExposed | FlatForm::WeakLights => &["flat_image"],
    };
    json!({
        "variant": form,
        "accept": accept,
        "place": null,
        "box_mm": rounded([0.0, 0.0, view.width_mm, view.height_mm]),
        "direction_deg": null,
        "polarity": "mixed",
        "measured": {"range_d": round(range(with)), "range_d_without": round(range(without)),
                     "blacks_gain_d": round((without[blacks] - with[blacks]).abs()),
                     "lights_lose_d": round((without[lights] - with[lights]).abs())},
        "contrast_d": round(lost),
        "background_sd_d": round(LEAST_BACKGROUND_D),
        "scale_mm": round(view.width_mm.min(view.height_mm)),
        "visibility": round(lost / LEAST_BACKGROUND_D),
        "snr": round(lost / LEAST_BACKGROUND_D),
        "findable": findable,
        "not_findable_because": because,
    })
}

/// Whether the border gained so much silver that a veil can be found, by the rules at the head of `faults`.
fn veils_border(view: &View) -> bool {
    let plate = view.plate;
    let mut gain = Mean::default();
    for spot in view.spots().filter(|s| s.sample.zone == Zone::Border) {
        gain.add(f64::from((spot.sample.d - spot.sample.clean_d).abs()));
    }
    let widest = |widths: [f64; 4]| view.left_over(widths).into_iter().fold(0.0, f64::max);
    let gain_d = gain.get().unwrap_or(0.0);
    let border_mm = widest(
        plate
            .ledge
            .as_ref()
            .map_or([0.0; 4], |ledge| ledge.width_mm),
    );
    let against_rim = gain_d >= LEAST_VEIL_D && widest(plate.rim_mm) >= LEAST_RIM_MM;
    let against_clear = !plate.process.is_positive()
        && plate.tone.unexposed_d + gain_d > DENSEST_CLEAR_D + LEAST_BEYOND_CLEAR_D;
    border_mm >= LEAST_BORDER_MM && (against_rim || against_clear)
}

fn underfixed(view: &View, painter: &Painter, cast: Value) -> Value {
    let [red, blue] = view.plate.tone.warmth;
    let milk = |spot: &Spot| f64::from(painter.milk(spot.whole[0] as f32, spot.whole[1] as f32));
    let thickest = view.spots().map(|spot| milk(&spot)).fold(0.0, f64::max);
    let mut bounds = [f64::MAX, f64::MAX, f64::MIN, f64::MIN];
    let (mut change, mut shift) = (Mean::default(), Mean::default());
    let coated = view
        .spots()
        .filter(|spot| !matches!(spot.sample.zone, Zone::Rim | Zone::Outside));
    for spot in coated.filter(|spot| milk(spot) > CORE * thickest) {
        bounds[0] = bounds[0].min(spot.x);
        bounds[1] = bounds[1].min(spot.y);
        bounds[2] = bounds[2].max(spot.x);
        bounds[3] = bounds[3].max(spot.y);
        let sample = spot.sample;
        change.add(f64::from((sample.d - sample.clean_d).abs()));
        let lab = |d: f32, [r, b]: [f64; 2]| {
            let green = f64::from(pow10(-d));
            lab_of_linear_srgb([green * r, green, green * b])
        };
        let [more_red, more_blue] = sample.cast.map(|log| libm::exp(f64::from(log)));
        let with = lab(sample.d, [red * more_red, blue * more_blue]);
        shift.add(with[2] - lab(sample.d, [red, blue])[2]);
    }
    if bounds[0] > bounds[2] {
        bounds = [0.0; 4];
    }
    let area_mm2 = change.count * view.pixel_mm * view.pixel_mm;
    let (contrast_d, cast_b) = (change.get().unwrap_or(0.0), shift.get().unwrap_or(0.0));
    let because = if view.scan.channels < 3 {
        Some("a grey scan shows no colour")
    } else if area_mm2 < LEAST_MM2 {
        Some("too small")
    } else if cast_b.abs() < LEAST_CAST {
        Some("weaker than the eye's limit")
    } else {
        None
    };
    json!({
        "variant": cast,
        "place": null,
        "box_mm": rounded(bounds),
        "direction_deg": null,
        "measured": {"cast_b": round(cast_b), "area_mm2": round(area_mm2),
                     "contrast_d": round(contrast_d)},
        "contrast_d": round(contrast_d),
        "background_sd_d": round(LEAST_BACKGROUND_D),
        "scale_mm": 1.0,
        "visibility": round(cast_b.abs() / LEAST_CAST),
        "snr": round(cast_b.abs()),
        "findable": because.is_none(),
        "not_findable_because": because,
    })
}
