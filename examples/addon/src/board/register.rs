//! One hardware register.

/// A word at an address that the chip's reference manual gives.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Register(*mut u32);

impl Register {
    /// # Safety
    /// The address must be that of a register of this chip, and nobody else may own it.
    pub(crate) const unsafe fn at(address: u32) -> Self {
        Self(address as *mut u32)
    }

    pub(crate) fn write(self, value: u32) {
        // SAFETY: a register of this chip, as whoever made this has promised.
        unsafe { self.0.write_volatile(value) }
    }

    pub(crate) fn read(self) -> u32 {
        // SAFETY: as above.
        unsafe { self.0.read_volatile() }
    }
}
