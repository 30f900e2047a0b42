//! Refusing recipes that cannot be painted, in words.

use super::{Crop, FileFormat, Planted, PlateRecipe, RECIPE_SCHEMA, Recipe};
use crate::practice::PracticeError;

/// Largest picture painted, in pixels: our own choice, 64 megapixels need about 1.5 GB.
const MAX_PIXELS: f64 = 64e6;

impl Recipe {
    /// Reads a recipe from its JSON and refuses what cannot be painted.
    pub fn from_json(text: &str) -> Result<Recipe, PracticeError> {
        let recipe: Recipe =
            serde_json::from_str(text).map_err(|error| PracticeError::Recipe(error.to_string()))?;
        recipe.check()?;
        Ok(recipe)
    }

    /// Refuses recipes that cannot be painted, in words.
    pub(in crate::practice) fn check(&self) -> Result<(), PracticeError> {
        let refuse = |what: String| Err(PracticeError::Recipe(what));
        let scan = &self.scan;
        if self.schema != RECIPE_SCHEMA {
            return refuse(format!(
                "its schema is {:?}, this version paints {RECIPE_SCHEMA:?}",
                self.schema
            ));
        }
        if self.name.is_empty()
            || !self
                .name
                .chars()
                .all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '_')
        {
            return refuse(format!(
                "the name {:?} must be letters, digits, - and _ only",
                self.name
            ));
        }
        if self.plates.is_empty() || self.plates.len() > 24 {
            return refuse(format!(
                "{} plates, 1 to 24 can be painted",
                self.plates.len()
            ));
        }
        if scan.turned && scan.crop != Crop::Margin {
            return refuse(
                "a turned scan needs crop \"margin\": the glass around the plate".into(),
            );
        }
        if self.plates.len() > 1 && scan.crop != Crop::Margin {
            return refuse("several plates need crop \"margin\"".into());
        }
        let plain = [
            ("scan.dpi", scan.dpi, 40.0, 4800.0),
            ("scan.area_mm", scan.area_mm[0], 5.0, 1000.0),
            ("scan.area_mm", scan.area_mm[1], 5.0, 1000.0),
            ("scan.lid_light", scan.lid_light, 0.0, 2.0),
            ("scan.blur_px", scan.blur_px, 0.0, 8.0),
            ("scan.flare", scan.flare, 0.0, 0.5),
            ("scan.gain", scan.gain, 0.1, 4.0),
            ("scan.shot", scan.shot, 0.0, 0.2),
            ("scan.read", scan.read, 0.0, 0.2),
            ("scan.columns", scan.columns, 0.0, 0.2),
            ("scan.falloff", scan.falloff, 0.0, 0.5),
            ("scan.sharpen", scan.sharpen, 0.0, 3.0),
            ("scan.dust_specks", f64::from(scan.dust_specks), 0.0, 2000.0),
            ("scan.dust_fibres", f64::from(scan.dust_fibres), 0.0, 200.0),
            ("scan.dust_hairs", f64::from(scan.dust_hairs), 0.0, 100.0),
            ("scan.dust_flecks", f64::from(scan.dust_flecks), 0.0, 200.0),
        ];
        in_range(&plain)?;
        let pixels =
            scan.area_mm[0] * scan.area_mm[1] * (scan.dpi / crate::units::MM_PER_INCH).powi(2);
        if pixels > MAX_PIXELS {
            return refuse(format!(
                "{:.0} megapixels, at most {:.0} can be painted",
                pixels / 1e6,
                MAX_PIXELS / 1e6
            ));
        }
        let kinds = (scan.format, scan.bits, scan.channels);
        if !matches!(scan.bits, 8 | 16) || !matches!(scan.channels, 1 | 3) {
            return refuse(format!(
                "{} bits and {} channels, only 8 or 16 bits and 1 or 3 channels can be written",
                scan.bits, scan.channels
            ));
        }
        if matches!(kinds, (FileFormat::Jpeg, 16, _)) {
            return refuse("JPEG holds 8 bits".into());
        }
        if !(1..=100).contains(&scan.jpeg_quality) {
            return refuse(format!("JPEG quality {}", scan.jpeg_quality));
        }
        self.plates.iter().try_for_each(PlateRecipe::check)
    }
}

