//! Numbers as bytes, and what tells whether bytes were changed.

/// Signs folded in: 0, −1, 1, −2 become 0, 1, 2, 3.
pub(crate) const fn zigzag(number: i64) -> u64 {
    (number.cast_unsigned() << 1) ^ (number >> 63).cast_unsigned()
}

/// The number that [`zigzag`] folded.
pub(crate) const fn unzigzag(folded: u64) -> i64 {
    (folded >> 1).cast_signed() ^ (folded & 1).cast_signed().wrapping_neg()
}

/// The lowest seven bits, with the eighth set where more follow; and what follows.
pub(crate) const fn seven_bits(left: u64) -> (u8, u64) {
    let more = left >> 7;
    let low = (left & 0x7f) as u8;
    (if more == 0 { low } else { low | 0x80 }, more)
}

/// With seven more bits at their place (0 to 9); `None` beyond the sixty-fourth bit.
pub(crate) const fn with_seven_bits(bits: u64, byte: u8, place: u32) -> Option<u64> {
    let low = (byte & 0x7f) as u64;
    if place > 9 || (place == 9 && low > 1) {
        return None;
    }
    Some(bits | low << (place * 7))
}

/// CRC-32 of ISO/IEC/IEEE 8802-3: polynomial 04C11DB7, reflected, from and onto all ones. Eight steps a
/// byte, no table.
pub(crate) const fn crc_32(bytes: &[u8]) -> u32 {
    let (mut crc, mut rest) = (u32::MAX, bytes);
    while let [byte, tail @ ..] = rest {
        crc ^= *byte as u32;
        let mut bit = 0;
        while bit < 8 {
            crc = (crc >> 1) ^ (0xedb8_8320 & (crc & 1).wrapping_neg());
            bit += 1;
        }
        rest = tail;
    }
    !crc
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_check_value_of_crc_32() {
        // The check value of CRC-32/ISO-HDLC over the digits "123456789" (catalogue of parametrised CRC
        // algorithms; from memory): cbf43926.
        assert_eq!(crc_32(b"123456789"), 0xcbf4_3926);
        assert_eq!(crc_32(b""), 0);
    }

    #[test]
    fn folded_there_and_back() {
        for (number, folded) in
            [(0, 0), (-1, 1), (1, 2), (-2, 3), (i64::MAX, u64::MAX - 1), (i64::MIN, u64::MAX)]
        {
            assert_eq!((zigzag(number), unzigzag(folded)), (folded, number));
        }
        // 300 = 2 × 128 + 44: 0xac, 0x02.
        assert_eq!((seven_bits(300), seven_bits(2)), ((0xac, 2), (2, 0)));
        assert_eq!(with_seven_bits(44, 2, 1), Some(300));
        assert_eq!((with_seven_bits(0, 1, 9), with_seven_bits(0, 2, 9)), (Some(1 << 63), None));
    }
}
