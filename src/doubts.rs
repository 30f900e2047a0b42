//! Every named reason not to trust a number.
//!
//! Comes in: nothing. Goes out: a name for JSON, a short and a long text for people.
//! A doubt hangs beside the number it belongs to and is explained once a report.
//! Not here: errors (they stop a plate; a doubt does not).

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

macro_rules! doubts {
    ($($(#[$meta:meta])* $variant:ident, $name:literal, $short:literal, $long:literal;)+) => {
        /// One reason not to trust a number as it stands.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
        pub enum Doubt {
            $($(#[$meta])* #[doc = $long] #[serde(rename = $name)] $variant,)+
        }

        impl Doubt {
            /// All doubts there are, in the order of the way.
            pub const ALL: &'static [Doubt] = &[$(Doubt::$variant,)+];

            /// The name used in JSON.
            pub fn name(self) -> &'static str {
                match self { $(Doubt::$variant => $name,)+ }
            }

            /// A few words to stand beside a number.
            pub fn short(self) -> &'static str {
                match self { $(Doubt::$variant => $short,)+ }
            }

            /// What it means and what would settle it.
            pub fn long(self) -> &'static str {
                match self { $(Doubt::$variant => $long,)+ }
            }
        }
    };
}

doubts! {
    EncodingAssumed, "encoding_assumed", "tone curve assumed",
        "The file carries no colour profile, so its tone curve was assumed (sRGB unless told otherwise). Scan with an embedded profile, or say the encoding with --encoding.";
    ProfileUnreadable, "profile_unreadable", "profile not used",
        "The file's colour profile could not be used, so the tone curve was assumed. Scan again with a plain profile, or say the encoding with --encoding.";
    EightBitSteps, "eight_bit_steps", "coarse steps in the dark",
        "The file has 8 bits a channel: in the darkest parts one step of the file is more than 0.02 D. Scan with 16 bits.";
    ClippedDark, "clipped_dark", "blacks cut off",
        "Part of the picture lies at the lowest value the file can hold, so the true density is at least the one stated. Scan without automatic levels.";
    ClippedLight, "clipped_light", "whites cut off",
        "Part of the picture lies at the highest value the file can hold, so the true density is at most the one stated. Scan without automatic levels.";
    ScaleUnknown, "scale_unknown", "no scale",
        "The file states no believable resolution and no plate size was given, so lengths in millimetres are left out. Give --plate-size.";
    ScaleFromSizeName, "scale_from_size_name", "scale from the plate size",
        "The scale comes from the plate size that was given or recognised, not from the file; old and hand-cut plates differ from the nominal size by up to 2 mm.";
    ScaleDisagrees, "scale_disagrees", "two scales disagree",
        "The file's resolution and the plate size lead to different scales; the report says which one was taken. Measure one side of the plate with a ruler and give --plate-size.";
    ScaleUnitMistaken, "scale_unit_mistaken", "unit of the resolution mistaken",
        "The file states its resolution per centimetre, but the number is a usual one per inch and only that fits the plate; it was read as per inch.";
    PlateNotFound, "plate_not_found", "outline not found",
        "No outline of a plate could be told from its surround, so the whole picture was taken as the plate. Leave some lid visible around the plate, or give --corners.";
    CroppedInside, "cropped_inside", "cropped to or inside the edge",
        "The scan ends at or inside the plate's edge, so the outermost strip of the plate, where many faults begin, could not be looked at. Leave a finger's breadth of lid around the plate.";
    OutlineUncertain, "outline_uncertain", "outline uncertain",
        "One side of the plate hardly differs from its surround, so its position is uncertain. Scan on a lid of the other tone, or give --corners.";
    ProcessJudged, "process_judged", "process judged from the scan",
        "Nobody said whether this is a positive on metal, a positive on glass or a negative; it was judged from the scan. Give --process.";
    KindJudged, "kind_judged", "kind judged from the scan",
        "Nobody said whether this is a picture or a test plate; it was judged from the scan. Give --kind.";
    Uncalibrated, "uncalibrated", "scanner not calibrated",
        "The scanner has not been measured with a step tablet: densities are those the scanner believes in. Differences between plates on one scanner are better than the figures themselves.";
    FlareUnknown, "flare_unknown", "flare unknown",
        "Stray light in the scanner lifts the blacks by an unknown amount, so dark densities read low, more so beside a white lid. A step tablet would show how much.";
    GlossySupport, "glossy_support", "glossy support",
        "Japanned metal and varnished glass mirror the scanner's lamp a little; the darkest parts may read too light.";
    ZeroFromRim, "zero_from_rim", "zero from a bare rim",
        "The silver scale's zero is the density of a narrow uncoated rim or corner of this plate; scanner blur may mix it with its neighbours.";
    ZeroStated, "zero_stated", "zero from a stated support",
        "The silver scale's zero is the support density that was given, not measured on this plate.";
    ZeroFromBorder, "zero_from_border", "zero from the border",
        "The silver scale's zero is the border that the holder kept from the light: fog that covers the border too would not show as silver.";
    ZeroFromEnvelope, "zero_from_envelope", "zero from the least silver",
        "The silver scale's zero is the place with the least silver on this plate: fog over the whole plate would not show as silver.";
    SceneMayDoIt, "scene_may_do_it", "the scene may look like this",
        "What the camera saw may have the same shape (a bright sky at the edge, a light window, posts in a row, a deep shadow); a test plate without a scene would tell.";
    LostInScene, "lost_in_scene", "may run further",
        "The scene hides where this ends: it was followed as far as it could be told from what the camera saw, and may be several times as long. A test plate without a scene would show its length.";
    BorderTooNarrow, "border_too_narrow", "little border to judge from",
        "The border that the holder kept dark is narrow here, so the profile from the edge rests on few points.";
    LedgeHidden, "ledge_hidden", "the ledge's step is hidden here",
        "Nothing shows where the holder's ledge ends on this edge; a strip as narrow as the other edges allow was taken for border.";
    OneScan, "one_scan", "one scan",
        "A single scan cannot tell the plate from the scanner's own glow and dust; a second scan with the plate turned half round would.";
    AlcoholReadsLow, "alcohol_reads_low", "alcohol makes it read low",
        "A used bath holds alcohol and ether from the plates, which are lighter than water: each per cent of alcohol by volume hides about 0.15 per cent of silver nitrate (from memory). A titration tells the true strength.";
    OtherSaltsReadHigh, "other_salts_read_high", "other salts make it read high",
        "Nitrates left in the bath by the collodion's iodides and bromides are counted as silver nitrate by a hydrometer. A titration tells the true strength.";
    ReadingErrorAssumed, "reading_error_assumed", "reading error assumed",
        "Nobody said how closely the hydrometer was read; 0.001 was assumed. Say it with --density-u.";
    TemperatureByModel, "temperature_by_model", "temperature allowed for by a model",
        "The table is for 20 C; away from it the water in the bath was taken to expand as water does. Measure at 20 C for a better figure.";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_unique_and_texts_are_sentences() {
        let mut names: Vec<_> = Doubt::ALL.iter().map(|d| d.name()).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), Doubt::ALL.len());
        for doubt in Doubt::ALL {
            assert!(doubt.long().ends_with('.'), "{}", doubt.name());
            assert!(!doubt.short().ends_with('.'), "{}", doubt.name());
        }
    }

    #[test]
    fn json_uses_the_name() {
        for doubt in Doubt::ALL {
            assert_eq!(
                serde_json::to_value(doubt).unwrap(),
                serde_json::Value::from(doubt.name())
            );
        }
    }
}
