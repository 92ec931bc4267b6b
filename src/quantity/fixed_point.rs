//! The shape that every quantity shares, written once: a fixed-point number and its unit.

use super::unit::{One, Unit};
use super::{Record, Saturated, Sink, Source, arith, shape};
use core::fmt;
use core::marker::PhantomData;
use fixed::types::I16F16;

/// A number of sixteen integer and sixteen fraction bits in the unit `U`: ±32 768 in steps of 1/65 536.
///
/// Use the names of what is measured: [`Flow`](super::Flow), [`Pressure`](super::Pressure) and so on. Every
/// operation is a named one, and what can clamp says so in its [`Saturated`].
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Quantity<U>(I16F16, PhantomData<U>);

/// A dimensionless number: a share (1 = the whole) or a factor near one.
pub type Share = Quantity<One>;

impl<U: Unit> Quantity<U> {
    /// Zero.
    pub const ZERO: Self = Self::new(I16F16::ZERO);
    /// The smallest value, −32 768.
    pub(crate) const MIN: Self = Self::new(I16F16::MIN);
    /// The largest value, 32 768 less one step of 1/65 536.
    pub const MAX: Self = Self::new(I16F16::MAX);

    /// The least step, 1/65 536.
    pub(crate) const STEP: Self = Self::from_bits(1);

    /// From a fixed-point number in the unit.
    #[must_use]
    pub const fn new(value: I16F16) -> Self {
        Self(value, PhantomData)
    }

    /// The value as a fixed-point number in the unit.
    #[must_use]
    pub const fn get(self) -> I16F16 {
        self.0
    }

    /// From raw bits: one step is 1/65 536 of the unit.
    #[must_use]
    pub const fn from_bits(bits: i32) -> Self {
        Self::new(I16F16::from_bits(bits))
    }

    /// Raw bits: one step is 1/65 536 of the unit.
    #[must_use]
    pub const fn to_bits(self) -> i32 {
        self.0.to_bits()
    }

    /// From a whole number of the unit; exact for every `i16`.
    #[must_use]
    pub const fn from_int(whole: i16) -> Self {
        Self::from_bits(arith::whole_to_bits(whole))
    }

    /// From thousandths of the unit, rounded half away from zero; clamps beyond ±32 768.
    pub const fn from_milli(thousandths: i32) -> Saturated<Self> {
        Self::limited(arith::scale_ratio(thousandths, 65_536, 1_000))
    }

    /// A constant of so many thousandths of the unit, rounded half away from zero. One beyond the range does
    /// not compile:
    ///
    /// ```
    /// use tidevane::quantity::Pressure;
    ///
    /// const BASELINE: Pressure = Pressure::milli::<4_500>();
    /// assert_eq!(BASELINE, Pressure::from_milli(4_500).value);
    /// ```
    ///
    /// ```compile_fail
    /// use tidevane::quantity::Pressure;
    ///
    /// const TOO_MUCH: Pressure = Pressure::milli::<33_000_000>();
    /// ```
    #[must_use]
    pub const fn milli<const THOUSANDTHS: i32>() -> Self {
        const {
            let made = Self::from_milli(THOUSANDTHS);
            assert!(!made.saturated, "beyond the range of a quantity");
            made.value
        }
    }

    /// Sum, clamped to the range.
    pub const fn saturating_add(self, other: Self) -> Saturated<Self> {
        Self::limited(arith::add(self.to_bits(), other.to_bits()))
    }

    /// Difference, clamped to the range.
    pub const fn saturating_sub(self, other: Self) -> Saturated<Self> {
        Self::limited(arith::sub(self.to_bits(), other.to_bits()))
    }

    /// The part given by a share (or any plain factor), rounded half up, clamped.
    pub const fn times(self, share: Share) -> Saturated<Self> {
        Self::limited(arith::mul_q16(self.to_bits(), share.to_bits()))
    }

    /// Whether it lies above another, in a constant.
    #[must_use]
    #[inline]
    pub(crate) const fn is_above(self, other: Self) -> bool {
        self.to_bits() > other.to_bits()
    }

    /// This value as a share of another, rounded toward zero; `None` where `whole` is zero.
    #[must_use]
    pub(crate) const fn share_of(self, whole: Self) -> Option<Saturated<Share>> {
        match arith::ratio_q16(arith::widen(self.to_bits()), arith::widen(whole.to_bits())) {
            Some(ratio) => Some(Quantity::limited(ratio)),
            None => None,
        }
    }

