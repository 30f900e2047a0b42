//! Edges, corners and the middle of a plate, as places and as directions.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::raster::geometry::{between_directions_deg, direction_deg};

/// A corner of the plate as it lies in the scan.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Corner {
    TopLeft,
    TopRight,
    BottomRight,
    BottomLeft,
}

impl Corner {
    /// Clockwise from the top left.
    pub const ALL: [Corner; 4] = [
        Corner::TopLeft,
        Corner::TopRight,
        Corner::BottomRight,
        Corner::BottomLeft,
    ];

    /// The corner as one of the places.
    pub fn spot(self) -> Spot {
        match self {
            Corner::TopLeft => Spot::TopLeft,
            Corner::TopRight => Spot::TopRight,
            Corner::BottomRight => Spot::BottomRight,
            Corner::BottomLeft => Spot::BottomLeft,
        }
    }

    /// Direction from the middle of a plate of that width and height, degrees clockwise from twelve
    /// o'clock.
    pub fn direction_on_deg(self, [width, height]: [f64; 2]) -> f64 {
        let [x, y] = self.spot().steps();
        direction_deg(x * width, y * height)
    }
}

/// An edge, a corner or the middle of the plate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Spot {
    Top,
    TopRight,
    Right,
    BottomRight,
    Bottom,
    BottomLeft,
    Left,
    TopLeft,
    Middle,
}

impl Spot {
    /// All places, clockwise from the top, the middle last.
    pub const ALL: [Spot; 9] = [
        Spot::Top,
        Spot::TopRight,
        Spot::Right,
        Spot::BottomRight,
        Spot::Bottom,
        Spot::BottomLeft,
        Spot::Left,
        Spot::TopLeft,
        Spot::Middle,
    ];

    /// The word used in reports.
    pub fn word(self) -> &'static str {
        match self {
            Spot::Top => "top",
            Spot::TopRight => "top_right",
            Spot::Right => "right",
            Spot::BottomRight => "bottom_right",
            Spot::Bottom => "bottom",
            Spot::BottomLeft => "bottom_left",
            Spot::Left => "left",
            Spot::TopLeft => "top_left",
            Spot::Middle => "middle",
        }
    }

    /// Words for people.
    pub fn words(self) -> &'static str {
        match self {
            Spot::Top => "the top edge",
            Spot::TopRight => "the top right corner",
            Spot::Right => "the right edge",
            Spot::BottomRight => "the bottom right corner",
            Spot::Bottom => "the bottom edge",
            Spot::BottomLeft => "the bottom left corner",
            Spot::Left => "the left edge",
            Spot::TopLeft => "the top left corner",
            Spot::Middle => "the middle",
        }
    }

    /// The place of that word of the reports.
    pub fn of_word(word: &str) -> Option<Spot> {
        Spot::ALL.into_iter().find(|spot| spot.word() == word)
    }

    /// The corner, if it is one.
    pub fn corner(self) -> Option<Corner> {
        match self {
            Spot::TopLeft => Some(Corner::TopLeft),
            Spot::TopRight => Some(Corner::TopRight),
            Spot::BottomRight => Some(Corner::BottomRight),
            Spot::BottomLeft => Some(Corner::BottomLeft),
            _ => None,
        }
    }

    /// Whether it is an edge.
    pub fn is_edge(self) -> bool {
        self != Spot::Middle && self.corner().is_none()
    }

    /// Steps from the middle to the right and down, each -1, 0 or 1.
    pub fn steps(self) -> [f64; 2] {
        match self {
            Spot::Top => [0.0, -1.0],
            Spot::TopRight => [1.0, -1.0],
            Spot::Right => [1.0, 0.0],
            Spot::BottomRight => [1.0, 1.0],
            Spot::Bottom => [0.0, 1.0],
            Spot::BottomLeft => [-1.0, 1.0],
            Spot::Left => [-1.0, 0.0],
            Spot::TopLeft => [-1.0, -1.0],
            Spot::Middle => [0.0, 0.0],
        }
    }

    /// Direction from the plate's middle, degrees clockwise from twelve o'clock; `None` for the middle
    /// itself. Corners count as diagonal whatever the plate's shape.
    pub fn direction_deg(self) -> Option<f64> {
        direction_between(Spot::Middle, self)
    }

    /// The edge or corner that lies nearest to a direction from the middle, degrees.
    pub fn by_direction(deg: f64) -> Spot {
        let off = |spot: &Spot| {
            let own_deg = spot.direction_deg();
            own_deg.map_or(f64::INFINITY, |own| between_directions_deg(own, deg))
        };
        let nearest = Spot::ALL
            .into_iter()
            .min_by(|a, b| off(a).total_cmp(&off(b)));
        nearest.unwrap_or(Spot::Middle)
    }

    /// The same place with left and right exchanged.
    pub fn mirrored(self) -> Spot {
        match self {
            Spot::TopRight => Spot::TopLeft,
            Spot::Right => Spot::Left,
            Spot::BottomRight => Spot::BottomLeft,
            Spot::BottomLeft => Spot::BottomRight,
            Spot::Left => Spot::Right,
            Spot::TopLeft => Spot::TopRight,
            same => same,
        }
    }

    /// The place on the other side of the middle.
    pub fn opposite(self) -> Spot {
        match self {
            Spot::Top => Spot::Bottom,
            Spot::TopRight => Spot::BottomLeft,
            Spot::Right => Spot::Left,
            Spot::BottomRight => Spot::TopLeft,
            Spot::Bottom => Spot::Top,
            Spot::BottomLeft => Spot::TopRight,
            Spot::Left => Spot::Right,
            Spot::TopLeft => Spot::BottomRight,
            Spot::Middle => Spot::Middle,
        }
    }

    /// Whether it is that corner, or an edge that ends there.
    pub fn touches(self, corner: Corner) -> bool {
        let ([x, y], [cx, cy]) = (self.steps(), corner.spot().steps());
        self != Spot::Middle && x * cx >= 0.0 && y * cy >= 0.0
    }
}

