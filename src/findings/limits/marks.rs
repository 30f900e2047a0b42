//! When comets, pinholes and specks are more than a clean plate shows.

use crate::findings::Severity;
use crate::raster::counts::uncertain_tail;

/// Which round marks are counted, against the like of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Look {
    All,
    /// Of a contrast that scenes and dust seldom reach.
    Strong,
    /// Larger or softer than dust mostly reads.
    UnlikeDust,
    /// Not of the smallest: of a size that grain, lace and fine dust seldom reach.
    NotSmallest,
}

/// All looks.
pub const LOOKS: [Look; 4] = [Look::All, Look::Strong, Look::UnlikeDust, Look::NotSmallest];

/// What tells how much dust lies on the glass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum DustTold {
    /// A second scan has taken it out but for so many grains.
    BySecondScan(f64),
    /// So many grains lie on an area of the lid as large as the one that was searched, give or take a
    /// share of it (standard deviation) for how few were counted.
    ByLid { grains: f64, give_or_take: f64 },
    /// Only the plate's own marks of the other sign, so many.
    ByOtherSign(f64),
}

/// What beside a fault makes round marks of one sign on a plate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Background {
    /// Whether it is a picture and no test plate.
    pub scene: bool,
    pub positive: bool,
    pub more_silver: bool,
    /// Round marks of the other sign that over a scene would be too weak to count: a scene makes both.
    pub contrary_weak: usize,
    /// Long marks of the sign: detail of the scene, fibres, flakes.
    pub long: usize,
    pub dust: DustTold,
}

/// Round marks of chance: so many on any plate, and for each weak mark of the other sign, each long mark
/// and each grain of dust (or mark of the other sign).
#[derive(Debug, Clone, Copy)]
struct MarksOfChance {
    any: f64,
    weak: f64,
    long: f64,
    dust: f64,
    /// Standard deviation of the number's mean from plate to plate, as a share of it.
    spread: f64,
}

const fn marks(any: f64, weak: f64, long: f64, dust: f64, spread: f64) -> MarksOfChance {
    MarksOfChance {
        any,
        weak,
        long,
        dust,
        spread,
    }
}

/// Marks of chance by look, in the order of [`LOOKS`].
type ByLook = [MarksOfChance; LOOKS.len()];

/// Negative binomial counts, fitted by maximum likelihood to the clean plates made for marks of development
/// seeds 700000 and 710000, on clean, dusty and filthy glass, and all plates made for fog of 730000: 776
/// plates, two signs each. Beside a lid, and without one.
const ON_POSITIVE_MORE: [ByLook; 2] = [
    [
        marks(0.924, 0.00703, 0.0325, 0.425, 0.348),
        marks(0.325, 0.006, 0.0402, 0.357, 0.443),
        marks(0.494, 0.00809, 0.0286, 0.104, 1.07),
        marks(1.05, 0.00482, 0.0315, 0.349, 0.39),
    ],
    [
        marks(2.26, 0.0898, 0.579, 1.21, 0.901),
        marks(1.84, 0.148, 0.564, 0.737, 0.956),
        marks(1.2, 0.0465, 0.0786, 0.208, 1.35),
        marks(2.16, 0.0774, 0.479, 0.916, 0.881),
    ],
];
/// See [`ON_POSITIVE_MORE`].
const ON_POSITIVE_LESS: [ByLook; 2] = [
    [
        marks(0.308, 0.0445, 0.0626, 0.0622, 0.701),
        marks(0.0356, 0.0645, 0.0748, 0.0156, 0.863),
        marks(0.108, 0.00648, 0.0778, 0.00962, 1.13),
        marks(0.313, 0.0723, 0.061, 0.0453, 0.717),
    ],
    [
        marks(0.416, 0.468, 0.0578, 0.0975, 0.768),
        marks(0.0134, 0.316, 0.0651, 0.0211, 0.853),
        marks(0.373, 0.16, 0.00555, 0.00236, 1.23),
        marks(0.32, 0.285, 0.0622, 0.0705, 0.806),
    ],
];
/// See [`ON_POSITIVE_MORE`].
const ON_NEGATIVE_MORE: [ByLook; 2] = [
    [
        marks(1.07, 0.00631, 0.0105, 0.185, 0.754),
        marks(0.0376, 0.0117, 0.0254, 0.0663, 1.1),
        marks(0.112, 0.00494, 0.023, 0.0355, 1.43),
        marks(0.961, 0.00467, 0.0112, 0.13, 0.7),
    ],
    [
        marks(2.35, 0.524, 0.925, 0.0532, 1.27),
        marks(0.478, 0.104, 0.504, 0.0278, 1.61),
        marks(0.185, 0.0249, 0.0555, 0.0186, 0.834),
        marks(1.9, 0.408, 0.554, 0.0515, 1.16),
    ],
];
/// See [`ON_POSITIVE_MORE`].
const ON_NEGATIVE_LESS: [ByLook; 2] = [
    [
        marks(0.432, 0.0115, 0.237, 0.014, 1.03),
        marks(0.00408, 0.0426, 0.228, 0.00135, 1.25),
        marks(0.145, 0.0289, 0.177, 0.00194, 1.2),
        marks(0.444, 0.0103, 0.219, 0.0118, 0.981),
    ],
    [
        marks(0.802, 0.0325, 0.295, 0.00883, 1.2),
        marks(0.0966, 0.00558, 0.311, 0.00085, 1.67),
        marks(0.143, 0.00572, 0.158, 0.000753, 1.38),
        marks(0.723, 0.0196, 0.283, 0.00347, 1.15),
    ],
];

