//! Drawing fog: how strong it is at each level, where it enters, how far it goes.

use rand::RngExt;

use super::{Draw, five};
use crate::plate::Edge;
use crate::practice::recipe::{Planted, PlateRecipe};

impl Draw {
    /// Fog on unexposed coating at each level, density: 1 is near the limit of seeing; from memory,
    /// 0.10 calls for notice and 0.25 is serious.
    pub(super) fn fog_d(&mut self, level: u8) -> f64 {
        let (low, high) = match level {
            0 | 1 => (0.025, 0.045),
            2 => (0.08, 0.13),
            3 => (0.18, 0.3),
            _ => (0.35, 0.6),
        };
        self.between(low, high)
    }

    pub(super) fn edge_fog(&mut self, level: u8, edge: Edge, plate: &PlateRecipe) -> Planted {
        let length = side_mm(edge, plate);
        let (from_mm, to_mm) = if self.yes(0.6) {
            (0.0, length)
        } else {
            let part = five(length * self.between(0.4, 0.8));
            let from = five((length - part) * self.between(0.0, 1.0));
            (from, five(from + part))
        };
        // Even in the logarithm from 1.5 to 12 mm.
        let depth_mm = five(1.5 * libm::pow(8.0, self.between(0.0, 1.0)));
        Planted::EdgeFog {
            level,
            edge,
            fog_d: self.fog_d(level),
            depth_mm,
            from_mm,
            to_mm,
        }
    }

    pub(super) fn light_leak(&mut self, level: u8, plate: &PlateRecipe) -> Planted {
        let edge = Edge::ALL[self.0.random_range(0..4)];
        let length = side_mm(edge, plate);
        let corner = self.yes(0.25);
        let (at_mm, lean) = if corner {
            let first = self.yes(0.5);
            let lean = self.between(20.0, 70.0);
            // From the low end of an edge the tongue leans toward its high end, and the other way.
            if first { (0.0, lean) } else { (length, -lean) }
        } else {
            (
                five(length * self.between(0.08, 0.92)),
                self.between(-28.0, 28.0),
            )
        };
        // Straight in from each edge, and the sense in which a lean goes toward its high end.
        let (inward, sense) = match edge {
            Edge::Top => (180.0, -1.0),
            Edge::Right => (270.0, -1.0),
            Edge::Bottom => (0.0, 1.0),
            Edge::Left => (90.0, 1.0),
        };
        let (low, high) = match level {
            0 | 1 => (0.05, 0.08),
            2 => (0.12, 0.2),
            3 => (0.28, 0.48),
            _ => (0.55, 0.9),
        };
        let direction: f64 = inward + sense * lean;
        Planted::LightLeak {
            level,
            edge,
            at_mm,
            direction_deg: five(direction.rem_euclid(360.0)),
            length_mm: self.between(10.0, 0.65 * plate.height_mm.min(plate.width_mm)),
            width_mm: self.between(1.8, 6.0),
            spread: self.between(-0.4, 1.8),
            peak_d: self.between(low, high),
        }
    }
}

fn side_mm(edge: Edge, plate: &PlateRecipe) -> f64 {
    match edge {
        Edge::Top | Edge::Bottom => plate.width_mm,
        Edge::Left | Edge::Right => plate.height_mm,
    }
}
