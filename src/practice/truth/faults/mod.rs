//! The planted faults as they ended up on the plate, and whether they can be found.
//!
//! # When a fault can be found
//! Decided from the painting, never from a detector. The plate is painted twice, with and without
//! its faults. For fog from an edge and for a leak:
//! - `contrast_d` is the mean change of density over the fault's core, the places where the fog on
//!   unexposed coating is more than 35 % of its strongest;
//! - `background_sd_d` is the standard deviation of the plate without the fault, averaged over cells
//!   of the fault's own scale (half its depth or width), in and around it, worked out apart for the
//!   dark border and for the picture, so that the step between them does not count;
//! - `visibility` is contrast over background in the better of the two; `snr` is visibility times
//!   the root of the number of independent patches in the core, both parts together;
//! - it can be found when `snr` is at least 4, `visibility` at least 0.7 and the contrast at least
//!   0.02 D. The three limits are our own choice, near what trained eyes need; level 2 and up mostly
//!   passes, level 1 mostly in a dark border only.
//!
//! A veil can be found when bare support lies beside it (a rim of 0.3 mm or more in the scan) and it
//! is at least 0.23 D: what a rim reads beside coating without any veil scatters by about 0.058 D (the
//! lip, the missing film), and four times that is the same `snr` that is asked of the others. On a
//! negative also when it is denser by 0.06 D than any clear base the recipes draw. Either way there
//! must be coating that no light of the scene reached, a border in the scan or a blank plate: over a
//! scene or an even exposure a veil is as good as a longer exposure.
//! A veil that spares the border looks like exposure; it can be found only on a blank.
//!
//! Comets, pinholes and specks have rules of their own, at the head of `marks`; streaks, lines, ridges,
//! pours, bare areas, stains and scratches at the head of `shapes`, flat images and what the fixer left at the
//! head of `whole`.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use super::{Mean, Spot, View, Zone, mean_density, round, rounded};
use crate::plate::{Edge, PlateKind};
use crate::practice::paint::Painter;
use crate::practice::recipe::Planted;

mod blurred;
mod marks;
mod shapes;
mod whole;

/// Limits of finding; see the head of this file.
const LEAST_SNR: f64 = 4.0;
const LEAST_VISIBILITY: f64 = 0.7;
const LEAST_CONTRAST_D: f64 = 0.02;
const LEAST_VEIL_D: f64 = 0.23;
const LEAST_BEYOND_CLEAR_D: f64 = 0.06;
const LEAST_RIM_MM: f64 = 0.3;
/// Narrowest border that shows coating between rim and half shadow, millimetres.
const LEAST_BORDER_MM: f64 = 1.3;
/// Densest unexposed glass that recipes draw, density.
const DENSEST_CLEAR_D: f64 = 0.22;
/// No scan holds a plate steadier than this from cell to cell: keeps the ratio finite.
const LEAST_BACKGROUND_D: f64 = 0.004;
/// Fog counts as the fault's core above this share of its strongest.
const CORE: f64 = 0.35;
/// An edge's box reaches this many depths inward: there fog is a ninth of its strongest.
const BOX_DEPTHS: f64 = 2.2;

/// All faults of a plate.
pub(super) fn of(view: &View, painter: &Painter) -> Vec<Value> {
    view.plate
        .faults
        .iter()
        .enumerate()
        .map(|(i, fault)| {
            let mut truth = match fault {
                Planted::Veil { .. } => veil(view, fault),
                Planted::EdgeFog { .. } => edge_fog(view, painter, i, fault),
                Planted::LightLeak { .. } => light_leak(view, painter, i, fault),
                Planted::Comets(_) | Planted::Pinholes(_) | Planted::Specks(_) => {
                    marks::group(view, painter, i, fault)
                }
                Planted::FlatImage(_) | Planted::Underfixed(_) => {
                    whole::whole(view, painter, fault)
                }
                _ => shapes::shape(view, painter, i, fault),
            };
            if let Value::Object(fields) = &mut truth {
                for (name, value) in [
                    ("id", json!(format!("t{}", i + 1))),
                    ("fault", json!(fault.fault())),
                    ("level", json!(fault.level())),
                    ("accept", json!([fault.fault()])),
                    ("polarity", json!("more_silver")),
                    ("outline_mm", Value::Null),
                    ("axis_deg", Value::Null),
                    ("direction_spread_deg", Value::Null),
                    ("members", Value::Null),
                    ("params", json!(fault)),
                ] {
                    fields.entry(name).or_insert(value);
                }
            }
            truth
        })
        .collect()
}

