//! What a threshold has led to: inflations that the machine set off by itself, efforts that it missed,
//! over all of the time that it was set and over the worst stretch of it.

use super::regular::Regular;
use super::{Cause, Initiation, NoiseFloor, Threshold};
use crate::breath::{Breath, EndExpiration, Kind};
use crate::quantity::{Pressure, Share};
use crate::record;
use crate::signal::Flags;

record! {
    #[const_default]
    /// Counts of inflations and efforts; each ends at 4·10⁹.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct TriggerCounts {
        /// Inflations.
        pub inflations: u32,
        /// Those that the infant set off.
        pub by_infant: u32,
        /// Those that the machine set off by itself, on leak, ripple or noise.
        pub self_cycled: u32,
        /// Of these, those on leak.
        pub on_leak: u32,
        /// Those whose cause cannot be told.
        pub unknown: u32,
        /// Efforts in expiration that set nothing off.
        pub missed: u32,
    }
}

record! {
    #[const_default]
    /// Counts since the threshold was set, and of the stretches of fifty inflations and missed efforts
    /// in which most were self-cycled and most missed.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct TriggerTally {
        whole: TriggerCounts,
        stretch: TriggerCounts,
        worst_cycled: TriggerCounts,
        worst_missed: TriggerCounts,
        /// Breaths with a known quiet flow, and those in which it reached the threshold.
        floors: u32,
        reached: u32,
        /// Inflations before which no quiet flow was seen for long enough to show noise.
        unseen: u32,
        regular: Regular,
    }
}

/// Inflations and missed efforts of a stretch: a minute or so. Chosen here, no source.
const STRETCH: u32 = 50;
/// Ripple that may set a trigger off. Chosen on simulated infants, no source.
const RIPPLE: Pressure = Pressure::from_milli(300).value;

impl TriggerCounts {
    /// Efforts that could set something off: those that did, and those that did not.
    #[must_use]
    pub const fn efforts(&self) -> u32 {
        self.by_infant.saturating_add(self.missed)
    }

    /// The share of inflations that the machine set off by itself; `None` for no inflation. One wide
    /// divide.
    #[must_use]
    pub(crate) fn cycled_share(&self) -> Option<Share> {
        share(self.self_cycled, self.inflations)
    }

    /// The share of efforts that set nothing off; `None` for no effort. One wide divide.
    #[must_use]
    pub fn missed_share(&self) -> Option<Share> {
        share(self.missed, self.efforts())
    }

    /// The share of inflations whose cause cannot be told; `None` for no inflation. One wide divide.
    #[must_use]
    pub(crate) fn unknown_share(&self) -> Option<Share> {
        share(self.unknown, self.inflations)
    }

    fn with(mut self, initiation: Initiation) -> Self {
        let one_more = |count: &mut u32| *count = count.saturating_add(1);
        one_more(&mut self.inflations);
        match initiation.cause {
            Cause::Timed => {}
            Cause::Effort => one_more(&mut self.by_infant),
            Cause::SelfLeak => {
                one_more(&mut self.self_cycled);
                one_more(&mut self.on_leak);
            }
            Cause::SelfRipple => one_more(&mut self.self_cycled),
            Cause::Unknown(_) => one_more(&mut self.unknown),
        }
        self
    }

    const fn with_missed(mut self) -> Self {
        self.missed = self.missed.saturating_add(1);
        self
    }
}

fn share(part: u32, whole: u32) -> Option<Share> {
    Share::of_counts(part.into(), whole.into())
}

impl TriggerTally {
    /// Takes what started an inflation.
    pub fn inflation(&mut self, initiation: Initiation) {
        self.whole = self.whole.with(initiation);
        self.stretch = self.stretch.with(initiation);
        self.regular.inflation(&initiation);
        self.end_stretch();
    }

