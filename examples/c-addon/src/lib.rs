//! The monitor behind a C interface. The caller owns all memory; there is no heap.
//!
//! Advisory only; not a medical device. Nothing here may act on a patient.
//!
//! Every pointer is looked at before it is used: null, misaligned and short ones are refused with an
//! error code. What cannot be looked at is the caller's promise: memory that is really there, and
//! used by nobody else during the call.
#![cfg_attr(target_os = "none", no_std)]

use core::mem::{align_of, size_of};
use core::ptr::NonNull;
use tidevane::breath::Kind;
use tidevane::monitor::{EventKind, Monitor, Report, Settings};
use tidevane::quantity::{Flow, Instant, Mass, Pressure, Rate, SettingError, Tick};
use tidevane::signal::Sample;
use tidevane::trigger::Threshold;

/// The call did what it says.
pub const TV_OK: i32 = 0;
/// A pointer is null.
pub const TV_NULL: i32 = -1;
/// A pointer does not stand on the boundary that its type needs.
pub const TV_MISALIGNED: i32 = -2;
/// The memory is too short.
pub const TV_TOO_SHORT: i32 = -3;
/// A setting is out of its range.
pub const TV_BAD_SETTING: i32 = -4;
/// The memory holds no monitor that `tv_start` has made.
pub const TV_NOT_STARTED: i32 = -5;

/// What the monitor is set to. Zero leaves a setting out.
#[repr(C)]
#[derive(Debug, Clone, Copy)]
pub struct TvSettings {
    /// Weight, g.
    pub weight_g: u32,
    /// Trigger threshold set on the machine, mL/s, times 65 536.
    pub threshold_q16: i32,
    /// Rate set on the machine, per minute, times 65 536.
    pub set_rate_q16: i32,
}

/// What a sample brought. Quantities are times 65 536: mL and cmH2O.
#[repr(C)]
#[derive(Debug, Clone, Copy)]
pub struct TvOutcome {
    /// When the breath began, turned outward and ended, µs.
    pub onset_us: u64,
    pub end_insp_us: u64,
    pub end_us: u64,
    /// Volumes at the sensor.
    pub inspired_q16: i32,
    pub expired_q16: i32,
    /// Largest pressure, and that before the breath.
    pub peak_q16: i32,
    pub baseline_q16: i32,
    /// Share of the inspired volume that leaked, over the last breaths; look at `leak_known` first.
    pub leak_q16: i32,
    /// 1 where the sample closed a breath: all above counts only then.
    pub breath: u8,
    /// 1 where the machine inflated.
    pub inflation: u8,
    /// 1 where nothing was wrong with the breath.
    pub trusted: u8,
    pub leak_known: u8,
    /// How many events the sample brought, and how many of them began an alarm.
    pub events: u8,
    pub alarms_begun: u8,
}

/// A word that memory holds by chance once in four thousand million times.
const STARTED: u32 = 0x7469_6465;

/// What stands in the caller's memory.
struct Held {
    started: u32,
    monitor: Monitor,
}

/// How many bytes a monitor needs.
#[unsafe(no_mangle)]
pub extern "C" fn tv_size() -> usize {
    size_of::<Held>()
}

/// On what boundary a monitor must stand.
#[unsafe(no_mangle)]
pub extern "C" fn tv_alignment() -> usize {
    align_of::<Held>()
}

/// Makes a monitor in `bytes` of `memory`.
///
/// # Safety
/// `memory` is null, or `bytes` of it can be written and nobody else uses them; `settings` is null,
/// or can be read.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_start(
    memory: *mut core::ffi::c_void,
    bytes: usize,
    settings: *const TvSettings,
) -> i32 {
    let place = match room(memory.cast::<Held>(), bytes) {
        Ok(place) => place,
        Err(error) => return error,
    };
    let settings = match room(settings.cast_mut(), size_of::<TvSettings>()) {
        // SAFETY: not null and aligned; that it can be read is the caller's promise.
        Ok(settings) => unsafe { settings.read() },
        Err(error) => return error,
    };
    let Ok(settings) = settings.checked() else { return TV_BAD_SETTING };
    // SAFETY: not null, aligned and long enough; that it is memory is the caller's promise.
    unsafe { place.write(Held { started: STARTED, monitor: Monitor::new(settings) }) };
    TV_OK
}

/// Takes one sample: the hardware's tick in µs, which may wrap; flow in mL/s and pressure in cmH2O,
/// times 65 536. Writes what it brought into `outcome`, of which `outcome_bytes` are there.
///
/// # Safety
/// `memory` and `outcome` are null, or can be written and nobody else uses them. Memory that
/// `tv_start` did not fill must at least hold something, such as zeros.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_push(
    memory: *mut core::ffi::c_void,
    tick_us: u32,
    flow_q16: i32,
    pressure_q16: i32,
    outcome: *mut TvOutcome,
    outcome_bytes: usize,
) -> i32 {
    let push = |monitor: &mut Monitor| {
        let (flow, pressure) = (Flow::from_bits(flow_q16), Pressure::from_bits(pressure_q16));
        monitor.push(Sample { tick: Tick::from_us(tick_us), flow, pressure })
    };
    // SAFETY: as the caller promises.
    unsafe { told(memory, outcome, outcome_bytes, push) }
}

/// A sample is known to be lost: as long as usual passes without input, which can ring.
///
/// # Safety
/// As `tv_push`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_lost(
    memory: *mut core::ffi::c_void,
    outcome: *mut TvOutcome,
    outcome_bytes: usize,
) -> i32 {
    // SAFETY: as the caller promises.
    unsafe { told(memory, outcome, outcome_bytes, Monitor::lost) }
}

