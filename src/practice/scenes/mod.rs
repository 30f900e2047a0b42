//! What the camera saw: light at every point of the picture, drawn from a seed.
//!
//! A scene gives relative light (1 = a white surface in full light, 0 = none) at a point in units of
//! the picture's shorter side, with the origin in its middle, x to the right and y down. All scenes
//! are drawn by arithmetic, so no photograph is needed and none is copied.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::chance::Chance;
use super::maths;

mod indoors;
mod lines;
mod outdoors;
mod pale;
mod people;
mod still;
mod tests_of_light;

/// Names of the scenes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum SceneName {
    /// Head and shoulders before a painted backdrop.
    Portrait,
    /// Head and shoulders before a bright backdrop that reaches the edges.
    BrightPortrait,
    /// A standing figure with a chair on a boarded floor.
    Standing,
    /// Two or three heads.
    Group,
    /// Bottles, bowls and fruit on a cloth.
    StillLife,
    /// Bright sky to the edge, hills, foliage below.
    Landscape,
    /// Trunks and leaves with sky between.
    Woods,
    /// Water, a far shore, a boat whose mast reaches the edge.
    Water,
    /// A building front with windows and blinds.
    Street,
    /// Boards of a fence or shutter, edge to edge.
    Boards,
    /// A room lit from one side: a soft bright gradient at an edge. Bait for edge fog.
    WindowLight,
    /// A bright mist or reflection that rises toward one or two edges. Bait for edge fog.
    Glow,
    /// A bright lamp, mast or curtain that touches an edge. Bait for a light leak.
    BrightShape,
    /// A dark room with a few lights.
    Interior,
    /// Cloth or lace all over.
    Cloth,
    /// Pales and rails before a field.
    Fence,
    /// A door in its frame.
    Doorway,
    /// A blind with daylight between its slats.
    Blinds,
    /// Masts, yards and ropes.
    Rigging,
    /// A row of columns on steps.
    Columns,
    /// Hills in mist.
    Mist,
    /// Snow under an overcast sky.
    Snow,
    /// A room at dusk.
    DarkRoom,
    /// Even light.
    Even,
    /// No light.
    Blank,
    /// Steps of light.
    Wedge,
}

impl SceneName {
    /// Scenes that make pictures, bait among them.
    pub const PICTURES: [SceneName; 15] = [
        SceneName::Portrait,
        SceneName::BrightPortrait,
        SceneName::Standing,
        SceneName::Group,
        SceneName::StillLife,
        SceneName::Landscape,
        SceneName::Woods,
        SceneName::Water,
        SceneName::Street,
        SceneName::Boards,
        SceneName::WindowLight,
        SceneName::Glow,
        SceneName::BrightShape,
        SceneName::Interior,
        SceneName::Cloth,
    ];

    /// Scenes that look like fog at an edge or like a leak.
    pub const BAIT: [SceneName; 6] = [
        SceneName::WindowLight,
        SceneName::Glow,
        SceneName::BrightShape,
        SceneName::BrightPortrait,
        SceneName::Water,
        SceneName::Landscape,
    ];

    /// Scenes with strong straight lines, some from edge to edge: what looks like streaks, lines,
    /// ridges and scratches. Those that are not in [`SceneName::PICTURES`] are painted when asked for.
    pub const LINES: [SceneName; 8] = [
        SceneName::Fence,
        SceneName::Doorway,
        SceneName::Blinds,
        SceneName::Rigging,
        SceneName::Columns,
        SceneName::Boards,
        SceneName::Street,
        SceneName::Water,
    ];

    /// Scenes of little contrast: what looks like a flat image. They are painted when asked for.
    pub const PALE: [SceneName; 3] = [SceneName::Mist, SceneName::Snow, SceneName::DarkRoom];

    /// True for scenes in [`SceneName::BAIT`].
    pub fn is_bait(self) -> bool {
        Self::BAIT.contains(&self)
    }

