//! Prints the frames that came over the serial line, one a line.
//!
//! Argument: a file with what came.

use addon::frame::Frame;
use anyhow::{Context, Result};
use std::fs;

fn main() -> Result<()> {
    let from = std::env::args().nth(1).context("a file with what came")?;
    let mut bytes = fs::read(&from).context(from)?;
    for part in bytes.split_inclusive_mut(|&byte| byte == 0) {
        let frame = Frame::of_bytes(part).context("no frame")?;
        println!("{frame:?}");
    }
    Ok(())
}
