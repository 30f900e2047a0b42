//! What can be typed after `oystermark read`.

use std::path::PathBuf;

use clap::Args;

use oystermark::findings::Severity;
use oystermark::handling::{Corner, Handling, HandlingSource};
use oystermark::plate::sizes::PlateSize;
use oystermark::plate::{Given, PlateKind, Process, ScannedFrom};
use oystermark::scan::Encoding;
use oystermark::settings::{MeasureName, Settings};

use crate::cli::args;
use crate::cli::bath::keep::KeepArgs;
use crate::cli::told::Typed;

/// Read scans and write a report for each plate
///
/// Each plate gets a page to look at (STEM.html) and the same report for programs (STEM.json), named
/// after the scan. Several plates in one scan are told apart as STEM-1, STEM-2 in reading order.
/// When several plates are read, session.html lists them all. What you do not say about a plate is
/// judged from the scan, and the report says so.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  oystermark read plate-17.tif --process positive_on_metal --plate-size sixth",
    after_long_help = "Examples:
  One plate, with what you know of it:
    oystermark read plate-17.tif --process positive_on_metal --plate-size sixth

  A whole market day, the reports in a folder of their own:
    oystermark read market-day/ --out market-day-reports

  A blank test plate, with the way it was dipped and developed:
    oystermark read blank.tif --kind blank --dip-axis 0 --developer-toward 90

  The same in the maker's words, from a file:
    oystermark read blank.tif --kind blank --handling blank.toml

  What you wrote down at the bench, one row a scan (oystermark sheet writes an empty one):
    oystermark read market-day/ --sheet market-day.csv

  Dust or plate? Told by a second scan with the plate turned half round on the glass:
    oystermark read plate-17.tif --turned plate-17-turned.tif

  In a script, stopping when a plate is spoilt:
    oystermark read plate-17.tif --json --fail-on spoils

Exit codes:
  0  all plates were analysed, whatever was found on them
  1  something found reached the grade of --fail-on
  2  a plate could not be analysed, or the command was wrong"
)]
pub struct ReadArgs {
    /// Scans (TIFF, PNG, JPEG), or folders of scans
    ///
    /// Of a folder, all files that end in tif, tiff, png, jpg or jpeg are read, in the order of
    /// their names. Folders inside it are not searched.
    #[arg(required = true, value_name = "SCAN")]
    pub(super) scans: Vec<PathBuf>,

    /// Folder for the reports [default: a folder `reports` beside each scan]
    ///
    /// Made if it is not there. Only reports of this program are replaced in it, nothing else.
    #[arg(long, value_name = "DIR")]
    pub(super) out: Option<PathBuf>,

    /// How the plate was made
    #[arg(long, value_parser = args::process(), help_heading = "About the plate")]
    pub(super) process: Option<Process>,

    /// What the plate was made for
    #[arg(long, value_parser = args::kind(), help_heading = "About the plate")]
    pub(super) kind: Option<PlateKind>,

    /// Size by name or in mm, cm or in: sixth, half-uk, 8x10, 82.5x108mm
    ///
    /// Names of the trade: whole, half-us, half-uk, quarter, sixth, eighth, ninth, sixteenth, gem,
    /// lantern, stereo, 4x5, 5x7, 8x10, 11x14, 13x18cm and so on; 1/4 and 1/6 are understood too.
    /// A plain half may be the American or the English plate; the outline then decides. Or both
    /// sides with their unit, in either order: 82.5x108mm, 8.3x10.8cm, "3 1/4 x 4 1/4 in".
    #[arg(long, value_name = "SIZE", value_parser = args::plate_size, help_heading = "About the plate")]
    pub(super) plate_size: Option<PlateSize>,

