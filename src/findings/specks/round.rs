//! Pinholes and specks: more round marks than the scene, the dust and any plate's own few make.

use super::{group, mostly_no_chance};
use crate::doubts::Doubt;
use crate::findings::limits::{
    Background, DustTold, FALSE_ALARMS_A_PLATE, LOOKS, Look, round_marks_false_alarms,
};
use crate::findings::{Fault, Finding, dust};
use crate::measures::specks::Nature;
use crate::measures::{Speck, SpeckMeasures};
use crate::plate::{Plate, PlateKind, ScaleSource};
use crate::raster::counts::ln_binomial_tail;
use crate::raster::geometry::distance;

/// Least lid from which its dust is told, square centimetres: our own choice. How little so few grains tell is counted.
const ENOUGH_LID_CM2: f64 = 1.0;

/// Contrast of marks that stand out among a scene's and dust's, density: half of what clean practice
/// plates show is fainter.
const STANDS_OUT_D: f64 = 0.2;

/// Size below which marks are of the smallest, millimetres: our own choice among a few, by the false groups
/// of clean practice plates.
const SMALLEST_MM: f64 = 0.15;

/// Pinholes and specks, each sign by itself.
pub(crate) fn round_marks(plate: &Plate, marks: &SpeckMeasures, findings: &mut Vec<Finding>) {
    if findings.iter().any(|f| f.fault == Fault::Comets) {
        return;
    }
    for (fault, more_silver) in [(Fault::Pinholes, false), (Fault::Specks, true)] {
        let of_sign = |s: &&Speck| s.more_silver() == more_silver;
        let round: Vec<&Speck> = marks
            .specks
            .iter()
            .filter(|s| s.nature == Nature::OfPlate)
            .filter(of_sign)
            .collect();
        let mut members = match has_scene(plate) {
            true => not_in_order(&round),
            false => without_rows(&round),
        };
        let behind = background(plate, marks, more_silver);
        let expected = LOOKS
            .iter()
            .map(|look| {
                let count = members.iter().filter(|s| takes(plate, *look, s)).count();
                round_marks_false_alarms(count, *look, &behind)
            })
            .fold(1.0, f64::min);
        if expected > FALSE_ALARMS_A_PLATE {
            continue;
        }
        members.extend(kindred(marks, has_scene(plate), more_silver));
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

/// Longest shape of such marks. Our own choice: on five plates of another hand some three in a hundred of the planted
/// marks that are not round were longer, and two in three of what scenes and fibres showed.
const LONGEST: f64 = 2.0;

/// Marks to be counted with a named group that would not have named it: of its sign, but long, weak, or among
/// others of a scene that are. Each class is taken whole or not at all, by how many of the other sign there are:
/// scenes make both signs alike.
fn kindred(marks: &SpeckMeasures, scene: bool, more_silver: bool) -> Vec<&Speck> {
    let mut taken = Vec::new();
    for (round, strong) in [(true, true), (true, false), (false, true), (false, false)] {
        let of_class = |s: &&Speck| {
            s.alone()
                && matches!(s.nature, Nature::OfScene | Nature::Unsure)
                && s.elongation <= LONGEST
                && (s.is_round(), s.is_strong()) == (round, strong)
        };
        let (own, contrary): (Vec<&Speck>, Vec<&Speck>) = marks
            .specks
            .iter()
            .filter(of_class)
            .partition(|s| s.more_silver() == more_silver);
        let fibres = match round {
            true => 0.0,
            false => fibres_on_plate(marks),
        };
        if mostly_no_chance(own.len(), contrary.len() as f64 + fibres) {
            taken.extend(own);
        }
    }
    match scene {
        true => not_in_order(&taken),
        false => taken,
    }
}

/// Pieces of fibres on as much lid as was searched of the plate; none without enough lid, or where a second
/// scan has told them.
fn fibres_on_plate(marks: &SpeckMeasures) -> f64 {
    let lid = &marks.lid;
    match lid.area_cm2 >= ENOUGH_LID_CM2 && marks.glass.is_none() {
        true => lid.long as f64 / lid.area_cm2 * marks.searched_cm2,
        false => 0.0,
    }
}

/// Marks that do not stand in lines, rows or pairs as things of a scene do. Lines come first, since rows take gaps into
/// them.
fn not_in_order<'a>(marks: &[&'a Speck]) -> Vec<&'a Speck> {
    without_pairs(&without_rows(&without_lines(marks)))
}

