//! The signs of a finding: those it carries, those of the plate, and those that follow from what the
//! maker said about dip, developer and drain.

use ndarray::Zip;

use super::verdicts::Verdict;
use super::{axes, notes, places, tails};
use crate::doubts::Doubt;
use crate::findings::{Finding, Sign, SignName};
use crate::handling::{Handling, Spot};
use crate::plate::{Part, Plate, PlateKind, Process};
use crate::raster::geometry::{between_axes_deg, between_directions_deg};

/// How far the axis of the dip may lie from an edge's normal for the edge to be an end of the dip,
/// degrees; beyond [`AXIS_AWAY_DEG`] it is none, and between them nothing is said. Our own choice: hands
/// are steady to some 10 degrees; the tests of this file would notice a change.
pub(super) const AXIS_TOLERANCE_DEG: f64 = 30.0;
pub(super) const AXIS_AWAY_DEG: f64 = 60.0;

/// How far marks stray from the movement that drew them, standard deviation in degrees. Our own choice:
/// hands are steady to some 10 degrees.
const HAND_STEADY_DEG: f64 = 10.0;

/// How close marks that lie so many degrees off a way lie to it, from 1 along it to 0 far off: the bell
/// curve of a hand of that steadiness, by which the ratios of the catalogue are weighed.
pub(super) fn closeness(off_deg: f64) -> f64 {
    (-0.5 * (off_deg / HAND_STEADY_DEG).powi(2)).exp()
}

/// Marks that lie no farther off a way are said to lie along it, degrees: within twice what a hand strays.
pub(super) const ALONG_DEG: f64 = 2.0 * HAND_STEADY_DEG;

/// How far a sweep of developer may lie from the direction to an edge or corner to end there: a sweep
/// toward a corner ends at both of its edges. Our own choice; the tests of this file would notice a
/// change.
const SWEEP_TOLERANCE_DEG: f64 = 60.0;

/// A clipped share above this is automatic levels or a wrong exposure rather than a few glints; below
/// [`CLIPPED_NONE`] nothing is clipped. Our own choice; the tests of this file would notice a change.
const CLIPPED_MUCH: f64 = 0.005;
const CLIPPED_NONE: f64 = 0.0001;

/// Linear light of a surround that shines (white lid, lit glass) and of one that does not. Our own
/// choice; the tests of this file would notice a change.
const SURROUND_BRIGHT: f64 = 0.3;
const SURROUND_DARK: f64 = 0.1;

/// What the causes must know of a plate beside its findings.
#[derive(Debug, Clone, PartialEq)]
pub struct PlateFacts {
    pub process: Process,
    pub kind: PlateKind,
    /// Whether the holder's ledge left a border that could be judged.
    pub has_border: bool,
    /// Width and height, millimetres; `None` when the scale is unknown.
    pub size_mm: Option<[f64; 2]>,
    /// Share of the picture area at the scan's lowest or highest value, the greater of both, 0 to 1.
    pub clipped_fraction: Option<f64>,
    /// Linear light of the surround beside the plate.
    pub surround_light: Option<f64>,
    /// Signs that hold for the whole plate: the maker's words, other plates of the session.
    pub signs: Vec<Sign>,
    /// Checks of the catalogue that were made, and what they said. A name that the catalogue does not
    /// have counts for nothing: compare with [`Catalogue::checks`](super::Catalogue) when reading it.
    pub answers: Vec<Answer>,
    /// The maker's own verdicts on findings; one that fits no finding counts for nothing.
    pub verdicts: Vec<Verdict>,
    /// Doubts about process and kind: a judged kind or process sets no sign.
    pub doubts: Vec<Doubt>,
}

/// What a check said that was made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    /// Its name in the catalogue.
    pub check: String,
    /// Whether it answered yes.
    pub yes: bool,
}

/// All that bears on the causes of one finding.
pub(super) struct Evidence<'a> {
    /// Each sign once.
    pub(super) signs: Vec<Sign>,
    /// Checks that were made.
    pub(super) answers: &'a [Answer],
}

impl<'a> Evidence<'a> {
    /// Gathers what bears on one finding.
    pub(super) fn gather(
        finding: &Finding,
        facts: &'a PlateFacts,
        handling: Option<&Handling>,
    ) -> Evidence<'a> {
        Evidence {
            signs: signs_of(finding, facts, handling),
            answers: &facts.answers,
        }
    }
}

