//! Readers that are not ours.

use anyhow::{Result, anyhow};
use std::panic::{AssertUnwindSafe, catch_unwind};

/// What a hostile file makes a reader panic with is an error as any other.
pub(crate) fn guarded<T>(read: impl FnOnce() -> Result<T>) -> Result<T> {
    catch_unwind(AssertUnwindSafe(read)).unwrap_or_else(|_| Err(anyhow!("the file is damaged")))
}
