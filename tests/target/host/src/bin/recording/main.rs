//! Writes a recording as the boards read it.
//!
//! Arguments: `demo`, `paths`, `HERTZ:BREATHS:PASSIVE:SECONDS` or a CSV with the columns `t_us,flow_ml_per_s,paw_cmH2O`; the file to write.

mod paths;
mod scaled;

use anyhow::{Context, Result, ensure};
use std::fs;
use tidevane::quantity::{Flow, Instant, Pressure};
use tidevane::signal::Reading;
use tidevane_target::item::{Demo, Item};

fn main() -> Result<()> {
    let mut arguments = std::env::args().skip(1);
    let source = arguments.next().context("demo, paths or a CSV")?;
    let to = arguments.next().context("the file to write")?;
    let mut bytes = Vec::new();
    if source == "demo" {
        Demo::new(u32::MAX)?.for_each(|item| bytes.extend(item.to_bytes()));
    } else if source == "paths" {
        paths::paths()?.into_iter().for_each(|item| bytes.extend(item.to_bytes()));
    } else if source.contains(':') {
        scaled::scaled(&source)?.into_iter().for_each(|item| bytes.extend(item.to_bytes()));
    } else {
        let text = fs::read_to_string(&source).with_context(|| source.clone())?;
        let mut lines = text.lines();
        ensure!(lines.next() == Some("t_us,flow_ml_per_s,paw_cmH2O"), "another header: {source}");
        for line in lines {
            let item = sample(line).with_context(|| format!("{source}: {line}"))?;
            bytes.extend(item.to_bytes());
        }
    }
    fs::write(&to, bytes).context(to)
}

fn sample(line: &str) -> Option<Item> {
    let mut cells = line.split(',');
    let at = Instant::from_us(cells.next()?.parse().ok()?);
    let flow = Flow::new(cells.next()?.parse().ok()?);
    let pressure = Pressure::new(cells.next()?.parse().ok()?);
    Some(Item::Sample(at, Reading { flow, pressure }))
}
