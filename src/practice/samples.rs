//! The scans in `samples/`: a season of market-day portraits in an invented hill town, two silver
//! baths A and B, plate numbers of our own.
//!
//! The recipes that lie beside the scans are their source; this paints them again, byte for byte.

use std::path::{Path, PathBuf};

use super::{PracticeError, Recipe, paint_to};

/// Recipes of all samples, as they lie in `samples/`.
const RECIPES: [&str; 9] = [
    include_str!("../../samples/A-011.recipe.json"),
    include_str!("../../samples/A-014.recipe.json"),
    include_str!("../../samples/A-023.recipe.json"),
    include_str!("../../samples/A-037.recipe.json"),
    include_str!("../../samples/A-052.recipe.json"),
    include_str!("../../samples/B-006.recipe.json"),
    include_str!("../../samples/B-018.recipe.json"),
    include_str!("../../samples/B-021.recipe.json"),
    include_str!("../../samples/B-evening.recipe.json"),
];

/// The recipes of all samples.
pub fn sample_recipes() -> Result<Vec<Recipe>, PracticeError> {
    RECIPES.iter().map(|text| Recipe::from_json(text)).collect()
}

/// Paints all samples into a folder: scans, truths and recipes. Returns the paths.
pub fn write_samples(dir: &Path) -> Result<Vec<PathBuf>, PracticeError> {
    let mut paths = Vec::new();
    for recipe in sample_recipes()? {
        paths.extend(paint_to(dir, &recipe)?);
    }
    Ok(paths)
}
