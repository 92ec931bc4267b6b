//! The arithmetic under fits, emptying and tubes, on any operand.

use crate::quantity::arith;
use proptest::prelude::*;

proptest! {
    /// The ratio of two wide numbers against double precision, and no pair that stops it.
    #[test]
    fn wide_ratios_are_near(
        n in any::<i128>(), d in any::<i128>(), down_n in 0_u32..127, down_d in 0_u32..127,
        times in any::<u32>(), power in -60_i32..60,
    ) {
        let (n, d) = (n >> down_n, d >> down_d);
        let got = arith::quotient(n, d, times, power);
        if d == 0 {
            prop_assert_eq!(got, None);
            return Ok(());
        }
        let want = n as f64 / d as f64 * f64::from(times) * 2_f64.powi(power);
        let got = got.unwrap();
        if got.saturated {
            prop_assert!(want.abs() > 2_147_483_646.0, "{want}");
        } else {
            prop_assert!((f64::from(got.value) - want).abs() <= 0.5 + 3e-9 * want.abs(), "{want}");
        }
    }

    /// Nothing in the tubes' and emptyings' arithmetic stops at any operand.
    #[test]
    fn no_operand_stops(a in any::<i32>(), b in any::<i32>(), w in any::<i64>(), x in any::<i64>(), t in any::<u8>()) {
        let (u, v) = (w.unsigned_abs(), x.unsigned_abs());
        let short = (a.unsigned_abs() & 0xffff) as u16;
        let _ = arith::resistive_drop(arith::resistance_q30(w, x, a), b);
        let _ = (arith::per_litre_ratio(a, b), arith::drop_per_litre(a, b));
        let _ = (arith::linear_per_ml(a), arith::square_per_ml(a));
        let _ = (arith::poiseuille_q16(t, short), arith::blasius_q16(a, t, short));
        let _ = (arith::nearest_whole(u), arith::dean_q16(u, t, short), arith::bend_ratio_q16(u));
        let _ = (arith::decay_q30(u, v), arith::decay_q30(u >> t.min(63), v));
        let _ = (arith::half_power_q30(u), arith::log2_q24(u));
        let _ = arith::area_to_q12(w);
        let _ = (arith::weighted(a, b), arith::coarse(a, u32::from(t)));
        let _ = arith::q30_to_q16(b.unsigned_abs());
        let own = arith::moment(b.unsigned_abs(), w, x, w);
        let scale = arith::even_scale(own);
        let _ = arith::scaled_down(own, scale.unwrap_or(i32::from(t) - 128));
        let _ = (arith::mean_finer(w >> 17, t.into(), 16), arith::is_within_three(u, v, a.unsigned_abs()));
        let _ = (arith::difference_of_products(w, x, x, x), arith::sum_of_products(w, w, x, x));
        let _ = arith::shared_scale(own, i128::MIN, 0);
    }
}
