//! The shape that every quantity shares, written once.

/// Defines a newtype over `I16F16` with its raw and scaled doors and its clamping operations.
macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
        pub struct $name(fixed::types::I16F16);

        impl $name {
            /// Zero.
            pub const ZERO: Self = Self(fixed::types::I16F16::ZERO);
            /// The smallest value, −32 768.
            pub const MIN: Self = Self(fixed::types::I16F16::MIN);
            /// The largest value, 32 768 less one step of 1/65 536.
            pub const MAX: Self = Self(fixed::types::I16F16::MAX);

            #[doc = concat!("From a fixed-point number in ", $unit, ".")]
            #[must_use]
            pub const fn new(value: fixed::types::I16F16) -> Self {
                Self(value)
            }

            #[doc = concat!("The value as a fixed-point number in ", $unit, ".")]
            #[must_use]
            pub const fn get(self) -> fixed::types::I16F16 {
                self.0
            }

            #[doc = concat!("From raw bits: one step is 1/65 536 ", $unit, ".")]
            #[must_use]
            pub const fn from_bits(bits: i32) -> Self {
                Self(fixed::types::I16F16::from_bits(bits))
            }

            #[doc = concat!("Raw bits: one step is 1/65 536 ", $unit, ".")]
            #[must_use]
            pub const fn to_bits(self) -> i32 {
                self.0.to_bits()
            }

            #[doc = concat!("From a whole number of ", $unit, "; exact for every `i16`.")]
            #[must_use]
            pub const fn from_int(whole: i16) -> Self {
                Self::from_bits($crate::quantity::arith::whole_to_bits(whole))
            }

            #[doc = concat!("From thousandths of ", $unit, ", rounded half away from zero; clamps beyond ±32 768.")]
            pub const fn from_milli(thousandths: i32) -> $crate::quantity::Limited<Self> {
                let r = $crate::quantity::arith::scale_ratio(thousandths, 65_536, 1_000);
                $crate::quantity::Limited { value: Self::from_bits(r.value), saturated: r.saturated }
            }

            /// Sum, clamped to the range.
            pub const fn saturating_add(self, other: Self) -> $crate::quantity::Limited<Self> {
                let r = $crate::quantity::arith::add(self.to_bits(), other.to_bits());
                $crate::quantity::Limited { value: Self::from_bits(r.value), saturated: r.saturated }
            }

            /// Difference, clamped to the range.
            pub const fn saturating_sub(self, other: Self) -> $crate::quantity::Limited<Self> {
                let r = $crate::quantity::arith::sub(self.to_bits(), other.to_bits());
                $crate::quantity::Limited { value: Self::from_bits(r.value), saturated: r.saturated }
            }

            /// Halved `times` over, toward negative infinity: a cheap sixteenth or sixty-fourth.
            #[must_use]
            pub const fn halved(self, times: u32) -> Self {
                Self::from_bits($crate::quantity::arith::halved(self.to_bits(), times))
            }

            /// A first-order lag: toward another value by one part in 2^`times` of the way, toward
            /// negative infinity.
            #[must_use]
            pub const fn lowpass(self, to: Self, times: u32) -> Self {
                Self::from_bits($crate::quantity::arith::lowpass(self.to_bits(), to.to_bits(), times))
            }

            /// The part given by a share (or any plain factor), rounded half up, clamped.
            pub const fn times(self, share: $crate::quantity::Share) -> $crate::quantity::Limited<Self> {
                let r = $crate::quantity::arith::mul_q16(self.to_bits(), share.to_bits());
                $crate::quantity::Limited { value: Self::from_bits(r.value), saturated: r.saturated }
            }

            /// This value as a share of another, rounded toward zero; `None` where `whole` is zero.
            #[must_use]
            pub const fn share_of(self, whole: Self) -> Option<$crate::quantity::Limited<$crate::quantity::Share>> {
                match $crate::quantity::arith::ratio_q16(
                    $crate::quantity::arith::widen(self.to_bits()),
                    $crate::quantity::arith::widen(whole.to_bits()),
                ) {
                    Some(r) => Some($crate::quantity::Limited {
                        value: $crate::quantity::Share::from_bits(r.value),
                        saturated: r.saturated,
                    }),
                    None => None,
                }
            }
        }

        impl $crate::quantity::Record for $name {
            fn save(&self, to: &mut impl $crate::quantity::Sink) {
                to.number($crate::quantity::arith::widen(self.to_bits()), 16);
            }

            fn load(from: &mut impl $crate::quantity::Source) -> Option<Self> {
                <i32 as $crate::quantity::Record>::load(from).map(Self::from_bits)
            }
        }

        impl core::fmt::Display for $name {
            /// The number with two decimals (or as the format asks; beyond four they may be those of
            /// the step beside it) and its unit.
            fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
                match f.precision() {
                    Some(p) => write!(f, "{:.p$}", self.0)?,
                    None => write!(f, "{:.2}", self.0)?,
                }
                f.write_str(concat!(" ", $unit))
            }
        }

        #[cfg(feature = "serde")]
        impl serde::Serialize for $name {
            /// As raw bits, a 32-bit integer.
            fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
                to.serialize_i32(self.to_bits())
            }
        }

        #[cfg(feature = "serde")]
        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                <i32 as serde::Deserialize>::deserialize(from).map(Self::from_bits)
            }
        }

        #[cfg(feature = "defmt")]
        impl defmt::Format for $name {
            fn format(&self, f: defmt::Formatter<'_>) {
                let (whole, milli) = $crate::quantity::arith::whole_and_milli(self.to_bits());
                let sign = if self.to_bits() < 0 { "-" } else { "" };
                defmt::write!(f, "{=str}{=u32}.{=u32:03} {=str}", sign, whole, milli, $unit);
            }
        }
    };
}

pub(crate) use quantity;
