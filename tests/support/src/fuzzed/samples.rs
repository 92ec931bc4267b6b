//! Any stream of samples into the monitor.
//!
//! - A clone, brought back from a snapshot, goes on exactly as the original.
//! - Times moved by a constant move the times that come out and nothing else.
//! - Every accepted reading belongs to one breath or to the wait for the first, none is lost or
//!   counted twice, and volumes are those of the readings.
//! - What was wrong with a reading is remarked on its breath; what comes out keeps its range.
//! - Counters count what was reported.
//! - Asking changes nothing: the clone and the other one are not asked. What is said has words.
//! - The sample stage alone has the same breaths.

use super::account::Account;
use super::alone::Alone;
use super::setup::{Setup, setup};
use super::shifted::shifted;
use super::stream::{Input, decode};
use super::{asked, bounds, told};
use tidevane::monitor::snapshot::{read_into, room, write};
use tidevane::monitor::{EventKind, Monitor, Report, Settings};
use tidevane::quantity::{Duration, Instant, Tick};
use tidevane::signal::{Clock, Flags, Reading, Sample};

/// A day and an odd bit.
const SHIFT: u64 = 86_400_000_007;

/// What has been reported.
#[derive(Debug, Default)]
struct Told {
    breaths: u32,
    missed: u32,
    double: u32,
}

struct Run {
    setup: Setup,
    tick: u32,
    clock: Clock,
    monitor: Monitor,
    later: Monitor,
    clone: Option<Monitor>,
    account: Account,
    /// That of the run of readings before, whose last breath may not be told yet, and its last moment.
    before: Option<(Account, Instant)>,
    told: Told,
    /// For as long as it hears the same.
    alone: Option<Alone>,
}

/// Holds all of the above.
///
/// # Panics
/// Where one of them does not hold.
pub fn check(data: &[u8]) {
    let Some(stream) = decode(data) else { return };
    let monitor = Monitor::new(stream.setup.settings);
    let mut run = Run {
        setup: stream.setup,
        tick: stream.first_tick,
        clock: Clock::new(),
        later: monitor.clone(),
        clone: None,
        monitor,
        account: Account::default(),
        before: None,
        told: Told::default(),
        alone: Some(Alone::new(&stream.setup.settings)),
    };
    for (i, input) in stream.inputs.iter().enumerate() {
        if i == stream.split {
            run.clone = Some(reset(&run.monitor));
            asked::snapshot(&run.monitor, usize::from(data[data.len() - 1]) * 7);
        }
        run.take(*input);
    }
    run.take(Input::Asked);
    run.take(Input::Finish);
    run.take(Input::Asked);
    let synchrony = run.monitor.synchrony();
    assert_eq!(synchrony.inflations() + synchrony.own, run.told.breaths, "breaths uncounted");
    assert_eq!(synchrony.missed + synchrony.overlapped, run.told.missed);
    assert_eq!(synchrony.double, run.told.double);
    assert!(run.clone.is_none_or(|clone| clone == run.monitor), "the clone went astray");
}

/// The monitor as it comes back from its snapshot.
fn reset(monitor: &Monitor) -> Monitor {
    let mut bytes = vec![0; room::<Monitor>()];
    let used = write(monitor, &mut bytes).unwrap();
    let mut reset = Monitor::new(Settings::default());
    read_into(&mut reset, &bytes[..used]).unwrap();
    reset
}

impl Run {
    fn take(&mut self, input: Input) {
        match input {
            Input::Reading(wait, reading) => self.push(wait, reading),
            Input::Lost => {
                let report = self.monitor.lost();
                assert_eq!(shifted(&self.later.lost(), SHIFT), shifted(&report, 0));
                if let Some(clone) = &mut self.clone {
                    assert_eq!(clone.lost(), report);
                }
                if let Some(alone) = &mut self.alone {
                    alone.lost(&report);
                }
                self.reported(&report);
                self.account.lost(&self.setup);
            }
            Input::Asked => asked::check(&self.setup, &self.monitor),
            Input::Signs(signs) => self.all(|monitor| {
                monitor.set_vital_signs(signs);
                // Whoever takes the heart rate away has seen what rings.
                if signs.heart_rate.is_none() {
                    monitor.acknowledge();
                }
            }),
            Input::Changed(number) => {
                self.alone = None;
                let setup = setup(number);
                let at = self.account.last();
                let report = self.monitor.settings_changed(at, setup.settings);
                let later = at.after(Duration::from_us(SHIFT));
                let later = self.later.settings_changed(later, setup.settings);
                assert_eq!(shifted(&later, SHIFT), shifted(&report, 0));
                if let Some(clone) = &mut self.clone {
                    assert_eq!(clone.settings_changed(at, setup.settings), report);
                }
                self.reported(&report);
                self.setup = setup;
            }
            Input::Tick(wait) => self.tell(wait),
            Input::Resumed(tick) => self.resume(tick),
            Input::Finish => {
                // The breath before, the one under way, and nothing.
                let mut reports = Vec::new();
                for told in 0..3 {
                    let report = self.monitor.finish();
                    assert_eq!(shifted(&self.later.finish(), SHIFT), shifted(&report, 0));
                    if let Some(clone) = &mut self.clone {
                        assert_eq!(clone.finish(), report);
                    }
                    assert!(told < 2 || report.breath.is_none(), "a third breath");
                    self.reported(&report);
                    reports.push(report);
                }
                if let Some(alone) = self.alone.take() {
                    alone.finish(&reports);
                }
                assert!(!self.account.is_under_way(), "the last breath was not told");
                self.account.restart(None);
            }
        }
    }

