//! What breaths of a stretch add up to, and what can be read from it.

use crate::alarm::BreathKind;
use crate::bedside::RapidShallow;
use crate::breath::{Breath, Kind};
use crate::quantity::unit::{Ml, MlPerS, Unit};
use crate::quantity::{Duration, Flow, Mass, Rate, Share, Sum, Volume, arith};
use crate::record;
use crate::trigger::{Cause, NoCause};

record! {
    /// A closed breath, as far as a trend needs it: made [of](Self::of) one.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct TrendBreath {
        /// Its length, from onset to the next onset.
        pub(crate) length: Duration,
        /// Whose breath it was.
        pub(crate) kind: BreathKind,
        /// Whether the infant breathed it or set it off.
        pub(crate) by_infant: bool,
        /// Whether the machine set itself off on leak or ripple.
        pub(crate) self_cycled: bool,
        /// Whether who began it is not known, for flow and pressure are apart in time.
        pub(crate) late: bool,
        /// The volume that the lung moved; `None` where leak or flags leave it unknown.
        pub(crate) volume: Option<Volume>,
        /// Inspired and [returned](crate::breath::Breath::returned) volume at the sensor, for the leak.
        pub(crate) at_sensor: Option<(Volume, Volume)>,
        /// Largest flow inward.
        pub(crate) peak_flow: Flow,
        /// Expiration, in which a pause hides.
        pub(crate) expiration: Duration,
        /// Whether nothing was wrong. Else only its time counts, as unknown.
        pub(crate) trusted: bool,
        /// Whether its numbers cannot be.
        pub(crate) implausible: bool,
        /// Whether its volume is under the dead space; not told where either is not known.
        pub(crate) shallow: bool,
    }
}

record! {
    #[const_default]
    /// Sums over a stretch of breaths: 60 bytes, no breath kept.
    ///
    /// Counts end at 65 535, volumes at 8.3 L times a thousand and times at 71 minutes; all clamp.
    /// Volumes keep 8 fraction bits.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct Tally {
        /// By [`BreathKind`]: breaths, those with a volume, and its sum.
        counts: [u16; 3],
        measured: [u16; 3],
        volumes: [Sum<Ml>; 3],
        by_infant: u16,
        self_cycled: u16,
        missed: u16,
        pauses: u16,
        implausible: u16,
        shallow: u16,
        late: u16,
        inspired: Sum<Ml>,
        expired: Sum<Ml>,
        /// Sum of the largest inward flows of own and supported breaths.
        peaks: Sum<MlPerS>,
        known_us: u32,
        unknown_us: u32,
    }
}

/// An expiration this long is a pause: common practice, no source (an apnoea takes 20 s).
const PAUSE: Duration = Duration::from_millis(5_000);

impl TrendBreath {
    /// What a trend needs of a closed breath; [`BreathReport::for_trend`](crate::monitor::BreathReport::for_trend)
    /// gives it of one that a monitor tells. `cause` started it, if it is an inflation and that is known; `volume` is
    /// what the lung moved, `None` where leak or flags leave it unknown; `implausible` are numbers that cannot be.
    /// One wide divide.
    #[must_use]
    pub fn of(
        breath: &Breath,
        kind: BreathKind,
        cause: Option<Cause>,
        volume: Option<Volume>,
        implausible: bool,
    ) -> Self {
        Self {
            length: breath.end.since(breath.onset),
            kind,
            by_infant: breath.kind == Kind::Own || cause == Some(Cause::Effort),
            self_cycled: cause.is_some_and(Cause::is_self_cycled),
            late: matches!(cause, Some(Cause::Unknown(NoCause::FlowLate | NoCause::PressureLate))),
            volume,
            at_sensor: breath.inspired.within().zip(breath.returned().within()),
            peak_flow: breath.peak_insp_flow,
            expiration: breath.exp_time(),
            trusted: breath.is_trusted(),
            implausible,
            shallow: false,
        }
    }
}

