//! What is taken out and kept: entries of the journal, and a snapshot that survives a reset.

use crate::codes::{TV_BAD_SNAPSHOT, TV_NONE, TV_OK, TV_WRONG_SIZE};
use crate::event::TvEntry;
use crate::memory::{Held, Kept, apart, begin_monitor, room, told, with};
use core::ffi::c_void;
use core::mem::size_of;
use tidevane::monitor::snapshot::{SnapshotError, read_into, room as room_of, write};

/// Writes the oldest entry of the journal and takes it out; `TV_NONE` where there is none. The journal keeps the
/// latest sixteen.
///
/// # Safety
/// As `tv_push`, for `memory` and `entry`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_journal(
    memory: *mut c_void,
    entry: *mut TvEntry,
    entry_bytes: usize,
) -> i32 {
    let pop =
        |held: &mut Held| held.kept.journal.pop().map(|entry| TvEntry::of(&entry)).ok_or(TV_NONE);
    // SAFETY: as the caller promises.
    unsafe { told(memory, entry, entry_bytes, pop) }
}

/// How many bytes a snapshot takes at most; it is about half of that.
#[unsafe(no_mangle)]
pub extern "C" fn tv_snapshot_size() -> usize {
    room_of::<Kept>()
}

/// Writes what the monitor remembers, its journal with it, and how many bytes that took: a monitor that goes on from
/// it after a reset says what one that was never stopped says.
///
/// # Safety
/// As `tv_push`, for `memory`, `bytes` of `to`, and `used`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_snapshot(
    memory: *mut c_void,
    to: *mut u8,
    bytes: usize,
    used: *mut usize,
) -> i32 {
    let place = match room(to, bytes) {
        Ok(place) => place,
        Err(error) => return error,
    };
    for (other, others) in
        [(memory.cast_const(), size_of::<Held>()), (used.cast_const().cast(), size_of::<usize>())]
    {
        if let Err(error) = apart(to.cast(), bytes, other, others) {
            return error;
        }
    }
    let keep = |held: &mut Held| {
        // SAFETY: not null, and apart from all else; that so many bytes are there is the caller's promise.
        let bytes = unsafe { core::slice::from_raw_parts_mut(place.as_ptr(), bytes) };
        write(&held.kept, bytes).map_err(|_| TV_WRONG_SIZE)
    };
    // SAFETY: as the caller promises.
    unsafe { told(memory, used, size_of::<usize>(), keep) }
}

/// Lets a monitor that `tv_start` made go on from a snapshot of this build, of at least the bytes that `tv_snapshot`
/// told. Its settings replace those that `tv_start` was given. One that is damaged or of another build changes nothing
/// (`TV_BAD_SNAPSHOT`). Where the tick counter began anew `tv_resume` comes next.
///
/// # Safety
/// As `tv_push`, for `memory`; `from` is null, or `bytes` of it can be read.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_restore(memory: *mut c_void, from: *const u8, bytes: usize) -> i32 {
    let place = match room(from.cast_mut(), bytes) {
        Ok(place) => place,
        Err(error) => return error,
    };
    if let Err(error) = apart(memory, size_of::<Held>(), from.cast(), bytes) {
        return error;
    }
    let restore = |held: &mut Held| {
        // SAFETY: not null; that so many bytes can be read is the caller's promise.
        let bytes = unsafe { core::slice::from_raw_parts(place.as_ptr(), bytes) };
        match read_into(&mut held.kept, bytes) {
            Ok(()) => {
                held.fresh = false;
                TV_OK
            }
            Err(error) => {
                if error == SnapshotError::Refused {
                    // Half changed: it begins anew.
                    let settings = *held.kept.monitor.settings();
                    // SAFETY: it is ours, and holds nothing that must be dropped.
                    unsafe { begin_monitor(&raw mut held.kept.monitor, settings) };
                    held.fresh = true;
                }
                TV_BAD_SNAPSHOT
            }
        }
    };
    // SAFETY: as the caller promises.
    unsafe { with(memory, restore) }
}