fn takes(plate: &Plate, look: Look, speck: &Speck) -> bool {
    // Without a scale nothing is large.
    let scaled = plate.scale_source != ScaleSource::Unknown;
    match look {
        Look::All => true,
        Look::Strong => speck.contrast_d.abs() >= STANDS_OUT_D,
        Look::UnlikeDust => speck.is_soft() || (scaled && speck.is_big()),
        Look::NotSmallest => scaled && speck.size_mm >= SMALLEST_MM,
    }
}

/// What else makes marks of one sign on this plate.
fn background(plate: &Plate, marks: &SpeckMeasures, more_silver: bool) -> Background {
    let count = |is: &dyn Fn(&Speck) -> bool| {
        let alone = marks.specks.iter().filter(|s| s.alone());
        alone.filter(|s| is(s)).count()
    };
    let own = |s: &Speck| s.more_silver() == more_silver;
    let dust = match (&marks.glass, dust_on_plate(marks)) {
        (Some(glass), _) => DustTold::BySecondScan(MISSED_DUST * glass.len() as f64),
        (None, Some(told)) => told,
        (None, None) => {
            let contrary = count(&|s| s.nature == Nature::OfPlate && !own(s));
            DustTold::ByOtherSign(contrary as f64)
        }
    };
    Background {
        scene: has_scene(plate),
        positive: plate.process.is_positive(),
        more_silver,
        contrary_weak: count(&|s| !own(s) && s.is_round() && !s.is_strong()),
        long: count(&|s| own(s) && !s.is_round()),
        dust,
    }
}

/// Share of the glass's dust that a second scan leaves among the marks: by likelihood 0.005 of it as specks over a
/// scene, 0.002 as either on even plates and none as pinholes over a scene (355 clean pairs of development seeds 650000
/// and 651000).
const MISSED_DUST: f64 = 0.005;

/// Grains of dust on as much lid as was searched of the plate; `None` without enough lid.
fn dust_on_plate(marks: &SpeckMeasures) -> Option<DustTold> {
    let lid = &marks.lid;
    let per_cm2 = (lid.area_cm2 >= ENOUGH_LID_CM2).then(|| lid.per_cm2())??;
    // Half a grain more than was counted: a lid without any is not wholly clean.
    let counted = per_cm2 * lid.area_cm2 + 0.5;
    Some(DustTold::ByLid {
        grains: counted / lid.area_cm2 * marks.searched_cm2,
        give_or_take: 1.0 / counted.sqrt(),
    })
}

/// How far apart the marks of a row may lie, millimetres.
const ROW_STEP_MM: f64 = 8.0;

/// What makes three marks stand in a row.
struct RowRule {
    /// How far the third may lie off the place opposite to the first, as a share of their step.
    off: f64,
    /// How much they may differ in size and contrast, as a ratio.
    alike: f64,
    /// In how many threes one of them stands at least: three of chance stand so now and then, several such threes
    /// with a mark in common hardly ever.
    threes: usize,
}

/// Marks of one make, evenly spaced, four or more; and marks as like as nails, five or more, driven by hand.
/// The second costs one in a hundred of planted marks (development seeds 700000 and 710000).
const ROWS: [RowRule; 2] = [
    RowRule {
        off: 0.1,
        alike: 1.5,
        threes: 2,
    },
    RowRule {
        off: 0.4,
        alike: 1.15,
        threes: 3,
    },
];

/// Marks without those that stand in evenly spaced rows: buttons, rivets, nails, beads, lace.
fn without_rows<'a>(marks: &[&'a Speck]) -> Vec<&'a Speck> {
    let by_rule = ROWS.map(|rule| rule.rows(marks));
    let apart = (0..marks.len()).filter(|&k| by_rule.iter().all(|in_row| !in_row[k]));
    apart.map(|k| marks[k]).collect()
}

