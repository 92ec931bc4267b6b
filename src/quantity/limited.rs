//! A result that remembers whether it was clamped.

/// A value that may have been clamped to the range of its type.
///
/// A silent clamp is a wrong number with good manners, so every operation that can clamp returns
/// this. Callers either pass the mark on (as the `saturated` flag of a breath) or refuse.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[must_use]
pub struct Saturated<T> {
    /// The value, at the end of its range where `saturated` is set.
    pub value: T,
    /// True where the exact result lay outside the range.
    pub saturated: bool,
}

impl<T> Saturated<T> {
    /// A value that was not clamped.
    pub const fn exact(value: T) -> Self {
        Self { value, saturated: false }
    }

    pub(crate) const fn new(value: T, saturated: bool) -> Self {
        Self { value, saturated }
    }

    /// The value, or `None` where it was clamped.
    #[must_use]
    pub fn within(self) -> Option<T> {
        if self.saturated { None } else { Some(self.value) }
    }

    /// The same mark on another form of the value.
    pub fn map<U>(self, to: impl FnOnce(T) -> U) -> Saturated<U> {
        Saturated { value: to(self.value), saturated: self.saturated }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clamped_value_is_not_within() {
        assert_eq!(Saturated::exact(3).within(), Some(3));
        assert_eq!(Saturated::new(3, true).within(), None);
        assert!(Saturated::new(3, true).map(i64::from).saturated);
    }
}
