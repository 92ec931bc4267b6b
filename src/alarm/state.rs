//! All alarms at once: breaths and ticks in, events out.

use super::active_set::ActiveSet;
use super::sensor::SensorState;
use super::{
    AlarmEvent, AlarmValue, Alarms, ApnoeaState, BreathView, Change, Condition, DisconnectionState,
    LimitState, Priority, VitalSigns,
};
use crate::quantity::{Duration, Instant};
use crate::record;
use heapless::Vec;

/// At most four events a call, the most urgent first; the others come with the next call, unless
/// their condition has turned by then.
pub type AlarmEvents = Vec<AlarmEvent, MOST_EVENTS>;
const MOST_EVENTS: usize = 4;

record! {
    #[const_default]
    /// What the alarms remember: below 1 KB.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct AlarmsState {
        apnoea: ApnoeaState,
        disconnection: DisconnectionState,
        /// By [`BreathKind`](super::BreathKind).
        volume: [LimitState; 3],
        minute_volume: LimitState,
        rate: LimitState,
        pressure: LimitState,
        leak: LimitState,
        sensor: SensorState,
        breath_at: Option<Instant>,
        tick_at: Option<Instant>,
        latest: Option<BreathView>,
        /// What has been told so far, and whether something else may ring.
        told: ActiveSet,
        changed: bool,
    }
}

impl Alarms {
    /// Takes a closed breath. One not later than the last is ignored. One wide divide.
    ///
    /// ```
    /// use tidevane::alarm::{
    ///     Alarms, AlarmsState, BreathKind, BreathView, Condition, LimitAlarm, Limits, Measure,
    /// };
    /// use tidevane::breath::Breath;
    /// use tidevane::quantity::{Duration, Instant, Saturated, Volume};
    ///
    /// let limits = Limits::new(Some(Volume::from_int(3)), None)?;
    /// let low = LimitAlarm::new(limits, Duration::ZERO, Volume::ZERO, false)?;
    /// let alarms = Alarms { own_volume: low, ..Alarms::default() };
    /// let mut state = AlarmsState::default();
    /// let breath = Breath {
    ///     end: Instant::from_us(1_000_000),
    ///     inspired: Saturated::exact(Volume::from_int(3)),
    ///     expired: Saturated::exact(Volume::from_int(2)),
    ///     ..Breath::default()
    /// };
    /// // Of the infant alone; leak, rate and minute volume are not known.
    /// let view = BreathView::of(&breath, BreathKind::Own, None, None, None);
    /// let events = alarms.breath(&mut state, &view);
    /// assert_eq!(events[0].condition, Condition::Low(Measure::Volume(BreathKind::Own)));
    /// # Ok::<(), tidevane::quantity::SettingError>(())
    /// ```
    #[must_use = "what is dropped here is told by no later call"]
    pub fn breath(&self, state: &mut AlarmsState, view: &BreathView) -> AlarmEvents {
        let mut events = Vec::new();
        self.say_breath(state, view, &mut |event| add(&mut events, event));
        events
    }

    /// As [`breath`](Self::breath), event by event.
    pub(crate) fn say_breath(
        &self,
        state: &mut AlarmsState,
        view: &BreathView,
        say: &mut impl FnMut(AlarmEvent),
    ) {
        let at = view.at;
        if state.breath_at.is_some_and(|last| at <= last) {
            return;
        }
        state.breath_at = Some(at);
        state.latest = Some(*view);
        state.changed = true;
        if view.drawn {
            let _ = self.apnoea.inspiration(&mut state.apnoea, at);
        }
        let trusted = view.trusted.then_some(*view);
        let volumes = trusted.and_then(|v| v.inspired.zip(v.most_out));
        let leak = trusted.and_then(|v| v.leak);
        let _ = self.disconnection.step(&mut state.disconnection, at, volumes, leak);
        if let Some(limit) = state.volume.get_mut(view.kind.index()) {
            let _ = self.volume(view.kind).step(limit, at, trusted.and_then(|v| v.expired));
        }
        let minute_volume = trusted.and_then(|v| v.minute_volume);
        let _ = self.minute_volume.step(&mut state.minute_volume, at, minute_volume);
        let _ = self.rate.step(&mut state.rate, at, trusted.and_then(|v| v.rate));
        let _ = self.pressure.step(&mut state.pressure, at, trusted.and_then(|v| v.peak));
        let _ = self.leak.step(&mut state.leak, at, leak);
        self.end_absent_kinds(state, at);
        self.tell(state, at, say);
    }

    /// Time passed; call it often enough for the apnoea alarm to be on time. A tick not later than
    /// the last is ignored. Limits move with breaths only; but breaths of a kind that has been
    /// absent for as long as an apnoea violate none any more, nor does anything where the limits
    /// were taken away.
    #[must_use = "what is dropped here is told by no later call"]
    pub fn tick(&self, state: &mut AlarmsState, at: Instant) -> AlarmEvents {
        let mut events = Vec::new();
        self.say_tick(state, at, &mut |event| add(&mut events, event));
        events
    }

