//! The lip along the cut: a strip that reads denser or lighter than the plate beside it.

use crate::practice::maths::smoothstep;
use crate::practice::recipe::PlateRecipe;

/// Half the width over which a lip ends, millimetres: our own choice.
const END_SOFT_MM: f32 = 0.05;

pub(super) struct Lip {
    size: [f32; 2],
    width_mm: [f32; 4],
    adds_d: [f32; 4],
}

impl Lip {
    /// `None` where the plate shows no lip.
    pub(super) fn new(plate: &PlateRecipe) -> Option<Self> {
        let lip = plate.lip.as_ref()?;
        Some(Lip {
            size: [plate.width_mm as f32, plate.height_mm as f32],
            width_mm: lip.width_mm.map(|width| width as f32),
            adds_d: lip.adds_d.map(|adds| adds as f32),
        })
    }

    /// What the lip adds to density here; `None` away from it. Where two edges meet the nearer counts.
    pub(super) fn adds_d(&self, x: f32, y: f32) -> Option<f32> {
        let distances = [y, self.size[0] - x, self.size[1] - y, x];
        let (edge, distance) = distances
            .into_iter()
            .enumerate()
            .min_by(|a, b| a.1.total_cmp(&b.1))?;
        let width = self.width_mm[edge];
        (width > 0.0 && distance < width + END_SOFT_MM).then(|| {
            let share = smoothstep(width + END_SOFT_MM, width - END_SOFT_MM, distance);
            self.adds_d[edge] * share
        })
    }
}

#[cfg(test)]
mod tests {
    use super::Lip;

    #[test]
    fn a_lip_ends_where_the_recipe_says() {
        let lip = Lip {
            size: [70.0, 80.0],
            width_mm: [0.5, 0.0, 0.3, 0.2],
            adds_d: [0.1, 0.5, -0.2, 0.3],
        };
        assert_eq!(lip.adds_d(35.0, 0.2), Some(0.1));
        assert_eq!(lip.adds_d(35.0, 0.7), None);
        assert_eq!(lip.adds_d(69.9, 40.0), None);
        assert_eq!(lip.adds_d(35.0, 79.9), Some(-0.2));
    }
}
