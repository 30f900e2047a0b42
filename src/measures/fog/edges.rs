//! Silver against distance from each edge: fog that enters from the side.
//!
//! What it means: light that reached the plate past the holder, the slide or the camera leaves silver
//! that is strongest at an edge and fades inward. Where the holder's ledge kept a border dark, all
//! silver in that border is fog; elsewhere the scene lies over it, and only the lower envelope along
//! the edge can speak. Where silver falls inward over the borders all round, none of them is free of fog, and
//! what they fall toward is the level without.
//! Input: a squared-up plate with its parts told apart and its density map.
//! Output: per edge `a + f exp(-x / L)`: `f` extra silver at the edge (density, positive), `L` depth
//! in millimetres at which it has fallen to 1/e, and the stretch of the edge it covers.
//! Method: medians over blocks along the edge, least squares in `a` and `f` over a ladder of `L`,
//! intervals by a bootstrap over blocks (Efron and Tibshirani, An Introduction to the Bootstrap,
//! 1993, chapter 8, blocks because neighbours along the edge are alike).
//! Doubtful when: the border is narrower than 1 mm, or there is none and the plate holds a scene.

use super::fit::{Stretch, level_below};
use super::strip::{BLOCK_MM, START_MM, Strip};
use crate::density::NARROW_BORDER_MM;
use crate::plate::{Edge, Plate, PlateKind};
use crate::raster::stats::{median, median_and_sigma, quantile};
use crate::units::Reading;

/// Silver against distance from one edge.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeProfile {
    /// Which edge.
    pub edge: Edge,
    /// Distance from the edge, millimetres, rising.
    pub distance_mm: Vec<f64>,
    /// Silver along the edge, density: lower quartile over blocks; `None` where nothing can be said.
    pub silver_d: Vec<Option<f64>>,
    /// Where the holder's ledge ends, millimetres from the edge, if there is one.
    pub ledge_mm: Option<f64>,
    /// Fitted `a + f exp(-x/L)` when fog was found: `(a, f, L in mm)`.
    pub fit: Option<(f64, f64, f64)>,
}

/// What an edge's fog rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ground {
    /// The border that the holder kept from the light.
    Border,
    /// An even test plate: nothing but fog varies.
    EvenPlate,
    /// The lower envelope of a scene.
    Scene,
}

/// Extra silver along one edge.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeFog {
    /// Which edge.
    pub edge: Edge,
    /// Extra silver at the edge, density.
    pub fog_d: Reading,
    /// Depth at which it has fallen to 1/e, millimetres.
    pub depth_mm: Reading,
    /// Stretch along the edge, millimetres from its top or left end.
    pub from_mm: f64,
    /// See `from_mm`.
    pub to_mm: f64,
    /// Silver that the rest of the edge or plate shows, density (the fit's `a`).
    pub level_d: f64,
    /// Extra silver as seen in the outermost usable millimetre, density: what is tested.
    pub seen_d: f64,
    /// Scatter of that figure between blocks of the same edge, density.
    pub scatter_d: f64,
    /// What it rests on.
    pub ground: Ground,
    /// Scatter of the silver past the fog between blocks along the edge, density: how much a scene
    /// varies there. 0 in a border, where there is no scene.
    pub texture_d: f64,
    /// By how much silver strays from the fitted fall, root of the mean square, density.
    pub misfit_d: f64,
}

/// Shortest stretch of fog along an edge that is looked for, as a share of the edge; a narrower one is
/// a leak or a stain.
const SHORTEST_SHARE: f64 = 0.3;

/// The same where a scene lies over it: few things in a scene line half an edge.
const SHORTEST_OVER_SCENE: f64 = 0.45;

/// Rows that the outermost ones are compared with on even plates, millimetres: past most fog.
const FAR_MM: [f64; 2] = [9.0, 13.0];
/// The same over scenes: nearer, since a scene changes.
const FAR_IN_SCENE_MM: [f64; 2] = [5.0, 7.0];

/// How much faster than half its rise the silver over a scene must fall within the outer part, as a
/// share of the rise. A straight slope gives -0.14, fog 8 mm deep -0.06, fog 3 mm deep 0.08.
const LEAST_BEND: f64 = -0.07;