/// Expected groups of round marks of one sign on a clean plate on which a look takes in so many of them:
/// the upper tail of a negative binomial count, times the looks that are taken.
pub fn round_marks_false_alarms(count: usize, look: Look, of: &Background) -> f64 {
    if count < FEWEST_ROUND {
        return 1.0;
    }
    let by_lid = match (of.positive, of.more_silver) {
        (true, true) => ON_POSITIVE_MORE,
        (true, false) => ON_POSITIVE_LESS,
        (false, true) => ON_NEGATIVE_MORE,
        (false, false) => ON_NEGATIVE_LESS,
    };
    let without_lid = matches!(of.dust, DustTold::ByOtherSign(_));
    let chance = by_lid[usize::from(without_lid)][look as usize];
    let (dust, dust_sd) = match of.dust {
        DustTold::BySecondScan(grains) => (grains, 0.0),
        DustTold::ByLid {
            grains,
            give_or_take,
        } => (chance.dust * grains, chance.dust * grains * give_or_take),
        DustTold::ByOtherSign(marks) => (chance.dust * marks, 0.0),
    };
    let mean =
        chance.any + chance.weak * of.contrary_weak as f64 + chance.long * of.long as f64 + dust;
    let mean = mean.max(LEAST_MARKS[usize::from(of.scene)]);
    let spread = chance.spread.hypot(dust_sd / mean);
    (LOOKS_APART * uncertain_tail(count, mean, spread)).clamp(LEAST_MARK_FALSE_ALARMS, 1.0)
}

/// How many looks that share nothing the four are worth. They mostly see the same marks: clean plates that the
/// counts were fitted to have false groups as for 1.3. Others have more: of 186 clean plates of seeds 760416
/// on, both signs, five groups are called at twice, where one in a hundred is foreseen.
const LOOKS_APART: f64 = 2.0;

/// Fewest marks of chance that an even plate and a picture are credited with, whatever the fit says of little
/// scene and dust: a sitter alone has two eyes and a row of buttons. Our own choice; on the fitted plates the
/// second costs one group of pinholes in sixty and spares a fifth of the false groups.
const LEAST_MARKS: [f64; 2] = [0.2, 1.0];

/// Fewest round marks that make a group: any plate has a few natural ones.
const FEWEST_ROUND: usize = 5;

/// Fewest false groups of marks a clean plate that any number of marks is credited with. The counts above are
/// models; 408 clean plates that they were not fitted to (seeds 350416 and 360416 on) had 11 false groups over
/// three faults, about 0.009 each, most of them stronger than the models foresee.
const LEAST_MARK_FALSE_ALARMS: f64 = 0.009;

/// Fewest tails that make a group of comets by one direction, and by one axis.
pub const FEWEST_COMETS: usize = 4;
/// See [`FEWEST_COMETS`].
pub const FEWEST_ON_AXIS: usize = 6;

/// Which tails are looked at together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TailSigns {
    /// Those of one sign.
    One,
    /// Those of both: what draws comets may take silver away here and leave some there.
    Both,
}

/// Tails looked at together, by whether they lie within 15 degrees of a direction or an axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tails {
    /// Along it.
    pub alike: usize,
    /// Opposite to a direction; none for an axis, which holds both.
    pub opposed: usize,
    /// Elsewhere.
    pub others: usize,
    /// Of the sign that is not looked at, along it either way: an edge of the scene shows both.
    pub contrary: usize,
    /// Which are looked at.
    pub signs: TailSigns,
    /// Where and how the tails were looked for.
    pub ground: TailGround,
    /// How far their mean lies from the nearest of the plate's own sides, degrees.
    pub off_sides_deg: f64,
}

