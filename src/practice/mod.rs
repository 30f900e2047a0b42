//! Made-up plates whose faults are known.
//!
//! Comes in: a seed and a [`Recipe`]. Goes out: [`PracticePlate`], a scan with its truth.
//! Units: millimetres in the plate frame, density; linear light inside.
//! Not here: reading scans. Densities of the made plates are from memory of the trade, not measured.

use std::path::{Path, PathBuf};

use serde_json::Value;
use thiserror::Error;

use crate::units::MM_PER_INCH;

pub mod accuracy;
pub mod score;
mod chance;
mod maths;
mod paint;
mod pose;
mod recipe;
mod samples;
mod scanner;
mod scenes;
pub mod season;
mod truth;

pub use recipe::{
    BareAreaRecipe, BarePlace, Brink, Cast, Coding, CometsRecipe, ContraryHeads, Corners, Crop,
    DipLineRecipe, FaultWish, FileFormat, FlatForm, FlatImageRecipe, Glass, LedgeForm, LedgeRecipe,
    Lid, LineRun, LipRecipe, MarkSign, PinholesRecipe, Planted, PlateRecipe, PourForm,
    RECIPE_SCHEMA, Recipe, RidgeForm, RidgesRecipe, ScanRecipe, Scatter, ScratchRecipe, SpeckBody,
    SpecksRecipe, StainForm, StainRecipe, StreakForm, StreakSign, StreaksRecipe, TagState,
    TextureRecipe, ToneRecipe, UnderfixedRecipe, UnevenPourRecipe, Wish,
};
pub use samples::{sample_recipes, write_samples};
pub use scenes::SceneName;
pub use season::{SeasonStep, season};
pub use truth::TRUTH_SCHEMA;

/// What can go wrong while painting.
#[derive(Debug, Error)]
pub enum PracticeError {
    /// The recipe cannot be painted.
    #[error("this recipe cannot be painted: {0}")]
    Recipe(String),
    /// A library refused to code the picture.
    #[error("the painted scan cannot be coded: {0}")]
    Encode(String),
    /// A file could not be written.
    #[error("{path} cannot be written: {source}")]
    Write {
        /// Which file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
}

/// A made-up scan with its truth.
#[derive(Debug, Clone)]
pub struct PracticePlate {
    /// What it was made from.
    pub recipe: Recipe,
    /// Name of the scan's file.
    pub file_name: String,
    /// The scan's file, byte for byte.
    pub file: Vec<u8>,
    /// One truth for each plate in the scan, in reading order, with the stem of its report's name.
    pub truths: Vec<(String, Value)>,
}

impl PracticePlate {
    /// Paints a recipe. The same recipe gives the same bytes.
    pub fn paint(recipe: &Recipe) -> Result<PracticePlate, PracticeError> {
        recipe.check()?;
        let pixel_mm = MM_PER_INCH / recipe.scan.dpi;
        let painters: Vec<paint::Painter> = recipe
            .plates
            .iter()
            .enumerate()
            .map(|(i, plate)| {
                let seed = maths::sub_seed(recipe.seed, &format!("plate {i}"));
                paint::Painter::new(plate, seed, pixel_mm)
            })
            .collect();
        let scanned = scanner::scan(recipe, &painters);
        Ok(PracticePlate {
            file_name: format!("{}.{}", recipe.name, recipe.scan.format.extension()),
            truths: truth::of(recipe, &painters, &scanned),
            file: scanner::files::encode(recipe, &scanned)?,
            recipe: recipe.clone(),
        })
    }

    /// Paints a plate and the same plate turned half round on the same glass: the plate's marks turn,
    /// the dust stays. Refused unless the recipe scans the glass around the plate.
    pub fn paint_pair(recipe: &Recipe) -> Result<[PracticePlate; 2], PracticeError> {
        Ok([
            PracticePlate::paint(recipe)?,
            PracticePlate::paint(&recipe.turned())?,
        ])
    }

    /// Writes the scan, one `STEM.truth.json` for each plate and `NAME.recipe.json` into a folder,
    /// each whole or not at all. Returns the paths, the scan's first.
    pub fn write(&self, dir: &Path) -> Result<Vec<PathBuf>, PracticeError> {
        let mut files = vec![(self.file_name.clone(), self.file.clone())];
        for (stem, truth) in &self.truths {
            files.push((format!("{stem}.truth.json"), json_bytes(truth)?));
        }
        let name = format!("{}.recipe.json", self.recipe.name);
        files.push((name, json_bytes(&self.recipe)?));
        files
            .into_iter()
            .map(|(name, bytes)| write_whole(&dir.join(name), &bytes))
            .collect()
    }
}

/// Paints a recipe into a folder; returns the paths, the scan's first.
pub fn paint_to(dir: &Path, recipe: &Recipe) -> Result<Vec<PathBuf>, PracticeError> {
    PracticePlate::paint(recipe)?.write(dir)
}

fn json_bytes(value: &impl serde::Serialize) -> Result<Vec<u8>, PracticeError> {
    let mut bytes = serde_json::to_vec_pretty(value)
        .map_err(|error| PracticeError::Encode(error.to_string()))?;
    bytes.push(b'\n');
    Ok(bytes)
}

/// Writes beside the goal first and then renames, so that a half-written file never stands there.
fn write_whole(path: &Path, bytes: &[u8]) -> Result<PathBuf, PracticeError> {
    let mut part = path.as_os_str().to_owned();
    part.push(".part");
    let part = PathBuf::from(part);
    let attempt = std::fs::write(&part, bytes).and_then(|()| std::fs::rename(&part, path));
    attempt.map_err(|source| {
        // What is left of a failed attempt is of no use; the first error is the one to report.
        let _ = std::fs::remove_file(&part);
        PracticeError::Write {
            path: path.to_path_buf(),
            source,
        }
    })?;
    Ok(path.to_path_buf())
}
