//! A table as a file: CSV, or Parquet by the end of its name.

#[cfg(feature = "arrow")]
use crate::output::packed::Packed;
use crate::output::place::{Aside, plain_file};
use crate::tables::column::{Cell, Column};
use anyhow::{Context, Result, bail};
use csv::Writer;
use std::path::Path;

/// A table under way.
pub(crate) struct Sheet {
    columns: Vec<Column>,
    /// What stands before the cells of each row: the recording's name.
    file: Option<String>,
    to: To,
}

enum To {
    Csv(Box<Writer<Aside>>),
    #[cfg(feature = "arrow")]
    Parquet(Packed),
}

impl Sheet {
    /// Where `file` is given, it is the first column of every row.
    pub(crate) fn create(to: &Path, columns: &[Column], file: Option<&str>) -> Result<Self> {
        let named = file.map(|_| Column::text("file"));
        let columns: Vec<_> = named.into_iter().chain(columns.iter().copied()).collect();
        let end = to.extension().map(|end| end.to_string_lossy().to_ascii_lowercase());
        let to = match end.as_deref() {
            #[cfg(feature = "arrow")]
            Some("parquet") => To::Parquet(Packed::create(to, &columns)?),
            #[cfg(not(feature = "arrow"))]
            Some("parquet") => {
                bail!(
                    "{}: this program was built without Parquet; give a name in .csv",
                    to.display()
                )
            }
            Some(other) if other != "csv" && plain_file(to).is_some() => {
                bail!(
                    "tables are written as CSV or Parquet: {} should end in .csv or .parquet, not .{other}",
                    to.display()
                )
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
            #[cfg(feature = "arrow")]
            To::Parquet(packed) => {
                let file = file.map(|name| Cell::Text(name.clone()));
                packed.row(&self.columns, file.into_iter().chain(cells.iter().cloned()).collect())
            }
        }
    }

    pub(crate) fn finish(self) -> Result<Aside> {
        match self.to {
            To::Csv(mut writer) => {
                writer.flush().with_context(|| writer.get_ref().cannot_write())?;
                writer.into_inner().map_err(|e| e.into_error().into())
            }
            #[cfg(feature = "arrow")]
            To::Parquet(packed) => packed.finish(&self.columns),
        }
    }
}

/// A name from outside that a spreadsheet would work out as a formula gets an apostrophe before it.
pub(crate) fn tame(name: &str) -> String {
    let formula = name.starts_with(['=', '+', '-', '@', '\t', '\r']);
    if formula { format!("'{name}") } else { name.into() }
}