/// Window that smooths along the edge, millimetres: wider than any tongue.
const WINDOW_MM: f64 = 14.0;

/// Most that the glow of a bright lid is believed to add along an edge, density, in a border against its own inner
/// half, and on a blank plate against its middle. More is fog, even if all four edges show it alike. Of 285 made
/// positives on a white lid without edge fog the least of the borders rose by 0.003 at the median, and one in
/// a hundred by more than 0.011.
const MOST_GLOW_D: [f64; 2] = [0.012, 0.05];
/// By how much the tenth of an edge of a blank plate that rises least lies below its median where only glow
/// rises, density: on nine of ten edges of 62 made plates by no more.
const LEAST_TENTH_D: f64 = 0.016;

/// Least fall of silver inward over a border that shows fog, density. Of 615 made plates without edge fog none
/// fell by more than 0.011 over its quietest border and all others but one: the lid's glow.
const FALL_ALL_ROUND_D: f64 = 0.014;
/// Rows in which a fall shows: 1 mm.
const LEAST_FALLING_ROWS: usize = 4;

/// Measures silver against distance from every edge, and fog where there is any sign of it.
///
/// The verdict is not here: every edge with a positive excess is handed on, faint ones too.
pub(super) fn measure(plate: &Plate, strips: &[Strip; 4]) -> (Vec<EdgeProfile>, Vec<EdgeFog>) {
    let quiet = quiet_border(strips).map(|(level, strip)| match falls_all_round(strips, strip) {
        true => below_the_fog(strip, level),
        false => Level {
            silver_d: level + lid_glow(plate, strips, level),
            doubt_d: 0.0,
        },
    });
    // Blank plates are as dark as their border would be, far from every edge; the least of four, since
    // deep fog reaches that far.
    let unexposed = strips
        .iter()
        .filter(|_| plate.kind == PlateKind::Blank)
        .filter_map(|strip| {
            let far = strip.row(FAR_MM[0])..strip.row(FAR_MM[1]);
            quantile(&mut strip.known_blocks(far), 0.33)
        })
        .min_by(f64::total_cmp)
        .map(|level| level + lid_glow_on_blank(plate, strips, level));
    let mut profiles = Vec::new();
    let mut fogs = Vec::new();
    for strip in strips {
        let edge = strip.band.edge;
        let fog = if !strip.border.is_empty() {
            quiet.and_then(|level| in_border(strip, level))
        } else if matches!(plate.kind, PlateKind::Blank | PlateKind::Flat) {
            along_scene(strip, Ground::EvenPlate, unexposed)
        } else if plate.shows_its_edges() {
            along_scene(strip, Ground::Scene, None)
        } else {
            // A cropped scan does not show where the edge is.
            None
        };
        let all: Vec<usize> = (0..strip.silver.ncols()).collect();
        profiles.push(EdgeProfile {
            edge,
            distance_mm: (0..strip.silver.nrows())
                .map(|row| strip.band.distance_mm(row))
                .collect(),
            silver_d: strip.profile(&all, 0.25),
            ledge_mm: plate.ledge.width_mm[edge as usize],
            fit: fog
                .as_ref()
                .map(|fog| (fog.level_d, fog.fog_d.value, fog.depth_mm.value)),
        });
        fogs.extend(fog);
    }
    (profiles, fogs)
}

/// Silver of the border that has least, and whose it is: the quietest edge's lower third, over the inner half
/// of its border.
///
/// A narrow border, where an unseen rim may pass for it, counts only where there is no broad one, or where even
/// the quietest of the broad ones is fogged.
fn quiet_border(strips: &[Strip; 4]) -> Option<(f64, &Strip)> {
    let broadest = strips
        .iter()
        .map(|strip| strip.ledge_mm)
        .fold(0.0, f64::max);
    let quietest = |least_mm: f64| {
        strips
            .iter()
            .filter(|strip| !strip.border.is_empty() && strip.ledge_mm >= least_mm)
            .filter_map(|strip| {
                let middle = (strip.border.start + strip.border.end) / 2;
                let mut levels = strip.known_blocks(middle..strip.border.end);
                let level = quantile(&mut levels, 0.33)?;
                (levels.len() >= 20).then_some((level, strip))
            })
            .min_by(|a, b| a.0.total_cmp(&b.0))
    };
    let of_broad = quietest(NARROW_BORDER_MM.min(broadest))?;
    match falls_inward(of_broad.1) {
        true => quietest(0.0),
        false => Some(of_broad),
    }
}

