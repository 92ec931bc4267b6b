//! Records, there and back.

use super::{Record, Saturated, Sink, Source};
use crate::quantity::{Duration, Flow, Instant};
use crate::record;
use heapless::Vec;
use std::vec::Vec as Heap;

/// Numbers and codes in a row, given back from the front.
#[derive(Default)]
struct Tape(Heap<i64>);

impl Sink for Tape {
    fn number(&mut self, bits: i64, _: u8) {
        self.0.push(bits);
    }

    fn code(&mut self, code: u8) {
        self.0.push(code.into());
    }
}

impl Source for &[i64] {
    fn number(&mut self) -> Option<i64> {
        let (first, rest) = self.split_first()?;
        *self = rest;
        Some(*first)
    }

    fn code(&mut self) -> Option<u8> {
        u8::try_from(self.number()?).ok()
    }
}

record! {
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    struct Mixed<const N: usize> {
        row: [u16; N],
        maybe: Option<Flow>,
        at: Instant,
        what: Choice,
    }
}

record! {
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    enum Choice {
        Plain = 7,
        One(Duration) = 2,
        Named { yes: bool, pair: (i8, u64) } = 3,
    }
}

fn tape(of: &impl Record) -> Heap<i64> {
    let mut tape = Tape::default();
    of.save(&mut tape);
    tape.0
}

#[test]
fn a_record_is_its_raw_bits_and_stable_codes_in_order() {
    let what = Choice::Named { yes: true, pair: (-1, u64::MAX) };
    let mixed =
        Mixed { row: [5, 6], maybe: Some(Flow::from_int(2)), at: Instant::from_us(9), what };
    // row 5 and 6; something is there: 2 mL/s = 131 072 steps; 9 µs; code 3, yes, −1, and all 64
    // bits set, which is −1 as a signed number.
    let bits = [5, 6, 1, 131_072, 9, 3, 1, -1, -1];
    assert_eq!(tape(&mixed), bits);
    assert_eq!(Mixed::load(&mut &bits[..]), Some(mixed));
    let plain = Mixed::<0> { row: [], maybe: None, at: Instant::from_us(0), what: Choice::Plain };
    assert_eq!(tape(&plain), [0, 0, 7]);
    assert_eq!(Mixed::load(&mut &[0, 0, 7][..]), Some(plain));
}

#[test]
fn what_makes_no_value_is_refused() {
    // cut short; a variant that does not exist; a bool of 2; a number beyond its type
    let bad: [&[i64]; 4] =
        [&[5, 6, 0, 9], &[5, 6, 0, 9, 4], &[5, 6, 0, 9, 3, 2, 0, 0], &[65_536, 6, 0, 9, 7]];
    for bits in bad {
        assert_eq!(Mixed::<2>::load(&mut &*bits), None, "{bits:?}");
    }
    assert_eq!(Choice::load(&mut &[2, 4][..]), Some(Choice::One(Duration::from_us(4))));
    // more items than there is room for
    assert_eq!(Vec::<u8, 2>::load(&mut &[3, 1, 1, 1][..]), None);
    assert_eq!(Saturated::<u8>::load(&mut &[3, 1][..]), Some(Saturated::new(3, true)));
}

#[test]
fn settings_are_refused_as_their_constructors_refuse_them() {
    use crate::trigger::Threshold;
    let least = Threshold::load(&mut &[65_536][..]).map(|threshold| threshold.flow());
    assert_eq!(least, Some(Flow::from_int(1)));
    assert_eq!(Threshold::load(&mut &[-1][..]), None);
    // The thirteen flags take thirteen bits; the twelve signs twelve.
    assert!(crate::signal::Flags::load(&mut &[0x1fff][..]).is_some());
    assert_eq!(crate::signal::Flags::load(&mut &[0x2000][..]), None);
    assert!(crate::trend::LoadSigns::load(&mut &[0xfff][..]).is_some());
    assert_eq!(crate::trend::LoadSigns::load(&mut &[0x1000][..]), None);
}

#[test]
fn plain_numbers_come_back_and_others_are_refused() {
    use fixed::types::I16F16;
    let half = I16F16::from_bits(32_768);
    assert_eq!((tape(&half), I16F16::load(&mut &[32_768][..])), (std::vec![32_768], Some(half)));
    assert_eq!(I16F16::load(&mut &[1 << 31][..]), None);
    assert_eq!((tape(&usize::MAX), tape(&5_usize)), (std::vec![0xffff_ffff], std::vec![5]));
    assert_eq!((usize::load(&mut &[5][..]), usize::load(&mut &[-1][..])), (Some(5), None));
    let some = [true, false].map(|yes| bool::load(&mut &[i64::from(yes)][..]));
    assert_eq!((some, bool::load(&mut &[2][..])), ([Some(true), Some(false)], None));
    let four = (1_u8, -2_i16, true, 9_u64);
    assert_eq!(tape(&four), [1, -2, 1, 9]);
    assert_eq!(Record::load(&mut &[1, -2, 1, 9][..]), Some(four));
}

macro_rules! shapes {
    ($($module:ident: $kind:ident { $($body:tt)* })*) => {$(
        mod $module {
            use crate::record;

                        record! {
                #[derive(Debug, Clone, Copy, PartialEq, Eq)]
                pub(super) $kind $($body)*
            }
        }
    )*};
}
shapes! {
    pair: struct { Pair { pub(super) a: u8, pub(super) b: u16 } }
    what: enum { What { One(u8) = 1, Two = 2 } }
    renamed: struct { Pair { pub(super) a: u8, pub(super) c: u16 } }
    swapped: struct { Pair { pub(super) b: u16, pub(super) a: u8 } }
    widened: struct { Pair { pub(super) a: u8, pub(super) b: u32 } }
    coded: enum { What { One(u8) = 1, Two = 3 } }
    emptied: enum { What { One = 1, Two = 2 } }
}

#[test]
fn every_change_of_a_layout_changes_its_shape() {
    let pair = pair::Pair::SHAPE;
    for changed in [renamed::Pair::SHAPE, swapped::Pair::SHAPE, widened::Pair::SHAPE] {
        assert_ne!(changed, pair);
    }
    let what = what::What::SHAPE;
    assert!(coded::What::SHAPE != what && emptied::What::SHAPE != what);
    assert_ne!(<[u8; 2]>::SHAPE, <[u8; 3]>::SHAPE);
    assert_ne!(Option::<u8>::SHAPE, u8::SHAPE);
    assert_eq!(super::plain::rows(u8::SHAPE, 3), <[u8; 3]>::SHAPE);
    // Two bytes and three; a code and two bytes.
    assert_eq!((pair::Pair::LONGEST, what::What::LONGEST), (5, 3));
}
