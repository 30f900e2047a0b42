//! Which plates are painted to measure accuracy.

use crate::plate::{PlateKind, Process};
use crate::practice::recipe::{Crop, FaultWish, Glass, Wish};
use crate::practice::scenes::SceneName;

mod shapes;
mod tone;

/// Plates to paint, balanced over faults, levels, kinds and scenes.
#[derive(Debug, Clone)]
pub struct Design {
    /// `full`, `short`, `fog`, `marks`, `marks-turned`, `shapes` or `tone`.
    pub name: &'static str,
    /// Seed of the first plate; each further plate has the next one.
    pub first_seed: u64,
    /// Whether each plate is scanned a second time, turned half round on the glass.
    pub turned: bool,
    /// The plates.
    pub entries: Vec<Entry>,
}

/// One plate of a design.
#[derive(Debug, Clone)]
pub struct Entry {
    /// Seed of its recipe.
    pub seed: u64,
    /// Stem of its files.
    pub name: String,
    /// What must hold of it.
    pub wish: Wish,
}

/// A fault at a level.
type WishAt = fn(u8) -> FaultWish;

const PROCESSES: [Process; 3] = [
    Process::PositiveOnMetal,
    Process::PositiveOnGlass,
    Process::NegativeOnGlass,
];

/// Resolutions of plates with marks, dots per inch: marks are finer than fog.
const MARKS_DPI: [f64; 3] = [600.0, 400.0, 600.0];

/// The busiest scenes: leaves, bricks, boards, cloth, many things and many people.
pub(super) const BUSY: [SceneName; 6] = [
    SceneName::Woods,
    SceneName::Street,
    SceneName::Boards,
    SceneName::Cloth,
    SceneName::StillLife,
    SceneName::Group,
];

/// Resolutions painted, dots per inch: low, so that some four hundred plates take minutes.
const DPI: [f64; 3] = [300.0, 350.0, 400.0];

impl Design {
    /// Some eight hundred plates: the fog design, and after it the marks design.
    pub fn full(first_seed: u64) -> Design {
        let mut design = Design::fog(first_seed);
        design.name = "full";
        design.add_marks();
        design
    }

    /// The plates of [`Design::full`] that measure comets, pinholes and specks: more than 40 plantings
    /// of each at levels 2 to 4 that can be found, on all kinds of plate and on clean and dirty glass,
    /// and 204 clean plates with the busiest scenes and the dirtiest glass among them.
    pub fn marks(first_seed: u64) -> Design {
        let mut design = Design::full(first_seed);
        let fog = Design::fog(first_seed).entries.len();
        design.entries.drain(..fog);
        design.name = "marks";
        design.first_seed = first_seed + fog as u64;
        design
    }

    /// The plates of [`Design::marks`], each scanned twice, the second time turned half round: none is cropped,
    /// since what is turned lies somewhere else.
    pub fn marks_turned(first_seed: u64) -> Design {
        let mut design = Design::marks(first_seed);
        (design.name, design.turned) = ("marks-turned", true);
        for entry in &mut design.entries {
            entry.wish.crop = Some(Crop::Margin);
        }
        design
    }

    /// Some four hundred plates: more than 40 plantings of each fault at levels 2 to 4 that can be
    /// found, and 200 clean plates, 80 of them with scenes that look like fog.
    pub fn fog(first_seed: u64) -> Design {
        let mut design = Design::empty("fog", first_seed);
        // A slight veil can hardly be told on any plate; leaks on plates without a border often not.
        let faults: [(WishAt, [usize; 4]); 3] = [
            (FaultWish::Veil, [8, 12, 24, 24]),
            (FaultWish::EdgeFog, [8, 20, 20, 20]),
            (FaultWish::LightLeak, [8, 24, 24, 24]),
        ];
        for (fault, counts) in faults {
            for (level, count) in (1..=4).zip(counts) {
                for i in 0..count {
                    design.plant(fault(level), i);
                }
            }
        }
        for i in 0..80 {
            design.clean(Some(SceneName::BAIT[i % SceneName::BAIT.len()]), None, i);
        }
        for i in 0..84 {
            let pictures = SceneName::PICTURES.len();
            design.clean(Some(SceneName::PICTURES[i % pictures]), None, i);
        }
        for i in 0..36 {
            let kinds = [PlateKind::Blank, PlateKind::Flat, PlateKind::Wedge];
            design.clean(None, Some(kinds[i % 3]), i / 3);
        }
        design
    }

