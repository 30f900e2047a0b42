//! Plates that measure the faults with a shape.

use super::{Design, Entry, WishAt};
use crate::plate::PlateKind;
use crate::practice::recipe::{FaultWish, Wish};
use crate::practice::scenes::SceneName;

/// Resolutions of plates with scratches, dots per inch: scratches are finer than other shapes.
const SCRATCH_DPI: [f64; 3] = [400.0, 600.0, 500.0];

/// Plantings of levels 1 to 4 of each fault; an uneven pour is planted on flat plates only.
const COUNTS: [usize; 4] = [8, 20, 20, 20];
const FAULTS: [WishAt; 7] = [
    FaultWish::Streaks,
    FaultWish::DipLine,
    FaultWish::Ridges,
    FaultWish::UnevenPour,
    FaultWish::BareArea,
    FaultWish::Stain,
    FaultWish::Scratch,
];

/// Clean plates: scenes with straight lines, other pictures, and a third each of blank, flat and
/// stepped plates.
const LINES: usize = 100;
const PICTURES: usize = 60;
const PLAIN: usize = 60;

impl Design {
    /// Some seven hundred plates: streaks, dip lines, ridges, uneven pours, bare areas, stains and
    /// scratches, and 220 clean plates, 100 of them scenes with strong straight lines.
    pub fn shapes(first_seed: u64) -> Design {
        let mut design = Design::empty("shapes", first_seed);
        for fault in FAULTS {
            for (level, count) in (1..=4).zip(COUNTS) {
                for i in 0..count {
                    design.plant_shape(fault(level), i);
                }
            }
        }
        for i in 0..LINES {
            design.clean(Some(SceneName::LINES[i % SceneName::LINES.len()]), None, i);
        }
        let others: Vec<SceneName> = SceneName::PICTURES
            .into_iter()
            .filter(|scene| !SceneName::LINES.contains(scene))
            .collect();
        for i in 0..PICTURES {
            design.clean(Some(others[i % others.len()]), None, i);
        }
        for i in 0..PLAIN {
            let kinds = [PlateKind::Blank, PlateKind::Flat, PlateKind::Wedge];
            design.clean(None, Some(kinds[i % 3]), i / 3);
        }
        design
    }

    /// Half of the plates are pictures, the others flat, or blank where the fault leaves silver.
    fn plant_shape(&mut self, fault: FaultWish, turn: usize) {
        let on_blank = matches!(
            fault,
            FaultWish::Streaks(_) | FaultWish::DipLine(_) | FaultWish::Stain(_)
        );
        let flat_only = matches!(fault, FaultWish::UnevenPour(_));
        let (scene, kind) = match turn % 6 {
            _ if flat_only => (None, Some(PlateKind::Flat)),
            4 if on_blank => (None, Some(PlateKind::Blank)),
            3..=5 => (None, Some(PlateKind::Flat)),
            _ => {
                let next = self.entries.len() * 7 % SceneName::PICTURES.len();
                (Some(SceneName::PICTURES[next]), None)
            }
        };
        let wish = Wish {
            faults: vec![fault],
            scene,
            kind,
            ..Wish::default()
        };
        self.push(wish, turn + turn / 6);
        let number = self.entries.len();
        if let (FaultWish::Scratch(_), Some(Entry { wish, .. })) = (fault, self.entries.last_mut())
        {
            wish.dpi = Some(SCRATCH_DPI[number % SCRATCH_DPI.len()]);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::practice::accuracy::design::PROCESSES;

    #[test]
    fn the_shapes_design_is_balanced() {
        let design = Design::shapes(5000);
        for fault in FAULTS {
            for process in PROCESSES {
                let planted = design.entries.iter().filter(|entry| {
                    let ours = (1..=4).any(|level| entry.wish.faults.contains(&fault(level)));
                    ours && entry.wish.process == Some(process)
                });
                assert!(planted.count() >= 20);
            }
            for (level, count) in (1..=4).zip(COUNTS) {
                let wished = |e: &&Entry| e.wish.faults.contains(&fault(level));
                assert_eq!(design.entries.iter().filter(wished).count(), count);
            }
        }
        let pours = |e: &&Entry| matches!(e.wish.faults[..], [FaultWish::UnevenPour(_)]);
        let mut pours = design.entries.iter().filter(pours);
        assert!(pours.all(|e| e.wish.kind == Some(PlateKind::Flat)));
        let clean: Vec<&Entry> = design
            .entries
            .iter()
            .filter(|e| e.wish.faults.is_empty())
            .collect();
        let lined = |e: &&&Entry| e.wish.scene.is_some_and(|s| SceneName::LINES.contains(&s));
        assert_eq!(clean.len(), 220);
        assert_eq!(clean.iter().filter(lined).count(), 100);
        for scene in SceneName::LINES {
            let of = |e: &&&Entry| e.wish.scene == Some(scene);
            assert!(clean.iter().filter(of).count() >= 12);
        }
    }
}
