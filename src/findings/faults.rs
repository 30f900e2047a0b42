//! The trade's names for the faults, in one list.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

macro_rules! faults {
    ($($variant:ident, $name:literal, $short:literal, $long:literal;)+) => {
        /// A fault by the trade's name.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
        pub enum Fault {
            $(#[doc = $long] #[serde(rename = $name)] $variant,)+
        }

        impl Fault {
            /// All faults a report can name.
            pub const ALL: &'static [Fault] = &[$(Fault::$variant,)+];

            /// The name used in JSON.
            pub fn name(self) -> &'static str {
                match self { $(Fault::$variant => $name,)+ }
            }

            /// The name for people.
            pub fn short(self) -> &'static str {
                match self { $(Fault::$variant => $short,)+ }
            }

            /// What it looks like, in a sentence.
            pub fn long(self) -> &'static str {
                match self { $(Fault::$variant => $long,)+ }
            }
        }
    };
}

faults! {
    Veil, "veil", "Veil", "Fog over the whole plate: the blacks are grey and nothing is quite clear.";
    EdgeFog, "edge_fog", "Edge fog", "A band of extra silver along an edge that fades inward.";
    LightLeak, "light_leak", "Light leak", "A tongue of fog that enters from an edge or a corner.";
    Streaks, "streaks", "Streaks", "Soft parallel bands.";
    DipLine, "dip_line", "Dip line", "One line straight across the plate.";
    Comets, "comets", "Comets", "Specks with tails.";
    Pinholes, "pinholes", "Pinholes", "Small round places without silver.";
    Specks, "specks", "Specks", "Small round places with too much silver, or opaque grains.";
    UnevenPour, "uneven_pour", "Uneven pour", "The coating is thicker on one side of the plate than on the other.";
    Ridges, "ridges", "Ridges", "Waves, furrows or a step in the coating.";
    BareArea, "bare_area", "Bare place", "A corner or an island that the collodion did not cover.";
    Stain, "stain", "Stain", "Swirls, curtains or drain marks that grow from an edge or a corner.";
    Scratch, "scratch", "Scratch", "A thin line where the film was torn away.";
    Lifting, "lifting", "Lifting film", "The film has come away from the plate.";
    Underfixed, "underfixed", "Not fixed out", "A yellow or blue milkiness in the clear parts.";
    FlatImage, "flat_image", "Flat image", "Too little between the blacks and the whites.";
    ScanDust, "scan_dust", "Dust on the scanner", "Marks that belong to the scanner's glass, not to the plate.";
}
