//! A second scan of the same plate, turned half round on the scanner's glass.
//!
//! What belongs to the plate turns with it; what lies on the glass does not. Both plates are squared up
//! first, so that only small shifts and turns are left to find.

use std::path::{Path, PathBuf};

use rayon::prelude::*;

use super::Plate;
use crate::raster::Grid;
use crate::raster::filter::gaussian;
use crate::raster::geometry::{Homography, Point, distance, sample};
use crate::raster::register::{Bilinear, Registered, register};
use crate::raster::stats::quantile;

/// Cells along the plate's longer side that the two are laid on each other by: a tenth of a millimetre
/// on a sixth plate, a quarter on a whole one, of which places are told to a small share. Counted in
/// shares of the plate, since the scale may be unknown, or stated wrongly.
const CELLS_ALONG: f64 = 800.0;

/// How far apart the outlines of two scans may put one place, cells: chipped and faint sides.
const REACH_CELLS: usize = 30;

/// How far the sizes of one plate may differ between two scans, share of the longer side: twice the reach
/// of a faint side.
const SAME_SIZE: f64 = 0.03;

/// Kept off the edges, beyond the holder's ledge, cells: the border's step is alike on all plates of one
/// holder and proves nothing.
const MARGIN_CELLS: f64 = 30.0;

/// Range of density (5th to 95th percentile) from which a plate shows a picture that its second scan
/// must show too. Our own choice: even plates stay below, portraits reach a whole density.
const PICTURE_D: f64 = 0.25;

/// Light below which densities are noise.
const DARKEST_LIGHT: f32 = 0.0015;

/// Blur before cells are taken, cells.
const BLUR_CELLS: f64 = 0.5;

/// Blur before a picture's range is told, cells: grain and dust are no picture.
const PICTURE_BLUR_CELLS: f64 = 10.0;

/// How the second scan came to lie on the first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LaidBy {
    /// By the plate's own picture: blocks that agree, and how closely, millimetres.
    Picture { blocks: usize, within_mm: f64 },
    /// By the outline alone: the plate is too even to show a common detail.
    Outline,
}

/// Why two scans are not of one plate turned half round.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TurnedError {
    /// The sizes differ.
    #[error(
        "the second scan shows another plate: {:.1} x {:.1} mm instead of {:.1} x {:.1} mm",
        there_mm[0], there_mm[1], here_mm[0], here_mm[1]
    )]
    Size {
        here_mm: [f64; 2],
        there_mm: [f64; 2],
    },
    /// Each shows a picture, but not the same.
    #[error("the second scan does not show this plate turned half round: the two pictures differ")]
    Picture,
    /// It lies the same way in both.
    #[error("the plate lies the same way round in both scans")]
    SameWay,
}

impl TurnedError {
    /// What to do about it.
    pub fn hint(&self) -> &'static str {
        match self {
            TurnedError::Size { .. } | TurnedError::Picture => {
                "give two scans of the same side of the same plate after --turned, the second with the plate turned half round"
            }
            TurnedError::SameWay => {
                "take the plate up, turn it half round on the glass and scan it again"
            }
        }
    }
}

/// What is kept of the second scan's plate.
#[derive(Debug, Clone)]
pub struct SecondScan {
    /// Its file.
    pub file: PathBuf,
    light: Grid<f32>,
    pitch_mm: f64,
    size_mm: [f64; 2],
    corners_px: [Point; 4],
    dpi: Option<(f64, f64)>,
}

impl SecondScan {
    /// Keeps the light of a squared-up plate and gives the rest back.
    pub fn of(file: &Path, plate: Plate) -> SecondScan {
        SecondScan {
            file: file.to_path_buf(),
            size_mm: [plate.width_mm, plate.height_mm],
            pitch_mm: plate.pitch_mm,
            corners_px: plate.corners_px,
            dpi: plate.dpi,
            light: plate.light,
        }
    }

