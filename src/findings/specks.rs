//! Comets, pinholes and specks: from marks to named groups.

use super::limits::{
    BIG_DUST, Background, DARK_FOR_LIGHT, FALSE_ALARMS_A_PLATE, PATTERN, comets_false_alarms,
    confidence, dust_share, marks_severity, round_marks_false_alarms,
};
use super::{CannotTell, Fault, Finding, Mark, Polarity, Sign, SignName, Standing};
use crate::doubts::Doubt;
use crate::measures::specks::{Agreement, Nature, agreement, neighbours, overdispersion};
use crate::measures::{Speck, SpeckMeasures};
use crate::plate::{Plate, PlateKind, ScaleSource};
use crate::raster::geometry::distance;
use crate::raster::stats::median;
use crate::units::Reading;

/// How far a tail may lie from the common direction, degrees: three spreads of a steady pour.
const ALIKE_DEG: f64 = 15.0;

/// Heads with tails nearer to each other than this lie on one line, millimetres.
const APART_MM: f64 = 2.0;

/// How far a tail must stand out among all directions round its head, robust standard deviations.
const TAIL_STANDS_OUT: f64 = 8.0;

/// Longest head of a comet over an even ground, where strong tails count to the head in part, and over a
/// scene: long over short extent.
const LONGEST_HEAD: f64 = 4.0;
/// See [`LONGEST_HEAD`].
const COMPACT_HEAD: f64 = 1.69;

/// Least lid from which its dust is told, square centimetres: our own choice.
const ENOUGH_LID_CM2: f64 = 3.0;

/// Marks that cluster so much are said to; below the other they are said to be spread evenly.
const CLUSTERED: f64 = 3.0;
/// See [`CLUSTERED`].
const SPREAD: f64 = 1.5;

// ---------------------------------------------------------------- comets

/// Comets: heads whose tails point one way.
pub(super) fn comets(plate: &Plate, marks: &SpeckMeasures, findings: &mut Vec<Finding>) {
    let even = is_even(plate);
    let tailed = tailed(marks, even);
    let Some(common_deg) = commonest(&tailed) else {
        return;
    };
    let within =
        |deg: f64| move |(_, tail_deg): &&(&Speck, f64)| away_deg(*tail_deg, deg) <= ALIKE_DEG;
    let alike: Vec<(&Speck, f64)> = tailed.iter().filter(within(common_deg)).copied().collect();
    let opposed = tailed.iter().filter(within(common_deg + 180.0)).count();
    let expected = comets_false_alarms(alike.len(), opposed, tailed.len(), even);
    let directions: Vec<f64> = alike.iter().map(|(_, deg)| *deg).collect();
    let Some(agreed) = agreement(&directions) else {
        return;
    };
    if expected > FALSE_ALARMS_A_PLATE {
        return;
    }
    let members: Vec<&Speck> = alike.iter().map(|(speck, _)| *speck).collect();
    let mut finding = group(plate, marks, Fault::Comets, &members, expected);
    finding.title = format!(
        "{} comets, tails toward {:.0} degrees",
        members.len(),
        agreed.mean_deg
    );
    finding.direction_deg = Some(agreed.mean_deg);
    finding.direction_spread_deg = Some(agreed.spread_deg);
    finding
        .measured
        .extend(direction_readings(&agreed, members.len()));
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

/// Heads with tails that stand by themselves: along a hair, a scratch or the edge of a roof there is one
/// after another. Over a scene, whose edges have ends, the head must be compact too.
fn tailed(marks: &SpeckMeasures, even: bool) -> Vec<(&Speck, f64)> {
    let longest = if even { LONGEST_HEAD } else { COMPACT_HEAD };
    let all: Vec<(&Speck, f64)> = marks
        .specks
        .iter()
        .filter(|speck| speck.elongation <= longest)
        .filter_map(|speck| Some((speck, speck.tail.as_ref()?)))
        .filter(|(_, tail)| tail.stands_out >= TAIL_STANDS_OUT)
        .map(|(speck, tail)| (speck, tail.direction_deg))
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

fn direction_readings(agreed: &Agreement, count: usize) -> [(&'static str, Reading); 2] {
    let u = 2.0 * agreed.spread_deg / (count as f64).sqrt();
    [
        ("direction_deg", Reading::new(agreed.mean_deg, u)),
        ("resultant_length", Reading::new(agreed.resultant, 0.0)),
    ]
}

/// The direction of one tail that most others share; `None` without tails.
fn commonest(tailed: &[(&Speck, f64)]) -> Option<f64> {
    let shared = |deg: f64| {
        tailed
            .iter()
            .filter(|(_, other)| away_deg(*other, deg) <= ALIKE_DEG)
            .count()
    };
    tailed
        .iter()
        .map(|(_, deg)| *deg)
        .max_by_key(|deg| shared(*deg))
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
        if more_silver {
            finding.doubts.push(Doubt::OneScan);
        }
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
    let on_lid = dust_on_plate(marks).map(|dust| share * dust);
    let dust = on_lid.or_else(|| match (more_silver, positive) {
        (true, _) => None,
        (false, false) => Some(0.0),
        (false, true) => Some(DARK_FOR_LIGHT * count(&|s| s.more_silver() && s.is_strong()) as f64),
    });
    Background {
        weak: count(&|s| of_sign(s) && s.is_round() && !s.is_strong()),
        long: count(&|s| of_sign(s) && !s.is_round()),
        dust,
        big_dust: dust.map_or(BIG_DUST[1] * small as f64, |dust| BIG_DUST[0] * dust),
    }
}

/// Grains of dust to be expected on the plate by those on the lid beside it; `None` without enough lid.
pub(super) fn dust_on_plate(marks: &SpeckMeasures) -> Option<f64> {
    (marks.lid.area_cm2 >= ENOUGH_LID_CM2)
        .then(|| marks.lid.per_cm2())?
        .map(|each| each * marks.searched_cm2)
}

/// Marks as evenly spaced as no chance spaces them.
fn is_pattern(plate: &Plate, members: &[&Speck]) -> bool {
    let places: Vec<[f64; 2]> = members.iter().map(|s| s.centre_mm).collect();
    members.len() >= 4
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
    // A count varies by its root, by more where marks cluster.
    let count_u = 2.0 * (count * clustering.unwrap_or(1.0).max(1.0)).sqrt();
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
