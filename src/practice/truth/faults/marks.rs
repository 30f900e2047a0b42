//! Groups of marks as they ended up on the plate.
//!
//! # When a mark can be found
//! - `size_mm` is the diameter of the circle with the area of the head where the mark is at least half
//!   as strong as in its middle, on a grid much finer than the scan; a comet's tail is left out.
//! - `contrast_d` is the mean change of density over that core, with and without the marks, before
//!   the scanner.
//! - `contrast_scanned_d` is what the scanner's pixels and blur leave of it, over the core's pixels.
//! - `background_sd_d` is the standard deviation of what a spot of the mark's own size reads against
//!   the eight spots around it, all over the plate without its faults up to 2.5 mm or five sizes
//!   away, after the same blur; the scanner's noise is added. A busy scene so hides what an even one
//!   shows.
//! - `visibility` is the scanned contrast over that background; `snr` is the same for a round mark,
//!   and for a comet takes in the tail by its length in head's widths.
//! - It can be found when `snr` is at least 6, `visibility` at least 2.5, the scanned contrast at
//!   least 0.02 D and the mark at least 1.5 pixels of the scan across. Six standard deviations are
//!   what one false mark in a hundred plates of a million places asks for (5.6) and a little more;
//!   the other limits are our own choice. A test holds that none of the weaker ones passes.
//!
//! Dark matter on a positive hides its whites as a hole does, and no scan tells which it is: such specks
//! may be called pinholes where nearly all of them that can be found are darker than what is around them.
//! A few over the picture's blacks, lighter than these, say no more than dust beside them does.
//!
//! A group can be found when three of its marks can: the few natural specks that any plate has are
//! no fault, and two directions agree by chance.

use rayon::prelude::*;
use serde_json::{Value, json};

use super::LEAST_CONTRAST_D;
use super::blurred::Blurred;
use crate::practice::maths::density;
use crate::practice::paint::{Action, Mark, Painter, Zone};
use crate::practice::pose;
use crate::practice::recipe::Planted;
use crate::practice::truth::{Mean, View, round, rounded};

/// Limits of finding; see the head of this file.
const LEAST_SNR: f64 = 6.0;
const LEAST_VISIBILITY: f64 = 2.5;
const LEAST_PIXELS: f64 = 1.5;
const LEAST_MARKS: usize = 3;
/// Most specks lighter than what is around them, as a share of those that can be found, with which all may
/// be called pinholes. Our own choice.
const FEW_LIGHTER: f64 = 0.1;
/// How far the background is looked at: millimetres, and sizes of the mark.
const AROUND_MM: f64 = 2.5;
const AROUND_SIZES: f64 = 5.0;
/// Points across a core.
const FINE: f32 = 24.0;
/// Mean over a tail of its fading squared (1 / (2 x 1.15 + 1)) times its width over the head's
/// (between 0.85 and 0.3), as it is painted.
const TAIL_POWER: f64 = 0.303 * 0.57;

/// A mark as it ended up on the plate.
struct Member {
    centre: [f64; 2],
    bounds: [f64; 4],
    size_mm: f64,
    /// Of the tail: length, direction, far end.
    tail: Option<(f64, f64, [f64; 2])>,
    contrast_d: f64,
    contrast_scanned_d: f64,
    background_sd_d: f64,
    visibility: f64,
    snr: f64,
    more_silver: bool,
    findable: bool,
}

