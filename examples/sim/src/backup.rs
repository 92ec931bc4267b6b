//! Inflations by the clock while no trigger comes.

use crate::check::within;
use crate::error::ScenarioError;

/// Slack for comparing times that are sums of steps, s.
const SLACK: f64 = 1e-9;

/// A backup rate: full inflations by the clock from a pause until the next trigger.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BackupSettings {
    /// How long no trigger has come when the first inflation is given, in s, 2 to 60.
    pub after: f64,
    /// Inflations per minute from then on, 5 to 120.
    pub rate: f64,
}

impl BackupSettings {
    pub(crate) fn check(&self) -> Result<(), ScenarioError> {
        within("machine.backup.after", self.after, 2.0, 60.0)?;
        within("machine.backup.rate", self.rate, 5.0, 120.0)
    }
}

/// When the machine last heard the infant, and when it inflates instead.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Backup {
    settings: Option<BackupSettings>,
    /// When the next inflation is due, s; infinite where there is no backup.
    due: f64,
}

impl Backup {
    pub(crate) fn new(settings: Option<BackupSettings>) -> Self {
        let mut backup = Self { settings, due: f64::INFINITY };
        backup.heard(0.0);
        backup
    }

    /// The infant passed the threshold.
    pub(crate) fn heard(&mut self, now: f64) {
        if let Some(settings) = self.settings {
            self.due = now + settings.after;
        }
    }

    /// Whether an inflation is due; it is taken as given.
    pub(crate) fn gives(&mut self, now: f64) -> bool {
        let due = now >= self.due - SLACK;
        if let (true, Some(settings)) = (due, self.settings) {
            self.due = now + 60.0 / settings.rate;
        }
        due
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_waits_then_keeps_its_rate_until_the_infant_is_heard() {
        // Heard at 1 s, 6 s of patience, 30 a minute: 7, 9, 11, 13 s; heard at 14 s: 20 s.
        let mut backup = Backup::new(Some(BackupSettings { after: 6.0, rate: 30.0 }));
        let mut given = std::vec::Vec::new();
        for tenth in 0..=210 {
            let now = f64::from(tenth) / 10.0;
            if tenth == 10 || tenth == 140 {
                backup.heard(now);
            }
            if backup.gives(now) {
                given.push(tenth);
            }
        }
        assert_eq!(given, [70, 90, 110, 130, 200]);
        assert!(!Backup::new(None).gives(1e9));
    }

    #[test]
    fn each_wrong_setting_is_named() {
        let named = |after, rate| BackupSettings { after, rate }.check().map_err(|e| e.parameter);
        assert_eq!(named(2.0, 120.0), Ok(()));
        assert_eq!(named(1.9, 30.0), Err("machine.backup.after"));
        assert_eq!(named(10.0, 121.0), Err("machine.backup.rate"));
    }
}
