//! A file kept aside until it takes its place.

use crate::output::same::is_stdout;
use crate::output::scratch::Scratch;
use anyhow::{Context, Result};
use std::fs::{self, File};
use std::io::{self, Seek, Write};
use std::path::{Path, PathBuf};
use tempfile::{Builder, NamedTempFile};

/// How many links are followed.
const LINKS: usize = 40;

/// A file kept aside.
pub(crate) struct Aside {
    named: PathBuf,
    place: Place,
    file: Scratch,
}

/// Where it goes in the end.
#[derive(PartialEq, Eq)]
enum Place {
    /// Replaces this file, or is new there.
    Replace(PathBuf),
    /// Is written into what is there: a pipe, a device.
    Into,
    Stdout,
}

impl Aside {
    /// A file aside for this path, so near that taking its place is one step.
    pub(crate) fn create(to: &Path) -> Result<Self> {
        let make = || -> io::Result<Self> {
            let place = if is_stdout(to) { Place::Stdout } else { place(to)? };
            let file = Scratch::make(|| match &place {
                Place::Replace(path) => beside(path),
                Place::Into | Place::Stdout => NamedTempFile::new().map_err(not_temporary),
            })?;
            Ok(Self { named: to.into(), place, file })
        };
        make().with_context(|| cannot_write(to))
    }

    pub(crate) fn is_replacing(&self) -> bool {
        matches!(self.place, Place::Replace(_))
    }

    /// Puts it where it belongs.
    pub(crate) fn keep(self) -> Result<()> {
        let Self { named, place, mut file } = self;
        let copied = match place {
            Place::Replace(path) => {
                return file.persist(&path).with_context(|| cannot_write(&named));
            }
            Place::Into => File::create(&named).and_then(|to| copy(&mut file, to)),
            Place::Stdout => copy(&mut file, io::stdout().lock()),
        };
        match copied {
            // A reader that has seen enough is no error.
            Err(e) if e.kind() == io::ErrorKind::BrokenPipe => Ok(()),
            done => done.with_context(|| cannot_write(&named)),
        }
    }

    pub(crate) fn cannot_write(&self) -> String {
        cannot_write(&self.named)
    }
}

impl Write for Aside {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.file()?.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.file()?.flush()
    }
}

/// The folder of temporary files is named: it is none that the caller gave.
pub(crate) fn not_temporary(error: io::Error) -> io::Error {
    let folder = std::env::temp_dir();
    let text = format!(
        "no temporary file can be made in {} (TMPDIR says where): {error}",
        folder.display()
    );
    io::Error::new(error.kind(), text)
}

fn cannot_write(to: &Path) -> String {
    format!("cannot write {}", to.display())
}

fn copy(file: &mut Scratch, mut to: impl Write) -> io::Result<()> {
    let file = file.file()?;
    file.rewind()?;
    io::copy(file, &mut to)?;
    to.flush()
}

/// The path with its folder free of links; the last part may be a link, or not exist.
fn real(path: &Path) -> io::Result<PathBuf> {
    let name = path.file_name().ok_or(io::ErrorKind::IsADirectory)?;
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    Ok(fs::canonicalize(folder)?.join(name))
}

/// The plain file that a path leads to, whether it exists or not.
pub(crate) fn plain_file(path: &Path) -> Option<PathBuf> {
    match place(path) {
        Ok(Place::Replace(path)) => Some(path),
        _ => None,
    }
}

/// A link is followed, never replaced; what is no plain file stays what it is.
fn place(to: &Path) -> io::Result<Place> {
    let mut path = real(to)?;
    for _ in 0..LINKS {
        if path.starts_with("/dev") || path.starts_with("/proc") {
            return Ok(Place::Into);
        }
        let Ok(target) = fs::read_link(&path) else {
            return match fs::metadata(&path) {
                Ok(meta) if meta.is_dir() => Err(io::ErrorKind::IsADirectory.into()),
                Ok(meta) if !meta.is_file() => Ok(Place::Into),
                _ => Ok(Place::Replace(path)),
            };
        };
        path.pop();
        path = real(&path.join(target))?;
    }
    Err(io::Error::other("too many links"))
}

/// A file in the same folder, with the rights of the one it replaces.
fn beside(path: &Path) -> io::Result<NamedTempFile> {
    let mut builder = Builder::new();
    builder.suffix(".part");
    usual_rights(&mut builder);
    let file = builder.tempfile_in(path.parent().unwrap_or(Path::new("/")))?;
    if let Ok(meta) = fs::metadata(path) {
        file.as_file().set_permissions(meta.permissions())?;
    }
    Ok(file)
}

/// What any new file gets, less what the user's mask takes away.
#[cfg(unix)]
fn usual_rights(builder: &mut Builder<'_, '_>) {
    use std::os::unix::fs::PermissionsExt;
    builder.permissions(fs::Permissions::from_mode(0o666));
}

#[cfg(not(unix))]
fn usual_rights(_: &mut Builder<'_, '_>) {}
