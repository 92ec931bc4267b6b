//! The arithmetic at its edges, down to the last bit: a digest for each operation over operands drawn
//! from the ends of their types, powers of two, their neighbours and numbers of every size.
//!
//! Whether a number is right is for `oracle_tests.rs` and the tests beside each block. This one tells that
//! none changes unnoticed, as `tests/bits` does for what the monitor says. Where a change is meant, take
//! the lines that the failure prints.

use crate::quantity::{Record, Sink, Source, arith};
use std::vec::Vec;
use std::{println, vec};

/// Marsaglia's xorshift, J Stat Softw 8:14, 2003.
struct Draw(u64);

impl Draw {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    /// 128 bits: an end, a power of two or its neighbour, or a number of any size; either sign.
    fn wide(&mut self) -> i128 {
        let (kind, shift) = (self.next() % 8, self.next() % 127);
        let near = [-1, 0, 1][(self.next() % 3) as usize];
        let size = match kind {
            0 => near,
            1..=3 => (1_i128 << shift).wrapping_add(near),
            4 => [3_000, 60_000_000, 65_536 * 100, 5_000][shift as usize % 4] + near,
            _ => ((i128::from(self.next()) << 62) ^ i128::from(self.next())) >> shift,
        };
        if self.next().is_multiple_of(2) { size } else { !size }
    }
}

/// An operand: one of the type's ends now and then, else what fits of a wide number.
trait Operand: Copy {
    fn draw(from: &mut Draw) -> Self;
}

macro_rules! operands {
    ($($kind:ident),*) => {$(
        impl Operand for $kind {
            fn draw(from: &mut Draw) -> Self {
                match from.next() % 16 {
                    0 => Self::MIN,
                    1 => Self::MAX,
                    // Cut to the type's width, so that every size is as frequent in each.
                    _ => {
                        let wide = (from.wide() >> (from.next() % 8 * 8)).to_le_bytes();
                        Self::from_le_bytes(*wide.first_chunk().unwrap())
                    }
                }
            }
        }
    )*};
}
operands!(u8, i16, u16, i32, u32, i64, u64, usize, i128);

impl Operand for bool {
    fn draw(from: &mut Draw) -> Self {
        from.next().is_multiple_of(2)
    }
}

impl Operand for [u32; 3] {
    fn draw(from: &mut Draw) -> Self {
        [(); 3].map(|()| u32::draw(from))
    }
}

impl Operand for [i64; 3] {
    fn draw(from: &mut Draw) -> Self {
        [(); 3].map(|()| i64::draw(from))
    }
}

/// FNV-1a of 32 bits (G. Fowler, L. C. Noll, K.-P. Vo, RFC 9923; the number from memory) over the raw bits
/// of 3 000 results.
fn digest<R: Record>(mut result: impl FnMut(&mut Draw) -> R) -> u32 {
    let (mut draw, mut bits) = (Draw(0x9E37_79B9_7F4A_7C15), Fnv(0x811c_9dc5));
    for _ in 0..3_000 {
        result(&mut draw).save(&mut bits);
    }
    bits.0
}

struct Fnv(u32);

impl Sink for Fnv {
    fn number(&mut self, bits: i64, _: u8) {
        for byte in bits.to_le_bytes() {
            self.code(byte);
        }
    }

    fn code(&mut self, code: u8) {
        self.0 = (self.0 ^ u32::from(code)).wrapping_mul(0x0100_0193);
    }
}

macro_rules! operation {
    ($digest:ident, $($operand:ident),+) => {
        fn $digest<$($operand: Operand,)+ R: Record>(of: impl Fn($($operand),+) -> R) -> u32 {
            digest(|draw| of($($operand::draw(draw)),+))
        }
    };
}
operation!(one, A);
operation!(two, A, B);
operation!(three, A, B, C);
operation!(four, A, B, C, D);

/// The moments of five points.
fn moments(d: &mut Draw) -> Option<arith::MotionMoments> {
    let mut sums = [0; 14];
    (0..5).for_each(|_| arith::motion_point(&mut sums, [(); 4].map(|()| i32::draw(d))));
    arith::motion_moments(&sums)
}

/// The sums of two points.
fn two_points(d: &mut Draw) -> arith::LineSums {
    let [a, b] = [(); 2].map(|()| arith::line_point(i64::draw(d), i32::draw(d), i32::draw(d)));
    std::array::from_fn(|i| a[i] + b[i])
}

macro_rules! digests {
    ($($arity:ident: $($name:ident),*;)*) => {
        vec![$($((stringify!($name), $arity(arith::$name)),)*)*]
    };
}

/// A result of 128 bits, walked as its upper and its lower half.
struct Wide(i128);

impl Record for Wide {
    const SHAPE: u32 = 0;
    const LONGEST: usize = 20;

    fn save(&self, to: &mut impl Sink) {
        ((self.0 >> 64) as i64).save(to);
        (self.0 as u64).save(to);
    }

    fn load(from: &mut impl Source) -> Option<Self> {
        let (upper, lower) = <(i64, u64)>::load(from)?;
        Some(Self(i128::from(upper) << 64 | i128::from(lower)))
    }
}

