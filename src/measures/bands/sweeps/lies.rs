//! The ways that bands may lie: their tilts and bends, and the parts of the way that they may cover.

// Our own choice; the table of shapes would notice a change.

/// Tilts looked at, degrees to either side, and their step.
const MOST_TILT_DEG: f64 = 8.0;
/// See [`MOST_TILT_DEG`].
pub(super) const TILT_STEP_DEG: f64 = 1.0;
/// Bends looked at: how far the ends lie off the straight line at most, and their step, millimetres.
const MOST_SAGITTA_MM: f64 = 6.0;
/// See [`MOST_SAGITTA_MM`].
pub(super) const SAGITTA_STEP_MM: f64 = 2.0;
/// Shares of the way that a band may cover, from an edge or from so far inside.
const LENGTHS: [f64; 4] = [0.5, 0.65, 0.8, 1.0];
/// See [`LENGTHS`].
const INSIDE: f64 = 0.12;
/// Lies nearer to each other than this are alike, degrees and millimetres.
const APART_DEG: f64 = 1.5;
/// See [`APART_DEG`].
const APART_SAGITTA_MM: f64 = 2.5;

/// How bands lie: their tilt and bend.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lie {
    pub(super) tilt_deg: f64,
    pub(super) sagitta_mm: f64,
}

impl Lie {
    pub(super) fn all() -> impl Iterator<Item = Lie> {
        let steps = |most: f64, step: f64| {
            let count = (most / step).round() as i32;
            (-count..=count).map(move |k| f64::from(k) * step)
        };
        steps(MOST_TILT_DEG, TILT_STEP_DEG).flat_map(move |tilt_deg| {
            let of_tilt = move |sagitta_mm| Lie {
                tilt_deg,
                sagitta_mm,
            };
            steps(MOST_SAGITTA_MM, SAGITTA_STEP_MM).map(of_tilt)
        })
    }

    pub(super) fn is_like(self, other: Lie) -> bool {
        (self.tilt_deg - other.tilt_deg).abs() < APART_DEG
            && (self.sagitta_mm - other.sagitta_mm).abs() < APART_SAGITTA_MM
    }
}

/// Parts of a way of so many stretches: from either edge on, or from somewhat inside it.
pub(super) fn ranges(count: usize) -> Vec<(usize, usize)> {
    let inside = (INSIDE * count as f64).round() as usize;
    let mut ranges: Vec<(usize, usize)> = LENGTHS
        .iter()
        .map(|share| (share * count as f64).round() as usize)
        .flat_map(|long| [0, inside].map(|from| (from, from + long)))
        .filter(|(_, to)| *to <= count)
        .flat_map(|(from, to)| [(from, to), (count - to, count - from)])
        .collect();
    ranges.sort_unstable();
    ranges.dedup();
    ranges
}
