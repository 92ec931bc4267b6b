//! What stands in the caller's memory, and whether a pointer can be used.

use crate::codes::{TV_MISALIGNED, TV_NOT_STARTED, TV_NULL, TV_OK, TV_OVERLAP, TV_WRONG_SIZE};
use core::ffi::c_void;
use core::mem::size_of;
use core::ptr::NonNull;
use tidevane::monitor::{Journal, Monitor, Report, Settings};
use tidevane::quantity::{Record, Sink};
use tidevane::record;

/// Entries that the journal keeps until they are taken.
const ENTRIES: usize = 16;

/// What `tv_start` writes: another word for another build, since the shape of all that a monitor holds is in it.
/// Memory holds it by chance once in four thousand million times.
const STARTED: u32 = <Kept as Record>::SHAPE ^ size_of::<Held>() as u32 ^ 0x7469_6465;

record! {
    /// What a snapshot keeps.
    #[derive(Debug)]
    pub(crate) struct Kept {
        pub(crate) monitor: Monitor,
        pub(crate) journal: Journal<ENTRIES>,
    }
}

pub(crate) struct Held {
    started: u32,
    /// Nothing was heard and nothing restored.
    pub(crate) fresh: bool,
    pub(crate) kept: Kept,
    pub(crate) report: Report,
}

impl Held {
    /// Part by part, so that no second one needs room on the stack.
    ///
    /// # Safety
    /// The place can be written and nobody else uses it.
    pub(crate) unsafe fn begin(place: NonNull<Self>, settings: Settings) {
        let held = place.as_ptr();
        // SAFETY: as the caller promises.
        unsafe {
            (&raw mut (*held).started).write(0);
            (&raw mut (*held).fresh).write(true);
            (&raw mut (*held).kept.journal).write(Journal::new());
            (&raw mut (*held).report).write(Report::default());
            begin_monitor(&raw mut (*held).kept.monitor, settings);
            (&raw mut (*held).started).write(STARTED);
        }
    }
}

/// # Safety
/// As [`Held::begin`].
#[inline(never)]
pub(crate) unsafe fn begin_monitor(place: *mut Monitor, settings: Settings) {
    // SAFETY: as the caller promises.
    unsafe { place.write(Monitor::new(settings)) };
}

/// A place for a `T`, if there is one of at least so many bytes.
pub(crate) fn room<T>(at: *mut T, bytes: usize) -> Result<NonNull<T>, i32> {
    let place = NonNull::new(at).ok_or(TV_NULL)?;
    if !place.is_aligned() {
        Err(TV_MISALIGNED)
    } else if bytes < size_of::<T>() {
        Err(TV_WRONG_SIZE)
    } else {
        Ok(place)
    }
}

/// A place for a structure of exactly the size that the caller's header gives it.
pub(crate) fn of_size<T>(at: *mut T, bytes: usize) -> Result<NonNull<T>, i32> {
    if bytes > size_of::<T>() { Err(TV_WRONG_SIZE) } else { room(at, bytes) }
}

/// Whether bytes from one place on reach into those from another.
pub(crate) fn apart(
    one: *const c_void,
    bytes: usize,
    other: *const c_void,
    others: usize,
) -> Result<(), i32> {
    let (one, other) = (one.addr(), other.addr());
    let ends = one.saturating_add(bytes) <= other || other.saturating_add(others) <= one;
    if ends || bytes == 0 || others == 0 { Ok(()) } else { Err(TV_OVERLAP) }
}

/// Calls with what the memory holds.
///
/// # Safety
/// `memory` is null, or can be written and nobody else uses it; it holds something, such as zeros.
pub(crate) unsafe fn with(memory: *mut c_void, call: impl FnOnce(&mut Held) -> i32) -> i32 {
    let place = match room(memory.cast::<Held>(), size_of::<Held>()) {
        Ok(place) => place,
        Err(error) => return error,
    };
    // SAFETY: not null and aligned; that it holds something is the caller's promise. Only the word is
    // read before it is known to be a monitor.
    let started = unsafe { (&raw const (*place.as_ptr()).started).read() };
    if started != STARTED {
        return TV_NOT_STARTED;
    }
    // SAFETY: `tv_start` has made it, and nobody else uses it during this call.
    call(unsafe { &mut *place.as_ptr() })
}

/// As [`with`], and writes what the call made to a place of its own.
///
/// # Safety
/// As [`with`], for both places.
pub(crate) unsafe fn told<T>(
    memory: *mut c_void,
    out: *mut T,
    bytes: usize,
    call: impl FnOnce(&mut Held) -> Result<T, i32>,
) -> i32 {
    let place = match of_size(out, bytes) {
        Ok(place) => place,
        Err(error) => return error,
    };
    if let Err(error) = apart(memory, size_of::<Held>(), out.cast(), bytes) {
        return error;
    }
    let tell = |held: &mut Held| match call(held) {
        Ok(made) => {
            // SAFETY: not null, aligned and long enough; that it is memory is the caller's promise.
            unsafe { place.write(made) };
            TV_OK
        }
        Err(error) => error,
    };
    // SAFETY: as the caller promises.
    unsafe { with(memory, tell) }
}

/// Reads a structure of the caller's.
///
/// # Safety
/// `at` is null, or can be read.
pub(crate) unsafe fn given<T: Copy>(at: *const T, bytes: usize) -> Result<T, i32> {
    // SAFETY: not null, aligned and of the right size; that it can be read is the caller's promise.
    of_size(at.cast_mut(), bytes).map(|place| unsafe { place.read() })
}

/// The stable code of a variant, which its record tells first.
pub(crate) fn code(of: &impl Record) -> u8 {
    let mut first = First::default();
    of.save(&mut first);
    first.code.unwrap_or(u8::MAX)
}

/// The bits of a set, which its record tells as a number.
pub(crate) fn bits(of: &impl Record) -> u32 {
    let mut first = First::default();
    of.save(&mut first);
    first.number
}

#[derive(Default)]
struct First {
    code: Option<u8>,
    number: u32,
}

impl Sink for First {
    fn number(&mut self, bits: i64, _: u8) {
        self.number = bits as u32;
    }

    fn code(&mut self, code: u8) {
        self.code.get_or_insert(code);
    }
}
