//! The add-on itself: a sample in, frames and a lamp out.

use crate::frame::{Frame, LONGEST};
use crate::sensor::{Scale, Sensor};
use crate::settings::{PERIOD_US, alarms, settings};
use embedded_hal::digital::OutputPin;
use embedded_hal::pwm::SetDutyCycle;
use embedded_io::Write;
use tidevane::alarm::{AlarmLamp, AlarmSounder, Alarms};
use tidevane::monitor::{Journal, Monitor, Report, Settings};
use tidevane::quantity::{Instant, SettingError, Tick};
use tidevane::signal::{Clock, Reading, Sample};

/// Sensor, monitor, annunciator and serial line.
#[derive(Debug)]
pub struct Check<S, P, B, W> {
    sensor: S,
    scale: Scale,
    monitor: &'static mut Monitor,
    report: Report,
    journal: Journal<16>,
    alarms: Alarms,
    clock: Clock,
    lamp: AlarmLamp<P>,
    sounder: AlarmSounder<B>,
    serial: W,
}

/// Why the check cannot begin. Say so and do not run: a check that watches nothing is worse than none.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Failure {
    /// A setting that does not fit.
    Setting(SettingError),
    /// A lamp that cannot be lit.
    Lamp,
    /// A serial line that takes nothing.
    Serial,
}

impl From<SettingError> for Failure {
    fn from(error: SettingError) -> Self {
        Self::Setting(error)
    }
}

impl<S: Sensor, P: OutputPin, B: SetDutyCycle, W: Write> Check<S, P, B, W> {
    /// Says hello, and is ready for the first tick. The monitor has heard nothing yet, and stands in a
    /// `static`: built here it would take 7 KB of stack.
    ///
    /// # Errors
    /// Whatever keeps it from beginning.
    pub fn new(
        monitor: &'static mut Monitor,
        sensor: S,
        lamp: P,
        buzzer: B,
        mut serial: W,
    ) -> Result<Self, Failure> {
        let alarms = alarms()?;
        send(&mut serial, &Frame::Hello { period_us: PERIOD_US })?;
        // Nothing has been heard that the change could be told of.
        let _ = monitor.settings_changed(Instant::from_us(0), settings(alarms)?);
        Ok(Self {
            sensor,
            scale: Scale::new()?,
            monitor,
            report: Report::default(),
            journal: Journal::new(),
            alarms,
            clock: Clock::new(),
            lamp: AlarmLamp::new(lamp).map_err(|_| Failure::Lamp)?,
            sounder: AlarmSounder::new(buzzer, 20)?,
            serial,
        })
    }

    /// Once a tick: reads the sensor, tells the monitor, sends and shows what it says. `missed` is
    /// whether ticks went by unseen.
    ///
    /// # Errors
    /// A lamp, a sounder or a serial line that failed; the check goes on with the next tick.
    pub fn tick(&mut self, tick: Tick, missed: bool) -> Result<(), Failure> {
        // A line that fails keeps no sample from the monitor and no lamp dark: what failed is told at the end.
        let mut told = Ok(());
        if missed {
            self.monitor.lost_into(&mut self.report);
            told = self.tell();
        }
        let counts = self.sensor.read().ok();
        if let Some(Reading { flow, pressure }) =
            counts.and_then(|counts| self.scale.reading(counts))
        {
            self.monitor.push_into(Sample { tick, flow, pressure }, &mut self.report);
        } else {
            // The sensor says nothing: time passes all the same, as much as the timer tells.
            self.monitor.lost_into(&mut self.report);
            told = told.and(self.tell());
            self.monitor.tick_into(tick, &mut self.report);
        }
        told = told.and(self.tell());
        self.annunciate(tick).and(told)
    }

    /// Whoever is responsible has seen all that rings, as a button tells.
    pub fn acknowledge(&mut self) {
        self.monitor.acknowledge();
    }

    /// Something was changed on the machine, now.
    ///
    /// # Errors
    /// A serial line that takes nothing.
    pub fn change(&mut self, settings: Settings) -> Result<(), Failure> {
        // No moment is later: it is taken for now.
        self.report = self.monitor.settings_changed(Instant::from_us(u64::MAX), settings);
        self.tell()
    }

    fn tell(&mut self) -> Result<(), Failure> {
        self.journal.take(&self.report);
        let mut sent = self.send_entry();
        for event in &self.report.events {
            #[cfg(feature = "defmt")]
            defmt::info!("{}", event);
            if !event.what.is_for_journal() {
                sent = sent.and(send(&mut self.serial, &Frame::Event(*event)));
            }
        }
        if let Some(closed) = &self.report.breath {
            #[cfg(feature = "defmt")]
            defmt::debug!("breath {} to {}", closed.breath.onset, closed.breath.end);
            sent = sent.and(send(&mut self.serial, &Frame::of_breath(closed)));
        }
        sent
    }

