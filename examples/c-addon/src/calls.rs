//! Making a monitor and feeding it.

use crate::codes::{TV_BAD_SETTING, TV_NONE, TV_OK, TV_PRIORITY_NONE, TV_VERSION};
use crate::event::verdict;
use crate::memory::{Held, apart, code, given, room, told, with};
use crate::outcome::TvOutcome;
use crate::settings::TvSettings;
use core::ffi::{c_char, c_void};
use core::fmt::Write;
use core::mem::{align_of, size_of};
use tidevane::alarm::VitalSigns;
use tidevane::monitor::Settings;
use tidevane::quantity::{Flow, Instant, Pressure, Tick};
use tidevane::signal::Sample;

/// A sample: the hardware's tick in µs, which may wrap; flow at the airway opening in mL/s, positive into the infant, and
/// pressure there in cmH2O above ambient, times 65 536. The two at the same moment: flow that comes 10 ms after its
/// pressure, or later, leaves causes unknown (`TV_NO_CAUSE_FLOW_LATE`).
#[repr(C)]
#[derive(Debug, Clone, Copy)]
pub struct TvSample {
    pub tick_us: u32,
    pub flow_q16: i32,
    pub pressure_q16: i32,
}

impl TvSample {
    fn sample(self) -> Sample {
        Sample {
            tick: Tick::from_us(self.tick_us),
            flow: Flow::from_bits(self.flow_q16),
            pressure: Pressure::from_bits(self.pressure_q16),
        }
    }
}

/// The library's version, as `TV_VERSION` is the header's: major, minor and patch in a byte each.
#[unsafe(no_mangle)]
pub extern "C" fn tv_version() -> u32 {
    TV_VERSION
}

/// How many bytes a monitor with its journal needs.
#[unsafe(no_mangle)]
pub extern "C" fn tv_size() -> usize {
    size_of::<Held>()
}

/// On what boundary it must stand.
#[unsafe(no_mangle)]
pub extern "C" fn tv_alignment() -> usize {
    align_of::<Held>()
}

/// Fills `settings` with the defaults: nothing is known of the machine, and no limit is set. What rings then: an apnoea
/// after 20 s, a disconnection, a sensor fault after 2 s and no input after 10 s.
///
/// # Safety
/// `settings` is null, or can be written and nobody else uses it.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_defaults(settings: *mut TvSettings, bytes: usize) -> i32 {
    match crate::memory::of_size(settings, bytes) {
        // SAFETY: not null, aligned and of the right size; that it is memory is the caller's promise.
        Ok(place) => unsafe { place.write(TvSettings::of(&Settings::default())) },
        Err(error) => return error,
    }
    TV_OK
}

/// Writes why settings are refused, by the name of the field, as text that ends with a zero: an empty one where they are
/// not. Returns `TV_OK` either way; 96 bytes hold any, a shorter place cuts it.
///
/// # Safety
/// `settings` is null, or can be read; `text` is null, or can be written and nobody else uses it.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_refusal(
    settings: *const TvSettings,
    bytes: usize,
    text: *mut c_char,
    text_bytes: usize,
) -> i32 {
    // SAFETY: as the caller promises.
    let settings = match unsafe { given(settings, bytes) } {
        Ok(settings) => settings,
        Err(error) => return error,
    };
    if let Err(error) = room(text, text_bytes) {
        return error;
    }
    let mut text = Text { at: text, left: text_bytes };
    if let Err(error) = settings.checked() {
        // Cut where there is no room.
        let _ = write!(text, "{error}");
    }
    text.end();
    TV_OK
}

/// Letters in the caller's memory, of which the last place is kept for the zero.
struct Text {
    at: *mut c_char,
    left: usize,
}

impl Text {
    fn end(&mut self) {
        // SAFETY: a place is always left.
        unsafe { self.at.write(0) };
    }
}

impl Write for Text {
    fn write_str(&mut self, text: &str) -> core::fmt::Result {
        for byte in text.bytes() {
            if self.left < 2 {
                return Err(core::fmt::Error);
            }
            // SAFETY: two places are left.
            unsafe {
                self.at.write(byte as c_char);
                self.at = self.at.add(1);
            }
            self.left -= 1;
        }
        Ok(())
    }
}

/// Makes a monitor in `bytes` of `memory`. `settings_bytes` is `sizeof *settings`.
///
/// # Safety
/// `memory` is null, or `bytes` of it can be written and nobody else uses them; `settings` is null,
/// or can be read.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_start(
    memory: *mut c_void,
    bytes: usize,
    settings: *const TvSettings,
    settings_bytes: usize,
) -> i32 {
    let place = match room(memory.cast::<Held>(), bytes) {
        Ok(place) => place,
        Err(error) => return error,
    };
    // SAFETY: as the caller promises.
    let given = match unsafe { given(settings, settings_bytes) } {
        Ok(given) => given,
        Err(error) => return error,
    };
    if let Err(error) = apart(memory, bytes, settings.cast(), settings_bytes) {
        return error;
    }
    let Ok(settings) = given.checked() else { return TV_BAD_SETTING };
    // SAFETY: not null, aligned and long enough; that it is memory is the caller's promise.
    unsafe { Held::begin(place, settings) };
    TV_OK
}

