//! How well the movement of the hand behind comets and streaks is told: plates whose marks follow a known
//! movement, read with what a maker would state of all three, and what was said of their causes.
//!
//! Comes in: a [`HandReader`]. Goes out: [`HandsAccuracy`]. The planter is ours: how often each movement
//! leaves marks, and how steadily, is our own choice, so the table judges the reasoning and not the trade.

use std::fmt::Write;
use std::path::Path;

use rand::RngExt;
use rayon::prelude::*;

use super::shares::in_words;
use crate::causes::{Catalogue, Cause, LikelyCause, Movement, says_one_axis};
use crate::findings::{Fault, Sign, SignName};
use crate::handling::{Corner, Handling, HandlingSource};
use crate::plate::{Edge, PlateKind, Process};
use crate::practice::maths;
use crate::practice::recipe::{FaultWish, MarkSign, Planted, StreakForm, Wish};
use crate::practice::scenes::SceneName;
use crate::practice::{PracticeError, PracticePlate, Recipe, write_whole};
use crate::raster::geometry::{between_axes_deg, between_directions_deg};

/// Reads a scan with what the maker said, and gives what is said of each finding of its first plate.
pub type HandReader<'a> = &'a (dyn Fn(&Path, &Recipe, Handling) -> Option<Vec<Explained>> + Sync);

/// A finding and its causes.
#[derive(Debug, Clone)]
pub struct Explained {
    /// Which fault, and how surely it is there, 0 to 1.
    pub fault: Fault,
    pub confidence: f64,
    /// The causes that its report names.
    pub named: Vec<LikelyCause>,
    /// All causes with their probabilities, those that are not named too.
    pub all: Vec<LikelyCause>,
}

/// Axes at least this far apart can be told from one another, degrees: what is asked of the program.
const APART_DEG: f64 = 30.0;

/// How far marks stray from the movement that drew them, as one, standard deviation in degrees: hands are
/// steady to some 10 degrees (our own choice).
const STRAY_DEG: f64 = 6.0;

/// Share of the plates on which comets lie any way, whatever the hand did: that of the catalogue (`absent` of
/// what draws its marks along the way).
const ANY_WAY: f64 = 0.03;

/// The most that painted streaks may lean, degrees.
const MOST_LEAN_DEG: f64 = 20.0;

/// Bounds of the bins of probability.
const BINS: [f64; 5] = [0.0, 0.1, 0.5, 0.9, 1.0];

/// The marks of one plate, what drew them and what was said.
#[derive(Debug, Clone)]
struct Told {
    fault: &'static str,
    drawn_by: Movement,
    /// How its way lies to those of the others; `None` where one of them is not stated.
    lie: Option<Lie>,
    /// The marks lie any way and so follow no movement.
    any_way: bool,
    said: Option<Said>,
}

/// How the way of a movement lies to those of the others.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Lie {
    /// Its axis is [`APART_DEG`] or more from both.
    Apart,
    /// Another ran the same way within [`APART_DEG`].
    Agrees,
    /// Another ran the opposite way, which tails tell apart though the axes agree.
    Opposite,
}

/// What a report says of the causes of the marks.
#[derive(Debug, Clone)]
struct Said {
    /// The movement of the first cause, if it follows any.
    first: Option<Movement>,
    /// Probability of each movement: the sum over its causes, as a share of all three, since the planter draws
    /// no marks that follow none of them.
    shares: [(Movement, f64); 3],
    /// Whether a named cause says that its movement and another ran along one axis or nearly so.
    tie: bool,
}

/// What became of a few hundred plates with marks of known movements.
#[derive(Debug, Clone)]
pub struct HandsAccuracy {
    seeds: (u64, u64),
    plates: Vec<Told>,
}

impl HandsAccuracy {
    /// Paints and reads so many plates, each of the next seed. Scans lie in `dir` only while they are read; the
    /// catalogue tells which movement a cause follows.
    pub fn measure(
        first_seed: u64,
        count: usize,
        dir: &Path,
        reader: HandReader,
        catalogue: &Catalogue,
    ) -> Result<Self, PracticeError> {
        let plates: Result<Vec<Told>, PracticeError> = (0..count)
            .into_par_iter()
            .map(|turn| plate(first_seed + turn as u64, turn, dir, reader, catalogue))
            .collect();
        Ok(HandsAccuracy {
            seeds: (first_seed, first_seed + (count as u64).saturating_sub(1)),
            plates: plates?,
        })
    }

    /// Plates of one lie whose marks were found, with what was said of them.
    fn of(&self, lie: Lie) -> impl Iterator<Item = (&Told, &Said)> {
        let of = self.plates.iter().filter(move |told| told.lie == Some(lie));
        of.filter_map(|told| Some((told, told.said.as_ref()?)))
    }

