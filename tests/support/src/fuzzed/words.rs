//! What is said in words: of any value that is written for a reader.

use std::fmt::{self, Display, Write};

/// A sink with room for so many bytes.
struct Room(usize);

impl Write for Room {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        self.0 = self.0.checked_sub(text.len()).ok_or(fmt::Error)?;
        Ok(())
    }
}

/// The text of a value: there is one, it is a number wherever it says a number, zero has no sign, and a sink
/// that is full is told to the caller.
pub(crate) fn said(value: &impl Display) -> String {
    let text = value.to_string();
    assert!(!text.is_empty() && text.trim() == text, "{text:?}");
    assert!(!text.contains("NaN"), "{text}");
    assert!(write!(Room(text.len()), "{value}").is_ok());
    assert!(write!(Room(text.len() - 1), "{value}").is_err(), "a full sink is not told: {text}");
    let numbers = text.split(|c: char| !(c.is_ascii_digit() || c == '-' || c == '.'));
    for number in numbers {
        let zero = number
            .strip_prefix('-')
            .is_some_and(|rest| rest.contains('0') && rest.chars().all(|c| c == '0' || c == '.'));
        assert!(!zero, "a zero below zero: {text}");
    }
    text
}
