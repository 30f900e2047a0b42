//! Plates that measure flat images and what the fixer left.

use super::{Design, PROCESSES};
use crate::plate::PlateKind;
use crate::practice::recipe::{FaultWish, Wish};
use crate::practice::scenes::SceneName;

/// Plantings of levels 1 to 4: of flat images, half on stepped plates, and of what the fixer left, in
/// colour scans.
const FLAT: [usize; 4] = [12, 36, 36, 36];
const UNDERFIXED: [usize; 4] = [8, 24, 24, 24];

/// Clean plates: scenes of little contrast, other pictures, and a fourth each of blank and flat and half of
/// stepped plates.
const PALE: usize = 60;
const PICTURES: usize = 90;
const PLAIN: usize = 80;

impl Design {
    /// Some 430 plates: flat images, plates that were not fixed out, and 230 clean ones, 60 of them scenes
    /// of little contrast.
    pub fn tone(first_seed: u64) -> Design {
        let mut design = Design::empty("tone", first_seed);
        for (level, count) in (1..=4).zip(FLAT) {
            for i in 0..count {
                design.plant_whole(FaultWish::FlatImage(level), i);
            }
        }
        for (level, count) in (1..=4).zip(UNDERFIXED) {
            for i in 0..count {
                design.plant_whole(FaultWish::Underfixed(level), i);
            }
        }
        for i in 0..PALE {
            design.clean(Some(SceneName::PALE[i % SceneName::PALE.len()]), None, i);
        }
        for i in 0..PICTURES {
            let pictures = SceneName::PICTURES.len();
            design.clean(Some(SceneName::PICTURES[i % pictures]), None, i);
        }
        for i in 0..PLAIN {
            let kinds = [
                PlateKind::Blank,
                PlateKind::Wedge,
                PlateKind::Flat,
                PlateKind::Wedge,
            ];
            design.clean(None, Some(kinds[i % 4]), i / 4);
        }
        design
    }

    /// Flat images lie on pictures and stepped plates by turns, milk on plates of every kind, one scan in
    /// eight grey.
    fn plant_whole(&mut self, fault: FaultWish, turn: usize) {
        let next = self.entries.len() * 7 % SceneName::PICTURES.len();
        let picture = (Some(SceneName::PICTURES[next]), None);
        let flat = matches!(fault, FaultWish::FlatImage(_));
        let (scene, kind) = match (flat, turn % 6) {
            (true, 1 | 3 | 5) => (None, Some(PlateKind::Wedge)),
            (false, 3) => (None, Some(PlateKind::Wedge)),
            (false, 4) => (None, Some(PlateKind::Blank)),
            (false, 5) => (None, Some(PlateKind::Flat)),
            _ => picture,
        };
        let channels = (!flat).then_some(if turn % 8 == 7 { 1 } else { 3 });
        let wish = Wish {
            faults: vec![fault],
            scene,
            kind,
            channels,
            ..Wish::default()
        };
        // Another step than that of the kinds, so that every process meets every kind.
        self.push(wish, turn + turn / PROCESSES.len());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tone_design_is_balanced() {
        let design = Design::tone(3000);
        for process in PROCESSES {
            for kind in [None, Some(PlateKind::Wedge)] {
                let of = design.entries.iter().filter(|entry| {
                    let strong = matches!(entry.wish.faults[..], [FaultWish::FlatImage(2..)]);
                    strong && entry.wish.process == Some(process) && entry.wish.kind == kind
                });
                assert!(of.count() >= 15);
            }
        }
        let coloured = design.entries.iter().filter(|entry| {
            let strong = matches!(entry.wish.faults[..], [FaultWish::Underfixed(2..)]);
            strong && entry.wish.channels == Some(3)
        });
        assert!(coloured.count() >= 60);
        let clean = design.entries.iter().filter(|e| e.wish.faults.is_empty());
        assert!(clean.count() >= 200);
    }
}
