//! The arguments, verb by verb.

use std::path::{Path, PathBuf};

use clap::builder::TypedValueParser as _;
use clap::{Parser, Subcommand};

use crate::job::Tool;
use crate::plan::Budget;

use super::disk::Disk;
use super::typed::{Typed, TypedRange};
use super::{WrongInput, pictures, sheet};

/// Solder alloy and reflow-order planner: what each joint melts at now, what every step does to
/// its neighbours, and which alloys in which order leave the widest margin.
#[derive(Debug, Parser)]
#[command(name = "meltstair", version, max_term_width = 100)]
#[command(
    after_help = "Exit codes: 0 holds, 1 anything worse or no order, 2 the input is wrong, 3 an unknown decides."
)]
pub(super) struct Args {
    /// Answer as JSON, always in °C.
    #[arg(long, global = true)]
    pub(super) json: bool,

    /// Temperatures in °F in text, in pictures and in these arguments; differences that go in stay K, files °C.
    #[arg(long, global = true)]
    pub(super) fahrenheit: bool,

    /// Tell everything: notes, service, cautions, what is taken for granted.
    #[arg(long, global = true)]
    pub(super) full: bool,

    /// File with your own alloys and stock list.
    #[arg(long, global = true, value_name = "FILE")]
    pub(super) alloys_file: Option<PathBuf>,

    #[command(subcommand)]
    pub(super) verb: Verb,
}

