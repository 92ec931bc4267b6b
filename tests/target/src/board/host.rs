//! The host behind the semihosting door: arguments in, bytes in, text out.

use crate::item::{BYTES, Item};
use core::fmt;
use core::sync::atomic::{AtomicUsize, Ordering};
use cortex_m_semihosting::{debug, syscall};

/// Ends the run.
pub fn exit(well: bool) -> ! {
    debug::exit(if well { debug::EXIT_SUCCESS } else { debug::EXIT_FAILURE });
    loop {}
}

/// Standard output of the host.
#[derive(Debug, Clone, Copy)]
pub struct Out;

/// The host's handle of it; zero before it was opened.
static CONSOLE: AtomicUsize = AtomicUsize::new(0);

impl fmt::Write for Out {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        const WRITE_TEXT: usize = 4;
        let mut console = CONSOLE.load(Ordering::Relaxed);
        if console == 0 {
            // SAFETY: the name, by which the console is known, ends in a zero that is not counted.
            console = unsafe { syscall!(OPEN, c":tt".as_ptr(), WRITE_TEXT, 3) };
            CONSOLE.store(console, Ordering::Relaxed);
        }
        // SAFETY: SYS_WRITE reads the bytes of the text and returns how many it did not write.
        match unsafe { syscall!(WRITE, console, text.as_ptr(), text.len()) } {
            0 => Ok(()),
            _ => Err(fmt::Error),
        }
    }
}

/// The command line.
#[derive(Debug)]
pub struct Arguments {
    text: [u8; 256],
}

impl Arguments {
    /// As the host gave it; empty where it gave none.
    #[must_use]
    pub fn read() -> Self {
        let mut text = [0; 256];
        let block = [text.as_mut_ptr() as usize, text.len() - 1];
        // SAFETY: SYS_GET_CMDLINE writes at most the length given, a zero at the end.
        let failed = unsafe { syscall!(GET_CMDLINE, block[0], block[1]) };
        if failed != 0 {
            text = [0; 256];
        }
        Self { text }
    }

    /// Word number `n`, counted from zero: the program's name.
    #[must_use]
    pub fn word(&self, n: usize) -> Option<&str> {
        let text = self.text.split(|&b| b == 0).next()?;
        core::str::from_utf8(text).ok()?.split(' ').filter(|word| !word.is_empty()).nth(n)
    }

    /// Word number `n` as a number.
    #[must_use]
    pub fn number(&self, n: usize) -> Option<u32> {
        self.word(n)?.parse().ok()
    }
}

/// How many items are read at a time.
const AT_ONCE: usize = 25;

/// A recording on the host, up to a number of samples.
#[derive(Debug)]
pub struct File {
    handle: usize,
    buffer: [u8; BYTES * AT_ONCE],
    at: usize,
    end: usize,
    left: u32,
}

impl File {
    /// Opens a recording.
    #[must_use]
    pub fn open(path: &str, samples: u32) -> Option<Self> {
        let mut name = [0; 256];
        name.get_mut(..path.len())?.copy_from_slice(path.as_bytes());
        const READ_BYTES: usize = 1;
        // SAFETY: SYS_OPEN reads a name that ends in a zero: the path is shorter than its room.
        let handle = unsafe { syscall!(OPEN, name.as_ptr(), READ_BYTES, path.len()) };
        let (buffer, at, end) = ([0; BYTES * AT_ONCE], 0, 0);
        (path.len() < 256 && handle as isize > 0).then_some(Self {
            handle,
            buffer,
            at,
            end,
            left: samples,
        })
    }
}

impl Iterator for File {
    type Item = Item;

    fn next(&mut self) -> Option<Item> {
        if self.left == 0 {
            return None;
        }
        if self.at >= self.end {
            let (to, size) = (self.buffer.as_mut_ptr(), self.buffer.len());
            // SAFETY: SYS_READ writes at most the buffer's size and returns what it left unwritten.
            let short = unsafe { syscall!(READ, self.handle, to, size) };
            self.end = size.checked_sub(short)?;
            self.at = 0;
        }
        let bytes = self.buffer.get(self.at..self.end)?.first_chunk()?;
        self.at += BYTES;
        let item = Item::from_bytes(bytes).unwrap_or_else(|| panic!("no such item"));
        if matches!(item, Item::Sample(..)) {
            self.left -= 1;
        }
        Some(item)
    }
}
