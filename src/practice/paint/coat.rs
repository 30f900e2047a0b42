//! Where the collodion reached: an uncoated rim of wavy width along some edges.

use crate::plate::Edge;
use crate::practice::maths::{smoothstep, value_noise};
use crate::practice::recipe::PlateRecipe;

/// Half the width over which the coating ends, millimetres: our own choice.
const EDGE_SOFT_MM: f32 = 0.05;

pub(super) struct Coat {
    seed: u64,
    size: [f32; 2],
    rim_mm: [f32; 4],
}

impl Coat {
    pub(super) fn new(plate: &PlateRecipe, seed: u64) -> Self {
        Coat {
            seed,
            size: [plate.width_mm as f32, plate.height_mm as f32],
            rim_mm: plate.rim_mm.map(|rim| rim as f32),
        }
    }

    /// 1 where there is collodion, 0 on bare support.
    pub(super) fn cover(&self, x: f32, y: f32) -> f32 {
        let mut cover = 1.0_f32;
        for (edge, rim) in Edge::ALL.into_iter().zip(self.rim_mm) {
            if rim <= 0.0 {
                continue;
            }
            let (distance, along) = match edge {
                Edge::Top => (y, x),
                Edge::Right => (self.size[0] - x, y),
                Edge::Bottom => (self.size[1] - y, x),
                Edge::Left => (x, y),
            };
            if distance > 2.0 * rim + 0.2 {
                continue;
            }
            let seed = self.seed.wrapping_add(edge as u64);
            let wave = 0.4 * value_noise(seed, along / 7.0, 0.3)
                + 0.12 * value_noise(seed, along / 1.3, 7.7);
            let ends = rim * (1.0 + wave);
            cover = cover.min(smoothstep(
                ends - EDGE_SOFT_MM,
                ends + EDGE_SOFT_MM,
                distance,
            ));
        }
        cover
    }
}