impl PlateFacts {
    /// What a squared-up plate says about itself.
    pub fn of(plate: &Plate) -> PlateFacts {
        let (border, picture, clipped) = Zip::from(&plate.parts).and(&plate.clipped).par_fold(
            || (0u32, 0u32, 0u32),
            |(border, picture, clipped), part, bits| {
                let in_picture = *part == Part::Picture;
                (
                    border + u32::from(*part == Part::Border),
                    picture + u32::from(in_picture),
                    clipped + u32::from(in_picture & (*bits != 0)),
                )
            },
            |a, b| (a.0 + b.0, a.1 + b.1, a.2 + b.2),
        );
        let known = plate.scale_source != crate::plate::ScaleSource::Unknown;
        PlateFacts {
            process: plate.process,
            kind: plate.kind,
            has_border: border > 0,
            size_mm: known.then_some([plate.width_mm, plate.height_mm]),
            clipped_fraction: (picture > 0).then(|| f64::from(clipped) / f64::from(picture)),
            surround_light: plate.surround_light,
            signs: Vec::new(),
            answers: Vec::new(),
            verdicts: Vec::new(),
            doubts: plate.doubts.clone(),
        }
    }
}

/// All signs that bear on one finding, each name once. What the finding itself carries goes first.
fn signs_of(finding: &Finding, facts: &PlateFacts, handling: Option<&Handling>) -> Vec<Sign> {
    let mut signs: Vec<Sign> = Vec::new();
    let from_facts = signs_of_facts(facts);
    let from_handling = handling.map_or_else(Vec::new, |h| {
        let mut signs = signs_of_handling(finding, h);
        signs.extend(places::signs(finding, h));
        signs.extend(tails::signs(finding, facts.size_mm, h));
        signs.extend(axes::signs(finding, facts.size_mm, h));
        signs
    });
    for sign in finding
        .signs
        .iter()
        .chain(&facts.signs)
        .chain(&from_facts)
        .chain(&from_handling)
    {
        if !signs.iter().any(|known| known.name == sign.name) {
            signs.push(sign.clone());
        }
    }
    signs
}

fn signs_of_facts(facts: &PlateFacts) -> Vec<Sign> {
    let mut signs = Vec::new();
    if !facts.doubts.contains(&Doubt::KindJudged) {
        let words = format!("the plate is a {}", facts.kind.words());
        signs.push(Sign::new(
            SignName::Unexposed,
            facts.kind == PlateKind::Blank,
            words,
        ));
    }
    if !facts.doubts.contains(&Doubt::ProcessJudged) {
        let words = format!("the plate is a {}", facts.process.words());
        signs.push(Sign::new(
            SignName::OnMetal,
            facts.process == Process::PositiveOnMetal,
            words.clone(),
        ));
        signs.push(Sign::new(
            SignName::Negative,
            facts.process == Process::NegativeOnGlass,
            words,
        ));
    }
    if let Some(share) = facts.clipped_fraction {
        if share > CLIPPED_MUCH {
            let words = format!(
                "the scan cuts off tones on {:.1} % of the picture",
                100.0 * share
            );
            signs.push(Sign::seen(SignName::TonesClipped, words));
        } else if share < CLIPPED_NONE {
            let words = "the scan cuts off no tones";
            signs.push(Sign::absent(SignName::TonesClipped, words));
        }
    }
    if let Some(light) = facts.surround_light {
        if light > SURROUND_BRIGHT {
            let words = "the surround of the plate is bright in the scan";
            signs.push(Sign::seen(SignName::BrightSurround, words));
        } else if light < SURROUND_DARK {
            let words = "the surround of the plate is dark in the scan";
            signs.push(Sign::absent(SignName::BrightSurround, words));
        }
    }
    signs
}

