//! Every flag and its help text; no work is done here.

use crate::job::{Close, Control, Face, Limit, Settled, SignedAxis, SkinOverride, Units};
use crate::store::Store;
use clap::{Args, Parser, Subcommand, ValueEnum};
use cragskin_geom::soundness;
use std::path::PathBuf;

/// Takeoffs for carved skins over foam cores, from a designer's exported model.
#[derive(Debug, Parser)]
#[command(name = "cragskin", version, about, arg_required_else_help = true)]
#[command(after_help = "Exit codes: 0 done; 1 done, but a limit is exceeded or not known; 2 could not do it.")]
pub struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
    /// Show no progress; without a terminal none is shown anyway
    #[arg(long, global = true)]
    pub quiet: bool,
}

/// The commands, in the order of the work.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// What is in the file: size in every unit, parts, defects, how far each number can be trusted
    Look(Look),
    /// Areas, lean, skin, bags, primer, lath, foam and weight on one screen; --full shows every sum
    Takeoff(Takeoff),
    /// The takeoff as a page to open, a print, a workbook and pictures
    Report(Report),
    /// The whole set of papers and files for a job, from one measurement: all that takeoff, flag, sheets, core and report write
    Set(Set),
    /// What to fix before foam is cut: numbered places, zones with lath and lifts, joints; models marked in colour
    Flag(Flag),
    /// What the foam shop cuts: the core of a finished model as a mesh, and the places with no foam or too little
    Core(Core),
    /// Elevations of the zones for the wall, to scale with tape dimensions (SVG)
    Sheets(Sheets),
    /// Two revisions: what moved, and what it costs in area, lath, lifts, bags, foam and weight
    Compare(Compare),
    /// A row for every model of a folder or list, checked against the same limits
    Batch(Batch),
    /// Print the default material book (invented values) to start your own
    Book,
    /// Print a starter job file for a model
    Job(Job),
    /// Print a script that completes commands and flags on the command line
    Completions(Completions),
    /// Write manual pages, one a command
    Man(Man),
}

/// How the file lies in the room. STL and OBJ say neither unit nor up.
#[derive(Args, Clone, Debug, Default)]
pub struct PlacingFlags {
    /// Unit the model was drawn in: mm, cm, in, ft or m
    #[arg(long, value_name = "UNIT")]
    pub units: Option<Units>,
    /// A length you know, along a file axis, to find or check the unit: "x=13 ft 9 in"
    #[arg(long, value_name = "AXIS=LENGTH")]
    pub control: Option<Control>,
    /// Scale the model so that it has this length along a file axis, where no unit fits: "x = 8 ft"
    #[arg(long, value_name = "AXIS=LENGTH")]
    pub scale_to: Option<Control>,
    /// File axis that points up [default: +z]
    #[arg(long, value_name = "AXIS", allow_hyphen_values = true)]
    pub up: Option<SignedAxis>,
    /// File axis that points at the visitor [default: -y]
    #[arg(long, value_name = "AXIS", allow_hyphen_values = true)]
    pub front: Option<SignedAxis>,
}

/// Which side of open sheets is coated.
#[derive(Args, Clone, Copy, Debug, Default)]
pub struct SheetFlags {
    /// Open sheets are coated on the side that they are drawn to face: none is turned over
    #[arg(long, conflicts_with = "outward")]
    pub as_drawn: bool,
    /// Open sheets are coated outward: one drawn inward, or away from the visitor, is turned over
    #[arg(long)]
    pub outward: bool,
}

impl SheetFlags {
    /// The answer, if one is given.
    #[must_use]
    pub const fn side(self) -> Option<soundness::Sheets> {
        match (self.as_drawn, self.outward) {
            (true, _) => Some(soundness::Sheets::AsDrawn),
            (_, true) => Some(soundness::Sheets::Outward),
            _ => None,
        }
    }
}

/// `look`.
#[derive(Args, Clone, Debug)]
pub struct Look {
    /// Model (STL or OBJ)
    pub model: PathBuf,
    #[command(flatten)]
    #[expect(missing_docs)]
    pub placing: PlacingFlags,
    #[command(flatten)]
    #[expect(missing_docs)]
    pub sheets: SheetFlags,
    /// A part (or material) that is not ours, so that nothing of it is counted; may be given again
    #[arg(long, value_name = "PART")]
    pub leave_out: Vec<String>,
    /// Print JSON
    #[arg(long)]
    pub json: bool,
}

/// `job`.
#[derive(Args, Clone, Debug)]
pub struct Job {
    /// Model (STL or OBJ)
    pub model: PathBuf,
    #[command(flatten)]
    #[expect(missing_docs)]
    pub placing: PlacingFlags,
}

