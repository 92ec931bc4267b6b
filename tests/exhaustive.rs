//! Small state machines over every sequence of a small alphabet, against what their pages say: no state and no
//! transition is left to chance.

use std::collections::HashSet;
use tidevane::alarm::{Apnoea, ApnoeaState, Change, ShortApnoea, VitalSigns};
use tidevane::quantity::{Duration, Flow, Instant, Record, Sink, Tick, Volume};
use tidevane::signal::Clock;
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

/// What a clock that counts for ever says of a tick: of the moments that its 32 bits may stand for, the one nearest to
/// the latest, and the one behind where two are; never below zero.
fn nearest(latest: Option<(u32, i128)>, tick: u32) -> i128 {
    let Some((last, at)) = latest else { return tick.into() };
    let turn = 1_i128 << 32;
    let apart = i128::from(tick) - i128::from(last);
    let moments = [-turn, 0, turn].map(|turns| at + apart + turns);
    moments.into_iter().min_by_key(|moment| ((moment - at).abs(), *moment)).unwrap().max(0)
}

#[test]
fn the_clock_over_every_course_of_seven() {
    // Steps that lie at, beside and beyond half a turn, either way; and a counter that begins anew.
    let half = 1_u32 << 31;
    let alphabet =
        [Some(0), Some(1), Some(half - 1), Some(half), Some(half + 1), Some(u32::MAX), None];
    let mut met = HashSet::new();
    for course in sequences(&alphabet, 7) {
        let (mut clock, mut tick, mut latest) = (Clock::new(), 7_u32, None);
        for (i, step) in course.iter().enumerate() {
            let Some(step) = step else {
                // A moment is taken for the new tick, as the monitor does behind a reset.
                let at = latest.map_or(0, |(_, at)| at);
                tick = 1_000;
                clock.reset_to(Tick::from_us(tick), Instant::from_us(u64::try_from(at).unwrap()));
                latest = Some((tick, at));
                continue;
            };
            tick = tick.wrapping_add(*step);
            let wanted = nearest(latest, tick);
            let told = i128::from(clock.unwrap_tick(Tick::from_us(tick)).to_us());
            assert_eq!(told, wanted, "{course:?} at {i}: {told} us, not {wanted} us");
            let later = latest.is_none_or(|(_, at)| wanted > at);
            met.insert((latest.is_none(), *step, later));
            if later {
                latest = Some((tick, wanted));
            }
        }
    }
    // Six first steps; behind them each is later or not, by where the counter stood, but that of nothing.
    assert_eq!(met.len(), 6 + 2 * 5 + 1, "{met:?}");
}

/// What an apnoea alarm hears, five seconds after what was before unless said otherwise.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Heard {
    Tick,
    Breath,
    /// A breath that began 15 s ago, told only now.
    BreathLate,
    /// At the same moment: the heart is slow, or well; somebody has seen what rings.
    Slow,
    Well,
    Seen,
}

/// What rings behind the whole course, told from the rules on the page: an inspiration is one if it is later than the
/// last; it is 20 s at most from there to now, 10 s while the heart is slow; an inspiration that comes too late rings
/// once where nothing rang before.
#[derive(Debug, Default)]
struct Watched {
    breaths: Vec<u64>,
    first_tick: Option<u64>,
    last_tick: Option<u64>,
    slow: bool,
    rings: bool,
    seen: bool,
}

impl Watched {
    fn since(&self) -> Option<u64> {
        self.breaths.iter().max().copied().or(self.first_tick)
    }

    fn look(&mut self, too_long: bool, latching: bool) -> Option<Change> {
        if too_long {
            return (!std::mem::replace(&mut self.rings, true)).then_some(Change::On);
        }
        let over = self.rings && (self.seen || !latching);
        if over {
            (self.rings, self.seen) = (false, false);
        }
        over.then_some(Change::Off)
    }

    fn hear(&mut self, heard: Heard, now: u64, latching: bool) -> Option<Change> {
        let longest = if self.slow { 10 } else { 20 };
        let breath = match heard {
            Heard::Slow | Heard::Well => {
                self.slow = heard == Heard::Slow;
                return None;
            }
            Heard::Seen => {
                self.seen = self.rings;
                return None;
            }
            Heard::Tick => {
                self.last_tick = Some(now);
                self.first_tick = self.first_tick.or(Some(now));
                let since = self.since()?;
                return self.look(now - since >= longest, latching);
            }
            Heard::Breath => now,
            Heard::BreathLate => now.checked_sub(15)?,
        };
        let since = self.since();
        if since.is_some_and(|since| breath <= since) {
            return None;
        }
        self.breaths.push(breath);
        let late = since.is_some_and(|since| breath - since >= longest) && !self.rings;
        let still = self.last_tick.is_some_and(|tick| tick >= breath + longest);
        self.look(late || still, latching)
    }
}

#[test]
fn an_apnoea_over_every_course_of_seven() {
    let alphabet =
        [Heard::Tick, Heard::Breath, Heard::BreathLate, Heard::Slow, Heard::Well, Heard::Seen];
    for latching in [false, true] {
        let twenty = Duration::from_millis(20_000);
        let apnoea = Apnoea::new(twenty, latching).unwrap().with_short(ShortApnoea::default());
        let mut transitions = HashSet::new();
        for course in sequences(&alphabet, 7) {
            let (mut state, mut wanted) = (ApnoeaState::default(), Watched::default());
            // Far enough from zero for what is told late.
            let mut now = 100;
            for (i, heard) in course.iter().enumerate() {
                let before = (wanted.rings, wanted.seen, wanted.slow);
                let sign = |heart_rate| VitalSigns { heart_rate, saturation: None };
                let told = match heard {
                    Heard::Slow => {
                        apnoea.set_vital_signs(&mut state, sign(Some(70)));
                        None
                    }
                    Heard::Well => {
                        apnoea.set_vital_signs(&mut state, sign(Some(140)));
                        None
                    }
                    Heard::Seen => {
                        state.acknowledge();
                        None
                    }
                    Heard::Tick | Heard::Breath | Heard::BreathLate => {
                        now += 5;
                        let at = |s: u64| Instant::from_us(s * 1_000_000);
                        match heard {
                            Heard::Tick => apnoea.tick(&mut state, at(now)),
                            Heard::Breath => apnoea.inspiration(&mut state, at(now)),
                            _ => apnoea.inspiration(&mut state, at(now - 15)),
                        }
                    }
                };
                let wants = wanted.hear(*heard, now, latching);
                assert_eq!(told, wants, "{course:?} at {i}, latching {latching}");
                assert_eq!(state.is_on(), wanted.rings, "{course:?} at {i}, latching {latching}");
                transitions.insert((before, *heard, (wanted.rings, wanted.seen, wanted.slow)));
            }
        }
        // Silent, ringing and seen, each under a slow and a well heart: 6 states. Slow and well lead somewhere
        // each (12), seen (6); a tick begins, ends or changes nothing, which is two ways from each (12), but one
        // from what latches unseen (10); a breath now rings or not from silence (4) and ends what rings, or not
        // where that latches unseen (4); one told late changes something or nothing (12; 10), but none rings
        // under a well heart: a tick would have.
        let counted = if latching { 12 + 6 + 10 + 8 + 10 - 1 } else { 12 + 6 + 12 + 8 + 12 - 1 };
        assert_eq!(transitions.len(), counted, "{transitions:?}");
    }
}
