//! Numbers that look random and are not: the same seed gives the same run.

/// A 64-bit shift-register generator with a multiplying output step.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Noise(u64);

impl Noise {
    /// An independent stream for one purpose of one run.
    pub(crate) const fn new(seed: u64, stream: u64) -> Self {
        // Mixes neighbouring seeds apart; the register must not start at zero.
        let mut z = seed.wrapping_add(stream.wrapping_add(1).wrapping_mul(0x9e37_79b9_7f4a_7c15));
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        Self((z ^ (z >> 31)) | 1)
    }

    const fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_f491_4f6c_dd1d)
    }

    /// Nearly normal, mean 0 and spread 1, never beyond ±6: twelve uniform 16-bit numbers summed.
    pub(crate) fn normal(&mut self) -> f64 {
        let mut sum = 0_u32;
        for _ in 0..3 {
            let word = self.next();
            for shift in [0, 16, 32, 48] {
                sum += ((word >> shift) & 0xffff) as u32;
            }
        }
        // mean of the sum: 12 × 65 535 ÷ 2 = 393 210; spread 65 536 × √(12/12)
        (f64::from(sum) - 393_210.0) / 65_536.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mean_and_spread_are_those_of_a_normal() {
        // Derived here: the error of the mean of 40 000 draws is 0.005, of the variance 0.007.
        let mut noise = Noise::new(7, 0);
        let (mut sum, mut squares) = (0.0, 0.0);
        for _ in 0..40_000 {
            let x = noise.normal();
            sum += x;
            squares += x * x;
        }
        assert!((sum / 40_000.0).abs() < 0.02, "{sum}");
        assert!((squares / 40_000.0 - 1.0).abs() < 0.03, "{squares}");
    }

    #[test]
    fn seeds_and_streams_differ() {
        let draw = |seed, stream| Noise::new(seed, stream).normal().to_bits();
        assert_eq!(draw(1, 0), draw(1, 0));
        assert_ne!(draw(1, 0), draw(2, 0));
        assert_ne!(draw(1, 0), draw(1, 1));
    }
}