    /// Takes a closed breath: whether the quiet flow before it reached the threshold, with leak, noise
    /// and ripple, the noise that flags it included. Where there was no quiet, the floor serves.
    pub fn quiet(&mut self, breath: &Breath, floor: Option<NoiseFloor>, threshold: Threshold) {
        if !breath.flags.and(Flags::MEASUREMENT.but(Flags::NOISY)).is_empty() {
            return;
        }
        let unseen = breath.quiet.is_none_or(|quiet| quiet.span < EndExpiration::LONG_ENOUGH);
        let is_one = unseen && breath.kind == Kind::Inflation;
        self.unseen = self.unseen.saturating_add(u32::from(is_one));
        let seen = breath.quiet.map(NoiseFloor::from).or(floor.filter(|_| breath.is_trusted()));
        if let Some(NoiseFloor { leak, noise, .. }) = seen {
            let most = leak.saturating_add(noise.unwrap_or_default().reach).value;
            self.count_quiet(most >= threshold.flow());
        }
    }

    pub(super) const fn count_quiet(&mut self, reaches: bool) {
        self.floors = self.floors.saturating_add(1);
        if reaches {
            self.reached = self.reached.saturating_add(1);
        }
    }

    /// The share of breaths whose leak and noise reached the threshold; `None` for none. One wide divide.
    #[must_use]
    pub fn reached_share(&self) -> Option<Share> {
        share(self.reached, self.floors)
    }

    /// Whether inflations that count as the infant's came as regularly as a clock for a stretch of them: ripple or
    /// water may have set them off.
    #[must_use]
    pub const fn is_clockwork(&self) -> bool {
        self.regular.is_seen()
    }

    /// Whether ripple moves the muscle pressure, by `ripple` in the mean, and no quiet flow before more than half of the
    /// inflations showed how far it reaches.
    pub(super) fn has_ripple_unseen(&self, ripple: Pressure) -> bool {
        ripple >= RIPPLE && self.unseen > self.whole.inflations >> 1
    }

    /// Whether inflations that count as the infant's may be nobody's.
    pub(crate) fn is_doubtful(&self, ripple: Pressure) -> bool {
        self.is_clockwork() || self.has_ripple_unseen(ripple)
    }

    /// Takes an effort in expiration that set nothing off.
    pub fn missed(&mut self) {
        self.whole = self.whole.with_missed();
        self.stretch = self.stretch.with_missed();
        self.end_stretch();
    }

    /// All since the threshold was set.
    #[must_use]
    pub const fn whole(&self) -> &TriggerCounts {
        &self.whole
    }

    /// The stretch in which the largest share was self-cycled.
    #[must_use]
    pub const fn worst_cycled(&self) -> &TriggerCounts {
        &self.worst_cycled
    }

    /// The stretch in which the largest share of efforts was missed.
    #[must_use]
    pub const fn worst_missed(&self) -> &TriggerCounts {
        &self.worst_missed
    }