    /// Light at a place of the second plate's own frame, millimetres; `None` beyond it.
    fn light_at(&self, [x, y]: Point) -> Option<f32> {
        let (rows, columns) = self.light.dim();
        let (j, i) = (x / self.pitch_mm, y / self.pitch_mm);
        let inside = (0.0..=columns as f64).contains(&j) && (0.0..=rows as f64).contains(&i);
        inside.then(|| sample(&self.light, j, i))
    }
}

/// A second scan laid on the first.
#[derive(Debug, Clone)]
pub struct Turned {
    second: SecondScan,
    /// From the first plate's frame to the second's after half a turn, millimetres.
    map: Bilinear,
    /// How it was laid on.
    pub laid_by: LaidBy,
}

impl Turned {
    /// File of the second scan.
    pub fn file(&self) -> &Path {
        &self.second.file
    }

    /// Where the corners of the first plate, clockwise from its top left, lie in the second scan, file
    /// pixels.
    pub fn corners_px(&self, [width, height]: [f64; 2]) -> Option<[Point; 4]> {
        let [w, h] = self.second.size_mm;
        let frame = [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]];
        let to_px = Homography::from_points(frame, self.second.corners_px)?;
        let corners = [[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]];
        Some(corners.map(|corner| to_px.map(self.carry(corner))))
    }

    /// Light in the second scan at a place of the first plate, moved by `off_mm`; `None` beyond it.
    pub fn light_at(&self, place_mm: Point, off_mm: Point) -> Option<f32> {
        let [x, y] = self.carry(place_mm);
        self.second.light_at([x - off_mm[0], y - off_mm[1]])
    }

    /// Where a place of the first plate lies in the second scan's own plate frame, millimetres.
    pub fn carry(&self, place: Point) -> Point {
        let [x, y] = self.map.carry(place);
        let [width, height] = self.second.size_mm;
        [width - x, height - y]
    }
}

/// Lays the second scan on the first.
///
/// # Errors
/// When the two are not one plate turned half round; given back with the second scan, which may belong
/// to another plate of the first.
pub fn lay_on(plate: &Plate, second: SecondScan) -> Result<Turned, Box<(TurnedError, SecondScan)>> {
    let here_mm = [plate.width_mm, plate.height_mm];
    let there_mm = second.size_mm;
    let most_mm = SAME_SIZE * plate.width_mm.max(plate.height_mm);
    if (0..2).any(|k| (here_mm[k] - there_mm[k]).abs() > most_mm) {
        return Err(Box::new((TurnedError::Size { here_mm, there_mm }, second)));
    }
    let window = Window::inside(plate);
    let first = window.cells(&plate.light, plate.pitch_mm, |p| p);
    let shown = |half_round: bool| {
        window.cells(&second.light, second.pitch_mm, |[x, y]| match half_round {
            true => [there_mm[0] - x, there_mm[1] - y],
            false => [x, y],
        })
    };
    let turned = shown(true);
    if let Some(found) = register(&first, &turned, REACH_CELLS) {
        let within_mm = found.scatter_cells * window.cell_mm;
        let laid_by = LaidBy::Picture {
            blocks: found.blocks,
            within_mm,
        };
        let map = window.millimetres(&found);
        return Ok(Turned {
            second,
            map,
            laid_by,
        });
    }
    if let Some(found) = register(&first, &shown(false), REACH_CELLS)
        && !is_dust(plate, &second, &window.millimetres(&found))
    {
        return Err(Box::new((TurnedError::SameWay, second)));
    }
    if shows_picture(&first) || shows_picture(&turned) {
        return Err(Box::new((TurnedError::Picture, second)));
    }
    Ok(Turned {
        second,
        map: Bilinear::STILL,
        laid_by: LaidBy::Outline,
    })
}