    /// Corners in pixels, clockwise from the top left: x1,y1,x2,y2,x3,y3,x4,y4
    ///
    /// For a plate whose outline cannot be told from the lid. Only with a single scan.
    #[arg(
        long,
        value_name = "X1,Y1,...",
        value_parser = args::corners_px,
        allow_hyphen_values = true,
        help_heading = "About the plate"
    )]
    pub(super) corners: Option<[[f64; 2]; 4]>,

    /// Density of the bare support, if you have measured it
    ///
    /// Japanned metal or black glass of a positive, clear glass of a negative. It sets the zero
    /// from which veil is counted on a plate without a bare rim.
    #[arg(long, value_name = "D", value_parser = args::support_d, help_heading = "About the plate")]
    pub(super) support_density: Option<f64>,

    /// File that says how the plate was poured, dipped, developed and scanned
    ///
    /// A few lines such as `drained_at = "bottom left"`; the README has an example. What is typed here
    /// goes before what stands in the file.
    #[arg(long, value_name = "FILE", help_heading = "How it was handled")]
    pub(super) handling: Option<PathBuf>,

    /// Session sheet: what you wrote down of each plate, one row a scan (CSV)
    ///
    /// Process, size, handling, bath, times, temperatures, answers to checks and verdicts on findings;
    /// `oystermark sheet` writes an empty one with explanations. A row goes with the scan of its name. It
    /// goes before the file of --handling, and what is typed here goes before it. Rows that cannot be used
    /// are named and left out.
    #[arg(long, value_name = "FILE", help_heading = "How it was handled")]
    pub(super) sheet: Option<PathBuf>,

    /// Axis along which the plate went into the silver bath, degrees
    ///
    /// As the plate lies in the scan: 0 is upright, 90 across, clockwise from the upright.
    #[arg(long, value_name = "DEG", value_parser = args::axis_deg, help_heading = "How it was handled")]
    pub(super) dip_axis: Option<f64>,

    /// Direction toward which the developer was swept, degrees
    ///
    /// As the plate lies in the scan: 0 toward the top, 90 right, 180 down, 270 left.
    #[arg(long, value_name = "DEG", value_parser = args::direction_deg, help_heading = "How it was handled")]
    pub(super) developer_toward: Option<f64>,

    /// Corner at which the collodion was drained, as the plate lies in the scan
    #[arg(long, value_name = "CORNER", value_parser = args::corner(), help_heading = "How it was handled")]
    pub(super) drain_corner: Option<Corner>,

    /// Side of the plate that lay toward the scanner
    #[arg(long, value_name = "SIDE", value_parser = args::scanned_from(), help_heading = "About the scan")]
    pub(super) scanned_from: Option<ScannedFrom>,

    /// A second scan of the same plate, turned half round on the glass
    ///
    /// What turns with the plate is the plate's, what stays with the glass is dust. Scan, lift the
    /// plate, turn it by 180 degrees, lay it down again and scan once more without wiping the glass.
    /// Only with a single scan.
    #[arg(long, value_name = "SCAN2", help_heading = "About the scan")]
    pub(super) turned: Option<PathBuf>,

    /// How values stand for light in a file without a colour profile
    #[arg(
        long,
        value_name = "CODING",
        value_parser = args::encoding(),
        default_value = "srgb",
        help_heading = "About the scan"
    )]
    pub(super) encoding: Encoding,

    /// Measure only these, as in tone,specks [default: all]
    #[arg(long, value_name = "NAME,...", value_parser = args::measure(), value_delimiter = ',')]
    pub(super) measures: Vec<MeasureName>,

    /// Exit with 1 when something found is at least this grave
    #[arg(long, value_name = "GRADE", value_parser = args::grade())]
    pub(super) fail_on: Option<Severity>,

    #[command(flatten)]
    pub(super) keep: KeepArgs,

    /// Print each report as one line of JSON and nothing else
    #[arg(long)]
    pub(super) json: bool,

    /// Print nothing but errors
    #[arg(long, short, conflicts_with = "json")]
    pub(super) quiet: bool,
}

impl ReadArgs {
    /// What is typed of all plates, and the files that say more.
    pub(super) fn typed(&self) -> Typed<'_> {
        let typed = Handling {
            dip_axis_deg: self.dip_axis,
            developer_direction_deg: self.developer_toward,
            drain_corner: self.drain_corner,
            ..Handling::default()
        };
        Typed {
            given: Given {
                process: self.process,
                kind: self.kind,
                plate_size: self.plate_size.clone(),
                corners_px: self.corners,
                scanned_from: self.scanned_from,
                support_d: self.support_density,
                handling: None,
            },
            handling: typed.said_by(HandlingSource::CommandLine),
            handling_file: self.handling.as_deref(),
            sheet: self.sheet.as_deref(),
        }
    }

    /// The settings of the run.
    pub(super) fn settings(&self) -> Settings {
        let mut settings = Settings::default();
        settings.scan.encoding = self.encoding;
        if !self.measures.is_empty() {
            settings.measures = self.measures.iter().copied().collect();
        }
        settings
    }
}
