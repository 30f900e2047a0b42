//! How much likelier a head with a tail is a comet than detail of a scene.

use crate::measures::{Speck, specks::Tail};
use crate::raster::geometry::distance;

/// How far off other marks count as near a head, millimetres: a busy part of a scene is some centimetres wide. Our
/// own choice.
const NEAR_MM: f64 = 8.0;

/// A head with a tail, and how many marks lie near it, itself among them.
struct Seen<'a> {
    speck: &'a Speck,
    tail: &'a Tail,
    near: usize,
}

/// A figure of a head with a tail, and what it says at some of its values: natural logarithms, read along straight
/// lines between them and as at the ends beyond them.
struct Says {
    of: fn(&Seen) -> f64,
    at: &'static [[f64; 2]],
}

/// What each figure says beside [`ANY_TAIL`]. A comet has a tail of a fifth to two thirds of its head's contrast,
/// which can be followed beyond where it is plain and is a good bit wider than one direction, on a round, soft head
/// of a quarter to half a millimetre that stands out by itself and has few other marks near it; the ends of boards
/// and roofs are as strong as themselves, stop short or branch.
///
/// Additive logistic regression on 1,330 tails of planted comets and 31,710 tails of scenes (the plates for marks of
/// development seeds 700000 and 710000).
const FIGURES: [Says; 10] = [
    // Share of the head's contrast that the tail has, logarithm.
    Says {
        of: |Seen { speck, tail, .. }| {
            (tail.mean_d / speck.contrast_d.abs().max(1e-6))
                .max(1e-6)
                .ln()
        },
        at: &[
            [-2.2, 0.0],
            [-1.6, 2.15],
            [-1.1, 2.3],
            [-0.7, 1.9],
            [-0.4, 0.9],
            [-0.1, -2.6],
        ],
    },
    // Length over which it is plain, millimetres, logarithm.
    Says {
        of: |Seen { tail, .. }| tail.plain_mm.ln(),
        at: &[[0.0, 0.0], [0.5, -0.3], [1.6, -0.4], [2.8, -1.5]],
    },
    // How many times as far it can be followed.
    Says {
        of: |Seen { tail, .. }| tail.length_mm / tail.plain_mm,
        at: &[
            [1.0, 0.0],
            [1.3, 1.35],
            [1.8, 2.1],
            [2.5, 2.6],
            [4.0, 3.05],
            [8.0, 2.25],
        ],
    },
    // How far another direction stands out beside it, as a share, logarithm.
    Says {
        of: |Seen { tail, .. }| ((tail.rival + 1.0) / tail.stands_out.max(1.0)).ln(),
        at: &[
            [-4.0, 0.0],
            [-2.5, 0.65],
            [-1.5, 0.15],
            [-0.7, -0.55],
            [0.0, -1.7],
        ],
    },
    // Over how many degrees it stands out.
    Says {
        of: |Seen { tail, .. }| tail.breadth_deg,
        at: &[[5.0, 0.0], [10.0, 0.85], [15.0, 1.75]],
    },
    // Longest over shortest extent of the head.
    Says {
        of: |Seen { speck, .. }| speck.elongation,
        at: &[
            [1.2, 0.0],
            [1.5, 0.2],
            [1.9, -0.1],
            [2.5, -0.95],
            [4.0, -2.0],
        ],
    },
    // Its size, millimetres, logarithm.
    Says {
        of: |Seen { speck, .. }| speck.size_mm.max(0.01).ln(),
        at: &[
            [-2.3, 0.0],
            [-1.9, 0.55],
            [-1.5, 0.3],
            [-1.0, 1.5],
            [-0.5, 1.0],
            [0.0, -0.15],
            [0.6, -1.5],
        ],
    },
    // Heads so strong expected by chance, common logarithm.
    Says {
        of: |Seen { speck, .. }| speck.expected_false_alarms.max(1e-12).log10(),
        at: &[
            [-12.0, 0.0],
            [-9.0, -0.35],
            [-6.0, -0.4],
            [-3.0, -0.85],
            [-1.5, -1.2],
            [0.0, -1.55],
            [0.5, -2.35],
        ],
    },
    // Steepest step at its outline over its own size, logarithm.
    Says {
        of: |Seen { speck, .. }| (speck.steepness * speck.size_mm).max(0.01).ln(),
        at: &[
            [0.6, 0.0],
            [0.9, 0.6],
            [1.2, 0.4],
            [1.6, -0.6],
            [2.0, -1.45],
        ],
    },
    // Marks near it, logarithm.
    Says {
        of: |Seen { near, .. }| (*near as f64).max(1.0).ln(),
        at: &[
            [1.0, 0.0],
            [1.6, -1.15],
            [2.2, -1.8],
            [2.8, -2.3],
            [3.4, -2.85],
        ],
    },
];

