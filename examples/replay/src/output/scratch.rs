//! Files that do not stand in their place yet: none is left behind, whatever ends the program.

use std::collections::HashSet;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{LazyLock, Mutex, MutexGuard, PoisonError};
use tempfile::{NamedTempFile, TempPath};

static OPEN: LazyLock<Mutex<HashSet<PathBuf>>> = LazyLock::new(Mutex::default);

/// How a program ends that was told to by SIGINT, as a shell has it.
const INTERRUPTED: i32 = 130;

fn open() -> MutexGuard<'static, HashSet<PathBuf>> {
    OPEN.lock().unwrap_or_else(PoisonError::into_inner)
}

/// From now on SIGINT, SIGTERM and SIGHUP end the program, with every scratch file removed.
///
/// # Errors
/// Where the system does not let signals be caught.
pub fn watch() -> io::Result<()> {
    ctrlc::set_handler(|| {
        // Held to the end: no file is made any more.
        let open = open();
        for path in open.iter() {
            let _ = std::fs::remove_file(path);
        }
        eprintln!("replay: interrupted");
        std::process::exit(INTERRUPTED);
    })
    .map_err(io::Error::other)
}

/// A scratch file.
pub(crate) struct Scratch(Option<NamedTempFile>);

impl Scratch {
    pub(crate) fn make(make: impl FnOnce() -> io::Result<NamedTempFile>) -> io::Result<Self> {
        let mut open = open();
        let file = make()?;
        open.insert(file.path().to_owned());
        Ok(Self(Some(file)))
    }

    pub(crate) fn file(&mut self) -> io::Result<&mut NamedTempFile> {
        self.0.as_mut().ok_or_else(|| io::ErrorKind::NotFound.into())
    }

    /// Puts it in its place.
    pub(crate) fn persist(mut self, to: &Path) -> io::Result<()> {
        let Some(file) = self.0.take() else { return Err(io::ErrorKind::NotFound.into()) };
        let path: TempPath = file.into_temp_path();
        let scratch = path.to_path_buf();
        let done = path.persist(to).map_err(|error| error.error);
        open().remove(&scratch);
        done
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        if let Some(file) = self.0.take() {
            let mut open = open();
            open.remove(file.path());
            drop(file);
        }
    }
}