/// Time passed without a sample; from power-up on. Call it ten times a second where samples may stay
/// away.
///
/// # Safety
/// As `tv_push`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_tick(
    memory: *mut core::ffi::c_void,
    tick_us: u32,
    outcome: *mut TvOutcome,
    outcome_bytes: usize,
) -> i32 {
    let tick = |monitor: &mut Monitor| monitor.tick(Tick::from_us(tick_us));
    // SAFETY: as the caller promises.
    unsafe { told(memory, outcome, outcome_bytes, tick) }
}

/// Whoever is responsible has seen all that rings: a latching alarm stops with its condition.
///
/// # Safety
/// As `tv_push`, for `memory`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_acknowledge(memory: *mut core::ffi::c_void) -> i32 {
    // SAFETY: as the caller promises.
    unsafe { with(memory, Monitor::acknowledge) }
}

/// Something was changed on the machine, now: what follows is judged by these settings, what was learned
/// is kept. Those that are refused change nothing.
///
/// # Safety
/// As `tv_push`; `settings` is null, or can be read.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_change(
    memory: *mut core::ffi::c_void,
    settings: *const TvSettings,
    outcome: *mut TvOutcome,
    outcome_bytes: usize,
) -> i32 {
    let settings = match room(settings.cast_mut(), size_of::<TvSettings>()) {
        // SAFETY: not null and aligned; that it can be read is the caller's promise.
        Ok(settings) => unsafe { settings.read() },
        Err(error) => return error,
    };
    let Ok(settings) = settings.checked() else { return TV_BAD_SETTING };
    // No moment is later: it is taken for now.
    let change =
        |monitor: &mut Monitor| monitor.settings_changed(Instant::from_us(u64::MAX), settings);
    // SAFETY: as the caller promises.
    unsafe { told(memory, outcome, outcome_bytes, change) }
}

/// Calls the monitor and writes what it says.
///
/// # Safety
/// As `tv_push`.
unsafe fn told(
    memory: *mut core::ffi::c_void,
    outcome: *mut TvOutcome,
    outcome_bytes: usize,
    call: impl FnOnce(&mut Monitor) -> Report,
) -> i32 {
    let out = match room(outcome, outcome_bytes) {
        Ok(out) => out,
        Err(error) => return error,
    };
    // SAFETY: not null, aligned and long enough; that it is memory is the caller's promise.
    let tell = |monitor: &mut Monitor| unsafe { out.write(TvOutcome::of(&call(monitor))) };
    // SAFETY: as the caller promises.
    unsafe { with(memory, tell) }
}

/// A place for a `T`, if there is one.
fn room<T>(at: *mut T, bytes: usize) -> Result<NonNull<T>, i32> {
    let place = NonNull::new(at).ok_or(TV_NULL)?;
    if !place.is_aligned() {
        Err(TV_MISALIGNED)
    } else if bytes < size_of::<T>() {
        Err(TV_TOO_SHORT)
    } else {
        Ok(place)
    }
}

/// # Safety
/// As [`tv_push`].
unsafe fn with(memory: *mut core::ffi::c_void, call: impl FnOnce(&mut Monitor)) -> i32 {
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
    call(unsafe { &mut (*place.as_ptr()).monitor });
    TV_OK
}

impl TvSettings {
    fn checked(self) -> Result<Settings, SettingError> {
        let mut settings = Settings::builder();
        if self.weight_g != 0 {
            settings = settings.weight(Mass::from_grams(self.weight_g)?);
        }
        if self.threshold_q16 != 0 {
            settings = settings.threshold(Threshold::new(Flow::from_bits(self.threshold_q16))?);
        }
        if self.set_rate_q16 != 0 {
            settings = settings.set_rate(Rate::from_bits(self.set_rate_q16));
        }
        settings.build()
    }
}

impl TvOutcome {
    fn of(report: &Report) -> Self {
        let begun = report.events.iter().filter(|event| match event.what {
            EventKind::Alarm(alarm) => alarm.change == tidevane::alarm::Change::On,
            _ => false,
        });
        let mut out = Self {
            onset_us: 0,
            end_insp_us: 0,
            end_us: 0,
            inspired_q16: 0,
            expired_q16: 0,
            peak_q16: 0,
            baseline_q16: 0,
            leak_q16: 0,
            breath: 0,
            inflation: 0,
            trusted: 0,
            leak_known: 0,
            events: report.events.len() as u8,
            alarms_begun: begun.count() as u8,
        };
        let Some(closed) = &report.breath else { return out };
        let breath = &closed.breath;
        (out.onset_us, out.end_insp_us) = (breath.onset.to_us(), breath.end_insp.to_us());
        out.end_us = breath.end.to_us();
        out.inspired_q16 = breath.inspired.value.to_bits();
        out.expired_q16 = breath.expired.value.to_bits();
        (out.peak_q16, out.baseline_q16) = (breath.peak.to_bits(), breath.baseline.to_bits());
        if let Some(share) = closed.leak_window.share() {
            (out.leak_q16, out.leak_known) = (share.to_bits(), 1);
        }
        out.breath = 1;
        out.inflation = u8::from(breath.kind == Kind::Inflation);
        out.trusted = u8::from(breath.is_trusted());
        out
    }
}

/// Nothing here panics; the linker drops this.
#[cfg(target_os = "none")]
#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    loop {}
}