/// What having a tail says where every figure is at the first of its values.
const ANY_TAIL: f64 = -1.55;

/// Natural logarithm of how much likelier a mark with such a tail, among such others, is a comet than detail of a
/// scene; `None` without a tail. What dust and grain show on an even plate is as unlike comets, so that it serves
/// there too.
pub(super) fn likeness(speck: &Speck, among: &[Speck]) -> Option<f64> {
    let near = among
        .iter()
        .filter(|other| distance(speck.centre_mm, other.centre_mm) < NEAR_MM);
    let seen = Seen {
        speck,
        tail: speck.tail.as_ref()?,
        near: near.count(),
    };
    let says = FIGURES
        .iter()
        .map(|figure| along_lines(figure.at, (figure.of)(&seen)));
    Some(ANY_TAIL + says.sum::<f64>())
}

/// The value at `x` of straight lines through points of rising x, and at its ends beyond them.
fn along_lines(points: &[[f64; 2]], x: f64) -> f64 {
    let after = points.partition_point(|point| point[0] <= x);
    let (Some(before), next) = (after.checked_sub(1).map(|k| points[k]), points.get(after)) else {
        return points.first().map_or(0.0, |point| point[1]);
    };
    next.map_or(before[1], |next| {
        before[1] + (next[1] - before[1]) * (x - before[0]) / (next[0] - before[0])
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measures::specks::Nature;

    fn comet(share: f64, plain_mm: f64, length_mm: f64) -> Speck {
        Speck {
            centre_mm: [20.0, 20.0],
            size_mm: 0.3,
            size_cells: 7.0,
            contrast_d: 0.3,
            elongation: 1.3,
            steepness: 8.0,
            light: 0.2,
            expected_false_alarms: 1e-10,
            tail: Some(Tail {
                direction_deg: 40.0,
                plain_mm,
                length_mm,
                mean_d: 0.3 * share,
                stands_out: 20.0,
                rival: 0.0,
                breadth_deg: 15.0,
            }),
            rays: Vec::new(),
            nature: Nature::OfPlate,
        }
    }

    #[test]
    fn a_head_with_a_fading_tail_is_like_a_comet_and_the_end_of_a_board_is_not() {
        let like = |speck: &Speck| likeness(speck, std::slice::from_ref(speck));
        assert!(like(&comet(0.4, 1.6, 4.0)).unwrap() > 2.0);
        assert!(like(&comet(0.95, 1.0, 1.0)).unwrap() < 0.0);
        // A plain one of an even plate.
        assert!(like(&comet(0.5, 16.0, 27.0)).unwrap() > 0.0);
        let without = Speck {
            tail: None,
            ..comet(0.4, 1.6, 4.0)
        };
        assert_eq!(like(&without), None);
    }

    #[test]
    fn figures_are_read_between_and_beyond_their_values() {
        let points = [[1.0, 10.0], [2.0, 20.0], [4.0, 0.0]];
        let read = [0.0, 1.0, 1.5, 2.0, 3.0, 4.0, 9.0].map(|x| along_lines(&points, x));
        assert_eq!(read, [10.0, 10.0, 15.0, 20.0, 10.0, 0.0, 0.0]);
    }
}
