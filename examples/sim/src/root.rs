//! The square root, bit for bit the same everywhere.

/// √x for x > 0 and 0 otherwise, by four Newton steps from a guess of 4 %.
pub(crate) fn root(x: f64) -> f64 {
    if x < 1e-300 || x.is_nan() {
        return 0.0;
    }
    // Halving the exponent in the bits; the added constant puts the guess within 4 %.
    let mut y = f64::from_bits((x.to_bits() >> 1) + 0x1ff7_a3be_a91d_9b1b);
    for _ in 0..4 {
        y = 0.5 * (y + x / y);
    }
    y
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn squares_come_back() {
        // Derived here: the square of the root is the number.
        for x in [1e-9, 0.02, 0.5, 1.0, 2.0, 3.999, 5.0, 20.0, 81.0, 12_345.678, 1e12] {
            let back = root(x) * root(x);
            assert!((back - x).abs() <= 1e-14 * x, "{x} {back}");
        }
        assert_eq!(root(0.0), 0.0);
        assert_eq!(root(-4.0), 0.0);
    }
}
