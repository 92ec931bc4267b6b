#![no_main]
//! See `tests/fuzzed/csv.rs`.

#[path = "../../examples/replay/cells.rs"]
mod cells;
#[path = "../../examples/replay/clock.rs"]
#[expect(dead_code, reason = "the program says by how much times were moved")]
mod clock;
#[path = "../../examples/replay/columns.rs"]
mod columns;
#[path = "../../tests/fuzzed/csv.rs"]
mod csv;
#[path = "../../examples/replay/lines.rs"]
mod lines;
#[path = "../../examples/replay/text.rs"]
#[expect(dead_code, reason = "the program prints numbers too")]
mod text;

libfuzzer_sys::fuzz_target!(|data: &[u8]| csv::check(data));
