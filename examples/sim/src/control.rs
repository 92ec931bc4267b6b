//! When the machine inflates, and with what pressure.

use crate::adapting::Adapting;
use crate::backup::Backup;
use crate::cause::Seen;
use crate::machine::{Pattern, VentilatorSettings};
use crate::trigger::Ear;
use crate::truth::Cause;

/// Slack for comparing times that are sums of steps, s.
const SLACK: f64 = 1e-9;
/// Support is never ended earlier, s: flow has to build up first.
const LEAST_SUPPORT: f64 = 0.06;

/// The start of an inflation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Command {
    pub(crate) cause: Cause,
    /// A full inflation, not support of an own breath.
    pub(crate) full: bool,
}

/// What changed in a step.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Change {
    pub(crate) command: Option<Command>,
    pub(crate) ended: bool,
}

#[derive(Debug, Clone, Copy)]
enum Phase {
    Waiting,
    Inflating { since: f64 },
    Supporting { since: f64, largest: f64 },
}

/// The values of the settings that change over time.
#[derive(Debug, Clone, Copy)]
struct Live {
    pattern: Pattern,
    baseline: f64,
    peak: f64,
    support: f64,
    threshold: f64,
    rate: f64,
}

impl Live {
    fn at(settings: &VentilatorSettings, seconds: f64) -> Self {
        Self {
            pattern: settings.pattern.at(seconds),
            baseline: settings.baseline.at(seconds),
            peak: settings.peak.at(seconds),
            support: settings.support.at(seconds),
            threshold: settings.threshold.at(seconds),
            rate: settings.set_rate.at(seconds),
        }
    }
}

/// The machine's state.
#[derive(Debug, Clone)]
pub(crate) struct Control {
    settings: VentilatorSettings,
    live: Live,
    phase: Phase,
    pressure: f64,
    /// How fast a valve that overshoots moves it, cmH2O/s.
    moving: f64,
    /// The clock's last due time; the next is one period later.
    anchor: f64,
    pending: Option<(f64, Command)>,
    deaf_until: f64,
    ear: Ear,
    backup: Backup,
    adapting: Adapting,
    mean_flow: f64,
    mean_pressure: f64,
}

impl Control {
    pub(crate) fn new(settings: &VentilatorSettings) -> Self {
        let live = Live::at(settings, 0.0);
        Self {
            settings: *settings,
            live,
            phase: Phase::Waiting,
            pressure: live.baseline,
            moving: 0.0,
            anchor: 0.0,
            pending: None,
            deaf_until: 0.0,
            ear: Ear::new(settings.trigger, settings.supply),
            backup: Backup::new(settings.backup),
            adapting: Adapting::new(settings.adapting),
            mean_flow: 0.0,
            mean_pressure: live.baseline,
        }
    }

    pub(crate) fn refresh(&mut self, seconds: f64) {
        self.live = Live::at(&self.settings, seconds);
    }

    /// Airway pressure, cmH2O.
    pub(crate) fn pressure(&self) -> f64 {
        self.pressure
    }

    pub(crate) fn inflating(&self) -> bool {
        !matches!(self.phase, Phase::Waiting)
    }

    /// Decides at a step's start and moves the pressure to the step's end.
    pub(crate) fn step(&mut self, now: f64, dt: f64, seen: &Seen) -> Change {
        let leak = self.leak_estimate(dt, seen);
        self.ear.step(dt, seen);
        let flow = seen.flow() - leak;
        let ended = self.end_if_over(now, flow);
        self.adapting.see(dt, flow, self.live.threshold);
        let command = match self.phase {
            Phase::Waiting => self.choose(now, leak),
            Phase::Inflating { .. } | Phase::Supporting { .. } => None,
        };
        if let Some(command) = command {
            self.start(now, command);
        }
        let target = match self.phase {
            Phase::Waiting => self.live.baseline,
            Phase::Inflating { .. } => self.adapting.peak(self.live.baseline, self.live.peak),
            Phase::Supporting { .. } => self.live.baseline + self.live.support,
        };
        if let Some((frequency, damping)) = self.settings.ringing {
            let omega = core::f64::consts::TAU * frequency;
            let pull = omega * omega * (target - self.pressure);
            self.moving += (pull - 2.0 * damping * omega * self.moving) * dt;
            self.pressure += self.moving * dt;
        } else {
            self.pressure += (target - self.pressure) * dt / (self.settings.rise_time + dt);
        }
        Change { command, ended }
    }

