//! What is reported of a finding's shape beside its place: silver across bands, the lie of an
//! even plate's silver.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::rounding::{DENSITY_DECIMALS, LENGTH_DECIMALS, SHARE_DECIMALS, number, round, share};
use crate::findings::Figure;
use crate::handling::Spot;
use crate::plate::{Plate, ScaleSource};

/// Silver across a finding's bands less what lies around it, the median along them. Places are those at
/// which the bands cross the middle of the plate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReportedAcross {
    /// Edge from which places are counted; for bands between two corners the top left corner, of which the
    /// line along the bands is the start.
    pub from: Spot,
    /// Place of the first value; null when nothing states the scale.
    pub first_mm: Option<f64>,
    /// From value to value; null when nothing states the scale.
    pub step_mm: Option<f64>,
    /// The same as shares of the plate's size across the bands.
    pub first_share: f64,
    pub step_share: f64,
    /// Silver above its surroundings; null where too little is known.
    pub silver_d: Vec<Option<f64>>,
    /// Where each of the finding's bands begins and ends; null when nothing states the scale.
    pub bands_mm: Option<Vec<[f64; 2]>>,
    /// The same as shares.
    pub bands_share: Vec<[f64; 2]>,
}

/// Silver across the bands of a finding that has some.
pub(super) fn across(figure: Option<&Figure>, plate: &Plate) -> Option<ReportedAcross> {
    let Some(Figure::Bands {
        across,
        upright,
        slanted,
        bands_mm,
    }) = figure
    else {
        return None;
    };
    let scaled = plate.scale_source != ScaleSource::Unknown;
    let (from, side_mm) = match (slanted, upright) {
        (true, _) => (Spot::TopLeft, plate.width_mm),
        (false, true) => (Spot::Left, plate.width_mm),
        (false, false) => (Spot::Top, plate.height_mm),
    };
    let bands = |of: &dyn Fn(f64) -> f64| bands_mm.iter().map(|band| band.map(of)).collect();
    Some(ReportedAcross {
        from,
        first_mm: number(across.first_mm, LENGTH_DECIMALS).filter(|_| scaled),
        // Many steps are added up.
        step_mm: number(across.step_mm, LENGTH_DECIMALS + 2).filter(|_| scaled),
        first_share: share(across.first_mm, side_mm),
        step_share: round(across.step_mm / side_mm, SHARE_DECIMALS + 2),
        silver_d: across
            .silver_d
            .iter()
            .map(|d| d.and_then(|d| number(d, DENSITY_DECIMALS)))
            .collect(),
        bands_mm: scaled.then(|| bands(&|mm| round(mm, LENGTH_DECIMALS))),
        bands_share: bands(&|mm| share(mm, side_mm)),
    })
}

/// The lie of the silver of an uneven pour, row by row.
pub(super) fn lie(figure: Option<&Figure>) -> Option<Vec<Vec<f64>>> {
    let Some(Figure::Lie(lie_d)) = figure else {
        return None;
    };
    let row =
        |row: ndarray::ArrayView1<f64>| row.iter().map(|d| round(*d, DENSITY_DECIMALS)).collect();
    let known = lie_d.iter().all(|d| d.is_finite());
    known.then(|| lie_d.rows().into_iter().map(row).collect())
}
