//! A small set, one bit a member.

/// Declares a set of at most as many members as its integer has bits, with its walk; a walk back
/// refuses a bit that is no member's. Members are listed with their names, each at its bit, or, where
/// they have none, only the bits are given that may stand.
macro_rules! bitset {
    (
        $(#[$meta:meta])*
        $vis:vis struct $name:ident($bits:ty) {
            $($(#[$of_member:meta])* $member:ident = $place:literal: $text:literal;)+
        }
    ) => {
        $crate::quantity::bitset::bitset! {
            $(#[$meta])*
            $vis struct $name($bits) of 0 $(| (1 << $place))+;
        }

        impl $name {
            $($(#[$of_member])* pub const $member: Self = Self(1 << $place);)+

            /// All, in a fixed order, with their names.
            pub const ALL: &'static [(Self, &'static str)] = &[$((Self::$member, $text)),+];

            /// What is in both sets.
            #[must_use]
            pub(crate) const fn and(self, other: Self) -> Self {
                Self(self.0 & other.0)
            }

            /// `member` if `present`, else the empty set.
            #[must_use]
            pub(crate) const fn when(member: Self, present: bool) -> Self {
                if present { member } else { Self::NONE }
            }

            /// Whether there is none.
            #[must_use]
            pub(crate) const fn is_empty(self) -> bool {
                self.0 == 0
            }

            /// The names of those that are here, in a fixed order.
            pub fn names(self) -> impl Iterator<Item = &'static str> {
                let here = move |(member, _): &&(Self, _)| self.has(*member);
                Self::ALL.iter().filter(here).map(|(_, name)| *name)
            }
        }
    };
    (
        $(#[$meta:meta])*
        $vis:vis struct $name:ident($bits:ty) of $known:expr;
    ) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
        #[cfg_attr(feature = "defmt", derive(defmt::Format))]
        $vis struct $name($bits);

        impl $name {
            /// Empty.
            $vis const NONE: Self = Self(0);

            /// Both sets together.
            #[must_use]
            $vis const fn with(self, other: Self) -> Self {
                Self(self.0 | other.0)
            }

            /// Whether all of `other` is here.
            #[must_use]
            $vis const fn has(self, other: Self) -> bool {
                self.0 & other.0 == other.0
            }
        }

        impl $crate::quantity::ConstDefault for $name {
            const DEFAULT: Self = Self::NONE;
        }

        impl $crate::quantity::Record for $name {
            const SHAPE: u32 = $crate::quantity::shape::named($crate::quantity::shape::START, stringify!($name));
            const LONGEST: usize = <$bits as $crate::quantity::Record>::LONGEST;

            fn save(&self, to: &mut impl $crate::quantity::Sink) {
                $crate::quantity::Record::save(&self.0, to);
            }

            fn load(from: &mut impl $crate::quantity::Source) -> Option<Self> {
                let set = Self(<$bits as $crate::quantity::Record>::load(from)?);
                Some(set).filter(|set| Self($known).has(*set))
            }
        }

        #[cfg(feature = "serde")]
        impl serde::Serialize for $name {
            /// As its bits.
            fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
                self.0.serialize(to)
            }
        }

        #[cfg(feature = "serde")]
        impl<'de> serde::Deserialize<'de> for $name {
            /// Bits that mean nothing are refused.
            fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                let set = Self(serde::Deserialize::deserialize(from)?);
                let unknown = concat!("a bit that no ", stringify!($name), " has");
                if Self($known).has(set) { Ok(set) } else { Err(serde::de::Error::custom(unknown)) }
            }
        }
    };
}

pub(crate) use bitset;
