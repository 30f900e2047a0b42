//! The report as one page that needs nothing else.
//!
//! The page runs no script at all, and its content policy forbids any; switches and folds are plain
//! check boxes. Every word that comes from a file is escaped by the template.

use minijinja::Environment;
use minijinja::syntax::SyntaxConfig;
use minijinja::value::{Serde, Value};
use serde::Serialize;
use serde_json::json;

use super::picture::{PAGE_LONG_PX, data_picture};
use super::plate_map::{DrawnFinding, PlateMap, TAG_RADIUS};
use super::{Report, ReportError, ReportedFinding, figures, sentence, words};
use crate::causes::{LikelyCause, Rest, Side};
use crate::doubts::Doubt;
use crate::findings::{Fault, Standing};
use crate::handling::{Corner, Handling};
use crate::plate::{ScaleSource, ScannedFrom};
use crate::raster::Grid;

/// The page of one plate: picture, marks, charts, words.
pub(super) fn page(report: &Report, picture: &Grid<[u16; 3]>) -> Result<String, ReportError> {
    let file = || report.scan.file.clone();
    let shown = data_picture(picture, PAGE_LONG_PX).map_err(|why| ReportError::Picture {
        file: file(),
        why: why.to_string(),
    })?;
    let aspect = match &shown {
        Some(shown) => shown.height_px as f64 / shown.width_px as f64,
        None => report.plate.aspect,
    };
    let map = PlateMap::new(aspect);
    let ordered = ordered(report);
    let drawn = map.draw(&ordered);
    let chart_failed = |why: crate::charts::ChartError| ReportError::Page {
        file: file(),
        why: why.to_string(),
    };
    let profiles: Vec<_> = figures::profiles(report)
        .map_err(chart_failed)?
        .into_iter()
        .map(|(edge, svg)| json!({"edge": edge.word(), "svg": svg}))
        .collect();
    let findings: Vec<FindingView> = ordered
        .iter()
        .zip(&drawn)
        .enumerate()
        .map(|(i, (finding, drawn))| finding_view(i + 1, finding, drawn))
        .collect();
    let program = &report.program;
    let check_next = report.check_next.as_ref().map(|next| {
        json!({
            "check": words::sentence(&next.words),
            "yes": words::lowered(&next.yes),
            "minutes": words::minutes(next.minutes),
            "silver": (next.silver_g >= 0.05).then(|| words::decimal(next.silver_g, 1)),
            "bits": words::decimal(next.gain_bits, 1),
            "causes": report.plate_causes.iter()
                .filter(|cause| next.for_causes.contains(&cause.cause))
                .map(|cause| words::lowered(&cause.title))
                .collect::<Vec<_>>(),
            "cautions": next.cautions,
        })
    });
    let cannot_tell = report.cannot_tell.iter().map(|entry| {
        json!({
            "fault": entry.fault.short(),
            "because": words::sentence(&entry.because),
            "make": words::sentence(&entry.make_this_plate),
        })
    });
    let doubts = report
        .doubts_explained
        .iter()
        .map(|(doubt, long)| json!({"short": words::capitalised(doubt.short()), "long": long}));
    let view = json!({
        "name": report.plate_name(),
        "program": {"name": program.name, "version": program.version},
        "schema": report.schema,
        "sentence": sentence::found(report),
        "not_judged": sentence::not_judged(report),
        "facts": plate_line(report),
        "picture": shown.map(|shown| shown.address),
        "map": {"width": map.width.round(), "height": map.height.round(), "tag": TAG_RADIUS},
        "kinds": kinds(&findings),
        "findings": findings,
        "plate_causes": causes_view(&report.plate_causes),
        "check_next": check_next,
        "looked_for": looked_for(report),
        "cannot_tell": cannot_tell.collect::<Vec<_>>(),
        "histogram": figures::histogram(report).map_err(chart_failed)?,
        "profiles": profiles,
        "zero": report.density.zero_source,
        "densities": densities(report),
        "shared_doubts": shared_doubts(report),
        "scan_facts": scan_facts(report),
        "handling": report.handling.as_ref().map(handling_facts),
        "warnings": report.scan.warnings,
        "doubts": doubts.collect::<Vec<_>>(),
        "settings": settings_text(&report.settings),
    });
    render("page.html", &view).map_err(|why| ReportError::Page {
        file: file(),
        why: why.to_string(),
    })
}