#[test]
fn no_operation_changes_unnoticed() {
    let mut now = digests! {
        one: area_to_q12, area_to_q16, bend_ratio_q16, bit, c20_of_bend, eighth_u64,
            even_scale, half_power_q30, half_u16, hundredth, linear_per_ml, ln_q16,
            log2_q24, log_bin, log_edge, millis_to_us, minute_over, nearest_whole,
              per_minute, percent_parts, q16_to_area, q30_to_q16, root_q16,
            seconds_and_millis, short_us, split_hundred, square_apart, square_per_ml, square_weight,
            square_q16, square_q8, twentieth_u64, whole_and_milli, whole_to_bits,
            widen, widen_u32, wrapping_millis;
        two: accumulate, add, add_bounded, add_q8, add_us, away, coarse,
            count_a_minute, count_share, decay_q30, drop_per_litre, finer,
              fraction, halved,   is_within_span,
            mean_of, mean_q16, mean_q8, mean_us, mul_q16, mul_wide,
            on_grid, part_of_tau, parts_in, parts_of, per_hour_q16, per_litre_ratio,
             poiseuille_q16, portion_u32, product, push_bit, ratio_q16,
            resistive_drop, reynolds_q16, scaled_down,   short_share_q16, span_ratio_q16, steady, sub,
              weighted, within_period;
        three: bend_share, between, blasius_q16, centi_pascal_to_q16, crossing,
            dean_q16, is_within_three, lowpass, lowpass_wide, mean_finer, part_way, resistance_q30, shrunk_weight,
            scale_ratio, shared_scale, spread_q16, trapezoid;
        four: along, mean_is_within, moved_squares,
            quotient, slope_q16, trapezoid_over;
    };
    let part = |mut sum, more, shift| {
        arith::add_part(&mut sum, &more, shift);
        sum
    };
    now.push(("add_part", three(part)));
    let faded = |mut sum| {
        arith::fade(&mut sum);
        sum
    };
    now.push(("fade", one(faded)));
    now.push(("root_of_squares", digest(|d| arith::root_of_squares(&<[u32; 3]>::draw(d)))));
    now.push((
        "difference_of_products",
        four(|a, b, c, d| Wide(arith::difference_of_products(a, b, c, d))),
    ));
    now.push(("moment", four(|a, b, c, d| Wide(arith::moment(a, b, c, d)))));
    now.push(("sum_of_three", two(|a, b| Wide(arith::sum_of_three(a, b)))));
    now.push(("sum_of_products", four(|a, b, c, d| Wide(arith::sum_of_products(a, b, c, d)))));
    now.push((
        "line_fit",
        digest(|d| arith::line_fit(&two_points(d)).map(|f| (f.slope, f.offset))),
    ));
    now.push(("line_doubt", digest(|d| arith::line_doubt(&two_points(d), i32::draw(d)))));
    now.push(("block_mean", digest(|d| arith::block_mean(i64::draw(d), u32::draw(d)))));
    now.push(("motion_moments", digest(moments)));
    let prior = |d: &mut Draw| arith::motion_prior(i32::draw(d), i32::draw(d));
    now.push(("motion_prior", digest(prior)));
    let terms = |d: &mut Draw| [(); 3].map(|()| i32::draw(d));
    now.push((
        "motion_terms",
        digest(|d| moments(d).map(|m| arith::motion_terms(&m, terms(d), prior(d)))),
    ));
    now.push(("motion_lag", digest(|d| moments(d).map(|m| arith::motion_lag(&m, 20_000)))));
    let left = |d: &mut Draw| arith::motion_left(terms(d), [(); 4].map(|()| i32::draw(d)));
    now.push(("motion_left", digest(left)));
    let changed: Vec<_> = now.iter().filter(|line| !KNOWN.contains(line)).collect();
    for (name, digest) in &changed {
        println!("    (\"{name}\", {digest:#010x}),");
    }
    assert!(changed.is_empty() && now.len() == KNOWN.len(), "{} changed", changed.len());
}