    fn all(&mut self, mut act: impl FnMut(&mut Monitor)) {
        act(&mut self.monitor);
        act(&mut self.later);
        self.clone.iter_mut().for_each(act);
    }

    fn tell(&mut self, wait: u32) {
        self.alone = None;
        self.tick = self.tick.wrapping_add(wait);
        let tick = Tick::from_us(self.tick);
        let report = self.monitor.tick(tick);
        if let Some(clone) = &mut self.clone {
            assert_eq!(clone.tick(tick), report, "a clone differs");
        }
        let at = self.clock.unwrap_tick(tick);
        let later = self.later.tick_at(at.after(Duration::from_us(SHIFT)));
        assert_eq!(shifted(&later, SHIFT), shifted(&report, 0), "time relabelled");
        self.account.tell(&self.setup, at);
        self.reported(&report);
    }

    /// Where the last reading is the latest that is known of the time; elsewhere nothing outside can tell which
    /// moment the new tick is taken for.
    fn resume(&mut self, tick: u32) {
        let Some(at) = self.account.latest_reading() else { return };
        self.alone = None;
        self.tick = tick;
        let tick = Tick::from_us(tick);
        self.clock.reset_to(tick, at);
        self.all(|monitor| monitor.resume(tick));
        self.account.lost(&self.setup);
    }

    fn push(&mut self, wait: u32, reading: Reading) {
        self.tick = self.tick.wrapping_add(wait);
        let tick = Tick::from_us(self.tick);
        let sample = Sample { tick, flow: reading.flow, pressure: reading.pressure };
        let report = self.monitor.push(sample);
        if let Some(clone) = &mut self.clone {
            assert_eq!(clone.push(sample), report, "a clone differs");
        }
        if let Some(alone) = &mut self.alone {
            alone.push(sample, &report);
        }
        let at = self.clock.unwrap_tick(tick);
        let later = self.later.push_at(at.after(Duration::from_us(SHIFT)), reading);
        assert_eq!(shifted(&later, SHIFT), shifted(&report, 0), "time relabelled");
        if report.events.iter().any(|e| matches!(e.what, EventKind::ClockReset { .. })) {
            self.clock.reset_to(tick, at);
        }
        self.account.take(&self.setup, at, reading);
        match self.account.cut {
            Some(last) => {
                assert!(report.events.iter().any(|e| match e.what {
                    EventKind::Gap { since, cut } => cut && since == last,
                    EventKind::ClockReset { since } => since == last,
                    _ => false,
                }));
                self.reported(&report);
                let account = self.account.restart(Some(at));
                self.before = Some((account, last));
            }
            None => self.reported(&report),
        }
    }

    fn reported(&mut self, report: &Report) {
        assert!(!report.events.is_full(), "an event may have been dropped: {report:?}");
        told::check(report);
        for event in &report.events {
            match event.what {
                EventKind::MissedEffort(_) => self.told.missed += 1,
                EventKind::DoubleTrigger => self.told.double += 1,
                _ => {}
            }
        }
        if let Some(closed) = &report.breath {
            self.told.breaths += 1;
            let breath = &closed.breath;
            let is_cut = breath.flags.has(Flags::CUT);
            match self.before.take() {
                Some((mut before, last)) if is_cut && last == breath.end => before.close(closed),
                before => {
                    let lost = before.is_some_and(|(before, _)| before.is_under_way());
                    assert!(!lost, "the breath that was cut is not told");
                    self.account.close(closed);
                }
            }
            bounds::check(&self.setup, closed);
        }
    }
}
