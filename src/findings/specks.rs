//! Comets, pinholes and specks: from marks to named groups.

use super::limits::{
    BIG_DUST, Background, DARK_FOR_LIGHT, FALSE_ALARMS_A_PLATE, PATTERN, comet_axis_false_alarms,
    comets_false_alarms, confidence, dust_share, marks_severity, round_marks_false_alarms,
    weaker_comets_chance,
};
use super::{CannotTell, Fault, Finding, Mark, Polarity, Sign, SignName, Standing, dust};
use crate::doubts::Doubt;
use crate::measures::specks::{
    Agreement, Nature, agreement, axis_agreement, neighbours, overdispersion,
};
use crate::measures::{Speck, SpeckMeasures};
use crate::plate::{Plate, PlateKind, ScaleSource};
use crate::raster::counts::poisson_interval;
use crate::raster::geometry::distance;
use crate::raster::stats::{median, quantile};
use crate::units::Reading;

/// How far a tail may lie from the common direction, degrees: three spreads of a steady pour.
const ALIKE_DEG: f64 = 15.0;

/// Heads with tails nearer to each other than this lie on one line, millimetres.
const APART_MM: f64 = 1.0;

/// How far a tail must stand out among all directions round its head, robust standard deviations.
const TAIL_STANDS_OUT: f64 = 8.0;

/// Longest head of a comet over an even ground, where strong tails count to the head in part, and over a
/// scene: long over short extent.
const LONGEST_HEAD: f64 = 4.0;
/// See [`LONGEST_HEAD`].
const COMPACT_HEAD: f64 = 1.69;

/// Least and most that a tail has of its head's contrast: nineteen of twenty planted comets lie between,
/// and half of what scenes show is as strong as its head.
const TAIL_SHARE: [f64; 2] = [0.12, 0.7];

/// Largest head, millimetres: the trade's comets are dots with tails.
const LARGEST_HEAD_MM: f64 = 0.9;

/// Chance up to which weaker tails along the common direction are taken in.
const WEAKER_CHANCE: f64 = 0.01;

/// Least lid from which its dust is told, square centimetres: our own choice.
const ENOUGH_LID_CM2: f64 = 3.0;

/// Marks that cluster so much are said to; below the other they are said to be spread evenly.
const CLUSTERED: f64 = 3.0;
/// See [`CLUSTERED`].
const SPREAD: f64 = 1.5;

// ---------------------------------------------------------------- comets