    fn add_marks(&mut self) {
        let start = self.entries.len();
        let faults: [WishAt; 3] = [FaultWish::Comets, FaultWish::Pinholes, FaultWish::Specks];
        for fault in faults {
            for (level, count) in (1..=4).zip([14, 20, 20, 20]) {
                for i in 0..count {
                    self.plant(fault(level), i);
                }
            }
        }
        for i in 0..150 {
            self.clean(Some(BUSY[i % BUSY.len()]), None, i);
        }
        for i in 0..54 {
            let kinds = [PlateKind::Blank, PlateKind::Flat, PlateKind::Wedge];
            self.clean(None, Some(kinds[i % 3]), i / 3);
        }
        for (i, entry) in self.entries.iter_mut().enumerate().skip(start) {
            entry.wish.dpi = Some(MARKS_DPI[i % MARKS_DPI.len()]);
            // Another step than that of scenes and resolutions.
            entry.wish.glass = match (entry.wish.faults.is_empty(), i % 5) {
                (_, 0) => Some(Glass::Clean),
                (_, 1) => Some(Glass::Dusty),
                (true, 2 | 3) => Some(Glass::Filthy),
                _ => None,
            };
        }
    }

    /// Three dozen plates: enough to see that something broke.
    pub fn short(first_seed: u64) -> Design {
        let mut design = Design::empty("short", first_seed);
        for fault in [FaultWish::Veil, FaultWish::EdgeFog, FaultWish::LightLeak] {
            for (i, level) in [2, 3, 4, 4].into_iter().enumerate() {
                design.plant(fault(level), i);
            }
        }
        for i in 0..6 {
            design.clean(Some(SceneName::BAIT[i]), None, i);
        }
        for i in 0..3 {
            design.clean(Some(SceneName::PICTURES[5 * i]), None, i);
        }
        for (i, kind) in [PlateKind::Blank, PlateKind::Flat, PlateKind::Wedge]
            .into_iter()
            .enumerate()
        {
            design.clean(None, Some(kind), i);
        }
        for entry in &mut design.entries {
            entry.wish.dpi = Some(300.0);
            entry.wish.size_name = Some("sixth");
        }
        let fog = design.entries.len();
        for fault in [FaultWish::Comets, FaultWish::Pinholes, FaultWish::Specks] {
            for (i, level) in [2, 3, 4].into_iter().enumerate() {
                design.plant(fault(level), i);
            }
        }
        for i in 0..3 {
            design.clean(Some(BUSY[2 * i]), None, i);
        }
        for (i, entry) in design.entries.iter_mut().enumerate().skip(fog) {
            entry.wish.dpi = Some(400.0);
            entry.wish.size_name = Some("sixth");
            let clean = entry.wish.faults.is_empty();
            entry.wish.glass = [None, Some(Glass::Filthy)][usize::from(clean && i % 2 == 0)];
        }
        design
    }

    /// First and last seed.
    pub fn seeds(&self) -> (u64, u64) {
        let plates = self.entries.len() as u64;
        (self.first_seed, self.first_seed + plates.saturating_sub(1))
    }

    fn empty(name: &'static str, first_seed: u64) -> Design {
        Design {
            name,
            first_seed,
            turned: false,
            entries: Vec::new(),
        }
    }

