//! A recording to try things on: the first hour of the built-in demo shift.

use crate::input::recording::Line;
use crate::output::place::Aside;
use crate::output::sheet::Sheet;
use crate::source::Source;
use crate::tables::column::{Cell, Column};
use anyhow::{Result, bail};
use std::path::Path;
use tidevane_sim::{Simulator, demo};

/// How long it is, in microseconds.
const LENGTH_US: u64 = 3_600_000_000;

const COLUMNS: [Column; 3] = [
    Column::time("t_us"),
    Column::number("flow_ml_per_s", "mL/s", 4),
    Column::number("paw_cmH2O", "cmH2O", 4),
];

/// Writes it; as Parquet where the name ends so, else as CSV.
pub(crate) fn demo(to: &Path) -> Result<()> {
    if to.is_file() {
        bail!("{} is there already; give it another name", to.display());
    }
    let mut source = Source::Demo(Box::new(Simulator::new(&demo::shift())?));
    let mut sheet = Sheet::create(to, &COLUMNS, None)?;
    while let Some(line) = source.next()? {
        let Line::Good(at, reading) = line else { continue };
        if at.to_us() >= LENGTH_US {
            break;
        }
        let number = |value: fixed::types::I16F16| Cell::Number(Some(value.to_num()));
        let (flow, pressure) = (reading.flow.get(), reading.pressure.get());
        sheet.row(&[Cell::Time(at.to_us()), number(flow), number(pressure)])?;
    }
    Aside::keep(sheet.finish()?)
}
