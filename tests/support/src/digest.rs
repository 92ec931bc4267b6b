//! A digest of values: raw bits and stable codes, in the order of the caller's own table.

use super::parts::{self, Part};
use tidevane::quantity::Record;

/// FNV-1a of 64 bits (G. Fowler, L. C. Noll, K.-P. Vo, RFC 9923; the numbers from memory).
#[derive(Debug, Clone, Copy)]
pub struct Digest(pub u64);

impl Default for Digest {
    fn default() -> Self {
        Self(0xcbf2_9ce4_8422_2325)
    }
}

impl Digest {
    /// Takes the eight bytes of a word, the lowest first.
    pub fn word(&mut self, word: u64) {
        for byte in word.to_le_bytes() {
            self.0 = (self.0 ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
    }

    /// Takes a value: of each row of the table at which parts stand its number, how many there are,
    /// and each of them. Neither the rows' names nor the order in which the value declares its fields
    /// enters, so both may change; new rows go to a table's end.
    ///
    /// # Panics
    /// Where a part has no row.
    pub fn take(&mut self, table: &[&str], value: &impl Record) {
        let mut parts = parts::of(value);
        for (number, row) in table.iter().enumerate() {
            let Some(here) = parts.remove(*row) else { continue };
            self.word(number as u64);
            self.word(here.len() as u64);
            for part in here {
                self.word(match part {
                    Part::Number(bits, _) => bits.cast_unsigned(),
                    Part::Code(code) => code.into(),
                });
            }
        }
        let without: Vec<_> = parts.keys().collect();
        assert!(without.is_empty(), "no row for {without:#?}");
    }
}
