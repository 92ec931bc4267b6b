//! The leak fraction, with its definition named.
//!
//! Two definitions are published. This crate returns the share of the *inspired* volume,
//! (VTi − VTe) ÷ VTi, over whole breaths: VTe is what came back less what leaked in, up to a pause of
//! more than two seconds. The share of the *expired* volume, (VTi − VTe) ÷ VTe (Bernstein 1995, Crit
//! Care Med 23:1739-1744), is a type of its own, [`LeakOfExpired`], reached by conversion only.

use crate::breath::Breath;
use crate::quantity::unit::Ml;
use crate::quantity::{Ring, Share, Volume, Wide, shown};
use crate::record;
use crate::signal::Flags;
use core::fmt;

record! {
    /// A leak as a share of the inspired volume, or why there is none.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[must_use]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum Leak {
        /// As much went in as came out, or more.
        Share(Share) = 0,
        /// More came out than went in (the share is below zero): noise when small, or gas that the breath before
        /// left in the lung; else a sensor offset, or inspired gas that was cold and dry. Never clamped to zero.
        Negative(Share) = 1,
        /// It cannot be known.
        Unknown(NoLeak) = 2,
    }
}

record! {
    /// Why a leak share cannot be known.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[non_exhaustive]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum NoLeak {
        /// Nothing was inspired, so there is nothing to take a share of.
        NothingInspired = 0,
        /// A volume was clamped, or the share is beyond ±32 768.
        OutOfRange = 1,
        /// The breath carries a flag.
        Flagged = 2,
        /// The window holds no breath yet.
        NoBreath = 3,
    }
}

impl fmt::Display for Leak {
    /// In percent, below zero where more came out; or why it is not known.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Share(share) | Self::Negative(share) => {
                write!(f, "{:.1} %", shown(share.to_percent().value, 1))
            }
            Self::Unknown(why) => write!(f, "not known: {why}"),
        }
    }
}

impl fmt::Display for NoLeak {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::NothingInspired => "nothing went in",
            Self::OutOfRange => "a volume is out of range",
            Self::Flagged => "the breath carries a flag",
            Self::NoBreath => "no breath was heard yet",
        })
    }
}

impl Leak {
    /// The leak of one pair of volumes. Rounded toward zero; one wide divide.
    pub fn of(inspired: Volume, expired: Volume) -> Self {
        Self::of_sums(inspired.widened(), expired.widened())
    }

    /// In less out of one breath as a share; unknown for a flagged one. Gas that stays in the lung, where the next
    /// breath begins before it is empty, counts as leak here and makes the next breath's negative: for a leak
    /// take [`LeakWindowState`].
    pub fn of_breath(breath: &Breath) -> Self {
        if !breath.is_trusted() {
            return Self::Unknown(NoLeak::Flagged);
        }
        Self::of(breath.inspired.value, breath.expired.value)
    }

    fn of_sums(inspired: Wide<Ml>, expired: Wide<Ml>) -> Self {
        if inspired <= Wide::ZERO {
            return Self::Unknown(NoLeak::NothingInspired);
        }
        match inspired.saturating_sub(expired).share_of(inspired) {
            Some(r) if r.saturated => Self::Unknown(NoLeak::OutOfRange),
            Some(r) if r.value < Share::ZERO => Self::Negative(r.value),
            Some(r) => Self::Share(r.value),
            None => Self::Unknown(NoLeak::NothingInspired),
        }
    }

    /// The share where there is one, negative included.
    #[must_use]
    pub const fn share(self) -> Option<Share> {
        match self {
            Self::Share(share) | Self::Negative(share) => Some(share),
            Self::Unknown(_) => None,
        }
    }

    /// The same leak as a share of the expired volume: A ÷ (1 − A). `None` where there is no share
    /// or nothing came back.
    #[must_use]
    pub fn of_expired(self) -> Option<LeakOfExpired> {
        let share = self.share()?;
        let rest = Share::ONE.saturating_sub(share).within()?;
        if rest <= Share::ZERO {
            return None;
        }
        share.share_of(rest)?.within().map(LeakOfExpired)
    }
}

/// A leak as a share of the expired volume: the other published definition.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LeakOfExpired(pub Share);

impl LeakOfExpired {
    /// As a share of the inspired volume: B ÷ (1 + B). `None` for B of −1 and less, where nothing
    /// was inspired.
    #[must_use]
    pub fn of_inspired(self) -> Option<Leak> {
        let whole = Share::ONE.saturating_add(self.0).within()?;
        if whole <= Share::ZERO {
            return None;
        }
        let share = self.0.share_of(whole)?.within()?;
        Some(if share < Share::ZERO { Leak::Negative(share) } else { Leak::Share(share) })
    }
}