impl Tally {
    /// Takes a closed breath.
    pub(crate) fn take(&mut self, breath: &TrendBreath) {
        if !breath.trusted {
            self.implausible = self.implausible.saturating_add(breath.implausible.into());
            self.unknown_us = arith::add_us(self.unknown_us, breath.length.to_us());
            return;
        }
        self.known_us = arith::add_us(self.known_us, breath.length.to_us());
        let one = |count: &mut u16, yes: bool| *count = count.saturating_add(yes.into());
        let places = self.counts.iter_mut().zip(&mut self.measured).zip(&mut self.volumes);
        for (kind, ((count, measured), sum)) in BreathKind::ALL.into_iter().zip(places) {
            one(count, kind == breath.kind);
            if let Some(volume) = breath.volume.filter(|_| kind == breath.kind) {
                one(measured, true);
                sum.put(volume);
            }
        }
        one(&mut self.by_infant, breath.by_infant);
        one(&mut self.self_cycled, breath.self_cycled);
        one(&mut self.pauses, breath.expiration >= PAUSE);
        one(&mut self.shallow, breath.shallow);
        one(&mut self.late, breath.late);
        if let Some((inspired, expired)) = breath.at_sensor {
            self.inspired.put(inspired);
            self.expired.put(expired);
        }
        if breath.kind != BreathKind::Assured {
            self.peaks.put(breath.peak_flow);
        }
    }

    /// Takes an effort that got no inflation.
    pub(crate) const fn miss(&mut self) {
        self.missed = self.missed.saturating_add(1);
    }

    /// Both stretches together.
    pub(crate) fn with(self, other: &Self) -> Self {
        let sum = |a: [u16; 3], b: [u16; 3]| {
            let ([a0, a1, a2], [b0, b1, b2]) = (a, b);
            [a0.saturating_add(b0), a1.saturating_add(b1), a2.saturating_add(b2)]
        };
        let ([a0, a1, a2], [b0, b1, b2]) = (self.volumes, other.volumes);
        Self {
            counts: sum(self.counts, other.counts),
            measured: sum(self.measured, other.measured),
            volumes: [a0.saturating_add(b0), a1.saturating_add(b1), a2.saturating_add(b2)],
            by_infant: self.by_infant.saturating_add(other.by_infant),
            self_cycled: self.self_cycled.saturating_add(other.self_cycled),
            missed: self.missed.saturating_add(other.missed),
            pauses: self.pauses.saturating_add(other.pauses),
            implausible: self.implausible.saturating_add(other.implausible),
            shallow: self.shallow.saturating_add(other.shallow),
            late: self.late.saturating_add(other.late),
            inspired: self.inspired.saturating_add(other.inspired),
            expired: self.expired.saturating_add(other.expired),
            peaks: self.peaks.saturating_add(other.peaks),
            known_us: self.known_us.saturating_add(other.known_us),
            unknown_us: self.unknown_us.saturating_add(other.unknown_us),
        }
    }

    /// Breaths of all kinds.
    #[must_use]
    pub fn breaths(&self) -> u16 {
        self.counts.iter().fold(0, |sum: u16, n| sum.saturating_add(*n))
    }

    /// Breaths of a kind.
    #[must_use]
    pub const fn count(&self, kind: BreathKind) -> u16 {
        let [own, supported, assured] = self.counts;
        match kind {
            BreathKind::Own => own,
            BreathKind::Supported => supported,
            BreathKind::Assured => assured,
        }
    }

    /// Breaths that the infant breathed or set off.
    pub(crate) const fn by_infant(&self) -> u16 {
        self.by_infant
    }

    /// Inflations that the machine set off by itself on leak or ripple.
    #[must_use]
    pub const fn self_cycled(&self) -> u16 {
        self.self_cycled
    }

    /// Efforts that got no inflation.
    #[must_use]
    pub const fn missed(&self) -> u16 {
        self.missed
    }

    /// Whether of most breaths it is not known who began them, for flow and pressure are apart in time.
    pub(crate) fn is_late(&self) -> bool {
        self.late.saturating_mul(2) > self.breaths()
    }

    /// Expirations of 5 s and longer.
    pub(crate) const fn pauses(&self) -> u16 {
        self.pauses
    }

    /// Flagged breaths whose numbers cannot be.
    pub(crate) const fn implausible(&self) -> u16 {
        self.implausible
    }