fn signs_of_handling(finding: &Finding, handling: &Handling) -> Vec<Sign> {
    let place = finding.place.as_deref().and_then(Spot::of_word);
    let Some((spot, spot_deg)) = place.and_then(|spot| Some((spot, spot.direction_deg()?))) else {
        return Vec::new();
    };
    let mut signs = Vec::new();
    // Every corner is at an end of any dip, so only edges can tell.
    if let Some(axis_deg) = handling.dip_axis_deg.filter(|_| spot.is_edge()) {
        let off_deg = between_axes_deg(axis_deg, spot_deg);
        let ran = format!("an end of the dip, which ran {}", notes::axis(axis_deg));
        if off_deg <= AXIS_TOLERANCE_DEG {
            let words = format!("{} is {ran}", spot.words());
            signs.push(Sign::seen(SignName::AtDipEnd, words));
        } else if off_deg >= AXIS_AWAY_DEG {
            let words = format!("{} is not {ran}", spot.words());
            signs.push(Sign::absent(SignName::AtDipEnd, words));
        }
    }
    if let Some(toward_deg) = handling.developer_direction_deg {
        let off = between_directions_deg(toward_deg, spot_deg);
        let at_end = off < SWEEP_TOLERANCE_DEG;
        let at_start = off > 180.0 - SWEEP_TOLERANCE_DEG;
        let sweep = format!(
            "the developer was swept toward {}",
            notes::direction(toward_deg)
        );
        signs.push(Sign::new(
            SignName::AtDeveloperEnd,
            at_end,
            format!(
                "{sweep} and {} at {}",
                if at_end { "ended" } else { "did not end" },
                spot.words()
            ),
        ));
        signs.push(Sign::new(
            SignName::AtDeveloperStart,
            at_start,
            format!(
                "{sweep} and {} at {}",
                if at_start { "began" } else { "did not begin" },
                spot.words()
            ),
        ));
    }
    if let Some(corner) = handling.drain_corner {
        let touches = spot.touches(corner);
        let opposite = corner.spot().opposite().corner();
        let away = !touches && opposite.is_some_and(|opposite| spot.touches(opposite));
        let drained = format!("the plate was drained at {}", corner.spot().words());
        signs.push(Sign::new(
            SignName::AtDrainCorner,
            touches,
            format!(
                "{drained}, which {} {}",
                if touches { "belongs to" } else { "is not at" },
                spot.words()
            ),
        ));
        signs.push(Sign::new(
            SignName::OppositeDrain,
            away,
            format!(
                "{drained}, {} {}",
                if away { "away from" } else { "not opposite" },
                spot.words()
            ),
        ));
    }
    signs
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::causes::made;
    use crate::handling::Corner;

    fn edge_fog(place: &str) -> Finding {
        made::finding(crate::findings::Fault::EdgeFog, Some(place))
    }

    /// The sign as set for a place by a handling: seen, absent, or not there.
    fn said(place: &str, handling: &Handling, name: SignName) -> Option<bool> {
        signs_of_handling(&edge_fog(place), handling)
            .iter()
            .find(|sign| sign.name == name)
            .map(|sign| sign.holds)
    }

    #[test]
    fn handling_speaks_about_the_places_it_touches() {
        let mut handling = Handling {
            dip_axis_deg: Some(5.0),
            developer_direction_deg: Some(90.0),
            drain_corner: Some(Corner::BottomLeft),
            ..Handling::default()
        };
        use SignName::{AtDeveloperEnd, AtDeveloperStart, AtDipEnd, AtDrainCorner, OppositeDrain};
        for (place, name, holds) in [
            ("top", AtDipEnd, Some(true)),
            ("bottom", AtDipEnd, Some(true)),
            ("left", AtDipEnd, Some(false)),
            ("top_left", AtDipEnd, None),
            ("right", AtDeveloperEnd, Some(true)),
            ("top_right", AtDeveloperEnd, Some(true)),
            ("left", AtDeveloperEnd, Some(false)),
            ("top", AtDeveloperEnd, Some(false)),
            ("left", AtDeveloperStart, Some(true)),
            ("right", AtDeveloperStart, Some(false)),
            ("bottom_left", AtDrainCorner, Some(true)),
            ("left", AtDrainCorner, Some(true)),
            ("top", AtDrainCorner, Some(false)),
            ("top", OppositeDrain, Some(true)),
            ("top_right", OppositeDrain, Some(true)),
            ("bottom", OppositeDrain, Some(false)),
            ("top_left", OppositeDrain, Some(false)),
            ("middle", AtDrainCorner, None),
        ] {
            assert_eq!(
                said(place, &handling, name),
                holds,
                "{place} {}",
                name.name()
            );
        }
        handling.dip_axis_deg = Some(45.0);
        assert_eq!(said("top", &handling, AtDipEnd), None);
        handling.dip_axis_deg = Some(179.0);
        assert_eq!(said("top", &handling, AtDipEnd), Some(true));
    }

    #[test]
    fn facts_set_only_what_is_known() {
        let mut facts = PlateFacts {
            process: Process::NegativeOnGlass,
            kind: PlateKind::Blank,
            has_border: true,
            size_mm: None,
            clipped_fraction: Some(0.001),
            surround_light: Some(0.2),
            signs: Vec::new(),
            answers: Vec::new(),
            verdicts: Vec::new(),
            doubts: vec![Doubt::KindJudged, Doubt::ProcessJudged],
        };
        assert!(signs_of_facts(&facts).is_empty());
        facts.doubts.clear();
        facts.clipped_fraction = Some(0.02);
        facts.surround_light = Some(0.9);
        let signs = signs_of_facts(&facts);
        let holds = |name| signs.iter().find(|s| s.name == name).map(|s| s.holds);
        assert_eq!(holds(SignName::Unexposed), Some(true));
        assert_eq!(holds(SignName::OnMetal), Some(false));
        assert_eq!(holds(SignName::Negative), Some(true));
        assert_eq!(holds(SignName::TonesClipped), Some(true));
        assert_eq!(holds(SignName::BrightSurround), Some(true));
        facts.clipped_fraction = Some(0.0);
        facts.surround_light = Some(0.01);
        let signs = signs_of_facts(&facts);
        let holds = |name| signs.iter().find(|s| s.name == name).map(|s| s.holds);
        assert_eq!(holds(SignName::TonesClipped), Some(false));
        assert_eq!(holds(SignName::BrightSurround), Some(false));
    }
}