    /// As [`tick`](Self::tick), event by event.
    pub(crate) fn say_tick(
        &self,
        state: &mut AlarmsState,
        at: Instant,
        say: &mut impl FnMut(AlarmEvent),
    ) {
        if state.tick_at.is_some_and(|last| at <= last) {
            return;
        }
        state.tick_at = Some(at);
        let apnoea = self.apnoea.tick(&mut state.apnoea, at);
        state.changed |= apnoea.is_some();
        self.end_absent_kinds(state, at);
        self.end_unlimited(state, at);
        self.tell(state, at, say);
    }

    /// What another monitor shows of heart and saturation, for the apnoea alarm.
    pub const fn set_vital_signs(&self, state: &mut AlarmsState, signs: VitalSigns) {
        self.apnoea.set_vital_signs(&mut state.apnoea, signs);
    }

    /// Whether the circuit stands open by pressure and flow alone; to be told before
    /// [`sensor`](Self::sensor), whose events tell of it. A moment not later than the last is ignored.
    pub(crate) fn circuit(&self, state: &mut AlarmsState, at: Instant, open: bool) {
        let change = self.disconnection.circuit(&mut state.disconnection, at, open);
        state.changed |= change.is_some();
    }

    /// For how long nothing usable has come from the sensor. A moment not later than the last is
    /// ignored.
    #[must_use = "what is dropped here is told by no later call"]
    pub fn sensor(&self, state: &mut AlarmsState, at: Instant, blind: Duration) -> AlarmEvents {
        let mut events = Vec::new();
        self.say_sensor(state, at, blind, &mut |event| add(&mut events, event));
        events
    }

    /// As [`sensor`](Self::sensor), event by event.
    pub(crate) fn say_sensor(
        &self,
        state: &mut AlarmsState,
        at: Instant,
        blind: Duration,
        say: &mut impl FnMut(AlarmEvent),
    ) {
        state.changed |= self.sensor.step(&mut state.sensor, at, blind);
        self.tell(state, at, say);
    }

    /// The highest priority of what rings.
    #[must_use]
    pub fn highest(&self, state: &AlarmsState) -> Option<Priority> {
        let rings = state.rings();
        Condition::all().filter(|&c| rings.rings(c)).map(|c| self.priorities.of(c)).max()
    }

    fn end_absent_kinds(&self, state: &mut AlarmsState, at: Instant) {
        for (alarm, limit) in self.volumes().into_iter().zip(&mut state.volume) {
            if limit.last().is_some_and(|last| at.since(last) >= self.apnoea.after()) {
                state.changed |= alarm.clear(limit, at).any();
            }
        }
    }

    fn end_unlimited(&self, state: &mut AlarmsState, at: Instant) {
        for (alarm, limit) in self.volumes().into_iter().zip(&mut state.volume) {
            state.changed |= alarm.end_if_open(limit, at).any();
        }
        state.changed |= self.minute_volume.end_if_open(&mut state.minute_volume, at).any()
            | self.rate.end_if_open(&mut state.rate, at).any()
            | self.pressure.end_if_open(&mut state.pressure, at).any()
            | self.leak.end_if_open(&mut state.leak, at).any();
    }

    /// What differs from what has been told, the most urgent first.
    fn tell(&self, state: &mut AlarmsState, at: Instant, say: &mut impl FnMut(AlarmEvent)) {
        if !state.changed {
            return;
        }
        let rings = state.rings();
        if rings == state.told {
            state.changed = false;
        } else {
            // What finds no room comes with the next call.
            self.tell_changes(state, rings, at, say);
        }
    }

    #[inline(never)]
    fn tell_changes(
        &self,
        state: &mut AlarmsState,
        rings: ActiveSet,
        at: Instant,
        say: &mut impl FnMut(AlarmEvent),
    ) {
        let (changed, mut told) = (rings.differing(state.told), 0);
        for priority in Priority::ALL {
            for condition in changed.conditions() {
                if self.priorities.of(condition) != priority {
                    continue;
                }
                let on = rings.rings(condition);
                if told == MOST_EVENTS {
                    return;
                }
                told = told.saturating_add(1);
                let value = state.value(condition, at);
                let change = if on { Change::On } else { Change::Off };
                say(AlarmEvent { at, condition, priority, change, value });
                state.told.set(condition, on);
            }
        }
    }
}

/// There is room for as many as are told.
fn add(events: &mut AlarmEvents, event: AlarmEvent) {
    let _ = events.push(event);
}

impl AlarmsState {
    /// Whether a condition rings.
    #[must_use]
    pub fn is_on(&self, condition: Condition) -> bool {
        self.rings().rings(condition)
    }

