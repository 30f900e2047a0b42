//! Comets: heads whose tails point one way, or both ways along one axis.

use super::group;
use super::likeness::{LEAST_LIKENESS, likeness};
use crate::findings::limits::{
    FALSE_ALARMS_A_PLATE, TailGround, Tails, comet_axis_false_alarms, comets_false_alarms,
    weaker_comets_chance,
};
use crate::findings::{Fault, Finding, dust};
use crate::measures::specks::{Agreement, agreement, axis_agreement};
use crate::measures::{Speck, SpeckMeasures};
use crate::plate::{Plate, PlateKind};
use crate::raster::geometry::{between_directions_deg, direction_deg, distance};
use crate::raster::stats::median;
use crate::units::Reading;

/// How far a tail may lie from the common direction, degrees: three spreads of a steady pour.
const ALIKE_DEG: f64 = 15.0;

/// Heads with tails nearer to each other than this lie on one line, millimetres.
const APART_MM: f64 = 1.0;

/// How far heads on one line may lie from each other across it, millimetres: how well the middle of a joint is
/// found. Our own choice.
const ON_LINE_MM: f64 = 0.1;

/// How far off a mark may lie that looks like another's tail, millimetres: rays are read from 1 mm on. Our own
/// choice.
const NEXT_MM: f64 = 2.0;

/// Chance up to which weaker tails along the common direction are taken in.
const WEAKER_CHANCE: f64 = 0.01;

/// Comets: heads whose tails point one way, or both ways along one axis.
pub(crate) fn comets(plate: &Plate, marks: &SpeckMeasures, findings: &mut Vec<Finding>) {
    let even = matches!(plate.kind, PlateKind::Blank | PlateKind::Flat);
    let tailed = tailed(marks, even);
    let Some(found) = best(&tailed, even) else {
        return;
    };
    if found.expected > FALSE_ALARMS_A_PLATE {
        return;
    }
    let weaker = weaker(&tailed, &found);
    let mut members = found.members;
    members.extend(&weaker);
    let directions: Vec<f64> = members
        .iter()
        .filter_map(|speck| direction(speck))
        .collect();
    let agreed = match found.lie.either_way {
        true => axis_agreement(&directions),
        false => agreement(&directions),
    };
    let Some(agreed) = agreed else {
        return;
    };
    let mut finding = group(plate, marks, Fault::Comets, &members, found.expected);
    let count = members.len();
    finding.title = match found.lie.either_way {
        true => format!(
            "{count} comets, tails both ways along {:.0} degrees",
            agreed.mean_deg
        ),
        false => format!(
            "{count} comets, tails toward {:.0} degrees",
            agreed.mean_deg
        ),
    };
    match found.lie.either_way {
        true => finding.axis_deg = Some(agreed.mean_deg),
        false => finding.direction_deg = Some(agreed.mean_deg),
    }
    finding.direction_spread_deg = Some(agreed.spread_deg);
    dust::set_turned_with_plate(plate, &mut finding);
    finding
        .measured
        .extend(direction_readings(&agreed, count, found.lie.either_way));
    finding
        .measured
        .push(("count_second_pass", Reading::new(weaker.len() as f64, 0.0)));
    let mut lengths: Vec<f64> = members
        .iter()
        .filter_map(|speck| speck.tail.as_ref().map(|tail| tail.length_mm))
        .collect();
    if let Some(length_mm) = median(&mut lengths) {
        finding
            .measured
            .push(("length_mm", Reading::new(length_mm, 0.4 * length_mm)));
    }
    findings.push(finding);
}

fn direction(speck: &Speck) -> Option<f64> {
    speck.tail.as_ref().map(|tail| tail.direction_deg)
}

/// A head with a tail.
#[derive(Clone, Copy)]
struct Tailed<'a> {
    speck: &'a Speck,
    deg: f64,
    likeness: f64,
}

/// Heads with tails that may be comets.
fn tailed(marks: &SpeckMeasures, even_plate: bool) -> Vec<Tailed<'_>> {
    let of = marks.specks.iter().filter_map(|speck| {
        Some(Tailed {
            speck,
            deg: direction(speck)?,
            likeness: likeness(speck, even_plate)?,
        })
    });
    let least = LEAST_LIKENESS.into_iter().fold(f64::INFINITY, f64::min);
    of.filter(|tailed| tailed.likeness > least).collect()
}

/// Those that stand by themselves: along a hair, a scratch or the edge of a roof there is one after
/// another, and of two grains side by side each looks like the other's tail.
fn alone<'a>(tailed: &[Tailed<'a>]) -> Vec<Tailed<'a>> {
    let near = |a: &Speck, b: &Speck| distance(a.centre_mm, b.centre_mm) < APART_MM;
    let of = tailed.iter().filter(|one| {
        let mut others = tailed
            .iter()
            .filter(|other| !std::ptr::eq(one.speck, other.speck));
        !others.any(|other| near(one.speck, other.speck) || lead_to_each_other(one, other))
    });
    of.copied().collect()
}

