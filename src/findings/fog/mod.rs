//! Veil, edge fog and light leaks: from numbers to named faults.
//!
//! Comes in: a plate with its fog measured. Goes out: findings, and what the plate cannot tell.
//! Units: density, millimetres in the plate frame. Not here: limits (`findings::limits`), causes.

use super::lengths::{self, Side};
use super::{CannotTell, Fault, Sign, SignName, Standing};
use crate::doubts::Doubt;
use crate::plate::{Edge, Plate, PlateKind};
use crate::units::Reading;

mod edges;
mod leaks;
mod signs;
mod veil;

pub(super) use edges::edges;
pub(super) use leaks::leaks;
pub(super) use signs::set_shared_signs;
pub(super) use veil::veil;

/// A suggestion is right less often than a measurement of the same strength. Our own judgement, borne
/// out or not by the confidence table of `reports/accuracy.md`.
const SUGGESTED_SHARE: f64 = 0.7;

pub(super) fn round2(value: f64) -> String {
    format!("{value:.2}")
}

pub(super) fn share_of(standing: Standing) -> f64 {
    match standing {
        Standing::Measured => 1.0,
        Standing::Suggested => SUGGESTED_SHARE,
    }
}

pub(super) fn edge_length_mm(plate: &Plate, edge: Edge) -> f64 {
    match edge {
        Edge::Top | Edge::Bottom => plate.width_mm,
        Edge::Left | Edge::Right => plate.height_mm,
    }
}

pub(super) fn deeper_than_ledge(
    plate: &Plate,
    edge: Edge,
    reach: &Reading,
    ledge_mm: f64,
    words: &str,
) -> Option<Sign> {
    let inward = |length_mm: f64| lengths::length(plate, length_mm, 1, Side::inward(edge));
    let text = format!(
        "it {words} {}, and the ledge ends at {}",
        inward(reach.value),
        inward(ledge_mm)
    );
    if reach.low() > ledge_mm {
        Some(sign(SignName::DeeperThanLedge, true, text))
    } else if reach.high() < ledge_mm {
        Some(sign(SignName::DeeperThanLedge, false, text))
    } else {
        None
    }
}

pub(super) fn sign(name: SignName, holds: bool, words: String) -> Sign {
    Sign::new(name, holds, words)
}

/// Light of a lid below which the unexposed end of a positive's steps looks like it: a support of
/// density 1.2 and more reads 0.06 and less.
const DARK_LID: f64 = 0.06;

/// Whether a stepped plate's dark end runs out into a lid as dark, so that no edge of it is sure.
pub(super) fn ends_in_the_lid(plate: &Plate) -> bool {
    plate.kind == PlateKind::Wedge
        && plate.process.is_positive()
        && plate.surround_light.is_some_and(|light| light < DARK_LID)
}

/// The plate that shows fog of the holder and the camera, and nothing else.
pub(super) const UNEXPOSED_PLATE: &str = "an unexposed plate carried through the holder and the camera: draw the slide with the lens capped, wait a minute in the light you work in, and develop as always";

/// What this plate cannot show about its edges.
pub(super) fn cannot_tell(plate: &Plate, cannot_tell: &mut Vec<CannotTell>) {
    let unsure_outline = plate.doubts.contains(&Doubt::OutlineUncertain);
    let bordered = plate.ledge.width_mm.iter().flatten().count();
    let shown = bordered == 4 || plate.kind != PlateKind::Picture;
    if shown && !unsure_outline && !ends_in_the_lid(plate) {
        return;
    }
    let because = if ends_in_the_lid(plate) {
        "the dark steps of the plate look like the lid behind it, so its edges are not sure"
            .to_owned()
    } else if unsure_outline {
        "the plate hardly differs from the lid beside it, so a strip of lid could pass for fog; only what clearly fades inward is named"
            .to_owned()
    } else if !plate.found && bordered == 0 {
        "the scan ends at or inside the plate's edge, where fog from the holder would be strongest"
            .to_owned()
    } else if bordered == 0 {
        "no dark border from the holder was found, and a bright scene at an edge looks like fog"
            .to_owned()
    } else {
        let open: Vec<&str> = Edge::ALL
            .into_iter()
            .filter(|edge| plate.ledge.width_mm[*edge as usize].is_none())
            .map(Edge::word)
            .collect();
        format!(
            "no dark border was found along the {}, and what the scene shows there looks like fog or hides it",
            open.join(" and ")
        )
    };
    let make_this_plate = if unsure_outline && !ends_in_the_lid(plate) {
        "no new plate: scan this one again on a lid of the other tone, or give its --corners"
    } else {
        UNEXPOSED_PLATE
    };
    for fault in [Fault::EdgeFog, Fault::LightLeak] {
        cannot_tell.push(CannotTell {
            fault,
            because: because.clone(),
            make_this_plate: make_this_plate.to_owned(),
        });
    }
}
