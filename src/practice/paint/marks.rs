//! Groups of marks on the film: where each one lies, and what they do to a point.
//!
//! Marks are finer than the pixels of a scan, so a pixel that one touches is painted from a grid of
//! points within it.

use rand::RngExt;
use rand_chacha::ChaCha8Rng;

use super::{comets, pinholes, specks};
use crate::plate::Edge;
use crate::practice::maths;
use crate::practice::recipe::{MarkSign, Planted, PlateRecipe, Scatter, SpeckBody};

/// What a mark does where it is whole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::practice) enum Action {
    /// Leaves silver: its density on unexposed coating.
    Silver(f32),
    /// Takes a share of the silver; the film stays.
    Bleach(f32),
    /// Takes a share of the film with its silver.
    Hole(f32),
    /// Hides a share of the film under matter of its own density.
    Matter { share: f32, d: f32 },
}

/// A tail: gone at `length` from the head's centre.
#[derive(Debug, Clone, Copy)]
pub(in crate::practice) struct Tail {
    pub(in crate::practice) length: f32,
    /// Strength at its root, as a share of the head's.
    pub(in crate::practice) share: f32,
    /// Unit vector, y down.
    pub(in crate::practice) along: [f32; 2],
    /// How far its end lies off the straight line, millimetres.
    pub(in crate::practice) bend: f32,
}

/// One mark, millimetres of the plate.
#[derive(Debug, Clone)]
pub(in crate::practice) struct Mark {
    pub(in crate::practice) x: f32,
    pub(in crate::practice) y: f32,
    /// Diameter of the head.
    pub(in crate::practice) size: f32,
    /// Width of the head's soft rim, as a share of its radius.
    pub(in crate::practice) soft: f32,
    /// How far its outline strays from a circle, as a share of its radius.
    pub(in crate::practice) ragged: f32,
    pub(in crate::practice) action: Action,
    pub(in crate::practice) tail: Option<Tail>,
    pub(in crate::practice) seed: u64,
}

impl Mark {
    /// The head alone at a place, 0 to 1.
    pub(in crate::practice) fn head(&self, x: f32, y: f32) -> f32 {
        let (dx, dy) = (x - self.x, y - self.y);
        let radius = 0.5 * self.size;
        let r = (dx * dx + dy * dy).sqrt();
        if r > radius * (1.0 + self.soft + self.ragged) {
            return 0.0;
        }
        // Around the outline: noise along a circle closes on itself.
        let (u, v) = if r > 1e-6 {
            (dx / r, dy / r)
        } else {
            (0.0, 0.0)
        };
        let edge = radius * (1.0 + self.ragged * maths::value_noise(self.seed, 1.3 * u, 1.3 * v));
        maths::smoothstep(edge + self.soft * radius, edge - self.soft * radius, r)
    }

    /// Head and tail at a place, 0 to 1.
    fn whole(&self, x: f32, y: f32) -> f32 {
        let head = self.head(x, y);
        match &self.tail {
            Some(tail) => head.max(comets::tail(self, tail, x, y)),
            None => head,
        }
    }

    /// The far end of the tail, or the centre.
    pub(in crate::practice) fn end(&self) -> [f32; 2] {
        match &self.tail {
            None => [self.x, self.y],
            Some(tail) => [
                self.x + tail.length * tail.along[0] + tail.bend * tail.along[1],
                self.y + tail.length * tail.along[1] - tail.bend * tail.along[0],
            ],
        }
    }

    /// False when nothing of it lies within `margin` of a place: a tail is far from most of its box.
    fn may_touch(&self, [x, y]: [f32; 2], margin: f32) -> bool {
        let [ex, ey] = self.end();
        let (ux, uy) = (ex - self.x, ey - self.y);
        let along = ((x - self.x) * ux + (y - self.y) * uy) / (ux * ux + uy * uy).max(1e-9);
        let along = along.clamp(0.0, 1.0);
        let (dx, dy) = (x - self.x - along * ux, y - self.y - along * uy);
        let bend = self.tail.map_or(0.0, |tail| tail.bend.abs());
        let reach = 1.5 * self.size * (1.0 + self.soft + self.ragged) + bend;
        (dx * dx + dy * dy).sqrt() <= reach + margin
    }

    /// `[left, top, right, bottom]` of all that it changes.
    pub(in crate::practice) fn bounds(&self) -> [f32; 4] {
        let reach = 0.5 * self.size * (1.0 + self.soft + self.ragged);
        let [x, y] = self.end();
        [
            self.x.min(x) - reach,
            self.y.min(y) - reach,
            self.x.max(x) + reach,
            self.y.max(y) + reach,
        ]
    }
}