impl RowRule {
    /// Which of the marks stand in rows.
    fn rows(&self, marks: &[&Speck]) -> Vec<bool> {
        let near: Vec<Vec<usize>> = marks
            .iter()
            .map(|mark| {
                let near = marks.iter().enumerate().filter(|(_, other)| {
                    let away = distance(mark.centre_mm, other.centre_mm);
                    away > 0.0 && away <= ROW_STEP_MM && alike(mark, other, self.alike)
                });
                near.map(|(k, _)| k).collect()
            })
            .collect();
        let mut threes: Vec<[usize; 3]> = Vec::new();
        for (middle, near) in near.iter().enumerate() {
            let [x, y] = marks[middle].centre_mm;
            for (at, &a) in near.iter().enumerate() {
                let step = distance(marks[middle].centre_mm, marks[a].centre_mm);
                let [ax, ay] = marks[a].centre_mm;
                let mirrored = [2.0 * x - ax, 2.0 * y - ay];
                let opposite = near[at + 1..]
                    .iter()
                    .filter(|&&b| distance(mirrored, marks[b].centre_mm) <= self.off * step);
                threes.extend(opposite.map(|&b| [a, middle, b]));
            }
        }
        let mut times = vec![0; marks.len()];
        threes.iter().flatten().for_each(|&k| times[k] += 1);
        let mut in_row = vec![false; marks.len()];
        for three in &threes {
            if three.iter().any(|&k| times[k] >= self.threes) {
                three.iter().for_each(|&k| in_row[k] = true);
            }
        }
        in_row
    }
}

/// How far off a straight line its marks may lie, millimetres: nails are driven by hand. Our own choice.
const LINE_OFF_MM: f64 = 0.75;
/// How many times as far to either side marks tell how many lie on the line by chance.
const LINE_BESIDE: f64 = 5.0;
/// How much marks on a line may differ in size and contrast, as a ratio: they are of one make.
const LINE_ALIKE: f64 = 1.5;
/// Lines with so many marks on them that are expected of marks that lie anywhere: such a line is no chance.
const LINE_CHANCE: f64 = 0.01;
/// Most marks that are searched for lines. Among more, those of a line no longer make a group.
const MOST_FOR_LINES: usize = 200;

/// Marks without those that stand on one straight line, however they are spaced along it, where too few like ones lie
/// beside it for that to be chance: nails along a rail, studs along a seam. Seven or more: fewer may by chance (a
/// binomial tail over all lines through two of them; Desolneux, Moisan, Morel, Int. Journal of Computer Vision 40,
/// 2000, for the way of counting).
fn without_lines<'a>(marks: &[&'a Speck]) -> Vec<&'a Speck> {
    if marks.len() > MOST_FOR_LINES {
        return marks.to_vec();
    }
    let tried = (marks.len() * marks.len().saturating_sub(1) / 2) as f64;
    let mut on_line = vec![false; marks.len()];
    for (one, a) in marks.iter().enumerate() {
        for b in &marks[one + 1..] {
            let step = distance(a.centre_mm, b.centre_mm);
            if step <= LINE_OFF_MM * LINE_BESIDE || !alike(a, b, LINE_ALIKE) {
                continue;
            }
            let [x, y] = a.centre_mm;
            let along = [0, 1].map(|k| (b.centre_mm[k] - a.centre_mm[k]) / step);
            let off_mm = |mark: &Speck| {
                let [dx, dy] = [mark.centre_mm[0] - x, mark.centre_mm[1] - y];
                (dx * along[1] - dy * along[0]).abs()
            };
            let near: Vec<(usize, f64)> = (0..marks.len())
                .filter(|&k| alike(marks[k], a, LINE_ALIKE))
                .map(|k| (k, off_mm(marks[k])))
                .filter(|(_, off)| *off <= LINE_OFF_MM * LINE_BESIDE)
                .collect();
            let on: Vec<usize> = near
                .iter()
                .filter(|(_, off)| *off <= LINE_OFF_MM)
                .map(|(k, _)| *k)
                .collect();
            // The two that it was drawn through say nothing.
            let chance = ln_binomial_tail(on.len() - 2, near.len() - 2, 1.0 / LINE_BESIDE);
            if tried * chance.exp() <= LINE_CHANCE {
                on.iter().for_each(|&k| on_line[k] = true);
            }
        }
    }
    let apart = (0..marks.len()).filter(|&k| !on_line[k]);
    apart.map(|k| marks[k]).collect()
}