/// Whether two scans agree by what lies on the glass rather than by the plate: their common detail then
/// moved over the plate as the plate moved over the glass.
fn is_dust(plate: &Plate, second: &SecondScan, found: &Bilinear) -> bool {
    let frame = |[w, h]: Point| [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]];
    let here = frame([plate.width_mm, plate.height_mm]);
    let there = frame(second.size_mm);
    let (Some(onto_glass), Some(off_glass)) = (
        Homography::from_points(here, plate.corners_px),
        Homography::from_points(second.corners_px, there),
    ) else {
        return false;
    };
    // The two files may be of different resolution.
    let ratio = match (plate.dpi, second.dpi) {
        (Some((x, y)), Some((u, v))) => [u / x, v / y],
        _ => [1.0, 1.0],
    };
    let by_glass = |corner: Point| {
        let [x, y] = onto_glass.map(corner);
        off_glass.map([x * ratio[0], y * ratio[1]])
    };
    let off = |by: &dyn Fn(Point) -> Point| -> f64 {
        let corners = here.iter();
        corners.map(|c| distance(found.carry(*c), by(*c))).sum()
    };
    // A plate that was not moved at all lies the same way.
    off(&by_glass) < 0.5 * off(&|corner| corner)
}

/// The part of the plate that is compared, in cells.
struct Window {
    cell_mm: f64,
    left_mm: f64,
    top_mm: f64,
    rows: usize,
    columns: usize,
}

impl Window {
    /// The plate without its edges and the border under the holder's ledge.
    fn inside(plate: &Plate) -> Window {
        let cell_mm = plate.width_mm.max(plate.height_mm) / CELLS_ALONG;
        let [top, right, bottom, left] = plate
            .ledge
            .width_mm
            .map(|ledge| MARGIN_CELLS * cell_mm + ledge.unwrap_or(0.0));
        let cells = |length_mm: f64| (length_mm / cell_mm).floor().max(1.0) as usize;
        Window {
            cell_mm,
            left_mm: left,
            top_mm: top,
            rows: cells(plate.height_mm - top - bottom),
            columns: cells(plate.width_mm - left - right),
        }
    }

    /// Density in the window; `own` carries a place of the first plate to that of the grid.
    fn cells(
        &self,
        light: &Grid<f32>,
        pitch_mm: f64,
        own: impl Fn(Point) -> Point + Sync,
    ) -> Grid<f32> {
        let mut density = light.clone();
        density.par_mapv_inplace(|v| -v.max(DARKEST_LIGHT).log10());
        let density = gaussian(&density, BLUR_CELLS * self.cell_mm / pitch_mm);
        let mut out = Grid::zeros((self.rows, self.columns));
        out.as_slice_mut()
            .unwrap_or_default()
            .par_chunks_mut(self.columns)
            .enumerate()
            .for_each(|(i, row)| {
                for (j, cell) in row.iter_mut().enumerate() {
                    let [x, y] = own(self.place([j as f64, i as f64]));
                    *cell = sample(&density, x / pitch_mm, y / pitch_mm);
                }
            });
        out
    }

    /// Middle of a cell, millimetres.
    fn place(&self, [j, i]: Point) -> Point {
        [
            self.left_mm + (j + 0.5) * self.cell_mm,
            self.top_mm + (i + 0.5) * self.cell_mm,
        ]
    }

    /// A map between cells as one between millimetres.
    fn millimetres(&self, found: &Registered) -> Bilinear {
        Bilinear::like(|[x, y]| {
            let cell = [
                (x - self.left_mm) / self.cell_mm - 0.5,
                (y - self.top_mm) / self.cell_mm - 0.5,
            ];
            self.place(found.carry(cell))
        })
    }
}

/// Whether a plate's density varies as pictures do.
fn shows_picture(density: &Grid<f32>) -> bool {
    let smooth = gaussian(density, PICTURE_BLUR_CELLS);
    let mut some: Vec<f64> = smooth.iter().step_by(97).map(|v| f64::from(*v)).collect();
    match (quantile(&mut some, 0.05), quantile(&mut some, 0.95)) {
        (Some(low), Some(high)) => high - low > PICTURE_D,
        _ => false,
    }
}
