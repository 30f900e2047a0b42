//! Marks to plant: comets, pinholes and specks, each a group of one cause.
//!
//! Sizes and strengths are medians; single marks scatter around them by a stated spread, even in the
//! logarithm for sizes. Silver is stated as what it leaves on unexposed coating, in density.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::plate::Edge;

/// Most marks of one group that are painted: our own choice, four times what a ruined plate shows.
const MOST_MARKS: f64 = 800.0;

/// A value to check: name, value, least, most.
type Range = (&'static str, f64, f64, f64);

/// How the marks of a group lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Scatter {
    /// Anywhere, independent of each other.
    Spread,
    /// In a few clusters of about a centimetre.
    Clusters,
    /// Denser toward one edge.
    Toward(Edge),
}

impl Scatter {
    /// The word used in truths.
    pub fn word(self) -> &'static str {
        match self {
            Scatter::Spread => "spread",
            Scatter::Clusters => "clusters",
            Scatter::Toward(Edge::Top) => "toward_top",
            Scatter::Toward(Edge::Right) => "toward_right",
            Scatter::Toward(Edge::Bottom) => "toward_bottom",
            Scatter::Toward(Edge::Left) => "toward_left",
        }
    }
}

/// Whether a mark leaves more silver or takes some away.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum MarkSign {
    MoreSilver,
    LessSilver,
}

/// Heads with tails.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CometsRecipe {
    /// Strength meant, 1 to 4.
    pub level: u8,
    pub count: u32,
    pub scatter: Scatter,
    pub sign: MarkSign,
    /// Silver of a head on unexposed coating, density; or the share of the silver that it takes.
    pub strength: f64,
    /// Diameter of a head, millimetres.
    pub head_mm: f64,
    /// Length from the head's centre to the tail's end, millimetres.
    pub tail_mm: f64,
    /// How strong a tail starts, as a share of its head.
    pub tail_share: f64,
    /// Where tails point, from head to tail, degrees clockwise from twelve o'clock.
    pub direction_deg: f64,
    /// Standard deviation of single directions, degrees.
    pub spread_deg: f64,
    /// True when half of the tails point the other way.
    pub both_ways: bool,
    /// Scatter of sizes, standard deviation of the natural logarithm.
    pub size_spread: f64,
    /// Scatter of strengths, as a share.
    pub strength_spread: f64,
    /// Heads of the other sign among them, if any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub contrary: Option<ContraryHeads>,
}

/// Heads among others of the contrary sign.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ContraryHeads {
    /// Share of all heads, 0 to 1.
    pub share: f64,
    /// As the group's own strength, in their sign.
    pub strength: f64,
}

/// Round holes in the film: the support shows.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PinholesRecipe {
    /// Strength meant, 1 to 4.
    pub level: u8,
    pub count: u32,
    pub scatter: Scatter,
    /// Diameter, millimetres.
    pub size_mm: f64,
    /// Share of film and silver that is missing in the middle; 1 = bare support.
    pub open: f64,
    /// Scatter of sizes, standard deviation of the natural logarithm.
    pub size_spread: f64,
    /// Scatter of `open`, as a share.
    pub strength_spread: f64,
}

/// What a speck is made of.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum SpeckBody {
    /// Reduced silver on the film; the silver it would leave on unexposed coating, density.
    Silver(f64),
    /// Matter that hides the film, with its own density in the scan's light.
    Matter(f64),
}

/// Round spots of silver or of foreign matter.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SpecksRecipe {
    /// Strength meant, 1 to 4.
    pub level: u8,
    pub count: u32,
    pub scatter: Scatter,
    pub body: SpeckBody,
    /// Share of the film that matter hides in the middle; 1 for silver.
    pub cover: f64,
    /// Diameter, millimetres.
    pub size_mm: f64,
    /// Scatter of sizes, standard deviation of the natural logarithm.
    pub size_spread: f64,
    /// Scatter of strengths, as a share.
    pub strength_spread: f64,
}

impl MarkSign {
    /// The other one.
    pub fn contrary(self) -> MarkSign {
        match self {
            MarkSign::MoreSilver => MarkSign::LessSilver,
            MarkSign::LessSilver => MarkSign::MoreSilver,
        }
    }

    /// Largest strength.
    fn most(self) -> f64 {
        match self {
            MarkSign::MoreSilver => 3.0,
            MarkSign::LessSilver => 1.0,
        }
    }
}

impl CometsRecipe {
    pub(super) fn ranges(&self) -> Vec<Range> {
        let most = self.sign.most();
        let mut ranges = vec![
            ("comets count", f64::from(self.count), 1.0, MOST_MARKS),
            ("comets strength", self.strength, 0.0, most),
            ("comets head_mm", self.head_mm, 0.03, 3.0),
            ("comets tail_mm", self.tail_mm, 0.5, 60.0),
            ("comets tail_share", self.tail_share, 0.0, 1.0),
            ("comets direction_deg", self.direction_deg, -360.0, 720.0),
            ("comets spread_deg", self.spread_deg, 0.0, 180.0),
            ("comets size_spread", self.size_spread, 0.0, 1.5),
            ("comets strength_spread", self.strength_spread, 0.0, 0.5),
        ];
        if let Some(contrary) = self.contrary {
            let most = self.sign.contrary().most();
            ranges.extend([
                ("comets contrary share", contrary.share, 0.0, 1.0),
                ("comets contrary strength", contrary.strength, 0.0, most),
            ]);
        }
        ranges
    }
}

impl PinholesRecipe {
    pub(super) fn ranges(&self) -> Vec<Range> {
        vec![
            ("pinholes count", f64::from(self.count), 1.0, MOST_MARKS),
            ("pinholes size_mm", self.size_mm, 0.02, 5.0),
            ("pinholes open", self.open, 0.0, 1.0),
            ("pinholes size_spread", self.size_spread, 0.0, 1.5),
            ("pinholes strength_spread", self.strength_spread, 0.0, 0.5),
        ]
    }
}

impl SpecksRecipe {
    pub(super) fn ranges(&self) -> Vec<Range> {
        let (SpeckBody::Silver(d) | SpeckBody::Matter(d)) = self.body;
        vec![
            ("specks count", f64::from(self.count), 1.0, MOST_MARKS),
            ("specks body", d, 0.0, 4.0),
            ("specks cover", self.cover, 0.0, 1.0),
            ("specks size_mm", self.size_mm, 0.02, 5.0),
            ("specks size_spread", self.size_spread, 0.0, 1.5),
            ("specks strength_spread", self.strength_spread, 0.0, 0.5),
        ]
    }
}
