//! Single blocks, each as firmware that takes no other would call it. `.ci/target` links them one by one and
//! weighs what the linker keeps.
#![no_std]

use tidevane::leak::{Leak, LeakWindowState};
use tidevane::monitor::Breaths;
use tidevane::quantity::{Duration, Flow, SettingError, Volume};
use tidevane::signal::Sample;
use tidevane::trigger::{NoiseFloor, Threshold, ThresholdVerdict};
use tidevane::volume::{Limiter, LimiterOutcome, LimiterState};

/// Is the threshold above leak and noise?
#[unsafe(no_mangle)]
pub fn part_threshold(
    threshold: Flow,
    floor: NoiseFloor,
) -> Result<ThresholdVerdict, SettingError> {
    Ok(Threshold::new(threshold)?.check(Some(floor)).verdict)
}

/// 8 mL, 20 ms ahead, checked while compiling.
const LIMITER: Limiter = match Limiter::new(Volume::from_int(8), Duration::from_millis(20)) {
    Ok(limiter) => limiter,
    Err(_) => panic!("a limit that fits"),
};

/// Has this inflation reached its volume?
#[unsafe(no_mangle)]
pub fn part_limiter(state: &mut LimiterState, span: Duration, flow: &[Flow; 2]) -> LimiterOutcome {
    LIMITER.step(state, span, flow[0], flow[1])
}

/// How much leaks, from raw samples on?
#[unsafe(no_mangle)]
pub fn part_leak(
    state: &mut Option<(Breaths, LeakWindowState<8>)>,
    sample: Sample,
) -> Option<Leak> {
    let (breaths, window) = state.get_or_insert_default();
    let breath = breaths.push(sample)?;
    window.learn(&breath);
    Some(window.leak())
}

/// Never linked: nothing here panics.
#[cfg(target_os = "none")]
#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    loop {}
}