/// Takes one sample and writes what it brought. `outcome_bytes` is `sizeof *outcome`.
///
/// # Safety
/// `memory` and `outcome` are null, or can be written and nobody else uses them. Memory that
/// `tv_start` did not fill must at least hold something, such as zeros.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_push(
    memory: *mut c_void,
    sample: TvSample,
    outcome: *mut TvOutcome,
    outcome_bytes: usize,
) -> i32 {
    let push = |held: &mut Held| held.kept.monitor.push_into(sample.sample(), &mut held.report);
    // SAFETY: as the caller promises.
    unsafe { tell(memory, outcome, outcome_bytes, push) }
}

/// Takes samples up to and including the first that brings something, and writes how many into `taken`: go on with
/// the rest. Where none brought anything all are taken.
///
/// # Safety
/// As `tv_push`; `samples` is null, or `count` of them can be read; `taken` is null, or can be written.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_push_block(
    memory: *mut c_void,
    samples: *const TvSample,
    count: usize,
    taken: *mut usize,
    outcome: *mut TvOutcome,
    outcome_bytes: usize,
) -> i32 {
    let bytes = count.saturating_mul(size_of::<TvSample>());
    let (samples, taken) = match (
        room(samples.cast_mut(), bytes.max(size_of::<TvSample>())),
        room(taken, size_of::<usize>()),
    ) {
        (Ok(samples), Ok(taken)) => (samples, taken),
        (Err(error), _) | (_, Err(error)) => return error,
    };
    for (other, others) in
        [(memory.cast_const(), size_of::<Held>()), (outcome.cast_const().cast(), outcome_bytes)]
    {
        let of_samples = apart(samples.as_ptr().cast_const().cast(), bytes, other, others);
        let of_taken = apart(taken.as_ptr().cast_const().cast(), size_of::<usize>(), other, others);
        if let Err(error) = of_samples.and(of_taken) {
            return error;
        }
    }
    let push = |held: &mut Held| {
        let mut done = 0;
        held.report = Default::default();
        while done < count && held.report.is_silent() {
            // SAFETY: below `count`; that so many can be read is the caller's promise.
            let sample = unsafe { samples.add(done).read() };
            held.kept.monitor.push_into(sample.sample(), &mut held.report);
            done += 1;
        }
        // SAFETY: not null and aligned; that it can be written is the caller's promise.
        unsafe { taken.write(done) };
    };
    // SAFETY: as the caller promises.
    unsafe { tell(memory, outcome, outcome_bytes, push) }
}

/// A sample is known to be lost: its interval is a gap, which flags the breath; where many are lost a sensor fault
/// rings.
///
/// # Safety
/// As `tv_push`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_lost(
    memory: *mut c_void,
    outcome: *mut TvOutcome,
    outcome_bytes: usize,
) -> i32 {
    let lost = |held: &mut Held| held.kept.monitor.lost_into(&mut held.report);
    // SAFETY: as the caller promises.
    unsafe { tell(memory, outcome, outcome_bytes, lost) }
}

/// Time passed without a sample; from power-up on. Call it ten times a second where samples may stay
/// away.
///
/// # Safety
/// As `tv_push`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_tick(
    memory: *mut c_void,
    tick_us: u32,
    outcome: *mut TvOutcome,
    outcome_bytes: usize,
) -> i32 {
    let tick =
        |held: &mut Held| held.kept.monitor.tick_into(Tick::from_us(tick_us), &mut held.report);
    // SAFETY: as the caller promises.
    unsafe { tell(memory, outcome, outcome_bytes, tick) }
}

/// The recording ends: the breath under way is closed, flagged as cut, so that a limit without delay may ring
/// `TV_ALARM_CANNOT_KNOW`. Call it until it brings nothing.
///
/// # Safety
/// As `tv_push`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_finish(
    memory: *mut c_void,
    outcome: *mut TvOutcome,
    outcome_bytes: usize,
) -> i32 {
    let finish = |held: &mut Held| held.report = held.kept.monitor.finish();
    // SAFETY: as the caller promises.
    unsafe { tell(memory, outcome, outcome_bytes, finish) }
}

