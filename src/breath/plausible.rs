//! Numbers that no breath has: a unit taken for another, a sensor the wrong way round, a tube that lets
//! nothing through, or ventilation of a kind that this crate does not know.

use super::{Breath, Kind};
use crate::quantity::{
    Duration, Mass, Pressure, Problem, SettingError, Volume, arith, const_default,
};
use crate::record;
use crate::signal::Flags;
use core::fmt;

/// What is plausible. The limits are far beyond what infants were seen to breathe (5 mL/kg and 309
/// mL/kg a minute are usual), so that passing one means that the numbers are wrong; chosen here, no
/// source.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[doc(hidden)]
pub struct Plausible {
    of_weight: Option<OfWeight>,
    inflation_rise: Pressure,
}

/// Limits for a weight, worked out once.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
struct OfWeight {
    grams: u32,
    large: Volume,
    dead_space: Volume,
    small: Volume,
}

record! {
    /// Why a breath cannot be.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum Implausible {
        /// Most breaths take gas in against a lower pressure than they let it out at: the flow sensor
        /// is the wrong way round, or nothing inflates and a resistance is breathed through.
        Inverted = 0,
        /// More than 154 breaths a minute, each under the dead space: ventilation at high frequency,
        /// which this crate does not know.
        TooFast = 1,
        /// More than 30 mL/kg came out, or more than 90 mL/kg went in; a leak takes the more. Without a
        /// weight: more than ten times as much as usual, once eight breaths were seen.
        TooLarge = 2,
        /// More than 1 000 mL/kg a minute.
        TooMuch = 3,
        /// Most inflations that raise the pressure by 8 cmH2O or more move less than 0.8 mL/kg: a unit
        /// taken for another, or a tube that lets nothing through.
        TooSmall = 4,
        /// Most breaths begin at ambient pressure (0.8 cmH2O either way) and never reach the least rise of an
        /// inflation: nothing holds or raises the pressure, its line is off or it is read ten times too small.
        NoPressure = 5,
    }
}

record! {
    #[const_default]
    /// What the latest breaths were like.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct PlausibleState {
        /// Of the latest twenty, a bit each.
        inverted: Latest,
        fast: Latest,
        small: Latest,
        ambient: Latest,
        /// The larger of inspired and expired volume, as usual.
        usual: Volume,
        /// Means of expired volume and length (µs, up to a minute) over some eight breaths.
        volume: Volume,
        length_us: i32,
        /// Breaths in those means; ends at eight.
        counted: u32,
        now: Option<Implausible>,
    }
}

record! {
    #[const_default]
    /// Whether something held, of the latest breaths: a bit each, and above them how many.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    struct Latest {
        bits: u32,
    }
}

/// How many breaths are looked back on.
const BREATHS: u32 = 20;
/// The bits of so many.
const HELD: u32 = (1 << BREATHS) - 1;
/// Breaths until the means, and what is usual, are told.
const FEW: u32 = 8;
/// 154 breaths a minute: those of 150, with room for jitter.
const FAST: Duration = Duration::from_millis(390);
/// The whole anatomical dead space, for each kilogram, at birth (Numa & Newth 1996, J Appl Physiol 80:1485-1489).
pub(crate) const DEAD_SPACE: Volume = Volume::from_milli(3_280).value;
const LARGE: Volume = Volume::from_int(30);
const SMALL: Volume = Volume::from_milli(800).value;
/// What is too much a minute is 1 000 mL/kg: as many mL as the patient has grams.
const MINUTE_US: i32 = 60_000_000;
/// What a sensor that hears nothing may read, either way. Chosen here, no source.
const AMBIENT: Pressure = Pressure::from_milli(800).value;
/// A rise from which on a lung must take something in.
const RISE: Pressure = Pressure::from_int(8);

const_default! {
    /// Weight not known; an inflation rises by 2 cmH2O.
    Plausible: Self { of_weight: None, inflation_rise: Pressure::from_int(2) }
}

impl Plausible {
    /// With the least rise of pressure that makes an inflation (above zero): gas that comes out under
    /// as much went the wrong way.
    ///
    /// # Errors
    /// `inflation_rise` not above zero.
    pub fn new(inflation_rise: Pressure) -> Result<Self, SettingError> {
        if inflation_rise <= Pressure::ZERO {
            return Err(SettingError::new("inflation_rise", Problem::NotPositive));
        }
        Ok(Self { of_weight: None, inflation_rise })
    }

    /// With the patient's weight.
    #[must_use]
    pub const fn with_weight(mut self, mass: Mass) -> Self {
        self.of_weight = Some(OfWeight {
            grams: mass.grams(),
            large: LARGE.for_each_kg(mass).value,
            dead_space: DEAD_SPACE.for_each_kg(mass).value,
            small: SMALL.for_each_kg(mass).value,
        });
        self
    }

