//! The monitor behind a C interface. The caller owns all memory; there is no heap.
//!
//! Advisory only; not a medical device. Nothing here may act on a patient.
//!
//! Every pointer is looked at before it is used: null, misaligned, short and overlapping ones are refused with an
//! error code. What cannot be looked at is the caller's promise: memory that is really there, and
//! used by nobody else during the call.
#![cfg_attr(target_os = "none", no_std)]

mod calls;
mod checks;
mod codes;
mod event;
mod keep;
mod limits;
mod memory;
mod names;
mod outcome;
mod settings;
#[cfg(test)]
mod tests;

pub use calls::*;
pub use codes::*;
pub use event::*;
pub use keep::*;
pub use limits::*;
pub use names::*;
pub use outcome::*;
pub use settings::*;

/// Nothing here panics; the linker drops this. With the feature `proof` it must, or does not link.
#[cfg(target_os = "none")]
#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    #[cfg(feature = "proof")]
    {
        unsafe extern "C" {
            fn a_panic_can_be_reached() -> !;
        }
        // Safety: never linked, let alone run.
        unsafe { a_panic_can_be_reached() }
    }
    #[cfg(not(feature = "proof"))]
    loop {}
}
