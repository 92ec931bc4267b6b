//! The arithmetic at its edges, down to the last bit: a digest for each operation over operands drawn
//! from the ends of their types, powers of two, their neighbours and numbers of every size.
//!
//! Whether a number is right is for `oracle.rs` and the tests beside each block. This one tells that
//! none changes unnoticed, as `bits.rs` does for what the monitor says. Where a change is meant, take
//! the lines that the failure prints.

use std::fmt::Debug;
use tidevane::quantity::{Record, Sink, Source, arith};

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
        #[expect(clippy::allow_attributes, reason = "trivial for one of the kinds only")]
        #[allow(trivial_numeric_casts, reason = "for `i128`")]
        impl Operand for $kind {
            fn draw(from: &mut Draw) -> Self {
                match from.next() % 16 {
                    0 => Self::MIN,
                    1 => Self::MAX,
                    // Cut to the type's width, so that every size is as frequent in each.
                    _ => (from.wide() >> (from.next() % 8 * 8)) as Self,
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
fn digest<R: Record + Debug>(mut result: impl FnMut(&mut Draw) -> R) -> (u32, u32) {
    let (mut draw, mut hash) = (Draw(0x9E37_79B9_7F4A_7C15), 0x811c_9dc5_u32);
    let mut bits = Fnv(hash);
    for _ in 0..3_000 {
        let result = result(&mut draw);
        for byte in format!("{result:?}").bytes() {
            hash = (hash ^ u32::from(byte)).wrapping_mul(0x0100_0193);
        }
        result.save(&mut bits);
    }
    (hash, bits.0)
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
        fn $digest<$($operand: Operand,)+ R: Record + Debug>(of: impl Fn($($operand),+) -> R) -> (u32, u32) {
            digest(|draw| of($($operand::draw(draw)),+))
        }
    };
}
operation!(one, A);
operation!(two, A, B);
operation!(three, A, B, C);
operation!(four, A, B, C, D);

macro_rules! digests {
    ($($arity:ident: $($name:ident),*;)*) => {
        vec![$($((stringify!($name), $arity(arith::$name)),)*)*]
    };
}

/// A result of 128 bits, walked as its upper and its lower half.
struct Wide(i128);

impl Record for Wide {
    fn save(&self, to: &mut impl Sink) {
        ((self.0 >> 64) as i64).save(to);
        (self.0 as u64).save(to);
    }

    fn load(from: &mut impl Source) -> Option<Self> {
        let (upper, lower) = <(i64, u64)>::load(from)?;
        Some(Self(i128::from(upper) << 64 | i128::from(lower)))
    }
}

impl Debug for Wide {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

#[test]
fn no_operation_changes_unnoticed() {
    let mut now = digests! {
        one: area_to_q12, area_to_q16, bend_ratio_q16, bit, c20_of_bend, eighth_u64,
            even_scale, half_power_q30, half_u16, hundredth, linear_per_ml, ln_q16,
            log2_q24, log_bin, log_edge, millis_to_us, minute_over, nearest_whole,
            per_litre, per_minute, percent_parts, q16_to_area, q30_to_q16, root_q16,
            seconds_and_millis, short_us, split_hundred, square_apart, square_per_ml,
            square_q16, square_q8, thrice, twentieth_u64, whole_and_milli, whole_to_bits,
            widen, widen_u32, wrapping_millis;
        two: a_minute_q8, accumulate, add, add_bounded, add_q8, add_us, away, coarse,
            count_a_minute, count_share, decay_q30, drop_per_litre, finer, five_times_rest,
            four_fifths, fraction, halved, held_and_moved_q30, inverse_tau, is_within_span,
            mean_of, mean_q16, mean_q8, mean_us, middle, mul_q16, mul_wide, narrowing_q16,
            on_grid, part_of_tau, parts_in, parts_of, per_hour_q16, per_litre_ratio,
            percent_of, poiseuille_q16, portion_u32, product, push_bit, ratio_q16,
            resistive_drop, reynolds_q16, scaled_down, share_q30, span_ratio_q16, sub,
            time_to_share, toward_u32, weighted, within_period;
        three: along_way, bend_share, between, blasius_q16, centi_pascal_to_q16, crossing,
            dean_q16, eased, is_within_three, mean_finer, part_way, relaxed, resistance_q30,
            scale_ratio, shared_scale, spread_q16, trapezoid;
        four: along, mean_is_within, moved_squares,
            quotient, slope_q16, trapezoid_over;
    };
    now.push(("root_of_squares", digest(|d| arith::root_of_squares(&<[u32; 3]>::draw(d)))));
    now.push((
        "difference_of_products",
        four(|a, b, c, d| Wide(arith::difference_of_products(a, b, c, d))),
    ));
    now.push(("moment", four(|a, b, c, d| Wide(arith::moment(a, b, c, d)))));
    now.push(("sum_of_three", two(|a, b| Wide(arith::sum_of_three(a, b)))));
    now.push(("sum_of_products", four(|a, b, c, d| Wide(arith::sum_of_products(a, b, c, d)))));
    let changed: Vec<_> = now.iter().filter(|line| !KNOWN.contains(line)).collect();
    for (name, (old, new)) in &changed {
        println!("    (\"{name}\", ({old:#010x}, {new:#010x})),");
    }
    assert!(changed.is_empty() && now.len() == KNOWN.len(), "{} changed", changed.len());
}

const KNOWN: &[(&str, (u32, u32))] = &[
    ("area_to_q12", (0xde17_b8f0, 0x4d47_7bf9)),
    ("area_to_q16", (0xd5e9_94ba, 0x6961_6772)),
    ("bend_ratio_q16", (0x8c3a_8fa8, 0xa9d3_124a)),
    ("bit", (0xe354_aa0f, 0xf81b_0e20)),
    ("c20_of_bend", (0x883c_831a, 0x55e1_163c)),
    ("eighth_u64", (0x140e_f38a, 0xee03_815f)),
    ("even_scale", (0x6ad2_d562, 0x999e_8587)),
    ("half_power_q30", (0x52bb_ab26, 0x9314_f1f0)),
    ("half_u16", (0xb187_1b88, 0xdeb4_aa25)),
    ("hundredth", (0x5774_0b6c, 0xa9e4_a005)),
    ("linear_per_ml", (0xd564_e921, 0xaab5_81d6)),
    ("ln_q16", (0xc144_4949, 0xd418_1ed8)),
    ("log2_q24", (0x828a_eeeb, 0x98d0_89ce)),
    ("log_bin", (0xfc4b_7222, 0xab38_583c)),
    ("log_edge", (0x3e9a_1d71, 0xa3e8_e86b)),
    ("millis_to_us", (0x9c93_a0ca, 0xeffb_1c32)),
    ("minute_over", (0x8cbd_c75a, 0x9ae6_63f7)),
    ("nearest_whole", (0x2978_cb1c, 0xd204_fcb4)),
    ("per_litre", (0x0b51_441b, 0x4d30_9a7a)),
    ("per_minute", (0xe034_2655, 0x29e5_fa02)),
    ("percent_parts", (0x2235_978c, 0xf223_a215)),
    ("q16_to_area", (0xc90f_67de, 0x0b2f_3925)),
    ("q30_to_q16", (0x2b75_cf8f, 0x0b34_7bd8)),
    ("root_q16", (0x4f52_39da, 0xed95_8872)),
    ("seconds_and_millis", (0x9508_f210, 0x4ea5_2734)),
    ("short_us", (0x3aad_0a35, 0x537d_0a2b)),
    ("split_hundred", (0xf3c0_9b6b, 0x1105_b4c4)),
    ("square_apart", (0xb975_ef06, 0x986f_521f)),
    ("square_per_ml", (0xbe2f_08dc, 0xa4f0_c9c6)),
    ("square_q16", (0x4646_79aa, 0xf608_6bea)),
    ("square_q8", (0xd919_53a2, 0x83e6_ef9a)),
    ("thrice", (0xfa87_6001, 0xdd24_65e9)),
    ("twentieth_u64", (0x8120_38cf, 0x19e8_586b)),
    ("whole_and_milli", (0xfe91_c017, 0xcc8e_b8dd)),
    ("whole_to_bits", (0xb970_a298, 0xe5e6_4bea)),
    ("widen", (0xf002_875f, 0xd8d4_c62a)),
    ("widen_u32", (0x1fc0_aed8, 0x1c68_5afa)),
    ("wrapping_millis", (0x0dd2_50b0, 0x6171_317d)),
    ("a_minute_q8", (0xab08_d62e, 0x77b1_f018)),
    ("accumulate", (0x1b98_618e, 0x5ebb_ee56)),
    ("add", (0xabe2_cac9, 0x9140_37ed)),
    ("add_bounded", (0x8988_72f7, 0xe3d8_4528)),
    ("add_q8", (0xe942_b7e6, 0xdb7c_0f1c)),
    ("add_us", (0xe701_2837, 0x74c6_3787)),
    ("away", (0xc613_d729, 0xebe3_c7c7)),
    ("coarse", (0x9080_3afd, 0x66b4_2f8f)),
    ("count_a_minute", (0x3b18_56fa, 0xee96_6e20)),
    ("count_share", (0x8f0b_d849, 0xd1dc_7f54)),
    ("decay_q30", (0xb386_9f10, 0xb78d_9b7e)),
    ("drop_per_litre", (0x4d7f_20b3, 0x4a00_da5c)),
    ("finer", (0x3a2a_f597, 0x8b22_4d6d)),
    ("five_times_rest", (0x8a28_4618, 0xec1b_1ee8)),
    ("four_fifths", (0x3bf7_0ee4, 0x7c10_5587)),
    ("fraction", (0x4e98_7587, 0x2fe0_1512)),
    ("halved", (0x1513_8070, 0x8c02_0f04)),
    ("held_and_moved_q30", (0xb713_2c1c, 0x4779_7155)),
    ("inverse_tau", (0x7e3c_d6a1, 0x8ea8_d63f)),
    ("is_within_span", (0x4301_40e1, 0x904a_16e5)),
    ("mean_of", (0x24c8_b7c6, 0x4560_b97d)),
    ("mean_q16", (0x27a6_4032, 0xd803_2d52)),
    ("mean_q8", (0xc63c_986a, 0xd7e0_6ed8)),
    ("mean_us", (0x2956_8ded, 0x7b29_7fd9)),
    ("middle", (0x2346_cadd, 0xce62_fe4f)),
    ("mul_q16", (0x6ec0_d0ce, 0x2955_17fa)),
    ("mul_wide", (0xda41_ab77, 0x1962_82a1)),
    ("narrowing_q16", (0x4296_652c, 0xa5e8_8327)),
    ("on_grid", (0x84dd_4f7c, 0x3288_2bb1)),
    ("part_of_tau", (0x0415_fdfc, 0x22ca_1693)),
    ("parts_in", (0x018c_5506, 0x31c1_fbc9)),
    ("parts_of", (0x60c4_5517, 0xc658_e747)),
    ("per_hour_q16", (0x1047_195f, 0x4cdf_2287)),
    ("per_litre_ratio", (0x6cf6_d457, 0xfbdd_ec77)),
    ("percent_of", (0x91ff_725c, 0x4a02_1ddd)),
    ("poiseuille_q16", (0x4374_3ebf, 0x22fd_5848)),
    ("portion_u32", (0x67c9_d082, 0x0c5e_5bd6)),
    ("product", (0xd23a_aa9d, 0xfc1b_7380)),
    ("push_bit", (0x25b5_bddf, 0x9f26_fcb0)),
    ("ratio_q16", (0xddc3_8a17, 0x6a93_039d)),
    ("resistive_drop", (0xa28d_2fc5, 0xa00f_d781)),
    ("reynolds_q16", (0x3e80_3afe, 0x94ca_b9fd)),
    ("scaled_down", (0xcc72_0e2a, 0xa1d2_f24b)),
    ("share_q30", (0x55cd_e79d, 0xc293_26a6)),
    ("span_ratio_q16", (0x3134_30ee, 0x9c9e_02bc)),
    ("sub", (0xaff5_30df, 0x88a5_3ca5)),
    ("sum_of_three", (0xeb5c_5ea5, 0x629f_aad3)),
    ("time_to_share", (0x16a3_6112, 0x0343_e56c)),
    ("toward_u32", (0x3232_2df6, 0x2198_a02b)),
    ("weighted", (0xbb83_e605, 0xd66e_5068)),
    ("within_period", (0x8506_72cf, 0xdfd4_f164)),
    ("along_way", (0xabf9_711a, 0x7b73_1e0d)),
    ("bend_share", (0x5890_2353, 0x5e7e_d0b8)),
    ("between", (0xf566_010f, 0x2f4c_3b62)),
    ("blasius_q16", (0xc6fa_55da, 0x1faf_7e41)),
    ("centi_pascal_to_q16", (0x31c5_78fe, 0xcebe_10bf)),
    ("crossing", (0x6ea6_df5e, 0xad58_efa1)),
    ("dean_q16", (0x14c1_e8ac, 0xc96d_b0c6)),
    ("eased", (0xae15_b192, 0xbbb2_e8f5)),
    ("is_within_three", (0x8216_72ef, 0x33a9_d7c5)),
    ("mean_finer", (0x1978_53b3, 0x8254_fda7)),
    ("part_way", (0xa09a_d0ac, 0xa7a5_8307)),
    ("relaxed", (0xf829_6b4c, 0x7ee8_8a94)),
    ("resistance_q30", (0xfb99_9467, 0xc549_db81)),
    ("scale_ratio", (0x45fa_3aca, 0x76e3_685e)),
    ("shared_scale", (0x4136_41a1, 0xfd15_71cf)),
    ("spread_q16", (0x2344_2eff, 0x6311_2358)),
    ("trapezoid", (0x229a_c4d2, 0x603d_d5a9)),
    ("along", (0xfbe9_0797, 0x65bb_422a)),
    ("difference_of_products", (0xeab5_9cbf, 0xb82b_665f)),
    ("mean_is_within", (0xd2d6_5554, 0x69c2_34b8)),
    ("moment", (0x0e79_c151, 0x47a3_beb6)),
    ("moved_squares", (0x6570_891c, 0xc4eb_5d27)),
    ("quotient", (0x97f6_c05a, 0x932a_ceef)),
    ("slope_q16", (0x89e1_83ec, 0x43f8_eb6e)),
    ("sum_of_products", (0x2bff_fd2b, 0x23f4_c12b)),
    ("trapezoid_over", (0x47a0_130c, 0xb414_13b8)),
    ("root_of_squares", (0x83ac_adf6, 0x1d92_6827)),
];