    /// The word used in truths.
    pub fn word(self) -> &'static str {
        match self {
            SceneName::Portrait => "portrait",
            SceneName::BrightPortrait => "bright_portrait",
            SceneName::Standing => "standing",
            SceneName::Group => "group",
            SceneName::StillLife => "still_life",
            SceneName::Landscape => "landscape",
            SceneName::Woods => "woods",
            SceneName::Water => "water",
            SceneName::Street => "street",
            SceneName::Boards => "boards",
            SceneName::WindowLight => "window_light",
            SceneName::Glow => "glow",
            SceneName::BrightShape => "bright_shape",
            SceneName::Interior => "interior",
            SceneName::Cloth => "cloth",
            SceneName::Fence => "fence",
            SceneName::Doorway => "doorway",
            SceneName::Blinds => "blinds",
            SceneName::Rigging => "rigging",
            SceneName::Columns => "columns",
            SceneName::Mist => "mist",
            SceneName::Snow => "snow",
            SceneName::DarkRoom => "dark_room",
            SceneName::Even => "even",
            SceneName::Blank => "blank",
            SceneName::Wedge => "wedge",
        }
    }
}

/// A scene that can be asked for its light.
pub(super) trait Scene: Sync + Send {
    /// Relative light at a point.
    fn light(&self, x: f32, y: f32) -> f32;
}

/// The picture's half sides in units of its shorter side, and how soft the lens draws.
#[derive(Debug, Clone, Copy)]
pub(super) struct View {
    pub(super) half_x: f32,
    pub(super) half_y: f32,
    pub(super) soft: f32,
}

impl View {
    /// Distance from the point to one side of the picture, 0 = top, clockwise.
    fn inward_of(&self, side: usize, x: f32, y: f32) -> f32 {
        match side % 4 {
            0 => y + self.half_y,
            1 => self.half_x - x,
            2 => self.half_y - y,
            _ => x + self.half_x,
        }
    }

    /// Place along one side, 0 in its middle.
    fn along_side(&self, side: usize, x: f32, y: f32) -> f32 {
        if side.is_multiple_of(2) { x } else { y }
    }

    /// Half the length of one side.
    fn half_side(&self, side: usize) -> f32 {
        if side.is_multiple_of(2) {
            self.half_x
        } else {
            self.half_y
        }
    }
}

/// Lens unsharpness on the plate, millimetres: our own choice, near what a portrait lens of the
/// time draws; it also keeps edges free of stairs at 300 dpi.
const LENS_SOFT_MM: f64 = 0.16;

/// Sets up a scene for a picture of the given size.
pub(super) fn build(name: SceneName, seed: u64, width_mm: f64, height_mm: f64) -> Box<dyn Scene> {
    let short_mm = width_mm.min(height_mm).max(1.0);
    let view = View {
        half_x: (0.5 * width_mm / short_mm) as f32,
        half_y: (0.5 * height_mm / short_mm) as f32,
        soft: (LENS_SOFT_MM / short_mm) as f32,
    };
    let seed = maths::sub_seed(seed, "scene");
    let mut chance = Chance::of(seed, name.word());
    match name {
        SceneName::Portrait => people::portrait(seed, view, &mut chance, false),
        SceneName::BrightPortrait => people::portrait(seed, view, &mut chance, true),
        SceneName::Standing => people::standing(seed, view, &mut chance),
        SceneName::Group => people::group(seed, view, &mut chance),
        SceneName::StillLife => still::still_life(seed, view, &mut chance),
        SceneName::Cloth => still::cloth(seed, view, &mut chance),
        SceneName::Landscape => outdoors::landscape(seed, view, &mut chance),
        SceneName::Woods => outdoors::woods(seed, view, &mut chance),
        SceneName::Water => outdoors::water(seed, view, &mut chance),
        SceneName::Street => outdoors::street(seed, view, &mut chance),
        SceneName::Boards => outdoors::boards(seed, view, &mut chance),
        SceneName::WindowLight => indoors::window_light(seed, view, &mut chance),
        SceneName::Glow => indoors::glow(seed, view, &mut chance),
        SceneName::BrightShape => indoors::bright_shape(seed, view, &mut chance),
        SceneName::Interior => indoors::interior(seed, view, &mut chance),
        SceneName::Fence => lines::fence(seed, view, &mut chance),
        SceneName::Doorway => lines::doorway(seed, view, &mut chance),
        SceneName::Blinds => lines::blinds(seed, view, &mut chance),
        SceneName::Rigging => lines::rigging(seed, view, &mut chance),
        SceneName::Columns => lines::columns(seed, view, &mut chance),
        SceneName::Mist => pale::mist(seed, view, &mut chance),
        SceneName::Snow => pale::snow(seed, view, &mut chance),
        SceneName::DarkRoom => pale::dark_room(seed, view, &mut chance),
        SceneName::Even => tests_of_light::even(&mut chance),
        SceneName::Blank => tests_of_light::blank(),
        SceneName::Wedge => tests_of_light::wedge(view, &mut chance),
    }
}