    /// The oldest entry of the journal: one a call, so that a crowd of them does not hold the loop up. It stays
    /// until the line has taken it.
    fn send_entry(&mut self) -> Result<(), Failure> {
        let Some(entry) = self.journal.entries().next().copied() else { return Ok(()) };
        send(&mut self.serial, &Frame::Journal { entry, lost: self.journal.lost() })?;
        self.journal.pop();
        Ok(())
    }

    fn annunciate(&mut self, tick: Tick) -> Result<(), Failure> {
        let at = self.clock.unwrap_tick(tick);
        let priority = self.alarms.highest(self.monitor.alarms());
        self.lamp.show(priority);
        self.sounder.show(priority);
        let lit = self.lamp.tick(at).map_err(|_| Failure::Lamp);
        self.sounder.tick(at).map_err(|_| Failure::Lamp).and(lit)
    }
}

fn send<W: Write>(serial: &mut W, frame: &Frame) -> Result<(), Failure> {
    serial.write_all(frame.bytes(&mut [0; LONGEST])).map_err(|_| Failure::Serial)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sensor::Counts;
    use core::convert::Infallible;
    use embedded_hal::{digital, pwm};
    use std::vec::Vec;

    struct Pin;

    impl digital::ErrorType for Pin {
        type Error = Infallible;
    }

    impl OutputPin for Pin {
        fn set_low(&mut self) -> Result<(), Infallible> {
            Ok(())
        }

        fn set_high(&mut self) -> Result<(), Infallible> {
            Ok(())
        }
    }

    impl pwm::ErrorType for Pin {
        type Error = Infallible;
    }

    impl SetDutyCycle for Pin {
        fn max_duty_cycle(&self) -> u16 {
            1_000
        }

        fn set_duty_cycle(&mut self, _: u16) -> Result<(), Infallible> {
            Ok(())
        }
    }

    /// Says something for a second, then nothing for four, and so on.
    struct Tired(u32);

    impl Sensor for Tired {
        type Error = ();

        fn read(&mut self) -> Result<Counts, ()> {
            self.0 += 1;
            let reads = Counts { flow: (self.0 % 7) as i16, pressure: 500 };
            if self.0 % 500 < 100 { Ok(reads) } else { Err(()) }
        }
    }

    /// Takes nothing while it is stuck.
    #[derive(Default)]
    struct Line {
        taken: Vec<u8>,
        stuck: bool,
    }

    impl embedded_io::ErrorType for Line {
        type Error = embedded_io::ErrorKind;
    }

    impl Write for Line {
        fn write(&mut self, bytes: &[u8]) -> Result<usize, Self::Error> {
            if self.stuck {
                return Err(embedded_io::ErrorKind::TimedOut);
            }
            self.taken.extend_from_slice(bytes);
            Ok(bytes.len())
        }

        fn flush(&mut self) -> Result<(), Self::Error> {
            Ok(())
        }
    }

    #[test]
    fn no_entry_is_lost_while_the_line_is_stuck() {
        let monitor = std::boxed::Box::leak(std::boxed::Box::new(Monitor::new(Settings::DEFAULT)));
        let mut check = Check::new(monitor, Tired(0), Pin, Pin, Line::default()).unwrap();
        let mut failed = 0;
        for n in 0..6_000_u32 {
            // Stuck for ten seconds in every twenty.
            check.serial.stuck = n % 2_000 >= 1_000;
            failed += u32::from(check.tick(Tick::from_us(n * PERIOD_US), false).is_err());
        }
        check.serial.stuck = false;
        (6_000..6_020_u32).for_each(|n| {
            let _ = check.tick(Tick::from_us(n * PERIOD_US), false);
        });
        let mut frames: Vec<_> =
            check.serial.taken.split_inclusive(|byte| *byte == 0).map(<[u8]>::to_vec).collect();
        let numbers: Vec<_> = frames
            .iter_mut()
            .filter_map(|bytes| match Frame::of_bytes(bytes) {
                Some(Frame::Journal { entry, lost }) => Some((entry.number, lost)),
                _ => None,
            })
            .collect();
        assert!(failed > 0, "the line never failed");
        // Several alarms began and ended; every entry came, in order, and none made room.
        assert!(numbers.len() > 5, "{numbers:?}");
        assert_eq!(
            numbers,
            (0..).zip(core::iter::repeat(0)).take(numbers.len()).collect::<Vec<_>>()
        );
    }
}