/// Direction from one place to another on a square plate, degrees clockwise from twelve o'clock; `None`
/// when they are the same.
pub fn direction_between(from: Spot, to: Spot) -> Option<f64> {
    let ([fx, fy], [tx, ty]) = (from.steps(), to.steps());
    (from != to).then(|| direction_deg(tx - fx, ty - fy))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn directions_go_round_in_eighths() {
        for (k, spot) in Spot::ALL[..8].iter().enumerate() {
            let direction = spot.direction_deg().unwrap();
            assert!((direction - 45.0 * k as f64).abs() < 1e-9, "{spot:?}");
            assert_eq!(Spot::by_direction(direction - 20.0), *spot);
            let back = spot.opposite().direction_deg().unwrap();
            assert!(((back - direction).abs() - 180.0).abs() < 1e-9, "{spot:?}");
            let seen = spot.mirrored().direction_deg().unwrap();
            assert!(((seen + direction) % 360.0).abs() < 1e-9, "{spot:?}");
        }
        assert_eq!(Spot::Middle.direction_deg(), None);
        let across = direction_between(Spot::Left, Spot::TopRight).unwrap();
        assert!((across - 63.435).abs() < 1e-3, "{across}");
        let drained = Corner::BottomRight.direction_on_deg([80.0, 100.0]);
        assert!((drained - 141.34).abs() < 0.01, "{drained}");
    }

    #[test]
    fn words_are_those_of_the_json() {
        for spot in Spot::ALL {
            assert_eq!(serde_json::to_value(spot).unwrap(), spot.word());
            assert_eq!(Spot::of_word(spot.word()), Some(spot));
            if let Some(corner) = spot.corner() {
                assert_eq!(serde_json::to_value(corner).unwrap(), spot.word());
                assert_eq!(corner.spot(), spot);
            }
        }
    }

    #[test]
    fn a_corner_belongs_to_its_two_edges() {
        let touching: Vec<&str> = Spot::ALL
            .into_iter()
            .filter(|spot| spot.touches(Corner::BottomLeft))
            .map(Spot::word)
            .collect();
        assert_eq!(touching, ["bottom", "bottom_left", "left"]);
    }
}