/// How a fault stands out from the plate around it.
#[derive(Debug, Clone, Copy, Default)]
struct Standing {
    contrast_d: f64,
    background_sd_d: f64,
    visibility: f64,
    snr: f64,
}

impl Standing {
    /// Why it cannot be found; `None` when it can.
    fn hidden(&self) -> Option<&'static str> {
        if self.contrast_d < LEAST_CONTRAST_D {
            Some("weaker than the eye's limit on this plate")
        } else if self.snr < LEAST_SNR || self.visibility < LEAST_VISIBILITY {
            Some("lost in the plate's own structure")
        } else {
            None
        }
    }
}

/// Mean change and cell means without the fault, for the border and the picture.
#[derive(Default)]
struct Parts {
    core: [Mean; 2],
    cells: [BTreeMap<(i32, i32), Mean>; 2],
}

impl Parts {
    fn part(zone: Zone) -> Option<usize> {
        match zone {
            Zone::Border => Some(0),
            Zone::Picture => Some(1),
            Zone::Outside | Zone::Rim | Zone::HalfShadow => None,
        }
    }

    /// Takes in one pixel; `u`, `v` are its place in cells.
    fn add(&mut self, spot: &Spot, u: f64, v: f64, in_core: bool) {
        let Some(part) = Parts::part(spot.sample.zone) else {
            return;
        };
        let cell = (u.floor() as i32, v.floor() as i32);
        self.cells[part]
            .entry(cell)
            .or_default()
            .add(f64::from(spot.sample.clean_d));
        if in_core {
            self.core[part].add(f64::from((spot.sample.d - spot.sample.clean_d).abs()));
        }
    }

    /// `least_mm2` is the least area of a part that counts; `patch_mm2` the area of one independent
    /// patch.
    fn standing(&self, pixel_mm: f64, least_mm2: f64, patch_mm2: f64) -> Standing {
        let mut best = Standing::default();
        let mut power = 0.0;
        for part in 0..2 {
            let area = self.core[part].count * pixel_mm * pixel_mm;
            let Some(contrast_d) = self.core[part].get() else {
                continue;
            };
            // Cells that are a sliver of the part say more of noise than of structure.
            let fullest = self.cells[part]
                .values()
                .map(|c| c.count)
                .fold(0.0, f64::max);
            let means: Vec<f64> = self.cells[part]
                .values()
                .filter(|cell| cell.count >= 0.4 * fullest)
                .filter_map(|cell| cell.get())
                .collect();
            if area < least_mm2 || means.len() < 3 {
                continue;
            }
            let mean = means.iter().sum::<f64>() / means.len() as f64;
            let square: f64 = means.iter().map(|m| (m - mean) * (m - mean)).sum();
            let sd = (square / (means.len() - 1) as f64)
                .sqrt()
                .max(LEAST_BACKGROUND_D);
            let visibility = contrast_d / sd;
            power += visibility * visibility * (area / patch_mm2).max(1.0);
            if visibility > best.visibility {
                best = Standing {
                    contrast_d,
                    background_sd_d: sd,
                    visibility,
                    snr: 0.0,
                };
            }
        }
        best.snr = power.sqrt();
        best
    }
}

