//! What `selftest` writes on a board of samples in blocks, written by the host of samples one by one.
//!
//! Arguments: `demo` or the path of a recording; the largest number of samples.

use anyhow::{Context, Result, anyhow, ensure};
use std::fs;
use tidevane_target::item::{BYTES, Demo, Item};
use tidevane_target::records::{Course, run};
use tidevane_target::settings::settings;

fn main() -> Result<()> {
    let mut arguments = std::env::args().skip(1);
    let source = arguments.next().context("demo, or a recording")?;
    let most: u32 = arguments.next().context("the largest number of samples")?.parse()?;
    let mut out = String::new();
    let samples = if source == "demo" {
        run(Demo::new(most)?, settings()?, Course::HOST, &mut out)
    } else {
        let bytes = fs::read(&source).with_context(|| source.clone())?;
        let items = bytes.chunks_exact(BYTES).map(|chunk| {
            chunk.first_chunk().and_then(Item::from_bytes).expect("an item that exists")
        });
        run(first(items, most), settings()?, Course::HOST, &mut out)
    };
    ensure!(samples.map_err(|_| anyhow!("cannot write"))? > 0, "no samples in {source}");
    print!("{out}");
    Ok(())
}

/// All up to a number of samples.
fn first(items: impl Iterator<Item = Item>, samples: u32) -> impl Iterator<Item = Item> {
    let mut left = samples;
    let mut items = items;
    std::iter::from_fn(move || {
        let item = items.next().filter(|_| left > 0)?;
        left -= u32::from(matches!(item, Item::Sample(..)));
        Some(item)
    })
}
