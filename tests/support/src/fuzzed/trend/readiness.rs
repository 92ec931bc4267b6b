//! The published tests along a stretch against a second count.
//!
//! - The tally is that of its breaths; ratio, time below and settings are those of a second count.
//! - The trial is that of events made of the signs.
//! - Outside a stretch nothing changes.

use super::sums::Sums;
use super::taken::Taken;
use super::trial::{Book, Event};
use crate::fuzzed::words::said;
use tidevane::alarm::VitalSigns;
use tidevane::bedside::{BelowShare, Met, NoBelowShare, NoRatio, RatioOutcome};
use tidevane::quantity::{Duration, Instant, Mass, MinuteVolumePerKg, Volume};
use tidevane::trend::{Before, Readiness, ReadinessState};

#[derive(Default)]
struct BelowSpans {
    below: Duration,
    known: Duration,
    unknown: Duration,
}

pub(super) struct Stretch {
    readiness: Readiness,
    state: ReadinessState,
    is_running: bool,
    weight: Option<Mass>,
    from: Instant,
    to: Instant,
    sums: Sums,
    below: BelowSpans,
    trial: Book,
    /// Unwatched, slow, low.
    on: [bool; 3],
}

impl Stretch {
    pub(super) fn new(weight: Option<Mass>) -> Self {
        let readiness = Readiness::default();
        Self {
            readiness: weight.map_or(readiness, |weight| readiness.with_weight(weight)),
            state: ReadinessState::default(),
            is_running: false,
            weight,
            from: Instant::default(),
            to: Instant::default(),
            sums: Sums::default(),
            below: BelowSpans::default(),
            trial: Book::default(),
            on: [false; 3],
        }
    }

    pub(super) fn begin(&mut self, at: Instant, before: Before, signs: VitalSigns) {
        self.readiness.begin(&mut self.state, at, before, signs);
        assert_eq!(self.state.before(), &before);
        self.is_running = true;
        (self.from, self.to, self.on) = (at, at, [false; 3]);
        (self.sums, self.below) = (Sums::default(), BelowSpans::default());
        self.trial.take(at, Event::Begins);
        self.shown(at, signs);
        self.holds();
    }

    pub(super) fn signs(&mut self, at: Instant, signs: VitalSigns) {
        let was = self.state;
        self.readiness.set_vital_signs(&mut self.state, at, signs);
        if !self.is_running {
            assert_eq!(self.state, was);
            return;
        }
        self.shown(at, signs);
        self.holds();
    }

    fn shown(&mut self, at: Instant, signs: VitalSigns) {
        let now = [
            signs.heart_rate.is_none() || signs.saturation.is_none(),
            signs.heart_rate.is_some_and(|rate| rate < 100),
            signs.saturation.is_some_and(|percent| percent < 85),
        ];
        let events = [Event::Unwatched, Event::Slow, Event::Low];
        for ((was, now), event) in self.on.into_iter().zip(now).zip(events) {
            if was != now {
                self.trial.take(at, event(now));
            }
        }
        self.on = now;
    }

    pub(super) fn breath(&mut self, at: Instant, breath: &Taken) {
        let was = self.state;
        // The volume a minute that the breath alone would make.
        let minute = breath.volume;
        self.readiness.breath(&mut self.state, at, &breath.breath(), minute);
        if !self.is_running {
            assert_eq!(self.state, was);
            return;
        }
        self.to = self.to.max(at);
        self.sums.take(breath);
        let per_kg = minute.filter(|_| breath.trusted).zip(self.weight);
        let per_kg = per_kg.and_then(|(v, mass)| MinuteVolumePerKg::of(v, mass).within());
        // At 125 mL/min/kg; a volume below zero is none.
        let spans = &mut self.below;
        let add = |span: &mut Duration| *span = span.saturating_add(breath.length);
        match per_kg.map(|v| v.to_bits()) {
            Some(bits) if bits >= 0 => {
                add(&mut spans.known);
                if bits < 125 << 16 {
                    add(&mut spans.below);
                }
            }
            _ => add(&mut spans.unknown),
        }
        self.trial.take(self.to, Event::TimePasses);
        self.holds();
    }