    fn push(&mut self, mut wish: Wish, turn: usize) {
        let number = self.entries.len();
        wish.dpi = Some(DPI[number % DPI.len()]);
        wish.process = Some(PROCESSES[turn % PROCESSES.len()]);
        self.entries.push(Entry {
            seed: self.first_seed + number as u64,
            name: format!("{}-{:03}", self.name, number + 1),
            wish,
        });
    }

    /// A plate with one kind of fault: two pictures in three, else a blank or a flat plate.
    fn plant(&mut self, fault: FaultWish, turn: usize) {
        let (scene, kind) = match turn % 6 {
            // A blank plate has no silver that a pinhole could lack.
            4 if matches!(fault, FaultWish::Pinholes(_)) => (None, Some(PlateKind::Flat)),
            4 => (None, Some(PlateKind::Blank)),
            5 => (None, Some(PlateKind::Flat)),
            _ => {
                let next = self.entries.len() * 7 % SceneName::PICTURES.len();
                (Some(SceneName::PICTURES[next]), None)
            }
        };
        let wish = Wish {
            faults: vec![fault],
            scene,
            kind,
            bare_rim: matches!(fault, FaultWish::Veil(_)),
            ..Wish::default()
        };
        // Another step than that of the kinds, so that every process meets every kind.
        self.push(wish, turn + turn / 6);
    }

    fn clean(&mut self, scene: Option<SceneName>, kind: Option<PlateKind>, turn: usize) {
        let wish = Wish {
            scene,
            kind,
            ..Wish::default()
        };
        self.push(wish, turn + turn / 6);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_full_design_is_balanced() {
        let design = Design::full(1000);
        let planted = |fault: WishAt, level| {
            let wished = |e: &&Entry| e.wish.faults.contains(&fault(level));
            design.entries.iter().filter(wished).count()
        };
        for fault in [FaultWish::Veil, FaultWish::EdgeFog, FaultWish::LightLeak] {
            assert!((2..=4).map(|level| planted(fault, level)).sum::<usize>() >= 54);
            assert!(planted(fault, 1) >= 8);
        }
        let clean: Vec<&Entry> = design
            .entries
            .iter()
            .filter(|e| e.wish.faults.is_empty())
            .collect();
        assert!(clean.len() >= 200);
        let bait = |e: &&&Entry| e.wish.scene.is_some_and(SceneName::is_bait);
        assert!(clean.iter().filter(bait).count() >= 80);
        for process in PROCESSES {
            let blank = |e: &&&Entry| {
                e.wish.kind == Some(PlateKind::Blank) && e.wish.process == Some(process)
            };
            assert!(clean.iter().filter(blank).count() >= 2);
        }
        for fault in [FaultWish::Comets, FaultWish::Pinholes, FaultWish::Specks] {
            assert!((2..=4).map(|level| planted(fault, level)).sum::<usize>() >= 54);
            assert!(planted(fault, 1) >= 8);
        }
        let filthy = |e: &&&Entry| e.wish.glass == Some(Glass::Filthy);
        assert!(clean.iter().filter(filthy).count() >= 24);
        let busy = |e: &&&Entry| e.wish.scene.is_some_and(|scene| BUSY.contains(&scene));
        assert!(clean.iter().filter(busy).filter(filthy).count() >= 12);
        let (first, last) = design.seeds();
        assert_eq!(
            (first, last + 1 - first),
            (1000, design.entries.len() as u64)
        );
    }

    #[test]
    fn plates_of_fog_keep_their_seeds_and_the_marks_come_after() {
        let (full, fog, marks) = (Design::full(7), Design::fog(7), Design::marks(7));
        let seeds = |d: &Design| d.entries.iter().map(|e| e.seed).collect::<Vec<u64>>();
        assert_eq!(seeds(&full), [seeds(&fog), seeds(&marks)].concat());
        assert_eq!(
            marks.seeds(),
            (7 + fog.entries.len() as u64, full.seeds().1)
        );
        let turned = Design::marks_turned(7);
        assert_eq!((seeds(&turned), turned.turned), (seeds(&marks), true));
    }
}
