//! What the tails of comets say where the maker told how the liquids ran.
//!
//! A flake in the collodion drags its tail to the drain corner, a grain of the bath along the dip, a
//! grain of the developer along its sweep.

use super::evidence::{ALONG_DEG, closeness};
use super::movement::Movement;
use super::notes;
use crate::findings::{Fault, Finding, Sign, SignName};
use crate::handling::Handling;
use crate::raster::geometry::{between_axes_deg, between_directions_deg};

/// Share of the tails that are counted as lying within an angle: the angle that holds nine in ten, so
/// that one stray tail does not speak for all. Our own choice; the tests of this file would notice a
/// change.
const COUNTED_SHARE: f64 = 0.9;

/// A way that a liquid ran.
struct Way {
    sign: SignName,
    /// What the tails do when they follow it, and when they do not; and how it ran.
    follow: &'static str,
    leave: &'static str,
    ran: String,
    deg: f64,
    /// Runs both ways, like a dip.
    is_axis: bool,
}

impl Way {
    fn off_deg(&self, tail_deg: f64) -> f64 {
        match self.is_axis {
            true => between_axes_deg(tail_deg, self.deg),
            false => between_directions_deg(tail_deg, self.deg),
        }
    }
}

/// The signs of a group of comets. `size_mm` is width and height of the plate, for the direction of its
/// corners. Tails that point both ways along one line can follow only what runs both ways.
pub(super) fn signs(
    finding: &Finding,
    size_mm: Option<[f64; 2]>,
    handling: &Handling,
) -> Vec<Sign> {
    if finding.fault != Fault::Comets {
        return Vec::new();
    }
    let one_way = finding.direction_deg;
    ways(handling, size_mm)
        .iter()
        .filter_map(|way| {
            let common_deg = one_way.or(finding.axis_deg.filter(|_| way.is_axis))?;
            let off_deg = way.off_deg(common_deg);
            let sign = if off_deg <= ALONG_DEG {
                Sign::seen(way.sign, follow(way, finding, off_deg))
            } else {
                let words = format!("the tails {} by {off_deg:.0} degrees{}", way.leave, way.ran);
                Sign::absent(way.sign, words)
            };
            Some(sign.lying(closeness(off_deg)))
        })
        .collect()
}

fn ways(handling: &Handling, size_mm: Option<[f64; 2]>) -> Vec<Way> {
    let way_deg = |movement: Movement| movement.way_deg(handling, size_mm);
    let drain = way_deg(Movement::Drain).map(|deg| Way {
        sign: SignName::TailsToDrain,
        follow: "point to the drain corner",
        leave: "miss the drain corner",
        ran: String::new(),
        deg,
        is_axis: false,
    });
    let dip = way_deg(Movement::Dip).map(|deg| Way {
        sign: SignName::TailsAlongDip,
        follow: "lie along the dip",
        leave: "lie off the dip",
        ran: format!(", which ran {}", notes::axis(deg)),
        deg,
        is_axis: true,
    });
    let sweep = way_deg(Movement::Sweep).map(|deg| Way {
        sign: SignName::TailsWithSweep,
        follow: "point the way the developer was swept",
        leave: "leave the developer's sweep",
        ran: format!(", toward {}", notes::direction(deg)),
        deg,
        is_axis: false,
    });
    [drain, dip, sweep].into_iter().flatten().collect()
}

