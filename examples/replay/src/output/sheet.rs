//! A table of many recordings: CSV, or Parquet by the end of its name.

use crate::output::place::Aside;
use crate::output::row::{COLUMNS, Cell};
use anyhow::{Context, Result, bail};
use csv::Writer;
use parquet::basic::{Compression, Repetition, Type as Physical};
use parquet::data_type::{ByteArray, ByteArrayType, DoubleType, Int64Type};
use parquet::file::properties::WriterProperties;
use parquet::file::writer::{SerializedColumnWriter, SerializedFileWriter};
use parquet::schema::types::Type;
use std::path::Path;
use std::sync::Arc;

/// The name of the column before those of the breath.
const FILE: &str = "file";

pub(crate) enum Sheet {
    Csv(Box<Writer<Aside>>),
    Parquet(Box<SerializedFileWriter<Aside>>),
}

impl Sheet {
    pub(crate) fn create(to: &Path) -> Result<Self> {
        let end = to.extension().map(|end| end.to_string_lossy().to_ascii_lowercase());
        match end.as_deref() {
            Some("csv") => {
                let mut writer = Writer::from_writer(Aside::create(to)?);
                writer.write_record([FILE].iter().chain(&COLUMNS))?;
                Ok(Self::Csv(Box::new(writer)))
            }
            Some("parquet") => {
                let set = WriterProperties::builder().set_compression(Compression::UNCOMPRESSED);
                let writer = SerializedFileWriter::new(
                    Aside::create(to)?,
                    schema()?,
                    Arc::new(set.build()),
                )?;
                Ok(Self::Parquet(Box::new(writer)))
            }
            _ => bail!("--out needs a name that ends in .csv or .parquet: {}", to.display()),
        }
    }

    /// Adds the breaths of a recording.
    pub(crate) fn rows(&mut self, file: &str, rows: &[[Cell; COLUMNS.len()]]) -> Result<()> {
        match self {
            Self::Csv(writer) => {
                for row in rows {
                    let cells = row.iter().map(Cell::text);
                    writer.write_record(std::iter::once(file.to_owned()).chain(cells))?;
                }
            }
            Self::Parquet(writer) if !rows.is_empty() => {
                let mut group = writer.next_row_group()?;
                let file = Cell::Text(file.into());
                let mut place = 0;
                while let Some(mut column) = group.next_column()? {
                    let cells: Vec<_> = match place {
                        0 => rows.iter().map(|_| &file).collect(),
                        _ => rows.iter().map(|row| &row[place - 1]).collect(),
                    };
                    write(&mut column, &cells)?;
                    column.close()?;
                    place += 1;
                }
                group.close()?;
            }
            Self::Parquet(_) => {}
        }
        Ok(())
    }

    pub(crate) fn finish(self) -> Result<Aside> {
        match self {
            Self::Csv(mut writer) => {
                writer.flush().with_context(|| writer.get_ref().cannot_write())?;
                writer.into_inner().map_err(|e| e.into_error().into())
            }
            Self::Parquet(writer) => Ok(writer.into_inner()?),
        }
    }
}

/// Times as integers, numbers as optional doubles, words as UTF-8.
fn schema() -> Result<Arc<Type>> {
    let column = |name: &str| {
        let (physical, repetition) = match name {
            _ if name.ends_with("_us") => (Physical::INT64, Repetition::REQUIRED),
            FILE | "kind" | "initiation" | "flags" => (Physical::BYTE_ARRAY, Repetition::REQUIRED),
            _ => (Physical::DOUBLE, Repetition::OPTIONAL),
        };
        let mut column = Type::primitive_type_builder(name, physical).with_repetition(repetition);
        if physical == Physical::BYTE_ARRAY {
            column = column.with_logical_type(Some(parquet::basic::LogicalType::String));
        }
        Ok::<_, anyhow::Error>(Arc::new(column.build()?))
    };
    let fields = [FILE].iter().chain(&COLUMNS).map(|name| column(name)).collect::<Result<_>>()?;
    Ok(Arc::new(Type::group_type_builder("breaths").with_fields(fields).build()?))
}

/// Every column holds one kind of cell.
fn write(column: &mut SerializedColumnWriter<'_>, cells: &[&Cell]) -> Result<()> {
    match cells.first() {
        Some(Cell::Time(_)) => {
            let times: Vec<_> = cells
                .iter()
                .map(|cell| match cell {
                    Cell::Time(us) => i64::try_from(*us).unwrap_or(i64::MAX),
                    Cell::Text(_) | Cell::Number(..) => 0,
                })
                .collect();
            column.typed::<Int64Type>().write_batch(&times, None, None)?;
        }
        Some(Cell::Text(_)) => {
            let words: Vec<_> =
                cells.iter().map(|cell| ByteArray::from(cell.text().into_bytes())).collect();
            column.typed::<ByteArrayType>().write_batch(&words, None, None)?;
        }
        Some(Cell::Number(..)) => {
            let value = |cell: &&Cell| match cell {
                Cell::Number(value, _) => *value,
                Cell::Time(_) | Cell::Text(_) => None,
            };
            let known: Vec<_> = cells.iter().map(|c| i16::from(value(c).is_some())).collect();
            let values: Vec<f64> = cells.iter().filter_map(value).collect();
            column.typed::<DoubleType>().write_batch(&values, Some(&known), None)?;
        }
        None => {}
    }
    Ok(())
}
