//! A walk over the parts of a record, both ways: what it holds, and back from that.
//!
//! The [`record!`](crate::record) macro declares a struct or an enum and writes this walk for it, so
//! that no field can be left out. What is walked are raw bits and the stable codes of variants; names
//! are told beside them, for whoever asks for a field by name. Nothing depends on the order of
//! declaration but the order of the walk itself.

/// Takes the parts of a record in order. Only [`number`](Self::number) and [`code`](Self::code) carry
/// values; what names them may be ignored.
pub trait Sink {
    /// A number's raw bits, and how many of them are fraction bits: its value is
    /// `bits` ÷ 2^`fraction`. Unsigned 64-bit numbers come as the signed one of the same bits.
    fn number(&mut self, bits: i64, fraction: u8);

    /// The stable code of a variant; 0 or 1 for a `bool` and for whether an `Option` holds something.
    fn code(&mut self, code: u8);

    /// What follows, up to the matching [`leave`](Self::leave), belongs to this field or variant.
    fn enter(&mut self, name: &'static str) {
        let _ = name;
    }

    /// What follows, up to the matching [`leave`](Self::leave), is this item of a row.
    fn enter_item(&mut self, index: usize) {
        let _ = index;
    }

    /// The field, variant or item ends.
    fn leave(&mut self) {}
}

/// Gives back what a [`Sink`] took, in the same order.
pub trait Source {
    /// The next number's raw bits; `None` where there is none.
    fn number(&mut self) -> Option<i64>;

    /// The next code; `None` where there is none.
    fn code(&mut self) -> Option<u8>;
}

/// A value whose parts can be walked.
pub trait Record: Sized {
    /// Another number for other parts: their names, order and types, all the way down.
    const SHAPE: u32;
    /// The most bytes it takes in a [snapshot](crate::monitor::snapshot).
    const LONGEST: usize;

    /// Tells all parts, in order.
    fn save(&self, to: &mut impl Sink);

    /// The value from its parts; `None` where they end too soon or do not make one: a number beyond
    /// its type, a code that no variant has, a setting that its constructor refuses.
    fn load(from: &mut impl Source) -> Option<Self>;

    /// As [`load`](Self::load), part by part into what stands here, so that no second one needs room. `None`
    /// leaves it half changed.
    fn load_into(&mut self, from: &mut impl Source) -> Option<()> {
        *self = Self::load(from)?;
        Some(())
    }
}

