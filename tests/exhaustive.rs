//! Small state machines over every sequence of a small alphabet, against what their pages say: no state and no
//! transition is left to chance.

use std::collections::HashSet;
use tidevane::quantity::{Duration, Flow, Record, Sink, Volume};
use tidevane::volume::{Limiter, LimiterOutcome, LimiterState};

/// Every sequence of so many items of an alphabet.
fn sequences<T: Copy>(alphabet: &[T], length: u32) -> impl Iterator<Item = Vec<T>> {
    let letters = alphabet.len();
    (0..letters.pow(length)).map(move |mut number| {
        (0..length)
            .map(|_| {
                let letter = number % letters;
                number /= letters;
                alphabet[letter]
            })
            .collect()
    })
}

/// The first code that a record tells: its variant, or that of its first field.
#[derive(Default)]
struct FirstCode(Option<u8>);

impl Sink for FirstCode {
    fn number(&mut self, _: i64, _: u8) {}

    fn code(&mut self, code: u8) {
        self.0.get_or_insert(code);
    }
}

fn phase(state: &LimiterState) -> u8 {
    let mut first = FirstCode::default();
    state.save(&mut first);
    first.0.unwrap()
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Input {
    /// An inflation begins, having moved so many mL.
    Begin(i16),
    /// 10 ms at so many mL/s.
    Flow(i16),
    Lose,
    End,
}

/// What the last input of a course brings, told from the whole course: the inflation under way begins with the last
/// `Begin` that no `End` follows; it stops once, where what moved and what comes in 20 ms reach 2 mL, unless readings
/// were lost before.
fn outcome(course: &[Input]) -> Option<LimiterOutcome> {
    let (Input::Flow(_), before) = course.split_last()? else { return None };
    let border = before.iter().rposition(|input| matches!(input, Input::Begin(_) | Input::End));
    let Some(begun) = border else { return Some(LimiterOutcome::Idle) };
    let Input::Begin(first) = before[begun] else { return Some(LimiterOutcome::Idle) };
    // In hundredths of a mL: 10 ms at 1 mL/s is 1; the delay is two of them.
    let mut moved = i64::from(first) * 100;
    let (mut lost, mut told) = (false, LimiterOutcome::Idle);
    let mut stopped = false;
    for input in &course[begun + 1..] {
        match input {
            Input::Lose => lost |= !stopped,
            Input::Flow(_) if stopped => told = LimiterOutcome::Idle,
            Input::Flow(_) if lost => told = LimiterOutcome::Unknown,
            Input::Flow(flow) => {
                moved += i64::from(*flow);
                stopped = moved + 2 * i64::from(*flow).max(0) >= 200;
                told = if stopped {
                    let milli = i32::try_from(moved * 10).unwrap();
                    LimiterOutcome::Stop { moved: Volume::from_milli(milli) }
                } else {
                    LimiterOutcome::Below
                };
            }
            Input::Begin(_) | Input::End => unreachable!("the last of them is the border"),
        }
    }
    Some(told)
}

#[test]
fn the_limiter_over_every_course_of_six() {
    let limiter = Limiter::new(Volume::from_int(2), Duration::from_millis(20)).unwrap();
    let alphabet = [
        Input::Begin(0),
        Input::Begin(1),
        Input::Flow(40),
        Input::Flow(0),
        Input::Flow(-40),
        Input::Lose,
        Input::End,
    ];
    let (mut transitions, mut courses) = (HashSet::new(), 0);
    for course in sequences(&alphabet, 6) {
        courses += 1;
        let mut state = LimiterState::default();
        for (i, input) in course.iter().enumerate() {
            let before = phase(&state);
            let told = match *input {
                Input::Begin(ml) => {
                    limiter.begin(&mut state, Volume::from_int(ml));
                    None
                }
                Input::Flow(flow) => {
                    let flow = Flow::from_int(flow);
                    Some(limiter.step(&mut state, Duration::from_millis(10), flow, flow))
                }
                Input::Lose => {
                    limiter.lose(&mut state);
                    None
                }
                Input::End => {
                    limiter.end(&mut state);
                    None
                }
            };
            let wanted = outcome(&course[..=i]);
            match (told, wanted) {
                (
                    Some(LimiterOutcome::Stop { moved: told }),
                    Some(LimiterOutcome::Stop { moved: wanted }),
                ) => {
                    // Each 0.4 mL is rounded to 1/65 536 by itself when it is written here.
                    let apart = (told.value.to_bits() - wanted.value.to_bits()).abs();
                    assert!(apart <= 1, "{course:?} at {i}: {told:?}, not {wanted:?}");
                }
                _ => assert_eq!(told, wanted, "{course:?} at {i}"),
            }
            transitions.insert((before, *input, phase(&state)));
        }
    }
    assert_eq!(courses, 7_usize.pow(6));
    // Idle, inflating, stopped and lost under seven inputs: 28; and a flow inward may also stop an inflation.
    assert_eq!(transitions.len(), 29, "{transitions:?}");
}