    fn rings(&self) -> ActiveSet {
        let [own, supported, assured] = &self.volume;
        let (minute_volume, rate, pressure) = (&self.minute_volume, &self.rate, &self.pressure);
        ActiveSet::of(
            [
                self.apnoea.is_on(),
                self.disconnection.is_on(),
                self.sensor.is_faulty(),
                self.sensor.is_silent(),
            ],
            [own, supported, assured, minute_volume, rate, pressure, &self.leak],
        )
    }

    /// Whoever is responsible has seen all that rings: latching alarms stop with their condition.
    pub fn acknowledge(&mut self) {
        self.apnoea.acknowledge();
        self.disconnection.acknowledge();
        for limit in &mut self.volume {
            limit.acknowledge();
        }
        for limit in [&mut self.minute_volume, &mut self.rate, &mut self.pressure, &mut self.leak] {
            limit.acknowledge();
        }
    }

    fn value(&self, condition: Condition, at: Instant) -> Option<AlarmValue> {
        match condition {
            Condition::Apnoea => self.apnoea.lasted(at).map(AlarmValue::Span),
            Condition::Disconnection => self.disconnection.loss().map(AlarmValue::Share),
            Condition::SensorFault | Condition::NoInput | Condition::CannotKnow(_) => None,
            Condition::Low(measure) | Condition::High(measure) => self.latest?.value(measure),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::alarm::limits::Measured;
    use crate::alarm::{BreathKind, LimitAlarm, Limits};
    use crate::quantity::{Pressure, Rate, Share, Volume};

    /// 70 breaths a minute, and nothing else is known.
    fn fast(at: Instant) -> BreathView {
        BreathView {
            at,
            kind: BreathKind::Own,
            inspired: None,
            expired: None,
            most_out: None,
            leak: None,
            rate: Some(Rate::from_int(70)),
            minute_volume: None,
            peak: None,
            drawn: true,
            trusted: true,
        }
    }

    #[test]
    fn an_alarm_ends_where_its_limits_are_taken_away() {
        let at = |ms: u64| Instant::from_us(ms * 1_000);
        let limits = Limits::new(None, Some(Rate::from_int(60))).unwrap();
        let high = LimitAlarm::new(limits, Duration::ZERO, Rate::ZERO, true).unwrap();
        let view = fast(at(1_000));
        let mut state = AlarmsState::default();
        let set = Alarms { rate: high, ..Alarms::default() };
        assert_eq!(set.breath(&mut state, &view)[0].change, Change::On);
        let unset = Alarms::default();
        let events = unset.tick(&mut state, at(1_100));
        assert_eq!((events.len(), events[0].change), (1, Change::Off));
        assert_eq!(unset.highest(&state), None);
        // Two at once.
        let pressure = Limits::new(None, Some(Pressure::from_int(20))).unwrap();
        let high = LimitAlarm::new(pressure, Duration::ZERO, Pressure::ZERO, true).unwrap();
        let view = BreathView { at: at(2_000), peak: Some(Pressure::from_int(30)), ..view };
        assert_eq!(Alarms { pressure: high, ..set }.breath(&mut state, &view).len(), 2);
        let off =
            unset.tick(&mut state, at(2_100)).iter().filter(|e| e.change == Change::Off).count();
        assert_eq!(off, 2);
    }

    #[test]
    fn any_two_that_lose_their_limits_at_once_both_end() {
        // A minute volume of 500 mL, 70 breaths a minute, a peak of 30 cmH2O and a leak of 60 % ring; two at a time.
        let at = |ms: u64| Instant::from_us(ms * 1_000);
        let view = BreathView {
            leak: Some(Share::from_percent(60)),
            minute_volume: Some(Volume::from_int(500)),
            peak: Some(Pressure::from_int(30)),
            ..fast(at(1_000))
        };
        fn above<Q: Measured>(most: Q, none: Q) -> LimitAlarm<Q> {
            let limits = Limits::new(None, Some(most)).unwrap();
            LimitAlarm::new(limits, Duration::ZERO, none, false).unwrap()
        }
        let with = |alarms: Alarms, which: usize| match which {
            0 => Alarms { minute_volume: above(Volume::from_int(300), Volume::ZERO), ..alarms },
            1 => Alarms { rate: above(Rate::from_int(60), Rate::ZERO), ..alarms },
            2 => Alarms { pressure: above(Pressure::from_int(20), Pressure::ZERO), ..alarms },
            _ => Alarms { leak: above(Share::from_percent(30), Share::ZERO), ..alarms },
        };
        for (one, other) in [(0, 1), (0, 2), (0, 3), (1, 2), (1, 3), (2, 3)] {
            let mut state = AlarmsState::default();
            let set = with(with(Alarms::default(), one), other);
            assert_eq!(set.breath(&mut state, &view).len(), 2, "{one} and {other}");
            // Nothing is left to tell.
            assert_eq!(set.tick(&mut state, at(1_050)).len(), 0);
            let events = Alarms::default().tick(&mut state, at(1_100));
            let off = events.iter().filter(|event| event.change == Change::Off).count();
            assert_eq!(off, 2, "{one} and {other}: {events:?}");
        }
    }
}