    pub(super) fn end(&mut self, at: Instant) {
        let was = self.state;
        self.readiness.end(&mut self.state, at);
        if !self.is_running {
            assert_eq!(self.state, was);
            return;
        }
        self.is_running = false;
        self.to = self.to.max(at);
        self.trial.take(self.to, Event::Stops);
        self.holds();
        self.sums.holds(self.state.tally());
        for text in [
            said(&self.readiness.ratio(&self.state)),
            said(&self.readiness.below(&self.state)),
            said(&self.readiness.entry(&self.state)),
            said(&self.state.trial()),
        ] {
            assert!(text.len() < 120, "{text}");
        }
    }

    fn holds(&self) {
        let (readiness, state) = (&self.readiness, &self.state);
        assert_eq!(state.lasted(), self.to.since(self.from));
        let (trial, totals) = self.trial.all();
        assert_eq!(state.trial(), trial);
        assert_eq!(
            (state.slow_heart(), state.low_saturation()),
            (totals.slow_heart, totals.low_saturation)
        );
        assert_eq!(state.time_below(), self.below.below);
        self.below_holds();
        self.entry_holds();
        let tally = state.tally();
        let own = tally.minute_volume();
        self.ratio_holds(own, tally.breaths());
        let per_kg = own.zip(self.weight);
        let per_kg = per_kg.and_then(|(v, mass)| MinuteVolumePerKg::of(v, mass).within());
        assert_eq!(readiness.own_per_kg(state), per_kg);
        let index = self.weight.and_then(|mass| tally.rapid_shallow(mass));
        assert_eq!(readiness.rapid_shallow(state), index);
    }

    /// Known after two hours of which nine tenths are known; toward zero.
    fn below_holds(&self) {
        let [below, known, unknown] = [self.below.below, self.below.known, self.below.unknown]
            .map(|span| u128::from(span.to_us()));
        let (watched, least) = (known + unknown, (90 * 65_536 + 50) / 100);
        let part = |part: u128, whole: u128| (part << 16).checked_div(whole);
        match self.readiness.below(&self.state) {
            BelowShare::Known(share) => {
                assert!(watched >= 7_200_000_000 && part(known, watched) >= Some(least));
                assert_eq!(u128::try_from(share.to_bits()).ok(), part(below, known));
            }
            BelowShare::Unknown(NoBelowShare::TooShort) => assert!(watched < 7_200_000_000),
            BelowShare::Unknown(_) => assert!(part(known, watched) < Some(least)),
        }
    }

    /// At most 35 % oxygen, and no less than 20 %; 20 cmH2O and 20 a minute.
    fn entry_holds(&self) {
        let entry = self.state.before();
        let report = self.readiness.entry(&self.state);
        let percent = |n: i32| (n * 65_536 + 50) / 100;
        for (value, least, most, got) in [
            (entry.oxygen.map(|v| v.to_bits()), percent(20), percent(35), report.oxygen),
            (entry.peak.map(|v| v.to_bits()), 0, 20 << 16, report.peak),
            (entry.rate.map(|v| v.to_bits()), 0, 20 << 16, report.rate),
        ] {
            let want = match value {
                Some(bits) if bits > most => Met::NotMet,
                Some(bits) if bits >= least => Met::Met,
                _ => Met::NotKnown,
            };
            assert_eq!(got, want, "{entry:?}");
            said(&got);
        }
    }

    /// Half of what inflations and breaths made before, over ten minutes and a hundred breaths; toward zero.
    fn ratio_holds(&self, own: Option<Volume>, breaths: u16) {
        let all = self.state.before().mechanical;
        let (short, few) =
            (self.to.since(self.from) < Duration::from_millis(600_000), breaths < 100);
        let quotient = own.zip(all).and_then(|(own, all)| {
            (i64::from(own.to_bits()) << 16).checked_div(all.to_bits().into())
        });
        match self.readiness.ratio(&self.state) {
            told @ (RatioOutcome::Reached(share) | RatioOutcome::NotReached(share)) => {
                assert!(!short && !few && own >= Some(Volume::ZERO) && all > Some(Volume::ZERO));
                assert_eq!(Some(i64::from(share.to_bits())), quotient);
                assert_eq!(matches!(told, RatioOutcome::Reached(_)), share.to_bits() >= 1 << 15);
            }
            RatioOutcome::Unknown(why) => assert!(match why {
                NoRatio::TooShort => short,
                NoRatio::TooFewBreaths => few,
                NoRatio::NoOwn => own.is_none_or(|own| own < Volume::ZERO),
                NoRatio::NoMechanical => all.is_none_or(|all| all <= Volume::ZERO),
                _ => quotient.is_some_and(|bits| i32::try_from(bits).is_err()),
            }),
        }
    }
}
