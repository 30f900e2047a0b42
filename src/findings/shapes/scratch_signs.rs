//! What scratches show that speaks for one cause or another.

use super::band_signs::of_scan_axis;
use super::scratches::Whole;
use crate::findings::{Sign, SignName};
use crate::plate::{Plate, ScaleSource};
use crate::raster::geometry::{between_axes_deg, distance};

/// Shortest scratch whose bow and axis count, millimetres.
const LONG_MM: f64 = 10.0;
/// Bow of a scratch that bends, and of one that does not.
const BENT: [f64; 2] = [0.02, 0.01];
/// How near to the plate's edge an end reaches it, and how far it stays inside, millimetres.
const AT_EDGE_MM: [f64; 2] = [1.0, 3.0];
/// Side by side: angle, degrees, and share of the plate's shorter side.
const SIDE_BY_SIDE_DEG: f64 = 5.0;
/// See [`SIDE_BY_SIDE_DEG`].
const SIDE_BY_SIDE: f64 = 1.0 / 3.0;

/// The signs of all scratches together.
pub(super) fn of(plate: &Plate, scratches: &[Whole]) -> Vec<Sign> {
    let mut signs = vec![Sign::absent(
        SignName::MarksHoldSilver,
        "silver is missing along the line",
    )];
    signs.extend(width(plate, scratches));
    signs.extend(bent(plate, scratches));
    signs.extend(edge(plate, scratches));
    signs.extend(parallel(plate, scratches));
    signs.extend(along_scan(plate, scratches));
    signs
}

fn width(plate: &Plate, scratches: &[Whole]) -> Option<Sign> {
    // A line is looked for no wider than some tenths of a millimetre.
    (plate.scale_source != ScaleSource::Unknown).then(|| {
        let widest = scratches
            .iter()
            .map(|whole| whole.longest().width_mm)
            .fold(0.0, f64::max);
        Sign::seen(SignName::FineLines, format!("no wider than {widest:.1} mm"))
    })
}

fn bent(plate: &Plate, scratches: &[Whole]) -> Option<Sign> {
    let long: Vec<&Whole> = scratches
        .iter()
        .filter(|whole| whole.longest().length_mm >= LONG_MM)
        .collect();
    let bow = |whole: &Whole| whole.longest().bow;
    // A cell off at the middle is its uncertainty.
    let u = |whole: &Whole| plate.pitch_mm / whole.longest().length_mm;
    let bends = |whole: &&&Whole| bow(whole) - u(whole) > BENT[0];
    let straight = |whole: &&&Whole| bow(whole) < BENT[1];
    match long.len() {
        0 => None,
        count if 2 * long.iter().filter(bends).count() >= count => {
            Some(Sign::seen(SignName::Bent, "the line bends"))
        }
        count if 10 * long.iter().filter(straight).count() >= 9 * count => {
            Some(Sign::absent(SignName::Bent, "the line is straight"))
        }
        _ => None,
    }
}

fn edge(plate: &Plate, scratches: &[Whole]) -> Option<Sign> {
    if !plate.shows_its_edges() {
        return None;
    }
    let off = |[x, y]: [f64; 2]| x.min(plate.width_mm - x).min(y).min(plate.height_mm - y);
    let nearest = scratches
        .iter()
        .flat_map(|whole| whole.ends_mm.map(off))
        .fold(f64::INFINITY, f64::min);
    match nearest {
        mm if mm <= AT_EDGE_MM[0] => Some(Sign::seen(
            SignName::ReachesEdge,
            "an end lies at the plate's edge",
        )),
        mm if mm >= AT_EDGE_MM[1] => {
            let ends = if scratches.len() == 1 { "both" } else { "all" };
            let words = match plate.scale_source {
                ScaleSource::Unknown => format!("{ends} ends stay well inside the plate's edge"),
                _ => format!(
                    "{ends} ends stay {:.0} mm or more inside the plate's edge",
                    mm.floor()
                ),
            };
            Some(Sign::absent(SignName::ReachesEdge, words))
        }
        _ => None,
    }
}

fn parallel(plate: &Plate, scratches: &[Whole]) -> Option<Sign> {
    if scratches.len() == 1 {
        return Some(Sign::absent(
            SignName::SeveralParallel,
            "there is one line only",
        ));
    }
    let near_mm = SIDE_BY_SIDE * plate.width_mm.min(plate.height_mm);
    let most = scratches
        .iter()
        .map(|one| {
            let like = scratches.iter().filter(|other| {
                between_axes_deg(one.axis_deg(), other.axis_deg()) <= SIDE_BY_SIDE_DEG
                    && distance(one.middle_mm(), other.middle_mm()) <= near_mm
            });
            like.count()
        })
        .max()?;
    (most >= 3).then(|| {
        Sign::seen(
            SignName::SeveralParallel,
            format!("{most} lie side by side"),
        )
    })
}

/// Set where all long scratches agree.
fn along_scan(plate: &Plate, scratches: &[Whole]) -> Option<Sign> {
    let signs: Option<Vec<Sign>> = scratches
        .iter()
        .filter(|whole| whole.length_mm() >= LONG_MM)
        .map(|whole| of_scan_axis(plate, whole.axis_deg(), "they lie"))
        .collect();
    let signs = signs?;
    let first = signs.first()?.clone();
    signs
        .iter()
        .all(|sign| sign.holds == first.holds)
        .then_some(first)
}