    /// Takes a closed breath and tells what of it cannot be; one whose measurement was flagged, but for
    /// noise, changes nothing, and nothing is told of it. Two wide divides.
    ///
    /// A single breath can be too large. All else is told of the latest twenty breaths, and as long as
    /// it holds of more than half of them; a minute volume of some eight.
    #[inline(never)]
    pub fn step(&self, state: &mut PlausibleState, breath: &Breath) -> Option<Implausible> {
        // Noise alone keeps no breath from being looked at: a wrong unit makes noise of everything.
        if !breath.flags.and(Flags::MEASUREMENT.but(Flags::NOISY)).is_empty() {
            return None;
        }
        let (inspired, expired) = (breath.inspired.value, breath.expired.value);
        state.inverted.take(self.is_inverted(breath));
        let length = breath.end.since(breath.onset);
        let shallow = self.of_weight.is_none_or(|of| expired < of.dead_space);
        state.fast.take(length < FAST && shallow);
        let rise = breath.peak.saturating_sub(breath.baseline).value;
        let is_small = self.of_weight.is_some_and(|of| inspired < of.small);
        // Any breath that is not small speaks against a tube that lets nothing through.
        if !is_small || (breath.kind == Kind::Inflation && rise >= RISE) {
            state.small.take(is_small);
        }
        state.ambient.take(breath.baseline.is_within(AMBIENT) && breath.peak < self.inflation_rise);
        let usual = (state.counted >= FEW).then_some(state.usual);
        let large = self.is_large(usual, inspired, expired);
        state.count(expired, length);
        state.learn(inspired.max(expired));
        state.now = if state.inverted.is_usual() {
            Some(Implausible::Inverted)
        } else if state.ambient.is_usual() {
            Some(Implausible::NoPressure)
        } else if state.fast.is_usual() {
            Some(Implausible::TooFast)
        } else if large {
            Some(Implausible::TooLarge)
        } else if self.is_much(state) {
            Some(Implausible::TooMuch)
        } else if state.small.is_usual() {
            Some(Implausible::TooSmall)
        } else {
            None
        };
        state.now
    }

    /// Let out at a pressure above that of its inspiration. One that is turned round looks like an inflation, too,
    /// where its first readings still stand at the peak.
    fn is_inverted(&self, breath: &Breath) -> bool {
        let means = (breath.inspiration.mean_pressure(), breath.expiration.mean_pressure());
        let (Some(inward), Some(outward)) = means else { return false };
        let above = outward.saturating_sub(inward).value;
        above >= self.inflation_rise
    }

    fn is_large(&self, usual: Option<Volume>, inspired: Volume, expired: Volume) -> bool {
        match self.of_weight {
            Some(of) => expired > of.large || inspired > times(of.large, 3),
            None => usual.is_some_and(|usual| inspired.max(expired) > times(usual, 10)),
        }
    }

    /// volume × 60 s > grams × length, in whole mL and µs: no divide.
    fn is_much(&self, state: &PlausibleState) -> bool {
        let Some(of) = self.of_weight.filter(|_| state.counted >= FEW) else { return false };
        // Below 2³¹ × 2²⁶, and below 2¹⁸ × 2²⁶ × 2¹⁶.
        let moved = arith::product(state.volume.to_bits(), MINUTE_US);
        let grams = i32::try_from(of.grams).unwrap_or(i32::MAX);
        moved > arith::product(grams, state.length_us).wrapping_shl(16)
    }
}

fn times(volume: Volume, n: u8) -> Volume {
    (1..n).fold(volume, |sum, _| sum.saturating_add(volume).value)
}

impl PlausibleState {
    /// What cannot be of the latest measured breath.
    #[must_use]
    pub const fn now(&self) -> Option<Implausible> {
        self.now
    }

    fn count(&mut self, expired: Volume, length: Duration) {
        let length = length.to_us().min(MINUTE_US.unsigned_abs().into());
        let length = i32::try_from(length).unwrap_or(MINUTE_US);
        (self.volume, self.length_us) = if self.counted == 0 {
            (expired, length)
        } else {
            (self.volume.lowpass(expired, 3), arith::lowpass(self.length_us, length, 3))
        };
        self.counted = self.counted.saturating_add(1).min(FEW);
    }

    /// What is usual follows a breath, but is no more than doubled by one.
    fn learn(&mut self, volume: Volume) {
        let (volume, most) = (volume.max(Volume::ZERO), times(self.usual, 2));
        self.usual = if self.usual <= Volume::ZERO {
            volume
        } else if volume > most {
            most
        } else {
            self.usual.lowpass(volume, 3)
        };
    }
}

impl Latest {
    fn take(&mut self, holds: bool) {
        let counted = self.counted().saturating_add(1).min(BREATHS);
        let held = (self.bits.wrapping_shl(1) | u32::from(holds)) & HELD;
        self.bits = counted.wrapping_shl(BREATHS) | held;
    }

    const fn counted(self) -> u32 {
        self.bits.wrapping_shr(BREATHS)
    }

    /// Whether it held of more than half of twenty.
    fn is_usual(self) -> bool {
        let held = (self.bits & HELD).count_ones();
        self.counted() == BREATHS && held > BREATHS >> 1
    }
}

impl Implausible {
    /// How many breaths the verdict rests on, the one it is told with included.
    #[must_use]
    pub const fn breaths(self) -> u32 {
        match self {
            Self::TooLarge => 1,
            Self::TooMuch => FEW,
            Self::Inverted | Self::TooFast | Self::TooSmall | Self::NoPressure => BREATHS,
        }
    }
}

impl fmt::Display for Implausible {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Inverted => {
                "gas goes in against a lower pressure than it comes out at; the flow sensor may be the \
                 wrong way round"
            }
            Self::TooFast => {
                "more than 150 breaths a minute, each under the dead space: ventilation at high \
                 frequency is out of scope"
            }
            Self::TooLarge => {
                "a breath above 30 mL/kg, or ten times as large as usual; the unit of flow or the \
                 weight may be wrong, or the circuit open"
            }
            Self::TooMuch => {
                "more than 1000 mL/kg a minute; the unit of flow or the weight may be wrong"
            }
            Self::TooSmall => {
                "inflations by 8 cmH2O or more move less than 0.8 mL/kg; the tube may be blocked, or \
                 the unit of flow, of pressure or the weight wrong"
            }
            Self::NoPressure => {
                "nothing holds or raises the airway pressure; its line may be off, or its unit wrong"
            }
        })
    }
}

#[cfg(test)]
mod tests;
