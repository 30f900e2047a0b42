//! The signs of a finding: those it carries, those of the plate, and those that follow from what the
//! maker said about dip, developer and drain.

use super::notes;
use crate::doubts::Doubt;
use crate::findings::{Finding, Sign, SignName};
use crate::handling::{Corner, Handling};
use crate::plate::{Edge, Part, Plate, PlateKind, Process};

/// How far an axis or direction may lie from the edge's normal, degrees. Our own choice: hands are
/// steady to some 10 degrees, and 30 keeps an axis from pointing at two neighbouring edges at once.
/// `tests/causes.rs` (`handling_decides_*`) would notice a change.
const AXIS_TOLERANCE_DEG: f64 = 30.0;

/// As [`AXIS_TOLERANCE_DEG`], for the side where a sweep of developer ends: a sweep toward a corner
/// ends at both of its edges.
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
    /// Doubts about process and kind: a judged kind or process sets no sign.
    pub doubts: Vec<Doubt>,
}

impl PlateFacts {
    /// What a squared-up plate says about itself.
    pub fn of(plate: &Plate) -> PlateFacts {
        let mut picture = 0usize;
        let mut clipped = 0usize;
        let mut has_border = false;
        for (part, bits) in plate.parts.iter().zip(plate.clipped.iter()) {
            has_border |= *part == Part::Border;
            if *part == Part::Picture {
                picture += 1;
                clipped += usize::from(*bits != 0);
            }
        }
        let known = plate.scale_source != crate::plate::ScaleSource::Unknown;
        PlateFacts {
            process: plate.process,
            kind: plate.kind,
            has_border,
            size_mm: known.then_some([plate.width_mm, plate.height_mm]),
            clipped_fraction: (picture > 0).then(|| clipped as f64 / picture as f64),
            surround_light: plate.surround_light,
            signs: Vec::new(),
            doubts: plate.doubts.clone(),
        }
    }
}

/// All signs that bear on one finding, each name once. What the finding itself carries goes first.
pub(super) fn signs_of(
    finding: &Finding,
    facts: &PlateFacts,
    handling: Option<&Handling>,
) -> Vec<Sign> {
    let mut signs: Vec<Sign> = Vec::new();
    let from_facts = signs_of_facts(facts);
    let from_handling = handling.map_or_else(Vec::new, |h| signs_of_handling(finding, h));
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
        signs.push(Sign {
            name: SignName::Unexposed,
            holds: facts.kind == PlateKind::Blank,
            words,
        });
    }
    if !facts.doubts.contains(&Doubt::ProcessJudged) {
        let words = format!("the plate is a {}", facts.process.words());
        signs.push(Sign {
            name: SignName::OnMetal,
            holds: facts.process == Process::PositiveOnMetal,
            words: words.clone(),
        });
        signs.push(Sign {
            name: SignName::Negative,
            holds: facts.process == Process::NegativeOnGlass,
            words,
        });
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

/// Where on the plate a finding sits, as far as edges and corners go.
#[derive(Clone, Copy, PartialEq)]
enum Spot {
    Edge(Edge),
    Corner(Corner),
}

impl Spot {
    /// The edge or corner that a finding's `place` names.
    fn of(finding: &Finding) -> Option<Spot> {
        Some(match finding.place.as_deref()? {
            "top" => Spot::Edge(Edge::Top),
            "right" => Spot::Edge(Edge::Right),
            "bottom" => Spot::Edge(Edge::Bottom),
            "left" => Spot::Edge(Edge::Left),
            "top_left" => Spot::Corner(Corner::TopLeft),
            "top_right" => Spot::Corner(Corner::TopRight),
            "bottom_right" => Spot::Corner(Corner::BottomRight),
            "bottom_left" => Spot::Corner(Corner::BottomLeft),
            _ => return None,
        })
    }

    /// Direction from the plate's middle to the spot, degrees clockwise from twelve o'clock. Corners
    /// count as diagonal whatever the plate's shape.
    fn direction_deg(self) -> f64 {
        match self {
            Spot::Edge(Edge::Top) => 0.0,
            Spot::Corner(Corner::TopRight) => 45.0,
            Spot::Edge(Edge::Right) => 90.0,
            Spot::Corner(Corner::BottomRight) => 135.0,
            Spot::Edge(Edge::Bottom) => 180.0,
            Spot::Corner(Corner::BottomLeft) => 225.0,
            Spot::Edge(Edge::Left) => 270.0,
            Spot::Corner(Corner::TopLeft) => 315.0,
        }
    }

    /// Words for people.
    fn words(self) -> &'static str {
        match self {
            Spot::Edge(Edge::Top) => "the top edge",
            Spot::Edge(Edge::Right) => "the right edge",
            Spot::Edge(Edge::Bottom) => "the bottom edge",
            Spot::Edge(Edge::Left) => "the left edge",
            Spot::Corner(corner) => notes::corner(corner),
        }
    }

    fn touches(self, corner: Corner) -> bool {
        match self {
            Spot::Corner(own) => own == corner,
            Spot::Edge(edge) => {
                let [first, second] = match corner {
                    Corner::TopLeft => [Edge::Top, Edge::Left],
                    Corner::TopRight => [Edge::Top, Edge::Right],
                    Corner::BottomRight => [Edge::Bottom, Edge::Right],
                    Corner::BottomLeft => [Edge::Bottom, Edge::Left],
                };
                edge == first || edge == second
            }
        }
    }
}

