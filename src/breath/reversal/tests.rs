use super::*;
use crate::quantity::{Pressure, Volume};
use crate::signal::{End, Reading};
use std::collections::BTreeSet;
use std::vec::Vec;

/// A quarter of a millilitre makes a turn.
const NEEDED: Volume = Volume::from_milli(250).value;

/// When flows in mL/s, read each 10 ms from zero on, turned inward beyond a level of 8 mL/s, in µs, toward
/// zero.
fn turned(flows: &[i16], swings: bool) -> Option<u64> {
    course(flows, Duration::from_millis(10), swings, |_, _, _| ()).map(|(_, at)| at)
}

/// The same with a reading each `span`, and after how many of them; tells each step's states and flow.
fn course(
    flows: &[i16],
    span: Duration,
    swings: bool,
    mut each: impl FnMut(State, i16, State),
) -> Option<(usize, u64)> {
    let end =
        |flow: i16| End::from(Reading { flow: Flow::from_int(flow), pressure: Pressure::ZERO });
    let (mut turn, mut totals) = (FlowReversal::default(), Totals::default());
    let mut at = Instant::default();
    for (i, pair) in flows.windows(2).enumerate() {
        at = at.after(span);
        let (from, to) = (end(pair[0]), end(pair[1]));
        let interval = Interval { at, span, from, to, ..Interval::default() };
        totals.add(&interval);
        let way = Way { from: from.flow, to: to.flow, level: Flow::from_int(8) };
        let needed = || Area::of_seconds(NEEDED);
        let before = state(&turn);
        let outcome = turn.step(&interval, &totals, way, needed, || swings);
        each(before, pair[1], state(&turn));
        if let Outcome::Turned = outcome {
            let turned = turn.confirm(&mut Totals::default(), &mut PhaseIntegrals::default());
            return Some((i + 1, turned.to_us()));
        }
    }
    None
}

type State = (bool, bool, bool);

fn state(turn: &FlowReversal) -> State {
    (turn.active, turn.below, turn.waits)
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
    // 8 mL/s once: 0.04 mL up to it and 0.04 behind, above the 0.031 that make it a part; 2 mL/s lie a quarter
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
    // 0.2 mL came more than 145 ms before the breath: from 30 to 180 ms.
    let mut long_ago = [0; 18];
    long_ago[3..7].copy_from_slice(&[4, 6, 6, 4]);
    assert_eq!(turned(&after(&long_ago), true), Some(171_999));
}

#[test]
fn where_the_first_bubble_is_too_long_ago_the_next_begins_the_turn() {
    // Two bubbles of 0.16 mL, from 30 and 110 ms on; the breath from 200 ms on, by when the first lies 160 ms ago.
    let mut bubbles = [0; 20];
    bubbles[3..7].copy_from_slice(&[4, 6, 6, 0]);
    bubbles[11..15].copy_from_slice(&[4, 6, 6, 0]);
    // 2 mL/s lie half way from 0, at 100 ms, to 4.
    assert_eq!(turned(&after(&bubbles), true), Some(105_000));
    // Of the second, too, nothing is left: (0 - 16) / 2 and -16 / 2 mL/s take 0.16 mL again. 2 mL/s lie a
    // fifth of the way from 190 ms on.
    bubbles[16] = -16;
    assert_eq!(turned(&after(&bubbles), true), Some(191_999));
}

/// Where the flow crossed the foot, and the volume moved until its interval began and from which the turn's counts.
#[derive(Debug)]
struct Crossing {
    at: f64,
    before: f64,
    base: f64,
}

