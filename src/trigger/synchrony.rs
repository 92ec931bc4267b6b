//! How well machine and infant keep together: counts since the monitor began.

use super::{Cause, Initiation};
use crate::breath::{Breath, Phase};
use crate::quantity::{Duration, Instant, Share, arith};
use crate::record;

record! {
    #[const_default]
    /// Counts and delays.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct Synchrony {
        /// Started by the machine's timer.
        pub timed: u32,
        /// Started by the infant.
        pub effort: u32,
        /// Started by the machine on leak.
        pub self_leak: u32,
        /// Started by the machine on ripple or noise.
        pub self_ripple: u32,
        /// Cause not told.
        pub unknown: u32,
        /// Own breaths.
        pub own: u32,
        /// Efforts in expiration that got no inflation and moved too little gas to be a breath.
        pub missed: u32,
        /// Efforts that came while an inflation ran: they could set nothing off.
        pub overlapped: u32,
        /// Efforts that a timed inflation brought about: they came 100 to 350 ms after its rise, in six of
        /// the seven timed inflations before and more (reverse triggering, entrainment: Akoumianaki 2013, Chest 143(4), from
        /// memory; the numbers chosen here).
        pub reverse: u32,
        /// Second inflations on one effort.
        pub double: u32,
        /// From the onset of the infant's inspiration to the first sign of the machine's.
        pub delay: Delays,
        /// Which of the last seven timed inflations had such an effort.
        entrained: u8,
        inspirations: u32,
        inspiratory_us: u64,
        last: Option<Last>,
    }
}

record! {
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    struct Last {
        by_infant: bool,
        expiration: Duration,
    }
}

record! {
    #[const_default]
    /// Trigger delays of inflations that the infant started.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct Delays {
        count: u32,
        sum_us: u64,
        shortest: Duration,
        longest: Duration,
        late: u32,
    }
}

impl Delays {
    fn take(&mut self, delay: Duration, inspiration: Duration) {
        self.shortest = if self.count == 0 { delay } else { self.shortest.min(delay) };
        self.longest = self.longest.max(delay);
        self.count = self.count.saturating_add(1);
        self.sum_us = self.sum_us.saturating_add(delay.to_us());
        self.late = self.late.saturating_add(u32::from(delay > acceptable_delay(inspiration)));
    }

    /// How many were measured.
    #[must_use]
    pub const fn count(&self) -> u32 {
        self.count
    }

    /// Mean, toward zero; `None` for none. One wide divide.
    #[must_use]
    pub fn mean(&self) -> Option<Duration> {
        arith::mean_us(self.sum_us, self.count).map(Duration::from_us)
    }

    /// Shortest and longest; `None` for none.
    #[must_use]
    pub const fn range(&self) -> Option<(Duration, Duration)> {
        if self.count == 0 { None } else { Some((self.shortest, self.longest)) }
    }

    /// How many were longer than an eighth of their inspiratory time.
    #[must_use]
    pub const fn late(&self) -> u32 {
        self.late
    }
}

/// When an effort that an inflation brings about begins after its rise, and in how many of the seven timed
/// inflations before too. An infant who breathes at nearly the set rate looks the same.
const SOONEST: Duration = Duration::from_millis(100);
const LATEST: Duration = Duration::from_millis(350);
const OTHERS: u32 = 6;

/// The longest trigger delay that a bench criterion accepts: an eighth of the inspiratory time
/// (Vignaux 2014, Respir Care 59(10); year and issue from memory).
#[must_use]
pub(crate) const fn acceptable_delay(inspiration: Duration) -> Duration {
    Duration::from_us(arith::eighth_u64(inspiration.to_us()))
}

/// Whether two inflations are one effort's: the first was the infant's, and less than half the mean
/// inspiratory time lies between them (Thille's definition as tabulated at Crit Care cc13063).
#[must_use]
pub(crate) const fn is_double(mean_inspiration: Duration, expiration_between: Duration) -> bool {
    let twice = expiration_between.to_us().saturating_add(expiration_between.to_us());
    twice < mean_inspiration.to_us()
}

/// Events per inflation delivered or effort wasted; above a tenth is called severe (Anesthesiology
/// 2021;134:629). `None` where there was neither.
#[must_use]
pub(crate) fn asynchrony_index(events: u32, delivered: u32, wasted: u32) -> Option<Share> {
    let all = u64::from(delivered).saturating_add(u64::from(wasted));
    Share::of_counts(u64::from(events), all)
}

