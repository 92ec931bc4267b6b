//! What survives a reset: a monitor, its settings or a journal as bytes, and back.
//!
//! A monitor that goes on from its snapshot says the same, to the bit, as one that was never stopped. Keep
//! the bytes where a reset leaves them (RAM that is not cleared, FRAM, flash) and write a new snapshot over
//! an old one only where the other stays whole until the CRC stands.
//!
//! ```
//! use tidevane::monitor::snapshot::{SnapshotError, read_into, room, write};
//! use tidevane::monitor::{Monitor, Settings};
//!
//! let monitor = Monitor::new(Settings::default());
//! let mut kept = [0; room::<Monitor>()];
//! let used = write(&monitor, &mut kept)?;
//!
//! // After the reset:
//! let mut begun = Monitor::new(Settings::default());
//! read_into(&mut begun, &kept[..used])?;
//! assert_eq!(begun, monitor);
//! kept[9] ^= 1;
//! assert_eq!(read_into(&mut begun, &kept[..used]), Err(SnapshotError::Damaged));
//! # Ok::<(), SnapshotError>(())
//! ```
//!
//! What was kept tells of a time before the reset. Where the tick counter went on, push on: the time without
//! samples is a gap like any other. Where it began anew call [`Monitor::resume`](super::Monitor::resume) first, or
//! the next tick is taken for one that much earlier or later; how long the reset took it cannot know.
//!
//! | bytes | |
//! |---|---|
//! | 4 | what kind of value it is, and of which version of this crate: a number that changes with every name and type in it |
//! | 4 | how many bytes follow before the CRC |
//! | … | its numbers and codes in order, each number in as few bytes as it takes (LEB128, signs folded in) |
//! | 4 | CRC-32 of all before (ISO/IEC/IEEE 8802-3), least byte first, as all above |

use crate::quantity::{Record, Sink, Source, arith, shape};
use core::fmt;

/// Why bytes are no snapshot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum SnapshotError {
    /// The room given is too small: [`room`] says what always suffices.
    TooSmall,
    /// The bytes are cut short, or were changed since.
    Damaged,
    /// They are whole, but of another version of this crate, or of another kind of value.
    Foreign,
    /// They are whole, but hold what no value of this kind does: a setting that its constructor refuses.
    Refused,
}

impl fmt::Display for SnapshotError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::TooSmall => "there is too little room for a snapshot",
            Self::Damaged => "the snapshot is damaged",
            Self::Foreign => "the snapshot is of another version or kind",
            Self::Refused => "the snapshot holds what is no such value",
        })
    }
}

impl core::error::Error for SnapshotError {}

/// The bytes before the value, and those behind.
const HEAD: usize = 8;
const TAIL: usize = 4;

/// How many bytes a snapshot of such a value takes at most.
#[must_use]
pub const fn room<T: Record>() -> usize {
    T::LONGEST.saturating_add(HEAD.saturating_add(TAIL))
}

/// What tells this version's `T` from all else.
const fn kind<T: Record>() -> u32 {
    shape::joined(shape::named(shape::START, env!("CARGO_PKG_VERSION")), T::SHAPE)
}

/// Writes a snapshot and says how many bytes it took.
///
/// # Errors
/// [`SnapshotError::TooSmall`]; what was written until then is no snapshot.
pub fn write<T: Record>(value: &T, to: &mut [u8]) -> Result<usize, SnapshotError> {
    let (kind_of, rest) = to.split_first_chunk_mut().ok_or(SnapshotError::TooSmall)?;
    let (length, rest) = rest.split_first_chunk_mut().ok_or(SnapshotError::TooSmall)?;
    let room = rest.len();
    let mut sink = Writer { rest, overflown: false };
    value.save(&mut sink);
    if sink.overflown {
        return Err(SnapshotError::TooSmall);
    }
    let used = room.saturating_sub(sink.rest.len());
    *kind_of = kind::<T>().to_le_bytes();
    *length = u32::try_from(used).unwrap_or(u32::MAX).to_le_bytes();
    let end = HEAD.saturating_add(used);
    let (body, tail) = to.split_at_mut_checked(end).ok_or(SnapshotError::TooSmall)?;
    *tail.first_chunk_mut().ok_or(SnapshotError::TooSmall)? = arith::crc_32(body).to_le_bytes();
    Ok(end.saturating_add(TAIL))
}

/// Reads a snapshot; what stands behind it is left alone.
///
/// # Errors
/// Bytes that are damaged, foreign or refused make no value.
pub fn read<T: Record>(from: &[u8]) -> Result<T, SnapshotError> {
    let mut source = Reader(value::<T>(from)?);
    match T::load(&mut source) {
        Some(value) if source.0.is_empty() => Ok(value),
        _ => Err(SnapshotError::Refused),
    }
}

/// As [`read`], into a value that stands already: a monitor needs no second one's room on the stack.
///
/// # Errors
/// Damaged or foreign bytes change nothing. After [`SnapshotError::Refused`], which whole bytes of this version do
/// not bring about, the value is to be made anew.
pub fn read_into<T: Record>(into: &mut T, from: &[u8]) -> Result<(), SnapshotError> {
    let mut source = Reader(value::<T>(from)?);
    match into.load_into(&mut source) {
        Some(()) if source.0.is_empty() => Ok(()),
        _ => Err(SnapshotError::Refused),
    }
}

