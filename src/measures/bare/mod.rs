//! Places on the plate that the collodion did not cover.
//!
//! What it means: where the pour stopped short or ran apart, the support itself shows: less silver than
//! anything else on the plate, even all over, behind one smooth sharp line. What was coated carries at
//! least the veil, so even the border that no light reached lies above it.
//! Input: a squared-up plate with its density map.
//! Output: each such place with its area and outline (millimetres), its silver, what lies beyond its
//! line, and how far it lies below the rest of the plate and below the border (density).
//! Method: what hangs together at the least silver of the plate, without what is thinner than 0.8 mm.
//! Looked for inside the holder's opening with room for noise, over the whole plate, border and all, with
//! little room, and on an even plate once more well inside, where the lid casts no shadow, and in each corner, where
//! what the other corners show of the holder's supports is the measure. Strips of dark
//! things that hang on to a corner are cut off.
//! Doubtful when: a dark scene fills the place and the plate has no veil.

use crate::density::{Cells, DensityMap};
use crate::handling::Corner;
use crate::plate::{Edge, Plate, PlateKind};
use crate::raster::filter::gaussian_over;
use crate::raster::regions::erode;
use crate::raster::stats::median;
use crate::raster::{Grid, Mask};

mod cut;
mod place;
mod supports;

/// An even place with less silver than what lies beside it.
#[derive(Debug, Clone, PartialEq)]
pub struct BarePlace {
    /// The corner it lies in; `None` for an island or a place on one edge.
    pub corner: Option<Corner>,
    /// The edges it reaches, where it lies in no corner.
    pub edge: Option<Edge>,
    /// Area of what lies inside the plate's cut, or inside the ledge, square millimetres.
    pub area_mm2: f64,
    /// Bounds, millimetres: left, top, right, bottom.
    pub box_mm: [f64; 4],
    /// Median silver, density.
    pub level_d: f64,
    /// How far its silver varies from millimetre to millimetre (5th to 95th percentile), density.
    pub unevenness_d: f64,
    /// Silver past the line less that of the place, median along the line, density.
    pub contrast_d: f64,
    /// The same just beside the line where it is least (10th percentile).
    pub least_rise_d: f64,
    /// Share of the line just beside which silver exceeds half of the contrast.
    pub sharp_share: f64,
    /// The least silver of the rest, in squares of a millimetre, less that of the place, density; what is more
    /// than some 0.8 counts as that.
    pub below_rest_d: f64,
    /// Silver of the border less that of the place, density; `None` without a border.
    pub below_border_d: Option<f64>,
    /// How much of it lies beyond what the holder's supports take of the other corners of an even plate, less the most
    /// that any of those lies beyond the rest, square millimetres; `None` where that was not compared.
    pub beyond_support_mm2: Option<f64>,
    /// How many times as large it is as what stands in any other corner, at most; 0 where that was not compared.
    pub over_others: f64,
    /// Whether a support of the holder may be this: it stands in a corner, and others show the like.
    pub may_be_support: bool,
    /// Outline, millimetres.
    pub outline_mm: Vec<[f64; 2]>,
}

/// Silver within this of the plate's least belongs to the place, density: inside the opening, where the
/// scene's shadows lie well above, and with the border, which may lie hardly above. Our own choice.
const ALIKE_D: [f64; 2] = [0.05, 0.022];
/// Silver of the border above a corner in which a support stands from which it is bare all the same, density: film
/// that no light reached varies by less. Our own choice.
const LIKE_BORDER_D: f64 = 0.03;
/// Past the ledge's half shadow, millimetres.
const HALF_SHADOW_MM: f64 = 0.7;
/// What may be left of it along the rim of the opening, cells.
const HALF_SHADOW_CELLS: usize = 2;
/// Along the plate's own edges, millimetres: the cut and the scanner's blur of it.
const SKIN_MM: f64 = 0.6;
/// Off the edges of an even plate, millimetres.
const MIDDLE_MM: f64 = 5.0;
/// A place in a corner that reaches so far beyond the support there is none, square millimetres, on even plates and
/// on pictures, whose dark things may touch a support. Our own choice: five of 235 dark corners of clean practice plates
/// (design `shapes`, seeds 760000) reach beyond by 1 and more, four without a line and one no lower than the rest; of
/// design `full` a false place on a picture reached 1.3.
const BEYOND_MM2: [f64; 2] = [1.0, 2.0];
/// Blur under which places are looked for, and over which the least silver is taken, millimetres.
const FINE_MM: f64 = 0.14;
/// See [`FINE_MM`].
const BROAD_MM: f64 = 0.28;
/// Which of the least cells is the plate's least silver: so many square millimetres lie below.
const LEAST_OF_MM2: f64 = 1.6;