    /// Plates with stated axes that lie apart whose marks were found, and those of them whose first cause
    /// follows the movement that drew the marks. `fault` and `movement` choose among them.
    pub fn apart(&self, fault: Option<&str>, movement: Option<Movement>) -> (usize, usize) {
        let of = self.of(Lie::Apart).filter(|(told, _)| {
            fault.is_none_or(|fault| told.fault == fault)
                && movement.is_none_or(|movement| told.drawn_by == movement)
        });
        of.fold((0, 0), |(right, of), (told, said)| {
            (
                right + usize::from(said.first == Some(told.drawn_by)),
                of + 1,
            )
        })
    }

    /// Of the plates on which another movement ran the same way and the marks follow it: those that say so,
    /// those with the right movement first, and all.
    fn ties(&self) -> (usize, usize, usize) {
        self.of(Lie::Agrees).filter(|(told, _)| !told.any_way).fold(
            (0, 0, 0),
            |(tie, right, of), (told, said)| {
                (
                    tie + usize::from(said.tie),
                    right + usize::from(said.first == Some(told.drawn_by)),
                    of + 1,
                )
            },
        )
    }

    /// The table in Markdown.
    pub fn table(&self) -> String {
        let mut out = String::from("# Accuracy of causes: the movement behind marks\n\n");
        // Writing to a string cannot fail.
        let mut line = |text: String| {
            let _ = writeln!(out, "{text}");
        };
        line(format!(
            "oystermark {}, seeds {} to {}: {} made-up plates with comets or streaks at levels 2 to 4 that follow \
             the dip, the developer's sweep or the draining, read with the handling stated. The planter is ours: \
             each movement draws marks as often as the catalogue expects before it has seen any sign, and marks \
             stray from it by {STRAY_DEG} degrees (standard deviation); {} of a hundred plates with comets have them any \
             way all the same. Intervals hold 95 % (Wilson).",
            env!("CARGO_PKG_VERSION"),
            self.seeds.0,
            self.seeds.1,
            self.plates.len(),
            100.0 * ANY_WAY,
        ));
        line(String::new());
        line("| axes at least 30 degrees apart | right movement first |".into());
        line("|---|---|".into());
        for fault in FAULTS {
            for movement in Movement::ALL {
                let (right, of) = self.apart(Some(fault), Some(movement));
                if of > 0 {
                    let row = format!(
                        "| {fault} from {} | {} |",
                        movement.words(),
                        in_words(right, of)
                    );
                    line(row);
                }
            }
        }
        let (right, of) = self.apart(None, None);
        line(format!("| all | {} |", in_words(right, of)));
        let (tie, right, of) = self.ties();
        line(String::new());
        line(format!(
            "Another movement ran the same way within {APART_DEG} degrees, and the marks follow it: {} say that two \
             movements ran along one axis or nearly so; the right movement is first in {}.",
            in_words(tie, of),
            in_words(right, of),
        ));
        line(String::new());
        line("| stated probability of a movement, if it was one of the three | cases | stated mean | was so |".into());
        line("|---|---|---|---|".into());
        for pair in BINS.windows(2) {
            if let [low, high] = pair {
                line(self.bin(*low, *high));
            }
        }
        out
    }

    fn bin(&self, low: f64, high: f64) -> String {
        let top = *BINS.last().unwrap_or(&1.0);
        let cases: Vec<(f64, bool)> = self
            .plates
            .iter()
            .filter_map(|told| Some((told, told.said.as_ref()?)))
            .flat_map(|(told, said)| {
                said.shares
                    .iter()
                    .map(|(movement, share)| (*share, *movement == told.drawn_by))
            })
            // A movement that none of the fault's causes follows was never in doubt.
            .filter(|(share, _)| 0.0 < *share && low <= *share && (*share < high || high == top))
            .collect();
        let mean = cases.iter().map(|(share, _)| share).sum::<f64>() / cases.len().max(1) as f64;
        let so = cases.iter().filter(|(_, so)| *so).count();
        format!(
            "| {low} to {high} | {} | {mean:.3} | {} |",
            cases.len(),
            in_words(so, cases.len())
        )
    }
}

/// The faults that are planted.
const FAULTS: [&str; 2] = ["comets", "streaks"];