fn edge_fog(view: &View, painter: &Painter, index: usize, fault: &Planted) -> Value {
    let Planted::EdgeFog {
        edge,
        fog_d,
        depth_mm,
        from_mm,
        to_mm,
        ..
    } = fault
    else {
        return Value::Null;
    };
    let (w, h) = (view.width_mm, view.height_mm);
    let cut = view.cut_mm[*edge as usize];
    // Along and across the edge in the visible frame.
    let along_cut = match edge {
        Edge::Top | Edge::Bottom => view.cut_mm[3],
        Edge::Left | Edge::Right => view.cut_mm[0],
    };
    let side = match edge {
        Edge::Top | Edge::Bottom => w,
        Edge::Left | Edge::Right => h,
    };
    let from = (from_mm - along_cut).clamp(0.0, side);
    let to = (to_mm - along_cut).clamp(0.0, side);
    let nominal_d = fog_d * libm::exp(-cut / depth_mm);
    let scale_mm = 0.5 * depth_mm;
    let reach = BOX_DEPTHS * depth_mm;
    let mut parts = Parts::default();
    let (mut change, mut profile) = (0.0, 0.0);
    // The outermost coated strip, away from the fading ends of a partial fog.
    let rim = view.left_over(view.plate.rim_mm)[*edge as usize];
    let lip = view.plate.lip.as_ref();
    let lip = view.left_over(lip.map_or([0.0; 4], |lip| lip.width_mm))[*edge as usize];
    let strip = (2.0 * rim).max(lip) + (0.25 * depth_mm).max(0.5);
    for spot in view.spots() {
        let (distance, along) = match edge {
            Edge::Top => (spot.y, spot.x),
            Edge::Right => (w - spot.x, spot.y),
            Edge::Bottom => (h - spot.y, spot.x),
            Edge::Left => (spot.x, spot.y),
        };
        if distance > reach {
            continue;
        }
        let [x, y] = spot.whole;
        let fog = f64::from(painter.nominal_fog_d(index, x as f32, y as f32));
        let in_core = fog > CORE * nominal_d;
        parts.add(&spot, along / scale_mm, distance / scale_mm, in_core);
        let coated = !matches!(spot.sample.zone, Zone::Rim | Zone::Outside);
        if coated && distance < strip && along > from + 3.0 && along < to - 3.0 {
            change += f64::from((spot.sample.d - spot.sample.clean_d).abs());
            profile += libm::exp(-distance / depth_mm);
        }
    }
    let length = to - from;
    let standing = parts.standing(view.pixel_mm, 0.6 * length, 2.0 * depth_mm * depth_mm);
    let hidden = standing.hidden();
    let fog_on_plate = if profile > 0.0 { change / profile } else { 0.0 };
    let bounds = match edge {
        Edge::Top => [from, 0.0, to, reach.min(h)],
        Edge::Right => [(w - reach).max(0.0), from, w, to],
        Edge::Bottom => [from, (h - reach).max(0.0), to, h],
        Edge::Left => [0.0, from, reach.min(w), to],
    };
    json!({
        "variant": null,
        "place": edge.word(),
        "box_mm": rounded(bounds),
        "direction_deg": null,
        "measured": {"fog_d": round(fog_on_plate), "fog_d_nominal": round(nominal_d),
                     "depth_mm": round(*depth_mm), "length_mm": round(length)},
        "contrast_d": round(standing.contrast_d),
        "background_sd_d": round(standing.background_sd_d),
        "scale_mm": round(scale_mm),
        "visibility": round(standing.visibility),
        "snr": round(standing.snr),
        "findable": hidden.is_none(),
        "not_findable_because": hidden,
    })
}

fn light_leak(view: &View, painter: &Painter, index: usize, fault: &Planted) -> Value {
    let Planted::LightLeak {
        edge,
        at_mm,
        direction_deg,
        length_mm,
        width_mm,
        peak_d,
        ..
    } = fault
    else {
        return Value::Null;
    };
    let scale_mm = 0.5 * width_mm;
    // First where the tongue lies, then what is around it.
    let mut strongest = 0.0_f64;
    let mut bounds = [f64::MAX, f64::MAX, f64::MIN, f64::MIN];
    for spot in view.spots() {
        let [x, y] = spot.whole;
        let fog = f64::from(painter.nominal_fog_d(index, x as f32, y as f32));
        if fog > 0.1 * peak_d {
            strongest = strongest.max(fog);
            bounds[0] = bounds[0].min(spot.x);
            bounds[1] = bounds[1].min(spot.y);
            bounds[2] = bounds[2].max(spot.x);
            bounds[3] = bounds[3].max(spot.y);
        }
    }
    let seen = bounds[0] <= bounds[2];
    if !seen {
        bounds = [0.0; 4];
    }
    let margin = 2.0 * width_mm;
    let mut parts = Parts::default();
    for spot in view.spots() {
        let around = spot.x > bounds[0] - margin
            && spot.x < bounds[2] + margin
            && spot.y > bounds[1] - margin
            && spot.y < bounds[3] + margin;
        if seen && around {
            let [x, y] = spot.whole;
            let fog = f64::from(painter.nominal_fog_d(index, x as f32, y as f32));
            parts.add(
                &spot,
                spot.x / scale_mm,
                spot.y / scale_mm,
                fog > CORE * strongest,
            );
        }
    }
    let standing = parts.standing(view.pixel_mm, 0.6 * width_mm, 0.5 * width_mm * width_mm);
    let hidden = standing.hidden();
    json!({
        "variant": null,
        "place": place_word(view, *edge, *at_mm),
        "box_mm": rounded(bounds),
        "direction_deg": round(*direction_deg),
        "measured": {"peak_d": round(strongest), "length_mm": round(*length_mm),
                     "width_mm": round(*width_mm), "contrast_d": round(standing.contrast_d)},
        "contrast_d": round(standing.contrast_d),
        "background_sd_d": round(standing.background_sd_d),
        "scale_mm": round(scale_mm),
        "visibility": round(standing.visibility),
        "snr": round(standing.snr),
        "findable": hidden.is_none(),
        "not_findable_because": hidden,
    })
}