/// What places are looked for in.
struct Ground {
    /// Silver under a little blur.
    fine: Grid<f32>,
    /// Silver of squares of about a millimetre.
    broad: Grid<f32>,
    pitch_mm: f64,
    /// Silver of the border, where there is one.
    border_d: Option<f64>,
    size_mm: [f64; 2],
}

/// One way of looking: where, and how much silver belongs to a place.
struct Look {
    within: Mask,
    alike_d: f64,
    /// Where the lines of places are looked at: what lies past them in the border is hardly lighter.
    lines: Mask,
    /// Whether the holder's supports may stand in the corners.
    supports: bool,
    /// Which edges show the ledge that the supports belong to, in the order of [`Edge::ALL`].
    ledges: [bool; 4],
    /// A place in a corner that reaches so far beyond the support there is none, square millimetres.
    beyond_mm2: f64,
    /// Whether only what lies wholly inside counts.
    islands_only: bool,
    /// The most that a support takes of each corner, in the order of [`Corner::ALL`], square millimetres; `None` where
    /// it is not told, or the border is looked at as well.
    support_mm2: [Option<f64>; 4],
}

/// Looks all over the plate; largest first.
pub(super) fn measure(plate: &Plate, cells: &Cells, map: &DensityMap) -> Vec<BarePlace> {
    let silver = cells.silver_on_plate(map);
    let known = silver.mapv(|cell| cell.is_some());
    let pitch_mm = cells.pitch_mm;
    let weight = known.mapv(|known| if known { 1.0f32 } else { 0.0 });
    let filled = silver.mapv(|cell| cell.unwrap_or(0.0) as f32);
    let blurred = |mm: f64| gaussian_over(&filled, &weight, mm / pitch_mm);
    let (fine, broad) = rayon::join(|| blurred(FINE_MM), || blurred(BROAD_MM));
    let ground = Ground {
        border_d: border(plate, &silver, pitch_mm),
        fine,
        broad,
        pitch_mm,
        size_mm: [plate.width_mm, plate.height_mm],
    };
    let off_cut = erode(&known, 2);
    let ledges = plate.ledge.width_mm.map(|mm| mm.is_some());
    let bordered = ledges.contains(&true);
    let opening = inside(plate, &off_cut, pitch_mm, HALF_SHADOW_MM);
    // Along the opening's own rim the half shadow is as dark as a place.
    let lines = erode(&opening, HALF_SHADOW_CELLS);
    let beyond_mm2 = match plate.kind {
        PlateKind::Picture => BEYOND_MM2[1],
        PlateKind::Blank | PlateKind::Flat | PlateKind::Wedge => BEYOND_MM2[0],
    };
    let with_ledges = Corner::ALL
        .map(|corner| Edge::of_corner(corner).map(|edge| ledges[edge as usize]) == [true; 2]);
    let support_mm2 = supports::support_mm2(&ground.fine, &opening, pitch_mm, with_ledges);
    let mut looks = vec![Look {
        within: opening.clone(),
        lines: lines.clone(),
        alike_d: ALIKE_D[0],
        // In a scan cut inside the edge they may stand where the border is cut away.
        supports: bordered || !plate.found,
        ledges,
        beyond_mm2,
        islands_only: false,
        support_mm2,
    }];
    if bordered {
        looks.push(Look {
            within: within(&off_cut, [SKIN_MM; 4], pitch_mm),
            lines,
            alike_d: ALIKE_D[1],
            supports: false,
            ledges,
            beyond_mm2,
            islands_only: false,
            support_mm2: [None; 4],
        });
    }
    // On an even plate nothing in the middle is as low as bare support; along its edges the lid's shadow is.
    if plate.kind == PlateKind::Flat {
        let middle = within(&opening, [MIDDLE_MM; 4], pitch_mm);
        looks.push(Look {
            within: middle.clone(),
            lines: middle,
            alike_d: ALIKE_D[0],
            supports: false,
            ledges,
            beyond_mm2,
            islands_only: true,
            support_mm2: [None; 4],
        });
    }
    let mut places: Vec<BarePlace> = Vec::new();
    let mut supports: Vec<Corner> = Vec::new();
    for look in &looks {
        let mut seen = ground.places(look);
        seen.bare.retain(|place| {
            let stands = place
                .corner
                .is_some_and(|corner| supports.contains(&corner));
            (!look.islands_only || place.is_island()) && !(stands && place.is_like_border())
        });
        places.extend(seen.bare);
        supports.extend(seen.supports);
    }
    if plate.kind == PlateKind::Flat && !ledges.contains(&false) {
        let to_ledge = inside(plate, &off_cut, pitch_mm, 0.0);
        places.extend(ground.beyond_supports(&looks[0], &to_ledge));
    }
    places.sort_by(|a, b| b.area_mm2.total_cmp(&a.area_mm2));
    let mut apart: Vec<BarePlace> = Vec::new();
    for place in places {
        // Seen in several looks, a place is told by the look that puts it farther below the rest, and best of all by
        // what the other corners show.
        let tells = |place: &BarePlace| (place.beyond_support_mm2.is_some(), place.below_rest_d);
        match apart.iter_mut().find(|other| other.overlaps(&place)) {
            Some(other) if tells(&place) > tells(other) => *other = place,
            Some(_) => {}
            None => apart.push(place),
        }
    }
    apart
}