fn opposite(corner: Corner) -> Corner {
    match corner {
        Corner::TopLeft => Corner::BottomRight,
        Corner::TopRight => Corner::BottomLeft,
        Corner::BottomRight => Corner::TopLeft,
        Corner::BottomLeft => Corner::TopRight,
    }
}

/// Smallest angle between two directions, 0 to 180 degrees.
fn between_deg(a_deg: f64, b_deg: f64) -> f64 {
    let turn = (a_deg - b_deg).rem_euclid(360.0);
    turn.min(360.0 - turn)
}

/// Smallest angle between two axes, 0 to 90 degrees.
pub(super) fn between_axes_deg(a_deg: f64, b_deg: f64) -> f64 {
    let turn = between_deg(a_deg, b_deg);
    turn.min(180.0 - turn)
}

fn signs_of_handling(finding: &Finding, handling: &Handling) -> Vec<Sign> {
    let Some(spot) = Spot::of(finding) else {
        return Vec::new();
    };
    let mut signs = Vec::new();
    if let Some(axis_deg) = handling.dip_axis_deg {
        let holds = between_axes_deg(axis_deg, spot.direction_deg()) <= AXIS_TOLERANCE_DEG;
        let words = format!(
            "{} {} an end of the dip, which ran {}",
            spot.words(),
            if holds { "is" } else { "is not" },
            notes::axis(axis_deg)
        );
        signs.push(Sign {
            name: SignName::AtDipEnd,
            holds,
            words,
        });
    }
    if let Some(toward_deg) = handling.developer_direction_deg {
        let off = between_deg(toward_deg, spot.direction_deg());
        let at_end = off < SWEEP_TOLERANCE_DEG;
        let at_start = off > 180.0 - SWEEP_TOLERANCE_DEG;
        let sweep = format!(
            "the developer was swept toward {}",
            notes::direction(toward_deg)
        );
        signs.push(Sign {
            name: SignName::AtDeveloperEnd,
            holds: at_end,
            words: format!(
                "{sweep} and {} at {}",
                if at_end { "ended" } else { "did not end" },
                spot.words()
            ),
        });
        signs.push(Sign {
            name: SignName::AtDeveloperStart,
            holds: at_start,
            words: format!(
                "{sweep} and {} at {}",
                if at_start { "began" } else { "did not begin" },
                spot.words()
            ),
        });
    }
    if let Some(corner) = handling.drain_corner {
        let touches = spot.touches(corner);
        let away = !touches && spot.touches(opposite(corner));
        let drained = format!("the plate was drained at {}", notes::corner(corner));
        signs.push(Sign {
            name: SignName::AtDrainCorner,
            holds: touches,
            words: format!(
                "{drained}, which {} {}",
                if touches { "belongs to" } else { "is not at" },
                spot.words()
            ),
        });
        signs.push(Sign {
            name: SignName::OppositeDrain,
            holds: away,
            words: format!(
                "{drained}, {} {}",
                if away { "away from" } else { "not opposite" },
                spot.words()
            ),
        });
    }
    signs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn angles_wrap() {
        assert_eq!(between_deg(350.0, 10.0), 20.0);
        assert_eq!(between_deg(0.0, 180.0), 180.0);
        assert_eq!(between_axes_deg(175.0, 5.0), 10.0);
        assert_eq!(between_axes_deg(0.0, 270.0), 90.0);
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
