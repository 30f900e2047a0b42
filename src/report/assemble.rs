//! Parts become a [`Report`]: rounding, nulls where no scale is known, doubts gathered.

use std::collections::BTreeMap;

use super::rounding::{
    ANGLE_DECIMALS, DENSITY_DECIMALS, LENGTH_DECIMALS, PROBABILITY_DECIMALS, SHARE_DECIMALS,
    decimals_of, half_width, number, round, share, significant, step_decimals,
};
use super::{
    DensityFacts, LaidByName, Measured, Parts, PlateFacts, Program, Report, ReportedFinding,
    ReportedFit, ReportedHistogram, ReportedMark, ReportedProfile, ReportedTone, SCHEMA, ScanFacts,
    TurnedFacts, shapes,
};
use crate::causes::{LikelyCause, NextCheck, Rest};
use crate::doubts::Doubt;
use crate::findings::{Fault, Finding, Mark, names};
use crate::handling::{Corner, Spot};
use crate::measures::{EdgeProfile, Tone};
use crate::plate::{Edge, LaidBy, Plate, ScaleSource, Turned};
use crate::scan::Scan;
use crate::units::light_of;

/// The list of steps from parts to report.
pub(super) fn assemble(parts: Parts) -> Report {
    let frame = Frame::of(parts.plate);
    let mut causes = parts.ranked.per_finding.into_iter();
    let mut rest = parts.ranked.rest.into_iter();
    let mut names = names(
        parts
            .findings
            .iter()
            .map(|finding| (finding.fault, finding.place.as_deref())),
    )
    .into_iter();
    let findings: Vec<ReportedFinding> = parts
        .findings
        .iter()
        .map(|finding| ReportedFinding {
            across: shapes::across(finding.figure.as_ref(), parts.plate),
            lie_d: shapes::lie(finding.figure.as_ref()),
            name: names.next().unwrap_or_default(),
            ..frame.finding(finding, causes.next().unwrap_or_default(), rest.next())
        })
        .collect();
    let mut report = Report {
        schema: SCHEMA.to_owned(),
        program: Program {
            name: env!("CARGO_PKG_NAME").to_owned(),
            version: env!("CARGO_PKG_VERSION").to_owned(),
        },
        scan: scan_facts(parts.scan, parts.plate, parts.calibration),
        plate: frame.plate_facts(parts.plate),
        handling: parts.handling.cloned(),
        maker: None,
        density: density_facts(parts.tone, parts.scan),
        findings,
        plate_causes: rounded_causes(parts.ranked.plate),
        check_next: parts.ranked.check_next.map(rounded_check),
        looked_for: parts.looked_for.to_vec(),
        cannot_tell: parts.cannot_tell.to_vec(),
        profiles: parts.profiles.iter().map(|p| frame.profile(p)).collect(),
        doubts_explained: BTreeMap::new(),
        settings: parts.settings,
    };
    report.doubts_explained = explain_doubts(&report);
    report
}

/// The plate's size, and whether millimetres may be stated.
struct Frame {
    width_mm: f64,
    height_mm: f64,
    scaled: bool,
}

impl Frame {
    fn of(plate: &Plate) -> Frame {
        Frame {
            width_mm: plate.width_mm,
            height_mm: plate.height_mm,
            scaled: plate.scale_source != ScaleSource::Unknown,
        }
    }

    fn length(&self, value_mm: f64) -> Option<f64> {
        self.scaled
            .then(|| number(value_mm, LENGTH_DECIMALS))
            .flatten()
    }

    fn corners(&self, box_mm: [f64; 4]) -> Option<[f64; 4]> {
        self.scaled
            .then(|| box_mm.map(|v| round(v, LENGTH_DECIMALS)))
    }

    fn share_of_width(&self, value_mm: f64) -> f64 {
        share(value_mm, self.width_mm)
    }

    fn point_share(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        [share(x, self.width_mm), share(y, self.height_mm)]
    }

    fn box_share(&self, [x0, y0, x1, y1]: [f64; 4]) -> [f64; 4] {
        let ([left, top], [right, bottom]) =
            (self.point_share([x0, y0]), self.point_share([x1, y1]));
        [left, top, right, bottom]
    }

    /// Size of the plate across an edge, millimetres.
    fn across(&self, edge: Edge) -> f64 {
        match edge {
            Edge::Top | Edge::Bottom => self.height_mm,
            Edge::Left | Edge::Right => self.width_mm,
        }
    }