#[derive(Debug, Subcommand)]
pub(super) enum Verb {
    /// Check the steps of a job in the order they are written.
    #[command(after_help = "Example: meltstair check charts/tide_gauge.yaml")]
    Check {
        /// The job file.
        job: PathBuf,
    },
    /// The bench as it is now: each joint, its metal, from where it melts, what it must bear.
    #[command(after_help = "Example: meltstair bench charts/organ_console.yaml")]
    Bench {
        /// The job file.
        job: PathBuf,
    },
    /// Find the best order of a job, with its open choices of alloy, tool and rounds.
    #[command(after_help = "Example: meltstair order charts/tide_gauge.yaml")]
    Order {
        /// The job file.
        job: PathBuf,
        /// Why this step stands where it does: the runner-up and what it costs.
        #[arg(long, value_name = "STEP")]
        why: Option<String>,
        /// Every trade between margin, heats on vital parts and number of steps.
        #[arg(long, conflicts_with = "why")]
        all: bool,
        /// Stop after so many benches, with the best so far and the proven bound.
        #[arg(long, value_name = "N", default_value_t = Budget::default().nodes)]
        nodes: usize,
        #[command(flatten)]
        limits: LimitArgs,
    },
    /// Name the smallest set of demands that cannot hold together, and what opens the job.
    #[command(after_help = "Example: meltstair clash charts/seismometer.yaml")]
    Clash {
        /// The job file.
        job: PathBuf,
        #[command(flatten)]
        limits: LimitArgs,
    },
    /// List alloys, filter them, or show one with every reading and its source.
    ///
    /// WHAT is nothing, metals (`sn bi`), a range (`120-140`, `<150`), `lead-free`, `stock`, or the
    /// name of one alloy as you say it.
    #[command(after_help = "Examples: meltstair alloys lead-free 100-150
          meltstair alloys sac305
          meltstair alloys --check my_alloys.yaml")]
    Alloys {
        /// What to list or show.
        what: Vec<String>,
        /// Look at a file of your own alloys before you rely on it.
        #[arg(long, value_name = "FILE", conflicts_with = "what")]
        check: Option<PathBuf>,
    },
    /// Blend solders and say when the mixture melts, and on what that rests.
    #[command(
        override_usage = "meltstair mix <SPEC> [OPTIONS]",
        after_help = "Examples: meltstair mix \"ball 0.3 snbi + film 10um 63/37 on 0.3\"
          meltstair mix \"Bi58Sn42 0.1209mg + Sn63Pb37 0.0059mg\" --at 150 --curve curve.svg
          meltstair mix \"ball 0.3 snbi + film 10um 63/37 on 0.3\" --sweep sweep.png --at 120"
    )]
    Mix {
        /// Terms with `+` between: masses, mass %, balls, films, domes, paste.
        spec: String,
        /// Say how much is liquid there, °C (or `302F`); with a sweep, for each mixture.
        #[arg(long, num_args = 1.., value_name = "C", allow_negative_numbers = true, value_parser = Typed::keep)]
        at: Vec<Typed>,
        /// Draw the melting curve; `.svg` or `.png`.
        #[arg(long, value_name = "FILE", conflicts_with = "sweep")]
        curve: Option<PathBuf>,
        /// More and more of the second metal in the first; with a file, drawn as well.
        #[arg(long, value_name = "FILE", num_args = 0..=1, default_missing_value = "", value_parser = clap::builder::OsStringValueParser::new().map(PathBuf::from))]
        sweep: Option<PathBuf>,
        /// With what the standard lets metal as sold hold beside what it is named for.
        #[arg(long, conflicts_with = "sweep")]
        as_sold: bool,
        /// Take readings as exact.
        #[arg(long, num_args = 1.., value_name = "ALLOY:SOLIDUS/LIQUIDUS")]
        pin: Vec<String>,
    },
    /// Pick the alloy for the next joint: every alloy judged, best first, and why others cannot.
    #[command(
        after_help = "Examples: meltstair pick --over sac305 63/37 --service 60
          meltstair pick --over 63/37 --residue 63/37:1.7%
          meltstair pick charts/tide_gauge.yaml --joint site"
    )]
    Pick(PickArgs),
    /// Draw the best order of a job as a staircase, or the alloy ladder for the wall.
    #[command(
        after_help = "Examples: meltstair chart charts/tide_gauge.yaml -o staircase.png
          meltstair chart charts/tide_gauge.yaml --text
          meltstair chart --ladder --paper a3 -o ladder.svg
          meltstair chart --wall -o wall.svg"
    )]
    Chart(ChartArgs),
    /// How hot every place gets in one step, by the board and the tool as the job describes them.
    ///
    /// Shows the likeliest peak of every joint, part and guard with its band, how long it could stand
    /// above its first melt, what `check` counts, and whether the target surely flows in time. The
    /// board wants size, thickness, layers, copper and coverage; the step a tool in physical terms.
    /// Nothing of it was measured on a bench: `learn` narrows the band with a thermocouple.
    ///
    /// Without any of that a coupling of your own does: on a scrap board of that kind, one thermocouple at the
    /// target and one at the neighbour, the step done as it will be done. k = (there − preheat) / (target −
    /// preheat), both at their hottest; state it as `k: {tails: 0.6}`. `did --sees` works it out from what
    /// was read.
    #[command(
        after_help = "Examples: meltstair heat charts/bell_buoy.yaml set --map map.png --trace trace.svg
          meltstair heat charts/bell_buoy.yaml set --lowest-preheat 40..140 --within 60"
    )]
    Heat(HeatArgs),
    /// Learn from thermocouples: fits losses, coupling, conduction and what else is guessed, keeps it in the job.
    ///
    /// READINGS holds lines `seconds,place,celsius`: seconds since the tool came (or `peak`), the id of a
    /// joint or guard with `at_mm` (or a point of the board in mm, `40 26`), and what was read. One run of one
    /// tool. A single peak given to `did --sees` teaches as well. The fit is always of all readings that stand: files
    /// named under `learned` and lines of the log; the same file told twice counts once, and `undo` and
    /// `--forget` take back what they taught.
    #[command(
        after_help = "Examples: meltstair learn charts/bell_buoy.yaml run1.csv --step set
          meltstair learn charts/bell_buoy.yaml --forget run1.csv"
    )]
    Learn(LearnArgs),
    /// Compare routes: each job file planned and judged, best first.
    #[command(
        after_help = "Example: meltstair compare charts/tide_gauge.yaml charts/organ_console.yaml -o routes.svg"
    )]
    Compare {
        /// Job files, one a route.
        #[arg(required = true, num_args = 2..)]
        jobs: Vec<PathBuf>,
        /// Picture to write; `.svg` or `.png`.
        #[arg(short, long, value_name = "FILE")]
        out: Option<PathBuf>,
        #[command(flatten)]
        limits: LimitArgs,
    },
    /// Log that a step was done, or that it failed: one line more in the job file.
    #[command(
        after_help = "Examples: meltstair did job.yaml set --peak 166 --sees tails:148
          meltstair did job.yaml set --failed \"two balls open\"
          meltstair did job.yaml meter --reads bus:0.12 bus:ground:230 bus:clock:open"
    )]
    Did(DidArgs),
    /// Take the last line of the log back.
    #[command(after_help = "Example: meltstair undo job.yaml")]
    Undo {
        /// The job file.
        job: PathBuf,
    },
    /// Write a commented job to start from; without a file, print it.
    #[command(after_help = "Example: meltstair new my_job.yaml")]
    New {
        /// The file; must not exist yet.
        file: Option<PathBuf>,
    },
    /// What the words mean that answers use.
    #[command(after_help = "Example: meltstair words")]
    Words,
    /// The keys of one thing of a job file, or of a step by its verb.
    #[command(after_help = "Example: meltstair keys place")]
    Keys {
        /// Of what: part, joint, board, want, place, remove, …; without it, all that there is.
        thing: Option<String>,
    },
    /// Print the JSON Schema of the job file.
    #[command(after_help = "Example: meltstair schema > job.schema.json")]
    Schema,
    /// Write the bench sheet of a job: one page to print, tick off and write on.
    #[command(after_help = "Example: meltstair sheet charts/tide_gauge.yaml -o tide_gauge.html")]
    Sheet {
        /// The job file.
        job: PathBuf,
        /// Page to write; `.html`.
        #[arg(short, long, value_name = "FILE")]
        out: PathBuf,
        #[command(flatten)]
        limits: LimitArgs,
    },
    /// Practise: questions made by the same engine, with answers, reasons and staircases.
    #[command(after_help = "Examples: meltstair drill --level 3
          meltstair drill --level 4 --seed 7 --paper > test.txt")]
    Drill(DrillArgs),
    /// Print shell completions.
    #[command(hide = true)]
    Completions {
        /// For which shell.
        shell: clap_complete::Shell,
    },
    /// Print the manual page.
    #[command(hide = true)]
    Man,
}

