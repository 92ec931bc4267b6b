//! Rows as Arrow batches, units in the fields' metadata.

use super::column::{Cell, Column, Kind};
use crate::report::CAUTION;
use anyhow::Result;
use arrow_array::builder::{Float64Builder, Int64Builder, StringBuilder};
use arrow_array::{ArrayRef, RecordBatch};
use arrow_schema::{DataType, Field, Schema, SchemaRef};
use std::sync::Arc;

/// Times and counts as integers, numbers as doubles that may be missing, words as UTF-8; the caution stands with
/// them, since a table goes further than the report.
pub fn schema(columns: &[Column]) -> SchemaRef {
    let field = |column: &Column| {
        let (kind, missing) = match column.kind {
            Kind::Time | Kind::Count => (DataType::Int64, false),
            Kind::Text => (DataType::Utf8, false),
            Kind::Number(_) => (DataType::Float64, true),
        };
        let field = Field::new(column.name, kind, missing);
        if column.unit.is_empty() {
            return field;
        }
        let unit = std::collections::HashMap::from([("unit".to_owned(), column.unit.to_owned())]);
        field.with_metadata(unit)
    };
    let caution = std::collections::HashMap::from([("caution".to_owned(), CAUTION.to_owned())]);
    Arc::new(Schema::new_with_metadata(columns.iter().map(field).collect::<Vec<_>>(), caution))
}

/// The rows as one batch.
///
/// # Errors
/// Where a row does not fit the columns, which no table of ours does.
pub fn of(columns: &[Column], rows: &[Vec<Cell>]) -> Result<RecordBatch> {
    let column = |at: usize, column: &Column| -> ArrayRef {
        let cells = rows.iter().map(|row| row.get(at));
        match column.kind {
            Kind::Time | Kind::Count => {
                let mut to = Int64Builder::with_capacity(rows.len());
                cells.for_each(|cell| match cell {
                    Some(Cell::Time(n) | Cell::Count(n)) => {
                        to.append_value(i64::try_from(*n).unwrap_or(i64::MAX));
                    }
                    _ => to.append_null(),
                });
                Arc::new(to.finish())
            }
            Kind::Text => {
                let mut to = StringBuilder::new();
                cells.for_each(|cell| match cell {
                    Some(Cell::Text(text)) => to.append_value(text),
                    _ => to.append_null(),
                });
                Arc::new(to.finish())
            }
            Kind::Number(_) => {
                let mut to = Float64Builder::with_capacity(rows.len());
                cells.for_each(|cell| match cell {
                    Some(Cell::Number(value)) => to.append_option(*value),
                    _ => to.append_null(),
                });
                Arc::new(to.finish())
            }
        }
    };
    let arrays = columns.iter().enumerate().map(|(at, named)| column(at, named)).collect();
    Ok(RecordBatch::try_new(schema(columns), arrays)?)
}
