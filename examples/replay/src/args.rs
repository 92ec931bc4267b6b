//! The command line.

use crate::input::layout::Said;
use clap::{Parser, ValueEnum};
use std::path::PathBuf;

/// Replays a recording of airway flow and pressure and reports what an independent second check
/// makes of it. Without FILE the built-in demo shift of an invented infant is simulated.
///
/// Advisory only; not a medical device.
#[derive(Debug, Default, Clone, Parser)]
#[command(name = "replay", version)]
pub struct Args {
    /// Recording: a table of time, flow and pressure as text, also .gz or .zst, Parquet or Arrow; the
    /// header (.hea) of a WFDB record; EDF. - reads standard input
    pub(crate) file: Option<PathBuf>,
    /// Settings (TOML); the options below go before it
    #[arg(long, value_name = "FILE.toml")]
    pub(crate) settings: Option<PathBuf>,
    /// Weight in grams
    #[arg(long, value_name = "N", value_parser = crate::config::grams::of_text)]
    pub(crate) weight_g: Option<u32>,
    /// Flow-trigger threshold set on the machine, in L/min
    #[arg(long, value_name = "X", allow_negative_numbers = true)]
    pub(crate) threshold_lpm: Option<f64>,
    /// Rate set on the machine, per minute
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    pub(crate) set_rate: Option<f64>,
    /// Write one row per breath
    #[arg(long, value_name = "OUT.csv|OUT.parquet")]
    pub(crate) breaths: Option<PathBuf>,
    /// Write one row per event
    #[arg(long, value_name = "OUT.csv|OUT.parquet")]
    pub(crate) events: Option<PathBuf>,
    /// Write one row per minute
    #[arg(long, value_name = "OUT.csv|OUT.parquet")]
    pub(crate) minutes: Option<PathBuf>,
    /// Write one row per step of weaning
    #[arg(long, value_name = "OUT.csv|OUT.parquet")]
    pub(crate) steps: Option<PathBuf>,
    /// Write the report: a page to look at (.html), or its text with the chart (.md)
    #[arg(long, value_name = "OUT.md|OUT.html")]
    pub(crate) report: Option<PathBuf>,
    /// Draw flow, pressure and volume with the breaths marked
    #[arg(long, value_name = "OUT.svg")]
    pub(crate) chart: Option<PathBuf>,
    /// Replay every recording of a folder, and of the folders in it, instead of one FILE, on all cores
    #[arg(
        long,
        value_name = "DIR",
        requires = "out",
        conflicts_with_all = ["file", "breaths", "events", "minutes", "steps", "report", "chart"]
    )]
    pub(crate) many: Option<PathBuf>,
    /// With --many: a folder for the tables of breaths, events and minutes, a file of each for each
    /// recording, and for summary.csv and failures.csv. What stands there of an earlier run is not
    /// done again
    #[arg(long, value_name = "DIR", requires = "many")]
    pub(crate) out: Option<PathBuf>,
    /// With --many: how tables are written
    #[arg(long, value_name = "KIND", value_enum, default_value_t, requires = "many")]
    pub(crate) tables: Tables,
    /// With --many: settings of single recordings, a row each: the column file has its path within DIR,
    /// every other column is an entry of the settings. Settings may also stand beside a recording, as
    /// NAME.toml
    #[arg(long, value_name = "TABLE.csv", requires = "many")]
    pub(crate) each: Option<PathBuf>,
    /// Write a recording to try things on, and nothing else: an hour of the built-in demo shift
    #[arg(long, value_name = "OUT.csv|OUT.parquet", conflicts_with_all = ["file", "many"])]
    pub(crate) save_demo: Option<PathBuf>,
    /// Stop at the first line that cannot be read, whose time is not later than the one before, or
    /// whose reading is out of the sensor's range, instead of going on without it
    #[arg(long)]
    pub(crate) strict: bool,
    #[command(
        flatten,
        next_help_heading = "Layout of the recording, where its header does not tell"
    )]
    pub(crate) recording: Said,
    /// Print the whole report, not its top alone
    #[arg(long)]
    pub(crate) full: bool,
    /// Print no report
    #[arg(long)]
    pub(crate) quiet: bool,
}

/// How tables are written.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
pub(crate) enum Tables {
    #[default]
    Parquet,
    Csv,
}

impl Tables {
    /// The end of a file's name.
    pub(crate) const fn end(self) -> &'static str {
        match self {
            Self::Parquet => "parquet",
            Self::Csv => "csv",
        }
    }
}

impl Args {
    /// What the command line sets for every recording, whatever its own settings say.
    pub(crate) fn settings_of_all(&self) -> impl std::fmt::Debug {
        (self.weight_g, self.threshold_lpm, self.set_rate, &self.recording)
    }
}
