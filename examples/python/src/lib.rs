//! The replay program's tables for Python. Everything that is worked out is worked out in
//! `tidevane-replay`; here it is handed over, by the Arrow C stream interface.

mod live;
mod tables;

use anyhow::Error;
use arrow_array::ffi_stream::{FFI_ArrowArrayStream, RecordBatchStreamReader};
use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;
use pyo3::types::PyCapsule;
use std::path::PathBuf;
use tables::{Collected, Kept};
use tidevane_replay::{Archive, Replay, Sink, printable};

/// What the Arrow project calls a capsule that holds a stream.
const STREAM: &std::ffi::CStr = c"arrow_array_stream";

pyo3::create_exception!(
    _tidevane,
    RecordingError,
    PyValueError,
    "A recording that cannot be read."
);
pyo3::create_exception!(
    _tidevane,
    SettingsError,
    PyValueError,
    "Settings that are not known or do not fit."
);

fn recording(error: Error) -> PyErr {
    match error.downcast::<PyErr>() {
        Ok(own) => own,
        Err(error) => RecordingError::new_err(printable(&format!("{error:#}"))),
    }
}

/// Settings as the entries of a settings file, in JSON.
fn replay_by(settings: &str, strict: bool) -> PyResult<Replay> {
    let wrong = |error: String| SettingsError::new_err(error);
    let entries = serde_json::from_str(settings).map_err(|error| wrong(error.to_string()))?;
    Replay::new(entries, strict).map_err(|error| wrong(format!("{error:#}")))
}

/// Tables of a recording in a file.
#[pyfunction]
fn replay_file(py: Python<'_>, path: PathBuf, settings: &str, strict: bool) -> PyResult<Collected> {
    let replay = replay_by(settings, strict)?;
    py.detach(|| {
        let mut kept = Kept::default();
        replay.file(&path, &mut kept)?;
        kept.collect()
    })
    .map_err(recording)
}

/// Tables of a recording in batches, from anything with `__arrow_c_stream__`.
#[pyfunction]
fn replay_stream(
    py: Python<'_>,
    source: &Bound<'_, PyAny>,
    settings: &str,
    strict: bool,
) -> PyResult<Collected> {
    let replay = replay_by(settings, strict)?;
    let capsule = source.call_method0("__arrow_c_stream__")?.cast_into::<PyCapsule>()?;
    let reader = stream(&capsule)?;
    py.detach(|| {
        let mut kept = Kept::default();
        replay.batches(Box::new(reader), "the table", &mut kept)?;
        kept.collect()
    })
    .map_err(recording)
}

fn archive(folder: PathBuf, out: PathBuf, settings: &str) -> PyResult<Archive> {
    let entries = serde_json::from_str(settings)
        .map_err(|error| SettingsError::new_err(error.to_string()))?;
    Archive::new(&folder, &out, entries)
        .map_err(|error| SettingsError::new_err(format!("{error:#}")))
}

/// The recordings of a folder, by their paths in it.
#[pyfunction]
fn archive_recordings(
    py: Python<'_>,
    folder: PathBuf,
    out: PathBuf,
    settings: &str,
) -> PyResult<Vec<PathBuf>> {
    let archive = archive(folder, out, settings)?;
    py.detach(|| archive.recordings()).map_err(recording)
}

/// The tables of one of them; true where they were there already.
#[pyfunction]
fn archive_replay(
    py: Python<'_>,
    folder: PathBuf,
    out: PathBuf,
    settings: &str,
    name: PathBuf,
) -> PyResult<bool> {
    let archive = archive(folder, out, settings)?;
    py.detach(|| archive.replay(&name)).map_err(recording)
}

/// The summary of all; how many hours and breaths.
#[pyfunction]
fn archive_finish(
    py: Python<'_>,
    folder: PathBuf,
    out: PathBuf,
    settings: &str,
    failures: Vec<(String, String)>,
) -> PyResult<(f64, u64)> {
    let archive = archive(folder, out, settings)?;
    let total = py.detach(|| archive.finish(&failures)).map_err(recording)?;
    Ok((total.hours, total.breaths))
}

/// Takes the stream out of its capsule, which keeps an empty one.
#[expect(
    unsafe_code,
    reason = "the C stream interface hands over a pointer; the capsule's name says what it is"
)]
fn stream(capsule: &Bound<'_, PyCapsule>) -> PyResult<RecordBatchStreamReader> {
    let pointer = capsule.pointer_checked(Some(STREAM))?.cast::<FFI_ArrowArrayStream>();
    // SAFETY: a capsule of this name holds a stream, valid as long as it lives, and `from_raw` leaves a released
    // one in its place.
    let reader = unsafe { RecordBatchStreamReader::from_raw(pointer.as_ptr()) };
    reader.map_err(|error| RecordingError::new_err(error.to_string()))
}

impl Sink for Kept {
    fn row(
        &mut self,
        table: tidevane_replay::Table,
        row: &[tidevane_replay::Cell],
    ) -> anyhow::Result<()> {
        self.take(table, row)
    }

    fn go_on(&mut self) -> anyhow::Result<()> {
        Ok(Python::attach(|py| py.check_signals())?)
    }
}

#[pymodule]
fn _tidevane(module: &Bound<'_, PyModule>) -> PyResult<()> {
    let py = module.py();
    module.add_function(wrap_pyfunction!(replay_file, module)?)?;
    module.add_function(wrap_pyfunction!(replay_stream, module)?)?;
    module.add_function(wrap_pyfunction!(archive_recordings, module)?)?;
    module.add_function(wrap_pyfunction!(archive_replay, module)?)?;
    module.add_function(wrap_pyfunction!(archive_finish, module)?)?;
    module.add_class::<Collected>()?;
    module.add_class::<tables::Stream>()?;
    module.add_class::<live::Monitor>()?;
    module.add("RecordingError", py.get_type::<RecordingError>())?;
    module.add("SettingsError", py.get_type::<SettingsError>())?;
    module.add("__version__", env!("CARGO_PKG_VERSION"))
}
