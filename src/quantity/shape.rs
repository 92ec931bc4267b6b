//! What tells one layout of records from another, worked out while compiling.

/// FNV-1a of 32 bits (RFC 9923) taken further over a name.
#[must_use]
pub const fn named(shape: u32, name: &str) -> u32 {
    let (mut shape, mut rest) = (shape, name.as_bytes());
    while let [byte, tail @ ..] = rest {
        shape = with(shape, *byte);
        rest = tail;
    }
    // A name ends, so that "ab", "c" is not "a", "bc".
    with(shape, 0)
}

/// Taken further over the shape of a part.
#[must_use]
pub const fn joined(shape: u32, part: u32) -> u32 {
    let [a, b, c, d] = part.to_le_bytes();
    with(with(with(with(shape, a), b), c), d)
}

/// Where it begins.
pub const START: u32 = 0x811c_9dc5;

#[expect(clippy::as_conversions, reason = "const: a byte is a u32")]
const fn with(shape: u32, byte: u8) -> u32 {
    (shape ^ byte as u32).wrapping_mul(0x0100_0193)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_end_and_parts_count() {
        // RFC 9923, section 6: the 32-bit FNV-1a of "foobar" is bf9cf968 (value from memory).
        let plain = b"foobar".iter().fold(START, |shape, byte| with(shape, *byte));
        assert_eq!(plain, 0xbf9c_f968);
        assert_ne!(named(named(START, "ab"), "c"), named(named(START, "a"), "bc"));
        assert_ne!(joined(START, 1), joined(START, 256));
    }
}
