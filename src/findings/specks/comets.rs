//! Comets: heads whose tails point one way, or both ways along one axis.

use super::likeness::{LEAST_LIKENESS, likeness};
use super::{group, mostly_no_chance};
use crate::findings::limits::{
    FALSE_ALARMS_A_PLATE, TailGround, TailSigns, Tails, comet_axis_false_alarms,
    comets_false_alarms, weaker_comets_chance,
};
use crate::findings::{Fault, Finding, dust};
use crate::measures::specks::{Agreement, Nature, STEP_DEG, agreement, axis_agreement};
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
    let mut members = found.members.clone();
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
    let mut lengths: Vec<f64> = members
        .iter()
        .filter_map(|speck| speck.tail.as_ref().map(|tail| tail.length_mm))
        .collect();
    let lie = (found.lie, agreed.mean_deg);
    let faint: Vec<Speck> = [true, false]
        .into_iter()
        .flat_map(|more_silver| faint(&marks.specks, &members, more_silver, lie))
        .collect();
    members.extend(&faint);
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
    finding.measured.extend(direction_readings(
        &agreed,
        directions.len(),
        found.lie.either_way,
    ));
    let second_pass = (weaker.len() + faint.len()) as f64;
    finding
        .measured
        .push(("count_second_pass", Reading::new(second_pass, 0.0)));
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
    members: Vec<&'a Speck>,
    /// Groups expected by chance.
    expected: f64,
}

/// The tails that agree by the least chance, over all looks, of either sign and of both together.
fn best<'a>(tailed: &[Tailed<'a>], even_plate: bool) -> Option<Found<'a>> {
    let mut best: Option<Found<'a>> = None;
    for (look, least) in LEAST_LIKENESS.into_iter().enumerate() {
        let like = tailed.iter().filter(|one| one.likeness > least);
        let mut taken = alone(&like.copied().collect::<Vec<_>>());
        if !even_plate {
            taken = off_courses(&taken);
        }
        for more_silver in [Some(true), Some(false), None] {
            let (own, other): (Vec<Tailed>, Vec<Tailed>) = taken
                .iter()
                .partition(|one| more_silver.is_none_or(|more| one.speck.more_silver() == more));
            let degs = |of: &[Tailed]| of.iter().map(|one| one.deg).collect::<Vec<f64>>();
            let ground = TailGround { look, even_plate };
            let signs = match more_silver {
                Some(_) => TailSigns::One,
                None => TailSigns::Both,
            };
            let found = common_lie(&degs(&own), (&degs(&other), signs), ground);
            let Some((lie, expected)) = found else {
                continue;
            };
            if best.as_ref().is_none_or(|b| expected < b.expected) {
                let members = own.iter().filter(|one| lie.holds(one.deg));
                best = Some(Found {
                    lie,
                    members: members.map(|one| one.speck).collect(),
                    expected,
                });
            }
        }
    }
    best
}

/// The direction or the axis that most tails of one sign share, whichever is less by chance, and the groups
/// expected by chance; `contrary` are the tails of the sign that is not looked at.
fn common_lie(
    tails: &[f64],
    (contrary, signs): (&[f64], TailSigns),
    ground: TailGround,
) -> Option<(Lie, f64)> {
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
        signs,
        ground,
        off_sides_deg: one_way.off_sides_deg(tails),
    });
    let on_axis = axis.count(tails);
    let by_axis = comet_axis_false_alarms(&Tails {
        alike: on_axis,
        opposed: 0,
        others: tails.len() - on_axis,
        contrary: axis.count(contrary),
        signs,
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

/// Tails along a lie that is known already, too weak or of the wrong sign to have told it, if there are more of
/// them than chance puts there: of either sign, since what draws comets may take silver away here and leave some
/// there.
fn weaker<'a>(tailed: &[Tailed<'a>], found: &Found) -> Vec<&'a Speck> {
    let mut taken = Vec::new();
    for more_silver in [true, false] {
        let rest: Vec<&Tailed> = tailed
            .iter()
            .filter(|one| one.speck.more_silver() == more_silver)
            .filter(|one| {
                let taken = |member: &&Speck| std::ptr::eq(*member, one.speck);
                !found.members.iter().any(taken)
            })
            .collect();
        let (along, others): (Vec<&Tailed>, Vec<&Tailed>) =
            rest.into_iter().partition(|one| found.lie.holds(one.deg));
        let chance = weaker_comets_chance(along.len(), others.len(), found.lie.either_way);
        if chance <= WEAKER_CHANCE {
            taken.extend(along.iter().map(|one| one.speck));
        }
    }
    taken
}

/// Longest head of a faint tail, long over short extent: as of a plain one over a scene.
const LONGEST_FAINT: f64 = 2.4;

/// How far to either side of the common direction a faint tail may lie, steps of [`STEP_DEG`].
const FAINT_OFF: usize = 2;

/// Directions that tell how many heads show as much along a direction without comets, degrees from the common one:
/// neither by it nor behind it, where no ray stands out.
const CONTRARY_DEG: [f64; 8] = [60.0, 90.0, 120.0, 150.0, 210.0, 240.0, 270.0, 300.0];

/// Least that a faint tail stands out among all directions, standard deviations.
const FAINT_STANDS_OUT: f64 = 2.0;

