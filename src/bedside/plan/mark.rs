//! What the machine alone would still move at a step, and whether what was measured carries it.

use super::settings::Present;
use crate::bedside::Support;
use crate::quantity::{Mass, MinuteVolumePerKg, Pressure, Rate, Saturated, Volume};
use core::fmt;

/// What was measured at the present settings, each `None` where it is not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Measurements {
    /// Minute volume of the breaths beyond the set rate, supported or not.
    pub own: Option<Volume>,
    /// Minute volume of the set inflations. An infant that triggers them adds to it, and the plan
    /// takes that for the machine's.
    pub assured: Option<Volume>,
    /// Body mass.
    pub mass: Option<Mass>,
    /// Minute volume that whoever is responsible wants kept.
    pub needed: Option<MinuteVolumePerKg>,
}

/// What the set inflations alone would move in a minute, and for each kilogram; that is `None` without a
/// body mass.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Assured {
    pub(super) minute: Saturated<Volume>,
    pub(super) per_kg: Option<Saturated<MinuteVolumePerKg>>,
}

/// Whether the measurements carry a step: the assured volume and the infant's own against what is
/// needed, as if the infant breathed on as now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Sufficiency {
    /// They do.
    Carried,
    /// They do not: at least so much is short.
    NotCarried(MinuteVolumePerKg),
    /// It cannot be told.
    CannotTell(NoSufficiency),
}

/// Why a step cannot be marked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum NoSufficiency {
    /// The infant's own minute volume is not known.
    Own,
    /// The minute volume of the set inflations is not known, or there is no set rate now to scale
    /// it from.
    Assured,
    /// The body mass is not known.
    Mass,
    /// What is needed is not known.
    Needed,
    /// A measurement is below zero, or a sum beyond the range.
    OutOfRange,
    /// Less support would take away somewhere between nothing and its part of the own volume; the
    /// step is carried at the one end and not at the other.
    Effort,
}

impl Measurements {
    /// What the set inflations alone would move at a step; `None` where it cannot be known.
    pub(super) fn assured_at(
        &self,
        present: &Present,
        (rate, peak): (Rate, Pressure),
    ) -> Option<Assured> {
        let now = self.assured.filter(|now| *now >= Volume::ZERO)?;
        let rise = peak.saturating_sub(present.inflation.baseline()).value;
        let minute = now.scaled_twice(
            (rate.magnitude(), rise.magnitude()),
            (present.rate.magnitude(), present.inflation.rise().magnitude()),
        )?;
        let per_kg = self.mass.map(|mass| {
            let per_kg = MinuteVolumePerKg::of(minute.value, mass);
            Saturated { value: per_kg.value, saturated: per_kg.saturated || minute.saturated }
        });
        Some(Assured { minute, per_kg })
    }

    /// The mark of a step that assures this much, with the support of now and of the step.
    pub(super) fn mark(
        &self,
        assured: Option<Assured>,
        support: [Option<Support>; 2],
    ) -> Sufficiency {
        match self.bounds(assured, support) {
            Ok((least, most, needed)) if least >= needed && most >= needed => Sufficiency::Carried,
            Ok((_, most, needed)) if most < needed => {
                Sufficiency::NotCarried(needed.saturating_sub(most).value)
            }
            Ok(_) => Sufficiency::CannotTell(NoSufficiency::Effort),
            Err(why) => Sufficiency::CannotTell(why),
        }
    }

    /// The least and the most that may be moved, and what is needed, for each kilogram.
    fn bounds(
        &self,
        assured: Option<Assured>,
        support: [Option<Support>; 2],
    ) -> Result<(MinuteVolumePerKg, MinuteVolumePerKg, MinuteVolumePerKg), NoSufficiency> {
        let own = self.own.ok_or(NoSufficiency::Own)?;
        let negative = |volume: Volume| volume < Volume::ZERO;
        if negative(own) || self.assured.is_some_and(negative) {
            return Err(NoSufficiency::OutOfRange);
        }
        let assured = assured.ok_or(NoSufficiency::Assured)?;
        let mass = self.mass.ok_or(NoSufficiency::Mass)?;
        let needed = self.needed.ok_or(NoSufficiency::Needed)?;
        let with = |own: Volume| {
            let sum = own.saturating_add(assured.minute.within()?).within()?;
            MinuteVolumePerKg::of(sum, mass).within()
        };
        let least = with(without_support(own, support)).ok_or(NoSufficiency::OutOfRange)?;
        let most = with(own).ok_or(NoSufficiency::OutOfRange)?;
        Ok((least, most, needed))
    }
}

/// The own volume as if it were all the work of the support: × support ÷ support now.
fn without_support(own: Volume, support: [Option<Support>; 2]) -> Volume {
    let [Some(before), Some(after)] = support else { return own };
    if !before.is_left() {
        return own;
    }
    own.scaled(after.above.magnitude(), before.above.magnitude()).value
}

impl fmt::Display for Sufficiency {
    /// One clause.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Carried => f.write_str("carried by what was measured"),
            Self::NotCarried(short) => {
                write!(f, "not carried by what was measured: {short:.0} short")
            }
            Self::CannotTell(why) => write!(f, "cannot be told: {why}"),
        }
    }
}

impl fmt::Display for NoSufficiency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Own => "own minute volume not known",
            Self::Assured => "minute volume of the set inflations not known",
            Self::Mass => "body mass not known",
            Self::Needed => "needed minute volume not known",
            Self::OutOfRange => "a volume is out of range",
            Self::Effort => "it depends on how much of the own volume is the support's",
        })
    }
}
