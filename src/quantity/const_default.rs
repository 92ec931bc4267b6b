//! What a state begins as, known while compiling: so a monitor can stand in a `static`.

use super::unit::Unit;
use super::{Quantity, Saturated};

/// As [`Default`], in a constant. [`record!`](crate::record) writes both for what it declares behind
/// `#[const_default]`; an enum states its variant: `#[const_default(Unknown)]`.
#[doc(hidden)]
pub trait ConstDefault {
    /// What it begins as.
    const DEFAULT: Self;
}

/// Both for a type that begins as this.
macro_rules! const_default {
    ($(#[$meta:meta])* $name:ident: $value:expr) => {
        impl $crate::quantity::ConstDefault for $name {
            const DEFAULT: Self = $value;
        }

        impl Default for $name {
            $(#[$meta])*
            fn default() -> Self {
                <Self as $crate::quantity::ConstDefault>::DEFAULT
            }
        }
    };
}
pub(crate) use const_default;

macro_rules! zero {
    ($($number:ty),*) => { $(impl ConstDefault for $number { const DEFAULT: Self = 0; })* };
}
zero!(u8, u16, u32, u64, i8, i16, i32, i64, i128, usize);

impl ConstDefault for bool {
    const DEFAULT: Self = false;
}

impl<T> ConstDefault for Option<T> {
    const DEFAULT: Self = None;
}

impl<T: ConstDefault, const N: usize> ConstDefault for [T; N] {
    const DEFAULT: Self = [T::DEFAULT; N];
}

impl<A: ConstDefault, B: ConstDefault> ConstDefault for (A, B) {
    const DEFAULT: Self = (A::DEFAULT, B::DEFAULT);
}

impl<U: Unit> ConstDefault for Quantity<U> {
    const DEFAULT: Self = Self::ZERO;
}

impl<T: ConstDefault> ConstDefault for Saturated<T> {
    const DEFAULT: Self = Self::exact(T::DEFAULT);
}

impl<T, const N: usize> ConstDefault for heapless::Vec<T, N> {
    const DEFAULT: Self = Self::new();
}
