//! Faults with a shape: streaks, lines, waves and steps of thickness, bare places, stains, scratches.
//!
//! Thickness is stated as the change of density that it makes where the plate holds a grey card's
//! silver, positive for more silver; silver that stains is stated as what it leaves on unexposed
//! coating. Lengths are millimetres of the whole plate.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::handling::Corner;
use crate::plate::Edge;

/// A value to check: name, value, least, most.
type Range = (&'static str, f64, f64, f64);

/// Most density that a shape may add or take.
const MOST_D: f64 = 1.5;

/// What streaks come from, which sets their form.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum StreakForm {
    /// Many fine straight bands along the way the plate went into the bath.
    Dip,
    /// A few broad bent ones along the way the developer ran.
    Developer,
}

/// Whether bands leave more silver or less.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum StreakSign {
    MoreSilver,
    LessSilver,
    /// Band by band.
    Mixed,
}

/// Soft parallel bands.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StreaksRecipe {
    /// Strength meant, 1 to 4.
    pub level: u8,
    pub form: StreakForm,
    /// The edge they start from: where the developer was poured, or one end of the dip.
    pub from: Edge,
    pub count: u32,
    pub sign: StreakSign,
    /// Median strength of a band, density.
    pub contrast_d: f64,
    /// Median width of a band at half its strength, millimetres.
    pub width_mm: f64,
    /// Scatter of widths, standard deviation of the natural logarithm.
    pub width_spread: f64,
    /// Scatter of strengths, standard deviation of the natural logarithm.
    pub strength_spread: f64,
    /// How far they lean clockwise from straight across `from`, degrees.
    pub tilt_deg: f64,
    /// Radius of their bend, millimetres; its sign is the side; straight without one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub radius_mm: Option<f64>,
    /// Share of their strength that is fog: it lies on coating that no light reached too.
    pub fog_share: f64,
}

/// The way a line runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum LineRun {
    /// From the left edge to the right one.
    Across,
    /// From the top edge to the bottom one.
    Down,
}

/// One line from edge to edge, where the plate stopped on its way into the bath.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DipLineRecipe {
    /// Strength meant, 1 to 4.
    pub level: u8,
    pub run: LineRun,
    /// Where it crosses the plate's middle, from the top or left edge, millimetres.
    pub at_mm: f64,
    /// How far it leans clockwise, degrees.
    pub tilt_deg: f64,
    /// Width at half its strength, millimetres.
    pub width_mm: f64,
    /// Strength, density, positive for more silver.
    pub contrast_d: f64,
    /// What the plate below or to the right of it holds more than the other side, density.
    pub step_d: f64,
    /// Share of its strength that is fog.
    pub fog_share: f64,
}

/// How ridges lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum RidgeForm {
    /// Waves along the edge.
    Edge,
    /// Waves across the corner.
    Diagonal,
    /// The edge of a second flow: one smooth step along a curve around the corner.
    Step,
}

/// Waves of thickness by the corner that the collodion drained from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RidgesRecipe {
    /// Strength meant, 1 to 4.
    pub level: u8,
    pub form: RidgeForm,
    /// The corner it drained from.
    pub corner: Corner,
    /// The edge beside it that waves lie along; only for the form `edge`.
    pub edge: Edge,
    /// From crest to crest, millimetres.
    pub spacing_mm: f64,
    /// How far they reach, or how far from the corner the step lies, millimetres.
    pub reach_mm: f64,
    /// Strength of a crest, or of the step, density.
    pub contrast_d: f64,
    /// How far they lean clockwise, degrees.
    pub tilt_deg: f64,
}

/// How a pour is uneven.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum PourForm {
    /// Thicker and thicker toward a corner.
    Wedge,
    /// The same, with the soft step of a second flow.
    DoubleFlow,
}

/// Thickness that rises smoothly over the whole plate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct UnevenPourRecipe {
    /// Strength meant, 1 to 4.
    pub level: u8,
    pub form: PourForm,
    /// The thickest corner.
    pub corner: Corner,
    /// From the thinnest to the thickest place, density.
    pub range_d: f64,
    /// How the rise bends: 1 is even, more is steeper near the corner.
    pub bend: f64,
}

/// Where film is missing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum BarePlace {
    /// The collodion did not reach this corner.
    Corner(Corner),
    /// An island around this place, millimetres from the top left corner.
    Island([f64; 2]),
}

/// A place without coating.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BareAreaRecipe {
    /// Strength meant, 1 to 4.
    pub level: u8,
    pub place: BarePlace,
    /// Along the horizontal edge, or an island's whole width, millimetres.
    pub a_mm: f64,
    /// Along the vertical edge, or an island's whole height, millimetres.
    pub b_mm: f64,
    /// Exponent of its outline: 1 is a straight cut across the corner, 2 an ellipse.
    pub round: f64,
    /// The lip of thicker coat around it, density.
    pub lip_d: f64,
}

/// The form of a stain.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum StainForm {
    /// Nested curves like the lines of an oyster's shell.
    Oyster,
    /// Scallops side by side along an edge.
    Curtain,
    /// A tongue that ran in where the plate stood to drain.
    Drain,
}