/// Declares structs and enums and writes [`Record`](crate::quantity::Record) for them.
///
/// A struct has named fields, or one value in brackets; of parameters it may have one
/// `const N: usize`. Each variant of an enum states its stable code (0 to 255), which must never be given
/// to another:
///
/// ```
/// use tidevane::quantity::{Flow, Record, Sink};
///
/// tidevane::record! {
///     /// What a sensor says of itself.
///     #[derive(Debug, Clone, Copy, PartialEq)]
///     pub enum Health {
///         /// All well.
///         Good = 0,
///         /// Its zero is this far off.
///         Off(Flow) = 2,
///     }
/// }
///
/// struct Bits(Vec<i64>);
/// impl Sink for Bits {
///     fn number(&mut self, bits: i64, _fraction: u8) {
///         self.0.push(bits);
///     }
///     fn code(&mut self, code: u8) {
///         self.0.push(code.into());
///     }
/// }
/// let mut bits = Bits(Vec::new());
/// Health::Off(Flow::from_int(1)).save(&mut bits);
/// assert_eq!(bits.0, [2, 65_536]);
/// ```
#[macro_export]
macro_rules! record {
    // With what it begins as, in a constant.
    (
        #[const_default]
        $(#[$meta:meta])*
        $vis:vis struct $name:ident $(<const $size:ident: usize>)? {
            $($(#[$of_field:meta])* $field_vis:vis $field:ident: $type:ty),* $(,)?
        }
    ) => {
        $crate::record! {
            $(#[$meta])*
            $vis struct $name $(<const $size: usize>)? {
                $($(#[$of_field])* $field_vis $field: $type,)*
            }
        }

        impl $(<const $size: usize>)? $crate::quantity::ConstDefault for $name $(<$size>)? {
            const DEFAULT: Self =
                Self { $($field: <$type as $crate::quantity::ConstDefault>::DEFAULT,)* };
        }

        $crate::record!(@default $name $(, $size)?);
    };
    (
        #[const_default]
        $(#[$meta:meta])*
        $vis:vis struct $name:ident($inner_vis:vis $type:ty);
    ) => {
        $crate::record! {
            $(#[$meta])*
            $vis struct $name($inner_vis $type);
        }

        impl $crate::quantity::ConstDefault for $name {
            const DEFAULT: Self = Self(<$type as $crate::quantity::ConstDefault>::DEFAULT);
        }

        $crate::record!(@default $name);
    };
    (
        #[const_default($first:ident)]
        $(#[$meta:meta])*
        $vis:vis enum $name:ident { $($variants:tt)* }
    ) => {
        $crate::record! {
            $(#[$meta])*
            $vis enum $name { $($variants)* }
        }

        impl $crate::quantity::ConstDefault for $name {
            const DEFAULT: Self = Self::$first;
        }

        $crate::record!(@default $name);
    };
    (@default $name:ident $(, $size:ident)?) => {
        impl $(<const $size: usize>)? Default for $name $(<$size>)? {
            fn default() -> Self {
                <Self as $crate::quantity::ConstDefault>::DEFAULT
            }
        }
    };
    // A struct with named fields.
    (
        $(#[$meta:meta])*
        $vis:vis struct $name:ident $(<const $size:ident: usize>)? {
            $($(#[$of_field:meta])* $field_vis:vis $field:ident: $type:ty),* $(,)?
        }
    ) => {
        $(#[$meta])*
        $vis struct $name $(<const $size: usize>)? {
            $($(#[$of_field])* $field_vis $field: $type,)*
        }

        impl $(<const $size: usize>)? $crate::quantity::Record for $name $(<$size>)? {
            const SHAPE: u32 = {
                let shape = $crate::quantity::shape::named($crate::quantity::shape::START, stringify!($name));
                $(
                    let shape = $crate::quantity::shape::named(shape, stringify!($field));
                    let shape = $crate::quantity::shape::joined(shape, <$type as $crate::quantity::Record>::SHAPE);
                )*
                shape
            };
            const LONGEST: usize = 0_usize $(.saturating_add(<$type as $crate::quantity::Record>::LONGEST))*;

            fn save(&self, to: &mut impl $crate::quantity::Sink) {
                $(
                    to.enter(stringify!($field));
                    $crate::quantity::Record::save(&self.$field, to);
                    to.leave();
                )*
            }

            fn load(from: &mut impl $crate::quantity::Source) -> Option<Self> {
                Some(Self { $($field: <$type as $crate::quantity::Record>::load(from)?,)* })
            }

            fn load_into(&mut self, from: &mut impl $crate::quantity::Source) -> Option<()> {
                $($crate::quantity::Record::load_into(&mut self.$field, from)?;)*
                Some(())
            }
        }
    };
    // A struct round one value: it adds nothing to a path.
    (
        $(#[$meta:meta])*
        $vis:vis struct $name:ident($inner_vis:vis $type:ty);
    ) => {
        $(#[$meta])*
        $vis struct $name($inner_vis $type);

        impl $crate::quantity::Record for $name {
            const SHAPE: u32 = $crate::quantity::shape::joined(
                $crate::quantity::shape::named($crate::quantity::shape::START, stringify!($name)),
                <$type as $crate::quantity::Record>::SHAPE,
            );
            const LONGEST: usize = <$type as $crate::quantity::Record>::LONGEST;

            fn save(&self, to: &mut impl $crate::quantity::Sink) {
                $crate::quantity::Record::save(&self.0, to);
            }

            fn load(from: &mut impl $crate::quantity::Source) -> Option<Self> {
                <$type as $crate::quantity::Record>::load(from).map(Self)
            }

            fn load_into(&mut self, from: &mut impl $crate::quantity::Source) -> Option<()> {
                $crate::quantity::Record::load_into(&mut self.0, from)
            }
        }
    };
    // An enum: unit variants, one value in brackets, or named fields; each with its code.
    (
        $(#[$meta:meta])*
        $vis:vis enum $name:ident {
            $(
                $(#[$of_variant:meta])*
                $variant:ident
                $(($inner:ty))?
                $({ $($(#[$of_field:meta])* $field:ident: $type:ty),* $(,)? })?
                = $code:literal
            ),* $(,)?
        }
    ) => {
        $(#[$meta])*
        $vis enum $name {
            $(
                $(#[$of_variant])*
                $variant $(($inner))? $({ $($(#[$of_field])* $field: $type),* })?,
            )*
        }

        impl $crate::quantity::Record for $name {
            const SHAPE: u32 = {
                let shape = $crate::quantity::shape::named($crate::quantity::shape::START, stringify!($name));
                $(
                    let shape = $crate::quantity::shape::named(shape, stringify!($variant));
                    let shape = $crate::quantity::shape::joined(shape, $code);
                    $(let shape = $crate::quantity::shape::joined(shape, <$inner as $crate::quantity::Record>::SHAPE);)?
                    $($(
                        let shape = $crate::quantity::shape::named(shape, stringify!($field));
                        let shape = $crate::quantity::shape::joined(shape, <$type as $crate::quantity::Record>::SHAPE);
                    )*)?
                )*
                shape
            };
            const LONGEST: usize = {
                let longest = 0_usize;
                $(
                    let of_variant = 0_usize
                        $(.saturating_add(<$inner as $crate::quantity::Record>::LONGEST))?
                        $($(.saturating_add(<$type as $crate::quantity::Record>::LONGEST))*)?;
                    let longest = if of_variant > longest { of_variant } else { longest };
                )*
                longest.saturating_add(1)
            };

            fn save(&self, to: &mut impl $crate::quantity::Sink) {
                match self {
                    $(
                        Self::$variant {
                            $(0: $crate::record!(@first inner $inner))?
                            $($($field),*)?
                        } => {
                            to.code($code);
                            to.enter(stringify!($variant));
                            $(<$inner as $crate::quantity::Record>::save(inner, to);)?
                            $($(
                                to.enter(stringify!($field));
                                $crate::quantity::Record::save($field, to);
                                to.leave();
                            )*)?
                            to.leave();
                        }
                    )*
                }
            }

            fn load(from: &mut impl $crate::quantity::Source) -> Option<Self> {
                match from.code()? {
                    $(
                        $code => Some(Self::$variant {
                            $(0: <$inner as $crate::quantity::Record>::load(from)?)?
                            $($($field: <$type as $crate::quantity::Record>::load(from)?),*)?
                        }),
                    )*
                    _ => None,
                }
            }
        }
    };
    (@first $name:ident $type:ty) => { $name };
}
