//! Recordings as Arrow tables: Parquet, and the file and the stream of Arrow itself.

use super::arrow_time;
use super::beside::Beside;
use super::columns::{Column, Columns, Label, Time, reading};
use super::dates::Dates;
use super::guarded::guarded;
use super::layout::Layout;
use super::missing::Missing;
use super::number::whole_micros;
use super::rows::{Body, Timed};
use anyhow::{Context, Result, anyhow, bail};
use arrow_array::cast::AsArray;
use arrow_array::types::{
    ArrowPrimitiveType, Float32Type, Float64Type, Int8Type, Int16Type, Int32Type, Int64Type,
    UInt8Type, UInt16Type, UInt32Type, UInt64Type,
};
use arrow_array::{Array, RecordBatch, RecordBatchReader};
use arrow_ipc::reader::{FileReader, StreamReader};
use arrow_schema::{DataType, Field, Schema};
use parquet::arrow::ProjectionMask;
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;
use std::fs::File;
use std::io::{BufReader, Read};

/// So many rows are held at once.
const ROWS: usize = 8_192;

/// A recording in batches, and the one under way.
pub(crate) struct Batches {
    reader: Box<dyn RecordBatchReader>,
    columns: Columns,
    dates: Dates,
    missing: Missing,
    beside: Beside,
    beside_dates: Dates,
    times: Vec<Result<i128, String>>,
    flows: Vec<f64>,
    pressures: Vec<f64>,
    next: usize,
    number: u64,
}

impl Batches {
    pub(crate) fn of_parquet(file: File, layout: &Layout, name: &str) -> Result<Self> {
        let open = || {
            let builder = ParquetRecordBatchReaderBuilder::try_new(file)?;
            let (needed, columns) = projected(columns(builder.schema(), layout)?);
            let mask = ProjectionMask::roots(builder.parquet_schema(), needed);
            let builder = builder.with_projection(mask).with_batch_size(ROWS);
            Ok((Box::new(builder.build()?) as Box<dyn RecordBatchReader>, columns))
        };
        Self::new(guarded(open), layout, name)
    }

    pub(crate) fn of_file(file: File, layout: &Layout, name: &str) -> Result<Self> {
        let open = || {
            let schema = FileReader::try_new(BufReader::new(&file), None)?.schema();
            let (needed, columns) = projected(columns(&schema, layout)?);
            let reader = FileReader::try_new(BufReader::new(file), Some(needed))?;
            Ok((Box::new(reader) as Box<dyn RecordBatchReader>, columns))
        };
        Self::new(guarded(open), layout, name)
    }

    pub(crate) fn of_stream(input: Box<dyn Read>, layout: &Layout, name: &str) -> Result<Self> {
        let open = || {
            let reader = StreamReader::try_new(BufReader::new(input), None)?;
            let columns = columns(&reader.schema(), layout)?;
            Ok((Box::new(reader) as Box<dyn RecordBatchReader>, columns))
        };
        Self::new(guarded(open), layout, name)
    }

    fn new(
        opened: Result<(Box<dyn RecordBatchReader>, Columns)>,
        layout: &Layout,
        name: &str,
    ) -> Result<Self> {
        let (reader, columns) = opened.with_context(|| name.to_owned())?;
        Ok(Self::over(reader, columns, layout))
    }

    /// Of batches that a caller hands over.
    pub(crate) fn of_reader(reader: Box<dyn RecordBatchReader>, layout: &Layout) -> Result<Self> {
        let columns = columns(&reader.schema(), layout)?;
        Ok(Self::over(reader, columns, layout))
    }

    fn over(reader: Box<dyn RecordBatchReader>, columns: Columns, layout: &Layout) -> Self {
        Self {
            reader,
            columns,
            dates: Dates::new(layout),
            missing: Missing::new(layout),
            beside: Beside::default(),
            beside_dates: Dates::new(layout),
            times: Vec::new(),
            flows: Vec::new(),
            pressures: Vec::new(),
            next: 0,
            number: 0,
        }
    }

    /// Takes the next batch that is not empty apart; false at the end.
    fn batch(&mut self) -> Result<bool> {
        loop {
            let reader = &mut self.reader;
            let batch = guarded(|| Ok(reader.next().transpose()?));
            let batch =
                batch.with_context(|| format!("cannot be read after row {}", self.number))?;
            let Some(batch) = batch else {
                let contradicted = match self.columns.time {
                    Time::Counted(interval) => self.beside.refused(interval),
                    Time::Number(_) | Time::Dates { .. } => None,
                };
                return match self.missing.refused(self.number).or(contradicted) {
                    Some(why) => bail!(why),
                    None => Ok(false),
                };
            };
            if batch.num_rows() > 0 {
                self.take(&batch)?;
                return Ok(true);
            }
        }
    }

