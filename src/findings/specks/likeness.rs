//! How much a head with a tail looks like a comet rather than like detail of a scene.

use crate::measures::Speck;

/// Likeness from which tails are looked at, from few good ones to many doubtful ones: each look may tell
/// what the others drown. Of the tails of a comet's shape that scenes show one in fifty, one in fourteen, one
/// in five and one in two are as like.
pub(super) const LOOKS: [f64; 4] = [-1.8, -2.45, -3.25, -4.55];

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

/// Logarithm of the odds that a mark is a comet among the tails that practice scenes show; `None` without a
/// tail, or where the shape is no comet's. What speaks for one: a tail of a third to half of its head's
/// contrast on a round head that stands out by itself. Logistic regression on 500 planted comets and
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
    fits.then(|| {
        1.38 - 2.40 * share
            - 1.98 * share * share
            - 1.15 * tail.length_mm.ln()
            - 1.21 * tail.stands_out.max(1.0).ln()
            - 0.445 * speck.elongation
            - 0.355 * size
            - 0.43 * size * size
            - 0.225 * alone
    })
}