/// The edge a leak enters from, or the corner within 3 mm.
fn place_word(view: &View, edge: Edge, at_mm: f64) -> &'static str {
    let plate = view.plate;
    let length = match edge {
        Edge::Top | Edge::Bottom => plate.width_mm,
        Edge::Left | Edge::Right => plate.height_mm,
    };
    let (low, high) = (at_mm < 3.0, at_mm > length - 3.0);
    match (edge, low, high) {
        (Edge::Top, true, _) | (Edge::Left, true, _) => "top_left",
        (Edge::Top, _, true) | (Edge::Right, true, _) => "top_right",
        (Edge::Right, _, true) | (Edge::Bottom, _, true) => "bottom_right",
        (Edge::Bottom, true, _) | (Edge::Left, _, true) => "bottom_left",
        _ => edge.word(),
    }
}

fn veil(view: &View, fault: &Planted) -> Value {
    let Planted::Veil {
        fog_d,
        spares_border,
        ..
    } = fault
    else {
        return Value::Null;
    };
    let plate = view.plate;
    let mut change = Mean::default();
    let mut cells: BTreeMap<(i32, i32), Mean> = BTreeMap::new();
    const SCALE_MM: f64 = 10.0;
    for spot in view
        .spots()
        .filter(|spot| spot.sample.zone == Zone::Picture)
    {
        change.add(f64::from((spot.sample.d - spot.sample.clean_d).abs()));
        let cell = ((spot.x / SCALE_MM) as i32, (spot.y / SCALE_MM) as i32);
        cells
            .entry(cell)
            .or_default()
            .add(f64::from(spot.sample.clean_d));
    }
    let on_picture = change.get().unwrap_or(0.0);
    let means: Vec<f64> = cells.values().filter_map(|cell| cell.get()).collect();
    let mean = means.iter().sum::<f64>() / means.len().max(1) as f64;
    let square: f64 = means.iter().map(|m| (m - mean) * (m - mean)).sum();
    let sd = (square / means.len().saturating_sub(1).max(1) as f64)
        .sqrt()
        .max(LEAST_BACKGROUND_D);
    let rim = view.left_over(plate.rim_mm).into_iter().fold(0.0, f64::max);
    let strong = *fog_d >= LEAST_VEIL_D;
    let border = view.left_over(
        plate
            .ledge
            .as_ref()
            .map_or([0.0; 4], |ledge| ledge.width_mm),
    );
    let kept_dark =
        plate.kind == PlateKind::Blank || border.into_iter().fold(0.0, f64::max) >= LEAST_BORDER_MM;
    let denser_than_clear = !plate.process.is_positive()
        && plate.tone.unexposed_d + fog_d > DENSEST_CLEAR_D + LEAST_BEYOND_CLEAR_D;
    let findable = if *spares_border {
        strong && plate.kind == PlateKind::Blank
    } else {
        kept_dark && ((strong && rim >= LEAST_RIM_MM) || denser_than_clear)
    };
    let because = match (findable, spares_border, strong) {
        (true, _, _) => None,
        (_, true, _) => Some("looks like exposure: the border is clear"),
        _ if !kept_dark => Some("looks like exposure: no part was kept from the light"),
        (_, _, false) => Some("bare support scatters too much beside it"),
        _ => Some("no bare support on the plate to compare with"),
    };
    json!({
        "variant": if *spares_border { json!("through_the_lens") } else { Value::Null },
        "place": null,
        "box_mm": rounded([0.0, 0.0, view.width_mm, view.height_mm]),
        "direction_deg": null,
        "measured": {"veil_d": round(*fog_d), "veil_d_on_picture": round(on_picture)},
        "contrast_d": round(on_picture),
        "background_sd_d": round(sd),
        "scale_mm": SCALE_MM,
        "visibility": round(on_picture / sd),
        "snr": round(2.0 * on_picture / sd),
        "findable": findable,
        "not_findable_because": because,
    })
}
