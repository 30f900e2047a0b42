//! Comets: heads whose tails point one way, or both ways along one axis.

use super::group;
use crate::findings::limits::{
    FALSE_ALARMS_A_PLATE, Tails, comet_axis_false_alarms, comets_false_alarms, weaker_comets_chance,
};
use crate::findings::{Fault, Finding, dust};
use crate::measures::specks::{Agreement, agreement, axis_agreement};
use crate::measures::{Speck, SpeckMeasures};
use crate::plate::{Plate, PlateKind};
use crate::raster::geometry::distance;
use crate::raster::stats::median;
use crate::units::Reading;

/// How far a tail may lie from the common direction, degrees: three spreads of a steady pour.
const ALIKE_DEG: f64 = 15.0;

/// Heads with tails nearer to each other than this lie on one line, millimetres.
const APART_MM: f64 = 1.0;

/// How near a direction may lie to the plate's own sides and count as upright or level, degrees: most
/// of what people build stands so.
const UPRIGHT_DEG: f64 = 6.0;

/// Which tails are looked at, from few good ones to many doubtful ones: each look may tell what the
/// others drown. Limits from comets planted on practice plates (seeds from 300416): half of their heads
/// are rounder than 1.5, nine in ten than 2.2.
const LOOKS: [Look; 4] = [
    Look {
        longest: 1.4,
        alarms: 1e-3,
    },
    Look {
        longest: 1.8,
        alarms: 1e-3,
    },
    Look {
        longest: 2.4,
        alarms: 0.1,
    },
    Look {
        longest: 2.4,
        alarms: 3.0,
    },
];

/// Head that no end of an edge is as round as: the first look's.
const COMPACT: f64 = LOOKS[0].longest;

/// What a look takes in.
#[derive(Clone, Copy)]
struct Look {
    /// Longest head over a scene, whose edges have ends.
    longest: f64,
    /// Heads expected by chance, at most.
    alarms: f64,
}

/// What a comet may look like, over a scene and over an even ground.
struct Shape {
    /// Longest head, long over short extent, where no look is stricter: strong tails count to it in part.
    longest: f64,
    /// Largest head, millimetres: the trade's comets are dots with tails.
    largest_mm: f64,
    /// Least and most that a tail has of its head's contrast.
    share: [f64; 2],
}

/// Nineteen of twenty planted comets are smaller and have tails between these shares; half of what
/// scenes show is as strong as its head.
const OVER_SCENE: Shape = Shape {
    longest: 2.4,
    largest_mm: 0.6,
    share: [0.12, 0.8],
};
/// Over an even ground there are no edges to be mistaken.
const OVER_EVEN: Shape = Shape {
    longest: 6.0,
    largest_mm: 0.9,
    share: [0.12, 1.1],
};

/// Chance up to which weaker tails along the common direction are taken in.
const WEAKER_CHANCE: f64 = 0.01;

/// Comets: heads whose tails point one way, or both ways along one axis.
pub(crate) fn comets(plate: &Plate, marks: &SpeckMeasures, findings: &mut Vec<Finding>) {
    let even = matches!(plate.kind, PlateKind::Blank | PlateKind::Flat);
    let shape = if even { &OVER_EVEN } else { &OVER_SCENE };
    let like = comet_like(marks, shape);
    let Some(found) = best(&like, even) else {
        return;
    };
    if found.expected > FALSE_ALARMS_A_PLATE {
        return;
    }
    let weaker = weaker(&like, &found);
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
            .push(("length_mm", Reading::new(length_mm, 0.3 * length_mm)));
    }
    findings.push(finding);
}

fn direction(speck: &Speck) -> Option<f64> {
    speck.tail.as_ref().map(|tail| tail.direction_deg)
}

/// Tails that are fainter than their heads, on heads no larger than a comet's.
fn comet_like<'a>(marks: &'a SpeckMeasures, shape: &Shape) -> Vec<(&'a Speck, f64)> {
    let fits = |speck: &&Speck| {
        let share = speck
            .tail
            .as_ref()
            .map(|tail| tail.mean_d / speck.contrast_d.abs());
        speck.elongation <= shape.longest
            && speck.size_mm <= shape.largest_mm
            && share.is_some_and(|share| (shape.share[0]..=shape.share[1]).contains(&share))
    };
    let like = marks.specks.iter().filter(fits);
    like.filter_map(|speck| Some((speck, direction(speck)?)))
        .collect()
}

