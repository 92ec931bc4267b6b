//! The walk over plain values: integers, options, tuples and rows.

use super::{Record, Saturated, Sink, Source};
use heapless::Vec;

macro_rules! numbers {
    ($($kind:ident)*) => {$(
        impl Record for $kind {
            fn save(&self, to: &mut impl Sink) {
                to.number(i64::from(*self), 0);
            }

            fn load(from: &mut impl Source) -> Option<Self> {
                Self::try_from(from.number()?).ok()
            }
        }
    )*};
}
numbers!(i8 u8 i16 u16 i32 u32 i64);

impl Record for u64 {
    fn save(&self, to: &mut impl Sink) {
        to.number(self.cast_signed(), 0);
    }

    fn load(from: &mut impl Source) -> Option<Self> {
        from.number().map(i64::cast_unsigned)
    }
}

impl Record for usize {
    /// As 32 bits, so that every platform says the same; no row is longer.
    fn save(&self, to: &mut impl Sink) {
        u32::try_from(*self).unwrap_or(u32::MAX).save(to);
    }

    fn load(from: &mut impl Source) -> Option<Self> {
        Self::try_from(u32::load(from)?).ok()
    }
}

impl Record for bool {
    fn save(&self, to: &mut impl Sink) {
        to.code(u8::from(*self));
    }

    fn load(from: &mut impl Source) -> Option<Self> {
        match from.code()? {
            0 => Some(false),
            1 => Some(true),
            _ => None,
        }
    }
}

impl<T: Record> Record for Option<T> {
    fn save(&self, to: &mut impl Sink) {
        self.is_some().save(to);
        if let Some(value) = self {
            value.save(to);
        }
    }

    fn load(from: &mut impl Source) -> Option<Self> {
        if bool::load(from)? { T::load(from).map(Some) } else { Some(None) }
    }
}

macro_rules! tuples {
    ($(($($kind:ident $index:tt)*))*) => {$(
        impl<$($kind: Record),*> Record for ($($kind,)*) {
            fn save(&self, to: &mut impl Sink) {
                $(
                    to.enter_item($index);
                    self.$index.save(to);
                    to.leave();
                )*
            }

            fn load(from: &mut impl Source) -> Option<Self> {
                Some(($($kind::load(from)?,)*))
            }
        }
    )*};
}
tuples!((A 0 B 1) (A 0 B 1 C 2) (A 0 B 1 C 2 D 3));

fn save_all<T: Record>(items: &[T], to: &mut impl Sink) {
    for (index, item) in (0..items.len()).zip(items) {
        to.enter_item(index);
        item.save(to);
        to.leave();
    }
}

impl<T: Record, const N: usize> Record for [T; N] {
    fn save(&self, to: &mut impl Sink) {
        save_all(self, to);
    }

    fn load(from: &mut impl Source) -> Option<Self> {
        let mut items = Vec::<T, N>::new();
        for _ in 0..N {
            items.push(T::load(from)?).ok()?;
        }
        items.into_array().ok()
    }
}

impl<T: Record, const N: usize> Record for Vec<T, N> {
    /// How many, then each.
    fn save(&self, to: &mut impl Sink) {
        self.len().save(to);
        save_all(self, to);
    }

    fn load(from: &mut impl Source) -> Option<Self> {
        let mut items = Self::new();
        for _ in 0..usize::load(from)? {
            items.push(T::load(from)?).ok()?;
        }
        Some(items)
    }
}

impl<T: Record> Record for Saturated<T> {
    fn save(&self, to: &mut impl Sink) {
        to.enter("value");
        self.value.save(to);
        to.leave();
        to.enter("saturated");
        self.saturated.save(to);
        to.leave();
    }

    fn load(from: &mut impl Source) -> Option<Self> {
        Some(Self { value: T::load(from)?, saturated: bool::load(from)? })
    }
}
