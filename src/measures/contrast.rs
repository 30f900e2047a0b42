//! How far the blacks and the lights of a plate lie apart, and where they lie above the unexposed border.
//!
//! What it means: a sound plate of a subject with blacks and whites runs from little more silver than its
//! border to nearly all that it can hold. Input: the tone of the plate, and its density map.
//! Output: range between blacks and lights, and the silver of both above the border (density).
//! Method: 2nd and 98th percentile of 1 mm squares of the picture area, since grain and dust own the pixel
//! tails. Doubtful when: the scene has no blacks or no whites, which no single picture tells.

use crate::density::DensityMap;
use crate::plate::Plate;
use crate::units::Reading;

/// Blacks and lights of one plate.
#[derive(Debug, Clone, PartialEq)]
pub struct Contrast {
    /// From the blacks to the lights, density.
    pub range_d: Reading,
    /// Silver of the blacks above the border, density; `None` without a border.
    pub blacks_d: Option<Reading>,
    /// Silver of the lights above the border, density; `None` without a border.
    pub lights_d: Option<Reading>,
}

/// Half width (95 %) of a difference between the border and the picture beside what the two readings
/// themselves are unsure of: clouds of the film, the lid's glow on the border, density. Our own choice.
const BORDER_U_D: f64 = 0.03;

/// Compares blacks, lights and border: `lightest` and `darkest` are densities of squares, `range_u` is the
/// half width (95 %) of their difference, in which the scanner's white cancels.
pub(super) fn measure(
    plate: &Plate,
    map: &DensityMap,
    [lightest, darkest]: [&Reading; 2],
    range_u: f64,
) -> Contrast {
    let (blacks, lights) = match plate.process.is_positive() {
        true => (darkest, lightest),
        false => (lightest, darkest),
    };
    let above_border = |end: &Reading| {
        let border_d = map.border_d?;
        let silver = plate.silver_sign() * (end.value - border_d);
        Some(Reading::new(silver, BORDER_U_D).doubted(&end.doubts))
    };
    Contrast {
        range_d: Reading::new(darkest.value - lightest.value, range_u)
            .doubted(&lightest.doubts)
            .doubted(&darkest.doubts),
        blacks_d: above_border(blacks),
        lights_d: above_border(lights),
    }
}