impl Synchrony {
    /// Takes a closed breath with what started it; returns the onset of a double trigger. A flagged
    /// breath counts by its cause only.
    pub fn take(&mut self, breath: &Breath, initiation: Option<Initiation>) -> Option<Instant> {
        let one_more = |count: &mut u32| *count = count.saturating_add(1);
        let Some(initiation) = initiation else {
            one_more(&mut self.own);
            self.last = None;
            return None;
        };
        match initiation.cause {
            Cause::Timed => one_more(&mut self.timed),
            Cause::Effort => one_more(&mut self.effort),
            Cause::SelfLeak => one_more(&mut self.self_leak),
            Cause::SelfRipple => one_more(&mut self.self_ripple),
            Cause::Unknown(_) => one_more(&mut self.unknown),
        }
        if !breath.is_trusted() {
            self.last = None;
            return None;
        }
        let double = self.last.is_some_and(|last| {
            last.by_infant
                && self.mean_inspiration().is_some_and(|ti| is_double(ti, last.expiration))
        });
        let by_infant = initiation.cause == Cause::Effort;
        self.last = Some(Last { by_infant, expiration: breath.exp_time() });
        self.inspirations = self.inspirations.saturating_add(1);
        self.inspiratory_us = self.inspiratory_us.saturating_add(breath.insp_time().to_us());
        if by_infant {
            self.delay.take(breath.lead.until.since(breath.onset), breath.insp_time());
        }
        if double {
            one_more(&mut self.double);
            return Some(breath.onset);
        }
        None
    }

    /// Takes a timed inflation, with how long after its rise an effort began, if one did: whether that is
    /// one that the inflation brought about.
    #[doc(hidden)]
    pub fn entrain(&mut self, after: Option<Duration>) -> bool {
        let comes = after.is_some_and(|after| after >= SOONEST && after <= LATEST);
        let others = self.entrained.count_ones();
        self.entrained = arith::latest_of_seven(self.entrained, comes);
        let is_reverse = comes && others >= OTHERS;
        self.reverse = self.reverse.saturating_add(u32::from(is_reverse));
        is_reverse
    }

    /// Takes an effort that set nothing off.
    pub(crate) const fn miss(&mut self, during: Phase) {
        match during {
            Phase::Inspiration => self.overlapped = self.overlapped.saturating_add(1),
            Phase::Expiration | Phase::Unknown => self.missed = self.missed.saturating_add(1),
        }
    }

    /// Inflations of any cause.
    #[must_use]
    pub fn inflations(&self) -> u32 {
        [self.timed, self.effort, self.self_leak, self.self_ripple, self.unknown]
            .into_iter()
            .fold(0, u32::saturating_add)
    }

    /// The asynchrony index: self-cycled inflations, double triggers and efforts wasted in expiration,
    /// per inflation delivered or effort wasted. Efforts during an inflation are none of its events.
    /// One wide divide.
    #[must_use]
    pub fn index(&self) -> Option<Share> {
        let events = [self.self_leak, self.self_ripple, self.double, self.missed];
        let events = events.into_iter().fold(0, u32::saturating_add);
        asynchrony_index(events, self.inflations(), self.missed)
    }

