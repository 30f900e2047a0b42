//! Lines read off the painting: how they change it, and what else looks like them.

use serde_json::{Value, json};

use super::sign;
use crate::practice::paint::{Line, Zone};
use crate::practice::pose;
use crate::practice::truth::faults::{LEAST_BACKGROUND_D, Parts, Standing};
use crate::practice::truth::{Mean, View, round, rounded};

/// Length of a strip: millimetres, and widths of the line.
const STRIP_MM: f64 = 5.0;
const STRIP_WIDTHS: f64 = 3.0;
/// Strips beside the line, on each side.
const BESIDE: i32 = 6;
/// A strip belongs to border or picture when this share of it does.
const WHOLE: f64 = 0.8;
/// Half the part of a line's width that counts as its middle.
const MIDDLE: f64 = 0.3;
/// No strip is narrower than this, pixels.
const LEAST_PIXELS: f64 = 1.5;
/// Fewest places half a millimetre apart that still make a line.
const LEAST_POINTS: usize = 5;

/// How a place is told from those beside it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Filter {
    /// Against the mean of both sides.
    Bump,
    /// One side against the other.
    Step,
}

/// A line as it ended up on the visible plate.
pub(super) struct Reading {
    pub(super) stands: Standing,
    pub(super) bounds: [f64; 4],
    centre: [f64; 2],
    pub(super) length_mm: f64,
    pub(super) width_mm: f64,
    pub(super) axis_deg: f64,
    pub(super) more_silver: bool,
    /// Whether the recipe meant more silver there.
    pub(super) meant_more: bool,
}

impl Reading {
    /// The line as a member of a group.
    pub(super) fn json(&self, findable: bool) -> Value {
        json!({
            "contrast_d": round(self.stands.contrast_d),
            "background_sd_d": round(self.stands.background_sd_d),
            "visibility": round(self.stands.visibility),
            "snr": round(self.stands.snr),
            "box_mm": rounded(self.bounds),
            "centre_mm": rounded(self.centre),
            "size_mm": round(self.width_mm),
            "length_mm": round(self.length_mm),
            "axis_deg": round(self.axis_deg),
            "direction_deg": null,
            "polarity": sign(self.more_silver),
            "findable": findable,
        })
    }
}

/// Density of the painting without and with its faults, by the sample's number.
pub(super) fn painted<'a>(view: &'a View) -> impl Fn(usize) -> [f64; 2] + 'a {
    |at| {
        let sample = view.samples.samples.get(at).copied().unwrap_or_default();
        [f64::from(sample.clean_d), f64::from(sample.d)]
    }
}

/// One strip along a piece of the line.
#[derive(Default, Clone, Copy)]
struct Strip {
    /// Without the faults, border and picture apart.
    clean: [Mean; 2],
    change: [Mean; 2],
    all: f64,
}

impl Strip {
    /// The part it belongs to.
    fn part(&self) -> Option<usize> {
        (0..2).find(|p| self.all > 0.0 && self.clean[*p].count >= WHOLE * self.all)
    }

    fn clean_in(&self, part: usize) -> Option<f64> {
        (self.part() == Some(part)).then(|| self.clean[part].get())?
    }
}

/// Number of the sample at a place of the whole plate, millimetres.
fn sample_at(view: &View, [x, y]: [f64; 2]) -> Option<usize> {
    let samples = view.samples;
    let [px, py] = pose::apply(&samples.pose.to_px, x, y);
    let [left, top] = samples.origin.map(|at| at as f64);
    let (column, row) = (px.floor() - left, py.floor() - top);
    let [columns, rows] = samples.size.map(|n| n as f64);
    let inside = (0.0..columns).contains(&column) && (0.0..rows).contains(&row);
    inside.then(|| row as usize * samples.size[0] + column as usize)
}

