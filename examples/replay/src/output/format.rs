//! What kind of file a report is.

use anyhow::{Result, bail};
use std::path::Path;

/// By the end of the file's name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Format {
    Markdown,
    Html,
}

impl Format {
    pub(crate) fn of(path: &Path) -> Result<Self> {
        let end = path.extension().map(|end| end.to_string_lossy().to_ascii_lowercase());
        match end.as_deref() {
            Some("md") => Ok(Self::Markdown),
            Some("html" | "htm") => Ok(Self::Html),
            _ => bail!("--report needs a name that ends in .md or .html: {}", path.display()),
        }
    }
}
