//! Settings as records: what their constructor takes, walked out and back in through it.

/// Writes [`Record`](super::Record), and serde with its feature, for a type that a constructor makes of
/// parts which the methods of the same names, or of those in brackets, give back. What the constructor refuses is not
/// loaded.
macro_rules! setting {
    (@part $it:ident $part:ident) => {
        $it.$part()
    };
    (@part $it:ident $part:ident $getter:ident) => {
        $it.$getter()
    };
    ($name:ident $(<$q:ident: $bound:ident>)? = $make:ident {
        $($part:ident $(($getter:ident))?: $type:ty),+ $(,)?
    }) => {
        impl $(<$q: $bound + $crate::quantity::Record>)? $crate::quantity::Record for $name $(<$q>)? {
            const SHAPE: u32 = {
                let shape = $crate::quantity::shape::named($crate::quantity::shape::START, stringify!($name));
                $(
                    let shape = $crate::quantity::shape::named(shape, stringify!($part));
                    let shape = $crate::quantity::shape::joined(shape, <$type as $crate::quantity::Record>::SHAPE);
                )+
                shape
            };
            const LONGEST: usize = 0_usize $(.saturating_add(<$type as $crate::quantity::Record>::LONGEST))+;

            fn save(&self, to: &mut impl $crate::quantity::Sink) {
                $(
                    to.enter(stringify!($part));
                    $crate::quantity::Record::save(&$crate::quantity::setting!(@part self $part $($getter)?), to);
                    to.leave();
                )+
            }

            fn load(from: &mut impl $crate::quantity::Source) -> Option<Self> {
                Self::$make($(<$type as $crate::quantity::Record>::load(from)?),+).ok()
            }
        }

        #[cfg(feature = "serde")]
        const _: () = {
            #[derive(serde::Serialize, serde::Deserialize)]
            #[serde(deny_unknown_fields)]
            struct Parts $(<$q: $bound>)? {
                $($part: $type,)+
            }

            impl $(<$q: $bound + serde::Serialize>)? serde::Serialize for $name $(<$q>)? {
                fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
                    Parts { $($part: $crate::quantity::setting!(@part self $part $($getter)?),)+ }.serialize(to)
                }
            }

            impl<'de $(, $q: $bound + serde::Deserialize<'de>)?> serde::Deserialize<'de> for $name $(<$q>)? {
                fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                    let Parts { $($part,)+ } = serde::Deserialize::deserialize(from)?;
                    Self::$make($($part),+).map_err(serde::de::Error::custom)
                }
            }
        };
    };
}

pub(crate) use setting;
