//! The direction that the tails of a plate share, and how much speaks for comets.
//!
//! Comes in: heads with tails and how like a comet each looks. Goes out: [`Agreeing`]. A scene's tails follow
//! its boards, roofs and folds, upright and level ones most of all, so that a tail counts as much as it points
//! where the scene's do not.

use std::f64::consts::TAU;

use super::likeness::likeness;
use crate::measures::Speck;
use crate::measures::specks::{Agreement, agreement, axis_agreement};
use crate::raster::geometry::{between_axes_deg, between_directions_deg, direction_deg, distance};

/// How far a tail may lie from the common direction, degrees: three spreads of a steady pour.
const ALIKE_DEG: f64 = 15.0;

/// Likeness below which a tail is no comet's whatever it agrees with.
pub(super) const LEAST_LIKENESS: f64 = -1.5;

/// Most of its head's contrast that a comet's tail has: of planted ones one in a hundred has more.
const MOST_OF_HEAD: f64 = 0.9;

/// Tails nearer to each other than this lie on one line, millimetres.
const APART_MM: f64 = 1.5;

/// How far off a mark may lie that looks like another's tail, millimetres: rays are read from 1 mm on. Our own
/// choice.
const NEXT_MM: f64 = 2.0;

/// How far the tails of one group lie from their direction, degrees (standard deviation), and the share of
/// them that lie anywhere: a little more than a steady pour's, since scans add to it.
const SPREAD_DEG: f64 = 10.0;
/// See [`SPREAD_DEG`].
const ASTRAY: f64 = 0.03;

/// Directions tried, and shares of the tails that may be comets'.
const DIRECTIONS: usize = 72;
/// See [`DIRECTIONS`].
const SHARES: [f64; 4] = [0.05, 0.15, 0.4, 0.8];

/// Most that the looks of one tail say, and how much of what the looks of all say counts beside where they
/// point: a scene has its own ornaments, and all of them look alike. Our own choice; half or twice as much
/// finds as many.
const MOST_LIKENESS: f64 = 3.0;
/// See [`MOST_LIKENESS`].
const LOOKS_COUNT: f64 = 0.15;

/// How near to the plate's own sides tails of a scene's uprights and levels lie, degrees (standard deviation),
/// and how far from them none is looked for both ways: fences, boards and blinds.
const UPRIGHT_SPREAD_DEG: f64 = 7.0;
/// See [`UPRIGHT_SPREAD_DEG`].
const NO_AXIS_DEG: f64 = 12.0;

/// Share of a scene's tails within [`NEAR_UPRIGHT_DEG`] of upright or level before any was seen, as of so many
/// tails. Our own choice; half or twice as many tails find as many comets.
const UPRIGHT_SHARE: f64 = 0.45;
/// See [`UPRIGHT_SHARE`].
const AS_OF_TAILS: f64 = 6.0;
/// See [`UPRIGHT_SHARE`].
const NEAR_UPRIGHT_DEG: f64 = 10.0;

/// Likeness of tails that are as probably the scene's as not where the scene is asked: a scene has a few times as
/// many tails as comets have. Our own choice.
const EVEN_ODDS: f64 = -1.0;

/// How far a tail of the scene speaks for others along it, degrees (standard deviation).
const SCENE_SPREAD_DEG: f64 = 12.0;

/// A head with a tail.
#[derive(Clone, Copy)]
pub(super) struct Tailed<'a> {
    pub speck: &'a Speck,
    pub deg: f64,
    /// See [`likeness`].
    pub likeness: f64,
    /// Whether the tail is fainter than the head: one that is not may be a streak with a knot on it, and never
    /// speaks for comets.
    pub fainter: bool,
}

/// Heads with tails.
pub(super) fn tailed(specks: &[Speck]) -> Vec<Tailed<'_>> {
    let of = specks.iter().filter_map(|speck| {
        let tail = speck.tail.as_ref()?;
        Some(Tailed {
            speck,
            deg: tail.direction_deg,
            likeness: likeness(speck, specks)?,
            fainter: tail.mean_d <= MOST_OF_HEAD * speck.contrast_d.abs(),
        })
    });
    of.collect()
}