/// How many looks are taken at tails, from the likest of a comet to the least alike.
pub const TAIL_LOOKS: usize = 4;

/// Where and how tails were looked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TailGround {
    /// Which of the [`TAIL_LOOKS`], the strictest is 0.
    pub look: usize,
    /// Blank and flat plates have no scene.
    pub even_plate: bool,
}

/// Tails of chance that lie along one direction or axis: so many where there are no others, and for each
/// that lies elsewhere, that is opposed, and that is of the other sign along it.
#[derive(Debug, Clone, Copy)]
struct TailsOfChance {
    alone: f64,
    other: f64,
    opposed: f64,
    contrary: f64,
    /// Standard deviation of the number's mean from plate to plate, as a share of it.
    spread: f64,
}

impl TailsOfChance {
    const fn new([alone, other, opposed, contrary, spread]: [f64; 5]) -> Self {
        TailsOfChance {
            alone,
            other,
            opposed,
            contrary,
            spread,
        }
    }

    /// Probability of as many by chance.
    fn chance(&self, tails: &Tails) -> f64 {
        let mean = self.alone
            + self.other * tails.others as f64
            + self.opposed * tails.opposed as f64
            + self.contrary * tails.contrary as f64;
        uncertain_tail(tails.alike, mean, self.spread)
    }
}

/// Tails of chance along one direction by look, over a scene and on an even plate: negative binomial counts
/// in every window of 30 degrees, fitted by maximum likelihood to the plates without comets of development
/// seeds 700000, 710000 and 720000.
const ALONG_DIRECTION: [[TailsOfChance; TAIL_LOOKS]; 2] = [
    [
        TailsOfChance::new([0.016, 0.027, 0.007, 0.023, 1.062]),
        TailsOfChance::new([0.04, 0.037, 0.048, 0.041, 0.685]),
        TailsOfChance::new([0.062, 0.051, 0.128, 0.037, 0.566]),
        TailsOfChance::new([0.069, 0.057, 0.204, 0.038, 0.484]),
    ],
    [
        TailsOfChance::new([0.011, 0.076, 0.136, 0.006, 0.363]),
        TailsOfChance::new([0.014, 0.074, 0.195, 0.004, 0.3]),
        TailsOfChance::new([0.023, 0.078, 0.154, 0.004, 0.399]),
        TailsOfChance::new([0.033, 0.078, 0.17, 0.001, 0.3]),
    ],
];

/// The same for tails of both signs together, of which none is contrary; fitted to the plates without comets of
/// development seeds 700000.
const BOTH_ALONG_DIRECTION: [[TailsOfChance; TAIL_LOOKS]; 2] = [
    [
        TailsOfChance::new([0.025, 0.047, 0.091, 0.0, 0.95]),
        TailsOfChance::new([0.058, 0.061, 0.053, 0.0, 0.733]),
        TailsOfChance::new([0.105, 0.065, 0.135, 0.0, 0.553]),
        TailsOfChance::new([0.141, 0.064, 0.25, 0.0, 0.427]),
    ],
    [
        TailsOfChance::new([0.022, 0.084, 0.084, 0.0, 0.461]),
        TailsOfChance::new([0.032, 0.078, 0.146, 0.0, 0.325]),
        TailsOfChance::new([0.043, 0.085, 0.1, 0.0, 0.306]),
        TailsOfChance::new([0.051, 0.082, 0.153, 0.0, 0.3]),
    ],
];

/// [`ALONG_DIRECTION`] along one axis, either way.
const ALONG_AXIS: [[TailsOfChance; TAIL_LOOKS]; 2] = [
    [
        TailsOfChance::new([0.032, 0.054, 0.0, 0.046, 0.974]),
        TailsOfChance::new([0.083, 0.079, 0.0, 0.087, 0.691]),
        TailsOfChance::new([0.138, 0.118, 0.0, 0.084, 0.677]),
        TailsOfChance::new([0.163, 0.146, 0.0, 0.092, 0.592]),
    ],
    [
        TailsOfChance::new([0.026, 0.174, 0.0, 0.01, 0.481]),
        TailsOfChance::new([0.032, 0.187, 0.0, 0.006, 0.461]),
        TailsOfChance::new([0.055, 0.185, 0.0, 0.005, 0.463]),
        TailsOfChance::new([0.077, 0.189, 0.0, 0.0, 0.38]),
    ],
];

