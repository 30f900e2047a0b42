//! Streaks, waves and lines, the pour, bare places, stains and scratches: from numbers to named faults.
//!
//! Comes in: a plate with its bands, its pour, its corners and its thin lines measured. Goes out: findings, and what
//! the plate cannot tell. Units: density, millimetres in the plate frame, degrees. Not here: limits
//! (`findings::limits`), causes.

use super::{CannotTell, Fault, Finding, Polarity};
use crate::measures::{Line, ShapeMeasures};
use crate::plate::{Plate, PlateKind};

mod band_signs;
mod bands;
mod bare;
mod explained;
mod likeness;
mod pour;
mod scratch_signs;
mod scratches;
mod second_flow;
mod stains;

pub(super) use bands::{bands, shows_bands};
pub(super) use bare::bare;
pub(super) use explained::explained;
pub(super) use pour::pour;
pub(super) use scratches::scratches;
pub(super) use second_flow::second_flow;
pub(super) use stains::{shows_stains, stains, take_their_own};

/// What this plate cannot show of the coating and of bands.
pub(super) fn cannot_tell(
    plate: &Plate,
    shapes: &ShapeMeasures,
    findings: &[Finding],
    cannot_tell: &mut Vec<CannotTell>,
) {
    if plate.kind == PlateKind::Picture {
        cannot_tell.push(CannotTell {
            fault: Fault::UnevenPour,
            because: "light that falls off over the scene looks like a coating that thins out"
                .to_owned(),
            make_this_plate: EVEN_PLATE.to_owned(),
        });
    }
    if plate.kind == PlateKind::Picture && !shows_stains(plate) {
        cannot_tell.push(CannotTell {
            fault: Fault::Stain,
            because: "it shows no border that the holder kept dark, and a scene has curved lines of its own"
                .to_owned(),
            make_this_plate: EVEN_PLATE.to_owned(),
        });
    }
    let found = |fault: Fault| findings.iter().any(|finding| finding.fault == fault);
    if plate.kind == PlateKind::Picture
        && !found(Fault::Streaks)
        && shapes.bands.iter().any(bands::scene_has_lines)
    {
        cannot_tell.push(CannotTell {
            fault: Fault::Streaks,
            because: "the scene itself is full of straight lines".to_owned(),
            make_this_plate: EVEN_PLATE.to_owned(),
        });
    }
    if plate.kind == PlateKind::Picture && bands::shows_bands(plate) && !found(Fault::Ridges) {
        cannot_tell.push(CannotTell {
            fault: Fault::Ridges,
            because: match plate.shows_its_edges() {
                true => "waves along an edge look like boards and blinds of the scene; only bent ones, and waves by a corner, would be named",
                false => "the plate's corners and edges, by which waves are strongest, are not in the scan; only bent ones along its sides, and waves by its corners, would be named",
            }
            .to_owned(),
            make_this_plate: EVEN_PLATE.to_owned(),
        });
    }
}

/// The plate that shows the pour and every band.
const EVEN_PLATE: &str = "an evenly exposed plate: coat and dip it as always, expose it out of focus on a plain wall, develop it as always; every band and every slope of the coating shows on it";

fn polarity(lines: &[&Line]) -> Polarity {
    let more = lines.iter().filter(|line| line.sign > 0.0).count();
    match (more, lines.len() - more) {
        (_, 0) => Polarity::MoreSilver,
        (0, _) => Polarity::LessSilver,
        // Between bands of more silver there is less; what most of them are names the group.
        (more, less) if more >= 3 * less => Polarity::MoreSilver,
        (more, less) if less >= 3 * more => Polarity::LessSilver,
        _ => Polarity::Mixed,
    }
}
