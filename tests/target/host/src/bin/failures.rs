//! What `failures` writes on a board, written by the host.

use anyhow::{Result, anyhow};

fn main() -> Result<()> {
    let mut out = String::new();
    tidevane_target::failures::run(&mut out).map_err(|_| anyhow!("cannot write"))?;
    print!("{out}");
    Ok(())
}