/// A direction, or an axis either way, that tails share.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lie {
    pub deg: f64,
    pub either_way: bool,
}

impl Lie {
    /// Whether a tail lies along it.
    pub fn holds(self, deg: f64) -> bool {
        self.off(deg) <= ALIKE_DEG
    }

    /// What directions along it have in common; `None` without any.
    pub fn agreement(self, degs: &[f64]) -> Option<Agreement> {
        match self.either_way {
            true => axis_agreement(degs),
            false => agreement(degs),
        }
    }

    fn off(self, deg: f64) -> f64 {
        match self.either_way {
            true => between_axes_deg(deg, self.deg),
            false => between_directions_deg(deg, self.deg),
        }
    }

    /// How much likelier a tail of the group points there than one that points anywhere.
    fn draws(self, deg: f64) -> f64 {
        let ways = if self.either_way { 2.0 } else { 1.0 };
        let narrow = bell(self.off(deg), SPREAD_DEG) * 360.0 / ways;
        (1.0 - ASTRAY) * narrow + ASTRAY
    }
}

/// Tails that agree.
pub(super) struct Agreeing<'a> {
    pub lie: Lie,
    pub members: Vec<&'a Speck>,
    /// Logarithm of how much likelier the tails are as they are with a group of comets among them than
    /// without.
    pub evidence: f64,
}

/// The direction or the axis for which the tails speak most; `None` without any that is enough like a comet's.
pub(super) fn agreeing<'a>(tailed: &[Tailed<'a>], even_plate: bool) -> Option<Agreeing<'a>> {
    let alone = alone(tailed);
    let scene: Vec<f64> = match even_plate {
        true => vec![1.0; alone.len()],
        false => {
            let scene = SceneTails::of(tailed);
            alone.iter().map(|one| scene.draws(one)).collect()
        }
    };
    let step = 360.0 / DIRECTIONS as f64;
    let lies = [false, true].into_iter().flat_map(|either_way| {
        let count = if either_way {
            DIRECTIONS / 2
        } else {
            DIRECTIONS
        };
        (0..count).map(move |k| Lie {
            deg: k as f64 * step,
            either_way,
        })
    });
    let lies =
        lies.filter(|lie| even_plate || !lie.either_way || off_sides_deg(lie.deg) > NO_AXIS_DEG);
    let looks = SHARES
        .map(|share| -> Vec<Looks> { alone.iter().map(|one| Looks::of(one, share)).collect() });
    let (evidence, lie, looks) = lies
        .flat_map(|lie| looks.iter().map(move |looks| (lie, looks)))
        .map(|(lie, looks)| {
            let of = alone.iter().zip(&scene).zip(looks);
            let says = of.map(|((one, scene), looks)| {
                let points = 1.0 - looks.of_group + looks.of_group * drawn(one, lie, *scene);
                points.ln() + LOOKS_COUNT * looks.says
            });
            (says.sum::<f64>(), lie, looks)
        })
        .max_by(|a, b| a.0.total_cmp(&b.0))?;
    let members = alone.iter().zip(&scene).zip(looks);
    let members = members.filter(|((one, scene), looks)| {
        let rest = 1.0 - looks.of_group;
        looks.of_group * drawn(one, lie, **scene) > rest && lie.holds(one.deg)
    });
    let members: Vec<&Tailed> = members.map(|((one, _), _)| one).collect();
    let degs: Vec<f64> = members.iter().map(|one| one.deg).collect();
    Some(Agreeing {
        lie: Lie {
            deg: lie.agreement(&degs)?.mean_deg,
            ..lie
        },
        members: members.into_iter().map(|one| one.speck).collect(),
        evidence,
    })
}

/// How much likelier a tail of the group points where one does than a tail of the scene.
fn drawn(one: &Tailed, lie: Lie, scene: f64) -> f64 {
    let ratio = lie.draws(one.deg) / scene;
    if one.fainter { ratio } else { ratio.min(1.0) }
}

/// What the looks of a tail tell where a share of all tails may be comets'.
struct Looks {
    /// For there being such a group, logarithm.
    says: f64,
    /// How probable they make it that the tail is of the group.
    of_group: f64,
}