/// Fills in one of the templates; names in `.html` escape every value.
pub(super) fn render(template: &str, view: &serde_json::Value) -> Result<String, minijinja::Error> {
    let mut pages = Environment::new();
    let syntax = SyntaxConfig::builder()
        .trim_blocks(true)
        .lstrip_blocks(true)
        .build()?;
    pages.set_syntax(syntax);
    pages.add_template("page.css", include_str!("page.css"))?;
    pages.add_template("page.html", include_str!("page.html"))?;
    pages.add_template("session.html", include_str!("session.html"))?;
    pages
        .get_template(template)?
        .render(Value::from(Serde(view)))
}

/// Findings as shown: worst first, then proven before suggested, then surest first.
pub(super) fn ordered(report: &Report) -> Vec<&ReportedFinding> {
    let mut findings: Vec<&ReportedFinding> = report.findings.iter().collect();
    findings.sort_by(|a, b| {
        let proven = |f: &ReportedFinding| f.standing == Standing::Measured;
        b.severity
            .cmp(&a.severity)
            .then(proven(b).cmp(&proven(a)))
            .then(b.confidence.total_cmp(&a.confidence))
    });
    findings
}

#[derive(Serialize)]
struct FindingView {
    number: usize,
    fault: &'static str,
    fault_name: &'static str,
    title: String,
    long: &'static str,
    severity: &'static str,
    severity_short: &'static str,
    rank: usize,
    certainty: String,
    certainty_word: &'static str,
    standing: &'static str,
    suggested: bool,
    by_chance: Option<String>,
    svg: String,
    tag: [f64; 2],
    crop: Option<String>,
    numbers: Vec<NumberView>,
    marks: Option<MarksView>,
    seen: Vec<String>,
    not_seen: Vec<String>,
    causes: Vec<CauseView>,
    rest: Option<String>,
    doubts: Vec<&'static str>,
}

#[derive(Serialize)]
struct NumberView {
    label: String,
    value: String,
    notes: Vec<&'static str>,
}

#[derive(Serialize)]
struct MarksView {
    count: usize,
    head: Vec<&'static str>,
    rows: Vec<Vec<String>>,
    more: usize,
}

#[derive(Serialize)]
struct CauseView {
    title: String,
    side: &'static str,
    per_cent: String,
    bar: f64,
    because: Vec<String>,
    against: Vec<String>,
    remedy: String,
    check_next: String,
    cautions: Vec<String>,
    sources: Vec<String>,
}

fn finding_view(number: usize, finding: &ReportedFinding, drawn: &DrawnFinding) -> FindingView {
    let signs = |holds: bool| {
        let signs = finding.signs.iter().filter(move |sign| sign.holds == holds);
        signs.map(|sign| sign.words.clone()).collect()
    };
    FindingView {
        number,
        fault: finding.fault.name(),
        fault_name: finding.fault.short(),
        title: finding.title.clone(),
        long: finding.fault.long(),
        severity: words::severity(finding.severity),
        severity_short: words::severity_short(finding.severity),
        rank: words::severity_rank(finding.severity),
        certainty: words::in_hundred(finding.confidence),
        certainty_word: words::certainty(finding.confidence),
        standing: words::standing(finding.standing),
        suggested: finding.standing == Standing::Suggested,
        by_chance: words::by_chance(finding.expected_false_alarms),
        svg: drawn.svg.clone(),
        tag: drawn.tag.map(f64::round),
        crop: drawn
            .crop
            .map(|[x, y, w, h]| format!("{x:.1} {y:.1} {w:.1} {h:.1}")),
        numbers: numbers(finding),
        marks: marks(finding),
        seen: signs(true),
        not_seen: signs(false),
        rest: finding
            .rest
            .filter(|_| !finding.causes.is_empty())
            .map(rest),
        causes: causes_view(&finding.causes),
        doubts: finding.doubts.iter().map(|doubt| doubt.short()).collect(),
    }
}

