//! What a recording is written in, by its first bytes; a packed text is unpacked.

#[cfg(feature = "arrow")]
use super::arrow::Batches;
use super::delimited::Delimited;
use super::edf::Signals;
use super::layout::Layout;
use super::rows::Body;
use super::wfdb::Record;
use anyhow::{Context, Result, bail};
use indicatif::ProgressBar;
use std::fs::File;
use std::io::{self, Cursor, Read, Seek};
use std::path::Path;

#[cfg(not(feature = "arrow"))]
const WITHOUT_ARROW: &str = "Parquet and Arrow are not read: this program was built without them";

/// So many first bytes tell.
const HEAD: usize = 256;

/// What the first bytes say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Gzip,
    Zstd,
    Parquet,
    ArrowFile,
    ArrowStream,
    Edf,
    Text,
}

impl Kind {
    fn of(head: &[u8]) -> Self {
        match head {
            [0x1f, 0x8b, ..] => Self::Gzip,
            [0x28, 0xb5, 0x2f, 0xfd, ..] => Self::Zstd,
            [b'P', b'A', b'R', b'1', ..] => Self::Parquet,
            [b'A', b'R', b'R', b'O', b'W', b'1', ..] => Self::ArrowFile,
            [0xff, 0xff, 0xff, 0xff, ..] => Self::ArrowStream,
            _ if is_edf(head) => Self::Edf,
            _ => Self::Text,
        }
    }
}

/// The version, and a length of the header that fits its number of signals.
fn is_edf(head: &[u8]) -> bool {
    let field = |from: usize, to: usize| {
        let text = std::str::from_utf8(head.get(from..to)?).ok()?;
        text.trim().parse::<usize>().ok()
    };
    let version = head.starts_with(b"0       ") || head.starts_with(b"\xffBIOSEMI");
    version && field(252, 256).is_some_and(|signals| field(184, 192) == Some(256 * (signals + 1)))
}

/// Opens a file, or standard input for `-`.
pub(crate) fn open(path: &Path, layout: &Layout, progress: &ProgressBar) -> Result<Box<dyn Body>> {
    let name = name(path);
    if path.as_os_str() == "-" {
        let mut input = io::stdin();
        let head = head(&mut input).with_context(|| format!("cannot read {name}"))?;
        return stream(Kind::of(&head), Box::new(Cursor::new(head).chain(input)), layout, &name);
    }
    let mut file = File::open(path).with_context(|| format!("cannot open {name}"))?;
    let meta = file.metadata().with_context(|| format!("cannot open {name}"))?;
    if meta.is_dir() {
        bail!("{name} is a folder, not a recording");
    }
    if path.extension().is_some_and(|end| end.eq_ignore_ascii_case("hea")) {
        return Ok(Box::new(Record::open(path, layout, &name)?));
    }
    let head = head(&mut file).with_context(|| format!("cannot read {name}"))?;
    let kind = Kind::of(&head);
    if !meta.is_file() {
        // A pipe gives its bytes once.
        return stream(kind, Box::new(Cursor::new(head).chain(file)), layout, &name);
    }
    file.rewind().with_context(|| format!("cannot read {name}"))?;
    match kind {
        #[cfg(feature = "arrow")]
        Kind::Parquet => Ok(Box::new(Batches::of_parquet(file, layout, &name)?)),
        #[cfg(feature = "arrow")]
        Kind::ArrowFile => Ok(Box::new(Batches::of_file(file, layout, &name)?)),
        #[cfg(not(feature = "arrow"))]
        Kind::Parquet | Kind::ArrowFile => bail!("{name}: {WITHOUT_ARROW}"),
        Kind::Edf => Ok(Box::new(Signals::open(path, layout, &name)?)),
        Kind::Gzip | Kind::Zstd | Kind::ArrowStream | Kind::Text => {
            progress.set_length(meta.len());
            stream(kind, Box::new(progress.wrap_read(file)), layout, &name)
        }
    }
}

/// What a recording is called in messages.
pub(crate) fn name(path: &Path) -> String {
    if path.as_os_str() == "-" { "standard input".into() } else { path.display().to_string() }
}

/// What can be read from front to back.
fn stream(kind: Kind, input: Box<dyn Read>, layout: &Layout, name: &str) -> Result<Box<dyn Body>> {
    let unpacked: Box<dyn Read> = match kind {
        Kind::Text => input,
        Kind::Gzip => Box::new(flate2::read::MultiGzDecoder::new(input)),
        Kind::Zstd => Box::new(zstd::Decoder::new(input).with_context(|| name.to_owned())?),
        #[cfg(not(feature = "arrow"))]
        Kind::ArrowStream => bail!("{name}: {WITHOUT_ARROW}"),
        #[cfg(feature = "arrow")]
        Kind::ArrowStream => return Ok(Box::new(Batches::of_stream(input, layout, name)?)),
        Kind::Parquet | Kind::ArrowFile | Kind::Edf => {
            bail!(
                "{name} is a pipe, and this kind of recording is read from both ends: give it as a file"
            )
        }
    };
    Ok(Box::new(Delimited::new(unpacked, layout, name)?))
}

/// The first bytes, fewer where there are no more.
fn head(input: &mut impl Read) -> io::Result<Vec<u8>> {
    let mut head = Vec::with_capacity(HEAD);
    input.take(HEAD as u64).read_to_end(&mut head)?;
    Ok(head)
}
