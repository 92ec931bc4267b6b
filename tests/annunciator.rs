//! Lamp and sounder against the bands of IEC 60601-1-8 (from memory), on mock pins.
#![cfg(feature = "embedded-hal")]

use embedded_hal::digital::{self, OutputPin};
use embedded_hal::pwm::{self, SetDutyCycle};
use embedded_hal_mock::eh1::MockError;
use embedded_hal_mock::eh1::digital::{Mock as Pin, State, Transaction as Set};
use embedded_hal_mock::eh1::pwm::{Mock as Pwm, Transaction as Duty};
use proptest::prelude::*;
use std::cell::RefCell;
use std::convert::Infallible;
use std::io::ErrorKind;
use std::ops::RangeInclusive;
use std::rc::Rc;
use tidevane::alarm::{AlarmLamp, AlarmSounder, Priority};
use tidevane::quantity::Instant;

fn ms(millis: u64) -> Instant {
    Instant::from_us(millis * 1_000)
}

#[test]
fn the_lamp_flashes_twice_a_second_at_high_priority() {
    // 500 ms, lit for 200 ms: over 900 ms dark, lit at 0, dark at 200, lit at 500, dark at 700.
    let (low, high) = (Set::set(State::Low), Set::set(State::High));
    let expected = [low.clone(), high.clone(), low.clone(), high.clone(), low.clone(), high, low];
    let mut pin = Pin::new(&expected);
    let mut lamp = AlarmLamp::new(pin.clone()).unwrap();
    lamp.tick(ms(1)).unwrap();
    lamp.show(Some(Priority::High));
    for t in (10..910).step_by(10) {
        lamp.tick(ms(t)).unwrap();
        lamp.show(Some(Priority::High));
        lamp.tick(ms(t - 10)).unwrap(); // not later: ignored
    }
    lamp.show(Some(Priority::Low));
    for t in (1_000..5_000).step_by(10) {
        lamp.tick(ms(t)).unwrap();
    }
    lamp.show(None);
    lamp.tick(ms(5_000)).unwrap();
    pin.done();
}

#[test]
fn a_pin_that_failed_is_set_again() {
    let broken = || MockError::Io(ErrorKind::NotConnected);
    let high = Set::set(State::High);
    let expected = [Set::set(State::Low), high.clone().with_error(broken()), high];
    let mut pin = Pin::new(&expected);
    let mut lamp = AlarmLamp::new(pin.clone()).unwrap();
    lamp.show(Some(Priority::Low));
    assert!(lamp.tick(ms(1)).is_err());
    assert!(lamp.tick(ms(2)).is_ok());
    lamp.tick(ms(3)).unwrap();
    pin.done();
}

#[test]
fn the_sounder_sounds_three_pulses_at_medium_priority() {
    // Half of 1000 while it sounds: 200 ms on, 200 ms off, three times; then silence.
    let to = |duty| [Duty::max_duty_cycle(1_000), Duty::set_duty_cycle(duty)];
    let expected: Vec<_> = [500, 0, 500, 0, 500, 0].into_iter().flat_map(to).collect();
    let mut pwm = Pwm::new(&expected);
    let mut sounder = AlarmSounder::new(pwm.clone(), 50).unwrap();
    sounder.show(Some(Priority::Medium));
    for t in (1..10_000).step_by(10) {
        sounder.tick(ms(t)).unwrap();
    }
    pwm.done();
}

#[test]
fn a_sounder_is_silent_until_something_rings_and_from_its_end_on() {
    let off = || [Duty::max_duty_cycle(1_000), Duty::set_duty_cycle(0)];
    let on = [Duty::max_duty_cycle(1_000), Duty::set_duty_cycle(500)];
    let expected: Vec<_> = off().into_iter().chain(on).chain(off()).collect();
    let mut pwm = Pwm::new(&expected);
    let mut sounder = AlarmSounder::new(pwm.clone(), 50).unwrap();
    for t in (1..1_000).step_by(10) {
        sounder.tick(ms(t)).unwrap();
    }
    // Within the first pulse, which is 150 ms long, what rang is over.
    sounder.show(Some(Priority::High));
    (1_000..1_100).for_each(|t| sounder.tick(ms(t)).unwrap());
    sounder.show(None);
    (1_100..2_000).for_each(|t| sounder.tick(ms(t)).unwrap());
    pwm.done();
}

/// An output that notes when it turned on (true) and off.
#[derive(Clone, Default)]
struct Notes {
    now: Rc<RefCell<u64>>,
    edges: Rc<RefCell<Vec<(u64, bool)>>>,
}

