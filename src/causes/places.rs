//! What the place of a finding says where the maker told where the collodion was poured on, which edge
//! went into the bath first and what stood lowest in the holder.

use crate::findings::{Fault, Finding, Sign, SignName};
use crate::handling::{Handling, Spot};

/// The signs of one finding. A finding without place, or in the middle, gets none.
pub(super) fn signs(finding: &Finding, handling: &Handling) -> Vec<Sign> {
    let place = finding.place.as_deref().and_then(Spot::of_word);
    let Some(spot) = place.filter(|spot| *spot != Spot::Middle) else {
        return Vec::new();
    };
    let mut signs = Vec::new();
    if matches!(finding.fault, Fault::BareArea | Fault::UnevenPour)
        && let Some(start) = handling.poured_from.filter(|from| *from != Spot::Middle)
    {
        let poured = format!("the collodion was poured on at {}", start.words());
        signs.push(at(SignName::AtPourStart, spot, start, &poured));
    }
    if finding.fault == Fault::BareArea {
        signs.extend(held(spot, handling));
    }
    if matches!(finding.fault, Fault::BareArea | Fault::Stain) {
        if let Some(low) = handling.lowest_in_holder {
            let stood = format!("{} stood lowest in the holder", low.words());
            signs.push(at(SignName::LowestInHolder, spot, low, &stood));
        }
        if let Some(first) = handling.dipped_first {
            let last = first.opposite();
            let went = format!("{} went into the bath last", last.words());
            signs.push(at(SignName::WentInLast, spot, last, &went));
        }
    }
    signs
}

/// Whether the finding touches the place of which `told` speaks.
fn at(name: SignName, spot: Spot, place: Spot, told: &str) -> Sign {
    let holds = touch(spot, place);
    let words = match (holds, spot == place) {
        (true, true) => told.to_owned(),
        (true, false) => format!("{told}, and {} touches it", spot.words()),
        (false, _) => format!("{told}, away from {}", spot.words()),
    };
    Sign::new(name, holds, words)
}

/// The same place, a corner of that edge, or an edge that ends at that corner.
fn touch(a: Spot, b: Spot) -> bool {
    let ends_at = |edge: Spot, corner: Spot| corner.corner().is_some_and(|c| edge.touches(c));
    a == b || (a.is_edge() && ends_at(a, b)) || (b.is_edge() && ends_at(b, a))
}

/// Whether the hand can have held the plate at this corner: liquid neither came nor went there.
fn held(spot: Spot, handling: &Handling) -> Option<Sign> {
    spot.corner()?;
    let poured = handling.poured_from.filter(|from| *from != Spot::Middle);
    let drained = handling.drain_corner.map(|corner| corner.spot());
    let at = |other: Option<Spot>| other.is_some_and(|other| touch(spot, other));
    let absent = |did: &str| {
        let words = format!("the collodion {did} at {}", spot.words());
        Some(Sign::absent(SignName::HeldCorner, words))
    };
    match (at(poured), at(drained)) {
        (true, _) => absent("was poured on"),
        (_, true) => absent("was drained"),
        _ => (poured.is_some() && drained.is_some()).then(|| {
            let words = format!(
                "the collodion was neither poured on nor drained at {}, so the hand can have held it there",
                spot.words()
            );
            Sign::seen(SignName::HeldCorner, words)
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::causes::made;
    use crate::handling::Corner;

    fn holds(fault: Fault, place: &str, handling: &Handling, name: SignName) -> Option<bool> {
        let finding = made::finding(fault, Some(place));
        signs(&finding, handling)
            .iter()
            .find(|sign| sign.name == name)
            .map(|sign| sign.holds)
    }

    #[test]
    fn places_speak_only_where_the_maker_did() {
        let told = Handling {
            poured_from: Some(Spot::TopRight),
            drain_corner: Some(Corner::BottomRight),
            dipped_first: Some(Spot::Bottom),
            lowest_in_holder: Some(Spot::Bottom),
            ..Handling::default()
        };
        use Fault::{BareArea, EdgeFog, Stain, UnevenPour};
        use SignName::{AtPourStart, HeldCorner, LowestInHolder, WentInLast};
        for (fault, place, name, expected) in [
            (BareArea, "top_right", AtPourStart, Some(true)),
            (BareArea, "right", AtPourStart, Some(true)),
            (BareArea, "bottom_left", AtPourStart, Some(false)),
            (UnevenPour, "bottom_right", AtPourStart, Some(false)),
            (BareArea, "bottom_left", HeldCorner, Some(true)),
            (BareArea, "top_left", HeldCorner, Some(true)),
            (BareArea, "top_right", HeldCorner, Some(false)),
            (BareArea, "bottom_right", HeldCorner, Some(false)),
            (BareArea, "left", HeldCorner, None),
            (BareArea, "top_left", WentInLast, Some(true)),
            (BareArea, "bottom", WentInLast, Some(false)),
            (Stain, "bottom_left", LowestInHolder, Some(true)),
            (Stain, "bottom", LowestInHolder, Some(true)),
            (Stain, "left", LowestInHolder, Some(false)),
            (Stain, "bottom_left", AtPourStart, None),
            (UnevenPour, "bottom", LowestInHolder, None),
            (EdgeFog, "bottom", LowestInHolder, None),
            (BareArea, "middle", LowestInHolder, None),
        ] {
            assert_eq!(
                holds(fault, place, &told, name),
                expected,
                "{} {place} {}",
                fault.name(),
                name.name()
            );
        }
        let middle = Handling {
            poured_from: Some(Spot::Middle),
            drain_corner: Some(Corner::BottomRight),
            ..Handling::default()
        };
        assert_eq!(holds(BareArea, "top_left", &middle, AtPourStart), None);
        assert_eq!(holds(BareArea, "top_left", &middle, HeldCorner), None);
        let nothing = Handling::default();
        for name in [AtPourStart, HeldCorner, LowestInHolder, WentInLast] {
            assert_eq!(holds(BareArea, "top_left", &nothing, name), None);
        }
    }
}