fn numbers(finding: &ReportedFinding) -> Vec<NumberView> {
    let mut keys: Vec<&String> = finding
        .measured
        .keys()
        .filter(|key| !is_half_width(key, finding))
        .collect();
    keys.sort_by_key(|key| words::order(key));
    let mut numbers: Vec<NumberView> = keys
        .into_iter()
        .filter_map(|key| {
            let value = finding.measured.get(key).copied().flatten()?;
            let u = finding.measured.get(&format!("{key}_u")).copied().flatten();
            let notes = finding.doubts_of.get(key).map(Vec::as_slice);
            Some(NumberView {
                label: words::label(finding.fault, key),
                value: words::figure(key, value, u),
                notes: notes
                    .unwrap_or_default()
                    .iter()
                    .map(|d| d.short())
                    .collect(),
            })
        })
        .collect();
    let has = |key: &str| finding.measured.contains_key(key);
    if let Some(direction_deg) = finding.direction_deg.filter(|_| !has("direction_deg")) {
        let spread = finding
            .direction_spread_deg
            .map_or(String::new(), |spread_deg| {
                format!(", spread {spread_deg:.0}°")
            });
        numbers.push(NumberView {
            label: "Direction".to_owned(),
            value: format!(
                "toward {} ({direction_deg:.0}°{spread})",
                words::toward(direction_deg)
            ),
            notes: Vec::new(),
        });
    }
    if let Some(axis_deg) = finding.axis_deg.filter(|_| !has("axis_deg")) {
        numbers.push(NumberView {
            label: words::label(finding.fault, "axis_deg"),
            value: words::figure("axis_deg", axis_deg, None),
            notes: Vec::new(),
        });
    }
    numbers
}

fn is_half_width(key: &str, finding: &ReportedFinding) -> bool {
    key.strip_suffix("_u")
        .is_some_and(|base| finding.measured.contains_key(base))
}

/// Rows shown of the marks of a group, strongest first: more belong into the JSON.
const MARK_ROWS: usize = 12;

fn marks(finding: &ReportedFinding) -> Option<MarksView> {
    let members = finding.members.as_ref().filter(|m| !m.is_empty())?;
    let mut strongest: Vec<_> = members.iter().collect();
    strongest.sort_by(|a, b| b.contrast_d.total_cmp(&a.contrast_d));
    let shown = &strongest[..strongest.len().min(MARK_ROWS)];
    let scaled = shown.iter().any(|m| m.size_mm.is_some());
    let long = scaled && shown.iter().any(|m| m.length_mm.is_some());
    let turned = shown
        .iter()
        .any(|m| m.direction_deg.or(m.axis_deg).is_some());
    let dash = || "–".to_owned();
    let mm = |value: Option<f64>| value.map_or_else(dash, |v| words::decimal(v, 2));
    let mut head = Vec::new();
    if scaled {
        head.extend(["x mm", "y mm", "size mm"]);
    }
    if long {
        head.push("length mm");
    }
    if turned {
        head.push("degrees");
    }
    head.push("contrast D");
    let rows = shown
        .iter()
        .map(|mark| {
            let mut row = Vec::new();
            if scaled {
                let at = |i: usize| {
                    mark.centre_mm
                        .map_or_else(dash, |centre| words::decimal(centre[i], 1))
                };
                row.extend([at(0), at(1), mm(mark.size_mm)]);
            }
            if long {
                row.push(mm(mark.length_mm));
            }
            if turned {
                let degrees = mark.direction_deg.or(mark.axis_deg);
                row.push(degrees.map_or_else(dash, |v| words::decimal(v, 0)));
            }
            row.push(words::decimal(mark.contrast_d, 2));
            row
        })
        .collect();
    Some(MarksView {
        count: members.len(),
        head,
        rows,
        more: members.len() - shown.len(),
    })
}

fn causes_view(causes: &[LikelyCause]) -> Vec<CauseView> {
    causes
        .iter()
        .map(|cause| CauseView {
            title: cause.title.clone(),
            side: match cause.side {
                Side::Chemistry => "chemistry",
                Side::Handling => "handling",
                Side::Equipment => "equipment",
                Side::Scan => "the scan",
            },
            per_cent: words::per_cent(cause.probability),
            bar: (cause.probability.clamp(0.0, 1.0) * 1000.0).round() / 10.0,
            because: cause.because.clone(),
            against: cause.against.clone(),
            remedy: words::sentence(&cause.remedy),
            check_next: words::sentence(&cause.check_next),
            cautions: cause.cautions.clone(),
            sources: cause.sources.clone(),
        })
        .collect()
}