    fn end_stretch(&mut self) {
        if self.stretch.inflations.saturating_add(self.stretch.missed) < STRETCH {
            return;
        }
        let ended = core::mem::take(&mut self.stretch);
        if ended.cycled_share() > self.worst_cycled.cycled_share() {
            self.worst_cycled = ended;
        }
        // Of few efforts a missed one makes a large share.
        if ended.efforts() >= STRETCH >> 2
            && ended.missed_share() > self.worst_missed.missed_share()
        {
            self.worst_missed = ended;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Flow;

    fn of(cause: Cause) -> Initiation {
        Initiation { cause, evidence: None }
    }

    #[test]
    fn a_quiet_flow_that_reaches_the_threshold_is_counted_noise_included() {
        let flow = Flow::from_int;
        let quiet = |high| {
            let quiet = EndExpiration {
                flow: flow(1),
                low: flow(1),
                high: flow(high),
                ..EndExpiration::default()
            };
            Breath { quiet: Some(quiet), ..Breath::plain() }
        };
        let set = Threshold::new(flow(4)).unwrap();
        let mut tally = TriggerTally::default();
        assert_eq!(tally.reached_share(), None);
        // 3 does not reach 4, 4 does; noise is counted though it flags, a gap is not.
        tally.quiet(&quiet(3), None, set);
        tally.quiet(&quiet(4), None, set);
        tally.quiet(&Breath { flags: Flags::NOISY, ..quiet(4) }, None, set);
        tally.quiet(&Breath { flags: Flags::GAP, ..quiet(4) }, None, set);
        // Without a quiet the floor serves: a leak of 5.
        let floor = Some(NoiseFloor { leak: flow(5), ..NoiseFloor::default() });
        tally.quiet(&Breath::plain(), floor, set);
        tally.quiet(&Breath::plain(), None, set);
        assert_eq!(tally.reached_share(), Some(Share::from_percent(75)));
    }

    #[test]
    fn the_worst_stretch_stands_beside_the_whole() {
        let mut tally = TriggerTally::default();
        // 50 of the infant's, then 50 of which 20 are self-cycled, then 50 more of the infant's.
        let stretches = [(50, 0), (30, 20), (50, 0)];
        for (effort, cycled) in stretches {
            (0..effort).for_each(|_| tally.inflation(of(Cause::Effort)));
            (0..cycled).for_each(|_| tally.inflation(of(Cause::SelfLeak)));
        }
        assert_eq!((tally.whole().inflations, tally.whole().self_cycled), (150, 20));
        assert_eq!(tally.worst_cycled().cycled_share(), Some(Share::from_percent(40)));
        assert_eq!(tally.worst_missed().missed, 0);
        // 30 missed of 50 efforts: 60 %.
        (0..30).for_each(|_| tally.missed());
        (0..20).for_each(|_| tally.inflation(of(Cause::Effort)));
        let worst = tally.worst_missed();
        assert_eq!((worst.missed, worst.efforts()), (30, 50));
        assert_eq!((tally.whole().missed, tally.whole().efforts()), (30, 180));
    }

    #[test]
    fn of_two_stretches_as_bad_the_first_stands() {
        // 10 of 50 self-cycled, then 9 of 45 beside 5 missed: a fifth each.
        let mut tally = TriggerTally::default();
        let add = |tally: &mut TriggerTally, cause, n| {
            (0..n).for_each(|_| tally.inflation(of(cause)));
        };
        add(&mut tally, Cause::SelfRipple, 10);
        add(&mut tally, Cause::Effort, 40);
        (0..5).for_each(|_| tally.missed());
        add(&mut tally, Cause::SelfRipple, 9);
        add(&mut tally, Cause::Effort, 36);
        let worst = tally.worst_cycled();
        assert_eq!((worst.self_cycled, worst.inflations), (10, 50));
        // 10 of 50 efforts missed, then 4 of 20.
        let mut tally = TriggerTally::default();
        (0..10).for_each(|_| tally.missed());
        add(&mut tally, Cause::Effort, 40);
        (0..4).for_each(|_| tally.missed());
        add(&mut tally, Cause::Effort, 16);
        add(&mut tally, Cause::Timed, 30);
        let worst = tally.worst_missed();
        assert_eq!((worst.missed, worst.efforts()), (10, 50));
    }

    #[test]
    fn of_fewer_than_a_quarter_of_a_stretch_no_share_is_taken() {
        // Of 50 inflations and missed efforts 12 are efforts, or 11; half of them missed.
        for (caught, missed, counts) in [(6, 6, 6), (6, 5, 0)] {
            let mut tally = TriggerTally::default();
            (0..missed).for_each(|_| tally.missed());
            (0..caught).for_each(|_| tally.inflation(of(Cause::Effort)));
            (0..50 - caught - missed).for_each(|_| tally.inflation(of(Cause::Timed)));
            assert_eq!(tally.worst_missed().missed, counts, "{missed} of {}", caught + missed);
        }
    }
}