fn plate(
    seed: u64,
    turn: usize,
    dir: &Path,
    reader: HandReader,
    catalogue: &Catalogue,
) -> Result<Told, PracticeError> {
    let mut draw = maths::stream(seed, "hands");
    // Two plates of three carry comets, which three movements draw.
    let fault = FAULTS[usize::from(turn % 3 == 2)];
    let mut recipe = recipe(seed, turn, fault);
    let drawn_by = drawn_by(fault, &recipe, catalogue, draw.random_range(0.0..1.0));
    let size_mm = recipe
        .plates
        .first()
        .map_or([1.0, 1.0], |plate| [plate.width_mm, plate.height_mm]);
    // Streaks are painted from an edge; no recipe has them lean toward a corner.
    let from_corner = fault == FAULTS[0];
    let mut handling = handling(&mut draw, size_mm, from_corner);
    let lie = lie(&handling, drawn_by, fault, size_mm);
    // One maker in four forgets one of the movements that did not draw the marks.
    let forgets = draw.random_range(0..4) == 0;
    let along_deg = drawn_by
        .way_deg(&handling, Some(size_mm))
        .unwrap_or_default();
    let stray_deg = STRAY_DEG * ((0..12).map(|_| draw.random_range(0.0..1.0)).sum::<f64>() - 6.0);
    let back = draw.random_range(0..2) == 1;
    // Streaks start at the edge where their movement starts, so only comets can lie any way.
    let any_way = fault == FAULTS[0] && draw.random_range(0.0..1.0) < ANY_WAY;
    let stray_deg = match any_way {
        true => draw.random_range(0.0..360.0),
        false => stray_deg,
    };
    for planted in recipe.plates.iter_mut().flat_map(|plate| &mut plate.faults) {
        lay_along(planted, along_deg + stray_deg, drawn_by, back);
    }
    if forgets {
        forget(&mut handling, drawn_by, draw.random_range(0..2));
    }
    let painted = PracticePlate::paint(&recipe)?;
    let path = write_whole(&dir.join(&painted.file_name), &painted.file)?;
    let read = reader(&path, &recipe, handling);
    // A scan that cannot be removed is only in the way.
    let _ = std::fs::remove_file(&path);
    Ok(Told {
        fault,
        drawn_by,
        lie: (!forgets).then_some(lie),
        any_way,
        said: read.and_then(|read| said(&read, fault, catalogue)),
    })
}

/// The movement that draws the marks: each as often as the catalogue expects its causes to be behind the
/// fault, once it is known whether all comets hold silver. `draw` lies in 0 to 1.
fn drawn_by(fault: &str, recipe: &Recipe, catalogue: &Catalogue, draw: f64) -> Movement {
    let faults = recipe.plates.iter().flat_map(|plate| &plate.faults);
    let silver = faults.filter_map(|planted| match planted {
        Planted::Comets(comets) if comets.contrary.is_none() => {
            Some(comets.sign == MarkSign::MoreSilver)
        }
        _ => None,
    });
    let silver: Vec<Sign> = silver
        .map(|holds| Sign::new(SignName::MarksHoldSilver, holds, ""))
        .collect();
    let odds = |cause: &Cause| {
        let (_, readily) = cause.faults.iter().find(|(of, _)| of.name() == fault)?;
        let factors = silver
            .iter()
            .filter_map(|sign| Some(cause.signs.get(&sign.name)?.factor(sign)));
        Some(readily * catalogue.weights.odds(cause.prior) * factors.product::<f64>())
    };
    let odds = Movement::ALL.map(|movement| {
        let of = catalogue.causes.iter();
        let of = of.filter(|cause| Movement::of(cause) == Some(movement));
        (movement, of.filter_map(odds).sum::<f64>())
    });
    let mut left = draw * odds.iter().map(|(_, odds)| odds).sum::<f64>();
    let drawn = odds.into_iter().find(|(_, odds)| {
        left -= odds;
        left < 0.0
    });
    drawn.map_or(Movement::Dip, |(movement, _)| movement)
}

/// A plate with one fault: pictures and even test plates in turn, all processes.
fn recipe(seed: u64, turn: usize, fault: &str) -> Recipe {
    let level = 2 + (turn / 3 % 3) as u8;
    let wished = match fault {
        "comets" => FaultWish::Comets(level),
        _ => FaultWish::Streaks(level),
    };
    let even = (turn / 9).is_multiple_of(2);
    let wish = Wish {
        faults: vec![wished],
        kind: even.then_some(PlateKind::Flat),
        scene: (!even).then(|| SceneName::PICTURES[turn * 5 % SceneName::PICTURES.len()]),
        process: Some(
            [
                Process::PositiveOnMetal,
                Process::PositiveOnGlass,
                Process::NegativeOnGlass,
            ][turn % 3],
        ),
        ..Wish::default()
    };
    Recipe::random(seed, &format!("hands-{seed}"), &wish)
}

/// What a maker would state of all three movements.
fn handling(draw: &mut impl RngExt, size_mm: [f64; 2], from_corner: bool) -> Handling {
    let dip_axis_deg = [0.0, 90.0][usize::from(draw.random_range(0..3) == 0)];
    let corner = Corner::ALL[draw.random_range(0..4)];
    let edge = Edge::ALL[draw.random_range(0..4)];
    // Some pour at an edge and sweep straight on, some from a corner.
    let developer_direction_deg = if draw.random_range(0..3) == 0 && from_corner {
        Corner::ALL[draw.random_range(0..4)].direction_on_deg(size_mm)
    } else {
        edge_direction_deg(edge)
    };
    Handling {
        dip_axis_deg: Some(dip_axis_deg),
        developer_direction_deg: Some(developer_direction_deg),
        drain_corner: Some(corner),
        source: HandlingSource::File,
        ..Handling::default()
    }
}