/// The same told from the page, in mL and ms: how many readings confirm a turn, and every crossing from which it may
/// be dated, the latest last.
fn by_the_page(flows: &[i16], span: f64, stays: bool) -> Option<(usize, Vec<Crossing>)> {
    const LEVEL: f64 = 8.0;
    const FOOT: f64 = LEVEL / 4.0;
    let (mut crossings, mut sum, mut total) = (Vec::new(), 0.0_f64, 0.0);
    // Beside or above the foot since the latest crossing; none, where it crept for too long.
    let (mut up, mut crept) = (false, 0.0);
    for (i, pair) in flows.windows(2).enumerate() {
        let (from, to) = (f64::from(pair[0]), f64::from(pair[1]));
        let moved = (from + to) / 2.0 * span / 1_000.0;
        let crosses = to > FOOT && !up;
        // What went back and came again is no turn before the next reading, but where a bubble's gas stays.
        let again = crosses && sum > 0.0 && !stays;
        if crosses {
            let share = if from < FOOT { (FOOT - from) / (to - from) } else { 0.0 };
            let base = total + moved.min(0.0);
            crossings.push(Crossing { at: (i as f64 + share) * span, before: total, base });
            crept = 0.0;
        } else {
            crept += span;
        }
        up = to > FOOT;
        total += moved;
        if crossings.is_empty() {
            continue;
        }
        sum = (sum + moved - LEVEL * span / 1_000.0).max(0.0);
        if sum >= 0.25 && !again {
            return Some((i + 1, crossings));
        }
        if up && sum == 0.0 && crept > 40.0 {
            // It did not rise to the level in time: from here it may.
            up = false;
        }
    }
    None
}

#[test]
fn every_course_of_ten_readings_turns_where_the_page_says() {
    // Out, none, above the foot, above the level; 20 ms between: 40 ms are two of them, 145 are seven.
    let alphabet = [-16_i16, 0, 4, 30];
    let (mut met, mut turns, mut earlier) = (BTreeSet::new(), 0, 0);
    for number in 0..4_usize.pow(9) {
        let letter = |place| alphabet[number / 4_usize.pow(place) % 4];
        let flows: Vec<i16> = [0].into_iter().chain((0..9).map(letter)).collect();
        let [again, stays] = [false, true].map(|stays| by_the_page(&flows, 20.0, stays));
        for swings in [false, true] {
            let mut each = |before, flow, after| {
                met.insert((before, flow, after));
            };
            let told = course(&flows, Duration::from_millis(20), swings, &mut each);
            let after = |turn: &Option<(usize, Vec<_>)>| turn.as_ref().map(|turn| turn.0);
            let told_after = told.map(|turn| turn.0);
            let wanted = if swings && told_after == after(&stays) { &stays } else { &again };
            assert_eq!(
                told_after,
                after(wanted),
                "readings until {flows:?} turn, swings: {swings}"
            );
            let (Some((_, at)), Some((_, crossings))) = (told, wanted) else { continue };
            turns += 1;
            let at = at as f64 / 1_000.0;
            let latest = crossings.last().unwrap();
            if (at - latest.at).abs() < 0.002 {
                continue;
            }
            // A bubble's, no longer ago than 145 ms and what it lasted itself, of which an eighth of what makes a
            // turn is still there; not without bubbles.
            let of_bubble = crossings.iter().any(|crossing| {
                (at - crossing.at).abs() < 0.002
                    && latest.at - crossing.at <= 160.0
                    && latest.before - crossing.base > 0.25 / 8.0
            });
            // Or up to two readings later: where its gas went back while the flow crept.
            let crept = at > latest.at && at - latest.at <= 40.001;
            assert!(
                swings && (of_bubble || crept),
                "{flows:?}: dated {at} ms, not {} ms; {crossings:?}",
                latest.at
            );
            earlier += 1;
        }
    }
    assert!(turns > 100_000 && earlier > 1_000, "{turns} turns, {earlier} by a bubble");
    let states: BTreeSet<State> = met.iter().flat_map(|(a, _, b)| [*a, *b]).collect();
    // Idle, and idle behind a dip, under four flows each: 8. Up: a dip of either size ends it, is held or waits, a
    // creep ends, is held or waits, 30 is held: 10. Dipped: 16 out take more than a turn needs, so it ends or waits,
    // none may also be held; 4 and 30 come again: 7. Waiting below or above the foot: what does not come ends or
    // waits on, what comes is held: 6 each.
    assert_eq!((states.len(), met.len()), (6, 8 + 10 + 7 + 12), "{met:?}");
}
