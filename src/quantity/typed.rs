//! Numbers of a unit in other formats than [`Quantity`](super::Quantity): the format stands in the type.

use super::unit::Unit;
use super::{ConstDefault, Record, Sink, Source};
use core::cmp::Ordering;
use core::fmt;
use core::marker::PhantomData;

/// Declares a number of a unit over raw bits, which it is saved as.
macro_rules! typed {
    ($($(#[$meta:meta])* $name:ident($bits:ident);)*) => {$(
        $(#[$meta])*
        #[derive(Clone, Copy, PartialEq, Eq)]
        pub(crate) struct $name<U>(pub(super) $bits, PhantomData<U>);

        impl<U: Unit> $name<U> {
            /// Zero.
            pub(crate) const ZERO: Self = Self::new(0);

            #[inline]
            pub(super) const fn new(bits: $bits) -> Self {
                Self(bits, PhantomData)
            }
        }

        // By hand: derived, a comparison goes through an ordering of bits and units, and costs more.
        impl<U: Unit> PartialOrd for $name<U> {
            #[inline]
            fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
                Some(self.cmp(other))
            }

            #[inline]
            fn lt(&self, other: &Self) -> bool {
                self.0 < other.0
            }

            #[inline]
            fn le(&self, other: &Self) -> bool {
                self.0 <= other.0
            }

            #[inline]
            fn gt(&self, other: &Self) -> bool {
                self.0 > other.0
            }

            #[inline]
            fn ge(&self, other: &Self) -> bool {
                self.0 >= other.0
            }
        }

        impl<U: Unit> Ord for $name<U> {
            #[inline]
            fn cmp(&self, other: &Self) -> Ordering {
                self.0.cmp(&other.0)
            }
        }

        impl<U: Unit> ConstDefault for $name<U> {
            const DEFAULT: Self = Self::ZERO;
        }

        impl<U: Unit> Default for $name<U> {
            fn default() -> Self {
                Self::DEFAULT
            }
        }

        impl<U: Unit> Record for $name<U> {
            const SHAPE: u32 = $bits::SHAPE;
            const LONGEST: usize = $bits::LONGEST;

            fn save(&self, to: &mut impl Sink) {
                self.0.save(to);
            }

            fn load(from: &mut impl Source) -> Option<Self> {
                $bits::load(from).map(Self::new)
            }
        }

        impl<U: Unit> fmt::Debug for $name<U> {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                fmt::Debug::fmt(&self.0, f)
            }
        }

        #[cfg(feature = "serde")]
        impl<U: Unit> serde::Serialize for $name<U> {
            /// As raw bits.
            fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
                self.0.serialize(to)
            }
        }

        #[cfg(feature = "serde")]
        impl<'de, U: Unit> serde::Deserialize<'de> for $name<U> {
            fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                <$bits as serde::Deserialize>::deserialize(from).map(Self::new)
            }
        }

        #[cfg(feature = "defmt")]
        impl<U: Unit> defmt::Format for $name<U> {
            fn format(&self, f: defmt::Formatter<'_>) {
                defmt::Format::format(&self.0, f);
            }
        }
    )*};
}
typed! {
    /// How far from zero, either way: the sixteen fraction bits of a quantity without its sign, so that
    /// the smallest one has a magnitude, too.
    Magnitude(u32);
    /// A sum or difference of quantities: 48 integer and 16 fraction bits.
    Wide(i64);
    /// A sum of squares of distances that keep 8 fraction bits each.
    Squares(u64);
    /// A value over time by the trapezoidal rule, doubled: unit/65 536 × µs ÷ 2, exact.
    Area(i64);
    /// A sum of quantities over minutes: 24 integer and 8 fraction bits.
    Sum(i32);
    /// A slope of 8 integer and 24 fraction bits.
    Slope(i32);
}
