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
    /// The fog (or the bare strip) runs along the whole edge. Holds when its length along the edge is at
    /// least 0.8 of the edge; ruled out below 0.5.
    WholeEdge, "whole_edge", Findings, "it runs along the whole edge";
    /// It starts at a corner: the tongue's foot, the deepest part of the edge's fog, the place where a
    /// stain or a bare place meets the edge, or the point where streaks begin, lies within a sixth of the
    /// shorter side of a corner. Ruled out when it lies in the middle third of an edge, or meets no edge.
    FromCorner, "from_corner", Findings, "it starts at a corner";
    /// The fog is a narrow tongue. Holds when `width_mm` is at most a third of `length_mm`; ruled out
    /// when it is at least as wide as long.
    NarrowTongue, "narrow_tongue", Findings, "the fog is a narrow tongue";
    /// The veil is alike over the plate: the lower envelope of silver in 10 mm squares differs by
    /// less than a quarter of `veil_d`, at least 0.03 D. Ruled out when it differs by more than half.
    EvenOverPlate, "even_over_plate", Findings, "the veil is even over the plate";
    /// It is stronger toward the middle: the lower envelope (for `uneven_pour` the smooth surface) of the
    /// central ninth exceeds the mean of the four corner ninths by at least 0.03 D, for `uneven_pour` each
    /// of the four by at least 0.02 D. Ruled out when it does not exceed it at all, or any of the four.
    StrongerToMiddle, "stronger_to_middle", Findings, "it is stronger toward the middle";
    /// The marks of a group lie in knots: the variance of their number a square centimetre is at least
    /// three times the mean. Ruled out below one and a half times.
    Clustered, "clustered", Findings, "the marks lie in knots";
    /// The marks of a group, the streaks, the stain or the scratch hold more silver than their surround
    /// (polarity `more_silver`). Ruled out where they hold less; not set for a group of both.
    MarksHoldSilver, "marks_hold_silver", Findings, "the marks hold extra silver";

    /// The lines are fine. Holds when the upper end of `width_mm` (median full width at half height) is
    /// below 1 mm; ruled out (broad bands) when its lower end is above 1 mm. Not set without a scale. For
    /// `streaks` and `scratch`.
    FineLines, "fine_lines", Findings, "the lines are narrower than 1 mm";
    /// The lines bend. Bow: greatest distance of a line's centre from the chord between its ends, over
    /// the chord's length. Holds when at least half of the lines have a bow above 0.02 beyond its
    /// uncertainty; ruled out when nine in ten have one below 0.01. Lines shorter than 10 mm do not count.
    /// For `streaks`, `dip_line`, `ridges` and `scratch`.
    Bent, "bent", Findings, "the lines bend";
    /// The streaks all start at one edge, which is the finding's `place`: at least four in five of them
    /// end within 9 mm of that edge (a stretch of the measure is 8 mm), and at most one in five reaches the
    /// edge opposite.
    /// Ruled out when no edge has half of them, or half of them reach both. For `streaks`.
    FromOneEdge, "from_one_edge", Findings, "the streaks start at one edge";
    /// The streaks run right across: at least four in five of them reach within 9 mm of both edges that they
    /// run between. Ruled out when fewer than one in five does. For `streaks`.
    RightAcross, "right_across", Findings, "the streaks run right across the plate";
    /// It goes on in the dark border under the ledge. Excess `b` of the border where the line, band, waves
    /// or stain meets it, over the border beside. Holds when the lower end of `b`, with the polarity of
    /// the finding, is above 0.01 D; ruled out when its upper end is below a third of `contrast_d` and the
    /// border could be judged to 0.01 D. For `streaks`, `dip_line`, `ridges`, `stain` and `scratch`.
    InBorder, "in_border", Findings, "it goes on in the border under the ledge";
    /// It lies exactly along the scan's own rows or columns: its axis differs from them by less than 0.3
    /// degrees (for `uneven_pour` the direction of its rise by less than 5 degrees). Holds only when that can
    /// be told from the plate's own sides, which must lie at least twice as far off the scan's axes. Ruled
    /// out when it is more than 0.6 (for `uneven_pour` 15) degrees off both. For `streaks`, `dip_line`,
    /// `ridges`, `uneven_pour` and `scratch`.
    AlongScanAxis, "along_scan_axis", Findings, "it lies exactly along the scan's own axes";
    /// It runs on over the lid beside the plate. Excess of the surround, at least 2 mm outside the plate,
    /// on the continued line (for `uneven_pour` the slope of the surround in the direction of the rise).
    /// Holds when the excess has the finding's sign in the scan's light and is at least four of its own
    /// standard deviations; ruled out when its upper end (95 %) is below a third of the finding's own. Not
    /// set where the surround is clipped or narrower than 3 mm. For `streaks`, `dip_line`, `uneven_pour`
    /// and `scratch`.
    OverLid, "over_lid", Findings, "it runs on over the lid beside the plate";
    /// The lines are evenly spaced. Of four or more lines: standard deviation of the gaps between
    /// neighbours over their mean below 0.25; ruled out above 0.6 (lines strewn at random give about 1).
    /// For `streaks`, `ridges` and `scratch`.
    SpacedEvenly, "spaced_evenly", Findings, "the lines are evenly spaced";
    /// Silver differs on the two sides of the line: mean of the bands from 2 to 7 mm on either side.
    /// Holds when the lower end of the difference is above 0.02 D; ruled out when its upper end is below
    /// 0.01 D. For `dip_line`.
    SidesDiffer, "sides_differ", Findings, "silver differs on the two sides of the line";
    /// The line is sharp. Holds when the upper end of the distance over which it rises from a tenth to
    /// nine tenths is below 1 mm; ruled out when its lower end is above 2 mm. For `dip_line`.
    SharpLine, "sharp_line", Findings, "the line is sharp";
    /// The waves fade from the finding's `place` inward: their height in the third of the plate next to it
    /// is at least twice that in the third farthest off. Ruled out when the two differ by less than a
    /// quarter. For `ridges`.
    FadesInward, "fades_inward", Findings, "the waves fade from an edge or a corner inward";
    /// There is one step only, 20 mm or longer. For `ridges` and `uneven_pour`. Ruled out when there are
    /// four waves or more (`ridges`), or when no place of the smooth surface rises by half its range within
    /// 5 mm (`uneven_pour`).
    OneStep, "one_step", Findings, "there is one step only";
    /// The waves form a net: the second axis, 45 degrees or more from the first, holds at least half its
    /// strength (standard deviation of the band-passed map averaged along the axis). Ruled out when it
    /// holds less than a quarter. For `ridges`.
    NetOfLines, "net_of_lines", Findings, "the lines form a net";
    /// The coating is thickest at one corner, which is the finding's `place`: the smooth surface of silver
    /// there exceeds each other corner and the middle by 0.02 D beyond its uncertainty. Ruled out when its
    /// highest place is not in a corner ninth. For `uneven_pour`.
    ThickCorner, "thick_corner", Findings, "one corner holds most silver";
    /// The surface rises one way only: its fall along `direction_deg` is at least three times that across
    /// it. Ruled out below one and a half times. For `uneven_pour`.
    OneSided, "one_sided", Findings, "silver rises one way across the plate";
    /// The outline (for a scratch one of its ends) lies within 1 mm of the plate's edge. Ruled out when it
    /// stays 3 mm or more inside: an island. For `bare_area`, `stain` and `scratch`.
    ReachesEdge, "reaches_edge", Findings, "it reaches the plate's edge";
    /// A lip of more silver runs along it: mean of the 1 mm outside the outline above that from 3 to 5 mm
    /// outside. Holds when the lower end of the difference is above 0.03 D along at least half of the
    /// outline; ruled out when its upper end is below 0.01 D. For `bare_area`.
    Lip, "lip", Findings, "a lip of more silver runs along it";
    /// The outline is ragged: its length followed in steps of 0.5 mm is at least 1.2 times that in steps of
    /// 5 mm. Ruled out below 1.05 times. For `bare_area`.
    RaggedOutline, "ragged_outline", Findings, "its outline is ragged";
    /// Curved lines lie one within another: three or more edges of alternate sign, 1 mm or more apart, are
    /// met along most rays from the finding's foot (for an island, from its middle). Ruled out when most
    /// rays meet one edge only. For `stain`.
    NestedCurves, "nested_curves", Findings, "curved lines lie one within another";
    /// `stain` was found at three or four corners. Ruled out when it was found at one only and the others
    /// could be judged.
    SeveralCorners, "several_corners", Findings, "three or four corners are stained";
    /// It is coloured: in a scan in colour its mean CIELAB a* or b* differs from the ring of 5 mm around it
    /// by more than 4 beyond the spread of the ring. Ruled out when both differ by less than 2. Not set for
    /// grey scans. For `stain`.
    Coloured, "coloured", Findings, "it is coloured";
    /// Three or more scratches lie within 5 degrees of one axis, and closer together than a third of the
    /// plate's shorter side. Ruled out when there is one only. For `scratch`.
    SeveralParallel, "several_parallel", Findings, "several lie side by side";

    /// The blacks of the picture hold more silver than the unexposed border. Holds when the lower end of the
    /// difference is above 0.15 D; ruled out when its upper end is below 0.10 D. For `flat_image`.
    BlacksVeiled, "blacks_veiled", Findings, "the blacks hold more silver than the border";
    /// The lights hold little silver above the unexposed border: upper end of the difference below 0.70 D on a
    /// positive, 1.05 D on a negative. Ruled out when its lower end is above 1.05 and 1.65 D. For `flat_image`.
    LightsWeak, "lights_weak", Findings, "the lights hold little silver";
    /// On a positive: the patches are yellower than the plate's own tint (b* above it). Ruled out when they
    /// are bluer. For `underfixed`.
    CastYellow, "cast_yellow", Findings, "it is yellower than the plate";

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
    /// `axis_deg` lies along the axis of the dip, within 30 degrees. Ruled out (they lie across it) beyond
    /// 60 degrees. For `streaks`, `ridges` and `scratch`.
    AlongDip, "along_dip", Handling, "the lines lie along the dip";
    /// `axis_deg` lies across the axis of the dip, within 30 degrees of the face of the bath. Ruled out
    /// beyond 60 degrees. For `dip_line`.
    AcrossDip, "across_dip", Handling, "the line lies across the dip";
    /// `axis_deg` lies along the developer's sweep, within 30 degrees. Ruled out beyond 60 degrees. For
    /// `streaks`, `ridges` and `scratch`.
    AlongSweep, "along_sweep", Handling, "the lines lie along the developer's sweep";
    /// `axis_deg` lies across the developer's sweep, within 30 degrees of the front of its wave. Ruled out
    /// beyond 60 degrees. For `dip_line`.
    AcrossSweep, "across_sweep", Handling, "the line lies across the developer's sweep";
    /// `axis_deg` points to the drain corner, within 30 degrees. Ruled out beyond 60 degrees (they lie
    /// across it). For `streaks` and `ridges`.
    AlongDrain, "along_drain", Handling, "the lines point to the drain corner";
    /// The waves lie across the drain corner, or parallel to an edge that ends there: `axis_deg` lies within
    /// 30 degrees of the line across it, or within 15 degrees of that edge where the edge is the finding's
    /// `place`; not where they also point to the corner within 30 degrees. Ruled out where they do point
    /// to it and not along such an edge. For `ridges`.
    AcrossDrain, "across_drain", Handling, "the waves lie across the drain corner or along the drained edge";
    /// The finding's `place` touches the edge or corner where the collodion was poured on. Ruled out
    /// elsewhere; not set where it was poured on in the middle. For `bare_area` and `uneven_pour`.
    AtPourStart, "at_pour_start", Handling, "the collodion was poured on here";
    /// The hand can have held the plate at this corner: collodion was neither poured on nor drained there.
    /// Holds when both are stated; ruled out at either of them. For `bare_area` at a corner.
    HeldCorner, "held_corner", Handling, "the hand can have held this corner";
    /// The finding's `place` touches the edge or corner that stood lowest in the holder: the same place, a
    /// corner of that edge, or an edge that ends at that corner. Ruled out elsewhere. For `stain` and
    /// `bare_area`.
    LowestInHolder, "lowest_in_holder", Handling, "it stood lowest in the holder";
    /// The finding's `place` touches the edge opposite the one that went into the bath first: it went in
    /// last, held by the hand or the dipper's hook. Ruled out elsewhere. Not set from an axis alone. For
    /// `bare_area` and `stain`.
    WentInLast, "went_in_last", Handling, "it went into the bath last";

    /// More than half of the plates from one bath (of one collodion where no bath is told), of three or more
    /// that could show it, have the same fault at the same place. Ruled out where none of two or more others
    /// has it.
    SessionAlike, "session_alike", Maker, "other plates of the session show it too";
    /// It shows on two or more plates of one holder and on none of two or more of other holders, in the same
    /// place. Ruled out where plates of other holders show it.
    SameHolderOnly, "same_holder_only", Maker, "only plates from one holder show it";
    /// On four or more plates from one bath, in the order of the sheet, each is worse than the one before.
    /// Ruled out where the last is no worse than the first.
    GrowsEachPlate, "grows_each_plate", Maker, "each later plate is worse";
    /// The plate is among the first from a newly made bath.
    FreshBath, "fresh_bath", Maker, "the bath is new";
    /// More than ten minutes passed between bath and developer (common practice allows 10 to 15 in
    /// all, 5 to 8 in warm dry air). Ruled out at five minutes or less.
    LongWait, "long_wait", Maker, "the plate waited long between bath and developer";
    /// The room or the developer was warmer than about 24 C (from memory). Ruled out where the room was at
    /// 22 C or below, and the developer too if it is told.
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
    /// Signs that no cause weighs yet.
    pub const RESERVED: &'static [SignName] = &[];
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
    /// For a sign of direction: how close the marks lie to the way it names, from 1 along it to 0 far off.
    /// Absent where a sign holds or does not, with nothing between.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub closeness: Option<f64>,
}

impl Sign {
    /// A sign that holds or not.
    pub fn new(name: SignName, holds: bool, words: impl Into<String>) -> Self {
        Sign {
            name,
            holds,
            words: words.into(),
            closeness: None,
        }
    }

    /// A sign that was seen.
    pub fn seen(name: SignName, words: impl Into<String>) -> Self {
        Sign::new(name, true, words)
    }

    /// A sign that was looked for and is absent.
    pub fn absent(name: SignName, words: impl Into<String>) -> Self {
        Sign::new(name, false, words)
    }

    /// The same sign with how close the marks lie to the way it names, 0 to 1.
    pub fn lying(self, closeness: f64) -> Self {
        Sign {
            closeness: Some(closeness),
            ..self
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