/// Direction toward an edge, degrees.
fn edge_direction_deg(edge: Edge) -> f64 {
    match edge {
        Edge::Top => 0.0,
        Edge::Right => 90.0,
        Edge::Bottom => 180.0,
        Edge::Left => 270.0,
    }
}

/// How the way of a movement lies to those of both others; all three are stated.
fn lie(handling: &Handling, own: Movement, fault: &str, size_mm: [f64; 2]) -> Lie {
    let deg = |movement: Movement| movement.way_deg(handling, Some(size_mm));
    let near = |other: Movement| {
        let (Some(own_deg), Some(other_deg)) = (deg(own), deg(other)) else {
            return None;
        };
        if between_axes_deg(own_deg, other_deg) >= APART_DEG {
            return None;
        }
        let both_ways = fault != FAULTS[0] || own == Movement::Dip || other == Movement::Dip;
        let same = both_ways || between_directions_deg(own_deg, other_deg) < APART_DEG;
        Some(if same { Lie::Agrees } else { Lie::Opposite })
    };
    let others = Movement::ALL.into_iter().filter(|other| *other != own);
    let near: Vec<Lie> = others.filter_map(near).collect();
    match near.as_slice() {
        [] => Lie::Apart,
        near if near.contains(&Lie::Agrees) => Lie::Agrees,
        _ => Lie::Opposite,
    }
}

/// Takes back one of the two statements that are not about `own`.
fn forget(handling: &mut Handling, own: Movement, which: usize) {
    let mut others = Movement::ALL.into_iter().filter(|other| *other != own);
    match others.nth(which) {
        Some(Movement::Dip) => handling.dip_axis_deg = None,
        Some(Movement::Sweep) => handling.developer_direction_deg = None,
        Some(Movement::Drain) => handling.drain_corner = None,
        None => {}
    }
}

/// Turns planted marks into a direction. What the bath leaves may point either way.
fn lay_along(planted: &mut Planted, deg: f64, movement: Movement, back: bool) {
    match planted {
        Planted::Comets(comets) => {
            comets.both_ways &= movement == Movement::Dip;
            let turned = if back && movement == Movement::Dip {
                180.0
            } else {
                0.0
            };
            comets.direction_deg = (deg + turned).rem_euclid(360.0);
        }
        Planted::Streaks(streaks) => {
            let from = Edge::ALL
                .into_iter()
                .min_by(|a, b| off_normal(*a, deg).total_cmp(&off_normal(*b, deg)))
                .unwrap_or(streaks.from);
            streaks.from = from;
            // They lean clockwise from the edge's own normal.
            let lean = deg - (edge_direction_deg(from) + 180.0);
            let lean = (lean + 90.0).rem_euclid(180.0) - 90.0;
            streaks.tilt_deg = lean.clamp(-MOST_LEAN_DEG, MOST_LEAN_DEG);
            streaks.form = match movement {
                Movement::Sweep => StreakForm::Developer,
                _ => StreakForm::Dip,
            };
            if streaks.form == StreakForm::Dip {
                streaks.radius_mm = None;
            }
        }
        _ => {}
    }
}

/// How far a direction lies off straight inward from an edge, degrees.
fn off_normal(edge: Edge, deg: f64) -> f64 {
    between_directions_deg(edge_direction_deg(edge) + 180.0, deg)
}

/// What is said of the causes of the marks that were found; `None` when none were.
fn said(read: &[Explained], fault: &str, catalogue: &Catalogue) -> Option<Said> {
    let finding = read
        .iter()
        .filter(|finding| finding.fault.name() == fault)
        .max_by(|a, b| a.confidence.total_cmp(&b.confidence))?;
    let movement = |cause: &LikelyCause| Movement::of(catalogue.cause(&cause.cause)?);
    let sums = Movement::ALL.map(|wanted| {
        let of = finding.all.iter().filter(|c| movement(c) == Some(wanted));
        (wanted, of.map(|cause| cause.probability).sum())
    });
    let all: f64 = sums.iter().map(|(_, sum): &(Movement, f64)| sum).sum();
    if all <= 0.0 {
        return None;
    }
    let first = finding.named.first()?;
    Some(Said {
        first: movement(first),
        shares: sums.map(|(movement, sum)| (movement, sum / all)),
        tie: (finding.named.iter())
            .flat_map(|cause| &cause.because)
            .any(|because| says_one_axis(because)),
    })
}
