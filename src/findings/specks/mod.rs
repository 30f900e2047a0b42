//! Comets, pinholes and specks: from marks to named groups.

use super::limits::marks_severity;
use super::{
    CannotTell, Fault, Finding, Mark, Polarity, Sign, SignName, Standing, limits::confidence,
};
use crate::measures::specks::{neighbours, overdispersion};
use crate::measures::{Speck, SpeckMeasures};
use crate::plate::{Plate, PlateKind, ScaleSource};
use crate::raster::counts::poisson_interval;
use crate::raster::stats::{median, quantile};
use crate::units::Reading;

mod agreeing;
mod comets;
mod in_order;
mod likeness;
mod round;

pub(super) use comets::comets;
pub(super) use round::round_marks;

/// Marks that cluster so much are said to; below the other they are said to be spread evenly.
const CLUSTERED: f64 = 3.0;
/// See [`CLUSTERED`].
const SPREAD: f64 = 1.5;

/// Most of further marks that may be there by chance when they are counted with a named group. Our own choice;
/// the precision of single marks in `reports/accuracy.md` would notice a change.
const MOST_BY_CHANCE: f64 = 0.25;

/// Whether so many further marks are mostly of the group, where `contrary` like ones cannot be: they tell how
/// many are there by chance. One more is reckoned with, as where a limit is chosen by such contrary counts (Barber
/// and Candes, Annals of Statistics 43, 2015; from memory).
fn mostly_no_chance(count: usize, contrary: f64) -> bool {
    contrary + 1.0 <= MOST_BY_CHANCE * count as f64
}

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
        polarity: match hold_more(more, members.len()) {
            Some(true) => Polarity::MoreSilver,
            Some(false) => Polarity::LessSilver,
            None => Polarity::Mixed,
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
        figure: None,
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

/// A group has the sign that all but one in so many of its marks have: a grain of dust or a fleck of the scene
/// that came in with them does not make it mixed. Our own choice.
const BUT_ONE_IN: usize = 10;

/// Whether the marks of a group hold more silver than their surround; `None` where too many are of either sign.
fn hold_more(more: usize, count: usize) -> Option<bool> {
    let few = |marks: usize| marks * BUT_ONE_IN <= count;
    match (few(more), few(count - more)) {
        (false, true) => Some(true),
        (true, false) => Some(false),
        _ => None,
    }
}

fn silver_sign(more: usize, count: usize) -> Option<Sign> {
    let all = match more == 0 || more == count {
        true => "the marks",
        false => "nearly all of the marks",
    };
    hold_more(more, count).map(|hold_more| match hold_more {
        true => Sign::seen(
            SignName::MarksHoldSilver,
            format!("{all} hold more silver than their surround"),
        ),
        false => Sign::absent(
            SignName::MarksHoldSilver,
            format!("{all} hold less silver than their surround"),
        ),
    })
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
        sagitta_mm: 0.0,
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

/// On a picture, few or faint marks drown in the scene's own detail and in dust; beside comets round marks
/// are not counted apart, since heads without a tail to be seen look the same.
pub(super) fn cannot_tell(plate: &Plate, findings: &[Finding], cannot_tell: &mut Vec<CannotTell>) {
    let comets = findings.iter().any(|f| f.fault == Fault::Comets);
    if plate.kind != PlateKind::Picture && !comets {
        return;
    }
    let because = match comets {
        true => "round marks were not counted apart from the heads of the comets",
        false => {
            "a few small marks cannot be told from the detail of the scene and from dust; only more than clean plates show would be named"
        }
    };
    let evenly_exposed = "an evenly exposed plate: coat and dip it as always, expose it out of focus on a plain wall, develop it as always; every hole and tail shows on it";
    let unexposed =
        "an unexposed plate: coat, dip and develop it as always without drawing the slide";
    for (fault, plate_to_make) in [
        (Fault::Comets, evenly_exposed),
        (Fault::Pinholes, evenly_exposed),
        (Fault::Specks, unexposed),
    ] {
        if !findings.iter().any(|f| f.fault == fault) {
            cannot_tell.push(CannotTell {
                fault,
                because: because.to_owned(),
                make_this_plate: plate_to_make.to_owned(),
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measures::specks::Nature;

    /// A plain round mark of the plate with too little silver.
    pub(super) fn head(x: f64, y: f64) -> Speck {
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
            nature: Nature::OfPlate,
        }
    }

    /// The same with more silver, and strong.
    pub(super) fn strong(x: f64, y: f64) -> Speck {
        Speck {
            contrast_d: 0.4,
            ..head(x, y)
        }
    }

    #[test]
    fn a_grain_among_many_marks_does_not_make_a_group_mixed() {
        let read =
            |more: usize| [(more, 45), (more.min(5), 5)].map(|(more, of)| hold_more(more, of));
        assert_eq!(read(45), [Some(true); 2]);
        assert_eq!(read(0), [Some(false); 2]);
        assert_eq!(read(42), [Some(true); 2]);
        assert_eq!(read(4), [Some(false), None]);
        assert_eq!(read(20)[0], None);
    }
}
