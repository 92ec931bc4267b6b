//! Efforts in expiration: the muscle pressure rises, and no breath comes of it.

use super::inflation::Rise;
use crate::quantity::{Duration, Instant, Pressure};
use crate::record;

record! {
    #[const_default]
    /// The muscle pressure since the machine let go, or since an own breath turned.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct Expiration {
        since: Instant,
        low: Option<Rise>,
        /// What has risen far enough and not fallen again.
        up: Option<Rise>,
        /// How far it had risen some 100 to 200 ms ago, some time later, and up to now.
        most: Pressure,
        held: Rise,
        rising: Pressure,
    }
}

/// The release itself takes so long.
const SETTLED: Duration = Duration::from_millis(60);
/// A low that is older is a drift of the model: it follows, a part in eight each block.
const STALE: Duration = Duration::from_millis(250);
/// What rises within this before an onset belongs to it.
const STANDS: Duration = Duration::from_millis(100);
/// What has not fallen again by half within this is no effort, but a step of what the model gets wrong.
const LONGEST: Duration = Duration::from_millis(600);
/// From when on the pressure left over is quiet but for ripple.
const QUIET: Duration = Duration::from_millis(250);

impl Expiration {
    /// One that begins then.
    pub(super) fn begin(since: Instant) -> Self {
        Self { since, ..Self::default() }
    }

    /// Takes the muscle pressure at a block; an effort of at least `least` that is over and made no breath.
    pub(super) fn take(&mut self, at: Instant, muscle: Pressure, least: Pressure) -> Option<Rise> {
        let Some(mut low) = self.low.filter(|_| at.since(self.since) >= SETTLED) else {
            self.low = Some(Rise { size: muscle, at });
            return None;
        };
        let above = muscle.saturating_sub(low.size).value;
        self.rising = self.rising.max(above);
        if at.since(self.held.at) >= STANDS {
            self.most = self.held.size;
            self.held = Rise { size: self.rising, at };
        }
        let over = self.up.take();
        let Some(mut up) = over else {
            if above < Pressure::ZERO {
                low = Rise { size: muscle, at };
            } else if at.since(low.at) > STALE {
                low.size = low.size.lowpass(muscle, 3);
            }
            self.up = (above > least).then_some(Rise { size: above, at });
            self.low = Some(low);
            return None;
        };
        up.size = up.size.max(above);
        let (fell, stands) = (above < up.size.halved(1), at.since(up.at) > LONGEST);
        if fell || stands {
            self.low = Some(Rise { size: muscle, at });
        } else {
            self.up = Some(up);
        }
        fell.then_some(up)
    }

    /// Whether it is quiet but for ripple.
    pub(super) fn is_quiet(&self, at: Instant) -> bool {
        self.up.is_none() && at.since(self.since) > QUIET
    }

