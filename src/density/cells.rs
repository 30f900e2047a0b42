//! Light over a plate in coarser cells, shared by the measures that look at large shapes.

use ndarray::Zip;

use super::{DensityMap, LEAST_LIGHT, density, outermost_in};
use crate::plate::{Part, Plate};
use crate::raster::Grid;
use crate::raster::filter::average_down;

/// Light in cells, and which parts of the plate each cell lies wholly in.
#[derive(Debug, Clone)]
pub struct Cells {
    light: Grid<f32>,
    /// Wholly in the picture area.
    picture: Grid<bool>,
    /// Wholly on the plate.
    on_plate: Grid<bool>,
    /// Wholly coated: picture area or border.
    coated: Grid<bool>,
    /// Side of a cell, millimetres.
    pub pitch_mm: f64,
}

impl Cells {
    /// Averages a plate's light, linearly, to cells of about `pitch_mm`.
    pub fn of(plate: &Plate, pitch_mm: f64) -> Cells {
        let factor = plate.cells_along(pitch_mm);
        let (light, outermost) = rayon::join(
            || average_down(&plate.light, factor),
            || outermost_in(&plate.parts, factor),
        );
        let wholly = |least: Part| outermost.mapv(|part| part >= least);
        let (picture, on_plate) = (wholly(Part::Picture), wholly(Part::Rim));
        let coated = wholly(Part::Border);
        Cells {
            light,
            picture,
            on_plate,
            coated,
            pitch_mm: factor as f64 * plate.pitch_mm,
        }
    }

    /// The same in cells `factor` times as large.
    pub fn coarser(&self, factor: usize) -> Cells {
        let wholly = |fine: &Grid<bool>| {
            let (rows, columns) = fine.dim();
            Grid::from_shape_fn(
                (rows.div_ceil(factor), columns.div_ceil(factor)),
                |(i, j)| {
                    let down = i * factor..((i + 1) * factor).min(rows);
                    let mut across = down.flat_map(|a| {
                        (j * factor..((j + 1) * factor).min(columns)).map(move |b| (a, b))
                    });
                    across.all(|at| fine[at])
                },
            )
        };
        Cells {
            light: average_down(&self.light, factor),
            picture: wholly(&self.picture),
            on_plate: wholly(&self.on_plate),
            coated: wholly(&self.coated),
            pitch_mm: factor as f64 * self.pitch_mm,
        }
    }

    /// Silver of the cells of the picture area.
    pub fn picture_silver(&self, map: &DensityMap) -> Grid<Option<f64>> {
        self.silver(map, &self.picture)
    }

    /// Silver of all cells on the plate.
    pub fn silver_on_plate(&self, map: &DensityMap) -> Grid<Option<f64>> {
        self.silver(map, &self.on_plate)
    }

    /// Silver of all cells, whatever lies there.
    pub fn silver_everywhere(&self, map: &DensityMap) -> Grid<f32> {
        map.silver_of(&self.light, LEAST_LIGHT)
    }

    /// Cells wholly in the picture area.
    pub fn in_picture(&self) -> &Grid<bool> {
        &self.picture
    }

    /// Cells wholly coated: picture area or border.
    pub fn on_coating(&self) -> &Grid<bool> {
        &self.coated
    }

    /// Whether a cell lies on the coating and not wholly in the picture area; none does beyond the grid.
    pub fn is_border(&self, at: [usize; 2]) -> bool {
        let holds = |mask: &Grid<bool>| mask.get(at).copied().unwrap_or(false);
        holds(&self.coated) && !holds(&self.picture)
    }

    /// Silver of a cell that [`Cells::is_border`] holds for.
    pub fn border_silver(&self, map: &DensityMap, at: [usize; 2]) -> Option<f64> {
        self.is_border(at)
            .then(|| map.silver(density(self.light[at])))
    }

    /// Rows and columns.
    pub fn shape(&self) -> (usize, usize) {
        self.light.dim()
    }

    fn silver(&self, map: &DensityMap, wanted: &Grid<bool>) -> Grid<Option<f64>> {
        Zip::from(&self.light)
            .and(wanted)
            .map_collect(|light, wanted| wanted.then(|| map.silver(density(*light))))
    }
}

/// Silver all over a plate in cells fine enough for lines, shared by the measures that look for them.
#[derive(Debug, Clone)]
pub struct FineSilver {
    /// Silver, density; light is averaged linearly, and what is darker than a scan can tell counts as that.
    pub silver: Grid<f32>,
    /// Cells of the plate's grid along one side of a cell.
    pub factor: usize,
    /// Side of a cell, millimetres.
    pub pitch_mm: f64,
}

impl FineSilver {
    /// In cells of about `pitch_mm`.
    pub fn of(plate: &Plate, map: &DensityMap, pitch_mm: f64) -> FineSilver {
        let factor = plate.cells_along(pitch_mm);
        FineSilver {
            silver: map.silver_of(&average_down(&plate.light, factor), LEAST_LIGHT),
            factor,
            pitch_mm: factor as f64 * plate.pitch_mm,
        }
    }
}
