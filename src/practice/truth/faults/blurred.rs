//! The plate as the scanner's blur leaves it.

use rayon::prelude::*;

use crate::practice::maths::{density, pow10};
use crate::practice::paint::Sample;
use crate::practice::scanner::optics;
use crate::practice::truth::View;

/// Light of the plate with its faults and without them, after the scanner's blur.
pub(super) struct Blurred {
    pub(super) with: Vec<f32>,
    pub(super) without: Vec<f32>,
}

impl Blurred {
    pub(super) fn new(view: &View) -> Blurred {
        let light = |of: fn(&Sample) -> f32| {
            let samples = &view.samples.samples;
            let mut light: Vec<f32> = samples.par_iter().map(|s| pow10(-of(s))).collect();
            optics::blur(&mut light, view.samples.size[0], view.scan.blur_px as f32);
            light
        };
        Blurred {
            with: light(|sample| sample.d),
            without: light(|sample| sample.clean_d),
        }
    }

    /// Density of a sample without the faults and with them.
    pub(super) fn densities(&self, at: usize) -> [f64; 2] {
        [&self.without, &self.with].map(|light| {
            light
                .get(at)
                .map_or(0.0, |light| f64::from(density(*light)))
        })
    }
}
