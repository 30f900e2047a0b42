//! The movements of the hand that leave a direction on the plate: which one a sign, and which one a cause,
//! rests on.

use super::catalogue::Cause;
use crate::findings::SignName;

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

    /// Words for people.
    pub fn words(self) -> &'static str {
        match self {
            Movement::Dip => "the dip",
            Movement::Sweep => "the developer's sweep",
            Movement::Drain => "the draining",
        }
    }
}