    fn mean_inspiration(&self) -> Option<Duration> {
        arith::mean_us(self.inspiratory_us, self.inspirations).map(Duration::from_us)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::Flags;

    #[test]
    fn delays_are_counted_and_held_against_an_eighth_of_the_inspiration() {
        let ms = Duration::from_millis;
        let mut delays = Delays::default();
        assert_eq!((delays.count(), delays.mean(), delays.range()), (0, None, None));
        // An eighth of 400 ms is 50 ms: 50 is not late, 51 is.
        for (delay, late) in [(50, 0), (51, 1), (40, 1)] {
            delays.take(ms(delay), ms(400));
            assert_eq!(delays.late(), late);
        }
        assert_eq!((delays.count(), delays.range()), (3, Some((ms(40), ms(51)))));
        assert_eq!(delays.mean(), Some(ms(47))); // (50 + 51 + 40) ÷ 3
    }

    #[test]
    fn an_eighth_of_the_inspiration_is_acceptable() {
        // Ti 400, 500, 600 ms → 50, 62.5, 75 ms (Vignaux 2014).
        for (ti, us) in [(400, 50_000), (500, 62_500), (600, 75_000)] {
            assert_eq!(acceptable_delay(Duration::from_millis(ti)), Duration::from_us(us));
        }
    }

    #[test]
    fn a_double_trigger_has_half_an_inspiration_between() {
        // Mean Ti 0.36 s: Te 0.17 s is double, 0.19 s is not (0.18 is the border; as cited above).
        let ti = Duration::from_millis(360);
        assert!(is_double(ti, Duration::from_millis(170)));
        assert!(!is_double(ti, Duration::from_millis(190)));
        assert!(!is_double(ti, Duration::from_millis(180)));
    }

    #[test]
    fn the_index_counts_events_over_deliveries_and_waste() {
        // 12 events, 100 delivered, 10 wasted: 12/110 = 10.909 %, severe (> 10 %;
        // Anesthesiology 2021;134:629).
        let index = asynchrony_index(12, 100, 10).unwrap();
        assert!((index.to_f64() * 100.0 - 10.909).abs() < 2e-3);
        assert!(index > Share::from_percent(10));
        assert_eq!(asynchrony_index(0, 0, 0), None);
        // 2 self-cycled of 100 delivered, 10 wasted in expiration; 50 during inflations count in
        // neither: 12/110 again.
        let mut synchrony = Synchrony { effort: 98, self_leak: 2, ..Synchrony::default() };
        (0..10).for_each(|_| synchrony.miss(Phase::Expiration));
        (0..50).for_each(|_| synchrony.miss(Phase::Inspiration));
        assert_eq!((synchrony.missed, synchrony.overlapped), (10, 50));
        assert_eq!(synchrony.index(), Some(index));
    }

    /// An inflation of 0.36 s at a second, with so long an expiration in ms.
    fn inflation(second: u64, expiration: u64) -> Breath {
        let at = |ms| Instant::from_us((second * 1_000 + ms) * 1_000);
        Breath { onset: at(0), end_insp: at(360), end: at(360 + expiration), ..Breath::plain() }
    }

    #[test]
    fn a_double_trigger_follows_the_infants_own_only() {
        let of = |cause| Some(Initiation { cause, evidence: None });
        let effort = of(Cause::Effort);
        // A first inflation by a cause with an expiration, flagged or not; then one by the infant.
        let told = |first: Option<Initiation>, expiration, flags| {
            let mut synchrony = Synchrony::default();
            let breath = Breath { flags, ..inflation(1, expiration) };
            assert_eq!(synchrony.take(&breath, first), None);
            let double = synchrony.take(&inflation(2, 600), effort);
            assert_eq!(u32::from(double.is_some()), synchrony.double);
            double
        };
        let onset = Some(Instant::from_us(2_000_000));
        assert_eq!(told(effort, 170, Flags::NONE), onset);
        // Half of 0.36 s and more between; the timer's; an own breath; a flagged one.
        assert_eq!(told(effort, 180, Flags::NONE), None);
        assert_eq!(told(of(Cause::Timed), 170, Flags::NONE), None);
        assert_eq!(told(None, 170, Flags::NONE), None);
        assert_eq!(told(effort, 170, Flags::GAP), None);
    }

    #[test]
    fn each_cause_is_counted_and_delays_of_the_infants_alone() {
        let mut synchrony = Synchrony::default();
        let causes = [
            Some(Cause::Timed),
            Some(Cause::Effort),
            Some(Cause::Effort),
            Some(Cause::SelfLeak),
            Some(Cause::SelfRipple),
            Some(Cause::Unknown(super::super::NoCause::NoFloor)),
            None,
        ];
        for (second, cause) in (1..).zip(causes) {
            let mut breath = inflation(second, 600);
            // The pressure rises 40 ms after the onset.
            breath.lead.until = breath.onset.after(Duration::from_millis(40));
            let initiation = cause.map(|cause| Initiation { cause, evidence: None });
            assert_eq!(synchrony.take(&breath, initiation), None);
        }
        let counts = [
            synchrony.timed,
            synchrony.effort,
            synchrony.self_leak,
            synchrony.self_ripple,
            synchrony.unknown,
            synchrony.own,
        ];
        assert_eq!((counts, synchrony.inflations()), ([1, 2, 1, 1, 1, 1], 6));
        assert_eq!(synchrony.delay.count(), 2);
        assert_eq!(synchrony.delay.mean(), Some(Duration::from_millis(40)));
        assert_eq!(synchrony.mean_inspiration(), Some(Duration::from_millis(360)));
    }

    #[test]
    fn an_effort_is_the_inflations_where_six_of_the_seven_before_had_one() {
        let ms = |ms| Some(Duration::from_millis(ms));
        let mut synchrony = Synchrony::default();
        // 0 to 5 before the first six, six before the seventh; 100 and 350 ms are within.
        let told = [100, 350, 200, 200, 200, 200, 200].map(|after| synchrony.entrain(ms(after)));
        assert_eq!(told, [false, false, false, false, false, false, true]);
        // One without is forgiven, and is none itself; a second is not.
        assert!(!synchrony.entrain(None) && synchrony.entrain(ms(200)));
        assert!(!synchrony.entrain(ms(99)) && !synchrony.entrain(ms(200)));
        // Before each of the next four two of the seven had none: 1110101, 1101011, 1010111, 0101111; then 1011111.
        let told = [200; 6].map(|after| synchrony.entrain(ms(after)));
        assert_eq!(told, [false, false, false, false, true, true]);
        // 351 ms are not within.
        assert!(!synchrony.entrain(ms(351)));
        assert_eq!(synchrony.reverse, 4);
    }
}