    fn plate_facts(&self, plate: &Plate) -> PlateFacts {
        PlateFacts {
            found: plate.found,
            corners_px: plate.corners_px.map(|c| c.map(|v| round(v, 2))),
            turn_deg: round(plate.turn_deg, 3),
            width_mm: self.length(plate.width_mm),
            height_mm: self.length(plate.height_mm),
            aspect: round(plate.height_mm / plate.width_mm, SHARE_DECIMALS),
            size_name: plate.size_name.clone(),
            process: plate.process,
            scanned_from: plate.scanned_from,
            kind: plate.kind,
            doubts: plate.doubts.clone(),
        }
    }

    fn finding(
        &self,
        finding: &Finding,
        causes: Vec<LikelyCause>,
        rest: Option<Rest>,
    ) -> ReportedFinding {
        let mut measured = BTreeMap::new();
        let mut doubts_of = BTreeMap::new();
        let mut doubts = finding.doubts.clone();
        for (key, reading) in &finding.measured {
            let hidden = !self.scaled && key.contains("_mm");
            let decimals = decimals_of(key);
            // A chance may be far below all decimals.
            let rounded = match key.ends_with("_p") && reading.value.is_finite() {
                true => Some(significant(reading.value)),
                false => number(reading.value, decimals),
            };
            let value = rounded.filter(|_| !hidden);
            measured.insert((*key).to_owned(), value);
            if reading.u != 0.0 {
                let u = number(reading.u, decimals).filter(|_| !hidden);
                measured.insert(format!("{key}_u"), u);
            }
            if !reading.doubts.is_empty() {
                doubts_of.insert((*key).to_owned(), reading.doubts.clone());
                add_doubts(&mut doubts, &reading.doubts);
            }
        }
        ReportedFinding {
            id: finding.id.clone(),
            name: String::new(),
            verdict: None,
            fault: finding.fault,
            place: finding.place.clone(),
            title: finding.title.clone(),
            measured: Measured {
                numbers: measured,
                thick_corner: thick_corner(finding),
            },
            polarity: finding.polarity,
            box_mm: self.corners(finding.box_mm),
            outline_mm: finding
                .outline_mm
                .as_ref()
                .filter(|_| self.scaled)
                .map(|points| {
                    points
                        .iter()
                        .map(|p| p.map(|v| round(v, LENGTH_DECIMALS)))
                        .collect()
                }),
            box_share: self.box_share(finding.box_mm),
            outline_share: finding
                .outline_mm
                .as_ref()
                .map(|points| points.iter().map(|p| self.point_share(*p)).collect()),
            depth_share: self.depth_share(finding),
            axis_deg: finding.axis_deg.and_then(|v| number(v, ANGLE_DECIMALS)),
            direction_deg: finding
                .direction_deg
                .and_then(|v| number(v, ANGLE_DECIMALS)),
            direction_spread_deg: finding
                .direction_spread_deg
                .and_then(|v| number(v, ANGLE_DECIMALS)),
            members: finding
                .members
                .as_ref()
                .map(|marks| marks.iter().map(|m| self.mark(m)).collect()),
            across: None,
            lie_d: None,
            confidence: round(finding.confidence, PROBABILITY_DECIMALS),
            expected_false_alarms: significant(finding.expected_false_alarms),
            standing: finding.standing,
            severity: finding.severity,
            signs: finding.signs.clone(),
            causes: rounded_causes(causes),
            rest: rest.map(rounded_rest),
            doubts,
            doubts_of,
        }
    }

    fn depth_share(&self, finding: &Finding) -> Option<f64> {
        if finding.fault != Fault::EdgeFog {
            return None;
        }
        let place = finding.place.as_deref()?;
        let edge = Edge::ALL.into_iter().find(|e| e.word() == place)?;
        let depth_mm = finding.reading("depth_mm")?.value;
        Some(share(depth_mm, self.across(edge)))
    }

    fn mark(&self, mark: &Mark) -> ReportedMark {
        ReportedMark {
            box_mm: self.corners(mark.box_mm),
            centre_mm: self
                .scaled
                .then(|| mark.centre_mm.map(|v| round(v, LENGTH_DECIMALS))),
            size_mm: self.length(mark.size_mm),
            length_mm: mark.length_mm.and_then(|v| self.length(v)),
            centre_share: self.point_share(mark.centre_mm),
            size_share: self.share_of_width(mark.size_mm),
            length_share: mark.length_mm.map(|v| self.share_of_width(v)),
            direction_deg: mark.direction_deg.and_then(|v| number(v, ANGLE_DECIMALS)),
            axis_deg: mark.axis_deg.and_then(|v| number(v, ANGLE_DECIMALS)),
            sagitta_share: (mark.sagitta_mm != 0.0).then(|| self.share_of_width(mark.sagitta_mm)),
            contrast_d: round(mark.contrast_d, DENSITY_DECIMALS),
            expected_false_alarms: significant(mark.expected_false_alarms),
        }
    }

