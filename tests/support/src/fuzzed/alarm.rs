//! The alarms over any row of breaths, ticks, sensor faults and acknowledgements.
//!
//! - On and off alternate for each condition, and what was told is what rings.
//! - At most four events a call, the most urgent first.
//! - What lies before the latest moment changes nothing.
//! - Every time moved by a constant moves the events' times and nothing else.
//! - Where limits are taken away, no alarm on them rings on.

use super::bytes::Bytes;
use super::setup::alarms;
use crate::view::View;
use std::collections::BTreeSet;
use tidevane::alarm::{
    AlarmEvents, Alarms, AlarmsState, BreathKind, Change, Condition, VitalSigns,
};
use tidevane::quantity::{Duration, Instant, Pressure, Rate, Share, Volume};

const SHIFT: Duration = Duration::from_us(86_400_000_007);

#[derive(Default)]
struct Watch {
    alarms: Alarms,
    state: AlarmsState,
    later: AlarmsState,
    on: BTreeSet<String>,
}

/// Holds all of the above.
///
/// # Panics
/// Where one of them does not hold.
pub fn check(data: &[u8]) {
    let mut bytes = Bytes(data);
    let mut watch = Watch { alarms: alarms(bytes.u8().unwrap_or(0)), ..Watch::default() };
    let mut at = Instant::from_us(1_000);
    while let Some((what, wait)) = head(&mut bytes) {
        let before = at;
        at = at.after(wait);
        let done = match what % 8 {
            0..=3 => view(&mut bytes, at, what).map(|view| watch.breath(view)),
            4 => {
                watch.at(at, |alarms, state, at| alarms.tick(state, at));
                watch.before(before, |alarms, state, at| alarms.tick(state, at));
                Some(())
            }
            5 => {
                watch.at(at, |alarms, state, at| {
                    // Well, a fault, or no input at all.
                    let blind = Duration::from_millis(u32::from(what >> 3 & 3) * 4_000);
                    alarms.sensor(state, at, blind)
                });
                Some(())
            }
            6 => {
                let signs = VitalSigns { heart_rate: Some(what.into()), saturation: Some(what) };
                watch.alarms.set_vital_signs(&mut watch.state, signs);
                watch.alarms.set_vital_signs(&mut watch.later, signs);
                watch.state.acknowledge();
                watch.later.acknowledge();
                Some(())
            }
            _ => {
                watch.alarms = alarms(what / 8);
                if what / 8 % 4 == 0 {
                    watch.unlimited(at);
                }
                Some(())
            }
        };
        if done.is_none() {
            return;
        }
    }
}

fn head(bytes: &mut Bytes<'_>) -> Option<(u8, Duration)> {
    Some((bytes.u8()?, Duration::from_millis(u32::from(bytes.u8()?) * 97 + 1)))
}

fn view(bytes: &mut Bytes<'_>, at: Instant, what: u8) -> Option<View> {
    let known = bytes.u8()?;
    let kind = BreathKind::ALL[usize::from(what % 4) % 3];
    let some = |bit: u8| known & (1 << bit) != 0;
    let small = |raw: i16| i32::from(raw) << 8;
    Some(View {
        at,
        kind,
        inspired: Some(Volume::from_bits(small(bytes.i16()?))).filter(|_| some(0)),
        expired: Some(Volume::from_bits(small(bytes.i16()?))).filter(|_| some(1)),
        most_out: Some(Volume::from_bits(small(bytes.i16()?))).filter(|_| some(1)),
        leak: Some(Share::from_bits(i32::from(bytes.i16()?) << 2)).filter(|_| some(2)),
        rate: Some(Rate::from_int(i16::from(bytes.u8()?))).filter(|_| some(3)),
        minute_volume: Some(Volume::from_int(bytes.i16()?)).filter(|_| some(4)),
        peak: Pressure::from_int(i16::from(bytes.u8()?)),
        drawn: some(6) || some(7),
        trusted: some(6),
    })
}

impl Watch {
    fn at(&mut self, at: Instant, act: impl Fn(&Alarms, &mut AlarmsState, Instant) -> AlarmEvents) {
        let mut clone = self.state;
        let events = act(&self.alarms, &mut self.state, at);
        assert_eq!(act(&self.alarms, &mut clone, at), events);
        assert_eq!(clone, self.state);
        let mut later = act(&self.alarms, &mut self.later, at.after(SHIFT));
        for event in &mut later {
            event.at = Instant::from_us(event.at.to_us() - SHIFT.to_us());
        }
        assert_eq!(later, events, "time relabelled");
        self.told(at, &events);
    }

    fn before(
        &mut self,
        at: Instant,
        act: impl Fn(&Alarms, &mut AlarmsState, Instant) -> AlarmEvents,
    ) {
        let was = self.state;
        assert!(act(&self.alarms, &mut self.state, at).is_empty(), "told of the past");
        assert_eq!(self.state, was, "moved by the past");
    }

    fn breath(&mut self, view: View) {
        let moved = |at| View { at, ..view };
        self.at(view.at, |alarms, state, at| alarms.breath(state, &moved(at).seen()));
        self.before(view.at, |alarms, state, at| alarms.breath(state, &moved(at).seen()));
    }

    fn told(&mut self, at: Instant, events: &AlarmEvents) {
        assert!(events.len() <= 4);
        let urgency: Vec<_> = events.iter().map(|event| event.priority).collect();
        assert!(urgency.is_sorted_by(|a, b| a >= b), "{urgency:?}");
        for event in events {
            assert_eq!(event.at, at);
            let name = event.condition.to_string();
            let fresh = match event.change {
                Change::On => self.on.insert(name),
                Change::Off => self.on.remove(&name),
            };
            assert!(fresh, "told twice: {event:?}");
            assert_eq!(event.change == Change::On, self.state.is_on(event.condition));
        }
        if events.len() < 4 {
            for condition in Condition::all() {
                let told = self.on.contains(&condition.to_string());
                assert_eq!(told, self.state.is_on(condition), "{condition} is not told");
            }
        }
        let highest = self.alarms.highest(&self.state);
        assert_eq!(highest.is_none(), Condition::all().all(|c| !self.state.is_on(c)));
    }

    /// No limit is set any more: after a tick none of them rings.
    fn unlimited(&mut self, at: Instant) {
        let mut state = self.state;
        let next = at.after(Duration::from_millis(100_000));
        let _ = self.alarms.tick(&mut state, next);
        for condition in Condition::all() {
            if !matches!(
                condition,
                Condition::Apnoea
                    | Condition::Disconnection
                    | Condition::SensorFault
                    | Condition::NoInput
            ) {
                assert!(!state.is_on(condition), "{condition} rings without a limit");
            }
        }
    }
}
