//! Drawing the scan: where the plate lies, what lies around it, how the file is written.

use rand::RngExt;

use super::{Draw, Glass, Wish, five};
use crate::practice::recipe::{Coding, Crop, FileFormat, Lid, PlateRecipe, ScanRecipe, TagState};

impl Draw {
    pub(super) fn scan(&mut self, wish: &Wish, plate: &mut PlateRecipe) -> ScanRecipe {
        let drawn = self.weighted(
            &[(Crop::Margin, 0.8), (Crop::Exact, 0.1), (Crop::Inside, 0.1)],
            Crop::Margin,
        );
        let crop = match wish.crop {
            Some(crop) => crop,
            // A rim that is cut away shows nothing.
            None if wish.bare_rim && drawn == Crop::Inside => Crop::Margin,
            None => drawn,
        };
        let area_mm = self.place(crop, plate);
        let positive = plate.process.is_positive();
        let lid = self.weighted(
            &[(Lid::White, 0.55), (Lid::Black, 0.3), (Lid::DarkGrey, 0.15)],
            Lid::White,
        );
        let lid = if positive { lid } else { Lid::Lit };
        let lid_light = match lid {
            Lid::White => self.between(0.76, 0.93),
            Lid::Black => self.between(0.008, 0.03),
            Lid::DarkGrey => self.between(0.04, 0.15),
            Lid::Lit => self.between(0.95, 1.02),
        };
        let dpi = self.weighted(
            &[(300.0, 0.3), (350.0, 0.2), (400.0, 0.4), (600.0, 0.1)],
            400.0,
        );
        let format = self.weighted(
            &[
                (FileFormat::Jpeg, 0.55),
                (FileFormat::Png, 0.2),
                (FileFormat::Tiff, 0.25),
            ],
            FileFormat::Jpeg,
        );
        let format = wish.format.unwrap_or(format);
        let bits = match format {
            FileFormat::Jpeg => 8,
            FileFormat::Png if self.yes(0.8) => 8,
            FileFormat::Tiff if self.yes(0.25) => 8,
            FileFormat::Png | FileFormat::Tiff => 16,
        };
        let encoding = self.weighted(
            &[
                (Coding::Srgb, 0.62),
                (Coding::Adobe, 0.14),
                (Coding::Gamma22, 0.14),
                (Coding::Linear, if bits == 16 { 0.25 } else { 0.0 }),
            ],
            Coding::Srgb,
        );
        let channels = if self.yes(0.6) { 3 } else { 1 };
        ScanRecipe {
            dpi: wish.dpi.unwrap_or(dpi),
            area_mm,
            lid,
            lid_light,
            crop,
            dpi_tag: self.weighted(
                &[
                    (TagState::Ok, 0.7),
                    (TagState::Absent, 0.12),
                    (TagState::Default72, 0.09),
                    (TagState::WrongUnit, 0.09),
                ],
                TagState::Ok,
            ),
            bits,
            channels: wish.channels.unwrap_or(channels),
            format,
            jpeg_quality: self.0.random_range(86..=95),
            encoding,
            icc: encoding != Coding::Srgb || self.yes(0.5),
            blur_px: self.between(0.5, 1.0),
            flare: self.between(0.0, 0.01),
            gain: self.between(0.975, 1.025),
            shot: self.between(0.002, 0.006),
            read: self.between(0.0003, 0.0011),
            columns: if self.yes(0.5) {
                self.between(0.0003, 0.0012)
            } else {
                0.0
            },
            falloff: self.between(0.0, 0.012),
            sharpen: if self.yes(0.15) {
                self.between(0.2, 0.6)
            } else {
                0.0
            },
            dust_specks: self.0.random_range(1..=12),
            dust_fibres: self.0.random_range(0..=3),
            dust_hairs: 0,
            dust_flecks: 0,
            turned: false,
        }
    }

    /// What lies on glass of a stated state: our own choice, from nearly nothing to what no one would
    /// scan on.
    pub(super) fn glass(&mut self, glass: Glass, scan: &mut ScanRecipe) {
        let [specks, fibres, hairs, flecks] = match glass {
            Glass::Clean => [(0, 3), (0, 0), (0, 0), (0, 0)],
            Glass::Dusty => [(40, 90), (4, 12), (0, 3), (1, 6)],
            Glass::Filthy => [(150, 400), (20, 45), (4, 10), (8, 30)],
        }
        .map(|(low, high)| self.0.random_range(low..=high));
        scan.dust_specks = specks;
        scan.dust_fibres = fibres;
        scan.dust_hairs = hairs;
        scan.dust_flecks = flecks;
    }

    /// Turns the plate, puts it on the glass and says how much of the glass is scanned.
    fn place(&mut self, crop: Crop, plate: &mut PlateRecipe) -> [f64; 2] {
        match crop {
            Crop::Margin => {
                plate.turn_deg = if self.yes(0.85) {
                    self.between(-3.0, 3.0)
                } else {
                    self.between(-10.0, 10.0)
                };
                let turn = plate.turn_deg.abs().to_radians();
                let (sin, cos) = (libm::sin(turn), libm::cos(turn));
                let (w, h) = (plate.width_mm, plate.height_mm);
                let bound = [w * cos + h * sin, w * sin + h * cos];
                let [left, top, right, bottom]: [f64; 4] =
                    std::array::from_fn(|_| self.between(3.0, 14.0));
                plate.centre_mm = [0.5 * bound[0] + left, 0.5 * bound[1] + top].map(five);
                [bound[0] + left + right, bound[1] + top + bottom].map(five)
            }
            Crop::Exact => {
                plate.turn_deg = self.between(-0.12, 0.12);
                let off = [self.between(-0.1, 0.1), self.between(-0.1, 0.1)];
                plate.centre_mm = [
                    0.5 * plate.width_mm + off[0],
                    0.5 * plate.height_mm + off[1],
                ];
                [plate.width_mm, plate.height_mm]
            }
            Crop::Inside => {
                plate.turn_deg = self.between(-0.2, 0.2);
                let cut: [f64; 4] = std::array::from_fn(|_| self.between(0.6, 3.5));
                let [left, top, right, bottom] = cut;
                plate.centre_mm = [0.5 * plate.width_mm - left, 0.5 * plate.height_mm - top];
                [
                    plate.width_mm - left - right,
                    plate.height_mm - top - bottom,
                ]
            }
        }
    }
}