#[derive(Debug, clap::Args)]
pub(super) struct PickArgs {
    /// A job file; needs `--joint`.
    pub(super) job: Option<PathBuf>,
    /// The joint of the job that gets the alloy.
    #[arg(long, value_name = "ID")]
    pub(super) joint: Option<String>,
    /// Alloys that stand already and see the whole peak.
    #[arg(long, num_args = 1.., value_name = "ALLOY", conflicts_with = "job")]
    pub(super) over: Vec<String>,
    /// Old solder in the new joint, and its share of the finished joint by mass.
    #[arg(long, value_name = "ALLOY:PERCENT", conflicts_with = "job")]
    pub(super) residue: Option<String>,
    /// Alloys on the shelf; others are still judged, and named as not on it.
    #[arg(long, num_args = 1.., value_name = "ALLOY", value_delimiter = ',')]
    pub(super) stock: Vec<String>,
    /// Take readings as exact.
    #[arg(long, num_args = 1.., value_name = "ALLOY:SOLIDUS/LIQUIDUS", conflicts_with = "job")]
    pub(super) pin: Vec<String>,
    /// Chains of so many alloys out of `--stock`, each melting well below the one before.
    #[arg(long, value_name = "N", conflicts_with = "job", value_parser = clap::value_parser!(u8).range(2..=6).map(usize::from))]
    pub(super) levels: Option<usize>,
    #[command(flatten)]
    pub(super) want: WantArgs,
    #[command(flatten)]
    pub(super) limits: LimitArgs,
}

/// What an answer that may take long may take.
#[derive(Clone, Copy, Debug, Default, clap::Args)]
pub(super) struct LimitArgs {
    /// Seconds that the search may take; then the best so far. 60 unless given.
    #[arg(long, value_name = "S", value_parser = clap::value_parser!(u64).range(1..=86_400))]
    pub(super) seconds: Option<u64>,
    /// Memory that the search may take, MB; then the best so far. 1000 unless given.
    #[arg(long, value_name = "MB", value_parser = clap::value_parser!(u64).range(20..=1_000_000))]
    pub(super) memory_mb: Option<u64>,
}

impl Verb {
    /// A picture or page that could not be saved under its name is refused before the work.
    pub(super) fn outputs_can_be_written(&self, disk: Disk) -> Result<(), WrongInput> {
        let drawn: Vec<&Path> = match self {
            Verb::Chart(args) => args.out.iter().map(PathBuf::as_path).collect(),
            Verb::Compare { out, .. } => out.iter().map(PathBuf::as_path).collect(),
            Verb::Heat(args) => [&args.map, &args.trace]
                .into_iter()
                .flatten()
                .map(PathBuf::as_path)
                .collect(),
            Verb::Mix { curve, sweep, .. } => {
                let sweep = sweep.iter().filter(|to| !to.as_os_str().is_empty());
                curve.iter().chain(sweep).map(PathBuf::as_path).collect()
            }
            Verb::Sheet { out, .. } => {
                sheet::is_page(out)?;
                return disk.can_be_written(out);
            }
            _ => Vec::new(),
        };
        drawn.into_iter().try_for_each(|to| {
            pictures::format_of(to)?;
            disk.can_be_written(to)
        })
    }