/// One group.
pub(super) fn group(view: &View, painter: &Painter, index: usize, fault: &Planted) -> Value {
    let blurred = Blurred::new(view);
    let members: Vec<Member> = painter
        .marks(index)
        .par_iter()
        .filter_map(|mark| member(view, painter, &blurred, mark))
        .collect();
    let findable = members.iter().filter(|m| m.findable).count();
    let found = findable >= LEAST_MARKS;
    let because = match (members.is_empty(), found) {
        (true, _) => Some("none of its marks is in the scan"),
        (_, false) => Some("too few marks stand out from what is around them"),
        _ => None,
    };
    let (scatter, both_ways) = match fault {
        Planted::Comets(recipe) => (Some(recipe.scatter), recipe.both_ways),
        Planted::Pinholes(recipe) => (Some(recipe.scatter), false),
        Planted::Specks(recipe) => (Some(recipe.scatter), false),
        _ => (None, false),
    };
    let typical = |of: fn(&Member) -> f64| {
        let mut values: Vec<f64> = members
            .iter()
            .filter(|m| m.findable || findable == 0)
            .map(of)
            .collect();
        values.sort_by(f64::total_cmp);
        values.get(values.len() / 2).copied().map(round)
    };
    let directions: Vec<f64> = members.iter().filter_map(|m| Some(m.tail?.1)).collect();
    let common = common_direction(&directions, both_ways);
    let bounds = members
        .iter()
        .fold([f64::MAX, f64::MAX, f64::MIN, f64::MIN], |all, m| {
            [
                all[0].min(m.bounds[0]),
                all[1].min(m.bounds[1]),
                all[2].max(m.bounds[2]),
                all[3].max(m.bounds[3]),
            ]
        });
    let more = members.iter().filter(|m| m.more_silver).count();
    let polarity = if more == members.len() {
        "more_silver"
    } else if more == 0 {
        "less_silver"
    } else {
        "mixed"
    };
    let accept = match fault {
        Planted::Specks(_) if like_holes(&members) => vec!["specks", "pinholes"],
        _ => vec![fault.fault()],
    };
    json!({
        "variant": scatter.map(|scatter| scatter.word()),
        "accept": accept,
        "place": null,
        "box_mm": rounded(if members.is_empty() { [0.0; 4] } else { bounds }),
        "direction_deg": common.filter(|_| !both_ways).map(|(deg, _)| round(deg)),
        "axis_deg": common.filter(|_| both_ways).map(|(deg, _)| round(deg)),
        "direction_spread_deg": common.map(|(_, spread)| round(spread)),
        "polarity": polarity,
        "measured": {"count": members.len(), "count_findable": findable,
                     "size_mm": typical(|m| m.size_mm)},
        "contrast_d": typical(|m| m.contrast_d),
        "background_sd_d": typical(|m| m.background_sd_d),
        "scale_mm": typical(|m| m.size_mm),
        "visibility": typical(|m| m.visibility),
        "snr": typical(|m| m.snr),
        "findable": found,
        "not_findable_because": because,
        "members": members.iter().map(Member::json).collect::<Vec<Value>>(),
    })
}

/// Whether the specks show as holes do: nearly all that can be found, or all where none can.
fn like_holes(specks: &[Member]) -> bool {
    let any = specks.iter().any(|m| m.findable);
    let seen = specks.iter().filter(|m| m.findable || !any);
    let lighter = seen.clone().filter(|m| m.more_silver).count();
    lighter as f64 <= FEW_LIGHTER * seen.count() as f64
}

impl Member {
    fn json(&self) -> Value {
        let mut truth = json!({
            "contrast_d": round(self.contrast_d),
            "contrast_scanned_d": round(self.contrast_scanned_d),
            "background_sd_d": round(self.background_sd_d),
            "visibility": round(self.visibility),
            "snr": round(self.snr),
            "box_mm": rounded(self.bounds),
            "centre_mm": rounded(self.centre),
            "size_mm": round(self.size_mm),
            "length_mm": self.tail.map(|tail| round(tail.0)),
            "direction_deg": self.tail.map(|tail| round(tail.1)),
            "axis_deg": null,
            "polarity": if self.more_silver { "more_silver" } else { "less_silver" },
            "findable": self.findable,
        });
        if let (Some((_, _, end)), Value::Object(fields)) = (self.tail, &mut truth) {
            fields.insert("tail_end_mm".into(), json!(rounded(end)));
        }
        truth
    }
}

/// Mean direction, or mean axis of directions both ways, and the standard deviation around it,
/// degrees (Mardia and Jupp 2000, 2.3.1 and 3.5; axes by doubled angles).
fn common_direction(directions: &[f64], both_ways: bool) -> Option<(f64, f64)> {
    let times = if both_ways { 2.0 } else { 1.0 };
    let (mut sin, mut cos) = (0.0, 0.0);
    for deg in directions {
        let angle = (times * deg).to_radians();
        sin += libm::sin(angle);
        cos += libm::cos(angle);
    }
    if directions.is_empty() {
        return None;
    }
    let length = (libm::hypot(sin, cos) / directions.len() as f64).clamp(1e-9, 1.0);
    let mean = libm::atan2(sin, cos).to_degrees().rem_euclid(360.0) / times;
    let spread = libm::sqrt(-2.0 * libm::log(length)).to_degrees() / times;
    Some((mean, spread))
}

