//! A record written down and read back.

use std::collections::VecDeque;
use tidevane::quantity::{Record, Sink, Source};

/// Numbers and codes in order.
#[derive(Debug, Default)]
pub struct Tape(VecDeque<i64>);

impl Sink for Tape {
    fn number(&mut self, bits: i64, _: u8) {
        self.0.push_back(bits);
    }

    fn code(&mut self, code: u8) {
        self.0.push_back(code.into());
    }
}

impl Source for Tape {
    fn number(&mut self) -> Option<i64> {
        self.0.pop_front()
    }

    fn code(&mut self) -> Option<u8> {
        self.0.pop_front()?.try_into().ok()
    }
}

/// The value that is read back; `None` where none is, or where something is left over.
pub fn there_and_back<T: Record>(value: &T) -> Option<T> {
    let mut tape = Tape::default();
    value.save(&mut tape);
    T::load(&mut tape).filter(|_| tape.0.is_empty())
}