/// How far apart the marks of a pair lie, millimetres, and how far from level or upright, degrees.
const PAIR_MM: [f64; 2] = [1.5, 8.0];
/// See [`PAIR_MM`].
const PAIR_OFF_DEG: f64 = 5.0;
/// How much marks of a pair may differ in size and contrast, as a ratio.
const PAIR_ALIKE: f64 = 1.25;

/// Marks without pairs of one size and contrast that lie level or upright, each the other's nearest: a sitter's
/// eyes, two buttons. Of marks that lie anywhere about one in thirty is lost (six in ten have such a nearest
/// neighbour, one in nine of these lies so, fewer yet are alike).
fn without_pairs<'a>(marks: &[&'a Speck]) -> Vec<&'a Speck> {
    let away = |a: &Speck, b: &Speck| distance(a.centre_mm, b.centre_mm);
    let nearest: Vec<Option<usize>> = (0..marks.len())
        .map(|one| {
            let others = (0..marks.len()).filter(|other| *other != one);
            others
                .min_by(|a, b| away(marks[one], marks[*a]).total_cmp(&away(marks[one], marks[*b])))
        })
        .collect();
    let pairs = |one: usize, other: usize| {
        let (a, b) = (marks[one], marks[other]);
        let [dx, dy] = [0, 1].map(|k| (a.centre_mm[k] - b.centre_mm[k]).abs());
        let off_deg = dx.min(dy).atan2(dx.max(dy)).to_degrees();
        nearest[other] == Some(one)
            && (PAIR_MM[0]..=PAIR_MM[1]).contains(&away(a, b))
            && off_deg <= PAIR_OFF_DEG
            && alike(a, b, PAIR_ALIKE)
    };
    let single = |one: &usize| !nearest[*one].is_some_and(|other| pairs(*one, other));
    (0..marks.len())
        .filter(single)
        .map(|one| marks[one])
        .collect()
}

fn has_scene(plate: &Plate) -> bool {
    !matches!(plate.kind, PlateKind::Blank | PlateKind::Flat)
}

/// Whether two marks are of one size and contrast, but for a ratio.
fn alike(a: &Speck, b: &Speck, ratio: f64) -> bool {
    let within = |a: f64, b: f64| a.max(b) <= ratio * a.min(b);
    within(a.size_mm, b.size_mm) && within(a.contrast_d.abs(), b.contrast_d.abs())
}

