//! Tables kept in memory until the recording is over, then handed to Python.

use crate::STREAM;
use anyhow::Result;
use arrow_array::ffi_stream::FFI_ArrowArrayStream;
use arrow_array::{RecordBatch, RecordBatchIterator};
use pyo3::prelude::*;
use pyo3::types::PyCapsule;
use tidevane_replay::{Cell, Table, batch};

/// So many rows become a batch.
const ROWS: usize = 4_096;

/// The rows so far of each table, and the batches of those before.
#[derive(Default)]
pub(crate) struct Kept {
    rows: [Vec<Vec<Cell>>; 4],
    batches: [Vec<RecordBatch>; 4],
}

impl Kept {
    pub(crate) fn take(&mut self, table: Table, row: &[Cell]) -> Result<()> {
        let rows = &mut self.rows[table as usize];
        rows.push(row.to_vec());
        if rows.len() >= ROWS {
            self.close(table)?;
        }
        Ok(())
    }

    fn close(&mut self, table: Table) -> Result<()> {
        let rows = std::mem::take(&mut self.rows[table as usize]);
        self.batches[table as usize].push(batch::of(table.columns(), &rows)?);
        Ok(())
    }

    pub(crate) fn collect(mut self) -> Result<Collected> {
        Table::ALL.into_iter().try_for_each(|table| self.close(table))?;
        let [breaths, events, minutes, summary] = self.batches;
        let stream = |table: Table, batches| Stream { table, batches };
        Ok(Collected {
            breaths: stream(Table::Breaths, breaths),
            events: stream(Table::Events, events),
            minutes: stream(Table::Minutes, minutes),
            summary: stream(Table::Summary, summary),
        })
    }
}

/// What a recording came to.
#[pyclass(frozen, get_all)]
pub(crate) struct Collected {
    breaths: Stream,
    events: Stream,
    minutes: Stream,
    summary: Stream,
}

/// A table that any library which knows the Arrow C stream interface can take.
#[pyclass(frozen)]
#[derive(Clone)]
pub(crate) struct Stream {
    table: Table,
    batches: Vec<RecordBatch>,
}

#[pymethods]
impl Stream {
    /// As the Arrow PyCapsule interface asks for; the schema cannot be asked to be another.
    #[pyo3(signature = (requested_schema=None))]
    fn __arrow_c_stream__<'py>(
        &self,
        py: Python<'py>,
        requested_schema: Option<Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyCapsule>> {
        let _ = requested_schema;
        let schema = batch::schema(self.table.columns());
        let batches: Vec<_> = self.batches.iter().cloned().map(Ok).collect();
        let stream = FFI_ArrowArrayStream::new(Box::new(RecordBatchIterator::new(batches, schema)));
        PyCapsule::new_with_value(py, stream, STREAM)
    }
}