/// Those that do not stand with two others of their sign on one level or upright line: where courses of brick,
/// boards and panes meet there is a head with a tail at every joint. Of sixty comets anywhere about one is lost.
fn off_courses<'a>(tailed: &[Tailed<'a>]) -> Vec<Tailed<'a>> {
    let on_line = |one: &Tailed, k: usize| {
        let with = tailed.iter().filter(|other| {
            let off = other.speck.centre_mm[k] - one.speck.centre_mm[k];
            other.speck.more_silver() == one.speck.more_silver() && off.abs() <= ON_LINE_MM
        });
        with.count() > 2
    };
    let off = tailed.iter().filter(|one| !(0..2).any(|k| on_line(one, k)));
    off.copied().collect()
}

/// Whether two tails each end at the other's head.
fn lead_to_each_other(one: &Tailed, other: &Tailed) -> bool {
    let leads = |from: &Tailed, to: &Tailed| {
        let [dx, dy] = [0, 1].map(|k| to.speck.centre_mm[k] - from.speck.centre_mm[k]);
        between_directions_deg(from.deg, direction_deg(dx, dy)) <= ALIKE_DEG
    };
    let apart = distance(one.speck.centre_mm, other.speck.centre_mm);
    apart <= NEXT_MM && leads(one, other) && leads(other, one)
}

/// A direction, or an axis either way, that tails share.
#[derive(Clone, Copy)]
struct Lie {
    deg: f64,
    either_way: bool,
}

impl Lie {
    fn holds(self, deg: f64) -> bool {
        let off = between_directions_deg(deg, self.deg);
        off <= ALIKE_DEG || (self.either_way && off >= 180.0 - ALIKE_DEG)
    }

    fn count(self, tails: &[f64]) -> usize {
        tails.iter().filter(|deg| self.holds(**deg)).count()
    }

    /// How far the mean of the tails along it lies from the nearest of the plate's own sides.
    fn off_sides_deg(self, tails: &[f64]) -> f64 {
        let held: Vec<f64> = tails
            .iter()
            .copied()
            .filter(|deg| self.holds(*deg))
            .collect();
        let agreed = match self.either_way {
            true => axis_agreement(&held),
            false => agreement(&held),
        };
        let off = agreed.map_or(self.deg, |of| of.mean_deg).rem_euclid(90.0);
        off.min(90.0 - off)
    }
}

/// Tails that agree.
struct Found<'a> {
    lie: Lie,
    more_silver: bool,
    members: Vec<&'a Speck>,
    /// Groups expected by chance.
    expected: f64,
}

/// The tails that agree by the least chance, over all looks and both signs.
fn best<'a>(tailed: &[Tailed<'a>], even_plate: bool) -> Option<Found<'a>> {
    let mut best: Option<Found<'a>> = None;
    for (look, least) in LEAST_LIKENESS.into_iter().enumerate() {
        let like = tailed.iter().filter(|one| one.likeness > least);
        let mut taken = alone(&like.copied().collect::<Vec<_>>());
        if !even_plate {
            taken = off_courses(&taken);
        }
        for more_silver in [true, false] {
            let (own, other): (Vec<Tailed>, Vec<Tailed>) = taken
                .iter()
                .partition(|one| one.speck.more_silver() == more_silver);
            let degs = |of: &[Tailed]| of.iter().map(|one| one.deg).collect::<Vec<f64>>();
            let ground = TailGround { look, even_plate };
            let Some((lie, expected)) = common_lie(&degs(&own), &degs(&other), ground) else {
                continue;
            };
            if best.as_ref().is_none_or(|b| expected < b.expected) {
                let members = own.iter().filter(|one| lie.holds(one.deg));
                best = Some(Found {
                    lie,
                    more_silver,
                    members: members.map(|one| one.speck).collect(),
                    expected,
                });
            }
        }
    }
    best
}

/// The direction or the axis that most tails of one sign share, whichever is less by chance, and the groups
/// expected by chance; `contrary` are the tails of the other sign.
fn common_lie(tails: &[f64], contrary: &[f64], ground: TailGround) -> Option<(Lie, f64)> {
    let most = |either_way: bool| {
        let lies = tails.iter().map(|deg| Lie {
            deg: *deg,
            either_way,
        });
        lies.max_by_key(|lie| lie.count(tails))
    };
    let (one_way, axis) = (most(false)?, most(true)?);
    let opposite = Lie {
        deg: one_way.deg + 180.0,
        either_way: false,
    };
    let either = Lie {
        either_way: true,
        ..one_way
    };
    let (alike, opposed) = (one_way.count(tails), opposite.count(tails));
    let by_direction = comets_false_alarms(&Tails {
        alike,
        opposed,
        others: tails.len().saturating_sub(alike + opposed),
        contrary: either.count(contrary),
        ground,
        off_sides_deg: one_way.off_sides_deg(tails),
    });
    let on_axis = axis.count(tails);
    let by_axis = comet_axis_false_alarms(&Tails {
        alike: on_axis,
        opposed: 0,
        others: tails.len() - on_axis,
        contrary: axis.count(contrary),
        ground,
        off_sides_deg: axis.off_sides_deg(tails),
    });
    // Where both would do, one direction tells more, unless the axis holds many more.
    match by_direction <= FALSE_ALARMS_A_PLATE && 3 * alike >= 2 * on_axis {
        true => Some((one_way, by_direction)),
        false if by_axis < by_direction || by_axis <= FALSE_ALARMS_A_PLATE => Some((axis, by_axis)),
        false => Some((one_way, by_direction)),
    }
}