    /// How far it rose, but for its end: what rises there belongs to the next breath.
    pub(super) const fn most(&self) -> Pressure {
        self.most
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Blocks of 20 ms from a release on, with a muscle pressure by time in thousandths; the efforts of
    /// 1 cmH2O and more, when and how large.
    fn efforts(until: u64, muscle: impl Fn(u64) -> i32) -> (std::vec::Vec<(u64, i32)>, Pressure) {
        let mut expiration = Expiration::begin(Instant::from_us(0));
        let mut out = std::vec::Vec::new();
        for block in 1..=until / 20 {
            let ms = block * 20;
            let muscle = Pressure::from_milli(muscle(ms)).value;
            let at = Instant::from_us(ms * 1_000);
            if let Some(effort) = expiration.take(at, muscle, Pressure::from_int(1)) {
                out.push((effort.at.to_us() / 1_000, effort.size.to_f64() as i32));
            }
        }
        (out, expiration.most())
    }

    #[test]
    fn an_effort_is_told_when_it_is_over() {
        // Up by 20 a ms from 200 ms on to 3 at 350, then nothing: past 1 at 260 ms, over at 360.
        let effort = |ms: u64| if (200..=350).contains(&ms) { (ms as i32 - 200) * 20 } else { 0 };
        let (seen, most) = efforts(800, effort);
        // The last block before 350 ms is that at 340: 2.8.
        assert_eq!(seen, [(260, 2)]);
        assert_eq!(most, Pressure::from_milli(2_800).value);
        // A fall to 1.3 of 2.8 is one by more than half, to 1.5 not.
        let down = |to: i32| move |ms: u64| if ms > 350 { to } else { effort(ms) };
        assert_eq!(efforts(800, down(1_300)).0, [(260, 2)]);
        assert_eq!(efforts(800, down(1_500)).0, []);
        // At 340 ms it may still make a breath.
        assert_eq!(efforts(340, effort).0, []);
    }

    #[test]
    fn what_rises_and_stays_is_none() {
        // 2 cmH2O from 200 ms on; a second such step 0.7 s later, and what goes back within 0.6 s is one.
        assert_eq!(efforts(2_000, |ms| if ms < 200 { 0 } else { 2_000 }).0, []);
        let back = |ms: u64| match ms {
            0..200 => 0,
            900..1_400 => 4_000,
            _ => 2_000,
        };
        assert_eq!(efforts(2_000, back).0, [(900, 2)]);
    }

    #[test]
    fn a_drift_is_none_nor_what_the_next_breath_takes_up() {
        // 1 cmH2O a second.
        assert_eq!(efforts(3_000, |ms| ms as i32).0, []);
        // 3 cmH2O in the last 100 ms.
        let (seen, most) = efforts(600, |ms| if ms > 500 { (ms as i32 - 500) * 30 } else { 0 });
        assert_eq!((seen, most), (std::vec::Vec::new(), Pressure::ZERO));
    }

    #[test]
    fn what_is_just_at_a_border_is_no_effort_yet() {
        // To 1 and back is none, to 1.001 is one: the first block is that at 200 ms.
        let pulse =
            |to: i32| efforts(800, move |ms| if (200..=300).contains(&ms) { to } else { 0 }).0;
        assert_eq!((pulse(1_000), pulse(1_001)), (std::vec![], std::vec![(200, 1)]));
        // From 2 down to 1, which is half, it has not fallen; to 0.999 it has.
        let fall = |to: i32| {
            let muscle = move |ms| match ms {
                200..=300 => 2_000,
                320.. => to,
                _ => 0,
            };
            efforts(800, muscle).0
        };
        assert_eq!((fall(1_000), fall(999)), (std::vec![], std::vec![(200, 2)]));
        // It may last 0.6 s, from 200 to 800 ms; with one block more it is a step.
        let lasting = |until: u64| {
            efforts(1_200, move |ms| if (200..=until).contains(&ms) { 2_000 } else { 0 }).0
        };
        assert_eq!((lasting(800), lasting(820)), (std::vec![(200, 2)], std::vec![]));
        let quiet = |us| Expiration::begin(Instant::from_us(0)).is_quiet(Instant::from_us(us));
        assert!(!quiet(250_000) && quiet(250_001));
    }

    #[test]
    fn a_low_follows_once_it_is_older_than_a_quarter_of_a_second() {
        // Nothing from 60 ms on; 0.8 at a moment, then 1.05, then nothing: an effort of 1 and more where the low stood.
        let told = |again: Option<u64>, then: u64| {
            let mut expiration = Expiration::begin(Instant::from_us(0));
            let blocks = [(60, 0)].into_iter().chain(again.map(|ms| (ms, 0)));
            let blocks = blocks.chain([(then, 800), (then + 10, 1_050), (then + 20, 0)]);
            let mut seen = blocks.map(|(ms, muscle)| {
                let muscle = Pressure::from_milli(muscle).value;
                expiration.take(Instant::from_us(ms * 1_000), muscle, Pressure::from_int(1))
            });
            seen.any(|effort| effort.is_some())
        };
        // After 250 ms it stands; after 251 an eighth of 0.8 is its own, and 0.95 are left.
        assert!(told(None, 310) && !told(None, 311));
        // As low again at 200 ms is no lower: it is as old.
        assert!(!told(Some(200), 320));
    }
}