    /// The share of the leak, guessed from the means of flow and pressure, that the trigger
    /// ignores; mL/s.
    fn leak_estimate(&mut self, dt: f64, seen: &Seen) -> f64 {
        if self.settings.leak_compensation <= 0.0 {
            return 0.0;
        }
        let part = dt / (self.settings.compensation_lag + dt);
        self.mean_flow += (seen.flow() - self.mean_flow) * part;
        self.mean_pressure += (seen.airway - self.mean_pressure) * part;
        let conductance = self.mean_flow.max(0.0) / self.mean_pressure.max(0.5);
        self.settings.leak_compensation * conductance * seen.airway
    }

    fn end_if_over(&mut self, now: f64, flow: f64) -> bool {
        let over = match &mut self.phase {
            Phase::Waiting => return false,
            Phase::Inflating { since } => now - *since >= self.settings.inspiratory_time - SLACK,
            Phase::Supporting { since, largest } => {
                *largest = largest.max(flow);
                let lasted = now - *since + SLACK;
                let faded = flow < *largest * self.settings.support_ends_at;
                lasted >= self.settings.support_limit || (faded && lasted >= LEAST_SUPPORT)
            }
        };
        if over {
            self.phase = Phase::Waiting;
            self.adapting.ended();
            self.deaf_until = now + self.settings.refractory - SLACK;
        }
        over
    }

    fn period(&self) -> Option<f64> {
        (self.live.rate > 0.0).then(|| 60.0 / self.live.rate)
    }

    fn choose(&mut self, now: f64, leak: f64) -> Option<Command> {
        if let Some((at, command)) = self.pending {
            if now < at - SLACK {
                return None;
            }
            self.pending = None;
            return Some(command);
        }
        let due = match self.period() {
            Some(period) => self.anchor + period,
            None => {
                self.anchor = now;
                f64::INFINITY
            }
        };
        if self.backup.gives(now) {
            // The clock of the set rate starts anew from here.
            self.anchor = now - self.period().unwrap_or(0.0);
            return Some(Command { cause: Cause::Timed, full: true });
        }
        if now >= due - SLACK {
            return Some(Command { cause: Cause::Timed, full: true });
        }
        if now < self.deaf_until {
            return None;
        }
        let cause = self.ear.hears(self.live.threshold, self.live.baseline, leak)?;
        self.backup.heard(now);
        let full = match self.live.pattern {
            Pattern::Timed => return None,
            Pattern::EveryBreath => true,
            Pattern::SetRate => {
                let opens = self.period().map(|p| due - self.settings.window * p);
                let full = opens.is_some_and(|opens| now >= opens);
                if !full && self.live.support <= 0.0 {
                    return None;
                }
                full
            }
        };
        let command = Command { cause, full };
        if self.settings.trigger_delay <= 0.0 {
            return Some(command);
        }
        self.pending = Some((now + self.settings.trigger_delay, command));
        None
    }

