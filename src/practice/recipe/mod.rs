//! A recipe says everything about a made-up scan: with the same recipe the same bytes come out.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::scenes::SceneName;
use crate::plate::{Edge, PlateKind, Process};

mod check;
mod draw;
mod marks;
mod shapes;
mod whole;

pub use draw::{FaultWish, Glass, Wish};
pub use marks::{
    CometsRecipe, ContraryHeads, MarkSign, PinholesRecipe, Scatter, SpeckBody, SpecksRecipe,
};
pub use shapes::{
    BareAreaRecipe, BarePlace, Brink, DipLineRecipe, LineRun, PourForm, RidgeForm, RidgesRecipe,
    ScratchRecipe, StainForm, StainRecipe, StreakForm, StreakSign, StreaksRecipe, UnevenPourRecipe,
};
pub use whole::{Cast, FlatForm, FlatImageRecipe, UnderfixedRecipe};

/// Name and version of the recipe's layout.
pub const RECIPE_SCHEMA: &str = "oystermark/plate-recipe/1";

/// A made-up scan: what lies on the glass, and how it is scanned.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Recipe {
    /// [`RECIPE_SCHEMA`].
    pub schema: String,
    /// Stem of the files' names, such as `A-017`.
    pub name: String,
    /// Every chance the recipe leaves open is drawn from this.
    pub seed: u64,
    /// The scanner, its glass and the file.
    pub scan: ScanRecipe,
    /// The plates on the glass, in reading order.
    pub plates: Vec<PlateRecipe>,
}

/// One plate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PlateRecipe {
    /// Which of the three processes.
    pub process: Process,
    /// What the plate was made for.
    pub kind: PlateKind,
    /// Name of the trade size.
    pub size_name: String,
    /// Width as it lies in the scan, millimetres.
    pub width_mm: f64,
    /// Height as it lies in the scan, millimetres.
    pub height_mm: f64,
    /// How far each corner lies off the rectangle, clockwise from the top left, millimetres.
    pub corner_shift_mm: [[f64; 2]; 4],
    /// Shape of the corners.
    pub corners: Corners,
    /// How far each corner is cut back, millimetres.
    pub corner_mm: f64,
    /// Centre on the scanned area, millimetres from its top left corner.
    pub centre_mm: [f64; 2],
    /// Turn in the scan, degrees clockwise as seen.
    pub turn_deg: f64,
    /// The holder's ledge, which keeps a border from the light.
    pub ledge: Option<LedgeRecipe>,
    /// Mean width of the uncoated rim, in the order of [`Edge::ALL`], millimetres.
    pub rim_mm: [f64; 4],
    /// The lip along the cut, if it shows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lip: Option<LipRecipe>,
    /// What the camera saw.
    pub scene: SceneName,
    /// Exposure as a factor on the scene's light, 1 = as the scene is meant.
    pub exposure: f64,
    /// Characteristic curve.
    pub tone: ToneRecipe,
    /// What every clean plate has.
    pub texture: TextureRecipe,
    /// Planted faults.
    pub faults: Vec<Planted>,
}

/// Shape of a plate's corners.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Corners {
    Square,
    Clipped,
    Round,
    /// Square, with one corner chipped and small bites along the sides.
    Nicked,
}

impl Corners {
    /// The word used in truths.
    pub fn word(self) -> &'static str {
        match self {
            Corners::Square => "square",
            Corners::Clipped => "clipped",
            Corners::Round => "round",
            Corners::Nicked => "nicked",
        }
    }
}

/// The opening of the holder before the plate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LedgeRecipe {
    /// Width in the order of [`Edge::ALL`], to the middle of the half shadow, millimetres.
    pub width_mm: [f64; 4],
    /// Width of the half shadow, millimetres.
    pub penumbra_mm: f64,
    /// Shape of the opening's corners.
    pub form: LedgeForm,
    /// Length of the supports that the corners rest on, measured along the edge from the opening's
    /// corner; 0 = none.
    pub support_mm: f64,
}

/// Shape of the corners of the holder's opening.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum LedgeForm {
    Round,
    Diagonal,
    Square,
}

impl LedgeForm {
    /// The word used in truths.
    pub fn word(self) -> &'static str {
        match self {
            LedgeForm::Round => "round",
            LedgeForm::Diagonal => "diagonal",
            LedgeForm::Square => "square",
        }
    }
}

/// The outermost strip of a plate, where japan is rounded, glass is ground and film bunches up: it
/// reads denser or lighter than the plate beside it, whatever lies on it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LipRecipe {
    /// Width in the order of [`Edge::ALL`], millimetres; 0 where none shows.
    pub width_mm: [f64; 4],
    /// What it adds to density, in the same order; may be negative.
    pub adds_d: [f64; 4],
}