    /// Whether it plans: Ctrl-C then asks for the best so far. All else ends at once.
    pub(super) fn plans(&self) -> bool {
        matches!(
            self,
            Verb::Order { .. }
                | Verb::Clash { .. }
                | Verb::Compare { .. }
                | Verb::Sheet { .. }
                | Verb::Pick(_)
                | Verb::Chart(_)
        )
    }

    /// The limits of a verb that plans.
    pub(super) fn limits(&self) -> LimitArgs {
        match self {
            Verb::Order { limits, .. }
            | Verb::Clash { limits, .. }
            | Verb::Compare { limits, .. }
            | Verb::Sheet { limits, .. } => *limits,
            Verb::Pick(args) => args.limits,
            Verb::Chart(args) => args.limits,
            _ => LimitArgs::default(),
        }
    }
}

#[derive(Debug, clap::Args)]
pub(super) struct WantArgs {
    /// Margin to keep below the first melt, K.
    #[arg(long, value_name = "K")]
    pub(super) margin: Option<f64>,
    /// Gap between earlier solidus and later liquidus below which you are warned, K.
    #[arg(long, value_name = "K")]
    pub(super) gap: Option<f64>,
    /// Peak above the flow temperature, K.
    #[arg(long, value_name = "K")]
    pub(super) superheat: Option<f64>,
    /// Hottest place in use, °C.
    #[arg(long, value_name = "C", allow_negative_numbers = true, value_parser = Typed::keep)]
    pub(super) service: Option<Typed>,
    /// The joint must be lead-free by law.
    #[arg(long)]
    pub(super) lead_free: bool,
}

#[derive(Debug, clap::Args)]
pub(super) struct DidArgs {
    /// The job file.
    pub(super) job: PathBuf,
    /// Id of the step.
    pub(super) step: String,
    /// Peak as read at the target, °C.
    #[arg(long, value_name = "C", value_parser = Typed::keep)]
    pub(super) peak: Option<Typed>,
    /// Temperatures as read elsewhere.
    #[arg(long, num_args = 1.., value_name = "PLACE:C")]
    pub(super) sees: Vec<String>,
    /// Resistances as read before power: WIRE, WIRE:ground or WIRE:WIRE; `open` for no reading.
    #[arg(long, num_args = 1.., value_name = "WIRE:OHM")]
    pub(super) reads: Vec<String>,
    /// It failed, and why.
    #[arg(long, value_name = "WHY")]
    pub(super) failed: Option<String>,
    /// Alloy that was used, where the step left it open.
    #[arg(long, value_name = "ALLOY")]
    pub(super) alloy: Option<String>,
    /// Tool that was used, where the step left it open.
    #[arg(long, value_name = "TOOL")]
    pub(super) tool: Option<ToolArg>,
    /// Rounds that were done, whatever was planned.
    #[arg(long, value_name = "N")]
    pub(super) rounds: Option<u32>,
    /// Solder that each member got, mg, whatever was planned.
    #[arg(long, value_name = "MG")]
    pub(super) mg: Option<f64>,
}

#[derive(Clone, Copy, Debug, clap::ValueEnum)]
pub(super) enum ToolArg {
    Iron,
    Air,
    Tweezers,
    Infrared,
    Plate,
    Oven,
}

impl From<ToolArg> for Tool {
    fn from(tool: ToolArg) -> Tool {
        match tool {
            ToolArg::Iron => Tool::Iron,
            ToolArg::Air => Tool::Air,
            ToolArg::Tweezers => Tool::Tweezers,
            ToolArg::Infrared => Tool::Infrared,
            ToolArg::Plate => Tool::Plate,
            ToolArg::Oven => Tool::Oven,
        }
    }
}

