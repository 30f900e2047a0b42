//! Fast logarithms of light.

/// Decimal logarithms of light, linear between 128 steps an octave: within 4e-6.
#[derive(Debug, Clone)]
pub struct Logs {
    steps: Vec<f32>,
    darkest: f32,
}

impl Logs {
    /// Bits of a number that tell its place within a step.
    const BELOW: u32 = 16;
    /// Brightest light that a file holds, and some room.
    const BRIGHTEST: f32 = 4.0;

    /// Of light from `darkest` on: what is darker counts as that.
    pub fn from(darkest: f32) -> Logs {
        let steps = Self::step(darkest)..=Self::step(Self::BRIGHTEST) + 1;
        Logs {
            steps: steps
                .map(|step| f32::from_bits(step << Self::BELOW).log10())
                .collect(),
            darkest,
        }
    }

    fn step(light: f32) -> u32 {
        light.to_bits() >> Self::BELOW
    }

    /// Light outside the range counts as at its end.
    pub fn log10(&self, light: f32) -> f32 {
        // What is no number counts as dark.
        let light = match light > self.darkest {
            true => light.min(Self::BRIGHTEST),
            false => self.darkest,
        };
        let at = (Self::step(light) - Self::step(self.darkest)) as usize;
        let share = (light.to_bits() & 0xffff) as f32 * (1.0 / 65_536.0);
        let (low, high) = (self.steps[at], self.steps[at + 1]);
        low + share * (high - low)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DARKEST: f32 = 0.0015;

    #[test]
    fn logarithms_by_table_are_near() {
        let logs = Logs::from(DARKEST);
        for k in 0..2000 {
            let light = 0.0015 * 1.004f32.powi(k);
            let exact = light.min(Logs::BRIGHTEST).log10();
            assert!((logs.log10(light) - exact).abs() < 5e-6, "{light}");
        }
        for dark in [0.0, -1.0, f32::NAN] {
            assert!((logs.log10(dark) - DARKEST.log10()).abs() < 5e-6);
        }
    }
}