/// Weaker tails along a lie that is known already, if there are more of them than chance puts there.
fn weaker<'a>(tailed: &[Tailed<'a>], found: &Found) -> Vec<&'a Speck> {
    let rest: Vec<Tailed> = tailed
        .iter()
        .filter(|one| one.speck.more_silver() == found.more_silver)
        .filter(|one| {
            let taken = |member: &&Speck| std::ptr::eq(*member, one.speck);
            !found.members.iter().any(taken)
        })
        .copied()
        .collect();
    let along: Vec<&Speck> = rest
        .iter()
        .filter(|one| found.lie.holds(one.deg))
        .map(|one| one.speck)
        .collect();
    let others = rest.len() - along.len();
    match weaker_comets_chance(along.len(), others, found.lie.either_way) <= WEAKER_CHANCE {
        true => along,
        false => Vec::new(),
    }
}

fn direction_readings(
    agreed: &Agreement,
    count: usize,
    either_way: bool,
) -> [(&'static str, Reading); 3] {
    let u = 2.0 * agreed.spread_deg / (count as f64).sqrt();
    let name = if either_way {
        "axis_deg"
    } else {
        "direction_deg"
    };
    [
        (name, Reading::new(agreed.mean_deg, u)),
        ("resultant_length", Reading::new(agreed.resultant, 0.0)),
        ("even_directions_p", Reading::new(agreed.p_even, 0.0)),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    const SCENE: TailGround = TailGround {
        look: 0,
        even_plate: false,
    };
    const EVEN: TailGround = TailGround {
        look: 0,
        even_plate: true,
    };

    #[test]
    fn heads_at_the_joints_of_a_wall_are_left_out() {
        let joints: Vec<Speck> = (0..5).map(|k| head(9.0 * f64::from(k), 18.4)).collect();
        let own = [head(12.0, 30.0), head(40.0, 51.0), head(33.0, 51.0)];
        let tailed = |speck| Tailed {
            speck,
            deg: 180.0,
            likeness: 0.0,
        };
        let all: Vec<Tailed> = joints.iter().chain(&own).map(tailed).collect();
        let left: Vec<&Speck> = off_courses(&all).iter().map(|one| one.speck).collect();
        assert_eq!(left, own.iter().collect::<Vec<_>>());
    }

    #[test]
    fn two_grains_are_not_each_other_s_tail() {
        let pair = [head(20.0, 30.0), head(20.0, 31.2), head(21.3, 31.2)];
        let tailed = |(speck, deg)| Tailed {
            speck,
            deg,
            likeness: 0.0,
        };
        // The first two point at each other, the third past them.
        let all = [
            tailed((&pair[0], 180.0)),
            tailed((&pair[1], 0.0)),
            tailed((&pair[2], 0.0)),
        ];
        let left: Vec<&Speck> = alone(&all).iter().map(|one| one.speck).collect();
        assert_eq!(left, [&pair[2]]);
    }

    fn head(x: f64, y: f64) -> Speck {
        Speck {
            centre_mm: [x, y],
            size_mm: 0.3,
            size_cells: 7.0,
            contrast_d: -0.2,
            elongation: 1.1,
            steepness: 8.0,
            light: 0.1,
            expected_false_alarms: 1e-6,
            tail: None,
            nature: crate::measures::specks::Nature::OfPlate,
        }
    }

    #[test]
    fn tails_one_way_are_a_direction_and_both_ways_an_axis() {
        let one_way = [40.0; 20];
        let (lie, expected) = common_lie(&one_way, &[], EVEN).unwrap();
        assert!(!lie.either_way && expected <= FALSE_ALARMS_A_PLATE);
        let both_ways = [[40.0; 20].as_slice(), &[220.0; 15]].concat();
        let (lie, expected) = common_lie(&both_ways, &[], EVEN).unwrap();
        assert!(lie.either_way && expected <= FALSE_ALARMS_A_PLATE);
        assert!(common_lie(&[], &[], EVEN).is_none());
    }

    #[test]
    fn a_fence_is_no_group_of_comets_whichever_picket_stands_aslant() {
        // Tails both ways, about upright; the last one is 14 degrees off.
        let fence: Vec<f64> = (0..60)
            .map(|k| f64::from(k % 2) * 180.0 + f64::from(k % 7) - 3.0)
            .chain([14.0])
            .collect();
        let (_, expected) = common_lie(&fence, &[], SCENE).unwrap();
        assert!(expected > FALSE_ALARMS_A_PLATE);
    }
}