/// [`BOTH_ALONG_DIRECTION`] along one axis, either way.
const BOTH_ALONG_AXIS: [[TailsOfChance; TAIL_LOOKS]; 2] = [
    [
        TailsOfChance::new([0.054, 0.105, 0.0, 0.0, 1.064]),
        TailsOfChance::new([0.123, 0.128, 0.0, 0.0, 0.63]),
        TailsOfChance::new([0.253, 0.147, 0.0, 0.0, 0.556]),
        TailsOfChance::new([0.42, 0.164, 0.0, 0.0, 0.514]),
    ],
    [
        TailsOfChance::new([0.053, 0.18, 0.0, 0.0, 0.423]),
        TailsOfChance::new([0.07, 0.185, 0.0, 0.0, 0.414]),
        TailsOfChance::new([0.086, 0.19, 0.0, 0.0, 0.326]),
        TailsOfChance::new([0.107, 0.194, 0.0, 0.0, 0.3]),
    ],
];

/// Windows that are looked at, times signs and looks that differ: along directions and along axes, on an
/// even plate.
const WINDOWS: [f64; 2] = [100.0, 50.0];

/// The same over a scene, along a direction, an upright or level one, and an axis, times what scenes show
/// more than a negative binomial count foresees: of the 760 plates that were fitted five pass for comets, and
/// the scenes of another hand are left as much room again.
const WINDOWS_OVER_SCENE: [f64; 3] = [1e3, 3e4, 2e5];

/// How many more looks tails of both signs together make, as a share of those at each by itself.
const TOGETHER: f64 = 1.5;

/// Expected groups of comets along one direction on a clean plate.
///
/// What scenes and dust show along a direction grows with the tails elsewhere, with the opposed (roofs,
/// boards and hair make tails both ways) and with those of the other sign. Over a scene, tails of which more
/// than half as many are opposed have no direction; they may have an axis.
pub fn comets_false_alarms(tails: &Tails) -> f64 {
    let both_ways = !tails.ground.even_plate && 2 * tails.opposed > tails.alike;
    if tails.alike < FEWEST_COMETS || both_ways {
        return 1.0;
    }
    let [along, upright, _] = WINDOWS_OVER_SCENE;
    let windows = match tails.ground.even_plate {
        true => WINDOWS[0],
        false if tails.off_sides_deg <= UPRIGHT_DEG[0] => upright,
        false => along,
    };
    let chance = tails.chance([&ALONG_DIRECTION, &BOTH_ALONG_DIRECTION]);
    (windows * chance).clamp(LEAST_MARK_FALSE_ALARMS, 1.0)
}

/// The same along one axis, either way. Over a scene upright and level axes are the scene's own: fences,
/// boards and blinds.
pub fn comet_axis_false_alarms(tails: &Tails) -> f64 {
    let even = tails.ground.even_plate;
    if tails.alike < FEWEST_ON_AXIS || (!even && tails.off_sides_deg <= UPRIGHT_DEG[1]) {
        return 1.0;
    }
    let windows = if even {
        WINDOWS[1]
    } else {
        WINDOWS_OVER_SCENE[2]
    };
    let chance = tails.chance([&ALONG_AXIS, &BOTH_ALONG_AXIS]);
    (windows * chance).clamp(LEAST_MARK_FALSE_ALARMS, 1.0)
}

/// How near a direction and an axis may lie to the plate's own sides and count as upright or level,
/// degrees: most of what people build stands so, if not quite so in every picture.
const UPRIGHT_DEG: [f64; 2] = [6.0, 12.0];

impl Tails {
    /// Chance of as many in one window, by what tails of one sign and of both show.
    fn chance(&self, [one, both]: [&[[TailsOfChance; TAIL_LOOKS]; 2]; 2]) -> f64 {
        let ([over_scene, on_even], looks) = match self.signs {
            TailSigns::One => (one, 1.0),
            TailSigns::Both => (both, TOGETHER),
        };
        let by_look = if self.ground.even_plate {
            on_even
        } else {
            over_scene
        };
        looks * by_look[self.ground.look.min(TAIL_LOOKS - 1)].chance(self)
    }
}

/// Chance of so many `alike` weaker tails where `others` point elsewhere: the test by which those that
/// share a known direction, or a known axis, are taken in.
pub fn weaker_comets_chance(alike: usize, others: usize, either_way: bool) -> f64 {
    let share = if either_way { 0.2 } else { 0.1 };
    uncertain_tail(alike, 0.2 + share * others as f64, 0.35)
}