#[derive(Debug, clap::Args)]
pub(super) struct LearnArgs {
    /// The job file.
    pub(super) job: PathBuf,
    /// Readings of one run, `.csv`; without them the fit is made anew from what stands.
    pub(super) readings: Option<PathBuf>,
    /// Take a file of readings back, by its name as it stands under `learned`.
    #[arg(long, value_name = "FILE", conflicts_with = "readings")]
    pub(super) forget: Option<String>,
    /// The step that was read; may be left out where only one describes its tool.
    #[arg(long, value_name = "STEP")]
    pub(super) step: Option<String>,
    /// How long the tool stayed; as the step says unless given.
    #[arg(long, value_name = "S", value_parser = clap::value_parser!(u32).range(1..=3600))]
    pub(super) seconds: Option<u32>,
    /// Uncertainty of a reading, K; 3 unless given.
    #[arg(long, value_name = "K")]
    pub(super) uncertain: Option<f64>,
}

#[derive(Debug, clap::Args)]
pub(super) struct HeatArgs {
    /// The job file.
    pub(super) job: PathBuf,
    /// Id of the step.
    pub(super) step: String,
    /// Draw the likely peaks over the board; `.svg` or `.png`.
    #[arg(long, value_name = "FILE")]
    pub(super) map: Option<PathBuf>,
    /// Draw temperatures in time; `.svg` or `.png`.
    #[arg(long, value_name = "FILE")]
    pub(super) trace: Option<PathBuf>,
    /// How long the tool stays at most; that of the job, else 60, unless said.
    #[arg(long, value_name = "S", value_parser = clap::value_parser!(u32).range(1..=3600))]
    pub(super) seconds: Option<u32>,
    /// Which of the ways of the step, from 1.
    #[arg(long, value_name = "N")]
    pub(super) way: Option<usize>,
    /// Find the lowest preheat in a range with which the target surely flows in time, °C.
    #[arg(long, value_name = "A..B", value_parser = TypedRange::keep)]
    pub(super) lowest_preheat: Option<TypedRange>,
    /// The same for the temperature of air or tip.
    #[arg(long, value_name = "A..B", value_parser = TypedRange::keep)]
    pub(super) lowest_tool: Option<TypedRange>,
    /// Seconds in which it must flow, for the lowest settings.
    #[arg(long, value_name = "S", default_value = "60", value_parser = clap::value_parser!(u32).range(1..=3600))]
    pub(super) within: u32,
}

#[derive(Debug, clap::Args)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "switches of a command line, as they are typed"
)]
pub(super) struct ChartArgs {
    /// The job file.
    #[arg(conflicts_with = "ladder")]
    pub(super) job: Option<PathBuf>,
    /// Picture to write; `.svg` or `.png`.
    #[arg(short, long, value_name = "FILE")]
    pub(super) out: Option<PathBuf>,
    /// In plain characters, on the terminal.
    #[arg(long, conflicts_with = "ladder")]
    pub(super) text: bool,
    /// ASCII characters only, with `--text`.
    #[arg(long, requires = "text")]
    pub(super) ascii: bool,
    /// The alloy table instead of a job, with the pairs that must never meet.
    #[arg(long)]
    pub(super) ladder: bool,
    /// A card for the wall: everyday solders and what must not meet, to be read from three metres.
    #[arg(long, conflicts_with_all = ["job", "ladder", "text"])]
    pub(super) wall: bool,
    /// Paper of the ladder.
    #[arg(long, value_enum, default_value = "a4", requires = "ladder")]
    pub(super) paper: PaperArg,
    #[command(flatten)]
    pub(super) limits: LimitArgs,
}

#[derive(Clone, Copy, Debug, clap::ValueEnum)]
pub(super) enum PaperArg {
    A4,
    A3,
}

#[derive(Debug, clap::Args)]
pub(super) struct DrillArgs {
    /// A job file: questions about this job, each answer computed by its planner.
    #[arg(value_name = "JOB", conflicts_with_all = ["level", "score"])]
    pub(super) job: Option<PathBuf>,

    /// Step of the ladder (9 is safety); without it, one question of each.
    #[arg(long, value_name = "1..9", value_parser = clap::value_parser!(u8).range(1..=9))]
    pub(super) level: Option<u8>,

    /// The same seed gives the same questions.
    #[arg(long, value_name = "N")]
    pub(super) seed: Option<u64>,

    /// How many questions.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=100))]
    pub(super) count: Option<u16>,

    /// Print a test, with the answers on a page of their own.
    #[arg(long)]
    pub(super) paper: bool,

    /// Draw staircases in ASCII alone.
    #[arg(long)]
    pub(super) ascii: bool,

    /// Where the score is kept; without it, beside your own alloys.
    #[arg(long, value_name = "FILE")]
    pub(super) score: Option<PathBuf>,
}
