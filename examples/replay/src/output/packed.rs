//! A table as a Parquet file, packed.

use crate::output::place::Aside;
use crate::tables::batch;
use crate::tables::column::{Cell, Column};
use anyhow::Result;
use parquet::arrow::ArrowWriter;
use parquet::basic::{Compression, ZstdLevel};
use parquet::file::properties::WriterProperties;
use std::path::Path;

/// So many rows lie together: enough to read quickly, few enough to hold.
const GROUP: usize = 65_536;
/// So many rows are put into columns at once.
const BATCH: usize = 1_024;

/// A file under way, and the rows that are not in it yet.
pub(crate) struct Packed {
    writer: Box<ArrowWriter<Aside>>,
    rows: Vec<Vec<Cell>>,
}

impl Packed {
    pub(crate) fn create(to: &Path, columns: &[Column]) -> Result<Self> {
        let set = WriterProperties::builder()
            .set_compression(Compression::ZSTD(ZstdLevel::default()))
            .set_max_row_group_row_count(Some(GROUP))
            .build();
        let writer = ArrowWriter::try_new(Aside::create(to)?, batch::schema(columns), Some(set))?;
        Ok(Self { writer: Box::new(writer), rows: Vec::new() })
    }

    pub(crate) fn row(&mut self, columns: &[Column], row: Vec<Cell>) -> Result<()> {
        self.rows.push(row);
        if self.rows.len() >= BATCH { self.write(columns) } else { Ok(()) }
    }

    fn write(&mut self, columns: &[Column]) -> Result<()> {
        self.writer.write(&batch::of(columns, &self.rows)?)?;
        self.rows.clear();
        Ok(())
    }

    pub(crate) fn finish(mut self, columns: &[Column]) -> Result<Aside> {
        if !self.rows.is_empty() {
            self.write(columns)?;
        }
        Ok(self.writer.into_inner()?)
    }
}
