//! The arguments, verb by verb.

use std::path::PathBuf;

use clap::{Parser, Subcommand};

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

    /// Temperatures in °F in text and pictures.
    #[arg(long, global = true)]
    pub(super) fahrenheit: bool,

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
    /// Find the best order of a job, with its open choices of alloy, tool and rounds.
    #[command(after_help = "Example: meltstair order charts/tide_gauge.yaml")]
    Order {
        /// The job file.
        job: PathBuf,
    },
    /// Draw the steps of a job as a staircase.
    #[command(after_help = "Example: meltstair chart charts/tide_gauge.yaml -o staircase.png")]
    Chart {
        /// The job file.
        job: PathBuf,
        /// Picture to write; `.svg` or `.png`.
        #[arg(short, long, value_name = "FILE")]
        out: PathBuf,
    },
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