impl Looks {
    fn of(one: &Tailed, share: f64) -> Looks {
        let of_group = share * one.likeness.min(MOST_LIKENESS).exp();
        let all = 1.0 - share + of_group;
        Looks {
            says: all.ln(),
            of_group: of_group / all,
        }
    }
}

/// Those that are enough like comets and stand by themselves: along a hair, a scratch or the edge of a roof there
/// is one after another, and of two grains side by side each looks like the other's tail.
fn alone<'a>(tailed: &[Tailed<'a>]) -> Vec<Tailed<'a>> {
    let like: Vec<Tailed> = tailed
        .iter()
        .filter(|one| one.likeness >= LEAST_LIKENESS)
        .copied()
        .collect();
    let near = |a: &Tailed, b: &Tailed| distance(a.speck.centre_mm, b.speck.centre_mm) < APART_MM;
    let by_itself = |one: &&Tailed| {
        let mut others = like
            .iter()
            .filter(|other| !std::ptr::eq(one.speck, other.speck));
        !others.any(|other| near(one, other) || lead_to_each_other(one, other))
    };
    like.iter().filter(by_itself).copied().collect()
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

/// Where the tails of a scene point.
struct SceneTails<'a> {
    tailed: &'a [Tailed<'a>],
    /// How surely each is the scene's.
    weights: Vec<f64>,
    /// Share of them that stand upright or level for a reason.
    upright: f64,
}

impl<'a> SceneTails<'a> {
    fn of(tailed: &'a [Tailed<'a>]) -> Self {
        let weight = |one: &Tailed| 1.0 / (1.0 + (one.likeness - EVEN_ODDS).exp());
        let weights: Vec<f64> = tailed.iter().map(weight).collect();
        let near = tailed.iter().zip(&weights);
        let near = near.filter(|(one, _)| off_sides_deg(one.deg) <= NEAR_UPRIGHT_DEG);
        let near: f64 = near.map(|(_, weight)| weight).sum();
        let all: f64 = weights.iter().sum();
        let share = (near + UPRIGHT_SHARE * AS_OF_TAILS) / (all + AS_OF_TAILS);
        // Of tails that point anywhere so many are near by chance.
        let by_chance = NEAR_UPRIGHT_DEG / 45.0;
        SceneTails {
            tailed,
            weights,
            upright: ((share - by_chance) / (1.0 - by_chance)).max(0.0),
        }
    }

    /// How much likelier a tail of the scene points as one does than anywhere: as uprights and levels do, and as
    /// the scene's other tails do.
    fn draws(&self, one: &Tailed) -> f64 {
        let uprights = 90.0 * bell(off_sides_deg(one.deg), UPRIGHT_SPREAD_DEG);
        let any_scene = 1.0 - self.upright + self.upright * uprights;
        let others = self.tailed.iter().zip(&self.weights);
        let others = others.filter(|(other, _)| !std::ptr::eq(other.speck, one.speck));
        let (sum, count) = others.fold((0.0, 0.0), |(sum, count), (other, weight)| {
            let along = 180.0 * bell(between_axes_deg(one.deg, other.deg), SCENE_SPREAD_DEG);
            (sum + weight * along, count + weight)
        });
        (sum + AS_OF_TAILS * any_scene) / (count + AS_OF_TAILS)
    }
}

/// How far a direction lies from the nearest of the plate's own sides, degrees.
fn off_sides_deg(deg: f64) -> f64 {
    let off = deg.rem_euclid(90.0);
    off.min(90.0 - off)
}

