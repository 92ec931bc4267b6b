//! The reader of recordings, whichever it is.
//!
//! - Every line is a reading or a refusal with a reason; a line never spills into the next.
//! - The other end of line, blank lines between and blanks around change nothing but numbers.
//! - A reading written out in decimals comes back to the bit, but for numbers that stand for none.
//! - Moments never run backwards by a turn of the counter.

use tidevane::quantity::Instant;
use tidevane::signal::Reading;

/// A line's number and what it holds: a moment and a reading, or why it cannot be read.
pub type Line = (u64, Result<(Instant, Reading), String>);
/// What a recording says, line by line; `None` where its head says nothing.
pub type Read = fn(&[u8]) -> Option<Vec<Line>>;

/// Holds all of the above.
///
/// # Panics
/// Where one of them does not hold.
pub fn check(data: &[u8], read: Read) {
    let Some(lines) = read(data) else { return };
    assert!(lines.windows(2).all(|pair| pair[0].0 < pair[1].0), "a line without a number");
    for (_, row) in &lines {
        match row {
            Ok((_, reading)) => again(*reading, read),
            Err(why) => assert!(!why.is_empty()),
        }
    }
    let rows = |data: &[u8]| Some(read(data)?.into_iter().map(|line| line.1).collect::<Vec<_>>());
    // A quote or a lone carriage return may cut lines elsewhere.
    if data.iter().all(|byte| !matches!(byte, b'\r' | b'"')) && data.is_ascii() {
        let ends: Vec<u8> = data.iter().flat_map(|&b| with(b, b"\r\n")).collect();
        assert_eq!(rows(&ends), rows(data), "ends of lines");
        let blanks: Vec<u8> = data.iter().flat_map(|&b| with(b, b" \n\n\t\n ")).collect();
        assert_eq!(rows(&blanks), rows(data), "blank lines");
    }
}

/// A byte, or what stands in the place of an end of line.
fn with(byte: u8, end: &[u8]) -> Vec<u8> {
    if byte == b'\n' { end.to_vec() } else { vec![byte] }
}

/// The reading, written out as doubles, which hold it exactly, and read again.
fn again(reading: Reading, read: Read) {
    let exact = |bits: i32| f64::from(bits) / 65_536.0;
    let (flow, pressure) = (exact(reading.flow.to_bits()), exact(reading.pressure.to_bits()));
    if [flow, pressure].iter().any(|value| [-999.0, -9_999.0, 9_999.0].contains(value)) {
        return;
    }
    let text = format!("t_us,flow_ml_per_s,paw_cmH2O\n7,{flow},{pressure}\n");
    let lines = read(text.as_bytes()).expect("a head");
    assert_eq!(lines, [(2, Ok((Instant::from_us(7), reading)))], "{text}");
}
