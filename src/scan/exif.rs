//! The few EXIF fields that matter here: turn, resolution and colour space.

use exif::{In, Reader, Tag, Value};

use super::{DpiTag, DpiUnit};

/// What an EXIF block says; all unknown when it cannot be read.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Exif {
    /// Tag 274.
    pub orientation: Option<u32>,
    /// Tags 282, 283 and 296.
    pub dpi_tag: Option<DpiTag>,
    /// Tag 40961 is 1.
    pub is_srgb: bool,
}

impl Exif {
    /// Reads a block that begins with its TIFF header.
    pub fn read(block: Vec<u8>) -> Exif {
        let Ok(exif) = Reader::new().read_raw(block) else {
            return Exif::default();
        };
        let number = |tag| {
            exif.get_field(tag, In::PRIMARY)
                .and_then(|f| f.value.get_uint(0))
        };
        let ratio = |tag| match exif.get_field(tag, In::PRIMARY).map(|f| &f.value) {
            Some(Value::Rational(values)) => values.first().map(|v| v.to_f64()),
            _ => None,
        };
        let usable = |value: &f64| value.is_finite() && *value > 0.0;
        let x = ratio(Tag::XResolution).filter(usable);
        let y = ratio(Tag::YResolution).filter(usable);
        let unit = match number(Tag::ResolutionUnit) {
            Some(1) => DpiUnit::None,
            Some(3) => DpiUnit::Centimetre,
            _ => DpiUnit::Inch,
        };
        Exif {
            orientation: number(Tag::Orientation),
            dpi_tag: x.zip(y).map(|(x, y)| DpiTag { x, y, unit }),
            is_srgb: number(Tag::ColorSpace) == Some(1),
        }
    }
}
