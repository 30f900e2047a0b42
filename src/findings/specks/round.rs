//! Pinholes and specks: more round marks than the scene, the dust and any plate's own few make.

use super::in_order::{not_in_order, without_rows};
use super::{group, mostly_no_chance};
use crate::doubts::Doubt;
use crate::findings::limits::{
    Background, DustTold, FALSE_ALARMS_A_PLATE, LOOKS, Look, round_marks_false_alarms,
};
use crate::findings::{Fault, Finding, dust};
use crate::measures::specks::Nature;
use crate::measures::{Speck, SpeckMeasures};
use crate::plate::{Plate, PlateKind, ScaleSource};

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

fn has_scene(plate: &Plate) -> bool {
    !matches!(plate.kind, PlateKind::Blank | PlateKind::Flat)
}

fn density_words(finding: &Finding) -> String {
    finding.reading("per_cm2").map_or_else(String::new, |r| {
        format!(", about {:.1} a square centimetre", r.value)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::specks::tests::strong;
    use crate::measures::specks::LidDust;

    #[test]
    fn long_marks_are_counted_where_hardly_any_of_the_other_sign_are_long() {
        let long = |k: u32, more: f64| Speck {
            contrast_d: 0.4 * more,
            elongation: 1.6,
            nature: Nature::OfScene,
            ..strong(f64::from(k * 37 % 60), f64::from(k * 23 % 80))
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
