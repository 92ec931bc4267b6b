//! The infant's own muscle pressure.

use crate::check::{positive, within};
use crate::cry::CrySettings;
use crate::error::ScenarioError;
use crate::hiccup::{HiccupSettings, Hiccups};
use crate::noise::Noise;
use crate::schedule::{Schedule, Windows};
use core::f32::consts::{FRAC_PI_2, PI};
use micromath::F32Ext;

/// Where in an effort its peak lies.
const PEAK_AT: f64 = 0.62;

/// Pulses of muscle pressure: a sine-like rise, a peak at 62 % and a quicker fall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EffortSettings {
    /// Efforts per minute over time, 0 to 150; 0 is a passive infant.
    pub rate: Schedule,
    /// Peak muscle pressure in cmH2O over time, 0 to 40.
    pub amplitude: Schedule,
    /// Length of an effort in s, 0.05 to 3.
    pub duration: f64,
    /// Start of the first effort in s, 0 to 60.
    pub first: f64,
    /// Spread of the time between efforts as a share of it, 0 to 0.5.
    pub rate_jitter: f64,
    /// Spread of the amplitude as a share of it, 0 to 0.5.
    pub amplitude_jitter: f64,
    /// Spread of the duration as a share of it, 0 to 0.3.
    pub duration_jitter: f64,
    /// Windows without efforts.
    pub apnoea: Windows,
    /// Every how many efforts one is a sigh; 0 for never.
    pub sigh_every: u32,
    /// Factor on the amplitude of a sigh, 1 to 10.
    pub sigh_factor: f64,
    /// Hiccups beside all that.
    pub hiccup: Option<HiccupSettings>,
    /// Spells of crying.
    pub cry: Option<CrySettings>,
}

impl Default for EffortSettings {
    /// 45 efforts a minute of 3 cmH2O and 0.35 s, a little irregular.
    fn default() -> Self {
        Self {
            rate: Schedule::constant(45.0),
            amplitude: Schedule::constant(3.0),
            duration: 0.35,
            first: 0.8,
            rate_jitter: 0.12,
            amplitude_jitter: 0.15,
            duration_jitter: 0.08,
            apnoea: Windows::none(),
            sigh_every: 0,
            sigh_factor: 2.5,
            hiccup: None,
            cry: None,
        }
    }
}

impl EffortSettings {
    pub(crate) fn check(&self) -> Result<(), ScenarioError> {
        self.rate.check("effort.rate", 0.0, 150.0)?;
        self.amplitude.check("effort.amplitude", 0.0, 40.0)?;
        positive("effort.duration", self.duration, 3.0)?;
        within("effort.duration", self.duration, 0.05, 3.0)?;
        within("effort.first", self.first, 0.0, 60.0)?;
        within("effort.rate_jitter", self.rate_jitter, 0.0, 0.5)?;
        within("effort.amplitude_jitter", self.amplitude_jitter, 0.0, 0.5)?;
        within("effort.duration_jitter", self.duration_jitter, 0.0, 0.3)?;
        within("effort.sigh_factor", self.sigh_factor, 1.0, 10.0)?;
        if let Some(hiccup) = &self.hiccup {
            hiccup.check()?;
        }
        if let Some(cry) = &self.cry {
            cry.check()?;
        }
        self.apnoea.check("effort.apnoea")
    }
}

/// One effort: times in s, amplitude in cmH2O.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pulse {
    pub(crate) start: f64,
    pub(crate) duration: f64,
    pub(crate) amplitude: f64,
    pub(crate) hiccup: bool,
}

impl Pulse {
    pub(crate) fn peak(&self) -> f64 {
        self.start + PEAK_AT * self.duration
    }

    pub(crate) fn end(&self) -> f64 {
        self.start + self.duration
    }

    /// Muscle pressure at a time, cmH2O.
    pub(crate) fn pressure(&self, seconds: f64) -> f64 {
        let part = (seconds - self.start) / self.duration;
        if part <= 0.0 || part >= 1.0 {
            return 0.0;
        }
        // Named through the trait: the standard library's own sine differs between platforms.
        let height = if part < PEAK_AT {
            F32Ext::sin((part / PEAK_AT) as f32 * FRAC_PI_2)
        } else {
            0.5 + 0.5 * F32Ext::cos(((part - PEAK_AT) / (1.0 - PEAK_AT)) as f32 * PI)
        };
        self.amplitude * f64::from(height).clamp(0.0, 1.0)
    }
}

