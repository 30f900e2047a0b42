//! Comets: a round head and a tail that tapers and fades, bends a little and is streaked along.

use super::marks::{Group, Mark, Tail, signed};
use crate::practice::maths::{smoothstep, value_noise};
use crate::practice::recipe::CometsRecipe;

/// Heads and tails of any group stay within these, millimetres: the trade's comets run from dots
/// with a hint of a tail to streaks of centimetres.
const HEAD_MM: (f64, f64) = (0.05, 2.0);
const TAIL_MM: (f64, f64) = (1.0, 30.0);
/// Tails scatter more than heads: our own choice, as a factor on the stated spread.
const TAIL_SPREAD: f64 = 1.4;
/// A tail's width at its root and at its end, as shares of the head's diameter, and the least that
/// still draws a line, millimetres.
const ROOT: f32 = 0.85;
const TIP: f32 = 0.3;
const LEAST_MM: f32 = 0.035;
/// A tail's end lies off the straight line by at most this share of its length.
const BEND: f64 = 0.05;
/// Places tried to keep a tail on the plate.
const TRIES: usize = 40;

pub(super) fn draw(recipe: &CometsRecipe, group: &mut Group) -> Vec<Mark> {
    (0..recipe.count)
        .map(|i| {
            let size = group
                .around(recipe.head_mm, recipe.size_spread)
                .clamp(HEAD_MM.0, HEAD_MM.1);
            let length = group
                .around(recipe.tail_mm, TAIL_SPREAD * recipe.size_spread)
                .clamp(TAIL_MM.0, TAIL_MM.1)
                .max(1.5 * size);
            let about = if recipe.both_ways && group.yes(0.5) {
                180.0
            } else {
                0.0
            };
            let turn = recipe.spread_deg * group.normal();
            let angle = (recipe.direction_deg + about + turn).to_radians();
            let contrary = recipe.contrary.filter(|contrary| group.yes(contrary.share));
            let (sign, strength) = match contrary {
                Some(contrary) => (recipe.sign.contrary(), contrary.strength),
                None => (recipe.sign, recipe.strength),
            };
            let strength = group.strength(strength, recipe.strength_spread);
            let mut mark = Mark {
                x: 0.0,
                y: 0.0,
                size: size as f32,
                soft: group.between(0.25, 0.6) as f32,
                ragged: 0.1,
                action: signed(sign, strength),
                tail: Some(Tail {
                    length: length as f32,
                    share: group.strength(recipe.tail_share, 0.15).min(0.95) as f32,
                    along: [libm::sin(angle) as f32, -libm::cos(angle) as f32],
                    bend: (length * group.between(-BEND, BEND)) as f32,
                }),
                seed: group.seed(i),
            };
            for _ in 0..TRIES {
                [mark.x, mark.y] = group.place(recipe.scatter);
                if group.inside(mark.end()) {
                    break;
                }
            }
            mark
        })
        .collect()
}

/// The tail at a place, 0 to 1.
pub(super) fn tail(mark: &Mark, tail: &Tail, x: f32, y: f32) -> f32 {
    let (dx, dy) = (x - mark.x, y - mark.y);
    let u = dx * tail.along[0] + dy * tail.along[1];
    if u <= 0.0 || u >= tail.length {
        return 0.0;
    }
    let share = u / tail.length;
    // The bend grows with the square, as a flow's does.
    let v = dx * tail.along[1] - dy * tail.along[0] - tail.bend * share * share;
    let width = (mark.size * (ROOT + (TIP - ROOT) * share)).max(LEAST_MM);
    let across = v / width;
    if across.abs() > 1.5 {
        return 0.0;
    }
    // Half as strong half a width off: full width at half height is `width`.
    let profile = libm::expf(-2.7726 * across * across);
    let fade = libm::powf(1.0 - share, 1.15) * smoothstep(0.0, 0.4 * mark.size, u);
    let streaked =
        1.0 + 0.25 * value_noise(mark.seed ^ 1, u / (4.0 * mark.size), v / (0.4 * mark.size));
    (tail.share * fade * profile * streaked).min(1.0)
}
