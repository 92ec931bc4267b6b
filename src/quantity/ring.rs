//! The latest values of a row.

use super::{ConstDefault, Record, Sink, Source};
use heapless::Vec;

/// The latest `N` values: where all places are taken the oldest makes room.
#[derive(Debug, Clone, Copy)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(crate) struct Ring<T, const N: usize> {
    items: [T; N],
    /// Where the oldest stands, and how many there are.
    first: usize,
    len: usize,
}

impl<T: Copy, const N: usize> Ring<T, N> {
    /// Holds nothing; `fill` stands in the places that are not taken.
    pub(crate) const fn new(fill: T) -> Self {
        Self { items: [fill; N], first: 0, len: 0 }
    }

    /// Holds nothing any more.
    pub(crate) const fn clear(&mut self) {
        (self.first, self.len) = (0, 0);
    }

    /// Takes a value; the oldest, where that made room for it. A ring of no places takes none: the
    /// value comes back.
    pub(crate) fn push(&mut self, item: T) -> Option<T> {
        let end = if self.is_full() { self.first } else { Self::place(self.first, self.len) };
        let Some(place) = self.items.get_mut(end) else { return Some(item) };
        let before = core::mem::replace(place, item);
        if self.len < N {
            self.len = self.len.saturating_add(1);
            return None;
        }
        self.first = Self::place(self.first, 1);
        Some(before)
    }

    /// The oldest value, taken out.
    pub(crate) fn pop(&mut self) -> Option<T> {
        let oldest = *self.items.get(self.first).filter(|_| self.len > 0)?;
        self.first = Self::place(self.first, 1);
        self.len = self.len.saturating_sub(1);
        Some(oldest)
    }

    /// The values, oldest first.
    pub(crate) fn iter(&self) -> impl DoubleEndedIterator<Item = &T> {
        let (start, older) = self.items.split_at_checked(self.first).unwrap_or_default();
        let wrapped = self.len.saturating_sub(older.len());
        let older = older.get(..self.len).unwrap_or(older);
        older.iter().chain(start.get(..wrapped).unwrap_or_default())
    }

    /// Changes all values.
    pub(crate) fn update(&mut self, change: impl FnMut(&mut T)) {
        self.items.iter_mut().for_each(change);
    }

    /// How many there are.
    pub(crate) const fn len(&self) -> usize {
        self.len
    }

    /// Whether there is none.
    pub(crate) const fn is_empty(&self) -> bool {
        self.len == 0
    }

    /// Whether the next value makes the oldest go.
    pub(crate) const fn is_full(&self) -> bool {
        self.len >= N
    }

    /// So many places after one, round the ring: both below `N`, or `after` `N` at most.
    const fn place(from: usize, after: usize) -> usize {
        let place = from.saturating_add(after);
        if place < N { place } else { place.saturating_sub(N) }
    }
}

impl<T: Copy + ConstDefault, const N: usize> ConstDefault for Ring<T, N> {
    const DEFAULT: Self = Self::new(T::DEFAULT);
}

impl<T: Copy + ConstDefault, const N: usize> Default for Ring<T, N> {
    fn default() -> Self {
        Self::DEFAULT
    }
}

impl<T: Copy + PartialEq, const N: usize> PartialEq for Ring<T, N> {
    /// By what they hold; where it stands does not matter.
    fn eq(&self, other: &Self) -> bool {
        self.len == other.len && self.iter().eq(other.iter())
    }
}

impl<T: Copy + Eq, const N: usize> Eq for Ring<T, N> {}

impl<T: Copy + ConstDefault + Record, const N: usize> Record for Ring<T, N> {
    const SHAPE: u32 = Vec::<T, N>::SHAPE;
    const LONGEST: usize = Vec::<T, N>::LONGEST;

    /// How many, then each, oldest first.
    fn save(&self, to: &mut impl Sink) {
        self.len.save(to);
        for (index, item) in (0..N).zip(self.iter()) {
            to.enter_item(index);
            item.save(to);
            to.leave();
        }
    }

    fn load(from: &mut impl Source) -> Option<Self> {
        let len = usize::load(from).filter(|len| *len <= N)?;
        let mut ring = Self::default();
        for _ in 0..len {
            ring.push(T::load(from)?);
        }
        Some(ring)
    }

    fn load_into(&mut self, from: &mut impl Source) -> Option<()> {
        let len = usize::load(from).filter(|len| *len <= N)?;
        while self.pop().is_some() {}
        for _ in 0..len {
            self.push(T::load(from)?);
        }
        Some(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::vec::Vec;

    fn held<const N: usize>(ring: &Ring<u8, N>) -> Vec<u8> {
        let held: Vec<_> = ring.iter().copied().collect();
        let mut backward: Vec<_> = ring.iter().rev().copied().collect();
        backward.reverse();
        assert_eq!(held, backward);
        assert_eq!(held.len(), ring.len());
        held
    }

    #[test]
    fn the_oldest_makes_room() {
        let mut ring = Ring::<u8, 3>::default();
        assert!(ring.is_empty() && ring.pop().is_none());
        let out: Vec<_> = (1..=5).map(|n| ring.push(n)).collect();
        assert_eq!(out, [None, None, None, Some(1), Some(2)]);
        assert_eq!(held(&ring), [3, 4, 5]);
        assert_eq!((ring.pop(), held(&ring)), (Some(3), [4, 5].to_vec()));
        assert_eq!((ring.push(6), ring.is_full(), held(&ring)), (None, true, [4, 5, 6].to_vec()));
    }

    #[test]
    fn every_order_of_pushes_and_pops_keeps_the_latest() {
        // All 2^12 orders against a plain list.
        for order in 0..1_u32 << 12 {
            let (mut ring, mut list) = (Ring::<u8, 3>::default(), Vec::new());
            for n in 0..12 {
                if order >> n & 1 == 1 {
                    list.push(n);
                    let gone = (list.len() > 3).then(|| list.remove(0));
                    assert_eq!(ring.push(n), gone);
                } else {
                    let gone = (!list.is_empty()).then(|| list.remove(0));
                    assert_eq!(ring.pop(), gone);
                }
                assert_eq!(held(&ring), list);
            }
        }
    }

    #[test]
    fn a_ring_of_no_places_holds_nothing() {
        let mut ring = Ring::<u8, 0>::default();
        assert_eq!((ring.push(1), ring.pop(), ring.len()), (Some(1), None, 0));
    }

    #[test]
    fn rings_are_alike_by_what_they_hold() {
        let (mut a, mut b) = (Ring::<u8, 2>::default(), Ring::<u8, 2>::default());
        for n in [9, 1, 2] {
            a.push(n);
        }
        b.push(1);
        assert_ne!(a, b);
        b.push(2);
        assert_eq!(a, b);
    }

    #[test]
    fn a_ring_that_is_cleared_holds_nothing() {
        let mut ring = Ring::<u8, 3>::default();
        (1..=5).for_each(|n| {
            let _ = ring.push(n);
        });
        ring.clear();
        assert_eq!((ring.len(), ring.is_empty(), held(&ring)), (0, true, Vec::new()));
        ring.push(7);
        assert_eq!(held(&ring), [7]);
        // As many and others, or fewer: neither is alike.
        let mut other = Ring::<u8, 3>::default();
        other.push(8);
        assert_ne!(ring, other);
        other.clear();
        assert_ne!(ring, other);
    }
}
