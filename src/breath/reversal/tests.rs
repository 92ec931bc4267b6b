use super::*;
use crate::quantity::{Pressure, Volume};
use crate::signal::{End, Reading};
use std::vec::Vec;

/// A quarter of a millilitre makes a turn.
const NEEDED: Volume = Volume::from_milli(250).value;

/// When flows in mL/s, read each 10 ms from zero on, turned inward beyond a level of 8 mL/s, in µs, toward
/// zero.
fn turned(flows: &[i16], swings: bool) -> Option<u64> {
    let end =
        |flow: i16| End::from(Reading { flow: Flow::from_int(flow), pressure: Pressure::ZERO });
    let (mut turn, mut totals) = (FlowReversal::default(), Totals::default());
    let mut at = Instant::default();
    for pair in flows.windows(2) {
        let span = Duration::from_millis(10);
        at = at.after(span);
        let (from, to) = (end(pair[0]), end(pair[1]));
        let interval = Interval { at, span, from, to, ..Interval::default() };
        totals.add(&interval);
        let way = Way { from: from.flow, to: to.flow, level: Flow::from_int(8) };
        let needed = || arith::q16_to_area(NEEDED.to_bits());
        if let Outcome::Turned = turn.step(&interval, &totals, way, needed, || swings) {
            let turned = turn.confirm(&mut Totals::default(), &mut PhaseIntegrals::default());
            return Some(turned.to_us());
        }
    }
    None
}

/// What begins at once: 10, 30, 50 and so on.
const BREATH: [i16; 4] = [10, 30, 50, 50];

fn after(before: &[i16]) -> Vec<i16> {
    before.iter().chain(&BREATH).copied().collect()
}

#[test]
fn a_turn_is_dated_back_to_where_the_flow_crossed_a_quarter_of_the_level() {
    // 2 mL/s lie a fifth of the way from 0 to 10, behind the reading at 20 ms.
    assert_eq!(turned(&after(&[0, 0, 0]), false), Some(21_999));
    // 0.3 mL come, 0.16 of them below the level: too little alone.
    assert_eq!(turned(&[0, 0, 30, 0, 0, -50, -50, -50], false), None);
}

#[test]
fn gas_that_came_with_a_bubble_and_stayed_belongs_to_the_turn() {
    // From 30 to 80 ms 0.02 + 0.05 + 0.06 + 0.05 + 0.025 + 0.005 = 0.21 mL come below the level and stay.
    let crest = after(&[0, 0, 0, 4, 6, 6, 4, 1, 0]);
    // 2 mL/s lie half way from 0 to 4.
    assert_eq!(turned(&crest, true), Some(25_000));
    // 8 mL/s once: 0.04 mL up to it and 0.04 behind, above the 0.062 5 that make it a part; 2 mL/s lie a quarter
    // of the way.
    assert_eq!(turned(&after(&[0, 0, 0, 8, 0, 0]), true), Some(22_500));
    // Where no pressure swings it is ripple of the sensor: a fifth of the way from 80 ms on.
    assert_eq!(turned(&crest, false), Some(81_999));
}

#[test]
fn gas_that_a_bubble_brought_and_took_again_is_no_part_of_the_turn() {
    // 0.18 mL come; (4 - 16) / 2 and -16 mL/s for 10 ms each take 0.22 again.
    let swing = after(&[0, 0, 0, 4, 6, 6, 4, -16, -16]);
    // 18/26 of the way from -16 to 10, behind the reading at 80 ms.
    assert_eq!(turned(&swing, true), Some(86_923));
    // 0.2 mL came more than 140 ms before the breath: from 30 to 180 ms.
    let mut long_ago = [0; 18];
    long_ago[3..7].copy_from_slice(&[4, 6, 6, 4]);
    assert_eq!(turned(&after(&long_ago), true), Some(171_999));
}