    fn profile(&self, profile: &EdgeProfile) -> ReportedProfile {
        let across = self.across(profile.edge);
        ReportedProfile {
            edge: profile.edge,
            distance_mm: self.scaled.then(|| {
                let distances = profile.distance_mm.iter();
                distances.map(|v| round(*v, LENGTH_DECIMALS)).collect()
            }),
            distance_share: profile
                .distance_mm
                .iter()
                .map(|v| share(*v, across))
                .collect(),
            silver_d: profile
                .silver_d
                .iter()
                .map(|d| d.and_then(|v| number(v, DENSITY_DECIMALS)))
                .collect(),
            ledge_mm: profile.ledge_mm.and_then(|v| self.length(v)),
            ledge_share: profile.ledge_mm.map(|v| share(v, across)),
            fit: profile
                .fit
                .filter(|(base_d, fog_d, depth_mm)| {
                    base_d.is_finite() && fog_d.is_finite() && *depth_mm > 0.0
                })
                .map(|(base_d, fog_d, depth_mm)| ReportedFit {
                    base_d: round(base_d, DENSITY_DECIMALS),
                    fog_d: round(fog_d, DENSITY_DECIMALS),
                    depth_mm: self.length(depth_mm),
                    depth_share: share(depth_mm, across),
                }),
        }
    }
}

fn scan_facts(scan: &Scan, plate: &Plate, calibration: Option<&str>) -> ScanFacts {
    ScanFacts {
        file: scan.file_name(),
        width_px: scan.width_px,
        height_px: scan.height_px,
        bits: scan.bits,
        channels: scan.channels,
        dpi_x: plate.dpi.and_then(|(x, _)| number(x, 2)),
        dpi_y: plate.dpi.and_then(|(_, y)| number(y, 2)),
        scale_source: plate.scale_source,
        colour_source: scan.colour_source.clone(),
        calibration: calibration.map(str::to_owned),
        turned: plate
            .turned
            .as_ref()
            .map(|turned| turned_facts(plate, turned)),
        warnings: scan
            .warnings
            .iter()
            .chain(&plate.warnings)
            .cloned()
            .collect(),
        doubts: scan.doubts.clone(),
    }
}

fn turned_facts(plate: &Plate, turned: &Turned) -> TurnedFacts {
    let name = turned
        .file()
        .file_name()
        .unwrap_or(turned.file().as_os_str());
    let scaled = plate.scale_source != ScaleSource::Unknown;
    let (laid_by, within_mm) = match turned.laid_by {
        LaidBy::Picture { within_mm, .. } => (LaidByName::Picture, Some(within_mm)),
        LaidBy::Outline => (LaidByName::Outline, None),
    };
    TurnedFacts {
        file: name.to_string_lossy().into_owned(),
        laid_by,
        within_mm: within_mm.filter(|_| scaled).and_then(|v| number(v, 3)),
        corners_px: turned
            .corners_px([plate.width_mm, plate.height_mm])
            .map(|corners| corners.map(|corner| corner.map(|v| round(v, 2)))),
    }
}