/// Something was changed on the machine, now: what follows is judged by these settings, what was learned
/// is kept. Those that are refused change nothing.
///
/// # Safety
/// As `tv_push`; `settings` is null, or can be read.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_change(
    memory: *mut c_void,
    settings: *const TvSettings,
    settings_bytes: usize,
    outcome: *mut TvOutcome,
    outcome_bytes: usize,
) -> i32 {
    // SAFETY: as the caller promises.
    let settings = match unsafe { given(settings, settings_bytes) } {
        Ok(settings) => settings,
        Err(error) => return error,
    };
    let Ok(settings) = settings.checked() else { return TV_BAD_SETTING };
    // No moment is earlier: it is taken for now.
    let change = |held: &mut Held| {
        held.report = held.kept.monitor.settings_changed(Instant::from_us(0), settings);
    };
    // SAFETY: as the caller promises.
    unsafe { tell(memory, outcome, outcome_bytes, change) }
}

/// Writes what the monitor is set to.
///
/// # Safety
/// As `tv_push`, for `memory` and `settings`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_settings(
    memory: *mut c_void,
    settings: *mut TvSettings,
    settings_bytes: usize,
) -> i32 {
    let read = |held: &mut Held| Ok(TvSettings::of(held.kept.monitor.settings()));
    // SAFETY: as the caller promises.
    unsafe { told(memory, settings, settings_bytes, read) }
}

/// What another monitor shows of heart rate (per minute) and saturation (percent); 0 for neither.
///
/// # Safety
/// As `tv_push`, for `memory`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_vital_signs(
    memory: *mut c_void,
    heart_rate: u16,
    saturation: u8,
) -> i32 {
    let signs = VitalSigns {
        heart_rate: (heart_rate != 0).then_some(heart_rate),
        saturation: (saturation != 0).then_some(saturation),
    };
    let set = |held: &mut Held| {
        held.kept.monitor.set_vital_signs(signs);
        TV_OK
    };
    // SAFETY: as the caller promises.
    unsafe { with(memory, set) }
}

/// The tick counter began anew, as in a reset: `tick_us` is taken for the latest moment that was heard. How long it was
/// off cannot be known and counts for nothing; the breath under way is flagged. It comes after `tv_restore` and before
/// the first sample, with a tick below that sample's, or that sample is refused. A monitor that has heard nothing
/// and was not restored has nothing to go on from: `TV_NONE`.
///
/// # Safety
/// As `tv_push`, for `memory`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_resume(memory: *mut c_void, tick_us: u32) -> i32 {
    let resume = |held: &mut Held| {
        if held.fresh {
            return TV_NONE;
        }
        held.kept.monitor.resume(Tick::from_us(tick_us));
        TV_OK
    };
    // SAFETY: as the caller promises.
    unsafe { with(memory, resume) }
}

/// Whoever is responsible has seen all that rings: a latching alarm stops with its condition. One that does not latch
/// does that by itself; for it this does nothing.
///
/// # Safety
/// As `tv_push`, for `memory`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_acknowledge(memory: *mut c_void) -> i32 {
    let acknowledge = |held: &mut Held| {
        held.kept.monitor.acknowledge();
        TV_OK
    };
    // SAFETY: as the caller promises.
    unsafe { with(memory, acknowledge) }
}

/// What stands now.
#[repr(C)]
#[derive(Debug, Clone, Copy)]
pub struct TvNow {
    /// How long nothing usable was heard, ms.
    pub blind_ms: u32,
    /// `TV_SIGN_...`.
    pub signs: u32,
    /// `TV_LOAD_...`, and `TV_NO_VERDICT_...` where it cannot be told, else 255.
    pub verdict: u8,
    pub no_verdict: u8,
    /// `TV_PRIORITY_...` of what rings highest; `TV_PRIORITY_NONE`, which is 255, where nothing does.
    pub priority: u8,
}

/// Writes what stands now.
///
/// # Safety
/// As `tv_push`, for `memory` and `now`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn tv_now(memory: *mut c_void, now: *mut TvNow, now_bytes: usize) -> i32 {
    let read = |held: &mut Held| {
        let monitor = &held.kept.monitor;
        let (verdict, signs, no_verdict) = verdict(&monitor.verdict());
        let highest = monitor.settings().alarms().highest(monitor.alarms());
        Ok(TvNow {
            blind_ms: u32::try_from(monitor.blind().to_us() / 1_000).unwrap_or(u32::MAX),
            signs,
            verdict,
            no_verdict,
            priority: highest.map_or(TV_PRIORITY_NONE, |priority| code(&priority)),
        })
    };
    // SAFETY: as the caller promises.
    unsafe { told(memory, now, now_bytes, read) }
}

/// Calls the monitor, keeps what belongs into the journal and writes what it says.
///
/// # Safety
/// As `tv_push`.
unsafe fn tell(
    memory: *mut c_void,
    outcome: *mut TvOutcome,
    outcome_bytes: usize,
    call: impl FnOnce(&mut Held),
) -> i32 {
    let tell = |held: &mut Held| {
        call(held);
        held.fresh = false;
        held.kept.journal.take(&held.report);
        Ok(TvOutcome::of(&held.report, &held.kept.monitor))
    };
    // SAFETY: as the caller promises.
    unsafe { told(memory, outcome, outcome_bytes, tell) }
}
