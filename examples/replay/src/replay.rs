//! Recordings into tables, for callers in Rust and Python.

use crate::args::Args;
use crate::config::{self, File, Setup};
#[cfg(feature = "arrow")]
use crate::input::arrow::Batches;
use crate::input::layout::Layout;
use crate::input::recording::Recording;
#[cfg(feature = "arrow")]
use crate::input::rows::Rows;
use crate::live::Live;
use crate::source::Source;
use crate::tables::tabulate::{Sink, tabulate};
use anyhow::Result;
use std::path::Path;

/// What recordings are replayed by.
#[expect(missing_debug_implementations, reason = "settings are shown by their entries")]
pub struct Replay {
    setup: Setup,
    layout: Layout,
    strict: bool,
}

impl Replay {
    /// By entries as a settings file has them; `strict` stops at the first row that cannot be read.
    ///
    /// # Errors
    /// Where an entry is not known, or its value does not fit.
    pub fn new(entries: toml::Table, strict: bool) -> Result<Self> {
        let args = Args::default();
        let file = File::of_entries(entries)?;
        let layout = file.layout(&args)?;
        Ok(Self { setup: config::setup(&args, file, File::default())?, layout, strict })
    }

    /// A monitor for samples that come one by one.
    #[must_use]
    pub fn live(&self) -> Live {
        Live::new(self.setup.settings)
    }

    /// A file of any kind that is read.
    ///
    /// # Errors
    /// Where it cannot be read, or holds no sample.
    pub fn file(&self, path: &Path, sink: &mut impl Sink) -> Result<()> {
        let mut recording = Recording::open(path, &self.layout, self.strict)?;
        recording.mute();
        self.tabulate(recording, sink)
    }

    /// Batches in the order of time; `name` stands for them in messages.
    ///
    /// # Errors
    /// Where they cannot be read, or hold no sample.
    #[cfg(feature = "arrow")]
    pub fn batches(
        &self,
        reader: Box<dyn arrow_array::RecordBatchReader>,
        name: &str,
        sink: &mut impl Sink,
    ) -> Result<()> {
        let body =
            Batches::of_reader(reader, &self.layout).map_err(|why| why.context(name.to_owned()))?;
        let rows = Rows::of(Box::new(body));
        self.tabulate(Recording::of_rows(rows, name, self.strict), sink)
    }

    fn tabulate(&self, recording: Recording, sink: &mut impl Sink) -> Result<()> {
        tabulate(&mut Source::Recording(Box::new(recording)), &self.setup, sink).map(drop)
    }
}
