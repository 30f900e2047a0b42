//! What the lie of lines says where the maker told how the liquids ran: streaks, ridges and scratches
//! along dip, sweep or drain; one line across the plate with the face of the bath or the front of a wave.

use super::evidence::{ALONG_DEG, AXIS_AWAY_DEG, AXIS_TOLERANCE_DEG, closeness};
use super::notes;
use crate::findings::{Fault, Finding, Sign, SignName};
use crate::handling::{Corner, Handling, Spot};
use crate::raster::geometry::between_axes_deg;

/// How far waves may turn from the edge they are said to run along, degrees. Our own choice: half of
/// [`AXIS_TOLERANCE_DEG`], since the direction to a corner is often not far from an edge; the tests of
/// this file would notice a change.
const ALONG_EDGE_DEG: f64 = 15.0;

/// What the many soft bands are called.
const STREAKS: &str = "the streaks";

/// The signs of a finding of lines. `size_mm` is width and height of the plate, for the direction of its
/// corners.
pub(super) fn signs(
    finding: &Finding,
    size_mm: Option<[f64; 2]>,
    handling: &Handling,
) -> Vec<Sign> {
    let Some(axis_deg) = finding.axis_deg else {
        return Vec::new();
    };
    let lines = match finding.fault {
        Fault::Streaks => STREAKS,
        Fault::Ridges => "the waves",
        Fault::Scratch | Fault::DipLine => "the line",
        _ => return Vec::new(),
    };
    let dip = handling.dip_axis_deg.map(|deg| Way {
        deg,
        name: "the dip",
        ran: format!(", which ran {},", notes::axis(deg)),
    });
    let sweep = handling.developer_direction_deg.map(|deg| Way {
        deg,
        name: "the developer's sweep",
        ran: format!(", which ran toward {},", notes::direction(deg)),
    });
    // One line right across shows where a liquid's front stood; many show the way that it ran.
    let (along_dip, along_sweep, turn_deg) = match finding.fault {
        Fault::DipLine => (SignName::AcrossDip, SignName::AcrossSweep, 90.0),
        _ => (SignName::AlongDip, SignName::AlongSweep, 0.0),
    };
    let mut signs = Vec::new();
    signs.extend(dip.and_then(|way| way.sign(along_dip, lines, axis_deg, turn_deg)));
    signs.extend(sweep.and_then(|way| way.sign(along_sweep, lines, axis_deg, turn_deg)));
    if matches!(finding.fault, Fault::Streaks | Fault::Ridges)
        && let Some(corner) = handling.drain_corner
    {
        let drain = Way {
            deg: corner.direction_on_deg(size_mm.unwrap_or([1.0, 1.0])),
            name: "the drain",
            ran: format!(" to {}", corner.spot().words()),
        };
        signs.extend(drain.sign(SignName::AlongDrain, lines, axis_deg, 0.0));
        if finding.fault == Fault::Ridges {
            signs.extend(across_drain(finding, axis_deg, &drain, corner));
        }
    }
    signs
}

/// A way that a liquid ran.
struct Way {
    /// Axis or direction, degrees.
    deg: f64,
    name: &'static str,
    /// Follows the name and says where to.
    ran: String,
}

impl Way {
    /// The sign of lines that lie along the way, turned by so many degrees. Streaks trace the way, so they
    /// count by how close to it they lie; other lines follow it only roughly, and `None` is said where they lie
    /// between along and across.
    fn sign(&self, name: SignName, lines: &str, axis_deg: f64, turn_deg: f64) -> Option<Sign> {
        let off_deg = between_axes_deg(axis_deg, self.deg + turn_deg);
        let across_deg = 90.0 - off_deg;
        let (near, far) = match turn_deg == 0.0 {
            true => ("along", "across"),
            false => ("across", "along"),
        };
        let verb = if lines == "the line" { "lies" } else { "lie" };
        let (way, ran) = (self.name, &self.ran);
        let within = |lie: &str, off_deg: f64| {
            let off_deg = off_deg.ceil().max(1.0);
            format!("{lines} {verb} {lie} {way}{ran} within {off_deg:.0} degrees")
        };
        let traces = lines == STREAKS;
        let along_deg = if traces {
            ALONG_DEG
        } else {
            AXIS_TOLERANCE_DEG
        };
        let sign = if off_deg <= along_deg {
            Sign::seen(name, within(near, off_deg))
        } else if off_deg >= AXIS_AWAY_DEG {
            Sign::absent(name, within(far, across_deg))
        } else if traces {
            let words = format!("{lines} {verb} {off_deg:.0} degrees off {way}{ran}");
            Sign::absent(name, words.trim_end_matches(','))
        } else {
            return None;
        };
        Some(match traces {
            true => sign.lying(closeness(off_deg)),
            false => sign,
        })
    }
}

