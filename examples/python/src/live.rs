//! A monitor that is given one sample after another.

use crate::{RecordingError, replay_by};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList};
use tidevane_replay::{Cell, Live, Table};

/// A monitor for samples as they come: the same checks as a recording goes through.
#[pyclass]
pub(crate) struct Monitor(Live);

#[pymethods]
impl Monitor {
    #[new]
    fn new(settings: &str) -> PyResult<Self> {
        Ok(Self(replay_by(settings, false)?.live()))
    }

    /// One sample; what there is to say: pairs of a table's name and a row.
    fn push<'py>(
        &mut self,
        py: Python<'py>,
        t_us: i128,
        flow_ml_per_s: f64,
        paw: f64,
    ) -> PyResult<Bound<'py, PyList>> {
        let Ok(us) = u64::try_from(t_us) else {
            self.0.lost();
            return Err(RecordingError::new_err(format!("time {t_us} us is out of range")));
        };
        let said = self.0.push(us, flow_ml_per_s, paw);
        rows(py, said.map_err(RecordingError::new_err)?)
    }

    /// A sample that could not be had.
    fn lost<'py>(&mut self, py: Python<'py>) -> PyResult<Bound<'py, PyList>> {
        rows(py, self.0.lost())
    }

    /// No sample comes any more.
    fn finish<'py>(&mut self, py: Python<'py>) -> PyResult<Bound<'py, PyList>> {
        rows(py, self.0.finish())
    }
}

fn rows(py: Python<'_>, said: Vec<(Table, Vec<Cell>)>) -> PyResult<Bound<'_, PyList>> {
    let list = PyList::empty(py);
    for (table, cells) in said {
        let row = PyDict::new(py);
        for (column, cell) in table.columns().iter().zip(cells) {
            match cell {
                Cell::Time(n) | Cell::Count(n) => row.set_item(column.name(), n)?,
                Cell::Text(text) => row.set_item(column.name(), text)?,
                Cell::Number(value) => row.set_item(column.name(), value)?,
            }
        }
        list.append((table.name(), row))?;
    }
    Ok(list)
}