/// How much marks matter to the eye, by their number a square centimetre and their median contrast:
/// one a square centimetre of a contrast of 0.3 D is seen at reading distance. Our own judgement.
pub fn marks_severity(per_cm2: f64, contrast_d: f64) -> Severity {
    match per_cm2 * contrast_d {
        v if v >= 0.5 => Severity::Spoils,
        v if v >= 0.1 => Severity::Visible,
        _ => Severity::Trace,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::limits::FALSE_ALARMS_A_PLATE;

    #[test]
    fn a_handful_of_marks_is_no_fault() {
        let on = |contrary_weak, long, dust| Background {
            scene: false,
            positive: true,
            more_silver: true,
            contrary_weak,
            long,
            dust,
        };
        let alarms = |n, of| round_marks_false_alarms(n, Look::All, &of);
        let lid = |grains| DustTold::ByLid {
            grains,
            give_or_take: 0.2,
        };
        let clean_lid = lid(0.0);
        assert!(alarms(4, on(0, 0, clean_lid)) > FALSE_ALARMS_A_PLATE);
        assert!(alarms(12, on(0, 0, clean_lid)) <= FALSE_ALARMS_A_PLATE);
        assert!(alarms(12, on(0, 200, clean_lid)) > FALSE_ALARMS_A_PLATE);
        assert!(alarms(12, on(0, 0, lid(20.0))) > FALSE_ALARMS_A_PLATE);
        assert!(alarms(12, on(0, 0, DustTold::ByOtherSign(2.0))) > FALSE_ALARMS_A_PLATE);
        assert!(alarms(12, on(0, 0, DustTold::BySecondScan(0.5))) <= FALSE_ALARMS_A_PLATE);
        // A sitter's eyes and buttons are as many.
        let picture = Background {
            scene: true,
            ..on(0, 0, clean_lid)
        };
        let dark = |of| Background {
            more_silver: false,
            ..of
        };
        let strong = |of| round_marks_false_alarms(6, Look::Strong, &dark(of));
        assert!(strong(on(0, 0, clean_lid)) <= FALSE_ALARMS_A_PLATE);
        assert!(strong(picture) > FALSE_ALARMS_A_PLATE);
        // What is unlike dust tells through it.
        let filthy = on(0, 0, lid(60.0));
        assert!(round_marks_false_alarms(60, Look::UnlikeDust, &filthy) < alarms(60, filthy));
    }

    #[test]
    fn tails_that_agree_are_comets_unless_a_scene_explains_them() {
        let few = Tails {
            alike: 4,
            opposed: 0,
            others: 0,
            contrary: 0,
            signs: TailSigns::One,
            ground: TailGround {
                look: 1,
                even_plate: false,
            },
            off_sides_deg: 30.0,
        };
        let nine = Tails {
            alike: 9,
            others: 1,
            ..few
        };
        assert!(comets_false_alarms(&Tails { alike: 3, ..few }) > FALSE_ALARMS_A_PLATE);
        assert!(comets_false_alarms(&nine) <= FALSE_ALARMS_A_PLATE);
        // The loosest look, where scenes show most.
        let loose = Tails {
            ground: TailGround {
                look: 3,
                ..few.ground
            },
            ..nine
        };
        for scene in [
            Tails {
                opposed: 9,
                ..loose
            },
            Tails {
                others: 30,
                ..loose
            },
            Tails {
                contrary: 30,
                ..loose
            },
        ] {
            assert!(comets_false_alarms(&scene) > FALSE_ALARMS_A_PLATE);
        }
        let five = Tails { alike: 5, ..nine };
        let upright = Tails {
            off_sides_deg: 1.0,
            ..five
        };
        assert!(comets_false_alarms(&upright) > comets_false_alarms(&five));
        let axis = Tails { alike: 12, ..few };
        assert!(comet_axis_false_alarms(&axis) <= FALSE_ALARMS_A_PLATE);
        assert!(comet_axis_false_alarms(&Tails { others: 20, ..axis }) > FALSE_ALARMS_A_PLATE);
        // Of both signs together there are more by chance.
        let both = Tails {
            signs: TailSigns::Both,
            ..upright
        };
        assert!(comets_false_alarms(&both) > comets_false_alarms(&upright));
        assert!(comets_false_alarms(&Tails { alike: 12, ..both }) <= FALSE_ALARMS_A_PLATE);
        // A fence is one axis of many tails.
        let fence = Tails {
            alike: 100,
            off_sides_deg: 2.0,
            ..axis
        };
        assert!(comet_axis_false_alarms(&fence) > FALSE_ALARMS_A_PLATE);
    }
}
