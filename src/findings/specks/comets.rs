//! Comets: heads whose tails point one way, or both ways along one axis.

use super::agreeing::{Agreeing, LEAST_LIKENESS, Lie, Tailed, agreeing, tailed};
use super::{group, mostly_no_chance};
use crate::findings::limits::{
    FALSE_ALARMS_A_PLATE, FEWEST_COMETS, comets_false_alarms, weaker_comets_chance,
};
use crate::findings::{Fault, Finding, dust};
use crate::measures::specks::{Agreement, Nature, STEP_DEG};
use crate::measures::{Speck, SpeckMeasures};
use crate::plate::{Plate, PlateKind};
use crate::raster::stats::median;
use crate::units::Reading;

/// Chance up to which weaker tails along the common direction are taken in.
const WEAKER_CHANCE: f64 = 0.01;

/// Comets: heads whose tails point one way, or both ways along one axis.
pub(crate) fn comets(plate: &Plate, marks: &SpeckMeasures, findings: &mut Vec<Finding>) {
    let even = matches!(plate.kind, PlateKind::Blank | PlateKind::Flat);
    let tailed = tailed(&marks.specks);
    let Some(found) = agreeing(&tailed, even) else {
        return;
    };
    let expected = comets_false_alarms(found.evidence, even);
    if expected > FALSE_ALARMS_A_PLATE || found.members.len() < FEWEST_COMETS {
        return;
    }
    let weaker = weaker(&tailed, &found);
    let mut members = found.members.clone();
    members.extend(&weaker);
    let directions: Vec<f64> = members
        .iter()
        .filter_map(|speck| direction(speck))
        .collect();
    let Some(agreed) = found.lie.agreement(&directions) else {
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
    let mut finding = group(plate, marks, Fault::Comets, &members, expected);
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

/// Tails along a lie that is known already, too weak or of the wrong sign to have told it, if there are more of
/// them than chance puts there: of either sign, since what draws comets may take silver away here and leave some
/// there.
fn weaker<'a>(tailed: &[Tailed<'a>], found: &Agreeing) -> Vec<&'a Speck> {
    let mut taken = Vec::new();
    for more_silver in [true, false] {
        let rest: Vec<&Tailed> = tailed
            .iter()
            .filter(|one| one.speck.more_silver() == more_silver)
            .filter(|one| one.likeness >= LEAST_LIKENESS)
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
    use crate::findings::specks::tests::head;
    use crate::measures::specks::Ray;

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
                fainter: true,
            })
            .collect();
        let found = Agreeing {
            lie: Lie {
                deg: 40.0,
                either_way: false,
            },
            members: specks[..6].iter().collect(),
            evidence: 9.0,
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
}