/// One line; `None` when nothing of it is in the scan.
pub(super) fn read(
    view: &View,
    line: &Line,
    filter: Filter,
    at: &dyn Fn(usize) -> [f64; 2],
) -> Option<Reading> {
    let on = |p: &[f64; 2]| {
        sample_at(view, *p)
            .and_then(|i| view.samples.samples.get(i))
            .is_some_and(|sample| sample.zone != Zone::Outside)
    };
    let points: Vec<[f64; 2]> = line
        .points
        .iter()
        .map(|p| p.map(f64::from))
        .filter(on)
        .collect();
    if points.len() < LEAST_POINTS {
        return None;
    }
    let width = f64::from(line.width).max(LEAST_PIXELS * view.pixel_mm);
    let pieces = pieces(points.len(), width);
    let mut strips = vec![[Strip::default(); 2 * BESIDE as usize + 1]; pieces];
    let across = ((2.0 * MIDDLE * width / view.pixel_mm).ceil() as i32).clamp(1, 7);
    for (i, [x, y]) in points.iter().enumerate() {
        let before = points[i.saturating_sub(2)];
        let after = points[(i + 2).min(points.len() - 1)];
        let way = libm::hypot(after[0] - before[0], after[1] - before[1]).max(1e-9);
        let normal = [(before[1] - after[1]) / way, (after[0] - before[0]) / way];
        let piece = &mut strips[i * pieces / points.len()];
        for (k, strip) in (-BESIDE..=BESIDE).zip(piece.iter_mut()) {
            for j in 0..across {
                let share = (f64::from(j) + 0.5) / f64::from(across) - 0.5;
                let off = width * (f64::from(k) + 2.0 * MIDDLE * share);
                strip.all += 1.0;
                let place = [x + off * normal[0], y + off * normal[1]];
                let Some(index) = sample_at(view, place) else {
                    continue;
                };
                let zone = view.samples.samples[index].zone;
                if let Some(part) = Parts::part(zone) {
                    let [clean, with] = at(index);
                    strip.clean[part].add(clean);
                    strip.change[part].add(with - clean);
                }
            }
        }
    }
    let (stands, change) = standing(&strips, filter);
    let seen: Vec<[f64; 2]> = points.iter().map(|p| view.seen(*p)).collect();
    let length_mm = seen
        .windows(2)
        .map(|w| libm::hypot(w[1][0] - w[0][0], w[1][1] - w[0][1]))
        .sum();
    let (first, last) = (seen[0], seen[seen.len() - 1]);
    let axis = libm::atan2(last[0] - first[0], first[1] - last[1]).to_degrees();
    let half = 0.5 * f64::from(line.width);
    let mut bounds = [f64::MAX, f64::MAX, f64::MIN, f64::MIN];
    for [x, y] in &seen {
        bounds[0] = bounds[0].min(x - half).max(0.0);
        bounds[1] = bounds[1].min(y - half).max(0.0);
        bounds[2] = bounds[2].max(x + half).min(view.width_mm);
        bounds[3] = bounds[3].max(y + half).min(view.height_mm);
    }
    let lighter = change < 0.0;
    Some(Reading {
        stands,
        bounds,
        centre: seen[seen.len() / 2],
        length_mm,
        width_mm: f64::from(line.width),
        axis_deg: axis.rem_euclid(180.0),
        more_silver: if change.abs() > 1e-6 {
            lighter == view.plate.process.is_positive()
        } else {
            line.more_silver
        },
        meant_more: line.more_silver,
    })
}

/// Pieces that a line of so many places is cut into.
fn pieces(points: usize, width_mm: f64) -> usize {
    let length = 0.5 * points as f64;
    ((length / STRIP_MM.max(STRIP_WIDTHS * width_mm)).round() as usize).max(1)
}

/// Standing of a line, and its mean change of density, signed.
fn standing(strips: &[[Strip; 2 * BESIDE as usize + 1]], filter: Filter) -> (Standing, f64) {
    let middle = BESIDE as usize;
    let mut best = Standing::default();
    let (mut power, mut whole) = (0.0, Mean::default());
    for part in 0..2 {
        let (mut change, mut square) = (Mean::default(), Mean::default());
        for piece in strips {
            let told = match filter {
                Filter::Bump => (piece[middle].part() == Some(part))
                    .then(|| piece[middle].change[part].get())
                    .flatten(),
                Filter::Step => {
                    let side = |k: usize| {
                        (piece[k].part() == Some(part)).then(|| piece[k].change[part].get())?
                    };
                    side(middle + 1)
                        .zip(side(middle - 1))
                        .map(|(one, other)| one - other)
                }
            };
            if let Some(told) = told {
                change.add(told);
            }
            for k in 1..2 * middle {
                let clean = |k: usize| piece[k].clean_in(part);
                let (Some(left), Some(here), Some(right)) = (clean(k - 1), clean(k), clean(k + 1))
                else {
                    continue;
                };
                let off = match filter {
                    Filter::Bump => here - 0.5 * (left + right),
                    Filter::Step => right - left,
                };
                square.add(off * off);
            }
        }
        let Some(mean) = change.get() else {
            continue;
        };
        whole.sum += change.sum;
        whole.count += change.count;
        let Some(sd) = square.get().map(|s| s.sqrt().max(LEAST_BACKGROUND_D)) else {
            continue;
        };
        let visibility = mean.abs() / sd;
        power += visibility * visibility * change.count;
        if visibility > best.visibility {
            best = Standing {
                contrast_d: mean.abs(),
                background_sd_d: sd,
                visibility,
                snr: 0.0,
            };
        }
    }
    best.snr = power.sqrt();
    (best, whole.get().unwrap_or(0.0))
}