/// What all marks together do to one point.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Effect {
    /// Silver left, density on unexposed coating.
    pub(super) silver_d: f32,
    /// Share of the silver taken.
    pub(super) bleached: f32,
    /// Share of the film taken.
    pub(super) open: f32,
    /// Share of the film hidden, and the density of what hides it.
    pub(super) hidden: f32,
    pub(super) matter_d: f32,
}

impl Effect {
    fn add(&mut self, action: Action, amount: f32) {
        let both = |a: f32, b: f32| 1.0 - (1.0 - a) * (1.0 - b);
        match action {
            Action::Silver(d) => self.silver_d += amount * d,
            Action::Bleach(share) => self.bleached = both(self.bleached, amount * share),
            Action::Hole(share) => self.open = both(self.open, amount * share),
            Action::Matter { share, d } => {
                self.hidden = both(self.hidden, amount * share);
                self.matter_d = d;
            }
        }
    }
}

/// Side of a cell of the index, millimetres: small beside the space between marks.
const CELL_MM: f32 = 1.0;
/// Points along each side of a pixel.
const FINE: i32 = 5;

/// All marks of a plate, by fault, with an index by place.
pub(super) struct Marks {
    groups: Vec<Vec<Mark>>,
    columns: usize,
    rows: usize,
    cells: Vec<Vec<(u16, u16)>>,
    pixel: f32,
}

impl Marks {
    pub(super) fn new(plate: &PlateRecipe, seed: u64, pixel_mm: f64) -> Self {
        let groups: Vec<Vec<Mark>> = plate
            .faults
            .iter()
            .enumerate()
            .map(|(i, fault)| {
                let mut draw = Group::new(plate, maths::sub_seed(seed, &format!("marks {i}")));
                match fault {
                    Planted::Comets(recipe) => comets::draw(recipe, &mut draw),
                    Planted::Pinholes(recipe) => pinholes::draw(recipe, &mut draw),
                    Planted::Specks(recipe) => specks::draw(recipe, &mut draw),
                    _ => Vec::new(),
                }
            })
            .collect();
        let count = |side: f64| (side as f32 / CELL_MM).ceil() as usize + 1;
        let mut marks = Marks {
            columns: count(plate.width_mm),
            rows: count(plate.height_mm),
            cells: Vec::new(),
            groups,
            pixel: pixel_mm as f32,
        };
        if marks.groups.iter().any(|group| !group.is_empty()) {
            marks.index();
        }
        marks
    }

    fn index(&mut self) {
        self.cells = vec![Vec::new(); self.columns * self.rows];
        for (g, group) in self.groups.iter().enumerate() {
            for (m, mark) in group.iter().enumerate() {
                let [left, top, right, bottom] = mark.bounds();
                let cell =
                    |at: f32, limit: usize| ((at / CELL_MM).max(0.0) as usize).min(limit - 1);
                for row in cell(top - self.pixel, self.rows)..=cell(bottom + self.pixel, self.rows)
                {
                    let columns = cell(left - self.pixel, self.columns)
                        ..=cell(right + self.pixel, self.columns);
                    for column in columns {
                        let middle = [column, row].map(|at| (at as f32 + 0.5) * CELL_MM);
                        if mark.may_touch(middle, self.pixel + CELL_MM) {
                            self.cells[row * self.columns + column].push((g as u16, m as u16));
                        }
                    }
                }
            }
        }
    }

    /// The marks of one fault.
    pub(super) fn group(&self, fault: usize) -> &[Mark] {
        self.groups.get(fault).map_or(&[], Vec::as_slice)
    }

    fn near(&self, x: f32, y: f32) -> &[(u16, u16)] {
        if self.cells.is_empty() {
            return &[];
        }
        let column = ((x / CELL_MM).max(0.0) as usize).min(self.columns - 1);
        let row = ((y / CELL_MM).max(0.0) as usize).min(self.rows - 1);
        &self.cells[row * self.columns + column]
    }

    /// What the marks do at one point; `None` where there are none.
    pub(super) fn at(&self, x: f32, y: f32) -> Option<Effect> {
        let mut effect = Effect::default();
        for (group, mark) in self.near(x, y) {
            let mark = &self.groups[usize::from(*group)][usize::from(*mark)];
            let amount = mark.whole(x, y);
            if amount > 0.0 {
                effect.add(mark.action, amount);
            }
        }
        (effect != Effect::default()).then_some(effect)
    }