/// The normal density.
fn bell(off: f64, sd: f64) -> f64 {
    (-0.5 * (off / sd).powi(2)).exp() / (sd * TAU.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::specks::tests::head;

    /// Heads far from each other, with tails as given.
    fn evidence(tails: &[f64], even_plate: bool) -> (f64, Lie, usize) {
        let specks: Vec<Speck> = (0..tails.len())
            .map(|k| head(5.0 * (k % 12) as f64, 7.0 * (k / 12) as f64))
            .collect();
        let tailed: Vec<Tailed> = specks
            .iter()
            .zip(tails)
            .map(|(speck, deg)| Tailed {
                speck,
                deg: *deg,
                likeness: 1.0,
                fainter: true,
            })
            .collect();
        let found = agreeing(&tailed, even_plate);
        found.map_or(
            (
                0.0,
                Lie {
                    deg: 0.0,
                    either_way: false,
                },
                0,
            ),
            |found| (found.evidence, found.lie, found.members.len()),
        )
    }

    #[test]
    fn two_grains_are_not_each_other_s_tail() {
        let pair = [head(20.0, 30.0), head(20.0, 31.8), head(21.6, 31.8)];
        let tailed = |(speck, deg)| Tailed {
            speck,
            deg,
            likeness: 0.0,
            fainter: true,
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

    #[test]
    fn tails_one_way_are_a_direction_and_both_ways_an_axis() {
        let (one_way, lie, count) = evidence(&[40.0; 20], true);
        assert!(!lie.either_way && (lie.deg - 40.0).abs() < 1.0 && count == 20);
        let both_ways = [[40.0; 11].as_slice(), &[220.0; 9]].concat();
        let (axis, lie, count) = evidence(&both_ways, true);
        assert!(lie.either_way && (lie.deg - 40.0).abs() < 1.0 && count == 20);
        // Each tail of an axis tells less by one of two ways, at most.
        let ways = 20.0 * std::f64::consts::LN_2;
        assert!(axis < one_way && one_way - axis <= ways + 1e-9);
        assert!(agreeing(&[], true).is_none());
    }

    #[test]
    fn tails_that_point_anywhere_do_not_agree() {
        let anywhere: Vec<f64> = (0..30).map(|k| f64::from(k * 97 % 360)).collect();
        assert!(evidence(&anywhere, true).0 < 3.0);
        let with_some = [anywhere.as_slice(), &[40.0; 8]].concat();
        assert!(evidence(&with_some, true).0 > 6.0);
    }

    #[test]
    fn knots_on_streaks_are_no_comets() {
        let specks: Vec<Speck> = (0..14).map(|k| head(4.0 * f64::from(k), 30.0)).collect();
        let with = |fainter| {
            let tailed = specks.iter().map(|speck| Tailed {
                speck,
                deg: 2.0,
                likeness: 1.0,
                fainter,
            });
            agreeing(&tailed.collect::<Vec<_>>(), true).map_or(0.0, |found| found.evidence)
        };
        assert!(with(true) > 10.0 && with(false) < 3.0);
    }

    #[test]
    fn a_fence_is_no_group_of_comets_whichever_picket_stands_aslant() {
        // Tails both ways, about upright; the last one is 14 degrees off.
        let fence: Vec<f64> = (0..60)
            .map(|k| f64::from(k % 2) * 180.0 + f64::from(k % 7) - 3.0)
            .chain([14.0])
            .collect();
        let (scene, ..) = evidence(&fence, false);
        assert!(scene < 5.0, "{scene}");
        let (off, ..) = evidence(
            &fence.iter().map(|deg| deg + 40.0).collect::<Vec<_>>(),
            false,
        );
        assert!(off > scene);
    }

    #[test]
    fn what_the_scene_s_own_tails_show_is_worth_less() {
        let own = head(3.0, 90.0);
        let comets: Vec<Speck> = (0..8).map(|k| head(9.0 * f64::from(k), 5.0)).collect();
        let roof: Vec<Speck> = (0..40).map(|k| head(2.0 * f64::from(k), 40.0)).collect();
        let with = |like: f64| {
            let one = |speck, likeness| Tailed {
                speck,
                deg: 35.0,
                likeness,
                fainter: true,
            };
            let comets = comets.iter().map(|speck| one(speck, 1.0));
            let roof = roof.iter().map(|speck| one(speck, like));
            let all: Vec<Tailed> = comets.chain(roof).chain([one(&own, 0.0)]).collect();
            agreeing(&all, false).unwrap().evidence
        };
        // A roof's tails are unlike a comet's; where nothing is seen of it there is nothing to weigh.
        let lone: Vec<Tailed> = comets
            .iter()
            .map(|speck| Tailed {
                speck,
                deg: 35.0,
                likeness: 1.0,
                fainter: true,
            })
            .collect();
        assert!(with(-5.0) < 0.5 * agreeing(&lone, false).unwrap().evidence);
    }
}