impl PlateRecipe {
    fn check(&self) -> Result<(), PracticeError> {
        let short = self.width_mm.min(self.height_mm);
        let tone = &self.tone;
        let texture = &self.texture;
        let mut plain = vec![
            ("width_mm", self.width_mm, 8.0, 700.0),
            ("height_mm", self.height_mm, 8.0, 700.0),
            ("corner_mm", self.corner_mm, 0.0, 0.2 * short),
            ("centre_mm", self.centre_mm[0], -100.0, 1000.0),
            ("centre_mm", self.centre_mm[1], -100.0, 1000.0),
            ("turn_deg", self.turn_deg, -30.0, 30.0),
            ("exposure", self.exposure, 0.0, 100.0),
            ("tone.support_d", tone.support_d, 0.0, 3.0),
            ("tone.unexposed_d", tone.unexposed_d, 0.0, 3.0),
            ("tone.full_silver_d", tone.full_silver_d, 0.0, 4.0),
            ("tone.gamma", tone.gamma, 0.2, 5.0),
            ("tone.warmth", tone.warmth[0], 0.5, 2.0),
            ("tone.warmth", tone.warmth[1], 0.5, 2.0),
            ("texture.pour_d", texture.pour_d, 0.0, 0.5),
            ("texture.cloud_d", texture.cloud_d, 0.0, 0.5),
            ("texture.grain_d", texture.grain_d, 0.0, 0.5),
            ("texture.mottle_d", texture.mottle_d, 0.0, 0.5),
            ("texture.support_d", texture.support_d, 0.0, 0.5),
            ("texture.specks", f64::from(texture.specks), 0.0, 2000.0),
        ];
        for shift in self.corner_shift_mm.iter().flatten() {
            plain.push(("corner_shift_mm", *shift, -0.1 * short, 0.1 * short));
        }
        for rim in self.rim_mm {
            plain.push(("rim_mm", rim, 0.0, 0.2 * short));
        }
        if let Some(lip) = &self.lip {
            for (width, adds) in lip.width_mm.into_iter().zip(lip.adds_d) {
                plain.push(("lip.width_mm", width, 0.0, 0.1 * short));
                plain.push(("lip.adds_d", adds, -1.0, 1.0));
            }
        }
        if let Some(ledge) = &self.ledge {
            for width in ledge.width_mm {
                plain.push(("ledge.width_mm", width, 0.0, 0.3 * short));
            }
            plain.push(("ledge.penumbra_mm", ledge.penumbra_mm, 0.0, 5.0));
            plain.push(("ledge.support_mm", ledge.support_mm, 0.0, 0.3 * short));
        }
        for fault in &self.faults {
            match fault {
                Planted::Veil { fog_d, .. } => plain.push(("veil fog_d", *fog_d, 0.0, 2.0)),
                Planted::EdgeFog {
                    fog_d,
                    depth_mm,
                    from_mm,
                    to_mm,
                    ..
                } => {
                    plain.push(("edge_fog fog_d", *fog_d, 0.0, 2.0));
                    plain.push(("edge_fog depth_mm", *depth_mm, 0.2, 100.0));
                    plain.push(("edge_fog from_mm", *from_mm, 0.0, 700.0));
                    plain.push(("edge_fog to_mm", *to_mm, *from_mm, 700.0));
                }
                Planted::LightLeak {
                    at_mm,
                    length_mm,
                    width_mm,
                    spread,
                    peak_d,
                    direction_deg,
                    ..
                } => {
                    plain.push(("light_leak at_mm", *at_mm, 0.0, 700.0));
                    plain.push(("light_leak length_mm", *length_mm, 0.5, 700.0));
                    plain.push(("light_leak width_mm", *width_mm, 0.2, 100.0));
                    plain.push(("light_leak spread", *spread, -0.9, 10.0));
                    plain.push(("light_leak peak_d", *peak_d, 0.0, 2.5));
                    plain.push(("light_leak direction_deg", *direction_deg, -360.0, 720.0));
                }
                Planted::Comets(marks) => plain.extend(marks.ranges()),
                Planted::Pinholes(marks) => plain.extend(marks.ranges()),
                Planted::Specks(marks) => plain.extend(marks.ranges()),
                Planted::Streaks(shape) => plain.extend(shape.ranges()),
                Planted::DipLine(shape) => plain.extend(shape.ranges()),
                Planted::Ridges(shape) => plain.extend(shape.ranges()),
                Planted::UnevenPour(shape) => plain.extend(shape.ranges()),
                Planted::BareArea(shape) => plain.extend(shape.ranges()),
                Planted::Stain(shape) => plain.extend(shape.ranges()),
                Planted::Scratch(shape) => plain.extend(shape.ranges()),
                Planted::FlatImage(whole) => plain.extend(whole.ranges()),
                Planted::Underfixed(whole) => plain.extend(whole.ranges()),
            }
            match fault {
                Planted::Ridges(shape) if !shape.edge_fits() => {
                    return Err(PracticeError::Recipe(
                        "ridges lie along an edge that does not end in their corner".into(),
                    ));
                }
                Planted::Stain(shape) if !shape.brink_fits() => {
                    return Err(PracticeError::Recipe(
                        "a curtain stain hangs from an edge, not from a corner".into(),
                    ));
                }
                Planted::Underfixed(whole) if !whole.has_patches() => {
                    return Err(PracticeError::Recipe(
                        "underfixed needs a patch somewhere".into(),
                    ));
                }
                _ => {}
            }
            if !(1..=4).contains(&fault.level()) {
                return Err(PracticeError::Recipe(format!(
                    "{} level {}, 1 to 4 are known",
                    fault.fault(),
                    fault.level()
                )));
            }
        }
        in_range(&plain)?;
        let unexposed_between = if self.process.is_positive() {
            tone.full_silver_d < tone.unexposed_d && tone.unexposed_d <= tone.support_d
        } else {
            tone.support_d <= tone.unexposed_d && tone.unexposed_d < tone.full_silver_d
        };
        if !unexposed_between {
            return Err(PracticeError::Recipe(
                "tone.unexposed_d must lie between tone.support_d and tone.full_silver_d".into(),
            ));
        }
        Ok(())
    }
}

/// Refuses the first value outside its range; not-a-number is outside every range.
fn in_range(values: &[(&str, f64, f64, f64)]) -> Result<(), PracticeError> {
    for (name, value, low, high) in values {
        if !(value >= low && value <= high) {
            return Err(PracticeError::Recipe(format!(
                "{name} is {value}, between {low} and {high} can be painted"
            )));
        }
    }
    Ok(())
}
