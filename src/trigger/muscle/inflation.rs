//! What the muscle pressure does about an inflation: did the infant pull as it began, did an effort come
//! while it ran?

use crate::quantity::{Duration, Instant, Pressure};
use crate::record;

record! {
    #[const_default]
    /// The muscle pressure about an inflation, against its least before the pressure rose.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct Inflation {
        /// Where the pressure began to rise.
        from: Instant,
        /// Up to there what was before still shows.
        until: Instant,
        floor: Option<Pressure>,
        /// The most above the floor soon after.
        pull: Option<Pressure>,
        /// The least since, the most above it while the pressure stood, and when.
        low: Pressure,
        most: Rise,
        /// When it first stood out from that.
        began: Option<Instant>,
        /// After a fall from its highest: the least, and the most above that.
        high: Pressure,
        fell: bool,
        low_again: Pressure,
        again: Rise,
        stood: bool,
        released: bool,
    }
}

record! {
    #[const_default]
    /// How far something rose, and when.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct Rise {
        pub(super) size: Pressure,
        pub(super) at: Instant,
    }
}

impl Rise {
    fn take(&mut self, size: Pressure, at: Instant) {
        if size > self.size {
            *self = Self { size, at };
        }
    }
}

/// How long before the rise of the pressure its floor is looked for.
pub(super) const BEFORE: Duration = Duration::from_millis(180);
/// The block in which the pressure rises belongs to what was before by so much.
const AT: Duration = Duration::from_millis(12);
/// Until when the valve's own step dies down, and from when on nothing is asked of what set it off.
const SETTLED: Duration = Duration::from_millis(40);
const SOON: Duration = Duration::from_millis(230);
/// The muscle pressure has begun to rise.
const STANDS_OUT: Pressure = Pressure::from_milli(500).value;
/// What set an inflation off is over when the muscle pressure has fallen so far. Chosen here, no source.
const OVER: Pressure = Pressure::from_milli(800).value;

/// The airway pressure of a block and of the one before, and between what it goes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Airway {
    pub(super) pressure: Pressure,
    pub(super) before: Pressure,
    pub(super) baseline: Pressure,
    pub(super) peak: Pressure,
}

impl Airway {
    /// It stands near its peak: above 7/8 of the way, and moved less than 1/16 of that since the block before.
    fn stands(&self) -> bool {
        let rise = self.peak.saturating_sub(self.baseline).value;
        let moved = self.pressure.saturating_sub(self.before).value;
        let moved = moved.max(self.before.saturating_sub(self.pressure).value);
        self.above() > rise.saturating_sub(rise.halved(3)).value && moved < rise.halved(4)
    }

    /// It has come down: below a quarter and a sixteenth of the way.
    fn is_down(&self) -> bool {
        let rise = self.peak.saturating_sub(self.baseline).value;
        self.above() < rise.halved(2).saturating_add(rise.halved(4)).value
    }

    fn above(&self) -> Pressure {
        self.pressure.saturating_sub(self.baseline).value
    }
}

impl Inflation {
    /// One whose pressure began to rise then.
    pub(super) fn begin(from: Instant) -> Self {
        Self { from, until: from.after(AT), ..Self::default() }
    }

    /// Takes the muscle pressure at a block; `turned` says whether the flow has turned outward.
    pub(super) fn take(
        &mut self,
        at: Instant,
        muscle: Pressure,
        airway: impl FnOnce() -> Airway,
        turned: bool,
    ) {
        if at <= self.until {
            let least = self.floor.unwrap_or(muscle).min(muscle);
            (self.floor, self.low) = (Some(least), least);
            return;
        }
        let since = at.since(self.from);
        let Some(floor) = self.floor.filter(|_| since > SETTLED && !self.released) else { return };
        if since <= SOON {
            let above = muscle.saturating_sub(floor).value;
            self.pull = Some(self.pull.unwrap_or(above).max(above));
        }
        let airway = airway();
        if airway.stands() {
            self.stand(at, muscle);
        } else if airway.is_down() && (self.stood || turned) {
            self.released = true;
        }
    }

    fn stand(&mut self, at: Instant, muscle: Pressure) {
        if !core::mem::replace(&mut self.stood, true) {
            self.high = muscle;
        }
        self.low = self.low.min(muscle);
        let above = muscle.saturating_sub(self.low).value;
        self.most.take(above, at);
        if above >= STANDS_OUT && self.began.is_none() {
            self.began = Some(at);
        }
        self.high = self.high.max(muscle);
        if self.fell {
            self.low_again = self.low_again.min(muscle);
            self.again.take(muscle.saturating_sub(self.low_again).value, at);
        } else if self.high.saturating_sub(self.floor.unwrap_or(self.high)).value > OVER
            && self.high.saturating_sub(muscle).value > OVER
        {
            // It had risen above its floor, and not only recovered from what the rise leaves over.
            (self.fell, self.low_again) = (true, muscle);
        }
    }

    /// How far the muscle pressure rose about the moment at which the pressure began to; `None` where
    /// that was not seen.
    pub(super) const fn pull(&self) -> Option<Pressure> {
        self.pull
    }

    /// How far it rose while the pressure stood.
    pub(super) const fn most(&self) -> Rise {
        self.most
    }

    /// How long after the machine's rise it first stood out.
    pub(super) fn began_after(&self) -> Option<Duration> {
        self.began.map(|began| began.since(self.from))
    }

    /// How far it rose anew after what set the inflation off was over.
    pub(super) const fn again(&self) -> Rise {
        self.again
    }

