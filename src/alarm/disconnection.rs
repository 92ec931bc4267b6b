//! Gas goes in and none comes back, breath by breath, or the circuit stands open.

use super::condition_timer::{Change, ConditionTimer, Rule};
use crate::quantity::{
    Duration, Instant, Problem, SettingError, Share, Volume, const_default, setting,
};
use crate::record;

/// When breaths that lose their gas mean that the circuit is open.
///
/// The loss is what the breath's own volumes show, (inspired − the most that came out) ÷ inspired: from an
/// open circuit nothing comes out. Where they are not known the leak share serves, which counts what leaks in between
/// breaths too.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Disconnection {
    level: Share,
    hysteresis: Share,
    breaths: u8,
    rule: Rule,
}

record! {
    #[const_default]
    /// Lossy breaths in a row, and a circuit that stands open.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct DisconnectionState {
        count: u8,
        last: Option<Instant>,
        /// What the latest breath lost of which that is known.
        loss: Option<Share>,
        watch: ConditionTimer,
        /// By pressure and flow, between breaths.
        open: ConditionTimer,
    }
}

const_default! {
    /// 95 % over three breaths, over when a breath loses less than 90 %: common practice, no
    /// source.
    Disconnection: Self {
        level: Share::from_percent(95),
        hysteresis: Share::from_percent(5),
        breaths: 3,
        rule: Rule::AT_ONCE,
    }
}

impl Disconnection {
    /// A loss of 50 to 100 %, a hysteresis of 0 to 50 %, and 1 to 16 breaths.
    ///
    /// # Errors
    /// Names the parameter outside its range.
    pub fn new(
        level: Share,
        hysteresis: Share,
        breaths: u8,
        latching: bool,
    ) -> Result<Self, SettingError> {
        let half = Share::from_percent(50);
        let error = if level < half {
            ("level", Problem::TooSmall)
        } else if level > Share::ONE {
            ("level", Problem::TooLarge)
        } else if hysteresis < Share::ZERO {
            ("hysteresis", Problem::Negative)
        } else if hysteresis > half {
            ("hysteresis", Problem::TooLarge)
        } else if breaths == 0 {
            ("breaths", Problem::NotPositive)
        } else if breaths > 16 {
            ("breaths", Problem::TooLarge)
        } else {
            return Ok(Self { level, hysteresis, breaths, rule: Rule::at_once(latching) });
        };
        Err(SettingError::new(error.0, error.1))
    }

    /// The share of what went in that must be missing.
    #[must_use]
    pub const fn level(&self) -> Share {
        self.level
    }

    /// How far below that it ends.
    #[must_use]
    pub const fn hysteresis(&self) -> Share {
        self.hysteresis
    }

    /// In how many breaths on end.
    #[must_use]
    pub const fn breaths(&self) -> u8 {
        self.breaths
    }

    /// Whether it rings until it is acknowledged.
    #[must_use]
    pub const fn latching(&self) -> bool {
        self.rule.latching
    }

    /// Whether pressure and flow show an open circuit now: rings where that lasts for a second more.
    #[doc(hidden)]
    pub fn circuit(
        &self,
        state: &mut DisconnectionState,
        at: Instant,
        open: bool,
    ) -> Option<Change> {
        let rule = Rule { delay: OPEN_FOR, latching: self.rule.latching };
        state.open.step(at, open, rule)
    }

    /// Takes a breath. One whose loss cannot be known changes nothing, nor does one that is not
    /// later than the last. One wide divide.
    #[doc(hidden)]
    pub fn step(
        &self,
        state: &mut DisconnectionState,
        at: Instant,
        volumes: Option<(Volume, Volume)>,
        leak: Option<Share>,
    ) -> Option<Change> {
        if state.last.is_some_and(|last| at <= last) {
            return None;
        }
        state.last = Some(at);
        let loss = volumes.and_then(lost).or(leak)?;
        state.loss = Some(loss);
        let present = if state.watch.is_on() {
            loss >= self.level.saturating_sub(self.hysteresis).value
        } else {
            let next = state.count.saturating_add(1);
            state.count = if loss >= self.level { next } else { 0 };
            state.count >= self.breaths
        };
        let change = state.watch.step(at, present, self.rule);
        if change.is_some() {
            state.count = 0;
        }
        change
    }
}

/// A cough or a hand at the circuit is over by then. Chosen here, no source.
const OPEN_FOR: Duration = Duration::from_millis(1_000);

/// The share of an inspired volume that was not expired; `None` where nothing was inspired.
fn lost((inspired, expired): (Volume, Volume)) -> Option<Share> {
    if inspired <= Volume::ZERO {
        return None;
    }
    inspired.saturating_sub(expired).value.share_of(inspired).map(|share| share.value)
}

