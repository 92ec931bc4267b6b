//! Pressure that swings by gas bubbling through water.

use crate::noise::Noise;
use crate::schedule::Schedule;
use core::f32::consts::TAU;
use micromath::F32Ext;

/// Swings a second: the middle, and how far most stray from it.
const RATE: f64 = 8.0;
const STRAY: f64 = 1.0;
const LEAST: f64 = 5.0;
const MOST: f64 = 11.0;

/// Sines of one swing each, of changing length and size.
#[derive(Debug, Clone)]
pub(crate) struct Bubbles {
    amplitude: Schedule,
    noise: Noise,
    /// How far the swing under way has come, 0 to 1; its rate and its size.
    phase: f64,
    rate: f64,
    size: f64,
}

impl Bubbles {
    pub(crate) fn new(amplitude: Schedule, noise: Noise) -> Self {
        Self { amplitude, noise, phase: 0.0, rate: RATE, size: 1.0 }
    }

    /// What is added to the airway pressure during a step, cmH2O.
    pub(crate) fn step(&mut self, now: f64, dt: f64) -> f64 {
        let amplitude = self.amplitude.at(now);
        if amplitude <= 0.0 {
            return 0.0;
        }
        self.phase += self.rate * dt;
        if self.phase >= 1.0 {
            self.phase -= 1.0;
            self.rate = (RATE + STRAY * self.noise.normal()).clamp(LEAST, MOST);
            self.size = (1.0 + 0.3 * self.noise.normal()).clamp(0.2, 1.8);
        }
        // Named through the trait: the standard library's own sine differs between platforms.
        amplitude * self.size * f64::from(F32Ext::sin(self.phase as f32 * TAU))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn five_to_eleven_swings_a_second_about_nothing() {
        let mut bubbles = Bubbles::new(Schedule::constant(1.0), Noise::new(1, 2));
        let (mut sum, mut most, mut crossings, mut last) = (0.0, 0.0_f64, 0, 0.0);
        for i in 0..20_000 {
            let p = bubbles.step(f64::from(i) * 5e-4, 5e-4);
            sum += p / 20_000.0;
            most = most.max(p);
            crossings += i32::from(last < 0.0 && p >= 0.0);
            last = p;
        }
        // 8 a second for 10 s
        assert!((70..=90).contains(&crossings), "{crossings}");
        assert!(sum.abs() < 0.02 && most < 1.81, "{sum} {most}");
    }
}
