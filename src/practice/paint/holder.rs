//! The holder's opening: how much of the lens's light reaches a point.

use crate::practice::maths::smoothstep;
use crate::practice::recipe::{LedgeForm, LedgeRecipe, PlateRecipe};

pub(super) struct Holder {
    low: [f32; 2],
    high: [f32; 2],
    penumbra: f32,
    form: LedgeForm,
    support: f32,
}

impl Holder {
    pub(super) fn new(plate: &PlateRecipe, ledge: &LedgeRecipe) -> Self {
        let [top, right, bottom, left] = ledge.width_mm;
        Holder {
            low: [left as f32, top as f32],
            high: [
                (plate.width_mm - right) as f32,
                (plate.height_mm - bottom) as f32,
            ],
            penumbra: (ledge.penumbra_mm as f32).max(0.02),
            form: ledge.form,
            support: ledge.support_mm as f32,
        }
    }

    /// 0 under the ledge, 1 in the opening, smooth across the half shadow.
    pub(super) fn open(&self, x: f32, y: f32) -> f32 {
        // How far inside the opening's four sides the point lies.
        let dx = (x - self.low[0]).min(self.high[0] - x);
        let dy = (y - self.low[1]).min(self.high[1] - y);
        let mut inside = dx.min(dy);
        if self.support > 0.0 {
            let clear = match self.form {
                LedgeForm::Diagonal => (dx + dy - self.support) * std::f32::consts::FRAC_1_SQRT_2,
                LedgeForm::Round => {
                    let (a, b) = (dx.max(0.0), dy.max(0.0));
                    (a * a + b * b).sqrt() - 0.85 * self.support
                }
                LedgeForm::Square => dx.max(dy) - 0.7 * self.support,
            };
            inside = inside.min(clear);
        } else if self.form == LedgeForm::Round {
            // Rounded corners of the opening, radius 2 mm.
            let (a, b) = ((2.0 - dx).max(0.0), (2.0 - dy).max(0.0));
            inside = inside.min(2.0 - (a * a + b * b).sqrt());
        }
        smoothstep(-0.5 * self.penumbra, 0.5 * self.penumbra, inside)
    }
}
