//! The crests of waves, one by one.

use super::lines::{Lines, Way};
use super::profile::{CORE_MM, Profile, Waves, turned};
use crate::measures::bands::response::{Response, SURROUND};
use crate::measures::bands::{Across, Family, Line, OverScene};
use crate::raster::filter::gaussian_over;
use crate::raster::stats::median;

/// How far from the corner or edge they are followed, millimetres.
const FOLLOWED_MM: f64 = 45.0;

/// A wave counts as long as it has this share of the strongest one's height. Our own choice.
const FOLLOWED_SHARE: f64 = 0.3;

/// Difference of a wave's light half from its dark half, means over each, over its height: of a sine twice 2 / pi.
const CORE_OVER_HEIGHT: f64 = 4.0 / std::f64::consts::PI;

/// Width of a crest at half height as a share of the spacing.
const CREST_SHARE: f64 = 0.45;

/// Silver less its surroundings along lines of one axis.
struct Crossing {
    lines: Lines,
    /// Median of each line, density; `None` where the line is too short.
    silver_d: Vec<Option<f64>>,
    /// From where to where along it each line is known, cells.
    reach: Vec<[f64; 2]>,
}

impl Crossing {
    fn of(response: &Response, profile: &Profile) -> Crossing {
        let lines = Lines::of(response.cells.dim(), profile.course);
        let blurred =
            |cores: f64| gaussian_over(&response.silver, &response.known, cores * response.core);
        let silver = blurred(1.0) - blurred(SURROUND);
        let mut along: Vec<Vec<f64>> = vec![Vec::new(); lines.count];
        let mut reach = vec![[f64::INFINITY, f64::NEG_INFINITY]; lines.count];
        for ((i, j), known) in response.known.indexed_iter() {
            if *known > 0.0 {
                let line = lines.at(i, j);
                along[line].push(f64::from(silver[[i, j]]));
                let at = lines.along(i, j);
                reach[line] = [reach[line][0].min(at), reach[line][1].max(at)];
            }
        }
        let medians = along.iter_mut().zip(&profile.long);
        let silver_d = medians.map(|(values, long)| median(values).filter(|_| *long));
        Crossing {
            silver_d: silver_d.collect(),
            lines,
            reach,
        }
    }

    /// Height of waves of a spacing about a line, density: the part of the silver that goes with them over one
    /// spacing to either side.
    fn height_d(&self, crest: f64, spacing: f64) -> f64 {
        let last = ((crest + spacing) as usize + 1).min(self.silver_d.len());
        let (mut with, mut all) = (0.0, 0.0);
        for k in (crest - spacing).max(0.0) as usize..last {
            let wave = (std::f64::consts::TAU * (k as f64 - crest) / spacing).cos();
            with += self.silver_d[k].unwrap_or(0.0) * wave;
            all += wave * wave;
        }
        with / f64::max(all, 1e-9)
    }

    /// Lines that are crests, with their heights: from the highest to either side as long as they go on.
    fn crests(&self, profile: &Profile, waves: &Waves) -> Vec<(usize, f64)> {
        let followed = (FOLLOWED_MM / profile.step_mm) as usize;
        let last = profile.means.len();
        let (from, to) = match waves.low_end {
            true => (waves.from, (waves.from + followed).min(last)),
            false => (last.saturating_sub(followed), last),
        };
        let spacing = waves.spacing_mm / profile.step_mm;
        let (re, im) = turned(
            &profile.means[from..to],
            0.0,
            profile.step_mm,
            waves.spacing_mm,
        );
        let first = (im.atan2(re) / std::f64::consts::TAU * spacing).rem_euclid(spacing);
        let places: Vec<(usize, f64)> = (0..)
            .map(|k| from as f64 + first + f64::from(k) * spacing)
            .take_while(|crest| *crest < to as f64)
            .map(|crest| (crest as usize, self.height_d(crest, spacing)))
            .collect();
        let highest = (0..places.len()).max_by(|a, b| places[*a].1.total_cmp(&places[*b].1));
        let Some(highest) = highest.filter(|at| places[*at].1 > 0.0) else {
            return Vec::new();
        };
        let goes_on = |k: &usize| places[*k].1 >= FOLLOWED_SHARE * places[highest].1;
        let before = (0..highest).rev().take_while(goes_on).count();
        let beyond = (highest + 1..places.len()).take_while(goes_on).count();
        places[highest - before..=highest + beyond].to_vec()
    }
}

/// The crests of waves as a family of bands.
pub(super) fn crests(response: &Response, profile: &Profile, waves: &Waves) -> Family {
    let pitch_mm = response.pitch_mm;
    let crossing = Crossing::of(response, profile);
    let lines = &crossing.lines;
    let place = |line: usize, along: f64| lines.place(line, along).map(|cells| cells * pitch_mm);
    let of_crest = |(line, height_d): (usize, f64)| {
        let [low, high] = crossing.reach[line];
        // Where it crosses the plate's middle, or its own middle where it is slanted.
        let middle = match lines.way {
            Way::Slanted => 0.5 * (low + high),
            Way::Upright | Way::Level => lines.middle,
        };
        (low < high).then(|| Line {
            ends_mm: [place(line, low), place(line, high)],
            middle_mm: place(line, middle),
            agreement: waves.power.sqrt(),
            coverage: 1.0,
            sign: 1.0,
            width_mm: CREST_SHARE * waves.spacing_mm,
            contrast_d: CORE_OVER_HEIGHT * height_d.max(0.0) / left_by_blur(waves.spacing_mm),
            step_d: 0.0,
        })
    };
    let crests = crossing.crests(profile, waves);
    // The profile as `Family::across_mm` counts: along the plate's middle unless slanted.
    let of_first = lines.place(0, lines.middle).map(|cells| cells * pitch_mm);
    let (first_mm, scale) = match lines.way {
        Way::Slanted => (profile.first_mm, 1.0),
        Way::Upright => (of_first[0], lines.cos),
        Way::Level => (of_first[1], lines.sin),
    };
    Family {
        axis_deg: profile.course.axis_deg.rem_euclid(180.0),
        upright: match lines.way {
            Way::Slanted => profile.course.axis_deg < 90.0,
            way => way == Way::Upright,
        },
        slanted: lines.way == Way::Slanted,
        scale_mm: 0.25 * waves.spacing_mm,
        sagitta_mm: lines.sagitta() * pitch_mm,
        energy: waves.power,
        usual_energy: 1.0,
        regularity: waves.share,
        scene: OverScene::default(),
        room: 0.0,
        lines: crests.into_iter().filter_map(of_crest).collect(),
        across: Across {
            first_mm,
            step_mm: profile.step_mm / scale,
            silver_d: crossing.silver_d,
        },
    }
}

/// Share of a wave's height that the blur and its surroundings leave.
fn left_by_blur(spacing_mm: f64) -> f64 {
    let left = |cores: f64| {
        let turns = std::f64::consts::TAU * cores * CORE_MM / spacing_mm;
        (-0.5 * turns * turns).exp()
    };
    left(1.0) - left(SURROUND)
}
