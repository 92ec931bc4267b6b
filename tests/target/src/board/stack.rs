//! How deep the stack went: what lies below it is painted, and looked at afterwards.

use core::hint::black_box;

/// How far below the caller is painted.
pub const PAINTED: usize = 4_096;
const PAINT: u32 = 0x5a5a_a5a5;

/// What a call returns, and how many bytes of stack it used. The stack must have room for
/// [`PAINTED`] bytes more.
#[inline(never)]
pub fn depth<R>(call: impl FnOnce() -> R) -> (R, usize) {
    let top = cortex_m::register::msp::read() as usize & !3;
    paint(top);
    let result = black_box(call());
    (result, deepest(top))
}

/// Every word from far below to just under the frame of the caller.
#[inline(never)]
fn paint(top: usize) {
    let own = cortex_m::register::msp::read() as usize & !3;
    for word in (top - PAINTED..own - 64).step_by(4) {
        // SAFETY: memory below the stack's own pointer that nothing owns; no interrupt is on.
        unsafe { (word as *mut u32).write_volatile(PAINT) };
    }
}

#[inline(never)]
fn deepest(top: usize) -> usize {
    for word in (top - PAINTED..top).step_by(4) {
        // SAFETY: as above.
        if unsafe { (word as *const u32).read_volatile() } != PAINT {
            return top - word;
        }
    }
    0
}