impl DisconnectionState {
    /// Whether it rings.
    #[must_use]
    pub const fn is_on(&self) -> bool {
        self.watch.is_on() || self.open.is_on()
    }

    /// What the breath lost that it rings by, or that ended it; `None` where the circuit stands open between
    /// breaths.
    pub(crate) fn loss(&self) -> Option<Share> {
        self.loss.filter(|_| !self.open.is_on())
    }

    /// Whoever is responsible has seen it.
    pub const fn acknowledge(&mut self) {
        self.watch.acknowledge();
        self.open.acknowledge();
    }
}

setting! { Disconnection = new { level: Share, hysteresis: Share, breaths: u8, latching: bool } }

#[cfg(test)]
mod tests {
    use super::*;

    fn ml(inspired: i16, expired: i16) -> Option<(Volume, Volume)> {
        Some((Volume::from_int(inspired), Volume::from_int(expired)))
    }

    fn run(volumes: &[(i16, i16)]) -> std::vec::Vec<Option<Change>> {
        let mut state = DisconnectionState::default();
        let step = |(i, &(a, b)): (usize, &(i16, i16))| {
            let at = Instant::from_us(i as u64 + 1);
            Disconnection::default().step(&mut state, at, ml(a, b), None)
        };
        volumes.iter().enumerate().map(step).collect()
    }

    #[test]
    fn three_breaths_that_lose_all_ring() {
        // 20 in, 1 out: 19 ÷ 20 = 95 %, which counts; 20 in, 2 out: 90 % stays on while it rings;
        // 20 in, 3 out: 85 % ends it.
        let out = run(&[(20, 1), (20, 1), (20, 1), (20, 2), (20, 3)]);
        assert_eq!(out, [None, None, Some(Change::On), None, Some(Change::Off)]);
    }

    #[test]
    fn it_rings_by_the_loss_of_the_latest_breath_and_by_none_where_the_circuit_stands_open() {
        let (alarm, mut state) = (Disconnection::default(), DisconnectionState::default());
        assert_eq!(state.loss(), None);
        // 20 in, 1 out: 95 %; the leak share of 40 % is not asked for.
        let leak = Some(Share::from_percent(40));
        for us in 1..4 {
            let _ = alarm.step(&mut state, Instant::from_us(us), ml(20, 1), leak);
        }
        assert!(state.is_on());
        assert_eq!(state.loss(), Some(Share::from_percent(95)));
        for us in [10, 1_000_010] {
            let _ = alarm.circuit(&mut state, Instant::from_us(us), true);
        }
        assert!(state.open.is_on());
        assert_eq!(state.loss(), None);
    }

    #[test]
    fn a_good_breath_between_starts_the_count_anew() {
        let out = run(&[(20, 0), (20, 0), (20, 18), (20, 0), (20, 0), (20, 0)]);
        assert_eq!(out, [None, None, None, None, None, Some(Change::On)]);
    }

    #[test]
    fn gas_that_leaks_in_between_slow_breaths_is_no_open_circuit() {
        // 12 in, 4 out: a third comes back, though more leaks in until the next breath than that.
        let (alarm, mut state) = (Disconnection::default(), DisconnectionState::default());
        for us in 1..10 {
            let leak = Some(Share::from_percent(102));
            assert_eq!(alarm.step(&mut state, Instant::from_us(us), ml(12, 4), leak), None);
        }
    }

    #[test]
    fn unknown_loss_changes_nothing() {
        let (alarm, mut state) = (Disconnection::default(), DisconnectionState::default());
        let all = Some(Share::ONE);
        let mut step =
            |us, volumes, leak| alarm.step(&mut state, Instant::from_us(us), volumes, leak);
        assert_eq!(step(1, None, all), None);
        assert_eq!(step(2, None, None), None);
        assert_eq!(step(3, ml(0, 0), None), None);
        assert_eq!(step(4, None, all), None);
        assert_eq!(step(4, None, all), None, "not later");
        assert_eq!(step(5, None, all), Some(Change::On));
    }

    #[test]
    fn settings_are_checked() {
        let name = |level, hysteresis, breaths| {
            let percent = Share::from_percent;
            let made = Disconnection::new(percent(level), percent(hysteresis), breaths, false);
            made.map_err(|e| e.parameter).err()
        };
        assert_eq!(name(49, 5, 3), Some("level"));
        assert_eq!(name(101, 5, 3), Some("level"));
        assert_eq!(name(95, -1, 3), Some("hysteresis"));
        assert_eq!(name(95, 51, 3), Some("hysteresis"));
        assert_eq!(name(95, 5, 0), Some("breaths"));
        assert_eq!(name(95, 5, 17), Some("breaths"));
        assert_eq!(name(95, 5, 16), None);
    }
}