fn density_words(finding: &Finding) -> String {
    finding.reading("per_cm2").map_or_else(String::new, |r| {
        format!(", about {:.1} a square centimetre", r.value)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::specks::tests::head;
    use crate::measures::specks::LidDust;

    fn mark(x: f64, y: f64) -> Speck {
        Speck {
            contrast_d: 0.4,
            ..head(x, y)
        }
    }

    #[test]
    fn buttons_are_left_out_and_scattered_marks_are_not() {
        let buttons: Vec<Speck> = (0..6)
            .map(|k| mark(20.0, 10.0 + 5.0 * f64::from(k)))
            .collect();
        let scattered: Vec<Speck> = [(3.0, 4.0), (17.0, 9.5), (24.0, 41.0), (31.0, 18.0)]
            .map(|(x, y)| mark(x, y))
            .to_vec();
        let all: Vec<&Speck> = buttons.iter().chain(&scattered).collect();
        assert_eq!(without_rows(&all), scattered.iter().collect::<Vec<_>>());
    }

    #[test]
    fn nails_driven_by_hand_are_left_out() {
        // To and fro by an eighth of their step.
        let nails: Vec<Speck> = (0..9)
            .map(|k| {
                mark(
                    31.0 + 0.5 * f64::from(k * 5 % 3 - 1),
                    10.0 + 4.3 * f64::from(k),
                )
            })
            .collect();
        let scattered: Vec<Speck> = [(3.0, 4.0), (17.0, 9.5), (24.0, 61.0), (50.0, 18.0)]
            .map(|(x, y)| mark(x, y))
            .to_vec();
        let all: Vec<&Speck> = nails.iter().chain(&scattered).collect();
        assert_eq!(without_rows(&all), scattered.iter().collect::<Vec<_>>());
    }

    #[test]
    fn marks_on_one_line_are_left_out_however_they_are_spaced_and_clusters_are_not() {
        // To and fro by half a millimetre, nine millimetres apart, every third missing.
        let nails: Vec<Speck> = (0..12)
            .filter(|k| k % 3 != 2)
            .map(|k| {
                mark(
                    4.0 + 9.0 * f64::from(k),
                    30.0 + 0.5 * f64::from(k * 5 % 3 - 1),
                )
            })
            .collect();
        let scattered: Vec<Speck> = [(3.0, 4.0), (17.0, 9.5), (24.0, 61.0), (50.0, 18.0)]
            .map(|(x, y)| mark(x, y))
            .to_vec();
        let all: Vec<&Speck> = nails.iter().chain(&scattered).collect();
        assert_eq!(without_lines(&all), scattered.iter().collect::<Vec<_>>());
        // Six may lie on a line by chance, and so may any that are not alike.
        let few: Vec<&Speck> = nails[..6].iter().chain(&scattered).collect();
        assert_eq!(without_lines(&few), few);
        let unlike: Vec<Speck> = nails
            .iter()
            .zip([0.2, 0.9, 0.4, 1.7, 0.15, 0.6, 2.5, 0.3])
            .map(|(nail, size_mm)| Speck {
                size_mm,
                ..nail.clone()
            })
            .collect();
        let unlike: Vec<&Speck> = unlike.iter().collect();
        assert_eq!(without_lines(&unlike), unlike);
        // A cluster, denser toward its middle.
        let cluster: Vec<Speck> = (0..40)
            .map(|k| {
                let (turn, away) = (f64::from(k * 13 % 40) / 40.0, f64::from(k) / 10.0);
                let (sin, cos) = (std::f64::consts::TAU * turn).sin_cos();
                mark(30.0 + away * cos, 40.0 + away * sin)
            })
            .collect();
        let cluster: Vec<&Speck> = cluster.iter().collect();
        assert_eq!(without_lines(&cluster), cluster);
    }

    #[test]
    fn two_eyes_are_left_out_and_two_marks_aslant_are_not() {
        let eyes = [mark(20.0, 30.0), mark(23.5, 30.1)];
        let aslant = [mark(50.0, 60.0), mark(53.0, 62.0)];
        let all: Vec<&Speck> = eyes.iter().chain(&aslant).collect();
        assert_eq!(without_pairs(&all), aslant.iter().collect::<Vec<_>>());
        assert_eq!(without_pairs(&all[..1]), all[..1].to_vec());
    }

    #[test]
    fn long_marks_are_counted_where_hardly_any_of_the_other_sign_are_long() {
        let long = |k: u32, more: f64| Speck {
            contrast_d: 0.4 * more,
            elongation: 1.6,
            nature: Nature::OfScene,
            ..mark(f64::from(k * 37 % 60), f64::from(k * 23 % 80))
        };
        let own: Vec<Speck> = (0..12).map(|k| long(k, 1.0)).collect();
        let with = |contrary: u32| SpeckMeasures {
            specks: [
                own.clone(),
                (20..20 + contrary).map(|k| long(k, -1.0)).collect(),
            ]
            .concat(),
            searched_cm2: 50.0,
            lid: LidDust::default(),
            glass: None,
        };
        assert_eq!(kindred(&with(2), false, true).len(), 12);
        assert_eq!(kindred(&with(3), false, true), Vec::<&Speck>::new());
        // As many fibres on the lid say that they are fibres.
        let lid = LidDust {
            area_cm2: 25.0,
            long: 3,
            ..LidDust::default()
        };
        let dirty = SpeckMeasures { lid, ..with(0) };
        assert_eq!(kindred(&dirty, false, true), Vec::<&Speck>::new());
    }
}