/// Whether silver falls inward over the border of an edge, as it does under fog alone.
fn falls_inward(strip: &Strip) -> bool {
    border_fall(strip).is_some_and(|fall_d| fall_d >= FALL_ALL_ROUND_D)
}

/// Whether silver falls inward over the borders all round, so that even the quietest is fogged: over that
/// one and over all others but one.
fn falls_all_round(strips: &[Strip; 4], quietest: &Strip) -> bool {
    let bordered = strips.iter().filter(|strip| !strip.border.is_empty());
    let (falling, still): (Vec<&Strip>, Vec<&Strip>) =
        bordered.partition(|strip| falls_inward(strip));
    falls_inward(quietest) && falling.len() + still.len() >= 3 && still.len() <= 1
}

/// Silver inward over the border of an edge, density: lower quartile over the blocks along it, so that a tongue
/// counts for nothing.
fn border_profile(strip: &Strip) -> Vec<Option<f64>> {
    let all: Vec<usize> = (0..strip.silver.ncols()).collect();
    let profile = strip.profile(&all, 0.25);
    profile
        .get(strip.border.clone())
        .map(<[_]>::to_vec)
        .unwrap_or_default()
}

/// By how much silver falls from the outer end of a border to the inner one, density.
fn border_fall(strip: &Strip) -> Option<f64> {
    let known: Vec<f64> = border_profile(strip).into_iter().flatten().collect();
    (known.len() >= LEAST_FALLING_ROWS).then(|| Some(known.first()? - known.last()?))?
}

/// Silver of border without fog, density.
#[derive(Debug, Clone, Copy)]
struct Level {
    silver_d: f64,
    /// Half width of its 95 % interval beyond the scatter of the border's own cells.
    doubt_d: f64,
}

/// What the quietest border falls toward, which is as unsure as it is far: our own choice. Of 14 edges of four
/// made plates fogged all round the fog read 0.01 to 0.1 D low on twelve, 0.2 low and 0.05 high on the others.
fn below_the_fog(quietest: &Strip, level: f64) -> Level {
    let below = level_below(quietest, &border_profile(quietest));
    let silver_d = below.map_or(level, |below| below.min(level));
    Level {
        silver_d,
        doubt_d: level - silver_d,
    }
}

/// Rows of the outermost usable millimetre of the border.
fn outer_rows(strip: &Strip) -> std::ops::Range<usize> {
    let millimetre = (1.0 / strip.band.step_mm).round() as usize;
    strip.border.start..(strip.border.start + millimetre.max(1)).min(strip.border.end)
}

/// What the glow of a bright lid adds along every edge of a positive alike: the least rise toward any
/// of at least three edges.
fn lid_glow(plate: &Plate, strips: &[Strip; 4], quiet: f64) -> f64 {
    if !plate.process.is_positive() || plate.surround_light.is_none_or(|light| light < 0.3) {
        return 0.0;
    }
    let bordered = strips.iter().filter(|strip| !strip.border.is_empty());
    let rises: Vec<f64> = bordered
        .filter_map(|strip| quantile(&mut strip.known_blocks(outer_rows(strip)), 0.5))
        .map(|level| level - quiet)
        .collect();
    least_rise(&rises, 3, MOST_GLOW_D[0])
}

/// The same on a blank plate, which has no border: all four edges must show it.
fn lid_glow_on_blank(plate: &Plate, strips: &[Strip; 4], unexposed: f64) -> f64 {
    if !plate.process.is_positive() || plate.surround_light.is_none_or(|light| light < 0.3) {
        return 0.0;
    }
    let rises: Vec<f64> = strips
        .iter()
        .filter_map(|strip| {
            let mut levels = strip.known_blocks(strip.row(1.2)..strip.row(2.2));
            // Fog that covers part of an edge leaves some of it to the glow alone.
            let least_tenth = quantile(&mut levels, 0.1)?;
            Some(quantile(&mut levels, 0.5)?.min(least_tenth + LEAST_TENTH_D))
        })
        .map(|level| level - unexposed)
        .collect();
    least_rise(&rises, 4, MOST_GLOW_D[1])
}

