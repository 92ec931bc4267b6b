//! Replays a recording (or the built-in demo shift) through the monitor and reports what it found.
//!
//! Advisory only; not a medical device.

mod answer;
mod args;
mod blind;
mod breath_log;
mod chart;
mod config;
mod doc;
mod doubt;
mod feed;
mod figures;
mod input;
mod live;
mod many;
mod output;
mod page;
mod record;
mod replay;
mod report;
mod rings;
mod row;
mod run;
mod save;
mod source;
mod spread;
mod steps;
mod stream;
mod tables;
mod target;
mod text;
mod timeline;
mod trial;
mod wall_clock;

pub use args::Args;
pub use input::layout::{Layout, Said};
pub use input::rows::{Row, Rows, read_all};
pub use live::Live;
pub use many::{Archive, Total};
pub use output::scratch::watch;
pub use replay::Replay;
pub use run::run;
#[cfg(feature = "arrow")]
pub use tables::batch;
pub use tables::column::{Cell, Column};
pub use tables::tabulate::{Sink, Table};
pub use text::printable;
