//! How much a head with a tail looks like a comet rather than like detail of a scene.

use crate::findings::limits::TAIL_LOOKS;
use crate::measures::Speck;

/// Likeness from which tails are looked at, from few good ones to many doubtful ones: each look may tell
/// what the others drown. Of the tails of a comet's shape that scenes show one in fifty, one in fourteen, one
/// in five and one in two are as like.
pub(super) const LEAST_LIKENESS: [f64; TAIL_LOOKS] = [-1.8, -2.45, -3.25, -4.55];

/// What a comet may look like at all, over a scene and over an even ground.
struct Shape {
    /// Longest head, long over short extent: strong tails count to it in part.
    longest: f64,
    /// Largest head, millimetres: the trade's comets are dots with tails.
    largest_mm: f64,
    /// Least and most that a tail has of its head's contrast.
    share: [f64; 2],
}

/// Nineteen of twenty planted comets are within; the ends of boards and roofs have tails as strong as
/// themselves.
const OVER_SCENE: Shape = Shape {
    longest: 2.4,
    largest_mm: 0.65,
    share: [0.1, 0.8],
};
/// Over an even ground there are no edges to be mistaken.
const OVER_EVEN: Shape = Shape {
    longest: 6.0,
    largest_mm: 0.9,
    share: [0.1, 0.9],
};

/// Length in millimetres, and standard deviations that it stands out by, beyond which a tail on an even plate
/// is no less like a comet's: half of the planted ones are beyond neither. Our own choice.
const TELLING: [f64; 2] = [6.3, 50.0];

/// Logarithm of the odds that a mark is a comet among the tails that practice scenes show; `None` without a
/// tail, or where the shape is no comet's. What speaks for one: a short tail of half its head's contrast on
/// a round head that stands out by itself. Strong and long tails are mostly a scene's edges, so that on an even
/// plate they speak against a comet only up to [`TELLING`]. Logistic regression on 500 planted comets and
/// 14,000 tails of scenes (development seeds 700000 to 700425); of five parts of the plates each was told
/// by the other four.
pub(super) fn likeness(speck: &Speck, even_plate: bool) -> Option<f64> {
    let tail = speck.tail.as_ref()?;
    let shape = if even_plate { OVER_EVEN } else { OVER_SCENE };
    let share = tail.mean_d / speck.contrast_d.abs().max(1e-6);
    let [least, most] = shape.share;
    let fits = speck.elongation <= shape.longest
        && speck.size_mm <= shape.largest_mm
        && (least..=most).contains(&share);
    let (share, size) = (share.max(1e-6).ln(), speck.size_mm.ln());
    let alone = speck.expected_false_alarms.max(1e-12).log10();
    let [longest, strongest] = match even_plate {
        true => TELLING,
        false => [f64::INFINITY; 2],
    };
    fits.then(|| {
        1.38 - 2.40 * share
            - 1.98 * share * share
            - 1.15 * tail.plain_mm.min(longest).ln()
            - 1.21 * tail.stands_out.clamp(1.0, strongest).ln()
            - 0.445 * speck.elongation
            - 0.355 * size
            - 0.43 * size * size
            - 0.225 * alone
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measures::specks::{Nature, Tail};

    fn comet(share: f64, plain_mm: f64, stands_out: f64) -> Speck {
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
                length_mm: plain_mm,
                mean_d: 0.3 * share,
                stands_out,
            }),
            rays: Vec::new(),
            nature: Nature::OfPlate,
        }
    }

    #[test]
    fn a_head_with_a_fainter_tail_is_like_a_comet_and_the_end_of_a_board_is_not() {
        let like = |speck: &Speck| likeness(speck, false);
        assert!(like(&comet(0.4, 1.6, 20.0)).unwrap() > LEAST_LIKENESS[0]);
        assert_eq!(like(&comet(0.95, 1.0, 100.0)), None);
        let without = Speck {
            tail: None,
            ..comet(0.4, 1.6, 20.0)
        };
        assert_eq!(like(&without), None);
    }

    #[test]
    fn a_plain_comet_on_an_even_plate_is_like_one() {
        let plain = comet(0.5, 16.0, 133.0);
        assert!(likeness(&plain, true).unwrap() > LEAST_LIKENESS[3]);
        assert!(likeness(&plain, true) > likeness(&plain, false));
    }
}