/// One mark; `None` when its head is not in the scan.
fn member(view: &View, painter: &Painter, blurred: &Blurred, mark: &Mark) -> Option<Member> {
    let centre = view.seen([f64::from(mark.x), f64::from(mark.y)]);
    let inside =
        (0.0..view.width_mm).contains(&centre[0]) && (0.0..view.height_mm).contains(&centre[1]);
    if !inside {
        return None;
    }
    let (size_mm, change) = core(painter, mark)?;
    let window = Window::around(view, blurred, mark, size_mm)?;
    let contrast_scanned_d = window.contrast();
    let background_sd_d = window.background().max(super::LEAST_BACKGROUND_D);
    let visibility = contrast_scanned_d / background_sd_d;
    let tail = mark.tail.map(|_| {
        let [x, y] = mark.end();
        let end = view.seen([f64::from(x), f64::from(y)]);
        let (dx, dy) = (end[0] - centre[0], end[1] - centre[1]);
        let direction = libm::atan2(dx, -dy).to_degrees().rem_euclid(360.0);
        (libm::hypot(dx, dy), direction, end)
    });
    let power = mark.tail.map_or(0.0, |tail| {
        f64::from(tail.share * tail.share) * TAIL_POWER * f64::from(tail.length / mark.size)
    });
    let snr = visibility * (1.0 + power).sqrt();
    let positive = view.plate.process.is_positive();
    // What changes nothing has the sign it would have had.
    let more_silver = if change.abs() > 1e-6 {
        (change < 0.0) == positive
    } else {
        matches!(mark.action, Action::Silver(_))
    };
    let [left, top, right, bottom] = mark.bounds().map(f64::from);
    let [left, top] = view.seen([left, top]);
    let [right, bottom] = view.seen([right, bottom]);
    let half = 0.5 * size_mm;
    Some(Member {
        centre,
        bounds: if mark.tail.is_some() {
            [
                left.max(0.0),
                top.max(0.0),
                right.min(view.width_mm),
                bottom.min(view.height_mm),
            ]
        } else {
            [
                centre[0] - half,
                centre[1] - half,
                centre[0] + half,
                centre[1] + half,
            ]
        },
        size_mm,
        tail,
        contrast_d: change.abs(),
        contrast_scanned_d,
        background_sd_d,
        visibility,
        snr,
        more_silver,
        findable: snr >= LEAST_SNR
            && visibility >= LEAST_VISIBILITY
            && contrast_scanned_d >= LEAST_CONTRAST_D
            && size_mm >= LEAST_PIXELS * view.pixel_mm,
    })
}

/// Diameter of the core and mean change of density over it.
fn core(painter: &Painter, mark: &Mark) -> Option<(f64, f64)> {
    let step = mark.size / FINE;
    let reach = (0.75 * FINE) as i32;
    let mut change = Mean::default();
    for row in -reach..=reach {
        for column in -reach..=reach {
            let (x, y) = (mark.x + step * column as f32, mark.y + step * row as f32);
            if mark.head(x, y) >= 0.5 {
                let [without, with] = painter.at_point(x, y);
                change.add(f64::from(with - without));
            }
        }
    }
    let area = change.count * f64::from(step * step);
    Some((libm::sqrt(4.0 * area / std::f64::consts::PI), change.get()?))
}

/// The scan around a mark with the faults and without them, as the scanner's blur leaves it.
struct Window {
    width: usize,
    with: Vec<f32>,
    without: Vec<f32>,
    on_plate: Vec<bool>,
    /// The mark's middle, pixels from the window's corner.
    middle: [f64; 2],
    /// Diameter of the core, pixels.
    size: f64,
    /// The scanner's noise: shot and read.
    shot2: f64,
    read2: f64,
}

impl Window {
    fn around(view: &View, blurred: &Blurred, mark: &Mark, size_mm: f64) -> Option<Window> {
        let samples = view.samples;
        let [x, y] = pose::apply(&samples.pose.to_px, f64::from(mark.x), f64::from(mark.y));
        let [left, top] = samples.origin.map(|at| at as f64);
        let (x, y) = (x - left, y - top);
        let reach = (AROUND_MM.max(AROUND_SIZES * size_mm) / view.pixel_mm).ceil();
        let [columns, rows] = samples.size;
        let span = |at: f64, limit: usize| {
            let low = ((at - reach).max(0.0) as usize).min(limit);
            (
                low,
                ((at + reach).max(0.0).ceil() as usize).clamp(low, limit),
            )
        };
        let (x0, x1) = span(x, columns);
        let (y0, y1) = span(y, rows);
        let width = x1 - x0;
        let at = (y.max(0.0) as usize).min(rows.checked_sub(1)?) * columns
            + (x.max(0.0) as usize).min(columns.checked_sub(1)?);
        if width == 0 || y1 == y0 || samples.samples.get(at)?.zone == Zone::Outside {
            return None;
        }
        let lines = || (y0..y1).map(|row| row * columns + x0..row * columns + x1);
        let cut = |light: &[f32]| -> Vec<f32> {
            let lines = lines().filter_map(|line| light.get(line));
            lines.flatten().copied().collect()
        };
        let zones = lines().filter_map(|line| samples.samples.get(line));
        let scan = view.scan;
        Some(Window {
            width,
            with: cut(&blurred.with),
            without: cut(&blurred.without),
            on_plate: zones.flatten().map(|s| s.zone != Zone::Outside).collect(),
            middle: [x - x0 as f64, y - y0 as f64],
            size: size_mm / view.pixel_mm,
            shot2: scan.shot * scan.shot,
            read2: scan.read * scan.read,
        })
    }