/// What is left beside the named causes, in words.
fn rest(rest: Rest) -> String {
    let none = format!("none of these {}", words::per_cent(rest.none_of_these));
    if rest.other_causes < 0.005 {
        return words::capitalised(&none);
    }
    format!(
        "Other causes {}, {none}",
        words::per_cent(rest.other_causes)
    )
}

#[derive(Serialize)]
struct KindView {
    fault: &'static str,
    name: &'static str,
}

/// The kinds of marks on the page, each once, in the order of the findings.
fn kinds(findings: &[FindingView]) -> Vec<KindView> {
    let mut kinds: Vec<KindView> = Vec::new();
    for finding in findings {
        if !kinds.iter().any(|kind| kind.fault == finding.fault) {
            kinds.push(KindView {
                fault: finding.fault,
                name: finding.fault_name,
            });
        }
    }
    kinds
}

/// Process, kind, size: the line under the plate's name.
pub(super) fn plate_line(report: &Report) -> Vec<String> {
    let plate = &report.plate;
    let judged = |doubt: Doubt| {
        if plate.doubts.contains(&doubt) {
            " (judged from the scan)"
        } else {
            ""
        }
    };
    let mut facts = vec![
        format!("{}{}", plate.process.words(), judged(Doubt::ProcessJudged)),
        format!("{}{}", plate.kind.words(), judged(Doubt::KindJudged)),
    ];
    if let (Some(width), Some(height)) = (plate.width_mm, plate.height_mm) {
        facts.push(format!("{width:.1} × {height:.1} mm"));
    }
    if let Some(name) = &plate.size_name {
        facts.push(format!("{} plate", words::place(name)));
    }
    facts
}

fn looked_for(report: &Report) -> Option<String> {
    let names = report.looked_for.iter();
    let names: Vec<String> = names.map(|f: &Fault| words::lowered(f.short())).collect();
    (!names.is_empty()).then(|| words::listed(&names))
}

fn densities(report: &Report) -> Vec<NumberView> {
    let d = &report.density;
    let shared = shared(report);
    let notes = |key: &str| {
        let doubts = d.doubts_of.get(key).map(Vec::as_slice).unwrap_or_default();
        let own = doubts.iter().filter(|doubt| !shared.contains(doubt));
        own.map(|doubt| doubt.short()).collect()
    };
    let of = |key: &str| d.doubts_of.get(key).map(Vec::as_slice).unwrap_or_default();
    let mut rows = vec![
        NumberView {
            label: "Lightest tone".to_owned(),
            value: words::bound(of("d_light"), false).to_owned()
                + &words::density(d.d_light, d.d_light_u, d.code_step_light_d),
            notes: notes("d_light"),
        },
        NumberView {
            label: "Darkest tone".to_owned(),
            value: words::bound(of("d_dark"), true).to_owned()
                + &words::density(d.d_dark, d.d_dark_u, d.code_step_dark_d),
            notes: notes("d_dark"),
        },
        NumberView {
            label: "Range".to_owned(),
            value: words::bound(of("d_dark"), true).to_owned()
                + &words::density(d.range_d, d.range_d_u, d.code_step_dark_d),
            notes: notes("range_d"),
        },
        NumberView {
            label: "Mean".to_owned(),
            value: words::density(d.mean_d, d.mean_d_u, None),
            notes: notes("mean_d"),
        },
    ];
    if let Some(veil_d) = d.veil_d {
        rows.push(NumberView {
            label: "Veil above bare support".to_owned(),
            value: words::density(veil_d, d.veil_d_u, d.code_step_dark_d),
            notes: notes("veil_d"),
        });
    }
    if let Some(tone) = d.tone {
        rows.push(NumberView {
            label: "Tone (CIE L*, a*, b*)".to_owned(),
            value: format!(
                "{}, {}, {}",
                words::decimal(tone.l, 0),
                words::decimal(tone.a, 1),
                words::decimal(tone.b, 1)
            ),
            notes: Vec::new(),
        });
    }
    rows
}