fn density_facts(tone: &Tone, scan: &Scan) -> DensityFacts {
    let step = |density_d: f64| {
        let step_d = code_step(scan.code_light.as_deref()?, density_d)?;
        number(step_d, DENSITY_DECIMALS)
    };
    let (step_light_d, step_dark_d) = (step(tone.d_light.value), step(tone.d_dark.value));
    let (light, dark) = (step_decimals(step_light_d), step_decimals(step_dark_d));
    let coarser = light.min(dark);
    let veil = tone.veil_d.as_ref();
    let mut doubts = Vec::new();
    let mut doubts_of = BTreeMap::new();
    for (key, reading) in [
        ("d_light", Some(&tone.d_light)),
        ("d_dark", Some(&tone.d_dark)),
        ("range_d", Some(&tone.range_d)),
        ("mean_d", Some(&tone.mean_d)),
        ("patch_d_light", tone.patch_d_light.as_ref()),
        ("patch_d_dark", tone.patch_d_dark.as_ref()),
        ("veil_d", veil),
    ] {
        let Some(reading) = reading.filter(|r| !r.doubts.is_empty()) else {
            continue;
        };
        add_doubts(&mut doubts, &reading.doubts);
        doubts_of.insert(key.to_owned(), reading.doubts.clone());
    }
    DensityFacts {
        d_light: round(tone.d_light.value, light),
        d_light_u: half_width(&tone.d_light),
        d_dark: round(tone.d_dark.value, dark),
        d_dark_u: half_width(&tone.d_dark),
        range_d: round(tone.range_d.value, coarser),
        range_d_u: half_width(&tone.range_d),
        mean_d: round(tone.mean_d.value, DENSITY_DECIMALS),
        mean_d_u: half_width(&tone.mean_d),
        patch_d_light: tone
            .patch_d_light
            .as_ref()
            .and_then(|r| number(r.value, light)),
        patch_d_dark: tone
            .patch_d_dark
            .as_ref()
            .and_then(|r| number(r.value, dark)),
        veil_d: veil.and_then(|r| number(r.value, dark)),
        veil_d_u: veil.and_then(half_width),
        zero_d: round(tone.zero_d, DENSITY_DECIMALS),
        zero_source: tone.zero_source.clone(),
        code_step_light_d: step_light_d,
        code_step_dark_d: step_dark_d,
        histogram: ReportedHistogram {
            edges_d: tone
                .histogram
                .edges_d
                .iter()
                .map(|v| round(*v, DENSITY_DECIMALS))
                .collect(),
            counts: tone.histogram.counts.clone(),
            picture_counts: tone.histogram.picture_counts.clone(),
        },
        clipped_light_fraction: round(tone.clipped_light_fraction, PROBABILITY_DECIMALS + 2),
        clipped_dark_fraction: round(tone.clipped_dark_fraction, PROBABILITY_DECIMALS + 2),
        tone: tone.lab.map(|[l, a, b]| ReportedTone {
            l: round(l, 2),
            a: round(a, 2),
            b: round(b, 2),
        }),
        doubts,
        doubts_of,
    }
}

/// One step of the file's codes at a density: the density between the two codes on either side.
fn code_step(code_light: &[f32], density_d: f64) -> Option<f64> {
    let light = light_of(density_d);
    let mut rising = code_light.windows(2).filter(|pair| pair[0] > 0.0);
    let pair = rising
        .clone()
        .find(|pair| f64::from(pair[1]) >= light)
        .or_else(|| rising.next_back())?;
    let step_d = (f64::from(pair[1]) / f64::from(pair[0])).log10();
    (step_d > 0.0).then_some(step_d)
}

pub(super) fn rounded_check(next: NextCheck) -> NextCheck {
    NextCheck {
        gain_bits: round(next.gain_bits, 3),
        minutes: round(next.minutes, 1),
        silver_g: round(next.silver_g, 3),
        ..next
    }
}

pub(super) fn rounded_rest(rest: Rest) -> Rest {
    Rest {
        other_causes: round(rest.other_causes, PROBABILITY_DECIMALS),
        none_of_these: round(rest.none_of_these, PROBABILITY_DECIMALS),
    }
}

pub(super) fn rounded_causes(causes: Vec<LikelyCause>) -> Vec<LikelyCause> {
    causes
        .into_iter()
        .map(|cause| LikelyCause {
            probability: round(cause.probability, PROBABILITY_DECIMALS),
            ..cause
        })
        .collect()
}

fn explain_doubts(report: &Report) -> BTreeMap<Doubt, String> {
    let findings = report.findings.iter().flat_map(|f| &f.doubts);
    report
        .scan
        .doubts
        .iter()
        .chain(&report.plate.doubts)
        .chain(&report.density.doubts)
        .chain(findings)
        .map(|doubt| (*doubt, doubt.long().to_owned()))
        .collect()
}

fn add_doubts(list: &mut Vec<Doubt>, more: &[Doubt]) {
    for doubt in more {
        if !list.contains(doubt) {
            list.push(*doubt);
        }
    }
}

/// The corner with the most silver, of an uneven pour that has one.
fn thick_corner(finding: &Finding) -> Option<Corner> {
    let place = finding.place.as_deref()?;
    match finding.fault {
        Fault::UnevenPour => Spot::of_word(place)?.corner(),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn code_step_is_the_gap_between_neighbouring_codes() {
        let code_light: Vec<f32> = (0..=255u8).map(|code| f32::from(code) / 255.0).collect();
        let step_d = code_step(&code_light, 2.25).unwrap();
        assert!((step_d - 2f64.log10()).abs() < 1e-6, "{step_d}");
        let step_d = code_step(&code_light, 0.001).unwrap();
        assert!((step_d - (255f64 / 254.0).log10()).abs() < 1e-6, "{step_d}");
        assert_eq!(code_step(&[], 1.0), None);
    }
}
