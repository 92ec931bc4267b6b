//! The arithmetic at its edges, down to the last bit: a digest for each operation over operands drawn
//! from the ends of their types, powers of two, their neighbours and numbers of every size.
//!
//! Whether a number is right is for `oracle.rs` and the tests beside each block. This one tells that
//! none changes unnoticed, as `bits.rs` does for what the monitor says. Where a change is meant, take
//! the lines that the failure prints.

use std::fmt::Debug;
use tidevane::quantity::arith;

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

/// FNV-1a of 32 bits (G. Fowler, L. C. Noll, K.-P. Vo, RFC 9923; the number from memory) over 3 000 results as `Debug` prints
/// them.
fn digest<R: Debug>(mut result: impl FnMut(&mut Draw) -> R) -> u32 {
    let (mut draw, mut hash) = (Draw(0x9E37_79B9_7F4A_7C15), 0x811c_9dc5_u32);
    for _ in 0..3_000 {
        for byte in format!("{:?}", result(&mut draw)).bytes() {
            hash = (hash ^ u32::from(byte)).wrapping_mul(0x0100_0193);
        }
    }
    hash
}

macro_rules! operation {
    ($digest:ident, $($operand:ident),+) => {
        fn $digest<$($operand: Operand,)+ R: Debug>(of: fn($($operand),+) -> R) -> u32 {
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
            sum_of_three, time_to_share, toward_u32, weighted, within_period;
        three: along_way, bend_share, between, blasius_q16, centi_pascal_to_q16, crossing,
            dean_q16, eased, is_within_three, mean_finer, part_way, relaxed, resistance_q30,
            scale_ratio, shared_scale, spread_q16, trapezoid;
        four: along, difference_of_products, mean_is_within, moment, moved_squares,
            quotient, slope_q16, sum_of_products, trapezoid_over;
    };
    now.push(("root_of_squares", digest(|d| arith::root_of_squares(&<[u32; 3]>::draw(d)))));
    let changed: Vec<_> = now.iter().filter(|line| !KNOWN.contains(line)).collect();
    for (name, digest) in &changed {
        println!("    (\"{name}\", {digest:#010x}),");
    }
    assert!(changed.is_empty() && now.len() == KNOWN.len(), "{} changed", changed.len());
}

const KNOWN: &[(&str, u32)] = &[
    ("area_to_q12", 0xde17_b8f0),
    ("area_to_q16", 0xd5e9_94ba),
    ("bend_ratio_q16", 0x8c3a_8fa8),
    ("bit", 0xe354_aa0f),
    ("c20_of_bend", 0x883c_831a),
    ("eighth_u64", 0x140e_f38a),
    ("even_scale", 0x6ad2_d562),
    ("half_power_q30", 0x52bb_ab26),
    ("half_u16", 0xb187_1b88),
    ("hundredth", 0x5774_0b6c),
    ("linear_per_ml", 0xd564_e921),
    ("ln_q16", 0xc144_4949),
    ("log2_q24", 0x828a_eeeb),
    ("log_bin", 0xfc4b_7222),
    ("log_edge", 0x3e9a_1d71),
    ("millis_to_us", 0x9c93_a0ca),
    ("minute_over", 0x8cbd_c75a),
    ("nearest_whole", 0x2978_cb1c),
    ("per_litre", 0x0b51_441b),
    ("per_minute", 0xe034_2655),
    ("percent_parts", 0x2235_978c),
    ("q16_to_area", 0xc90f_67de),
    ("q30_to_q16", 0x2b75_cf8f),
    ("root_q16", 0x4f52_39da),
    ("seconds_and_millis", 0x9508_f210),
    ("short_us", 0x3aad_0a35),
    ("split_hundred", 0xf3c0_9b6b),
    ("square_apart", 0xb975_ef06),
    ("square_per_ml", 0xbe2f_08dc),
    ("square_q16", 0x4646_79aa),
    ("square_q8", 0xd919_53a2),
    ("thrice", 0xfa87_6001),
    ("twentieth_u64", 0x8120_38cf),
    ("whole_and_milli", 0xfe91_c017),
    ("whole_to_bits", 0xb970_a298),
    ("widen", 0xf002_875f),
    ("widen_u32", 0x1fc0_aed8),
    ("wrapping_millis", 0x0dd2_50b0),
    ("a_minute_q8", 0xab08_d62e),
    ("accumulate", 0x1b98_618e),
    ("add", 0xabe2_cac9),
    ("add_bounded", 0x8988_72f7),
    ("add_q8", 0xe942_b7e6),
    ("add_us", 0xe701_2837),
    ("away", 0xc613_d729),
    ("coarse", 0x9080_3afd),
    ("count_a_minute", 0x3b18_56fa),
    ("count_share", 0x8f0b_d849),
    ("decay_q30", 0xb386_9f10),
    ("drop_per_litre", 0x4d7f_20b3),
    ("finer", 0x3a2a_f597),
    ("five_times_rest", 0x8a28_4618),
    ("four_fifths", 0x3bf7_0ee4),
    ("fraction", 0x4e98_7587),
    ("halved", 0x1513_8070),
    ("held_and_moved_q30", 0xb713_2c1c),
    ("inverse_tau", 0x7e3c_d6a1),
    ("is_within_span", 0x4301_40e1),
    ("mean_of", 0x24c8_b7c6),
    ("mean_q16", 0x27a6_4032),
    ("mean_q8", 0xc63c_986a),
    ("mean_us", 0x2956_8ded),
    ("middle", 0x2346_cadd),
    ("mul_q16", 0x6ec0_d0ce),
    ("mul_wide", 0xda41_ab77),
    ("narrowing_q16", 0x4296_652c),
    ("on_grid", 0x84dd_4f7c),
    ("part_of_tau", 0x0415_fdfc),
    ("parts_in", 0x018c_5506),
    ("parts_of", 0x60c4_5517),
    ("per_hour_q16", 0x1047_195f),
    ("per_litre_ratio", 0x6cf6_d457),
    ("percent_of", 0x91ff_725c),
    ("poiseuille_q16", 0x4374_3ebf),
    ("portion_u32", 0x67c9_d082),
    ("product", 0xd23a_aa9d),
    ("push_bit", 0x25b5_bddf),
    ("ratio_q16", 0xddc3_8a17),
    ("resistive_drop", 0xa28d_2fc5),
    ("reynolds_q16", 0x3e80_3afe),
    ("scaled_down", 0xcc72_0e2a),
    ("share_q30", 0x55cd_e79d),
    ("span_ratio_q16", 0x3134_30ee),
    ("sub", 0xaff5_30df),
    ("sum_of_three", 0xeb5c_5ea5),
    ("time_to_share", 0x16a3_6112),
    ("toward_u32", 0x3232_2df6),
    ("weighted", 0xbb83_e605),
    ("within_period", 0x8506_72cf),
    ("along_way", 0xabf9_711a),
    ("bend_share", 0x5890_2353),
    ("between", 0xf566_010f),
    ("blasius_q16", 0xc6fa_55da),
    ("centi_pascal_to_q16", 0x31c5_78fe),
    ("crossing", 0x6ea6_df5e),
    ("dean_q16", 0x14c1_e8ac),
    ("eased", 0xae15_b192),
    ("is_within_three", 0x8216_72ef),
    ("mean_finer", 0x1978_53b3),
    ("part_way", 0xa09a_d0ac),
    ("relaxed", 0xf829_6b4c),
    ("resistance_q30", 0xfb99_9467),
    ("scale_ratio", 0x45fa_3aca),
    ("shared_scale", 0x4136_41a1),
    ("spread_q16", 0x2344_2eff),
    ("trapezoid", 0x229a_c4d2),
    ("along", 0xfbe9_0797),
    ("difference_of_products", 0xeab5_9cbf),
    ("mean_is_within", 0xd2d6_5554),
    ("moment", 0x0e79_c151),
    ("moved_squares", 0x6570_891c),
    ("quotient", 0x97f6_c05a),
    ("slope_q16", 0x89e1_83ec),
    ("sum_of_products", 0x2bff_fd2b),
    ("trapezoid_over", 0x47a0_130c),
    ("root_of_squares", 0x83ac_adf6),
];