/// Doubts that hang on both ends of the tone scale are said once for all.
fn shared(report: &Report) -> Vec<Doubt> {
    let of = |key: &str| {
        report
            .density
            .doubts_of
            .get(key)
            .cloned()
            .unwrap_or_default()
    };
    let dark = of("d_dark");
    let both = of("d_light").into_iter().filter(|d| dark.contains(d));
    both.collect()
}

fn shared_doubts(report: &Report) -> Option<String> {
    let mut doubts = shared(report);
    for doubt in &report.scan.doubts {
        if !doubts.contains(doubt) {
            doubts.push(*doubt);
        }
    }
    let names: Vec<String> = doubts.iter().map(|d| d.short().to_owned()).collect();
    (!names.is_empty()).then(|| words::listed(&names))
}

fn scan_facts(report: &Report) -> Vec<NumberView> {
    let (scan, plate) = (&report.scan, &report.plate);
    let row = |label: &str, value: String| NumberView {
        label: label.to_owned(),
        value,
        notes: Vec::new(),
    };
    let mut rows = vec![
        row("File", scan.file.clone()),
        row(
            "Picture",
            format!(
                "{} × {} pixels, {} bits, {}",
                scan.width_px,
                scan.height_px,
                scan.bits,
                match scan.channels {
                    1 => "1 channel".to_owned(),
                    channels => format!("{channels} channels"),
                }
            ),
        ),
        row("Tone curve", scan.colour_source.clone()),
        row(
            "Densities",
            scan.calibration
                .clone()
                .unwrap_or_else(|| "as the scanner believes, not calibrated".to_owned()),
        ),
    ];
    if let (Some(x), Some(y)) = (scan.dpi_x, scan.dpi_y) {
        let dpi = if (x - y).abs() < 0.5 {
            format!("{x:.0} dots per inch")
        } else {
            format!("{x:.0} × {y:.0} dots per inch")
        };
        rows.push(row("Resolution", dpi));
    }
    rows.push(row(
        "Scale",
        match scan.scale_source {
            ScaleSource::FileTag => "from the file",
            ScaleSource::FileTagUnitCorrected => "from the file, its unit corrected",
            ScaleSource::PlateSize => "from the plate size",
            ScaleSource::Unknown => "unknown, lengths are left out",
        }
        .to_owned(),
    ));
    rows.push(row(
        "Plate",
        match (plate.found, plate.turn_deg) {
            (false, _) => "outline not found, the whole picture was taken".to_owned(),
            (true, turn) if turn.abs() < 0.05 => "found, lying straight".to_owned(),
            (true, turn) => format!(
                "found, turned {} {}",
                words::decimal(turn.abs(), 1) + "°",
                if turn > 0.0 {
                    "clockwise"
                } else {
                    "anticlockwise"
                }
            ),
        },
    ));
    if let Some(side) = plate.scanned_from {
        let side = match side {
            ScannedFrom::CoatedSide => "the coated side",
            ScannedFrom::ThroughGlass => "through the glass",
        };
        rows.push(row("Scanned from", side.to_owned()));
    }
    rows
}

fn handling_facts(handling: &Handling) -> Vec<String> {
    let mut facts = Vec::new();
    if let Some(axis_deg) = handling.dip_axis_deg {
        facts.push(format!("dipped along {axis_deg:.0}° from the vertical"));
    }
    if let Some(direction_deg) = handling.developer_direction_deg {
        let toward = words::toward(direction_deg);
        facts.push(format!(
            "developer swept toward {toward} ({direction_deg:.0}°)"
        ));
    }
    if let Some(corner) = handling.drain_corner {
        let corner = match corner {
            Corner::TopLeft => "top left",
            Corner::TopRight => "top right",
            Corner::BottomRight => "bottom right",
            Corner::BottomLeft => "bottom left",
        };
        facts.push(format!("collodion drained at the {corner} corner"));
    }
    facts
}

fn settings_text(settings: &serde_json::Value) -> Option<String> {
    if settings.is_null() {
        return None;
    }
    serde_json::to_string_pretty(settings).ok()
}