/// How exposure becomes density.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ToneRecipe {
    /// Density of the bare support.
    pub support_d: f64,
    /// Density of a coated, unexposed place without planted fog; between support and silver.
    pub unexposed_d: f64,
    /// Density of all the silver the plate can hold: low on a positive, high on a negative.
    pub full_silver_d: f64,
    /// Steepness of the curve against the logarithm of exposure.
    pub gamma: f64,
    /// Colour of the image: linear red and blue as a factor on green.
    pub warmth: [f64; 2],
}

/// Unevenness that no one calls a fault, as standard deviations in density.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TextureRecipe {
    /// A tilt and bend over the whole plate.
    pub pour_d: f64,
    /// Soft clouds of about a centimetre.
    pub cloud_d: f64,
    /// From pixel to pixel at 0.05 mm, where half of the silver is.
    pub grain_d: f64,
    /// Blotches of about half a millimetre, where half of the silver is.
    pub mottle_d: f64,
    /// Of the support itself.
    pub support_d: f64,
    /// Count of tiny specks such as any plate has.
    pub specks: u32,
}

/// A fault to plant. `level` is the strength meant: 1 near the limit of seeing, 2 clear, 3 strong,
/// 4 ruins the plate. Fog is stated as the silver it leaves on unexposed coating, in density.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "fault", rename_all = "snake_case", deny_unknown_fields)]
pub enum Planted {
    /// Fog over the whole plate.
    Veil {
        level: u8,
        fog_d: f64,
        /// True for fog that came with the light through the lens: the border stays clear.
        spares_border: bool,
    },
    /// Fog that falls off from one edge.
    EdgeFog {
        level: u8,
        edge: Edge,
        fog_d: f64,
        /// Where it has fallen to 1/e, millimetres.
        depth_mm: f64,
        /// Ends along the edge, from its left or top end, millimetres.
        from_mm: f64,
        to_mm: f64,
    },
    /// A tongue of fog.
    LightLeak {
        level: u8,
        edge: Edge,
        /// Where it enters along the edge, from its left or top end, millimetres.
        at_mm: f64,
        /// Where it points, degrees clockwise from twelve o'clock.
        direction_deg: f64,
        length_mm: f64,
        /// Full width at half height where it enters, millimetres.
        width_mm: f64,
        /// How much wider it is at its end, as a share of `width_mm`; negative narrows.
        spread: f64,
        peak_d: f64,
    },
    /// Heads with tails.
    Comets(CometsRecipe),
    /// Round holes in the film.
    Pinholes(PinholesRecipe),
    /// Round spots of silver or matter.
    Specks(SpecksRecipe),
    /// Soft parallel bands.
    Streaks(StreaksRecipe),
    /// One line from edge to edge.
    DipLine(DipLineRecipe),
    /// Waves of thickness.
    Ridges(RidgesRecipe),
    /// Thickness that rises over the whole plate.
    UnevenPour(UnevenPourRecipe),
    /// A place without coating.
    BareArea(BareAreaRecipe),
    /// Silver that came from the border.
    Stain(StainRecipe),
    /// Lines torn into the film.
    Scratch(ScratchRecipe),
    /// Too little between the blacks and the lights.
    FlatImage(FlatImageRecipe),
    /// Silver salt that the fixer left.
    Underfixed(UnderfixedRecipe),
}

impl Planted {
    /// The fault's label.
    pub fn fault(&self) -> &'static str {
        match self {
            Planted::Veil { .. } => "veil",
            Planted::EdgeFog { .. } => "edge_fog",
            Planted::LightLeak { .. } => "light_leak",
            Planted::Comets(_) => "comets",
            Planted::Pinholes(_) => "pinholes",
            Planted::Specks(_) => "specks",
            Planted::Streaks(_) => "streaks",
            Planted::DipLine(_) => "dip_line",
            Planted::Ridges(_) => "ridges",
            Planted::UnevenPour(_) => "uneven_pour",
            Planted::BareArea(_) => "bare_area",
            Planted::Stain(_) => "stain",
            Planted::Scratch(_) => "scratch",
            Planted::FlatImage(_) => "flat_image",
            Planted::Underfixed(_) => "underfixed",
        }
    }

    /// The strength meant.
    pub fn level(&self) -> u8 {
        match self {
            Planted::Veil { level, .. }
            | Planted::EdgeFog { level, .. }
            | Planted::LightLeak { level, .. } => *level,
            Planted::Comets(marks) => marks.level,
            Planted::Pinholes(marks) => marks.level,
            Planted::Specks(marks) => marks.level,
            Planted::Streaks(shape) => shape.level,
            Planted::DipLine(shape) => shape.level,
            Planted::Ridges(shape) => shape.level,
            Planted::UnevenPour(shape) => shape.level,
            Planted::BareArea(shape) => shape.level,
            Planted::Stain(shape) => shape.level,
            Planted::Scratch(shape) => shape.level,
            Planted::FlatImage(whole) => whole.level,
            Planted::Underfixed(whole) => whole.level,
        }
    }
}