    fn take(&mut self, batch: &RecordBatch) -> Result<()> {
        let schema = self.reader.schema();
        let column = |at: usize| (batch.column(at), schema.field(at));
        let mut lost = Vec::new();
        let mut scaled = |from: Column, to: &mut Vec<f64>| {
            let (array, field) = column(from.at);
            numbers(array, field, to)?;
            for (row, value) in to.iter_mut().enumerate() {
                if let Err(why) = self.missing.number(*value, from) {
                    lost.push((row, why));
                }
                *value *= from.factor;
            }
            Ok::<_, anyhow::Error>(())
        };
        scaled(self.columns.flow, &mut self.flows)?;
        scaled(self.columns.pressure, &mut self.pressures)?;
        self.times.clear();
        match self.columns.time {
            Time::Counted(interval) => {
                let from = self.number;
                let us = |row: u64| Ok(((from + row) as f64 * interval).round() as i128);
                self.times.extend((0..batch.num_rows() as u64).map(us));
                let mut values = Vec::new();
                let beside: Vec<Option<i128>> = match self.columns.beside {
                    Some(Time::Number(Column { at, factor, .. })) => {
                        let (array, field) = column(at);
                        let read = numbers(array, field, &mut values);
                        read.ok().map_or(Vec::new(), |()| {
                            values.iter().map(|time| whole_micros(time * factor)).collect()
                        })
                    }
                    Some(Time::Dates { date: None, time }) => {
                        let (array, field) = column(time);
                        let mut times = Vec::new();
                        let read =
                            arrow_time::dates(array, field, &mut self.beside_dates, &mut times);
                        read.ok()
                            .map_or(Vec::new(), |()| times.into_iter().map(Result::ok).collect())
                    }
                    Some(Time::Dates { .. } | Time::Counted(_)) | None => Vec::new(),
                };
                for (us, row) in beside.into_iter().zip(from..) {
                    if let Some(us) = us {
                        self.beside.take(us, row);
                    }
                }
            }
            Time::Number(Column { at, factor, .. }) => {
                let (array, field) = column(at);
                if let (true, Some(whole)) = (factor == 1.0, array.as_primitive_opt::<Int64Type>())
                {
                    let us = whole.iter().map(|us| us.map(i128::from).ok_or_else(no_time));
                    self.times.extend(us);
                } else {
                    let mut values = Vec::new();
                    numbers(array, field, &mut values)?;
                    let us =
                        values.iter().map(|time| whole_micros(time * factor).ok_or_else(no_time));
                    self.times.extend(us);
                }
            }
            Time::Dates { date, time } => {
                let (array, field) = column(time);
                match date.map(column) {
                    Some(date) => {
                        arrow_time::both(date, (array, field), &mut self.dates, &mut self.times)?;
                    }
                    None => arrow_time::dates(array, field, &mut self.dates, &mut self.times)?,
                }
                if let Some(why) = self.dates.refused() {
                    bail!("column {}: {why}", field.name());
                }
            }
        }
        for (row, why) in lost {
            self.times[row] = Err(why);
        }
        self.next = 0;
        Ok(())
    }
}

impl Body for Batches {
    fn next(&mut self) -> Result<Option<Timed>> {
        if self.next == self.times.len() && !self.batch()? {
            return Ok(None);
        }
        let at = self.next;
        self.next += 1;
        self.number += 1;
        let time = std::mem::replace(&mut self.times[at], Ok(0));
        Ok(Some(time.and_then(|us| Ok((us, reading(self.flows[at], self.pressures[at])?)))))
    }

    fn number(&self) -> u64 {
        self.number
    }

    fn columns(&self) -> &Columns {
        &self.columns
    }

    fn missing(&self) -> u64 {
        self.missing.count
    }

    fn guessed(&self) -> Vec<String> {
        self.columns.guessed.iter().cloned().chain(self.dates.guessed()).collect()
    }
}

fn columns(schema: &Schema, layout: &Layout) -> Result<Columns> {
    let label = |field: &std::sync::Arc<Field>| {
        let words = field.metadata();
        Label {
            name: field.name().clone(),
            unit: words.get("unit").or(words.get("units")).cloned(),
        }
    };
    let labels: Vec<_> = schema.fields().iter().map(label).collect();
    Columns::find(&labels, layout, None).map_err(|reason| anyhow!(reason))
}

/// The columns that are read, in the order of the file, and where each stands among them.
fn projected(mut columns: Columns) -> (Vec<usize>, Columns) {
    let time = columns.beside.as_mut().unwrap_or(&mut columns.time);
    let (date, time) = match time {
        Time::Number(column) => (None, Some(&mut column.at)),
        Time::Dates { date, time } => (date.as_mut(), Some(time)),
        Time::Counted(_) => (None, None),
    };
    let values = [&mut columns.flow.at, &mut columns.pressure.at];
    let places: Vec<_> = values.into_iter().chain(date).chain(time).collect();
    let mut needed: Vec<usize> = places.iter().map(|at| **at).collect();
    needed.sort_unstable();
    needed.dedup();
    for at in places {
        *at = needed.partition_point(|other| *other < *at);
    }
    (needed, columns)
}

pub(super) fn no_time() -> String {
    "time is missing or out of range".into()
}

/// As doubles; what is missing is no number.
fn numbers(array: &dyn Array, field: &Field, to: &mut Vec<f64>) -> Result<()> {
    fn from<T: ArrowPrimitiveType>(
        array: &dyn Array,
        to: &mut Vec<f64>,
        double: impl Fn(T::Native) -> f64,
    ) {
        to.clear();
        let array = array.as_primitive::<T>();
        if array.null_count() == 0 {
            to.extend(array.values().iter().map(|value| double(*value)));
        } else {
            to.extend(array.iter().map(|value| value.map_or(f64::NAN, &double)));
        }
    }
    match array.data_type() {
        DataType::Float64 => from::<Float64Type>(array, to, |x| x),
        DataType::Float32 => from::<Float32Type>(array, to, f64::from),
        DataType::Int8 => from::<Int8Type>(array, to, f64::from),
        DataType::Int16 => from::<Int16Type>(array, to, f64::from),
        DataType::Int32 => from::<Int32Type>(array, to, f64::from),
        DataType::Int64 => from::<Int64Type>(array, to, |x| x as f64),
        DataType::UInt8 => from::<UInt8Type>(array, to, f64::from),
        DataType::UInt16 => from::<UInt16Type>(array, to, f64::from),
        DataType::UInt32 => from::<UInt32Type>(array, to, f64::from),
        DataType::UInt64 => from::<UInt64Type>(array, to, |x| x as f64),
        other => bail!("column {} is of type {other}, not a number", field.name()),
    }
    Ok(())
}