    fn start(&mut self, now: f64, command: Command) {
        self.adapting.begins(command.full, self.live.baseline, self.live.peak);
        if !command.full {
            self.phase = Phase::Supporting { since: now, largest: 0.0 };
            return;
        }
        self.phase = Phase::Inflating { since: now };
        self.anchor = match (self.live.pattern, self.period()) {
            // The clock keeps its grid, unless it was held up for more than a period.
            (Pattern::Timed | Pattern::SetRate, Some(period))
                if now < self.anchor + 2.0 * period =>
            {
                self.anchor + period
            }
            _ => now,
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schedule::Schedule;
    use std::vec::Vec;

    /// Start times and causes over a run with a flow given by `flow`.
    fn starts(settings: &VentilatorSettings, seconds: u32, flow: impl Fn(f64) -> f64) -> Vec<f64> {
        let mut control = Control::new(settings);
        (0..seconds * 2_000)
            .filter_map(|i| {
                let now = f64::from(i) / 2_000.0;
                let lung = flow(now);
                let seen = Seen { lung, muscle: 1.0, airway: 5.0, ..Seen::default() };
                control.step(now, 0.000_5, &seen).command.map(|_| now)
            })
            .collect()
    }

    #[test]
    fn a_valve_with_half_damping_overshoots_by_a_sixth() {
        // Textbook, second order: e^(−πζ/√(1 − ζ²)) = 0.163 at ζ 0.5, after half a period of 10 Hz × √0.75.
        let settings = VentilatorSettings {
            pattern: Schedule::constant(Pattern::Timed),
            ringing: Some((10.0, 0.5)),
            inspiratory_time: 0.5,
            ..VentilatorSettings::default()
        };
        let mut control = Control::new(&settings);
        let (mut most, mut at) = (0.0, 0.0);
        for i in 0..4_000 {
            let now = f64::from(i) / 2_000.0;
            let _ = control.step(now, 0.000_5, &Seen::default());
            if control.pressure() > most {
                (most, at) = (control.pressure(), now - 1.5);
            }
        }
        // 15 over 5 cmH2O
        assert!((most - 16.63).abs() < 0.1, "{most}");
        assert!((at - 0.057_7).abs() < 0.003, "{at}");
    }

    #[test]
    fn the_clock_keeps_its_grid() {
        // Derived here: 40 a minute are due every 1.5 s, whatever the infant does.
        let timed = VentilatorSettings {
            pattern: Schedule::constant(Pattern::Timed),
            ..VentilatorSettings::default()
        };
        let times = starts(&timed, 60, |_| 50.0);
        assert_eq!(times.len(), 39);
        for (i, t) in (1_u32..).zip(&times) {
            assert!((t - 1.5 * f64::from(i)).abs() < 0.001, "{t}");
        }
    }

    #[test]
    fn a_refractory_time_as_long_as_the_inflation_serves_every_second_effort() {
        // Bernstein 1993, Am Rev Respir Dis 148:358-364: with an inflation of 0.4 s and as long a
        // refractory time alternate breaths were missed. Derived here: efforts every 0.75 s with
        // 0.06 s of inward flow; after one is served the machine is deaf until 0.02 + 0.4 + 0.4 =
        // 0.82 s, and the next has flow from 0.75 to 0.81 s.
        let settings = VentilatorSettings {
            inspiratory_time: 0.4,
            refractory: 0.4,
            set_rate: Schedule::constant(0.0),
            ..VentilatorSettings::default()
        };
        let effort = |now: f64| if now % 0.75 < 0.06 { 10.0 } else { 0.0 };
        // 80 efforts in a minute
        assert_eq!(starts(&settings, 60, effort).len(), 40);
        let quick = VentilatorSettings { refractory: 0.2, ..settings };
        assert_eq!(starts(&quick, 60, effort).len(), 80);
    }

    #[test]
    fn steady_leak_is_compensated_by_its_share() {
        // Derived here: 6 mL/s steadily, threshold 4. Uncompensated the machine cycles every
        // 0.35 + 0.2 + 0.02 s; with half of it taken off, 3 are left and nothing happens.
        let bare = VentilatorSettings {
            set_rate: Schedule::constant(0.0),
            compensation_lag: 0.5,
            ..VentilatorSettings::default()
        };
        let count = starts(&bare, 60, |_| 6.0).len();
        assert!((104..=106).contains(&count), "{count}"); // 60 ÷ 0.57 = 105.3
        let half = VentilatorSettings { leak_compensation: 0.5, ..bare };
        assert!(starts(&half, 60, |_| 6.0).iter().all(|t| *t < 3.0));
    }

    #[test]
    fn support_ends_when_flow_fades_or_time_is_up() {
        // Derived here: flow 20 mL/s falling by 40 mL/s each second from the trigger is below
        // 15 % of 20 after 0.425 s; a flow that stays is cut off after 0.5 s.
        let settings = VentilatorSettings {
            pattern: Schedule::constant(Pattern::SetRate),
            set_rate: Schedule::constant(0.0),
            support: Schedule::constant(6.0),
            trigger_delay: 0.0,
            ..VentilatorSettings::default()
        };
        let lasts = |flow: fn(f64) -> f64| {
            let mut control = Control::new(&settings);
            (0..2_000).find_map(|i| {
                let now = f64::from(i) / 2_000.0;
                let seen = Seen { lung: flow(now), muscle: 1.0, airway: 5.0, ..Seen::default() };
                control.step(now, 0.000_5, &seen).ended.then_some(now)
            })
        };
        assert!(lasts(|now| 20.0 - 40.0 * now).is_some_and(|t| (t - 0.425).abs() < 0.002));
        assert!(lasts(|_| 20.0).is_some_and(|t| (t - 0.5).abs() < 0.002));
        // without flow to follow it lasts its least time
        assert!(lasts(|now| if now < 0.01 { 20.0 } else { 0.0 }).is_some_and(|t| t < 0.062));
    }
}