/// The bytes of the value itself, where they are whole and of such a kind.
fn value<T: Record>(from: &[u8]) -> Result<&[u8], SnapshotError> {
    let (kind_of, rest) = from.split_first_chunk::<4>().ok_or(SnapshotError::Damaged)?;
    let (length, rest) = rest.split_first_chunk::<4>().ok_or(SnapshotError::Damaged)?;
    let length = usize::try_from(u32::from_le_bytes(*length)).unwrap_or(usize::MAX);
    let (body, tail) = rest.split_at_checked(length).ok_or(SnapshotError::Damaged)?;
    let crc = tail.first_chunk::<TAIL>().ok_or(SnapshotError::Damaged)?;
    let whole = from.get(..HEAD.saturating_add(length)).ok_or(SnapshotError::Damaged)?;
    if arith::crc_32(whole) != u32::from_le_bytes(*crc) {
        return Err(SnapshotError::Damaged);
    }
    if u32::from_le_bytes(*kind_of) != kind::<T>() {
        return Err(SnapshotError::Foreign);
    }
    Ok(body)
}

/// Writes bytes while there is room.
struct Writer<'a> {
    rest: &'a mut [u8],
    overflown: bool,
}

impl Sink for Writer<'_> {
    fn number(&mut self, bits: i64, _fraction: u8) {
        let mut left = arith::zigzag(bits);
        loop {
            let (byte, more) = arith::seven_bits(left);
            self.code(byte);
            left = more;
            if left == 0 {
                break;
            }
        }
    }

    fn code(&mut self, code: u8) {
        match core::mem::take(&mut self.rest).split_first_mut() {
            Some((place, rest)) => {
                *place = code;
                self.rest = rest;
            }
            None => self.overflown = true,
        }
    }
}

/// Reads bytes while there are any.
struct Reader<'a>(&'a [u8]);

impl Source for Reader<'_> {
    fn number(&mut self) -> Option<i64> {
        let mut bits = 0;
        // Sixty-four bits in sevens.
        for place in 0..10 {
            let byte = self.code()?;
            bits = arith::with_seven_bits(bits, byte, place)?;
            if byte < 0x80 {
                return Some(arith::unzigzag(bits));
            }
        }
        None
    }

    fn code(&mut self) -> Option<u8> {
        let (first, rest) = self.0.split_first()?;
        self.0 = rest;
        Some(*first)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::monitor::{Monitor, Settings};
    use std::vec;
    use std::vec::Vec;

    fn written<T: Record>(value: &T) -> Vec<u8> {
        let mut bytes = vec![0; room::<T>()];
        let used = write(value, &mut bytes).unwrap();
        bytes.truncate(used);
        bytes
    }

    #[test]
    fn numbers_take_as_few_bytes_as_they_need() {
        // LEB128 over signs folded in: 0 is 0, −1 is 1, 1 is 2, −64 is 127; 64 is 128: 0x80 0x01.
        let (bytes, head) = (written(&(-64_i32, 64_i64)), 8);
        assert_eq!(&bytes[head..bytes.len() - 4], [127, 0x80, 0x01]);
        // u64::MAX is −1 as a signed number; the ends take ten bytes.
        assert_eq!(written(&u64::MAX)[head], 1);
        for (number, length) in [(i64::MIN, 10), (i64::MAX, 10), (0, 1), (-1, 1), (63, 1), (64, 2)]
        {
            let bytes = written(&number);
            assert_eq!(bytes.len(), head + length + 4, "{number}");
            assert_eq!(read::<i64>(&bytes), Ok(number));
        }
    }

    #[test]
    fn what_is_cut_changed_or_foreign_is_refused() {
        let bytes = written(&(5_u8, true));
        assert_eq!(read::<(u8, bool)>(&bytes), Ok((5, true)));
        for end in 0..bytes.len() {
            assert_eq!(read::<(u8, bool)>(&bytes[..end]), Err(SnapshotError::Damaged), "{end}");
        }
        for place in 0..bytes.len() {
            let mut changed = bytes.clone();
            changed[place] ^= 0x10;
            assert_eq!(read::<(u8, bool)>(&changed), Err(SnapshotError::Damaged), "{place}");
        }
        assert_eq!(read::<(u8, u8)>(&bytes), Err(SnapshotError::Foreign));
        assert_eq!(read::<Monitor>(&bytes), Err(SnapshotError::Foreign));
        // Whole, of the right kind, and yet no value: a bool of 2.
        let mut wrong = bytes.clone();
        let end = wrong.len() - 4;
        wrong[end - 1] = 2;
        let crc = arith::crc_32(&wrong[..end]).to_le_bytes();
        wrong[end..].copy_from_slice(&crc);
        assert_eq!(read::<(u8, bool)>(&wrong), Err(SnapshotError::Refused));
        let mut small = [0; 13];
        assert_eq!(write(&(5_u8, true), &mut small), Err(SnapshotError::TooSmall));
    }

    #[test]
    fn a_monitor_fits_its_room() {
        let monitor = Monitor::new(Settings::default());
        let bytes = written(&monitor);
        assert!(bytes.len() < room::<Monitor>(), "{} of {}", bytes.len(), room::<Monitor>());
        assert_eq!(read(&bytes), Ok(monitor));
    }
}