/// Makes one effort after another.
#[derive(Debug, Clone)]
pub(crate) struct Effort {
    settings: EffortSettings,
    noise: Noise,
    rate: f64,
    amplitude: f64,
    next: Option<f64>,
    count: u32,
    now: Option<Pulse>,
    /// Crying, where the latest effort began in it.
    cry: Option<CrySettings>,
    hiccups: Hiccups,
}

impl Effort {
    pub(crate) fn new(settings: &EffortSettings, noise: Noise, hiccups: Noise) -> Self {
        Self {
            settings: *settings,
            noise,
            rate: 0.0,
            amplitude: 0.0,
            next: Some(settings.first),
            count: 0,
            now: None,
            cry: None,
            hiccups: Hiccups::new(settings.hiccup, hiccups),
        }
    }

    /// Takes the rate and amplitude of a time.
    pub(crate) fn refresh(&mut self, seconds: f64) {
        self.rate = self.settings.rate.at(seconds);
        self.amplitude = self.settings.amplitude.at(seconds);
    }

    /// The effort or hiccup that starts at this time, if one does.
    pub(crate) fn begin(&mut self, seconds: f64) -> Option<Pulse> {
        let presses = self.cry.map_or(0.0, |cry| cry.duration);
        let busy = self.now.is_some_and(|pulse| seconds < pulse.end() + presses);
        if let Some((duration, amplitude)) = self.hiccups.begin(seconds, busy) {
            self.now = Some(Pulse { start: seconds, duration, amplitude, hiccup: true });
            self.cry = None;
            return self.now;
        }
        self.begin_breath(seconds, busy)
    }

    fn begin_breath(&mut self, seconds: f64, busy: bool) -> Option<Pulse> {
        if self.rate <= 0.0 {
            self.next = None;
            return None;
        }
        let Some(due) = self.next else {
            self.next = Some(seconds + self.interval());
            return None;
        };
        if seconds < due || busy {
            return None;
        }
        let interval = self.interval();
        self.next = Some(due.max(seconds - interval) + interval);
        if self.settings.apnoea.contains(seconds) || self.amplitude <= 0.0 {
            return None;
        }
        self.count = self.count.wrapping_add(1);
        let sigh = self.count.checked_rem(self.settings.sigh_every) == Some(0);
        self.cry = self.settings.cry.filter(|cry| cry.when.contains(seconds));
        let depth = self.cry.map_or(1.0, |cry| cry.depth);
        let factor = if sigh { self.settings.sigh_factor } else { 1.0 } * depth;
        let pulse = Pulse {
            start: seconds,
            duration: self.settings.duration * self.spread(self.settings.duration_jitter),
            amplitude: self.amplitude * factor * self.spread(self.settings.amplitude_jitter),
            hiccup: false,
        };
        self.now = Some(pulse);
        Some(pulse)
    }

    /// Muscle pressure at a time, cmH2O; below zero where the infant presses out.
    pub(crate) fn pressure(&self, seconds: f64) -> f64 {
        let Some(pulse) = self.now else { return 0.0 };
        match self.cry {
            Some(cry) if seconds > pulse.end() => -cry.pressure(seconds - pulse.end()),
            Some(_) | None => pulse.pressure(seconds),
        }
    }

    fn interval(&mut self) -> f64 {
        60.0 / self.rate * self.spread(self.settings.rate_jitter)
    }

