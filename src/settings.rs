//! Every knob of the rooms above, in one place.
//!
//! Comes in: what the command line sets. Goes out: [`Settings`], echoed in the report so that a run
//! can be repeated.
//! Units: stand in the names of the fields. Not here: what the maker says of one plate
//! ([`Given`](crate::plate::Given)); limits of verdicts (`findings`).

use std::collections::BTreeSet;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::plate::PlateSettings;
use crate::scan::ScanSettings;

/// A measure that can be asked for by name.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum MeasureName {
    /// Light and dark density, range, veil; a flat image, colour of the clear parts.
    Tone,
    /// Fog from the edges, and tongues of it.
    Fog,
    /// Comets, pinholes, specks.
    Specks,
    /// Streaks, lines, the pour, bare places, stains, scratches.
    Shapes,
}

impl MeasureName {
    /// All measures, in the order in which they run.
    pub const ALL: &'static [MeasureName] = &[
        MeasureName::Tone,
        MeasureName::Fog,
        MeasureName::Specks,
        MeasureName::Shapes,
    ];

    /// The name used on the command line and in JSON.
    pub fn name(self) -> &'static str {
        match self {
            MeasureName::Tone => "tone",
            MeasureName::Fog => "fog",
            MeasureName::Specks => "specks",
            MeasureName::Shapes => "shapes",
        }
    }

    /// What it measures, for people.
    pub fn words(self) -> &'static str {
        match self {
            MeasureName::Tone => {
                "lightest and darkest tone, range, a flat image, what the fixer left"
            }
            MeasureName::Fog => "fog that enters from the edges, tongues of light among it",
            MeasureName::Specks => "small marks: comets, pinholes, specks",
            MeasureName::Shapes => {
                "streaks and lines, an uneven pour, bare places, stains, scratches"
            }
        }
    }
}

/// The knobs of one run.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Settings {
    /// How a file is decoded.
    pub scan: ScanSettings,
    /// How a plate is squared up.
    pub plate: PlateSettings,
    /// Which measures run; all unless fewer are asked for.
    pub measures: BTreeSet<MeasureName>,
}

impl Default for Settings {
    fn default() -> Self {
        Settings {
            scan: ScanSettings::default(),
            plate: PlateSettings::default(),
            measures: MeasureName::ALL.iter().copied().collect(),
        }
    }
}

impl Settings {
    /// Whether a measure was asked for.
    pub fn wants(&self, measure: MeasureName) -> bool {
        self.measures.contains(&measure)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_measures_run_unless_fewer_are_asked_for() {
        let mut settings = Settings::default();
        assert!(MeasureName::ALL.iter().all(|m| settings.wants(*m)));
        settings.measures.remove(&MeasureName::Fog);
        assert!(!settings.wants(MeasureName::Fog));
    }

    #[test]
    fn json_uses_the_name() {
        for measure in MeasureName::ALL {
            assert_eq!(
                serde_json::to_value(measure).unwrap(),
                serde_json::Value::from(measure.name())
            );
        }
    }
}
