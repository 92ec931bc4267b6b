//! Numbers out of raw bytes, in a fixed layout: little end first, nothing derived.

/// What is left of an input.
#[derive(Debug, Clone, Copy)]
pub struct Bytes<'a>(pub &'a [u8]);

impl Bytes<'_> {
    fn take<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (first, rest) = self.0.split_first_chunk::<N>()?;
        self.0 = rest;
        Some(*first)
    }

    /// The next `u8`; `None` where too little is left.
    pub fn u8(&mut self) -> Option<u8> {
        self.take::<1>().map(|[byte]| byte)
    }

    /// The next `u16`; `None` where too little is left.
    pub fn u16(&mut self) -> Option<u16> {
        self.take().map(u16::from_le_bytes)
    }

    /// The next `i16`; `None` where too little is left.
    pub fn i16(&mut self) -> Option<i16> {
        self.take().map(i16::from_le_bytes)
    }

    /// The next `u32`; `None` where too little is left.
    pub fn u32(&mut self) -> Option<u32> {
        self.take().map(u32::from_le_bytes)
    }

    /// The next `i32`; `None` where too little is left.
    pub fn i32(&mut self) -> Option<i32> {
        self.take().map(i32::from_le_bytes)
    }

    /// The next `u64`; `None` where too little is left.
    pub fn u64(&mut self) -> Option<u64> {
        self.take().map(u64::from_le_bytes)
    }
}