/// Cover of a shape whose signed distance is `distance` (negative inside), drawn `soft` wide.
#[inline]
fn cover(distance: f32, soft: f32) -> f32 {
    maths::smoothstep(soft, -soft, distance)
}

/// Signed distance to an ellipse at the origin, good near its outline.
#[inline]
fn ellipse(x: f32, y: f32, rx: f32, ry: f32) -> f32 {
    let k = ((x / rx) * (x / rx) + (y / ry) * (y / ry)).sqrt();
    (k - 1.0) * rx.min(ry)
}

/// Signed distance to an upright rectangle at the origin.
#[inline]
fn rectangle(x: f32, y: f32, half_x: f32, half_y: f32) -> f32 {
    let (dx, dy) = (x.abs() - half_x, y.abs() - half_y);
    let outside = (dx.max(0.0) * dx.max(0.0) + dy.max(0.0) * dy.max(0.0)).sqrt();
    outside + dx.max(dy).min(0.0)
}

/// Signed distance to a line with round ends.
#[inline]
fn bar(x: f32, y: f32, from: [f32; 2], to: [f32; 2], radius: f32) -> f32 {
    let (ux, uy) = (to[0] - from[0], to[1] - from[1]);
    let (px, py) = (x - from[0], y - from[1]);
    let along = ((px * ux + py * uy) / (ux * ux + uy * uy).max(1e-9)).clamp(0.0, 1.0);
    let (dx, dy) = (px - along * ux, py - along * uy);
    (dx * dx + dy * dy).sqrt() - radius
}

/// Brightness of a rounded body: 1 facing the light, `fill` turned away.
#[inline]
fn shade(nx: f32, ny: f32, light: [f32; 2], fill: f32) -> f32 {
    let nz = (1.0 - nx * nx - ny * ny).max(0.0).sqrt();
    let facing = (nx * light[0] + ny * light[1] + nz * 0.75).max(0.0) / 1.25;
    fill + (1.0 - fill) * facing.min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_scene_gives_usable_light_and_depends_on_its_seed() {
        for name in SceneName::PICTURES.into_iter().chain(SceneName::LINES) {
            let mut means = Vec::new();
            for seed in 0..3 {
                let scene = build(name, seed, 66.0, 79.0);
                let (mut sum, mut high, mut low) = (0.0, 0.0_f32, f32::MAX);
                for row in 0..60 {
                    for column in 0..50 {
                        let x = (column as f32 + 0.5) / 50.0 - 0.5;
                        let y = ((row as f32 + 0.5) / 60.0 - 0.5) * 79.0 / 66.0;
                        let light = scene.light(x, y);
                        assert!(light.is_finite() && light >= 0.0, "{}", name.word());
                        sum += light;
                        high = high.max(light);
                        low = low.min(light);
                    }
                }
                assert!(high > 0.15, "{} {seed}: {high}", name.word());
                assert!(low < 0.5 * high, "{} {seed}: {low} {high}", name.word());
                means.push(sum);
            }
            assert!(means[0] != means[1] && means[1] != means[2]);
        }
    }
}
