//! Pinholes: round, with a rim as sharp as a film tears.

use super::marks::{Action, Group, Mark};
use crate::practice::recipe::PinholesRecipe;

/// Softness and raggedness of the outline, shares of the radius: our own choice.
const SOFT: (f64, f64) = (0.12, 0.35);
const RAGGED: f64 = 0.06;

pub(super) fn draw(recipe: &PinholesRecipe, group: &mut Group) -> Vec<Mark> {
    (0..recipe.count)
        .map(|i| {
            let [x, y] = group.place(recipe.scatter);
            let size = group.around(recipe.size_mm, recipe.size_spread);
            let open = group.strength(recipe.open, recipe.strength_spread);
            Mark {
                x,
                y,
                size: size as f32,
                soft: group.between(SOFT.0, SOFT.1) as f32,
                ragged: RAGGED as f32,
                action: Action::Hole(open.min(1.0) as f32),
                tail: None,
                seed: group.seed(i),
            }
        })
        .collect()
}
