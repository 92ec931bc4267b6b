//! Rate and minute volume over the last breaths.

use crate::breath::Breath;
use crate::quantity::{Duration, Rate, Ring, Volume, arith};
use crate::record;

/// How many breaths are looked back on.
const BREATHS: usize = 8;

record! {
    #[const_default]
    /// Expired volume and length of the last trusted breaths.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct Minute {
        breaths: Ring<(Volume, Duration), BREATHS>,
    }
}

impl Minute {
    /// Takes a closed breath; a flagged one changes nothing.
    pub(super) fn learn(&mut self, breath: &Breath) {
        let (true, Some(volume)) = (breath.is_trusted(), breath.expired.within()) else { return };
        self.breaths.push((volume, breath.end.since(breath.onset)));
    }

    /// Breaths per minute and expired volume per minute, once enough breaths were seen. Two wide
    /// divides.
    pub(super) fn rates(&self) -> Option<(Rate, Volume)> {
        if !self.breaths.is_full() {
            return None;
        }
        let (mut volume, mut time) = (Volume::ZERO, Duration::ZERO);
        for &(v, t) in self.breaths.iter() {
            volume = volume.saturating_add(v).within()?;
            time = time.saturating_add(t);
        }
        let rate = Rate::of_period(Duration::from_us(arith::eighth_u64(time.to_us())))?.within()?;
        let mean = volume.halved(3);
        Some((rate, mean.at_rate(rate).within()?))
    }
}
