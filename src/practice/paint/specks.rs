//! Specks: round, silver with a soft rim, matter with a sharper and more ragged one.

use super::marks::{Group, Mark, of_body};
use crate::practice::recipe::{SpeckBody, SpecksRecipe};

/// Softness and raggedness of the outline, shares of the radius: our own choice.
const SILVER_SOFT: (f64, f64) = (0.3, 0.75);
const MATTER_SOFT: (f64, f64) = (0.1, 0.3);
const SILVER_RAGGED: f64 = 0.08;
const MATTER_RAGGED: f64 = 0.22;

pub(super) fn draw(recipe: &SpecksRecipe, group: &mut Group) -> Vec<Mark> {
    let (soft, ragged, silver) = match recipe.body {
        SpeckBody::Silver(d) => (SILVER_SOFT, SILVER_RAGGED, d),
        SpeckBody::Matter(_) => (MATTER_SOFT, MATTER_RAGGED, 0.0),
    };
    (0..recipe.count)
        .map(|i| {
            let [x, y] = group.place(recipe.scatter);
            let size = group.around(recipe.size_mm, recipe.size_spread);
            let factor = group.strength(1.0, recipe.strength_spread);
            Mark {
                x,
                y,
                size: size as f32,
                soft: group.between(soft.0, soft.1) as f32,
                ragged: ragged as f32,
                action: of_body(recipe.body, factor * silver, factor * recipe.cover),
                tail: None,
                seed: group.seed(i),
            }
        })
        .collect()
}