/// Heads of one sign, by themselves, that show a faint tail along the lie that is known already, with that tail:
/// down to where more than a share of them would be by chance, which the other directions tell.
fn faint(
    specks: &[Speck],
    taken: &[&Speck],
    more_silver: bool,
    (lie, deg): (Lie, f64),
) -> Vec<Speck> {
    let ways: &[f64] = match lie.either_way {
        true => &[0.0, 180.0],
        false => &[0.0],
    };
    let heads = specks.iter().filter(|speck| {
        !speck.rays.is_empty()
            && speck.more_silver() == more_silver
            && speck.nature != Nature::OfGlass
            && speck.elongation <= LONGEST_FAINT
            && !taken.iter().any(|of| std::ptr::eq(*of, *speck))
    });
    let strongest = |speck: &Speck, deg: f64| {
        let all = ways
            .iter()
            .flat_map(|way| directions_near(deg + way, speck.rays.len()));
        all.max_by(|a, b| {
            speck.rays[*a]
                .stands_out
                .total_cmp(&speck.rays[*b].stands_out)
        })
    };
    let stands_out = |speck: &Speck, deg: f64| {
        if speck.rays.is_empty() {
            return 0.0;
        }
        strongest(speck, deg).map_or(0.0, |k| f64::from(speck.rays[k].stands_out))
    };
    let mut along: Vec<(f64, &Speck)> = heads
        .map(|speck| (stands_out(speck, deg), speck))
        .filter(|(value, _)| *value >= FAINT_STANDS_OUT)
        .collect();
    along.sort_by(|a, b| b.0.total_cmp(&a.0));
    let contrary = |least: f64| {
        let counts = CONTRARY_DEG.iter().map(|off| {
            let heads = specks.iter().filter(|speck| {
                speck.more_silver() == more_silver && stands_out(speck, deg + off) >= least
            });
            heads.count()
        });
        counts.max().unwrap_or(0)
    };
    let count = (1..=along.len())
        .rev()
        .find(|&n| mostly_no_chance(n, contrary(along[n - 1].0) as f64))
        .unwrap_or(0);
    along[..count]
        .iter()
        .map(|(_, speck)| Speck {
            tail: strongest(speck, deg).map(|k| speck.rays[k].as_tail(k)),
            ..(*speck).clone()
        })
        .collect()
}

/// The directions next to one, by their numbers.
fn directions_near(deg: f64, count: usize) -> impl Iterator<Item = usize> {
    let middle = (deg.rem_euclid(360.0) / STEP_DEG).round() as usize;
    (0..=2 * FAINT_OFF).map(move |k| (middle + count + k - FAINT_OFF) % count)
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
    use crate::measures::specks::Ray;

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
            rays: Vec::new(),
            nature: crate::measures::specks::Nature::OfPlate,
        }
    }

    #[test]
    fn tails_one_way_are_a_direction_and_both_ways_an_axis() {
        let one_way = [40.0; 20];
        let (lie, expected) = common_lie(&one_way, (&[], TailSigns::One), EVEN).unwrap();
        assert!(!lie.either_way && expected <= FALSE_ALARMS_A_PLATE);
        let both_ways = [[40.0; 20].as_slice(), &[220.0; 15]].concat();
        let (lie, expected) = common_lie(&both_ways, (&[], TailSigns::One), EVEN).unwrap();
        assert!(lie.either_way && expected <= FALSE_ALARMS_A_PLATE);
        assert!(common_lie(&[], (&[], TailSigns::One), EVEN).is_none());
    }

    #[test]
    fn tails_of_the_other_sign_are_taken_in_along_a_known_lie() {
        let specks: Vec<Speck> = (0..12)
            .map(|k| Speck {
                contrast_d: if k < 6 { -0.2 } else { 0.2 },
                ..head(5.0 * f64::from(k), 11.0 * f64::from(k % 5))
            })
            .collect();
        let tailed: Vec<Tailed> = specks
            .iter()
            .map(|speck| Tailed {
                speck,
                deg: 40.0,
                likeness: 0.0,
            })
            .collect();
        let found = Found {
            lie: Lie {
                deg: 40.0,
                either_way: false,
            },
            members: specks[..6].iter().collect(),
            expected: 0.01,
        };
        assert_eq!(weaker(&tailed, &found).len(), 6);
    }

    #[test]
    fn faint_tails_count_along_a_known_lie_and_not_where_all_directions_show_as_much() {
        let deg = 40.0;
        let ray = |stands_out: f32| Ray {
            stands_out,
            plain_mm: 2.5,
            mean_d: 0.03,
        };
        let with = |elsewhere: f32| -> Vec<Speck> {
            let heads = (0..12).map(|k| {
                let mut rays = vec![ray(elsewhere); 72];
                rays[(deg / STEP_DEG) as usize] = ray(4.0);
                Speck {
                    rays,
                    ..head(5.0 * f64::from(k), 11.0 * f64::from(k % 5))
                }
            });
            heads.collect()
        };
        let lie = Lie {
            deg,
            either_way: false,
        };
        let taken = faint(&with(0.0), &[], false, (lie, deg));
        assert_eq!(taken.len(), 12);
        let tail = taken[0].tail.as_ref().unwrap();
        assert!((tail.direction_deg - deg).abs() < STEP_DEG && tail.plain_mm == 2.5);
        assert_eq!(faint(&with(5.0), &[], false, (lie, deg)), []);
        // Of the other sign there are none.
        assert_eq!(faint(&with(0.0), &[], true, (lie, deg)), []);
    }

    #[test]
    fn a_fence_is_no_group_of_comets_whichever_picket_stands_aslant() {
        // Tails both ways, about upright; the last one is 14 degrees off.
        let fence: Vec<f64> = (0..60)
            .map(|k| f64::from(k % 2) * 180.0 + f64::from(k % 7) - 3.0)
            .chain([14.0])
            .collect();
        let (_, expected) = common_lie(&fence, (&[], TailSigns::One), SCENE).unwrap();
        assert!(expected > FALSE_ALARMS_A_PLATE);
    }
}