/// Comets: heads whose tails point one way, or both ways along one axis.
pub(super) fn comets(plate: &Plate, marks: &SpeckMeasures, findings: &mut Vec<Finding>) {
    let even = is_even(plate);
    let strong = tailed(marks, even);
    let Some((lie, expected)) = common_lie(&strong, even) else {
        return;
    };
    if expected > FALSE_ALARMS_A_PLATE {
        return;
    }
    let mut members: Vec<&Speck> = strong
        .iter()
        .filter(|(_, deg)| lie.holds(*deg))
        .map(|(speck, _)| *speck)
        .collect();
    let weaker = weaker(marks, &strong, lie);
    members.extend(&weaker);
    let directions: Vec<f64> = members
        .iter()
        .filter_map(|speck| Some(speck.tail.as_ref()?.direction_deg))
        .collect();
    let agreed = match lie.either_way {
        true => axis_agreement(&directions),
        false => agreement(&directions),
    };
    let Some(agreed) = agreed else {
        return;
    };
    let mut finding = group(plate, marks, Fault::Comets, &members, expected);
    let count = members.len();
    finding.title = match lie.either_way {
        true => format!(
            "{count} comets, tails both ways along {:.0} degrees",
            agreed.mean_deg
        ),
        false => format!(
            "{count} comets, tails toward {:.0} degrees",
            agreed.mean_deg
        ),
    };
    match lie.either_way {
        true => finding.axis_deg = Some(agreed.mean_deg),
        false => finding.direction_deg = Some(agreed.mean_deg),
    }
    finding.direction_spread_deg = Some(agreed.spread_deg);
    dust::set_turned_with_plate(plate, &mut finding);
    finding
        .measured
        .extend(direction_readings(&agreed, count, lie.either_way));
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

fn is_even(plate: &Plate) -> bool {
    matches!(plate.kind, PlateKind::Blank | PlateKind::Flat)
}

/// Tails that are fainter than their heads, on heads no larger than a comet's.
fn comet_like(marks: &SpeckMeasures, longest: f64) -> impl Iterator<Item = (&Speck, f64)> {
    marks
        .specks
        .iter()
        .filter(move |speck| speck.elongation <= longest && speck.size_mm <= LARGEST_HEAD_MM)
        .filter_map(|speck| Some((speck, speck.tail.as_ref()?)))
        .filter(|(speck, tail)| {
            let share = tail.mean_d / speck.contrast_d.abs();
            (TAIL_SHARE[0]..=TAIL_SHARE[1]).contains(&share)
        })
        .map(|(speck, tail)| (speck, tail.direction_deg))
}

/// Strong heads with strong tails that stand by themselves: along a hair, a scratch or the edge of a roof
/// there is one after another. Over a scene, whose edges have ends, the head must be compact too.
fn tailed(marks: &SpeckMeasures, even: bool) -> Vec<(&Speck, f64)> {
    let longest = if even { LONGEST_HEAD } else { COMPACT_HEAD };
    let all: Vec<(&Speck, f64)> = comet_like(marks, longest)
        .filter(|(speck, _)| speck.is_strong())
        .filter(|(speck, _)| {
            let tail = speck.tail.as_ref();
            tail.is_some_and(|tail| tail.stands_out >= TAIL_STANDS_OUT)
        })
        .collect();
    let alone = |speck: &Speck| {
        let near = |other: &Speck| distance(speck.centre_mm, other.centre_mm) < APART_MM;
        all.iter().filter(|(other, _)| near(other)).count() == 1
    };
    all.iter()
        .filter(|(speck, _)| alone(speck))
        .copied()
        .collect()
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
}

/// The lie that most tails share by less chance than any other, and the groups expected by chance.
fn common_lie(tailed: &[(&Speck, f64)], even: bool) -> Option<(Lie, f64)> {
    let count = |lie: Lie| tailed.iter().filter(|(_, deg)| lie.holds(*deg)).count();
    let best = |either_way: bool| {
        let lies = tailed.iter().map(|(_, deg)| Lie {
            deg: *deg,
            either_way,
        });
        lies.max_by_key(|lie| count(*lie))
    };
    let (one_way, axis) = (best(false)?, best(true)?);
    let opposed = count(Lie {
        deg: one_way.deg + 180.0,
        either_way: false,
    });
    let (along, on_axis) = (count(one_way), count(axis));
    let others = tailed.len().saturating_sub(along + opposed);
    let by_direction = comets_false_alarms(along, opposed, others, even);
    let by_axis = comet_axis_false_alarms(on_axis, tailed.len() - on_axis, even);
    // Where both would do, one direction tells more, unless the axis holds many more.
    match by_direction <= FALSE_ALARMS_A_PLATE && 3 * along >= 2 * on_axis {
        true => Some((one_way, by_direction)),
        false if by_axis < by_direction => Some((axis, by_axis)),
        false => Some((one_way, by_direction)),
    }
}

/// Weaker tails along a lie that is known already, if there are more of them than chance puts there.
fn weaker<'a>(marks: &'a SpeckMeasures, strong: &[(&Speck, f64)], lie: Lie) -> Vec<&'a Speck> {
    let rest: Vec<(&Speck, f64)> = comet_like(marks, LONGEST_HEAD)
        .filter(|(speck, _)| {
            strong
                .iter()
                .all(|(taken, _)| !std::ptr::eq(*taken, *speck))
        })
        .collect();
    let along: Vec<&Speck> = rest
        .iter()
        .filter(|(_, deg)| lie.holds(*deg))
        .map(|(speck, _)| *speck)
        .collect();
    let chance = weaker_comets_chance(along.len(), rest.len() - along.len(), lie.either_way);
    if chance <= WEAKER_CHANCE {
        along
    } else {
        Vec::new()
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

// ---------------------------------------------------------------- round marks

/// Pinholes and specks: more round marks than the scene, the dust and any plate's own few make.
pub(super) fn round_marks(plate: &Plate, marks: &SpeckMeasures, findings: &mut Vec<Finding>) {
    if findings.iter().any(|f| f.fault == Fault::Comets) {
        return;
    }
    for (fault, more_silver) in [(Fault::Pinholes, false), (Fault::Specks, true)] {
        let members: Vec<&Speck> = marks
            .specks
            .iter()
            .filter(|s| s.nature == Nature::OfPlate && s.more_silver() == more_silver)
            .collect();
        if is_pattern(plate, &members) {
            continue;
        }
        let big = members.iter().filter(|s| s.is_big()).count();
        let behind = background(plate, marks, more_silver, members.len() - big);
        let expected = round_marks_false_alarms(members.len(), big, &behind);
        if expected > FALSE_ALARMS_A_PLATE {
            continue;
        }
        let mut finding = group(plate, marks, fault, &members, expected);
        let word = match more_silver {
            true => "specks",
            false => "pinholes",
        };
        finding.title = format!("{} {word}{}", members.len(), density_words(&finding));
        if more_silver && plate.turned.is_none() {
            finding.doubts.push(Doubt::OneScan);
        }
        dust::set_turned_with_plate(plate, &mut finding);
        findings.push(finding);
    }
}

/// What else makes marks of one sign on this plate; `small` is the number of those as small as dust.
fn background(plate: &Plate, marks: &SpeckMeasures, more_silver: bool, small: usize) -> Background {
    let positive = plate.process.is_positive();
    let count = |is: &dyn Fn(&&Speck) -> bool| {
        let alone = marks.specks.iter().filter(|s| s.alone());
        alone.filter(is).count()
    };
    let of_sign = |s: &Speck| s.more_silver() == more_silver;
    let share = dust_share(positive, more_silver);
    let on_lid = match &marks.glass {
        // A second scan has taken it out but for little.
        Some(glass) => Some(MISSED_DUST * glass.len() as f64),
        None => dust_on_plate(marks).map(|dust| share * dust),
    };
    let dust = on_lid.or_else(|| match more_silver {
        true => None,
        false => Some(DARK_FOR_LIGHT * count(&|s| s.more_silver() && s.is_strong()) as f64),
    });
    Background {
        weak: count(&|s| of_sign(s) && s.is_round() && !s.is_strong()),
        long: count(&|s| of_sign(s) && !s.is_round()),
        dust,
        big_dust: dust.map_or(BIG_DUST[1] * small as f64, |dust| BIG_DUST[0] * dust),
    }
}

/// Share of the glass's dust that a second scan leaves among the marks: the table of turned pairs in
/// `reports/accuracy.md` would notice a change.
const MISSED_DUST: f64 = 0.05;

/// Grains of dust to be expected on the plate by those on the lid beside it; `None` without enough lid.
pub(super) fn dust_on_plate(marks: &SpeckMeasures) -> Option<f64> {
    (marks.lid.area_cm2 >= ENOUGH_LID_CM2)
        .then(|| marks.lid.per_cm2())?
        .map(|each| each * marks.searched_cm2)
}

/// Fewest marks whose spacing tells a pattern: fewer are evenly spaced now and then. Our own choice.
const FEWEST_OF_PATTERN: usize = 8;

/// Marks as evenly spaced as no chance spaces them.
fn is_pattern(plate: &Plate, members: &[&Speck]) -> bool {
    let places: Vec<[f64; 2]> = members.iter().map(|s| s.centre_mm).collect();
    members.len() >= FEWEST_OF_PATTERN
        && neighbours(&places, [plate.width_mm, plate.height_mm])
            .is_some_and(|of| of.variation < PATTERN)
}

fn density_words(finding: &Finding) -> String {
    finding.reading("per_cm2").map_or_else(String::new, |r| {
        format!(", about {:.1} a square centimetre", r.value)
    })
}

// ---------------------------------------------------------------- both

fn group(
    plate: &Plate,
    marks: &SpeckMeasures,
    fault: Fault,
    members: &[&Speck],
    expected: f64,
) -> Finding {
    let count = members.len() as f64;
    let area_cm2 = marks.searched_cm2.max(1.0);
    let places: Vec<[f64; 2]> = members.iter().map(|s| s.centre_mm).collect();
    let clustering = overdispersion(&places, area_cm2);
    let mut contrasts: Vec<f64> = members.iter().map(|s| s.contrast_d.abs()).collect();
    let mut sizes: Vec<f64> = members.iter().map(|s| s.size_mm).collect();
    let contrast_d = median(&mut contrasts).unwrap_or(0.0);
    let size_mm = median(&mut sizes).unwrap_or(0.0);
    let count_u = count_u(members.len(), clustering.unwrap_or(1.0));
    let mut measured = vec![
        ("count", Reading::new(count, 0.0)),
        ("size_mm", Reading::new(size_mm, 0.5 * plate.pitch_mm)),
        ("contrast_d", Reading::new(contrast_d, 0.1 * contrast_d)),
    ];
    if plate.scale_source != ScaleSource::Unknown {
        measured.push((
            "per_cm2",
            Reading::new(count / area_cm2, count_u / area_cm2),
        ));
    }
    if let Some(value) = clustering {
        measured.push(("overdispersion", Reading::new(value, 0.0)));
    }
    for (name, share) in [("size_p10_mm", 0.1), ("size_p90_mm", 0.9)] {
        if let Some(size_mm) = quantile(&mut sizes, share) {
            measured.push((name, Reading::new(size_mm, 0.5 * plate.pitch_mm)));
        }
    }
    if let Some(near) = neighbours(&places, [plate.width_mm, plate.height_mm]) {
        // Of places anywhere the ratio strays from 1 by so much, twice the standard deviation.
        let u = 2.0 * (near.ratio - 1.0).abs() / near.z.abs().max(1e-9);
        measured.push(("neighbour_ratio", Reading::new(near.ratio, u)));
    }
    let more = members.iter().filter(|s| s.more_silver()).count();
    Finding {
        id: String::new(),
        fault,
        place: None,
        title: String::new(),
        measured,
        polarity: match (more, members.len() - more) {
            (_, 0) => Polarity::MoreSilver,
            (0, _) => Polarity::LessSilver,
            _ => Polarity::Mixed,
        },
        box_mm: bounds(members),
        outline_mm: None,
        axis_deg: None,
        direction_deg: None,
        direction_spread_deg: None,
        members: Some(
            members
                .iter()
                .map(|s| mark(s, fault == Fault::Comets))
                .collect(),
        ),
        confidence: confidence(expected),
        expected_false_alarms: expected,
        standing: Standing::Measured,
        severity: marks_severity(count / area_cm2, contrast_d),
        signs: clustering
            .and_then(cluster_sign)
            .into_iter()
            .chain(silver_sign(more, members.len()))
            .collect(),
        doubts: Vec::new(),
    }
}

/// Half the width of the 95 % interval of a count: Poisson's exact one, wider where marks cluster, as if
/// there were so many fewer of them.
fn count_u(count: usize, clustering: f64) -> f64 {
    let wider = clustering.max(1.0);
    let fewer = (count as f64 / wider).round();
    let [low, high] = poisson_interval(fewer as usize);
    wider * (high - fewer).max(fewer - low)
}

fn cluster_sign(clustering: f64) -> Option<Sign> {
    match clustering {
        v if v >= CLUSTERED => Some(Sign::seen(
            SignName::Clustered,
            format!(
                "some places have far more marks than others ({v:.1} times what chance spreads)"
            ),
        )),
        v if v <= SPREAD => Some(Sign::absent(
            SignName::Clustered,
            "the marks are spread over the plate as chance would".to_owned(),
        )),
        _ => None,
    }
}

fn silver_sign(more: usize, count: usize) -> Option<Sign> {
    match more {
        0 => Some(Sign::absent(
            SignName::MarksHoldSilver,
            "the marks hold less silver than their surround",
        )),
        n if n == count => Some(Sign::seen(
            SignName::MarksHoldSilver,
            "the marks hold more silver than their surround",
        )),
        _ => None,
    }
}

fn mark(speck: &Speck, tailed: bool) -> Mark {
    let tail = speck.tail.as_ref().filter(|_| tailed);
    Mark {
        box_mm: speck.box_mm(),
        centre_mm: speck.centre_mm,
        size_mm: speck.size_mm,
        length_mm: tail.map(|tail| tail.length_mm),
        direction_deg: tail.map(|tail| tail.direction_deg),
        axis_deg: None,
        contrast_d: speck.contrast_d.abs(),
        expected_false_alarms: speck.expected_false_alarms,
    }
}

fn bounds(members: &[&Speck]) -> [f64; 4] {
    let empty = [f64::INFINITY, f64::INFINITY, 0.0, 0.0];
    members.iter().fold(empty, |[x0, y0, x1, y1], speck| {
        let [a, b, c, d] = speck.box_mm();
        [x0.min(a), y0.min(b), x1.max(c), y1.max(d)]
    })
}

/// On a picture, few or faint marks drown in the scene's own detail and in dust.
pub(super) fn cannot_tell(plate: &Plate, findings: &[Finding], cannot_tell: &mut Vec<CannotTell>) {
    if plate.kind != PlateKind::Picture {
        return;
    }
    for (fault, plate_to_make) in [
        (
            Fault::Comets,
            "an evenly exposed plate: coat, dip and develop it as always, out of focus on a plain wall",
        ),
        (
            Fault::Pinholes,
            "an evenly exposed plate: out of focus on a plain wall, where each hole shows as a dark or clear point",
        ),
        (
            Fault::Specks,
            "an unexposed plate: coat, dip and develop it as always without drawing the slide",
        ),
    ] {
        if !findings.iter().any(|f| f.fault == fault) {
            cannot_tell.push(CannotTell {
                fault,
                because: "a few small marks cannot be told from the detail of the scene and from dust; only more than clean plates show would be named".to_owned(),
                make_this_plate: plate_to_make.to_owned(),
            });
        }
    }
}