/// What a job file can say too. A flag wins over the file.
#[derive(Args, Clone, Debug, Default)]
pub struct JobFlags {
    #[command(flatten)]
    #[expect(missing_docs)]
    pub placing: PlacingFlags,
    /// Which face was drawn: what visitors see, or what the foam shop cuts [default: finished]
    #[arg(long, value_name = "finished|core")]
    pub face: Option<Face>,
    /// Close an open facade straight back to its farthest point, or straight down, so that a core can be cut
    #[arg(long, value_name = "back|floor")]
    pub close: Option<Close>,
    /// Applied skin thickness, in place of the book's cover, spread and carve depth: "3/4 in"
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub skin: Option<SkinOverride>,
    /// Measure the skin to 0.05 % in place of 0.5 %: some ten times the time
    #[arg(long)]
    pub fine: bool,
    /// Material book (TOML) in place of the job's or the default one
    #[arg(long, value_name = "FILE")]
    pub book: Option<PathBuf>,
    /// The lowest flat that faces down
    #[arg(long, value_name = "bare|coated")]
    pub floor: Option<Settled>,
    /// The flat extreme away from the visitor
    #[arg(long, value_name = "bare|coated")]
    pub back: Option<Settled>,
    /// What faces down near the floor, farther in under the edge than a tool reaches
    #[arg(long, value_name = "bare|coated")]
    pub underside: Option<Settled>,
    #[command(flatten)]
    #[expect(missing_docs)]
    pub sheets: SheetFlags,
    /// A part (or material) that gets no skin; may be given again
    #[arg(long, value_name = "PART")]
    pub bare_part: Vec<String>,
    /// A part (or material) that is not ours: scale figure, furniture, water; may be given again
    #[arg(long, value_name = "PART")]
    pub leave_out: Vec<String>,
    /// End with exit code 1 when it is so: "undercut area > 20 sq ft"; may be given again
    #[arg(long, value_name = "RULE")]
    pub limit: Vec<Limit>,
    #[command(flatten)]
    #[expect(missing_docs)]
    pub store: StoreFlags,
}

/// Where what was measured is kept, so that the next command does not measure it again.
#[derive(Args, Clone, Debug, Default)]
pub struct StoreFlags {
    /// Folder for what was measured, which may be deleted at any time [default: cragskin in the user's cache folder]
    #[arg(long = "store", value_name = "DIR")]
    pub folder: Option<PathBuf>,
    /// Measure anew: neither look for what was measured before nor keep it
    #[arg(long, conflicts_with = "folder")]
    pub no_store: bool,
}

impl StoreFlags {
    /// The store that they ask for.
    #[must_use]
    pub fn store(&self) -> Store {
        match &self.folder {
            _ if self.no_store => Store::default(),
            Some(folder) => Store::new(Some(folder.clone())),
            None => Store::of_the_user(),
        }
    }
}

/// `takeoff`.
#[derive(Args, Clone, Debug)]
pub struct Takeoff {
    /// Model (STL or OBJ), or a job file (TOML)
    pub model: PathBuf,
    #[command(flatten)]
    #[expect(missing_docs)]
    pub job: JobFlags,
    /// Print JSON
    #[arg(long, conflicts_with = "csv")]
    pub json: bool,
    /// Print the order list and measures as CSV
    #[arg(long)]
    pub csv: bool,
    /// Print everything: every sum, zone, place without foam and caution
    #[arg(long, conflicts_with_all = ["json", "csv"])]
    pub full: bool,
    /// Write a picture of the piece by lean (PNG)
    #[arg(long, value_name = "FILE")]
    pub picture: Option<PathBuf>,
    /// Write takeoff.txt, takeoff.json and takeoff.csv into this folder, all or none
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
}

/// `completions`.
#[derive(Args, Clone, Copy, Debug)]
pub struct Completions {
    /// The shell that they are for
    #[arg(value_enum)]
    pub shell: clap_complete::Shell,
}

/// `man`.
#[derive(Args, Clone, Debug)]
pub struct Man {
    /// Folder for the pages, all or none
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
}

/// `set`.
#[derive(Args, Clone, Debug)]
pub struct Set {
    /// Model (STL or OBJ), or a job file (TOML)
    pub model: PathBuf,
    #[command(flatten)]
    #[expect(missing_docs)]
    pub job: JobFlags,
    /// Folder for the set, all or none: takeoff, flag and zones, page.html, takeoff.pdf, takeoff.xlsx, tables.csv, and folders for
    /// sheets, core and pictures
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// Paper of the print and the sheets
    #[arg(long, value_enum, default_value = "letter")]
    pub paper: PaperSize,
    /// The date to stand on page and print, as you write it; the program asks no clock
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub date: String,
}

