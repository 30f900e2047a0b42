//! What a band is like across: a soft bell, or a thing with edges.

/// What a band is like across.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AcrossForm {
    /// Width at half height of the likest bell, millimetres.
    pub width_mm: f64,
    /// Its height, density.
    pub height_d: f64,
    /// Squares left by it over those of the silver, 0 to 1.
    pub left: f64,
    /// Squares left by it over those left by the likest box: below 1 for a soft band.
    pub bell_over_box: f64,
    /// Steepest change, in heights per width: 1.4 for a bell, more for what has edges.
    pub steepness: f64,
}

/// Bells and boxes that are tried.
pub(super) struct Tried {
    /// Widths, millimetres.
    pub(super) widths_mm: &'static [f64],
    /// How far off the middle they may lie, millimetres.
    pub(super) off_mm: &'static [f64],
    /// Widths between those, as shares of the likest.
    pub(super) finer: &'static [f64],
    /// An edge of a box is this wide: the blur of scan and cells, millimetres.
    pub(super) edge_mm: f64,
    /// So far to both sides is looked at, millimetres.
    pub(super) reach_mm: f64,
}

/// Half as high half a width off.
const BELL: f64 = 4.0 * std::f64::consts::LN_2;
/// Fewest known cells across a band.
const FEWEST: usize = 6;
/// Least height that is believed, density.
const LEAST_D: f64 = 2e-3;
/// Least squares that count as left, density squared.
const LEAST_LEFT: f64 = 1e-9;

impl AcrossForm {
    /// From silver across a band in cells of `pitch_mm`, the middle one its own, its sign taken as more silver.
    pub(super) fn of(across: &[Option<f64>], pitch_mm: f64, tried: &Tried) -> AcrossForm {
        let middle = (across.len() / 2) as f64;
        let known: Vec<(f64, f64)> = across
            .iter()
            .enumerate()
            .map(|(k, silver)| ((k as f64 - middle) * pitch_mm, *silver))
            .filter(|(off, _)| off.abs() <= tried.reach_mm)
            .filter_map(|(off, silver)| Some((off, silver?)))
            .collect();
        if known.len() < FEWEST {
            return AcrossForm {
                width_mm: tried.widths_mm.first().copied().unwrap_or(1.0),
                height_d: 0.0,
                left: 1.0,
                bell_over_box: 1.0,
                steepness: f64::INFINITY,
            };
        }
        let ground = Ground::of(&known);
        let bell = |off: f64, width: f64| (-BELL * (off / width).powi(2)).exp();
        let boxed = |off: f64, width: f64| {
            ((0.5 * (width + tried.edge_mm) - off.abs()) / tried.edge_mm).clamp(0.0, 1.0)
        };
        let likest = ground.likest(&bell, tried);
        let of_box = ground.likest(&boxed, tried);
        let steepest = known
            .windows(3)
            .map(|three| (0.5 * (three[2].1 - three[0].1)).abs())
            .fold(0.0, f64::max);
        AcrossForm {
            width_mm: likest.width_mm,
            height_d: likest.height_d,
            left: likest.left / ground.squares.max(LEAST_LEFT),
            bell_over_box: (likest.left + LEAST_LEFT) / (of_box.left + LEAST_LEFT),
            steepness: steepest / pitch_mm * likest.width_mm / likest.height_d.max(LEAST_D),
        }
    }
}

/// Silver across a band, freed of its level and slope.
struct Ground {
    places: Vec<f64>,
    silver: Vec<f64>,
    /// Sum of its squares.
    squares: f64,
}

/// The likest of some shapes.
#[derive(Clone, Copy)]
struct Likest {
    /// Squares that it leaves.
    left: f64,
    height_d: f64,
    width_mm: f64,
    off_mm: f64,
}

impl Ground {
    fn of(known: &[(f64, f64)]) -> Ground {
        let (places, silver): (Vec<f64>, Vec<f64>) = known.iter().copied().unzip();
        let silver = freed(&places, silver);
        let squares = silver.iter().map(|silver| silver * silver).sum();
        Ground {
            places,
            silver,
            squares,
        }
    }

    fn likest(&self, shape: &dyn Fn(f64, f64) -> f64, tried: &Tried) -> Likest {
        let nothing = Likest {
            left: self.squares,
            height_d: 0.0,
            width_mm: tried.widths_mm.first().copied().unwrap_or(1.0),
            off_mm: 0.0,
        };
        let better = |best: Likest, (off_mm, width_mm): (f64, f64)| {
            let of = self.places.iter();
            let of = freed(
                &self.places,
                of.map(|at| shape(at - off_mm, width_mm)).collect(),
            );
            let own: f64 = of.iter().map(|of| of * of).sum();
            let with: f64 = of.iter().zip(&self.silver).map(|(a, b)| a * b).sum();
            let left = (self.squares - with * with / own.max(1e-12)).max(0.0);
            match with > 0.0 && left < best.left {
                true => Likest {
                    left,
                    height_d: with / own.max(1e-12),
                    width_mm,
                    off_mm,
                },
                false => best,
            }
        };
        let all = tried.widths_mm.iter();
        let all = all.flat_map(|width| tried.off_mm.iter().map(move |off| (*off, *width)));
        let best = all.fold(nothing, better);
        let near = tried.finer.iter().flat_map(|finer| {
            [-FINER_OFF_MM, 0.0, FINER_OFF_MM].map(|off| (best.off_mm + off, best.width_mm * finer))
        });
        near.fold(best, better)
    }
}

/// Between the middles that are tried first.
const FINER_OFF_MM: f64 = 0.2;

/// Values less their mean and their slope over the places.
fn freed(places: &[f64], values: Vec<f64>) -> Vec<f64> {
    let count = places.len() as f64;
    let mean = |of: &[f64]| of.iter().sum::<f64>() / count;
    let (middle, level) = (mean(places), mean(&values));
    let spread: f64 = places.iter().map(|place| (place - middle).powi(2)).sum();
    let with = places.iter().zip(&values);
    let slope = with
        .map(|(place, value)| (place - middle) * (value - level))
        .sum::<f64>()
        / spread.max(1e-12);
    let pairs = places.iter().zip(values);
    pairs
        .map(|(place, value)| value - level - slope * (place - middle))
        .collect()
}
