//! The report as one page that needs nothing else.
//!
//! The page runs no script at all, and its content policy forbids any; switches and folds are plain
//! check boxes. Every word that comes from a file is escaped by the template.

use minijinja::syntax::SyntaxConfig;
use minijinja::value::{Serde, Value};
use minijinja::{Environment, HtmlEscape};
use serde::Serialize;
use serde_json::json;

use super::picture::PlatePicture;
use super::plate_map::{PlateMap, TAG_RADIUS};
use super::{Report, ReportError, figures, mark_figures, sentence, shape_figures, words};

mod causes;
mod facts;
mod finding;
mod number;
mod tones;
mod untold;

pub(super) use causes::{check_next as check_view, views as cause_views};
pub(super) use facts::plate_line;
use finding::FindingView;

/// The page of one plate: picture, marks, charts, words.
pub(super) fn page(report: &Report, picture: &PlatePicture) -> Result<String, ReportError> {
    let file = || report.scan.file.clone();
    let failed = |why: String| ReportError::Page { file: file(), why };
    let chart_failed = |why: crate::charts::ChartError| failed(why.to_string());
    let shown = picture.page.as_ref();
    let aspect = match shown {
        Some(shown) => shown.height_px as f64 / shown.width_px as f64,
        None => report.plate.aspect,
    };
    let map = PlateMap::new(aspect);
    let ordered = report.worst_first();
    let drawn = map.draw(&ordered);
    let mut findings: Vec<FindingView> = ordered
        .iter()
        .zip(&drawn)
        .enumerate()
        .map(|(i, (finding, drawn))| finding::view(i + 1, finding, drawn))
        .collect();
    for (view, finding) in findings.iter_mut().zip(&ordered) {
        let handling = report.handling.as_ref();
        view.rose = mark_figures::tails(finding, handling).map_err(chart_failed)?;
        view.sizes = mark_figures::sizes(finding).map_err(chart_failed)?;
        view.across = shape_figures::across(finding, report).map_err(chart_failed)?;
        view.pour_map = shape_figures::pour_map(finding, report).map_err(chart_failed)?;
    }
    let profiles: Vec<_> = figures::profiles(report)
        .map_err(chart_failed)?
        .into_iter()
        .map(|(edge, svg)| json!({"edge": edge.word(), "svg": svg}))
        .collect();
    // With one finding its own causes say it all.
    let plate_causes = match findings.len() {
        0 | 1 => Vec::new(),
        _ => causes::views(&report.plate_causes),
    };
    let doubts = report
        .doubts_explained
        .iter()
        .map(|(doubt, long)| json!({"short": words::capitalised(doubt.short()), "long": long}));
    let program = &report.program;
    let view = json!({
        "name": report.plate_name(),
        "sheet_name": facts::sheet_name(report.plate_name()),
        "program": {"name": program.name, "version": program.version},
        "schema": report.schema,
        "found": sentence::found(report),
        "outline": sentence::outline(report),
        "untold": sentence::untold(report).map(|untold| words::sentence(&untold)),
        "facts": plate_line(report),
        "picture": shown.map(|shown| &shown.address),
        "map": {"width": map.width.round(), "height": map.height.round(), "tag": TAG_RADIUS},
        "kinds": kinds(&findings),
        "findings": findings,
        "map_words": shape_figures::map_words(report),
        "plate_causes": plate_causes,
        "cautions": causes::all_cautions(report),
        "check_next": causes::check_next(report.check_next.as_ref(), &report.plate_causes),
        "looked_for": facts::looked_for(report),
        "cannot_tell": untold::views(&report.cannot_tell),
        "histogram": figures::histogram(report).map_err(chart_failed)?,
        "profiles": profiles,
        "zero": report.density.zero_source,
        "densities": tones::densities(report),
        "shared_doubts": tones::shared_doubts(report),
        "scan_facts": facts::scan_facts(report),
        "handling": report.handling.is_some(),
        "told": facts::told_facts(report),
        "warnings": report.scan.warnings,
        "doubts": doubts.collect::<Vec<_>>(),
        "settings": facts::settings_text(&report.settings),
    });
    render("page.html", &view).map_err(|why| failed(why.to_string()))
}

/// Fills in one of the templates; names in `.html` escape every value.
pub(super) fn render(template: &str, view: &serde_json::Value) -> Result<String, minijinja::Error> {
    let text = match template {
        "session.html" => include_str!("../session.html"),
        _ => include_str!("../page.html"),
    };
    fill(template, text, view)
}

/// Fills in a template that may include `page.css`; its name must end in `.html`, so that values are escaped.
pub(super) fn fill(
    name: &str,
    text: &str,
    view: &serde_json::Value,
) -> Result<String, minijinja::Error> {
    let mut pages = Environment::new();
    let syntax = SyntaxConfig::builder()
        .trim_blocks(true)
        .lstrip_blocks(true)
        .build()?;
    pages.set_syntax(syntax);
    pages.add_filter("options", options);
    pages.add_template("page.css", include_str!("../page.css"))?;
    for (known, text) in [
        ("cause.html", include_str!("../cause.html")),
        ("page.html", include_str!("../page.html")),
        ("session.html", include_str!("../session.html")),
        (name, text),
    ] {
        pages.add_template(known, text)?;
    }
    pages.get_template(name)?.render(Value::from(Serde(view)))
}

/// Keeps options of the command line (`--process`) on one line; escapes all else.
fn options(text: &str) -> Value {
    let words = text.split(' ').map(|word| {
        let escaped = HtmlEscape(word);
        match word.starts_with("--") {
            true => format!("<span class=\"option\">{escaped}</span>"),
            false => escaped.to_string(),
        }
    });
    Value::from_safe_string(words.collect::<Vec<_>>().join(" "))
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
