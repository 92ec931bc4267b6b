//! A leak that is another with the head turned.

use crate::check::within;
use crate::error::ScenarioError;
use crate::noise::Noise;

/// Spread of the time that the head stays, as a share of it. Chosen here, no source.
const SPREAD: f64 = 0.3;

/// The head lies one way, then the other, and so on; the first is the one of the leak's own size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PositionSettings {
    /// Factor on the leak's size with the head turned, 0 to 20.
    pub factor: f64,
    /// How long the head stays either way in s, 2 to 3 600: by chance about a third more or less.
    pub stays: f64,
    /// Time constant in s with which the leak follows the head, 0 to 30.
    pub takes: f64,
}

impl PositionSettings {
    pub(crate) fn check(&self) -> Result<(), ScenarioError> {
        within("leak.position.factor", self.factor, 0.0, 20.0)?;
        within("leak.position.stays", self.stays, 2.0, 3_600.0)?;
        within("leak.position.takes", self.takes, 0.0, 30.0)
    }
}

/// How the head lies.
#[derive(Debug, Clone)]
pub(crate) struct Position {
    settings: Option<PositionSettings>,
    noise: Noise,
    turned: bool,
    until: f64,
    /// When it was last asked, s, and the factor then.
    at: f64,
    factor: f64,
}

impl Position {
    pub(crate) fn new(settings: Option<PositionSettings>, noise: Noise) -> Self {
        let mut position =
            Self { settings, noise, turned: false, until: 0.0, at: 0.0, factor: 1.0 };
        if let Some(settings) = settings {
            position.until = position.stay(settings);
        }
        position
    }

    fn stay(&mut self, settings: PositionSettings) -> f64 {
        settings.stays * (1.0 + SPREAD * self.noise.normal()).max(0.2)
    }

    /// Factor on the leak's size at a time, which never goes back.
    pub(crate) fn factor(&mut self, seconds: f64) -> f64 {
        let Some(settings) = self.settings else { return 1.0 };
        while seconds >= self.until {
            self.turned = !self.turned;
            self.until += self.stay(settings);
        }
        let dt = seconds - self.at;
        self.at = seconds;
        let target = if self.turned { settings.factor } else { 1.0 };
        if settings.takes > 0.0 {
            self.factor += (target - self.factor) * dt / (settings.takes + dt);
        } else {
            self.factor = target;
        }
        self.factor
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn factors(stays: f64, takes: f64) -> std::vec::Vec<f64> {
        let settings = PositionSettings { factor: 3.0, stays, takes };
        let mut position = Position::new(Some(settings), Noise::new(1, 3));
        (0..60_000).map(|i| position.factor(f64::from(i) / 100.0)).collect()
    }

    #[test]
    fn half_of_the_time_the_head_is_turned() {
        // 600 s in stays of 10 s: 60, within 4 of their spread of 3 s × √60 = 23 s, so 30 ± 5 % turned.
        let all = factors(10.0, 0.0);
        assert!(all[0] == 1.0 && all.iter().all(|f| *f == 1.0 || *f == 3.0));
        let turns = all.windows(2).filter(|pair| pair[0] != pair[1]).count();
        assert!((50..=70).contains(&turns), "{turns}");
        let turned = all.iter().filter(|f| **f == 3.0).count();
        assert!((25_000..35_000).contains(&turned), "{turned}");
    }

    #[test]
    fn it_follows_by_its_time_constant() {
        // Textbook: 1 + 2 × (1 − e⁻¹) = 2.264 after 2 s of 2; the backward step of 10 ms errs by 0.3 %.
        let all = factors(200.0, 2.0);
        let begins = all.iter().position(|f| *f > 1.0).unwrap();
        assert!((all[begins + 199] - 2.264).abs() < 0.01, "{}", all[begins + 199]);
    }

    #[test]
    fn without_it_no_number_is_drawn() {
        let mut position = Position::new(None, Noise::new(1, 3));
        assert_eq!((position.factor(0.0), position.factor(1e6)), (1.0, 1.0));
        assert_eq!(position.noise.normal(), Noise::new(1, 3).normal());
    }

    #[test]
    fn each_wrong_setting_is_named() {
        let right = PositionSettings { factor: 2.0, stays: 30.0, takes: 1.0 };
        assert_eq!(right.check(), Ok(()));
        for (wrong, name) in [
            (PositionSettings { factor: -0.1, ..right }, "leak.position.factor"),
            (PositionSettings { stays: 1.0, ..right }, "leak.position.stays"),
            (PositionSettings { takes: 31.0, ..right }, "leak.position.takes"),
        ] {
            assert_eq!(wrong.check().map_err(|e| e.parameter), Err(name));
        }
    }
}