    /// Breaths under the dead space.
    pub(crate) const fn shallow(&self) -> u16 {
        self.shallow
    }

    /// Time in trusted breaths.
    pub(crate) const fn known(&self) -> Duration {
        Duration::from_us(arith::widen_u32(self.known_us))
    }

    /// Time in flagged ones.
    pub(crate) const fn unknown(&self) -> Duration {
        Duration::from_us(arith::widen_u32(self.unknown_us))
    }

    /// A count as a rate a minute of the known time. One wide divide.
    #[must_use]
    pub fn a_minute(&self, count: u16) -> Option<Rate> {
        Rate::of_count(count, self.known_us)?.within()
    }

    /// Breaths a minute, of all kinds. One wide divide.
    #[must_use]
    pub fn rate(&self) -> Option<Rate> {
        self.a_minute(self.breaths())
    }

    /// Mean volume of a kind; `None` where none has one. One wide divide.
    #[must_use]
    pub fn volume(&self, kind: BreathKind) -> Option<Volume> {
        let place = kind.index();
        let (sum, count) = (self.volumes.get(place)?, self.measured.get(place)?);
        sum.mean(*count)?.within()
    }

    /// Mean volume of the breaths that the machine does not assure, with how many it is of. One wide
    /// divide.
    pub(crate) fn free_volume(&self) -> Option<(Volume, u16)> {
        let ([own, supported, _], [a, b, _]) = (self.measured, self.volumes);
        let count = own.saturating_add(supported);
        let mean = a.saturating_add(b).mean(count)?.within()?;
        Some((mean, count))
    }

    /// Mean volume of all breaths; `None` where fewer than half have one. One wide divide.
    pub(crate) fn mean_volume(&self) -> Option<Volume> {
        let measured = self.measured.iter().fold(0, |sum: u16, n| sum.saturating_add(*n));
        if measured.saturating_mul(2) < self.breaths() {
            return None;
        }
        let [a, b, c] = self.volumes;
        a.saturating_add(b).saturating_add(c).mean(measured)?.within()
    }

    /// Volume a minute: the mean volume at the rate of all breaths; `None` where fewer than half have a volume. Two
    /// wide divides.
    #[must_use]
    pub fn minute_volume(&self) -> Option<Volume> {
        self.mean_volume()?.at_rate(self.rate()?).within()
    }

    /// What of the volume a minute goes beyond a dead space: below zero where breaths are under it. Two
    /// wide divides.
    pub(crate) fn alveolar_volume(&self, dead_space: Volume) -> Option<Volume> {
        let beyond = self.mean_volume()?.saturating_sub(dead_space).within()?;
        beyond.at_rate(self.rate()?).within()
    }

    /// The share of the measured volume that own and supported breaths moved: of the volume, not of
    /// the work, since the machine helps supported ones. One wide divide.
    #[must_use]
    pub fn infant_share(&self) -> Option<Share> {
        let [own, supported, assured] = self.volumes;
        let free = own.saturating_add(supported);
        ratio(free, free.saturating_add(assured))
    }

    /// The rapid-shallow index of all breaths of an infant of this mass. Three wide divides.
    #[must_use]
    pub fn rapid_shallow(&self, mass: Mass) -> Option<RapidShallow> {
        RapidShallow::of(self.rate()?, self.mean_volume()?, mass)
    }

    /// (inspired − expired) ÷ inspired at the sensor, of sums. One wide divide.
    #[must_use]
    pub fn leak(&self) -> Option<Share> {
        ratio(self.inspired.saturating_sub(self.expired), self.inspired)
    }

    /// Mean of the largest inward flows of the breaths that the machine does not assure. One wide
    /// divide.
    pub(crate) fn peak_flow(&self) -> Option<Flow> {
        let [own, supported, _] = self.counts;
        self.peaks.mean(own.saturating_add(supported))?.within()
    }
}

fn ratio<U: Unit>(part: Sum<U>, whole: Sum<U>) -> Option<Share> {
    if whole > Sum::ZERO { part.share_of(whole)?.within() } else { None }
}

#[cfg(test)]
pub(super) mod tests;
