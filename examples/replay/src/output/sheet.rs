//! A table as a file: CSV, or Parquet by the end of its name.

use crate::output::place::Aside;
use crate::tables::batch;
use crate::tables::column::{Cell, Column};
use anyhow::{Context, Result};
use csv::Writer;
use parquet::arrow::ArrowWriter;
use parquet::basic::{Compression, ZstdLevel};
use parquet::file::properties::WriterProperties;
use std::path::Path;

/// So many rows of a Parquet file lie together: enough to read quickly, few enough to hold.
const GROUP: usize = 65_536;
/// So many rows are put into columns at once.
const BATCH: usize = 1_024;

/// A table under way.
pub(crate) struct Sheet {
    columns: Vec<Column>,
    /// What stands before the cells of each row: the recording's name.
    file: Option<String>,
    to: To,
}

enum To {
    Csv(Box<Writer<Aside>>),
    Parquet(Box<ArrowWriter<Aside>>, Vec<Vec<Cell>>),
}

impl Sheet {
    /// Where `file` is given, it is the first column of every row.
    pub(crate) fn create(to: &Path, columns: &[Column], file: Option<&str>) -> Result<Self> {
        let named = file.map(|_| Column::text("file"));
        let columns: Vec<_> = named.into_iter().chain(columns.iter().copied()).collect();
        let end = to.extension().map(|end| end.to_string_lossy().to_ascii_lowercase());
        let to = match end.as_deref() {
            Some("parquet") => {
                let set = WriterProperties::builder()
                    .set_compression(Compression::ZSTD(ZstdLevel::default()))
                    .set_max_row_group_row_count(Some(GROUP))
                    .build();
                let schema = batch::schema(&columns);
                let writer = ArrowWriter::try_new(Aside::create(to)?, schema, Some(set))?;
                To::Parquet(Box::new(writer), Vec::new())
            }
            _ => {
                let mut writer = Writer::from_writer(Aside::create(to)?);
                writer.write_record(columns.iter().map(|column| column.name))?;
                To::Csv(Box::new(writer))
            }
        };
        Ok(Self { columns, file: file.map(Into::into), to })
    }

    pub(crate) fn row(&mut self, cells: &[Cell]) -> Result<()> {
        let file = self.file.as_ref();
        match &mut self.to {
            To::Csv(writer) => {
                let columns = &self.columns[usize::from(file.is_some())..];
                let cells = cells.iter().zip(columns).map(|(cell, column)| cell.text(column));
                let written =
                    writer.write_record(file.map(|name| tame(name)).into_iter().chain(cells));
                written.with_context(|| writer.get_ref().cannot_write())
            }
            To::Parquet(writer, rows) => {
                let file = file.map(|name| Cell::Text(name.clone()));
                rows.push(file.into_iter().chain(cells.iter().cloned()).collect());
                if rows.len() >= BATCH {
                    writer.write(&batch::of(&self.columns, rows)?)?;
                    rows.clear();
                }
                Ok(())
            }
        }
    }

    pub(crate) fn finish(self) -> Result<Aside> {
        match self.to {
            To::Csv(mut writer) => {
                writer.flush().with_context(|| writer.get_ref().cannot_write())?;
                writer.into_inner().map_err(|e| e.into_error().into())
            }
            To::Parquet(mut writer, rows) => {
                if !rows.is_empty() {
                    writer.write(&batch::of(&self.columns, &rows)?)?;
                }
                Ok(writer.into_inner()?)
            }
        }
    }
}

/// A name from outside that a spreadsheet would work out as a formula gets an apostrophe before it.
pub(crate) fn tame(name: &str) -> String {
    let formula = name.starts_with(['=', '+', '-', '@', '\t', '\r']);
    if formula { format!("'{name}") } else { name.into() }
}
