//! What a mark belongs to: the plate, its scene, or the scanner's glass.

use super::Speck;
use crate::plate::{PlateKind, Process};
use crate::raster::geometry::distance;

/// What a mark belongs to, as far as one scan shows. A second scan with the plate turned settles more.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Nature {
    /// A round mark that stands out by itself: the plate's own, or a grain of dust that looks so.
    OfPlate,
    /// Detail of the picture: long, or among others that are long or weak.
    OfScene,
    /// Dust: lighter than any silver.
    OfGlass,
    /// Too weak to tell.
    Unsure,
}

/// How far off others count as near, millimetres: some marks' distance on a plate that they spoil. Our
/// own choice; the accuracy on busy scenes would notice a change.
const NEAR_MM: f64 = 5.0;

/// Long or weak marks near a round one, as a share of its like, from which it is part of a scene.
const MOST_UNLIKE: f64 = 0.5;

/// Light of a positive's mark that neither silver nor salts reach, so that it is dust: the whites of
/// collodion positives lie at D 0.5 to 0.9 (from memory), matter on them hardly below 0.3.
const LIGHTER_THAN_ANY: f64 = 0.5;

/// Settles the nature of all marks. A blank or flat plate has no scene: there every round mark that stands
/// by itself is its own, however weak and whatever lies near it.
pub(super) fn settle(process: Process, kind: PlateKind, specks: &mut [Speck]) {
    let even = matches!(kind, PlateKind::Blank | PlateKind::Flat);
    let like =
        |a: &Speck, b: &Speck| b.is_round() && b.is_strong() && a.more_silver() == b.more_silver();
    let natures: Vec<Nature> = specks
        .iter()
        .enumerate()
        .map(|(i, speck)| {
            if process.is_positive() && speck.more_silver() && speck.light > LIGHTER_THAN_ANY {
                return Nature::OfGlass;
            }
            if !(speck.is_strong() || even && speck.alone()) {
                return Nature::Unsure;
            }
            if !speck.is_round() {
                return Nature::OfScene;
            }
            if even {
                return Nature::OfPlate;
            }
            let near = specks.iter().enumerate().filter(|(j, other)| {
                *j != i && other.alone() && distance(other.centre_mm, speck.centre_mm) < NEAR_MM
            });
            let (mut alike, mut unlike) = (0.0, 0.0);
            for (_, other) in near {
                alike += f64::from(u8::from(like(speck, other)));
                unlike += f64::from(u8::from(!other.is_round() || !other.is_strong()));
            }
            match unlike <= (MOST_UNLIKE * alike).max(1.0) {
                true => Nature::OfPlate,
                false => Nature::OfScene,
            }
        })
        .collect();
    for (speck, nature) in specks.iter_mut().zip(natures) {
        speck.nature = nature;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mark(x: f64, elongation: f64, light: f64) -> Speck {
        Speck {
            centre_mm: [x, 10.0],
            size_mm: 0.2,
            size_cells: 5.0,
            contrast_d: 0.3,
            elongation,
            steepness: 10.0,
            light,
            expected_false_alarms: 1e-6,
            tail: None,
            rays: Vec::new(),
            nature: Nature::Unsure,
        }
    }

    #[test]
    fn a_round_mark_among_long_ones_is_of_the_scene() {
        let mut specks = vec![
            mark(10.0, 1.0, 0.1),
            mark(40.0, 1.1, 0.1),
            mark(80.0, 1.0, 0.6),
        ];
        specks.extend((0..4).map(|k| mark(41.0 + f64::from(k), 2.5, 0.1)));
        settle(Process::PositiveOnGlass, PlateKind::Picture, &mut specks);
        assert_eq!(specks[0].nature, Nature::OfPlate);
        assert_eq!(specks[1].nature, Nature::OfScene);
        assert_eq!(specks[2].nature, Nature::OfGlass);
        settle(Process::NegativeOnGlass, PlateKind::Picture, &mut specks);
        assert_eq!(specks[2].nature, Nature::OfPlate);
        settle(Process::NegativeOnGlass, PlateKind::Flat, &mut specks);
        assert_eq!(specks[1].nature, Nature::OfPlate);
    }
}