record! {
    #[const_default]
    /// The leak over the last `N` (at least 1) trusted breaths, as a ratio of sums: a big breath counts
    /// for more than a small one, and breath stacking cancels out.
    ///
    /// ```
    /// use tidevane::leak::{Leak, LeakWindowState, NoLeak};
    /// use tidevane::quantity::{Share, Volume};
    ///
    /// // One breath: 10 mL in, 8 mL out: a fifth is lost.
    /// let leak = Leak::of(Volume::from_int(10), Volume::from_int(8));
    /// assert_eq!(leak.share(), Some(Share::from_percent(20)));
    /// // A window that no breath has entered knows nothing, and says why.
    /// assert_eq!(LeakWindowState::<8>::default().leak(), Leak::Unknown(NoLeak::NoBreath));
    /// ```
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct LeakWindowState<const N: usize> {
        volumes: Ring<(Volume, Volume), N>,
    }
}

impl<const N: usize> LeakWindowState<N> {
    /// Takes a closed breath; a flagged one changes nothing, but for one that tells that the leak is
    /// another one now: what was seen of it before says nothing any more.
    pub fn learn(&mut self, breath: &Breath) {
        if breath.flags.has(Flags::UNSETTLED) {
            *self = Self::default();
        }
        if !breath.is_trusted() {
            return;
        }
        self.volumes.push((breath.inspired.value, breath.expired.value));
    }

    /// The leak over the window as it stands.
    pub fn leak(&self) -> Leak {
        let (mut inspired, mut expired) = (Wide::ZERO, Wide::ZERO);
        for &(i, e) in self.volumes.iter() {
            inspired = inspired.saturating_add(i.widened());
            expired = expired.saturating_add(e.widened());
        }
        if self.len() == 0 {
            Leak::Unknown(NoLeak::NoBreath)
        } else {
            Leak::of_sums(inspired, expired)
        }
    }

    /// How many breaths the window holds.
    const fn len(&self) -> usize {
        self.volumes.len()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn percent(share: Share) -> f64 {
        share.to_f64() * 100.0
    }

    fn leak(inspired_milli: i32, expired_milli: i32) -> Leak {
        let ml = |milli| Volume::from_milli(milli).value;
        Leak::of(ml(inspired_milli), ml(expired_milli))
    }

    #[test]
    fn both_definitions_of_one_breath() {
        // VTi 10, VTe 6: (10 − 6)/10 = 40 %; (10 − 6)/6 = 66.667 % (Bernstein 1995).
        let a = leak(10_000, 6_000);
        assert!((percent(a.share().unwrap()) - 40.0).abs() < 2e-3);
        assert!((percent(a.of_expired().unwrap().0) - 66.667).abs() < 4e-3);
    }

    #[test]
    fn the_definitions_convert() {
        // B 15.6 % (mean of Bernstein 1995) → 15.6/115.6 = 13.495 %; A 40 % → 66.667 %.
        let b = LeakOfExpired(Share::from_milli(156).value);
        assert!((percent(b.of_inspired().unwrap().share().unwrap()) - 13.495).abs() < 3e-3);
        let a = Leak::Share(Share::from_percent(40));
        assert!((percent(a.of_expired().unwrap().0) - 66.667).abs() < 4e-3);
        for whole in [0_i16, 5, 20, 50, 90] {
            let a = Leak::Share(Share::from_percent(whole));
            let back = a.of_expired().unwrap().of_inspired().unwrap().share().unwrap();
            assert!((percent(back) - f64::from(whole)).abs() < 5e-3, "{whole}");
        }
        assert_eq!(Leak::Share(Share::ONE).of_expired(), None);
        assert_eq!(LeakOfExpired(Share::from_int(-1)).of_inspired(), None);
    }

    #[test]
    fn negative_leak_is_said_not_clamped() {
        // Arithmetic: VTi 5.0, VTe 5.2: −0.2/5 = −4.0 %.
        let Leak::Negative(share) = leak(5_000, 5_200) else { panic!() };
        assert!((percent(share) + 4.0).abs() < 2e-3);
        // Conditioning seen as leak: dry 25 °C gas in, BTPS out: 5.000 and 5.544 give −10.9 %
        // (arithmetic from the ATPD factor 1.1088).
        let Leak::Negative(share) = leak(5_000, 5_544) else { panic!() };
        assert!((percent(share) + 10.88).abs() < 2e-3);
    }

    #[test]
    fn a_fifth_lost_is_twenty_percent() {
        // Common practice, no source: a 20 % leak means one fifth of the inspired volume is lost.
        assert!((percent(leak(10_000, 8_000).share().unwrap()) - 20.0).abs() < 2e-3);
    }

    #[test]
    fn nothing_inspired_has_no_share() {
        assert_eq!(leak(0, 1_000), Leak::Unknown(NoLeak::NothingInspired));
        assert_eq!(leak(-1_000, 1_000), Leak::Unknown(NoLeak::NothingInspired));
        assert_eq!(LeakWindowState::<4>::default().leak(), Leak::Unknown(NoLeak::NoBreath));
    }
}