    /// Mean difference over the core, less what a fog changes all around.
    fn contrast(&self) -> f64 {
        let core = (0.5 * self.size).max(0.75);
        let (mut inside, mut around) = (Mean::default(), Vec::new());
        for (i, (with, without)) in self.with.iter().zip(&self.without).enumerate() {
            let x = (i % self.width) as f64 + 0.5 - self.middle[0];
            let y = (i / self.width) as f64 + 0.5 - self.middle[1];
            let away = libm::hypot(x, y);
            let change = f64::from(density(*with) - density(*without));
            if away <= core {
                inside.add(change);
            } else if away > 2.0 * core + 2.0 && away < 4.0 * core + 4.0 && self.on_plate[i] {
                around.push(change);
            }
        }
        around.sort_by(f64::total_cmp);
        let base = around.get(around.len() / 2).copied().unwrap_or(0.0);
        inside.get().map_or(0.0, |mean| (mean - base).abs())
    }

    /// Standard deviation of spots of the mark's size against those around them.
    fn background(&self) -> f64 {
        let side = self.size.round().max(2.0) as usize;
        let (columns, rows) = (self.width / side, self.without.len() / self.width / side);
        let mut cells = vec![None; columns * rows];
        for (i, cell) in cells.iter_mut().enumerate() {
            let (x, y) = (i % columns * side, i / columns * side);
            let mut mean = Mean::default();
            let mut whole = true;
            for row in y..y + side {
                for at in row * self.width + x..row * self.width + x + side {
                    whole &= self.on_plate[at];
                    mean.add(f64::from(self.without[at]));
                }
            }
            *cell = mean.get().filter(|_| whole);
        }
        let pixels = (side * side) as f64;
        let (mut square, mut noise) = (Mean::default(), Mean::default());
        for row in 1..rows.saturating_sub(1) {
            for column in 1..columns.saturating_sub(1) {
                let near: Option<Vec<f64>> = (0..9)
                    .map(|k| cells[(row + k / 3 - 1) * columns + column + k % 3 - 1])
                    .collect();
                let Some(near) = near else {
                    continue;
                };
                let d = |light: f64| f64::from(density(light as f32));
                let ring = near.iter().map(|light| d(*light)).sum::<f64>() - d(near[4]);
                let off = d(near[4]) - ring / 8.0;
                square.add(off * off);
                let light = near[4].max(1e-4);
                let sd = std::f64::consts::LOG10_E / light;
                noise.add(sd * sd * (self.shot2 * light + self.read2) / pixels);
            }
        }
        libm::sqrt(square.get().unwrap_or(0.0) + noise.get().unwrap_or(0.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn specks_that_nearly_all_hide_the_whites_are_like_holes() {
        let speck = |more_silver: bool, findable: bool| Member {
            centre: [0.0; 2],
            bounds: [0.0; 4],
            size_mm: 0.2,
            tail: None,
            contrast_d: 0.3,
            contrast_scanned_d: 0.2,
            background_sd_d: 0.01,
            visibility: 20.0,
            snr: 20.0,
            more_silver,
            findable,
        };
        let specks = |darker: usize, lighter: usize, hidden: usize| -> Vec<Member> {
            let of = |n, more, findable| (0..n).map(move |_| speck(more, findable));
            of(darker, false, true)
                .chain(of(lighter, true, true))
                .chain(of(hidden, true, false))
                .collect()
        };
        assert!(like_holes(&specks(20, 2, 0)) && !like_holes(&specks(20, 3, 0)));
        // Those that no one sees say nothing, unless there are no others.
        assert!(like_holes(&specks(5, 0, 20)) && !like_holes(&specks(0, 0, 5)));
    }

    #[test]
    fn directions_average_over_north_and_axes_over_both_ways() {
        let (mean, spread) = common_direction(&[350.0, 10.0], false).unwrap();
        assert!(
            mean.min(360.0 - mean) < 1e-9 && (spread - 10.0).abs() < 0.2,
            "{mean} {spread}"
        );
        let (axis, spread) = common_direction(&[30.0, 210.0, 32.0, 208.0], true).unwrap();
        assert!(
            (axis - 30.0).abs() < 1e-9 && spread < 2.0,
            "{axis} {spread}"
        );
        assert_eq!(common_direction(&[], false), None);
    }
}