/// Cells inside the holder's opening, so far past the ledge; where an edge has none, past the skin.
fn inside(plate: &Plate, off_cut: &Mask, pitch_mm: f64, past_mm: f64) -> Mask {
    let margins = plate.ledge.width_mm.map(|mm| match mm {
        Some(mm) => mm + past_mm,
        None => SKIN_MM,
    });
    within(off_cut, margins, pitch_mm)
}

/// The marked cells that lie as far in from the top, right, bottom and left edge.
fn within(marked: &Mask, margins_mm: [f64; 4], pitch_mm: f64) -> Mask {
    let (rows, columns) = marked.dim();
    let [top, right, bottom, left] = margins_mm.map(|mm| (mm / pitch_mm).ceil() as usize);
    Mask::from_shape_fn((rows, columns), |(i, j)| {
        i >= top && i + bottom < rows && j >= left && j + right < columns && marked[[i, j]]
    })
}

/// Rows and columns, from and to.
type Window = [usize; 4];

/// Rows and columns that the marked cells take.
fn bounds_of(mask: &Mask) -> Option<Window> {
    let mut bounds: Option<Window> = None;
    for ((i, j), _) in mask.indexed_iter().filter(|(_, set)| **set) {
        let [top, left, bottom, right] = bounds.unwrap_or([i, j, i + 1, j + 1]);
        bounds = Some([top.min(i), left.min(j), bottom.max(i + 1), right.max(j + 1)]);
    }
    bounds
}

/// Median silver of the border between the skin and the half shadow.
fn border(plate: &Plate, silver: &Grid<Option<f64>>, pitch_mm: f64) -> Option<f64> {
    let skin = SKIN_MM / pitch_mm;
    let (rows, columns) = silver.dim();
    let [top, right, bottom, left] = plate
        .ledge
        .width_mm
        .map(|mm| mm.map(|mm| mm - HALF_SHADOW_MM));
    let in_strip = |from_edge: usize, mm: Option<f64>| {
        mm.is_some_and(|mm| from_edge as f64 > skin && (from_edge as f64) * pitch_mm < mm)
    };
    let mut values: Vec<f64> = silver
        .indexed_iter()
        .filter(|((i, j), _)| {
            in_strip(*i, top)
                || in_strip(rows - 1 - i, bottom)
                || in_strip(*j, left)
                || in_strip(columns - 1 - j, right)
        })
        .filter_map(|(_, silver)| *silver)
        .collect();
    (values.len() >= 100).then(|| median(&mut values)).flatten()
}

impl BarePlace {
    /// Whether it holds hardly less silver than the border: where a support stands in its corner, it is that.
    fn is_like_border(&self) -> bool {
        self.below_border_d.is_some_and(|d| d < LIKE_BORDER_D)
    }

    /// Share of the box of what shows of it that it fills.
    pub fn fills(&self) -> f64 {
        let [across, down] = self.sides_mm();
        self.area_mm2 / (across * down).max(f64::MIN_POSITIVE)
    }

    /// Sides of the box of what shows of it, millimetres: over a border that looks the same it runs on.
    pub fn sides_mm(&self) -> [f64; 2] {
        [0, 1].map(|k| {
            let along = || self.outline_mm.iter().map(|at| at[k]);
            along().fold(f64::MIN, f64::max) - along().fold(f64::MAX, f64::min)
        })
    }

    /// Whether it reaches no edge of what was looked at.
    fn is_island(&self) -> bool {
        self.corner.is_none() && self.edge.is_none()
    }

    /// Whether two looks saw the same place.
    fn overlaps(&self, other: &BarePlace) -> bool {
        let side = |k: usize| {
            self.box_mm[k + 2].min(other.box_mm[k + 2]) - self.box_mm[k].max(other.box_mm[k])
        };
        side(0) > 0.0 && side(1) > 0.0
    }
}