    /// What the marks do at points all over one pixel; `None` where there are none.
    pub(super) fn over_pixel(&self, x: f32, y: f32) -> Option<[Option<Effect>; 25]> {
        if self.near(x, y).is_empty() {
            return None;
        }
        let mut any = false;
        let step = self.pixel / FINE as f32;
        let points = std::array::from_fn(|i| {
            let (column, row) = (i as i32 % FINE - FINE / 2, i as i32 / FINE - FINE / 2);
            let effect = self.at(x + step * column as f32, y + step * row as f32);
            any |= effect.is_some();
            effect
        });
        any.then_some(points)
    }
}

/// Draws the marks of one group.
pub(super) struct Group {
    chance: ChaCha8Rng,
    seed: u64,
    /// Where heads may lie.
    low: [f64; 2],
    high: [f64; 2],
    clusters: Vec<[f64; 3]>,
}

impl Group {
    fn new(plate: &PlateRecipe, seed: u64) -> Self {
        let mut chance = maths::stream(seed, "places");
        // Off the rim, whose coating ends in waves up to half as wide again.
        let rim = plate.rim_mm.into_iter().fold(0.0, f64::max);
        let margin = (1.6 * rim + 0.4).min(0.2 * plate.width_mm.min(plate.height_mm));
        let low = [margin, margin];
        let high = [plate.width_mm - margin, plate.height_mm - margin];
        let clusters = (0..chance.random_range(2..=4))
            .map(|_| {
                [
                    chance.random_range(low[0]..high[0]),
                    chance.random_range(low[1]..high[1]),
                    chance.random_range(3.0..9.0),
                ]
            })
            .collect();
        Group {
            chance,
            seed,
            low,
            high,
            clusters,
        }
    }

    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.chance.random_range(0.0..1.0)
    }

    pub(super) fn yes(&mut self, share: f64) -> bool {
        self.chance.random_bool(share)
    }

    /// Standard normal, near enough: twelve even draws (central limit).
    pub(super) fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.between(0.0, 1.0)).sum::<f64>() - 6.0
    }

    /// A value around a median, normal in the logarithm, cut at two standard deviations.
    pub(super) fn around(&mut self, median: f64, spread: f64) -> f64 {
        median * libm::exp(spread * self.normal().clamp(-2.0, 2.0))
    }

    /// A strength around its middle.
    pub(super) fn strength(&mut self, middle: f64, spread: f64) -> f64 {
        middle * (1.0 + spread * self.between(-1.7, 1.7)).max(0.05)
    }

    pub(super) fn seed(&self, mark: u32) -> u64 {
        maths::sub_seed(self.seed, &format!("mark {mark}"))
    }

    pub(super) fn inside(&self, at: [f32; 2]) -> bool {
        (0..2).all(|i| (self.low[i]..=self.high[i]).contains(&f64::from(at[i])))
    }

    pub(super) fn place(&mut self, scatter: Scatter) -> [f32; 2] {
        let even = |group: &mut Self| {
            [0, 1].map(|i| {
                let (low, high) = (group.low[i], group.high[i]);
                group.between(low, high)
            })
        };
        let at = match scatter {
            Scatter::Spread => even(self),
            Scatter::Clusters => {
                let cluster = self.chance.random_range(0..self.clusters.len());
                let [x, y, reach] = self.clusters[cluster];
                [x + reach * self.normal(), y + reach * self.normal()]
            }
            Scatter::Toward(edge) => {
                // Thins out exponentially over a quarter of the plate.
                let away = -0.25 * libm::log(self.between(0.02, 1.0));
                let mut at = even(self);
                let (axis, from_low) = match edge {
                    Edge::Top => (1, true),
                    Edge::Right => (0, false),
                    Edge::Bottom => (1, false),
                    Edge::Left => (0, true),
                };
                let side = self.high[axis] - self.low[axis];
                at[axis] = if from_low {
                    self.low[axis] + away * side
                } else {
                    self.high[axis] - away * side
                };
                at
            }
        };
        [0, 1].map(|i| at[i].clamp(self.low[i], self.high[i]) as f32)
    }
}

/// The action of a stated sign.
pub(super) fn signed(sign: MarkSign, strength: f64) -> Action {
    match sign {
        MarkSign::MoreSilver => Action::Silver(strength as f32),
        MarkSign::LessSilver => Action::Bleach(strength.min(1.0) as f32),
    }
}

/// The action of a speck.
pub(super) fn of_body(body: SpeckBody, strength: f64, cover: f64) -> Action {
    match body {
        SpeckBody::Silver(_) => Action::Silver(strength as f32),
        SpeckBody::Matter(d) => Action::Matter {
            share: cover.min(1.0) as f32,
            d: d as f32,
        },
    }
}