/// Where something on the border of the plate starts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Brink {
    Edge(Edge),
    Corner(Corner),
}

/// Silver that came from the border of the plate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StainRecipe {
    /// Strength meant, 1 to 4.
    pub level: u8,
    pub form: StainForm,
    pub from: Brink,
    /// Middle along the edge, from its left or top end, millimetres; no matter for a corner.
    pub at_mm: f64,
    /// How far it reaches, millimetres.
    pub size_mm: f64,
    /// Its strongest silver on unexposed coating, density.
    pub peak_d: f64,
}

/// Lines torn into the film.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ScratchRecipe {
    /// Strength meant, 1 to 4.
    pub level: u8,
    pub count: u32,
    /// Median width, millimetres.
    pub width_mm: f64,
    /// Median length, millimetres.
    pub length_mm: f64,
    /// Share of the film that is gone; 1 = bare support.
    pub open: f64,
    /// How far the middle of a line may lie off its chord, as a share of its length.
    pub bend: f64,
}

impl StreaksRecipe {
    pub(super) fn ranges(&self) -> Vec<Range> {
        let mut ranges = vec![
            ("streaks count", f64::from(self.count), 1.0, 80.0),
            ("streaks contrast_d", self.contrast_d, 0.0, MOST_D),
            ("streaks width_mm", self.width_mm, 0.1, 12.0),
            ("streaks width_spread", self.width_spread, 0.0, 1.0),
            ("streaks strength_spread", self.strength_spread, 0.0, 1.0),
            ("streaks tilt_deg", self.tilt_deg, -20.0, 20.0),
            ("streaks fog_share", self.fog_share, 0.0, 1.0),
        ];
        if let Some(radius) = self.radius_mm {
            ranges.push(("streaks radius_mm", radius.abs(), 50.0, 100_000.0));
        }
        ranges
    }
}

impl DipLineRecipe {
    pub(super) fn ranges(&self) -> Vec<Range> {
        vec![
            ("dip_line at_mm", self.at_mm, 0.0, 700.0),
            ("dip_line tilt_deg", self.tilt_deg, -20.0, 20.0),
            ("dip_line width_mm", self.width_mm, 0.05, 5.0),
            ("dip_line contrast_d", self.contrast_d, -MOST_D, MOST_D),
            ("dip_line step_d", self.step_d, -MOST_D, MOST_D),
            ("dip_line fog_share", self.fog_share, 0.0, 1.0),
        ]
    }
}

impl RidgesRecipe {
    pub(super) fn ranges(&self) -> Vec<Range> {
        vec![
            ("ridges spacing_mm", self.spacing_mm, 0.5, 20.0),
            ("ridges reach_mm", self.reach_mm, 3.0, 200.0),
            ("ridges contrast_d", self.contrast_d, 0.0, MOST_D),
            ("ridges tilt_deg", self.tilt_deg, -20.0, 20.0),
        ]
    }

    /// Whether the edge that the waves lie along ends in the corner.
    pub(super) fn edge_fits(&self) -> bool {
        let ends = Edge::of_corner(self.corner);
        self.form != RidgeForm::Edge || ends.contains(&self.edge)
    }
}

impl UnevenPourRecipe {
    pub(super) fn ranges(&self) -> Vec<Range> {
        vec![
            ("uneven_pour range_d", self.range_d, 0.0, MOST_D),
            ("uneven_pour bend", self.bend, 0.5, 3.0),
        ]
    }
}

impl BareAreaRecipe {
    pub(super) fn ranges(&self) -> Vec<Range> {
        let mut ranges = vec![
            ("bare_area a_mm", self.a_mm, 0.5, 200.0),
            ("bare_area b_mm", self.b_mm, 0.5, 200.0),
            ("bare_area round", self.round, 0.7, 3.0),
            ("bare_area lip_d", self.lip_d, 0.0, MOST_D),
        ];
        if let BarePlace::Island([x, y]) = self.place {
            ranges.push(("bare_area place", x, 0.0, 700.0));
            ranges.push(("bare_area place", y, 0.0, 700.0));
        }
        ranges
    }
}

impl StainRecipe {
    pub(super) fn ranges(&self) -> Vec<Range> {
        vec![
            ("stain at_mm", self.at_mm, 0.0, 700.0),
            ("stain size_mm", self.size_mm, 2.0, 100.0),
            ("stain peak_d", self.peak_d, 0.0, 2.5),
        ]
    }

    /// Scallops hang from an edge.
    pub(super) fn brink_fits(&self) -> bool {
        self.form != StainForm::Curtain || matches!(self.from, Brink::Edge(_))
    }
}

impl ScratchRecipe {
    pub(super) fn ranges(&self) -> Vec<Range> {
        vec![
            ("scratch count", f64::from(self.count), 1.0, 40.0),
            ("scratch width_mm", self.width_mm, 0.02, 3.0),
            ("scratch length_mm", self.length_mm, 1.0, 400.0),
            ("scratch open", self.open, 0.0, 1.0),
            ("scratch bend", self.bend, 0.0, 0.3),
        ]
    }
}