/// The least of at least `edges` rises, as far as it is believed to be glow, density.
fn least_rise(rises: &[f64], edges: usize, most_d: f64) -> f64 {
    if rises.len() < edges {
        return 0.0;
    }
    let least = rises.iter().copied().fold(f64::INFINITY, f64::min);
    least.clamp(0.0, most_d)
}

/// Running median over a window of blocks; `None` where less than half the window is known.
pub(super) fn running_median(values: &[Option<f64>], window: usize) -> Vec<Option<f64>> {
    let half = window / 2;
    (0..values.len())
        .map(|k| {
            let from = k.saturating_sub(half);
            let to = (k + half + 1).min(values.len());
            let mut known: Vec<f64> = values[from..to].iter().copied().flatten().collect();
            (known.len() * 2 > to - from)
                .then(|| median(&mut known))
                .flatten()
        })
        .collect()
}

/// The longest run of blocks above a level, gaps of a few blocks allowed: `(from, to)` exclusive.
fn longest_run(values: &[Option<f64>], above: f64, gap: usize) -> Option<(usize, usize)> {
    let mut best: Option<(usize, usize)> = None;
    let mut run: Option<(usize, usize)> = None;
    for (k, value) in values.iter().enumerate() {
        if value.is_some_and(|v| v > above) {
            run = match run {
                Some((from, to)) if k - to <= gap => Some((from, k + 1)),
                _ => Some((k, k + 1)),
            };
            let longer = |b: (usize, usize)| run.is_some_and(|r| r.1 - r.0 > b.1 - b.0);
            if best.is_none_or(longer) {
                best = run;
            }
        }
    }
    best
}

/// Fog in the border that the ledge kept dark: all silver above the quiet border is fog.
fn in_border(strip: &Strip, quiet: Level) -> Option<EdgeFog> {
    let seen: Vec<Option<f64>> = strip
        .blocks(outer_rows(strip))
        .into_iter()
        .map(|s| s.map(|s| s - quiet.silver_d))
        .collect();
    let smooth = running_median(&seen, (WINDOW_MM / BLOCK_MM) as usize);
    let mut known: Vec<f64> = smooth.iter().copied().flatten().collect();
    let peak = quantile(&mut known, 0.9)?;
    let (from, to) = longest_run(&smooth, 0.5 * peak.max(0.0), 8)?;
    let stretch: Vec<usize> = (from..to).collect();
    let levels: Vec<f64> = stretch.iter().filter_map(|b| seen[*b]).collect();
    let (seen_d, _) = median_and_sigma(&levels)?;
    let scatter_d = roughness(&stretch, &seen, &smooth)?;
    if seen_d <= 0.0 || share(strip, &stretch) < SHORTEST_SHARE {
        return None;
    }
    let stretch = Stretch {
        blocks: stretch,
        rows: strip.border.clone(),
        level: Some(quiet.silver_d),
        quantile: 0.5,
        ground: Ground::Border,
        seen_d,
        scatter_d,
        texture_d: 0.0,
    };
    let mut fog = stretch.fit(strip)?;
    fog.fog_d.u = fog.fog_d.u.hypot(quiet.doubt_d);
    Some(fog)
}