const KNOWN: &[(&str, u32)] = &[
    ("add_part", 0x7874_56bc),
    ("fade", 0xfaf8_ba62),
    ("square_weight", 0x8496_9410),
    ("shrunk_weight", 0x5a6b_3e06),
    ("line_fit", 0xee64_184d),
    ("line_doubt", 0x4f77_9c6e),
    ("block_mean", 0xf702_c707),
    ("motion_moments", 0xb01d_6ffc),
    ("motion_prior", 0x20a7_e7e1),
    ("motion_terms", 0xc5c6_c18b),
    ("motion_lag", 0x1b58_6ee3),
    ("motion_left", 0xe0c0_2fd7),
    ("area_to_q12", 0x4d47_7bf9),
    ("area_to_q16", 0x6961_6772),
    ("bend_ratio_q16", 0xa9d3_124a),
    ("bit", 0xf81b_0e20),
    ("c20_of_bend", 0x55e1_163c),
    ("eighth_u64", 0xee03_815f),
    ("even_scale", 0x999e_8587),
    ("half_power_q30", 0x9314_f1f0),
    ("half_u16", 0xdeb4_aa25),
    ("hundredth", 0xa9e4_a005),
    ("linear_per_ml", 0xaab5_81d6),
    ("ln_q16", 0xd418_1ed8),
    ("log2_q24", 0x98d0_89ce),
    ("log_bin", 0xab38_583c),
    ("log_edge", 0xa3e8_e86b),
    ("millis_to_us", 0xeffb_1c32),
    ("minute_over", 0x9ae6_63f7),
    ("nearest_whole", 0xd204_fcb4),
    ("per_minute", 0x29e5_fa02),
    ("percent_parts", 0xf223_a215),
    ("q16_to_area", 0x0b2f_3925),
    ("q30_to_q16", 0x0b34_7bd8),
    ("root_q16", 0xed95_8872),
    ("seconds_and_millis", 0x4ea5_2734),
    ("short_us", 0x537d_0a2b),
    ("split_hundred", 0x1105_b4c4),
    ("square_apart", 0x986f_521f),
    ("square_per_ml", 0xa4f0_c9c6),
    ("square_q16", 0xf608_6bea),
    ("square_q8", 0x83e6_ef9a),
    ("twentieth_u64", 0x19e8_586b),
    ("whole_and_milli", 0xcc8e_b8dd),
    ("whole_to_bits", 0xe5e6_4bea),
    ("widen", 0xd8d4_c62a),
    ("widen_u32", 0x1c68_5afa),
    ("wrapping_millis", 0x6171_317d),
    ("accumulate", 0x5ebb_ee56),
    ("add", 0x9140_37ed),
    ("add_bounded", 0xe3d8_4528),
    ("add_q8", 0xdb7c_0f1c),
    ("add_us", 0x74c6_3787),
    ("away", 0xebe3_c7c7),
    ("coarse", 0x66b4_2f8f),
    ("count_a_minute", 0xee96_6e20),
    ("count_share", 0xd1dc_7f54),
    ("decay_q30", 0xb78d_9b7e),
    ("drop_per_litre", 0x4a00_da5c),
    ("finer", 0x8b22_4d6d),
    ("fraction", 0x2fe0_1512),
    ("halved", 0x8c02_0f04),
    ("is_within_span", 0x904a_16e5),
    ("mean_of", 0x4560_b97d),
    ("mean_q16", 0xd803_2d52),
    ("mean_q8", 0xd7e0_6ed8),
    ("mean_us", 0x7b29_7fd9),
    ("mul_q16", 0x2955_17fa),
    ("mul_wide", 0x1962_82a1),
    ("on_grid", 0x3288_2bb1),
    ("part_of_tau", 0x22ca_1693),
    ("parts_in", 0x31c1_fbc9),
    ("parts_of", 0xc658_e747),
    ("per_hour_q16", 0x57b6_3674),
    ("per_litre_ratio", 0xfbdd_ec77),
    ("poiseuille_q16", 0x22fd_5848),
    ("portion_u32", 0x0c5e_5bd6),
    ("product", 0xfc1b_7380),
    ("push_bit", 0x9f26_fcb0),
    ("ratio_q16", 0x6a93_039d),
    ("resistive_drop", 0x3595_6b13),
    ("reynolds_q16", 0x94ca_b9fd),
    ("scaled_down", 0xa1d2_f24b),
    ("short_share_q16", 0x8d67_f487),
    ("span_ratio_q16", 0x3f8c_5082),
    ("sub", 0x88a5_3ca5),
    ("sum_of_three", 0x629f_aad3),
    ("weighted", 0xd66e_5068),
    ("within_period", 0xdfd4_f164),
    ("bend_share", 0x5e7e_d0b8),
    ("between", 0x2f4c_3b62),
    ("blasius_q16", 0x1faf_7e41),
    ("centi_pascal_to_q16", 0xcebe_10bf),
    ("crossing", 0xad58_efa1),
    ("dean_q16", 0xc96d_b0c6),
    ("lowpass", 0x18aa_4512),
    ("lowpass_wide", 0xea94_49f1),
    ("is_within_three", 0x33a9_d7c5),
    ("mean_finer", 0x8254_fda7),
    ("part_way", 0xa7a5_8307),
    ("resistance_q30", 0x2744_5741),
    ("scale_ratio", 0x76e3_685e),
    ("shared_scale", 0xfd15_71cf),
    ("spread_q16", 0x6311_2358),
    ("trapezoid", 0xaa84_55c1),
    ("steady", 0x8fc9_0631),
    ("along", 0x65bb_422a),
    ("difference_of_products", 0xb82b_665f),
    ("mean_is_within", 0x69c2_34b8),
    ("moment", 0x47a3_beb6),
    ("moved_squares", 0xc4eb_5d27),
    ("quotient", 0x932a_ceef),
    ("slope_q16", 0x43f8_eb6e),
    ("sum_of_products", 0x23f4_c12b),
    ("trapezoid_over", 0xb414_13b8),
    ("root_of_squares", 0x1d92_6827),
];
