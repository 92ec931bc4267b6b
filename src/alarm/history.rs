//! The expired volumes of each kind of breath, in bounded memory.

use super::{BreathKind, BreathView};
use crate::quantity::{Duration, Instant, Ring, Volume, arith};
use crate::record;

/// How many of the latest breaths of a kind are kept one by one.
pub(crate) const HISTORY: usize = 128;

record! {
    #[const_default]
    /// Expired volumes by kind of breath: counts on a grid over a long time, and the latest 128 one by
    /// one. 3.6 KB.
    ///
    /// The grid has eight equal steps an octave from 0.5 to 112 mL (a sixteenth to an eighth of the
    /// value); its counts halve together when one is full, so old breaths fade.
    #[derive(Debug, Clone, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct VolumeHistory([OneKind; 3]);
}

record! {
    #[const_default]
    #[derive(Debug, Clone, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct OneKind {
        counts: [u16; Volume::BINS],
        latest: Ring<Seen, HISTORY>,
        last: Option<Instant>,
    }
}

record! {
    #[const_default]
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    struct Seen {
        volume: Volume,
        /// Wrapping milliseconds: only differences count.
        at_ms: u32,
    }
}

impl VolumeHistory {
    /// Takes a breath. One that is not trusted, has no expired volume, or is not later than the
    /// last of its kind changes nothing.
    pub fn learn(&mut self, view: &BreathView) {
        let Some(volume) = view.expired.filter(|_| view.trusted) else { return };
        if let Some(kind) = self.0.get_mut(view.kind.index()) {
            kind.learn(view.at, volume);
        }
    }

    pub(super) const fn of(&self, kind: BreathKind) -> &OneKind {
        let [own, supported, assured] = &self.0;
        match kind {
            BreathKind::Own => own,
            BreathKind::Supported => supported,
            BreathKind::Assured => assured,
        }
    }
}

impl OneKind {
    fn learn(&mut self, at: Instant, volume: Volume) {
        if self.last.is_some_and(|last| at <= last) {
            return;
        }
        self.last = Some(at);
        if let Some(count) = self.counts.get_mut(volume.bin()) {
            *count = count.saturating_add(1);
            if *count == u16::MAX {
                self.counts = self.counts.map(arith::half_u16);
            }
        }
        self.latest.push(Seen { volume, at_ms: arith::wrapping_millis(at.to_us()) });
    }

    /// How many breaths the grid holds, old ones faded.
    pub(super) fn all(&self) -> u32 {
        self.counts.iter().fold(0, |sum: u32, &n| sum.saturating_add(n.into()))
    }

    /// The highest edge of the grid that at least `percent` of the breaths reach, and how many do.
    pub(super) fn reached_by(&self, percent: u8) -> (Volume, u32) {
        let all = i32::try_from(self.all()).unwrap_or(i32::MAX);
        let need = arith::product(all, percent.into());
        let mut reach = 0_u32;
        for (bin, &count) in self.counts.iter().enumerate().rev() {
            reach = reach.saturating_add(count.into());
            let have = arith::product(i32::try_from(reach).unwrap_or(i32::MAX), 100);
            if reach > 0 && have >= need {
                return (Volume::edge(bin), reach);
            }
        }
        (Volume::ZERO, reach)
    }

    /// How many breaths lie in steps of the grid from a volume on: those in its own step do not count,
    /// unless it is the edge.
    pub(super) fn reaching(&self, level: Volume) -> u32 {
        let bins = self.counts.iter().enumerate();
        let reaches = |bin| Volume::edge(bin) >= level;
        bins.filter(|(bin, _)| reaches(*bin))
            .fold(0, |sum: u32, (_, &count)| sum.saturating_add(count.into()))
    }

    /// The latest breaths, oldest first, at moments counted from the first of them, to a
    /// millisecond.
    pub(super) fn latest(&self) -> impl Iterator<Item = (Instant, Volume)> + '_ {
        let first = self.latest.iter().next().map_or(0, |seen| seen.at_ms);
        self.latest.iter().map(move |seen| {
            let since = Duration::from_millis(seen.at_ms.wrapping_sub(first));
            (Instant::default().after(since), seen.volume)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::vec::Vec;

    fn ml(whole: i16) -> Volume {
        Volume::from_int(whole)
    }

    #[test]
    fn the_grid_has_eight_steps_an_octave() {
        // 0.5 to 1 mL in steps of 1/16; 4 to 8 mL in steps of 0.5.
        assert_eq!(Volume::from_milli(499).value.bin(), 0);
        assert_eq!(Volume::from_milli(500).value.bin(), 1);
        // 4 mL begins octave 3: 1 + 3 × 8 = 25; 4.5 mL one further.
        assert_eq!(ml(4).bin(), 25);
        assert_eq!(Volume::edge(26), Volume::from_milli(4_500).value);
        for bin in 1..Volume::BINS {
            let edge = Volume::edge(bin);
            let below = edge.saturating_sub(Volume::STEP).value;
            assert_eq!((edge.bin(), below.bin()), (bin, bin - 1));
        }
        assert_eq!(Volume::edge(63), ml(112));
        assert_eq!((Volume::MAX.bin(), Volume::MIN.bin()), (63, 0));
    }

    #[test]
    fn the_ring_keeps_the_latest_in_order() {
        let mut kind = OneKind::default();
        for i in 0..200_u64 {
            kind.learn(Instant::from_us((i + 1) * 500_000), ml(i as i16));
            kind.learn(Instant::from_us(i * 500_000), ml(-1)); // not later: ignored
        }
        let kept: Vec<_> = kind.latest().collect();
        // 200 − 128 = 72 is the oldest; they are 0.5 s apart.
        assert_eq!(kept.len(), 128);
        assert_eq!(kept[0], (Instant::from_us(0), ml(72)));
        assert_eq!(kept[127], (Instant::from_us(127 * 500_000), ml(199)));
    }

    #[test]
    fn quantiles_hold_at_least_their_share() {
        let mut kind = OneKind::default();
        for i in 0..100_u64 {
            let volume = if i < 5 { ml(2) } else { ml(6) };
            kind.learn(Instant::from_us(i + 1), volume);
        }
        // 95 of 100 reach 6 mL; for 96 % the five of 2 mL must count too.
        assert_eq!(kind.reached_by(95), (ml(6), 95));
        assert_eq!(kind.reached_by(96), (ml(2), 100));
        assert_eq!(OneKind::default().reached_by(95), (Volume::ZERO, 0));
    }

    #[test]
    fn counts_fade_and_never_overflow() {
        let mut kind = OneKind::default();
        for i in 0..200_000_u64 {
            kind.learn(Instant::from_us(i + 1), ml(5));
        }
        assert!(kind.all() > 30_000 && kind.all() < 65_536);
    }
}