/// `flag`.
#[derive(Args, Clone, Debug)]
pub struct Flag {
    /// Model (STL or OBJ), or a job file (TOML)
    pub model: PathBuf,
    #[command(flatten)]
    #[expect(missing_docs)]
    pub job: JobFlags,
    /// Print JSON
    #[arg(long)]
    pub json: bool,
    /// Write flag.txt, flag.json and the model with its zones in colour (OBJ, PLY, GLB) into this folder, all or none
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
}

/// `core`.
#[derive(Args, Clone, Debug)]
pub struct Core {
    /// Model (STL or OBJ), or a job file (TOML)
    pub model: PathBuf,
    #[command(flatten)]
    #[expect(missing_docs)]
    pub job: JobFlags,
    /// Print JSON
    #[arg(long)]
    pub json: bool,
    /// Write core.stl and core.obj (of a core face finished.*, and core.stl as drawn), no_foam.csv, core.txt and core.json into this folder, all
    /// or none
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
}

/// Paper of a sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum PaperSize {
    /// 8.5 x 11 in
    Letter,
    /// 210 x 297 mm
    A4,
}

/// `sheets`.
#[derive(Args, Clone, Debug)]
pub struct Sheets {
    /// Model (STL or OBJ), or a job file (TOML)
    pub model: PathBuf,
    #[command(flatten)]
    #[expect(missing_docs)]
    pub job: JobFlags,
    /// Paper
    #[arg(long, value_enum, default_value = "letter")]
    pub paper: PaperSize,
    /// Folder for front.svg, back.svg, left.svg, right.svg and top.svg, all or none
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
}

/// `compare`.
#[derive(Args, Clone, Debug)]
pub struct Compare {
    /// The old revision: model, or a job file whose rules are replayed on both
    pub old: PathBuf,
    /// The new revision: model or job file
    pub new: PathBuf,
    #[command(flatten)]
    #[expect(missing_docs)]
    pub job: JobFlags,
    /// Print JSON
    #[arg(long, conflicts_with = "csv")]
    pub json: bool,
    /// Print every line old, new and difference as CSV
    #[arg(long)]
    pub csv: bool,
    /// Write into this folder, all or none: the page as text, JSON and CSV; the new model with its changed places marked and what is
    /// gone of the old one beside them (PLY, OBJ, GLB); elevations with them hatched (SVG)
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
}

/// `batch`.
#[derive(Args, Clone, Debug)]
pub struct Batch {
    /// Models, job files, folders (searched for STL and OBJ), or - for a list of paths on standard input, one a line
    #[arg(required = true)]
    pub paths: Vec<PathBuf>,
    #[command(flatten)]
    #[expect(missing_docs)]
    pub job: JobFlags,
    /// Limits for every model: a TOML file with `[limits]` as in a job file
    #[arg(long, value_name = "FILE")]
    pub limits: Option<PathBuf>,
    /// Compare each model with this approved one (model or job file)
    #[arg(long, value_name = "FILE")]
    pub baseline: Option<PathBuf>,
    /// Print a line of JSON for each model as soon as it and all before it are done
    #[arg(long, conflicts_with = "csv")]
    pub jsonl: bool,
    /// Print CSV
    #[arg(long)]
    pub csv: bool,
    /// Write batch.txt, batch.jsonl and batch.csv into this folder, all or none
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Memory for models worked on at once: "4 GiB" [default: half of what is free]
    #[arg(long, value_name = "SIZE")]
    pub memory: Option<crate::batch::Memory>,
    /// Only the second of eight parts of the list: "2/8"; the rows of all parts together are the rows of the whole
    #[arg(long, value_name = "PART/PARTS")]
    pub shard: Option<crate::batch::Shard>,
}

/// `report`.
#[derive(Args, Clone, Debug)]
pub struct Report {
    /// Model (STL or OBJ), or a job file (TOML)
    pub model: PathBuf,
    #[command(flatten)]
    #[expect(missing_docs)]
    pub job: JobFlags,
    /// Write one self-contained page with a 3D view; it opens by double click, without network
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Write the printed takeoff
    #[arg(long, value_name = "FILE")]
    pub pdf: Option<PathBuf>,
    /// Paper of the printed takeoff
    #[arg(long, value_enum, default_value = "letter")]
    pub paper: PaperSize,
    /// Write the workbook, its order list as live formulas
    #[arg(long, value_name = "FILE")]
    pub xlsx: Option<PathBuf>,
    /// Write the tables of the workbook as one CSV
    #[arg(long, value_name = "FILE")]
    pub csv: Option<PathBuf>,
    /// Write still pictures into this folder: six views, each by lean, coated and bare, zones, lifts, thickness
    #[arg(long, value_name = "DIR")]
    pub pictures: Option<PathBuf>,
    /// An older revision (model or job file): what changed since is told and shown
    #[arg(long, value_name = "OLD")]
    pub against: Option<PathBuf>,
    /// The date to stand on page and print, as you write it; the program asks no clock
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub date: String,
}