/// Those that stand by themselves: along a hair, a scratch or the edge of a roof there is one after
/// another.
fn alone<'a>(tailed: &[(&'a Speck, f64)]) -> Vec<(&'a Speck, f64)> {
    let near = |a: &Speck, b: &Speck| distance(a.centre_mm, b.centre_mm) < APART_MM;
    let of = tailed.iter().filter(|(speck, _)| {
        let others = tailed.iter().filter(|(other, _)| near(speck, other));
        others.count() == 1
    });
    of.copied().collect()
}

/// A direction, or an axis either way, that tails share.
#[derive(Clone, Copy)]
struct Lie {
    deg: f64,
    either_way: bool,
}

impl Lie {
    fn holds(self, deg: f64) -> bool {
        let off = away_deg(deg, self.deg);
        off <= ALIKE_DEG || (self.either_way && off >= 180.0 - ALIKE_DEG)
    }

    fn count(self, tails: &[f64]) -> usize {
        tails.iter().filter(|deg| self.holds(**deg)).count()
    }

    fn is_upright(self) -> bool {
        let off = self.deg.rem_euclid(90.0);
        off <= UPRIGHT_DEG || off >= 90.0 - UPRIGHT_DEG
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
fn best<'a>(like: &[(&'a Speck, f64)], even: bool) -> Option<Found<'a>> {
    let mut best: Option<Found<'a>> = None;
    for look in &LOOKS {
        let taken: Vec<(&Speck, f64)> = like
            .iter()
            .filter(|(speck, _)| even || speck.elongation <= look.longest)
            .filter(|(speck, _)| speck.expected_false_alarms <= look.alarms)
            .copied()
            .collect();
        let taken = alone(&taken);
        for more_silver in [true, false] {
            let (own, other): (Vec<_>, Vec<_>) = taken
                .iter()
                .copied()
                .partition(|(speck, _)| speck.more_silver() == more_silver);
            let degs = |of: &[(&Speck, f64)]| of.iter().map(|(_, deg)| *deg).collect::<Vec<f64>>();
            let Some((lie, expected)) = common_lie(&degs(&own), &degs(&other), even, look) else {
                continue;
            };
            if best.as_ref().is_none_or(|b| expected < b.expected) {
                let members = own.iter().filter(|(_, deg)| lie.holds(*deg));
                best = Some(Found {
                    lie,
                    more_silver,
                    members: members.map(|(speck, _)| *speck).collect(),
                    expected,
                });
            }
        }
    }
    best
}

/// The lie that most tails of one sign share by less chance than any other, and the groups expected by
/// chance; `contrary` are the tails of the other sign.
fn common_lie(tails: &[f64], contrary: &[f64], even: bool, look: &Look) -> Option<(Lie, f64)> {
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
        even_plate: even,
        upright: one_way.is_upright(),
    });
    let on_axis = axis.count(tails);
    let by_axis = comet_axis_false_alarms(&Tails {
        alike: on_axis,
        opposed: 0,
        others: tails.len() - on_axis,
        contrary: axis.count(contrary),
        even_plate: even,
        upright: axis.is_upright(),
    });
    // Ends of a scene's edges lie along axes too, so over a scene only compact heads may tell one.
    let by_axis = match even || look.longest <= COMPACT {
        true => by_axis,
        false => 1.0,
    };
    // Where both would do, one direction tells more, unless the axis holds many more.
    match by_direction <= FALSE_ALARMS_A_PLATE && 3 * alike >= 2 * on_axis {
        true => Some((one_way, by_direction)),
        false if by_axis < by_direction => Some((axis, by_axis)),
        false => Some((one_way, by_direction)),
    }
}

/// Weaker tails along a lie that is known already, if there are more of them than chance puts there.
fn weaker<'a>(like: &[(&'a Speck, f64)], found: &Found) -> Vec<&'a Speck> {
    let rest: Vec<(&Speck, f64)> = like
        .iter()
        .filter(|(speck, _)| speck.more_silver() == found.more_silver)
        .filter(|(speck, _)| {
            let taken = |member: &&Speck| std::ptr::eq(*member, *speck);
            !found.members.iter().any(taken)
        })
        .copied()
        .collect();
    let along: Vec<&Speck> = rest
        .iter()
        .filter(|(_, deg)| found.lie.holds(*deg))
        .map(|(speck, _)| *speck)
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

fn away_deg(a: f64, b: f64) -> f64 {
    let d = (a - b).rem_euclid(360.0);
    d.min(360.0 - d)
}