    /// From floating point, to the nearest step, ties to even; `None` for what is no number or beyond the range.
    ///
    /// ```
    /// use tidevane::quantity::Pressure;
    ///
    /// assert_eq!(Pressure::from_f64(4.5), Some(Pressure::milli::<4_500>()));
    /// assert_eq!(Pressure::from_f64(f64::NAN), None);
    /// assert_eq!(Pressure::from_f64(40_000.0), None);
    /// assert_eq!(Pressure::from_int(-7).to_f64(), -7.0);
    /// ```
    #[cfg(feature = "float")]
    #[must_use]
    pub fn from_f64(value: f64) -> Option<Self> {
        I16F16::checked_from_num(value).map(Self::new)
    }

    /// In floating point: exact.
    #[cfg(any(test, feature = "float"))]
    #[must_use]
    pub fn to_f64(self) -> f64 {
        self.0.into()
    }

    /// A point on the straight line to another, half up: `share` of the way.
    #[must_use]
    #[inline]
    pub(crate) const fn between(self, to: Self, share: Share) -> Self {
        Self::from_bits(arith::between(self.to_bits(), to.to_bits(), share.to_bits()))
    }

    /// The middle between two, half up.
    #[must_use]
    #[inline]
    pub(crate) const fn middle(self, other: Self) -> Self {
        Self::from_bits(arith::between(self.to_bits(), other.to_bits(), arith::HALF))
    }

    /// A point on the way to another, toward negative infinity; a share beyond 0 to 1 counts as its end.
    #[must_use]
    #[inline]
    pub(crate) const fn toward(self, to: Self, share: Share) -> Self {
        Self::from_bits(arith::part_way(self.to_bits(), to.to_bits(), share.to_bits()))
    }

    /// Halved `times` over, toward negative infinity: a cheap sixteenth or sixty-fourth.
    pub(crate) const fn halved(self, times: u32) -> Self {
        Self::from_bits(arith::halved(self.to_bits(), times))
    }

    /// A first-order lag: toward another value by one part in 2^`times` of the way, toward negative
    /// infinity.
    pub(crate) const fn lowpass(self, to: Self, times: u32) -> Self {
        Self::from_bits(arith::lowpass(self.to_bits(), to.to_bits(), times))
    }

    /// What is usual after a breath that had `now`: an eighth of the way to it, as [`lowpass`](Self::lowpass).
    #[inline]
    pub(crate) const fn learned(self, now: Self) -> Self {
        self.lowpass(now, 3)
    }

    /// Raw bits that may have been clamped, in this unit.
    pub(crate) const fn limited(bits: Saturated<i32>) -> Saturated<Self> {
        Saturated { value: Self::from_bits(bits.value), saturated: bits.saturated }
    }
}

impl<U: Unit> Record for Quantity<U> {
    const SHAPE: u32 = shape::named(shape::START, U::SYMBOL);
    const LONGEST: usize = i32::LONGEST;

    fn save(&self, to: &mut impl Sink) {
        to.number(arith::widen(self.to_bits()), 16);
    }

    fn load(from: &mut impl Source) -> Option<Self> {
        i32::load(from).map(Self::from_bits)
    }
}

impl<U: Unit> fmt::Display for Quantity<U> {
    /// The number with two decimals (or as the format asks; beyond four they may be those of the step
    /// beside it) and its unit. Where all figures are zero there is no sign.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let places = f.precision().unwrap_or(2);
        write!(f, "{:.places$} {}", shown(self.0, places), U::SYMBOL)
    }
}

/// Zero in place of what is below it by so little that as many decimals are all zero: it would have a sign.
pub(crate) fn shown(value: I16F16, places: usize) -> I16F16 {
    let scale = 10_u64.saturating_pow(u32::try_from(places).unwrap_or(u32::MAX));
    let twice = arith::widen_u32(value.to_bits().unsigned_abs()).saturating_mul(2);
    let is_zero = twice.saturating_mul(scale) <= 65_536;
    if value < I16F16::ZERO && is_zero { I16F16::ZERO } else { value }
}

impl<U: Unit> fmt::Debug for Quantity<U> {
    /// As few decimals as tell the number to 1/65 536, and the unit: two that are a step apart may look alike.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.0, U::SYMBOL)
    }
}

#[cfg(feature = "serde")]
impl<U: Unit> serde::Serialize for Quantity<U> {
    /// As raw bits, a 32-bit integer.
    fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_i32(self.to_bits())
    }
}

#[cfg(feature = "serde")]
impl<'de, U: Unit> serde::Deserialize<'de> for Quantity<U> {
    fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        <i32 as serde::Deserialize>::deserialize(from).map(Self::from_bits)
    }
}

#[cfg(feature = "defmt")]
impl<U: Unit> defmt::Format for Quantity<U> {
    fn format(&self, f: defmt::Formatter<'_>) {
        let (whole, milli) = arith::whole_and_milli(self.to_bits());
        let sign = if self.to_bits() < 0 { "-" } else { "" };
        defmt::write!(f, "{=str}{=u32}.{=u32:03} {=str}", sign, whole, milli, U::SYMBOL);
    }
}