impl Notes {
    fn note(&self, on: bool) {
        self.edges.borrow_mut().push((*self.now.borrow(), on));
    }

    /// When it turned on, and for how long.
    fn pulses(&self) -> Vec<(u64, u64)> {
        let edges = self.edges.borrow();
        let from = edges.iter().position(|edge| edge.1).unwrap();
        edges[from..].chunks_exact(2).map(|pair| (pair[0].0, pair[1].0 - pair[0].0)).collect()
    }
}

impl digital::ErrorType for Notes {
    type Error = Infallible;
}

impl OutputPin for Notes {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.note(false);
        Ok(())
    }
    fn set_high(&mut self) -> Result<(), Infallible> {
        self.note(true);
        Ok(())
    }
}

struct Sound(Notes);

impl pwm::ErrorType for Sound {
    type Error = Infallible;
}

impl SetDutyCycle for Sound {
    fn max_duty_cycle(&self) -> u16 {
        u16::MAX
    }
    fn set_duty_cycle(&mut self, duty: u16) -> Result<(), Infallible> {
        self.0.note(duty > 0);
        Ok(())
    }
}

#[test]
fn loudness_is_checked() {
    let made = |duty| AlarmSounder::new(Sound(Notes::default()), duty).is_ok();
    assert_eq!([0, 1, 50, 51].map(made), [false, true, true, false]);
}

/// A span in us within a band in ms.
fn within(us: u64, band: &RangeInclusive<u64>, slack: u64) -> bool {
    us + slack >= band.start() * 1_000 && us <= band.end() * 1_000 + slack
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Whatever the ticks, no edge is later than one tick, so periods and lit times are as set.
    #[test]
    fn flashes_stay_in_their_band(
        steps in prop::collection::vec(200..5_000_u64, 4_000), medium: bool,
    ) {
        let priority = if medium { Priority::Medium } else { Priority::High };
        let period = if medium { 1_700_000 } else { 500_000 };
        let notes = Notes::default();
        let mut lamp = AlarmLamp::new(notes.clone()).unwrap();
        lamp.show(Some(priority));
        for step in steps {
            *notes.now.borrow_mut() += step;
            lamp.tick(Instant::from_us(*notes.now.borrow())).unwrap();
        }
        let pulses = notes.pulses();
        prop_assert!(pulses.len() > 2, "{}", pulses.len());
        for pair in pulses.windows(2) {
            let got = pair[1].0 - pair[0].0;
            prop_assert!(got.abs_diff(period) <= 5_000);
            let lit = period * 2 / 5;
            prop_assert!(pair[0].1.abs_diff(lit) <= 5_000, "{:?} {}", pair[0], lit);
        }
    }

    /// Pulses and the gaps between them stay in their bands, and come in the right number.
    #[test]
    fn bursts_stay_in_their_band(
        steps in prop::collection::vec(200..3_000_u64, 25_000), priority in 0..2_usize,
    ) {
        let priority = Priority::ALL[priority];
        let notes = Notes::default();
        let mut sounder = AlarmSounder::new(Sound(notes.clone()), 30).unwrap();
        sounder.show(Some(priority));
        for step in steps {
            *notes.now.borrow_mut() += step;
            sounder.tick(Instant::from_us(*notes.now.borrow())).unwrap();
        }
        let (pulses, slack) = (notes.pulses(), 3_000);
        // IEC 60601-1-8, from memory, as `src/alarm/sound.rs` tells: pulse, spacing, pause and interval in ms.
        let (count, pulse, spacing, interval) = match priority {
            Priority::High => (10, 75..=200, 50..=125, 2_500..=15_000),
            _ => (3, 125..=250, 125..=250, 2_500..=30_000),
        };
        prop_assert!(pulses.len() >= 2 * count, "{}", pulses.len());
        for (i, pair) in pulses.windows(2).enumerate() {
            let gap = pair[1].0 - pair[0].0 - pair[0].1;
            prop_assert!(within(pair[0].1, &pulse, slack));
            let band = match (i + 1) % count {
                0 => &interval,
                5 if priority == Priority::High => &(350..=1_300),
                3 | 8 if priority == Priority::High => {
                    // as if one pulse were left out: 2 × 100 + 150 ms
                    prop_assert!(gap.abs_diff(350_000) <= slack);
                    continue;
                }
                _ => &spacing,
            };
            prop_assert!(within(gap, band, slack), "{} {}", i, gap);
        }
    }
}