    /// A factor near one, never below a fifth.
    fn spread(&mut self, share: f64) -> f64 {
        if share <= 0.0 { 1.0 } else { (1.0 + share * self.noise.normal()).max(0.2) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::vec::Vec;

    #[test]
    fn the_peak_lies_at_62_percent_and_the_fall_is_quicker() {
        // Derived here from the shape: half of the peak at a third of the rise (sin 30°) and at
        // the middle of the fall.
        let pulse = Pulse { start: 1.0, duration: 1.0, amplitude: 4.0, hiccup: false };
        assert!((pulse.pressure(1.62) - 4.0).abs() < 0.01);
        assert!((pulse.pressure(1.0 + 0.62 / 3.0) - 2.0).abs() < 0.01);
        assert!((pulse.pressure(1.81) - 2.0).abs() < 0.01);
        assert_eq!([0.9, 2.0].map(|t| pulse.pressure(t)), [0.0, 0.0]);
        assert!(pulse.peak() - pulse.start > pulse.end() - pulse.peak());
    }

    fn starts(settings: &EffortSettings, seconds: u32) -> Vec<Pulse> {
        let mut effort = Effort::new(settings, Noise::new(3, 0), Noise::new(3, 4));
        (0..seconds * 1_000)
            .filter_map(|ms| {
                effort.refresh(f64::from(ms) / 1_000.0);
                effort.begin(f64::from(ms) / 1_000.0)
            })
            .collect()
    }

    #[test]
    fn rate_apnoea_and_sighs_are_kept() {
        let steady = EffortSettings { rate_jitter: 0.0, ..EffortSettings::default() };
        // 45 a minute from 0.8 s on: 0.8 + 44 × 4/3 = 59.47 s is the 45th.
        assert_eq!(starts(&steady, 60).len(), 45);
        let pause = EffortSettings { apnoea: Windows::none().and(20.0, 40.0), ..steady };
        assert!(starts(&pause, 60).iter().all(|p| p.start < 20.0 || p.start >= 40.0));
        assert_eq!(starts(&pause, 60).len(), 30);
        let still = EffortSettings { rate: Schedule::constant(0.0).then(30.0, 60.0), ..steady };
        assert!((28..=30).contains(&starts(&still, 60).len()));
        let sighing = EffortSettings { sigh_every: 10, amplitude_jitter: 0.0, ..steady };
        let large = starts(&sighing, 60).iter().filter(|p| p.amplitude > 7.0).count();
        assert_eq!(large, 4);
    }

    #[test]
    fn a_hiccup_and_an_effort_wait_for_each_other() {
        let steady = EffortSettings { rate: Schedule::constant(60.0), ..EffortSettings::default() };
        let when = Windows::none().and(0.0, 60.0);
        let hiccup = HiccupSettings { when, rate: 30.0, amplitude: 12.0, duration: 0.15 };
        let with = EffortSettings { hiccup: Some(hiccup), ..steady };
        let (bare, all) = (starts(&steady, 60), starts(&with, 60));
        assert!(all.windows(2).all(|p| p[1].start >= p[0].end()));
        let (hiccups, breaths): (Vec<_>, Vec<_>) = all.into_iter().partition(|p| p.hiccup);
        // 30 a minute, the first after an interval, each later by 0.35 s of 1 s × 0.17 s = 0.06 s: 28.
        assert!((26..=30).contains(&hiccups.len()), "{}", hiccups.len());
        assert!(breaths.len().abs_diff(bare.len()) <= 1, "{} {}", breaths.len(), bare.len());
        // The rhythm of breathing draws the same numbers as without.
        let size = |p: &Pulse| p.amplitude.to_bits();
        assert!(breaths.iter().zip(&bare).all(|(a, b)| size(a) == size(b)));
    }

    #[test]
    fn crying_is_deep_and_presses_between_efforts() {
        // 0.35 s of effort and 0.85 s of pressing: 1.2 s each, so 25 within 30 s of a rate that asks for 30.
        let steady = EffortSettings {
            rate: Schedule::constant(60.0),
            rate_jitter: 0.0,
            amplitude_jitter: 0.0,
            duration_jitter: 0.0,
            ..EffortSettings::default()
        };
        let when = Windows::none().and(20.0, 50.0);
        let cry = CrySettings { when, depth: 2.0, press: 20.0, duration: 0.85 };
        let all = starts(&EffortSettings { cry: Some(cry), ..steady }, 60);
        let deep = all.iter().filter(|p| p.amplitude == 6.0).count();
        assert!((24..=26).contains(&deep), "{deep}");
        assert!(all.iter().all(|p| (p.amplitude == 6.0) == (20.0..50.0).contains(&p.start)));

        let mut effort = Effort::new(
            &EffortSettings { cry: Some(cry), ..steady },
            Noise::new(1, 0),
            Noise::new(1, 4),
        );
        effort.refresh(20.0);
        let start = effort.begin(20.0).unwrap().start;
        // 62 % of 0.35 s is 0.217; half of 0.85 s after 0.35 is 0.775; gone after 1.2 s.
        assert!((effort.pressure(start + 0.217) - 6.0).abs() < 0.02);
        assert!((effort.pressure(start + 0.775) + 20.0).abs() < 0.05);
        assert_eq!(effort.pressure(start + 1.21), 0.0);
    }

    #[test]
    fn efforts_never_overlap() {
        // Derived here: 150 a minute leave 0.4 s for an effort of 0.6 s; each waits for the last.
        let crowded = EffortSettings {
            rate: Schedule::constant(150.0),
            duration: 0.6,
            ..EffortSettings::default()
        };
        let all = starts(&crowded, 60);
        assert!(all.len() > 80 && all.windows(2).all(|p| p[1].start >= p[0].end()));
    }
}