/// Fog without a dark border: silver that rises toward the edge in nearly every block alike.
///
/// `unexposed` is the silver of a plate that no light reached, where that is known.
fn along_scene(strip: &Strip, ground: Ground, unexposed: Option<f64>) -> Option<EdgeFog> {
    // Lip, blur and rim reach further where no ledge proves where the coating begins.
    let start = strip.row(START_MM + 0.5).max(
        (0..strip.silver.nrows())
            .find(|row| {
                let usable = (0..strip.silver.ncols())
                    .filter(|b| strip.silver[[*row, *b]].is_some())
                    .count();
                usable * 10 >= strip.silver.ncols() * 9
            })
            .unwrap_or(0)
            + 1,
    );
    let rows = |mm: f64| start + (mm / strip.band.step_mm) as usize;
    let far_mm = match ground {
        Ground::Scene => FAR_IN_SCENE_MM,
        _ => FAR_MM,
    };
    let far_rows = rows(far_mm[0])..rows(far_mm[1]).min(strip.silver.nrows());
    let far_at = |block: usize| unexposed.or_else(|| strip.block(block, far_rows.clone()));
    let near = strip.blocks(start..rows(1.0));
    let rise: Vec<Option<f64>> = near
        .iter()
        .enumerate()
        .map(|(block, near)| Some((*near)? - far_at(block)?))
        .collect();
    let smooth = running_median(&rise, (WINDOW_MM / BLOCK_MM) as usize);
    let mut known: Vec<f64> = smooth.iter().copied().flatten().collect();
    let peak = quantile(&mut known, 0.9)?;
    let (from, to) = longest_run(&smooth, 0.4 * peak.max(0.0), 8)?;
    let stretch: Vec<usize> = (from..to).collect();
    let rises: Vec<f64> = stretch.iter().filter_map(|b| rise[*b]).collect();
    let (seen_d, _) = median_and_sigma(&rises)?;
    let scatter_d = roughness(&stretch, &rise, &smooth)?;
    let shortest = match ground {
        Ground::Scene => SHORTEST_OVER_SCENE,
        _ => SHORTEST_SHARE,
    };
    if seen_d <= 0.0 || share(strip, &stretch) < shortest {
        return None;
    }
    // Nearly every block must rise, over a scene fastest at the edge: its own gradients are straight.
    let rising = rises.iter().filter(|r| **r > 0.25 * seen_d).count();
    let mid = strip.blocks(rows(2.0)..rows(3.0));
    let mut bends: Vec<f64> = stretch
        .iter()
        .filter_map(|b| Some((near[*b]? - mid[*b]?) - 0.5 * (near[*b]? - far_at(*b)?)))
        .collect();
    let bend = median(&mut bends)?;
    let bends = ground != Ground::Scene || bend >= LEAST_BEND * seen_d;
    if rising * 5 < rises.len() * 4 || !bends {
        return None;
    }
    let far: Vec<f64> = stretch.iter().filter_map(|b| far_at(*b)).collect();
    let stretch = Stretch {
        texture_d: median_and_sigma(&far)?.1,
        blocks: stretch,
        rows: start..strip.silver.nrows(),
        level: unexposed,
        quantile: match ground {
            Ground::Scene => 0.35,
            _ => 0.5,
        },
        ground,
        seen_d,
        scatter_d,
    };
    stretch.fit(strip)
}

/// Scatter of the blocks of a stretch about their running median: fog may swell and fade along an
/// edge, but smoothly.
fn roughness(stretch: &[usize], values: &[Option<f64>], smooth: &[Option<f64>]) -> Option<f64> {
    let off: Vec<f64> = stretch
        .iter()
        .filter_map(|b| Some(values[*b]? - smooth[*b]?))
        .collect();
    Some(median_and_sigma(&off)?.1)
}

/// Share of the edge that a stretch of blocks takes.
fn share(strip: &Strip, stretch: &[usize]) -> f64 {
    stretch.len() as f64 / strip.silver.ncols().max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn running_median_drops_narrow_bumps() {
        let mut values = vec![Some(0.0); 40];
        for v in &mut values[10..14] {
            *v = Some(1.0);
        }
        assert!(running_median(&values, 21).iter().all(|v| *v == Some(0.0)));
    }

    #[test]
    fn the_longest_run_bridges_small_gaps() {
        let v: Vec<Option<f64>> = [0.0, 1.0, 1.0, 0.0, 1.0, 1.0, 0.0, 0.0, 0.0, 1.0]
            .map(Some)
            .to_vec();
        assert_eq!(longest_run(&v, 0.5, 1), Some((1, 6)));
        assert_eq!(longest_run(&v, 2.0, 1), None);
    }
}
