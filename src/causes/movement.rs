//! The movements of the hand that leave a direction on the plate: which one a sign, and which one a cause,
//! rests on.

use super::catalogue::Cause;
use crate::findings::SignName;
use crate::handling::Handling;

/// A movement of the hand during which a liquid ran over the plate one way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Movement {
    /// The plate going into the silver bath and out of it.
    Dip,
    /// The developer's sweep.
    Sweep,
    /// The collodion's draining.
    Drain,
}

impl Movement {
    /// All of them.
    pub const ALL: [Movement; 3] = [Movement::Dip, Movement::Sweep, Movement::Drain];

    /// The one that a sign rests on.
    pub fn behind(name: SignName) -> Option<Movement> {
        match name {
            SignName::AtDipEnd
            | SignName::TailsAlongDip
            | SignName::AlongDip
            | SignName::AcrossDip => Some(Movement::Dip),
            SignName::AtDeveloperEnd
            | SignName::AtDeveloperStart
            | SignName::TailsWithSweep
            | SignName::AlongSweep
            | SignName::AcrossSweep => Some(Movement::Sweep),
            SignName::AtDrainCorner
            | SignName::OppositeDrain
            | SignName::TailsToDrain
            | SignName::AlongDrain
            | SignName::AcrossDrain => Some(Movement::Drain),
            _ => None,
        }
    }

    /// The one that a cause acts through: that of its sign of direction which speaks loudest for it.
    /// `None` for a cause that follows no movement.
    pub fn of(cause: &Cause) -> Option<Movement> {
        let follows = |name: &SignName| {
            matches!(
                name,
                SignName::TailsAlongDip
                    | SignName::TailsWithSweep
                    | SignName::TailsToDrain
                    | SignName::AlongDip
                    | SignName::AlongSweep
                    | SignName::AlongDrain
            )
        };
        let signs = cause
            .signs
            .iter()
            .filter(|(name, weight)| follows(name) && weight.seen > 1.0);
        let (name, _) = signs.max_by(|a, b| a.1.seen.total_cmp(&b.1.seen))?;
        Movement::behind(*name)
    }

    /// The way it went, degrees: the axis of the dip, the direction of the others. `None` where it is not
    /// told. `size_mm` is width and height of the plate, for the direction of its corners.
    pub fn way_deg(self, handling: &Handling, size_mm: Option<[f64; 2]>) -> Option<f64> {
        match self {
            Movement::Dip => handling.dip_axis_deg,
            Movement::Sweep => handling.developer_direction_deg,
            Movement::Drain => handling
                .drain_corner
                .map(|corner| corner.direction_on_deg(size_mm.unwrap_or([1.0, 1.0]))),
        }
    }

    /// Words for people.
    pub fn words(self) -> &'static str {
        match self {
            Movement::Dip => "the dip",
            Movement::Sweep => "the developer's sweep",
            Movement::Drain => "the draining",
        }
    }
}
