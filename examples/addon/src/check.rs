//! The add-on itself: a sample in, frames and a lamp out.

use crate::frame::{FORMAT, Frame, LONGEST};
use crate::sensor::{Scale, Sensor};
use crate::settings::{PERIOD_US, alarms, settings};
use embedded_hal::digital::OutputPin;
use embedded_hal::pwm::SetDutyCycle;
use embedded_io::Write;
use tidevane::alarm::{AlarmLamp, AlarmSounder, Alarms};
use tidevane::monitor::{Journal, Monitor, Report, Settings};
use tidevane::quantity::{Instant, SettingError, Tick};
use tidevane::signal::{Clock, Sample};

/// Sensor, monitor, annunciator and serial line.
#[derive(Debug)]
pub struct Check<S, P, B, W> {
    sensor: S,
    scale: Scale,
    monitor: Monitor,
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
    /// Says hello, and is ready for the first tick.
    ///
    /// # Errors
    /// Whatever keeps it from beginning.
    pub fn new(sensor: S, lamp: P, buzzer: B, mut serial: W) -> Result<Self, Failure> {
        let alarms = alarms()?;
        send(&mut serial, &Frame::Hello { format: FORMAT, period_us: PERIOD_US })
            .map_err(|_| Failure::Serial)?;
        Ok(Self {
            sensor,
            scale: Scale::new()?,
            monitor: Monitor::new(settings(alarms)?),
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
        if missed {
            self.monitor.lost_into(&mut self.report);
            self.tell()?;
        }
        let told = if let Ok(counts) = self.sensor.read() {
            let reading = self.scale.reading(counts);
            let (flow, pressure) = (reading.flow, reading.pressure);
            self.monitor.push_into(Sample { tick, flow, pressure }, &mut self.report);
            self.tell()
        } else {
            // The sensor says nothing: time passes all the same, as much as the timer tells.
            self.monitor.lost_into(&mut self.report);
            self.tell()?;
            self.monitor.tick_into(tick, &mut self.report);
            self.tell()
        };
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
        // One entry a tick, so that a crowd of them does not hold the loop up.
        if let Some(entry) = self.journal.pop() {
            let frame = Frame::Journal { entry, lost: self.journal.lost() };
            send(&mut self.serial, &frame).map_err(|_| Failure::Serial)?;
        }
        for event in &self.report.events {
            #[cfg(feature = "defmt")]
            defmt::info!("{}", event);
            if !event.what.is_for_journal() {
                send(&mut self.serial, &Frame::Event(*event)).map_err(|_| Failure::Serial)?;
            }
        }
        let Some(closed) = &self.report.breath else { return Ok(()) };
        #[cfg(feature = "defmt")]
        defmt::debug!("breath {} to {}", closed.breath.onset, closed.breath.end);
        send(&mut self.serial, &Frame::of_breath(closed)).map_err(|_| Failure::Serial)
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

fn send<W: Write>(serial: &mut W, frame: &Frame) -> Result<(), W::Error> {
    serial.write_all(frame.bytes(&mut [0; LONGEST]))
}