    /// The machine has let the pressure go.
    pub(super) const fn is_released(&self) -> bool {
        self.released
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(ms: u64) -> Instant {
        Instant::from_us(ms * 1_000)
    }

    /// Blocks of 20 ms about a rise at 200 ms from 5 to 15 cmH2O that is let go at 600 ms, with a muscle
    /// pressure by time in thousandths of cmH2O.
    fn seen(muscle: impl Fn(u64) -> i32) -> Inflation {
        let mut inflation = Inflation::begin(at(200));
        let mut before = Pressure::from_int(5);
        for block in 1..40_u64 {
            let ms = block * 20;
            let pressure = Pressure::from_int(if (220..600).contains(&ms) { 15 } else { 5 });
            let (baseline, peak) = (Pressure::from_int(5), Pressure::from_int(15));
            let airway = Airway { pressure, before, baseline, peak };
            before = pressure;
            let muscle = Pressure::from_milli(muscle(ms)).value;
            inflation.take(at(ms), muscle, || airway, ms >= 620);
        }
        inflation
    }

    fn milli(x: i32) -> Pressure {
        Pressure::from_milli(x).value
    }

    #[test]
    fn an_effort_that_goes_on_after_the_rise_is_a_pull() {
        // From nothing at 140 ms up by 20 a ms: 3.6 above at 320 ms, and down again.
        let half = |ms: u64| if (140..320).contains(&ms) { (ms as i32 - 140) * 20 } else { 0 };
        let seen = seen(half);
        // The last block before 320 ms is that at 300: 3.2.
        assert_eq!(seen.pull(), Some(milli(3_200)));
        assert_eq!((seen.most().size, seen.most().at), (milli(3_200), at(300)));
        // The first block that stands, 40 ms after the rise and more, is that at 260 ms: 2.4.
        assert_eq!(seen.began_after(), Some(Duration::from_millis(60)));
        // It fell to nothing and stayed there.
        assert_eq!(seen.again().size, Pressure::ZERO);
        assert!(seen.is_released());
    }

    #[test]
    fn ripple_that_turns_back_is_little_of_one() {
        // 0.5 up and down in 100 ms each: at 200 ms at its top, then down.
        let ripple = |ms: u64| if (ms / 100) % 2 == 1 { 500 } else { -500 };
        // The floor is −0.5, and 0.5 above nothing is 1.
        assert_eq!(seen(ripple).pull(), Some(milli(1_000)));
    }

    #[test]
    fn a_second_effort_counts_from_where_the_first_ended() {
        // 2 until 260 ms, nothing until 400, 1.5 until 500.
        let twice = |ms: u64| match ms {
            160..=260 => 2_000,
            400..=500 => 1_500,
            _ => 0,
        };
        let seen = seen(twice);
        assert_eq!((seen.again().size, seen.again().at), (milli(1_500), at(400)));
        assert_eq!(seen.pull(), Some(milli(2_000)));
    }

    #[test]
    fn what_was_not_seen_before_is_not_told() {
        let mut inflation = Inflation::begin(at(200));
        let airway = Airway {
            pressure: milli(15_000),
            before: milli(15_000),
            baseline: milli(5_000),
            peak: milli(15_000),
        };
        inflation.take(at(300), milli(3_000), || airway, false);
        assert_eq!(inflation.pull(), None);
    }

    #[test]
    fn a_pressure_stands_and_is_down_from_its_documented_borders_on() {
        // From 5 to 15: 7/8 of the way are 13.75, a quarter and a sixteenth 8.125; a sixteenth of it is 0.625.
        let bits = |sixteenths: i32, more| Pressure::from_bits(sixteenths * 4_096 + more);
        let airway = |pressure, before| Airway {
            pressure,
            before,
            baseline: Pressure::from_int(5),
            peak: Pressure::from_int(15),
        };
        let stands = |more| airway(bits(220, more), bits(220, more)).stands();
        assert!(!stands(0) && stands(1));
        let moved = |from: i32| airway(bits(230, 0), bits(230 - from, 0)).stands();
        assert!(moved(9) && !moved(10) && moved(-9) && !moved(-10));
        let is_down = |more| airway(bits(130, more), bits(130, more)).is_down();
        assert!(is_down(-1) && !is_down(0));
    }

    #[test]
    fn what_just_settles_or_just_falls_is_not_counted_yet() {
        // The rise is at 200 ms: at 240 the valve's step may still show, from 260 on it is the infant's.
        let pulled = |when: u64| seen(|ms| if ms == when { 3_000 } else { 0 }).pull();
        assert_eq!((pulled(240), pulled(260)), (Some(Pressure::ZERO), Some(Pressure::from_int(3))));
        // From 2 down to 1.2, by 0.8, then 1.9: not over before; down to 1.199 it was, and 0.701 rose anew.
        let again = |to: i32| {
            let muscle = move |ms| match ms {
                260..=300 => 2_000,
                320..=400 => to,
                420..=600 => 1_900,
                _ => 0,
            };
            let again = seen(muscle).again();
            (again.size, again.at)
        };
        let anew =
            Pressure::from_milli(1_900).value.saturating_sub(Pressure::from_milli(1_199).value);
        assert_eq!(again(1_200), (Pressure::ZERO, Instant::default()));
        // It stood for long: the first block of the top tells when.
        assert_eq!(again(1_199), (anew.value, at(420)));
        // What rose by just 0.8 had not risen.
        let low = |to: i32| {
            let muscle = move |ms| match ms {
                260..=300 => to,
                320..=400 => to - 900,
                420..=600 => to,
                _ => 0,
            };
            seen(muscle).again().size
        };
        assert!(low(800) == Pressure::ZERO && low(801) > Pressure::ZERO);
    }
}
