//! The walk over plain values: integers, options, tuples and rows.

use super::{Record, Saturated, Sink, Source, shape};
use fixed::types::I16F16;
use heapless::Vec;

macro_rules! numbers {
    ($($kind:ident $longest:literal)*) => {$(
        impl Record for $kind {
            const SHAPE: u32 = shape::named(shape::START, stringify!($kind));
            const LONGEST: usize = $longest;

            fn save(&self, to: &mut impl Sink) {
                to.number(i64::from(*self), 0);
            }

            fn load(from: &mut impl Source) -> Option<Self> {
                Self::try_from(from.number()?).ok()
            }
        }
    )*};
}
// Seven bits a byte, one for the sign.
numbers!(i8 2 u8 2 i16 3 u16 3 i32 5 u32 5 i64 10);

impl Record for u64 {
    const SHAPE: u32 = shape::named(shape::START, "u64");
    const LONGEST: usize = i64::LONGEST;

    fn save(&self, to: &mut impl Sink) {
        to.number(self.cast_signed(), 0);
    }

    fn load(from: &mut impl Source) -> Option<Self> {
        from.number().map(i64::cast_unsigned)
    }
}

impl Record for usize {
    const SHAPE: u32 = u32::SHAPE;
    const LONGEST: usize = u32::LONGEST;

    /// As 32 bits, so that every platform says the same; no row is longer.
    fn save(&self, to: &mut impl Sink) {
        u32::try_from(*self).unwrap_or(u32::MAX).save(to);
    }

    fn load(from: &mut impl Source) -> Option<Self> {
        Self::try_from(u32::load(from)?).ok()
    }
}

impl Record for I16F16 {
    const SHAPE: u32 = shape::named(shape::START, "I16F16");
    const LONGEST: usize = i32::LONGEST;

    fn save(&self, to: &mut impl Sink) {
        to.number(i64::from(self.to_bits()), 16);
    }

    fn load(from: &mut impl Source) -> Option<Self> {
        i32::load(from).map(Self::from_bits)
    }
}

impl Record for bool {
    const SHAPE: u32 = shape::named(shape::START, "bool");
    const LONGEST: usize = 1;

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
    const SHAPE: u32 = shape::joined(shape::named(shape::START, "?"), T::SHAPE);
    const LONGEST: usize = T::LONGEST.saturating_add(1);

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
            const SHAPE: u32 = {
                let shape = shape::START;
                $(let shape = shape::joined(shape, $kind::SHAPE);)*
                shape
            };
            const LONGEST: usize = 0_usize $(.saturating_add($kind::LONGEST))*;

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

/// The shape of up to `n` of a kind.
#[expect(
    clippy::as_conversions,
    clippy::cast_possible_truncation,
    reason = "const; rows are short"
)]
pub(super) const fn rows(of: u32, n: usize) -> u32 {
    shape::joined(of, n as u32)
}

fn save_all<T: Record>(items: &[T], to: &mut impl Sink) {
    for (index, item) in (0..items.len()).zip(items) {
        to.enter_item(index);
        item.save(to);
        to.leave();
    }
}

impl<T: Record, const N: usize> Record for [T; N] {
    const SHAPE: u32 = rows(T::SHAPE, N);
    const LONGEST: usize = T::LONGEST.saturating_mul(N);

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

    fn load_into(&mut self, from: &mut impl Source) -> Option<()> {
        self.iter_mut().try_for_each(|item| item.load_into(from))
    }
}

impl<T: Record, const N: usize> Record for Vec<T, N> {
    const SHAPE: u32 = rows(shape::named(T::SHAPE, "len"), N);
    const LONGEST: usize = T::LONGEST.saturating_mul(N).saturating_add(usize::LONGEST);

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
    const SHAPE: u32 = shape::joined(shape::named(shape::START, "Saturated"), T::SHAPE);
    const LONGEST: usize = T::LONGEST.saturating_add(1);

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