/// Whether waves lie across the drain corner or along an edge that was drained.
fn across_drain(finding: &Finding, axis_deg: f64, drain: &Way, corner: Corner) -> Option<Sign> {
    let off_deg = between_axes_deg(axis_deg, drain.deg);
    let place = finding.place.as_deref().and_then(Spot::of_word);
    let edge = place.filter(|spot| spot.is_edge() && spot.touches(corner));
    // An edge lies at right angles to the direction in which it is found.
    let along_edge = edge.filter(|spot| {
        let normal = spot.direction_deg();
        normal.is_some_and(|deg| between_axes_deg(axis_deg, deg + 90.0) <= ALONG_EDGE_DEG)
    });
    if off_deg > AXIS_TOLERANCE_DEG
        && let Some(spot) = along_edge
    {
        let words = format!(
            "the waves run along {}, which ends at the drain corner",
            spot.words()
        );
        return Some(Sign::seen(SignName::AcrossDrain, words));
    }
    if off_deg >= AXIS_AWAY_DEG {
        let words = format!("the waves lie across the drain{}", drain.ran);
        return Some(Sign::seen(SignName::AcrossDrain, words));
    }
    (off_deg <= AXIS_TOLERANCE_DEG && along_edge.is_none()).then(|| {
        let words = format!("the waves point along the drain{}", drain.ran);
        Sign::absent(SignName::AcrossDrain, words)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::causes::made;
    use crate::findings::Polarity;

    fn lines(fault: Fault, axis_deg: Option<f64>, place: Option<&str>) -> Finding {
        Finding {
            polarity: Polarity::Mixed,
            axis_deg,
            ..made::finding(fault, place)
        }
    }

    fn said(finding: &Finding, handling: &Handling, name: SignName) -> Option<(bool, String)> {
        signs(finding, Some([80.0, 100.0]), handling)
            .into_iter()
            .find(|sign| sign.name == name)
            .map(|sign| (sign.holds, sign.words))
    }

    fn holds(finding: &Finding, handling: &Handling, name: SignName) -> Option<bool> {
        said(finding, handling, name).map(|(holds, _)| holds)
    }

    #[test]
    fn streaks_follow_dip_or_sweep_or_neither() {
        let handling = Handling {
            dip_axis_deg: Some(175.0),
            developer_direction_deg: Some(270.0),
            ..Handling::default()
        };
        use SignName::{AcrossDip, AlongDip, AlongSweep};
        for (axis_deg, dip, sweep) in [
            (0.0, Some(true), Some(false)),
            (24.0, Some(false), Some(false)),
            (45.0, Some(false), Some(false)),
            (88.0, Some(false), Some(true)),
        ] {
            let streaks = lines(Fault::Streaks, Some(axis_deg), None);
            assert_eq!(holds(&streaks, &handling, AlongDip), dip, "{axis_deg}");
            assert_eq!(holds(&streaks, &handling, AlongSweep), sweep, "{axis_deg}");
            assert_eq!(holds(&streaks, &handling, AcrossDip), None);
        }
        let streaks = lines(Fault::Streaks, Some(88.0), None);
        assert_eq!(
            said(&streaks, &handling, AlongDip).unwrap().1,
            "the streaks lie across the dip, which ran up and down, within 3 degrees"
        );
        assert_eq!(
            said(&streaks, &handling, AlongSweep).unwrap().1,
            "the streaks lie along the developer's sweep, which ran toward the left, within 2 degrees"
        );
        assert!(signs(&streaks, None, &Handling::default()).is_empty());
        for other in [
            lines(Fault::Streaks, None, None),
            lines(Fault::Comets, Some(0.0), None),
        ] {
            assert!(signs(&other, None, &handling).is_empty());
        }
    }

    #[test]
    fn one_line_lies_across_the_way_of_the_liquid() {
        let handling = Handling {
            dip_axis_deg: Some(0.0),
            developer_direction_deg: Some(90.0),
            ..Handling::default()
        };
        let line = lines(Fault::DipLine, Some(86.0), None);
        let (seen, words) = said(&line, &handling, SignName::AcrossDip).unwrap();
        assert!(seen);
        assert_eq!(
            words,
            "the line lies across the dip, which ran up and down, within 4 degrees"
        );
        let (seen, words) = said(&line, &handling, SignName::AcrossSweep).unwrap();
        assert!(!seen);
        assert!(
            words.starts_with(
                "the line lies along the developer's sweep, which ran toward the right,"
            )
        );
        assert_eq!(holds(&line, &handling, SignName::AlongDip), None);
    }

    #[test]
    fn waves_run_to_the_drain_corner_across_it_or_along_its_edge() {
        // The bottom right corner of 80 x 100 mm lies at 141.3 degrees, the line across it at 51.3.
        let handling = Handling {
            drain_corner: Some(Corner::BottomRight),
            ..Handling::default()
        };
        use SignName::{AcrossDrain, AlongDrain};
        for (axis_deg, place, along, across) in [
            (140.0, None, Some(true), Some(false)),
            (55.0, None, Some(false), Some(true)),
            (90.0, Some("bottom"), None, Some(true)),
            (90.0, Some("top"), None, None),
            (2.0, Some("right"), None, Some(true)),
            (2.0, Some("bottom"), None, None),
        ] {
            let waves = lines(Fault::Ridges, Some(axis_deg), place);
            assert_eq!(holds(&waves, &handling, AlongDrain), along, "{axis_deg}");
            assert_eq!(
                holds(&waves, &handling, AcrossDrain),
                across,
                "{axis_deg} {place:?}"
            );
        }
        let streaks = lines(Fault::Streaks, Some(55.0), None);
        assert_eq!(holds(&streaks, &handling, AlongDrain), Some(false));
        assert_eq!(holds(&streaks, &handling, AcrossDrain), None);
    }
}