/// The scanner, its glass and the file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ScanRecipe {
    /// True resolution, dots per inch.
    pub dpi: f64,
    /// Width and height of the scanned area, millimetres.
    pub area_mm: [f64; 2],
    /// What lies around the plate.
    pub lid: Lid,
    /// Light of the lid, linear, 1 = the encoding's white.
    pub lid_light: f64,
    /// How the scan was cropped.
    pub crop: Crop,
    /// The resolution stated in the file.
    pub dpi_tag: TagState,
    /// 8 or 16.
    pub bits: u8,
    /// 1 (grey) or 3 (colour).
    pub channels: u8,
    /// File format.
    pub format: FileFormat,
    /// JPEG quality, 1 to 100.
    pub jpeg_quality: u8,
    /// How light becomes codes.
    pub encoding: Coding,
    /// Whether the file carries the profile of that encoding.
    pub icc: bool,
    /// Blur of the scanner, standard deviation in pixels.
    pub blur_px: f64,
    /// Share of the light that comes from the surroundings of each place.
    pub flare: f64,
    /// Brightness factor.
    pub gain: f64,
    /// Noise that grows with the square root of light (sd at white).
    pub shot: f64,
    /// Noise that is there in the dark (sd, linear light).
    pub read: f64,
    /// Column pattern, sd as a share of light.
    pub columns: f64,
    /// Lamp falloff from the middle to the ends, share of light.
    pub falloff: f64,
    /// Sharpening by the scanner's program, 0 = none.
    pub sharpen: f64,
    /// Specks and fibres on the scanner's glass.
    pub dust_specks: u32,
    pub dust_fibres: u32,
    /// Hairs of centimetres, and ragged flecks.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub dust_hairs: u32,
    #[serde(default, skip_serializing_if = "is_zero")]
    pub dust_flecks: u32,
    /// The second scan of a pair: the plates lie turned half round, the dust lies where it lay.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub turned: bool,
}

/// Keeps recipes without these kinds of dust as they were.
fn is_zero(count: &u32) -> bool {
    *count == 0
}

impl ScanRecipe {
    /// Two scans of one plate have noise of their own.
    pub(super) fn noise_seed(&self, seed: u64) -> u64 {
        if self.turned {
            crate::practice::maths::sub_seed(seed, "second scan")
        } else {
            seed
        }
    }
}

/// What lies around the plate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Lid {
    White,
    Black,
    DarkGrey,
    /// A light behind the glass.
    Lit,
}

impl Lid {
    /// The word used in truths.
    pub fn word(self) -> &'static str {
        match self {
            Lid::White => "white",
            Lid::Black => "black",
            Lid::DarkGrey => "dark_grey",
            Lid::Lit => "lit",
        }
    }
}

/// How the scan was cropped.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Crop {
    /// Lid all around.
    Margin,
    /// At the plate's edge.
    Exact,
    /// Inside the plate's edge.
    Inside,
}

impl Crop {
    /// The word used in truths.
    pub fn word(self) -> &'static str {
        match self {
            Crop::Margin => "margin",
            Crop::Exact => "exact",
            Crop::Inside => "inside",
        }
    }
}

/// The resolution stated in the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum TagState {
    Ok,
    Absent,
    /// 72 per inch, whatever the truth.
    Default72,
    /// The right number with the wrong unit.
    WrongUnit,
}

/// File format.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum FileFormat {
    Tiff,
    Png,
    Jpeg,
}

impl FileFormat {
    /// Extension of the file's name.
    pub fn extension(self) -> &'static str {
        match self {
            FileFormat::Tiff => "tif",
            FileFormat::Png => "png",
            FileFormat::Jpeg => "jpg",
        }
    }
}

/// How light becomes codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Coding {
    /// IEC 61966-2-1.
    Srgb,
    /// Adobe RGB (1998); on one channel only its exponent.
    Adobe,
    /// Exponent 563/256, the nearest that a profile can state to 2.2.
    Gamma22,
    /// Proportional to light.
    Linear,
}

impl Coding {
    /// The word used in truths.
    pub fn word(self) -> &'static str {
        match self {
            Coding::Srgb => "srgb",
            Coding::Adobe => "adobe",
            Coding::Gamma22 => "gamma22",
            Coding::Linear => "linear",
        }
    }
}