/// "17 of 19 tails point to the drain corner within 12 degrees".
fn follow(way: &Way, finding: &Finding, off_deg: f64) -> String {
    let members = finding.members.iter().flatten();
    let mut off: Vec<f64> = members
        .filter_map(|mark| mark.direction_deg)
        .map(|deg| way.off_deg(deg))
        .collect();
    off.sort_by(f64::total_cmp);
    let counted = (COUNTED_SHARE * off.len() as f64).ceil() as usize;
    let Some(widest) = counted.checked_sub(1).and_then(|last| off.get(last)) else {
        return format!(
            "the tails {} within {off_deg:.0} degrees{}",
            way.follow, way.ran
        );
    };
    let within = widest.ceil().max(1.0);
    let count = off.iter().filter(|deg| **deg <= within).count();
    let tails = if count == off.len() {
        format!("all {count} tails")
    } else {
        format!("{count} of {} tails", off.len())
    };
    format!(
        "{tails} {} within {within:.0} degrees{}",
        way.follow, way.ran
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::causes::made;
    use crate::findings::Mark;
    use crate::handling::Corner;

    fn comets(directions_deg: &[f64]) -> Finding {
        let mean = directions_deg.iter().sum::<f64>() / directions_deg.len() as f64;
        let mark = |deg: &f64| Mark {
            box_mm: [0.0; 4],
            centre_mm: [0.0; 2],
            size_mm: 0.3,
            length_mm: Some(3.0),
            direction_deg: Some(*deg),
            axis_deg: None,
            sagitta_mm: 0.0,
            contrast_d: 0.3,
            expected_false_alarms: 0.0,
        };
        Finding {
            direction_deg: Some(mean),
            members: Some(directions_deg.iter().map(mark).collect()),
            ..made::finding(Fault::Comets, None)
        }
    }

    fn said(finding: &Finding, handling: &Handling) -> Vec<(SignName, bool, String)> {
        let signs = signs(finding, Some([80.0, 100.0]), handling);
        signs
            .into_iter()
            .map(|sign| (sign.name, sign.holds, sign.words))
            .collect()
    }

    #[test]
    fn tails_are_counted_with_their_own_numbers() {
        // The bottom right corner of 80 x 100 mm lies at 141.3 degrees.
        let mut tails = vec![141.3; 17];
        tails.extend([151.8, 165.0, 112.0]);
        let handling = Handling {
            drain_corner: Some(Corner::BottomRight),
            dip_axis_deg: Some(60.0),
            developer_direction_deg: Some(270.0),
            ..Handling::default()
        };
        let signs = said(&comets(&tails), &handling);
        assert_eq!(
            signs[0],
            (
                SignName::TailsToDrain,
                true,
                "18 of 20 tails point to the drain corner within 11 degrees".to_owned()
            )
        );
        assert_eq!((signs[1].0, signs[1].1), (SignName::TailsAlongDip, false));
        assert!(signs[1].2.contains("off the dip by 8"), "{}", signs[1].2);
        assert_eq!((signs[2].0, signs[2].1), (SignName::TailsWithSweep, false));
        assert!(signs[2].2.contains("128 degrees"), "{}", signs[2].2);
    }

    #[test]
    fn the_farther_off_a_way_the_less_it_counts() {
        let handling = Handling {
            developer_direction_deg: Some(45.0),
            dip_axis_deg: Some(175.0),
            ..Handling::default()
        };
        let comets = comets(&[0.0, 2.0]);
        let of = said(&comets, &handling);
        assert_eq!(of.len(), 2);
        assert_eq!(
            of[0].2,
            "all 2 tails lie along the dip within 7 degrees, which ran up and down"
        );
        assert!(
            !of[1].1 && of[1].2.contains("sweep by 44 degrees"),
            "{}",
            of[1].2
        );
        // By hand: 6 degrees off is exp(-0.5 x 0.36) = 0.835, 44 off exp(-0.5 x 19.36) = 0.00006.
        let near = signs(&comets, None, &handling);
        let closeness: Vec<f64> = near.iter().filter_map(|sign| sign.closeness).collect();
        assert!((closeness[0] - 0.835).abs() < 0.001, "{closeness:?}");
        assert!(closeness[1] < 0.0001, "{closeness:?}");
    }

    #[test]
    fn tails_both_ways_follow_only_an_axis() {
        let both = Finding {
            direction_deg: None,
            axis_deg: Some(0.0),
            ..comets(&[1.0, 181.0, 359.0])
        };
        let handling = Handling {
            dip_axis_deg: Some(0.0),
            developer_direction_deg: Some(0.0),
            drain_corner: Some(Corner::TopLeft),
            ..Handling::default()
        };
        let signs = said(&both, &handling);
        assert_eq!(signs.len(), 1);
        assert_eq!((signs[0].0, signs[0].1), (SignName::TailsAlongDip, true));
        assert!(
            said(
                &Finding {
                    fault: Fault::Specks,
                    ..both
                },
                &handling
            )
            .is_empty()
        );
    }

    #[test]
    fn marks_without_directions_leave_the_common_one() {
        let bare = Finding {
            members: None,
            ..comets(&[90.0])
        };
        let handling = Handling {
            developer_direction_deg: Some(80.0),
            ..Handling::default()
        };
        let signs = said(&bare, &handling);
        assert!(
            signs[0]
                .2
                .ends_with("swept within 10 degrees, toward the right"),
            "{}",
            signs[0].2
        );
    }
}
