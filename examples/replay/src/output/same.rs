//! Refuses to read and write one file, or to write one twice.

use crate::args::Args;
use anyhow::{Result, bail};
use std::fs::{self, Metadata};
use std::io;
use std::path::{Path, PathBuf};

/// Stops where two options name the same file.
pub(crate) fn refuse(args: &Args) -> Result<()> {
    let named = [
        ("FILE", &args.file),
        ("--settings", &args.settings),
        ("--breaths", &args.breaths),
        ("--events", &args.events),
        ("--minutes", &args.minutes),
        ("--steps", &args.steps),
        ("--report", &args.report),
        ("--each", &args.each),
        ("--chart", &args.chart),
        ("--save-demo", &args.save_demo),
    ];
    let mut known: Vec<(&str, Identity)> = Vec::new();
    for (option, path) in named {
        let Some(path) = path else { continue };
        let Some(identity) = Identity::of(option, path) else { continue };
        if let Some((other, _)) = known.iter().find(|(_, seen)| *seen == identity) {
            bail!("{other} and {option} are the same file: {}", path.display());
        }
        known.push((option, identity));
    }
    Ok(())
}

/// What makes two paths the same file.
#[derive(PartialEq, Eq)]
enum Identity {
    Inode(u64, u64),
    Path(PathBuf),
}

impl Identity {
    /// `None` for what cannot be told and for devices, which keep nothing.
    fn of(option: &str, path: &Path) -> Option<Self> {
        if option == "FILE" && path.as_os_str() == "-" {
            return stored(&stdin()?);
        }
        match fs::metadata(path) {
            Ok(meta) if cfg!(unix) => stored(&meta),
            Ok(_) => fs::canonicalize(path).ok().map(Self::Path),
            Err(_) => crate::output::place::plain_file(path).map(Self::Path),
        }
    }
}

fn stored(meta: &Metadata) -> Option<Identity> {
    let kind = meta.file_type();
    let (device, inode) = inode(meta)?;
    (kind.is_file() || is_pipe(kind)).then_some(Identity::Inode(device, inode))
}

/// Whether a path leads to the same place as standard output.
pub(crate) fn is_stdout(path: &Path) -> bool {
    let of = |meta: Option<Metadata>| meta.as_ref().and_then(inode);
    let here = of(fs::metadata(path).ok());
    here.is_some() && here == of(stdout())
}

#[cfg(unix)]
fn inode(meta: &Metadata) -> Option<(u64, u64)> {
    use std::os::unix::fs::MetadataExt;
    Some((meta.dev(), meta.ino()))
}

#[cfg(unix)]
fn is_pipe(kind: fs::FileType) -> bool {
    use std::os::unix::fs::FileTypeExt;
    kind.is_fifo()
}

#[cfg(unix)]
fn stdin() -> Option<Metadata> {
    handle(io::stdin())
}

#[cfg(unix)]
fn stdout() -> Option<Metadata> {
    handle(io::stdout())
}

#[cfg(unix)]
fn handle(of: impl std::os::fd::AsFd) -> Option<Metadata> {
    let copy = of.as_fd().try_clone_to_owned().ok()?;
    fs::File::from(copy).metadata().ok()
}

#[cfg(not(unix))]
mod elsewhere {
    use std::fs::{FileType, Metadata};

    pub(super) fn inode(_: &Metadata) -> Option<(u64, u64)> {
        None
    }

    pub(super) fn is_pipe(_: FileType) -> bool {
        false
    }

    pub(super) fn stdin() -> Option<Metadata> {
        None
    }

    pub(super) fn stdout() -> Option<Metadata> {
        None
    }
}
#[cfg(not(unix))]
use elsewhere::{inode, is_pipe, stdin, stdout};
