//! Scenes of test plates: even light, none, steps.

use super::{Chance, Scene, View};
use crate::practice::maths::pow10;

struct Even {
    light: f32,
    tilt: [f32; 2],
}

impl Scene for Even {
    fn light(&self, x: f32, y: f32) -> f32 {
        self.light * (1.0 + self.tilt[0] * x + self.tilt[1] * y)
    }
}

/// Even light; the lamp leaves a tilt of a percent or two.
pub(super) fn even(chance: &mut Chance) -> Box<dyn Scene> {
    Box::new(Even {
        light: chance.between(0.07, 0.3),
        tilt: [chance.between(-0.02, 0.02), chance.between(-0.02, 0.02)],
    })
}

struct Blank;

impl Scene for Blank {
    fn light(&self, _: f32, _: f32) -> f32 {
        0.0
    }
}

/// The lens cap stayed on.
pub(super) fn blank() -> Box<dyn Scene> {
    Box::new(Blank)
}

struct Wedge {
    view: View,
    steps: f32,
    log_step: f32,
    along_y: bool,
    backward: bool,
}

impl Scene for Wedge {
    fn light(&self, x: f32, y: f32) -> f32 {
        let share = if self.along_y {
            (y + self.view.half_y) / (2.0 * self.view.half_y)
        } else {
            (x + self.view.half_x) / (2.0 * self.view.half_x)
        };
        let share = if self.backward { 1.0 - share } else { share };
        let step = (share * self.steps).floor().clamp(0.0, self.steps - 1.0);
        0.9 * pow10(-step * self.log_step)
    }
}

/// The dark slide drawn in steps of equal log exposure.
pub(super) fn wedge(view: View, chance: &mut Chance) -> Box<dyn Scene> {
    let steps = chance.whole(6, 13) as f32;
    Box::new(Wedge {
        view,
        steps,
        log_step: chance.between(1.7, 2.4) / steps,
        along_y: chance.yes(0.5),
        backward: chance.yes(0.5),
    })
}
