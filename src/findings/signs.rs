//! What a plate shows that speaks for one cause or another, by name.
//!
//! Measures, the plate's facts, the maker's handling and the maker's own words set signs; the
//! catalogue of causes weighs them. A sign that is neither seen nor ruled out is simply not there:
//! leave it out rather than guess. [`SignName::set_by`] says who sets which.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Who can set a sign.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SetBy {
    /// The room `findings`, from the numbers of a finding or of all findings together.
    Findings,
    /// The room `causes`, from what the plate and its scan are (process, kind, clipping, surround).
    Facts,
    /// The room `causes`, from the stated handling and the place of the finding.
    Handling,
    /// The maker, in words: nothing on one scan can show it.
    Maker,
}

macro_rules! signs {
    ($($(#[doc = $doc:literal])+ $variant:ident, $name:literal, $set_by:ident, $short:literal;)+) => {
        /// Name of a sign. Each says what it means when it holds and how that is decided.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
        pub enum SignName {
            $($(#[doc = $doc])+ #[serde(rename = $name)] $variant,)+
        }

        impl SignName {
            /// All signs there are.
            pub const ALL: &'static [SignName] = &[$(SignName::$variant,)+];

            /// The name used in the catalogue and in JSON.
            pub fn name(self) -> &'static str {
                match self { $(SignName::$variant => $name,)+ }
            }

            /// Who sets it.
            pub fn set_by(self) -> SetBy {
                match self { $(SignName::$variant => SetBy::$set_by,)+ }
            }

            /// What it means when it holds, for people.
            pub fn short(self) -> &'static str {
                match self { $(SignName::$variant => $short,)+ }
            }
        }
    };
}

signs! {
    /// The whole border that the holder's ledge kept dark carries fog. For `veil` (and on edge fog
    /// and leaks, about the border as a whole, away from the finding). Needs a border and a zero
    /// that is not the border itself (bare rim or stated support). Holds when the lower end of
    /// `median silver of the border - zero` is above 0.03 D and the border has at least half of
    /// `veil_d`; ruled out when the upper end is below 0.03 D, or below a quarter of `veil_d`.
    BorderFogged, "border_fogged", Findings, "the border under the holder's ledge is fogged too";
    /// The fog of this edge or tongue lies in the border under the ledge. Holds when the silver of
    /// the border beside the finding exceeds the border elsewhere by at least 0.02 D beyond its
    /// uncertainty; ruled out when the upper end of that difference is below 0.02 D while the
    /// picture area beside it is fogged. For `edge_fog` and `light_leak`.
    UnderLedge, "under_ledge", Findings, "the fog lies under the holder's ledge too";
    /// The fog reaches past the ledge into the picture. Holds when the lower end of `depth_mm`
    /// (for a tongue `length_mm`) is greater than the ledge's width on that edge; ruled out when its
    /// upper end is smaller.
    DeeperThanLedge, "deeper_than_ledge", Findings, "the fog reaches past the holder's ledge";
    /// `edge_fog` was found on three or four edges. Ruled out when it was found on one only. Of the
    /// four signs about the number of edges set the one that holds; they are one observation.
    SeveralEdges, "several_edges", Findings, "three or four edges are fogged";
    /// `edge_fog` was found on exactly one edge, and the other three could be judged.
    OneEdge, "one_edge", Findings, "one edge is fogged";
    /// `edge_fog` was found on exactly two edges that lie opposite each other.
    OppositeEdges, "opposite_edges", Findings, "two opposite edges are fogged";
    /// `edge_fog` was found on exactly two edges that share a corner.
    MeetingEdges, "meeting_edges", Findings, "two edges that share a corner are fogged";
    /// The fog runs along the whole edge. Holds when `length_mm` is at least 0.8 of the edge; ruled
    /// out below 0.5.
    WholeEdge, "whole_edge", Findings, "the fog runs along the whole edge";
    /// The fog starts at a corner: the tongue's foot, or the deepest part of the edge's fog, lies
    /// within a sixth of the shorter side of a corner. Ruled out when it lies in the middle third.
    FromCorner, "from_corner", Findings, "the fog starts at a corner";
    /// The fog is a narrow tongue. Holds when `width_mm` is at most a third of `length_mm`; ruled out
    /// when it is at least as wide as long.
    NarrowTongue, "narrow_tongue", Findings, "the fog is a narrow tongue";
    /// The veil is alike over the plate: the lower envelope of silver in 10 mm squares differs by
    /// less than a quarter of `veil_d`, at least 0.03 D. Ruled out when it differs by more than half.
    EvenOverPlate, "even_over_plate", Findings, "the veil is even over the plate";
    /// The veil is stronger toward the middle: the lower envelope of the central ninth exceeds that
    /// of the four corner ninths by at least 0.03 D. Ruled out when it does not exceed it at all.
    StrongerToMiddle, "stronger_to_middle", Findings, "the veil is stronger toward the middle";
    /// The marks of a group lie in knots: the variance of their number a square centimetre is at least
    /// three times the mean. Ruled out below one and a half times.
    Clustered, "clustered", Findings, "the marks lie in knots";
    /// The marks of a group hold more silver than their surround. Ruled out where they hold less; not set
    /// for a group of both.
    MarksHoldSilver, "marks_hold_silver", Findings, "the marks hold extra silver";

    /// The plate is an unexposed test plate, as the maker said (not when it was only judged).
    Unexposed, "unexposed", Facts, "the plate was never exposed";
    /// The plate is a positive on (japanned) metal; ruled out for glass.
    OnMetal, "on_metal", Facts, "the plate is metal";
    /// The plate is a negative, scanned by light from behind; ruled out for positives.
    Negative, "negative", Facts, "the plate is a negative";
    /// The scan cuts off blacks or whites: either clipped share is above 0.5 %; ruled out when both
    /// are below 0.01 %.
    TonesClipped, "tones_clipped", Facts, "the scan cuts off blacks or whites";
    /// The surround beside the plate is bright (linear light above 0.3: white lid, lit glass); ruled
    /// out below 0.1.
    BrightSurround, "bright_surround", Facts, "the scanner's lid or glass shines beside the plate";

    /// The fogged edge is one of the two ends of the dip (its axis runs across that edge, within 30
    /// degrees). Which end went in last is not known from an axis. Ruled out for the other edges.
    AtDipEnd, "at_dip_end", Handling, "the edge is an end of the dip";
    /// The developer was swept toward this edge or corner (within 60 degrees), so its wave ended here.
    /// Ruled out where it did not.
    AtDeveloperEnd, "at_developer_end", Handling, "the developer's sweep ended here";
    /// The developer was poured from this edge or corner. Ruled out where it was not.
    AtDeveloperStart, "at_developer_start", Handling, "the developer was poured on here";
    /// The finding touches the corner where the collodion was drained: it lies at that corner or on
    /// an edge that ends there. Ruled out elsewhere.
    AtDrainCorner, "at_drain_corner", Handling, "it touches the drain corner";
    /// The finding touches the corner opposite the drain corner and not the drain corner itself: the
    /// part that stands uppermost in the holder and dries first. Ruled out elsewhere.
    OppositeDrain, "opposite_drain", Handling, "it lies away from the drain corner";
    /// The tails point to the corner where the collodion was drained, within 30 degrees. Ruled out beyond
    /// 60 degrees.
    TailsToDrain, "tails_to_drain", Handling, "the tails point to the drain corner";
    /// The tails lie along the axis of the dip, within 30 degrees either way. Ruled out beyond 60 degrees.
    TailsAlongDip, "tails_along_dip", Handling, "the tails lie along the dip";
    /// The tails point the way the developer was swept, within 30 degrees. Ruled out beyond 60 degrees.
    TailsWithSweep, "tails_with_sweep", Handling, "the tails point the way the developer ran";

    /// Several plates of the session show the same.
    SessionAlike, "session_alike", Maker, "other plates of the session show it too";
    /// It shows only on plates that were in one and the same holder, in the same place.
    SameHolderOnly, "same_holder_only", Maker, "only plates from one holder show it";
    /// It grows from plate to plate.
    GrowsEachPlate, "grows_each_plate", Maker, "each later plate is worse";
    /// The plate is among the first from a newly made bath.
    FreshBath, "fresh_bath", Maker, "the bath is new";
    /// More than ten minutes passed between bath and developer (common practice allows 10 to 15 in
    /// all, 5 to 8 in warm dry air).
    LongWait, "long_wait", Maker, "the plate waited long between bath and developer";
    /// The room or the developer was warmer than about 24 C (from memory).
    HotRoom, "hot_room", Maker, "the room was hot";
    /// A cotton ball takes it off the dry, unvarnished film and leaves clear film beneath.
    RubsOff, "rubs_off", Maker, "it rubs off the dry film";
    /// The plate is varnished.
    Varnished, "varnished", Maker, "the plate is varnished";
    /// It changes when the plate is turned on the scanner, masked, or scanned in a dark room. Of marks a
    /// second scan shows it: holds for those that stay with the glass, ruled out for those that turn
    /// with the plate.
    ScanChanges, "scan_changes", Findings, "a second scan of the plate looks different";
}

impl SignName {
    /// Signs that no cause weighs yet: they wait for the causes of marks that the developer makes.
    pub const RESERVED: &'static [SignName] = &[SignName::AtDeveloperStart];
}

/// A sign seen (or seen to be absent) on this plate, with the plate's own numbers in words.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Sign {
    /// Which sign.
    pub name: SignName,
    /// True when seen, false when looked for and absent.
    pub holds: bool,
    /// Plain words with the plate's own numbers, to stand after "because".
    pub words: String,
}

impl Sign {
    /// A sign that was seen.
    pub fn seen(name: SignName, words: impl Into<String>) -> Self {
        Sign {
            name,
            holds: true,
            words: words.into(),
        }
    }

    /// A sign that was looked for and is absent.
    pub fn absent(name: SignName, words: impl Into<String>) -> Self {
        Sign {
            name,
            holds: false,
            words: words.into(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_unique_and_are_those_of_the_json() {
        let mut names: Vec<_> = SignName::ALL.iter().map(|sign| sign.name()).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), SignName::ALL.len());
        for sign in SignName::ALL {
            assert_eq!(
                serde_json::to_value(sign).unwrap(),
                serde_json::Value::from(sign.name())
            );
            assert!(!sign.short().ends_with('.'), "{}", sign.name());
        }
    }
}
