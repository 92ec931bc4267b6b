//! The words that a reader gets: every reason, verdict and event, as it is written out.

use std::fmt::Display;
use tidevane::alarm::{AlarmEvent, AlarmValue, BreathKind, Change, Condition, Measure, Priority};
use tidevane::bedside::{
    BelowShare, Met, NoBelowShare, NoRatio, NoSufficiency, NoTrialOutcome, RatioOutcome,
    Sufficiency, TrialOutcome,
};
use tidevane::breath::{Implausible, Phase};
use tidevane::leak::{Leak, LeakConsistency, NoLungVolume, VolumeCredibility};
use tidevane::mechanics::{Jump, NoC20, NoFit};
use tidevane::monitor::{Event, EventKind, MachineSettings};
use tidevane::quantity::{
    Compliance, Duration, Flow, Instant, MinuteVolumePerKg, Pressure, Rate, Resistance, Saturated,
    Share, Volume,
};
use tidevane::signal::Refusal;
use tidevane::trend::{LoadSigns, LoadVerdict, NoVerdict};
use tidevane::trigger::{
    Cause, Effort, NoCause, NoThreshold, Noise, NoiseFloor, Threshold, ThresholdAdvice,
    ThresholdVerdict,
};
use tidevane::volume::{Bound, Hold, Proposed};

fn all<T: Display>(words: &[(T, &str)]) {
    for (what, text) in words {
        assert_eq!(&what.to_string(), text);
    }
}

#[test]
fn a_zero_has_no_sign() {
    // One step is 1/65 536 = 0.000015: zero to four decimals, 0.00002 to five. 328 steps are 0.005005, no zero to two.
    let volume = Volume::from_bits;
    assert_eq!(volume(-1).to_string(), "0.00 mL");
    assert_eq!(format!("{:.4} {:.5}", volume(-1), volume(-1)), "0.0000 mL -0.00002 mL");
    assert_eq!(
        (volume(-327).to_string(), volume(-328).to_string()),
        ("0.00 mL".into(), "-0.01 mL".into())
    );
    // Half a unit below zero goes to the even zero, a whole one does not.
    assert_eq!(format!("{:.0} {:.0}", volume(-32_768), volume(-65_536)), "0 mL -1 mL");
    // 32 steps of a share are 0.049 %, 33 are 0.0504.
    let leak = |bits| Leak::Negative(Share::from_bits(bits)).to_string();
    assert_eq!((leak(-32), leak(-34)), ("0.0 %".into(), "-0.1 %".into()));
}

#[test]
fn why_a_number_is_missing() {
    all(&[
        (NoLungVolume::Flagged, "the breath carries a flag"),
        (NoLungVolume::NoLeakPath, "the leak path is not known"),
        (NoLungVolume::TooUncertain, "the uncertainty is above half of the volume"),
        (NoLungVolume::OutOfRange, "the volume is out of range"),
    ]);
    all(&[
        (NoFit::TooFewSamples, "too few samples"),
        (NoFit::NotPassive, "the breath was not passive"),
        (NoFit::Degenerate, "volume and flow do not move apart"),
        (NoFit::TooCoarse, "the time constant is shorter than three samples"),
        (NoFit::OutOfRange, "outside the range of lungs"),
        (NoFit::Flagged, "the breath carries a flag"),
        (NoFit::NotAsked, "not asked for"),
        (NoFit::TooSlow, "the time constant is longer than the breath"),
    ]);
    all(&[
        (NoC20::NoVolume, "no tidal volume"),
        (NoC20::NotRising, "the volume does not rise with the pressure"),
    ]);
    all(&[
        (NoCause::Flagged, "the breath carries a flag"),
        (NoCause::NoThreshold, "no trigger threshold was given"),
        (NoCause::NoFloor, "no quiet flow was seen yet"),
        (NoCause::FlowLate, "flow comes after its pressure"),
        (NoCause::PressureLate, "pressure comes after its flow"),
    ]);
}

#[test]
fn what_is_made_of_leak_and_trigger() {
    all(&[
        (VolumeCredibility::Usable, "usable"),
        (VolumeCredibility::Unreliable, "unreliable (leak above 40 %)"),
        (
            VolumeCredibility::TargetingHopeless,
            "unreliable, and volume targeting hopeless (leak above 50 %)",
        ),
    ]);
    let (off, least) = (Flow::from_int(3), Flow::from_bits(1));
    all(&[
        (LeakConsistency::Unknown, "not known whether the leak explains the flow"),
        (LeakConsistency::Good, "the leak explains the flow"),
        (
            LeakConsistency::Drift(off),
            "the flow sensor's zero stands 3.0 mL/s off: that fakes a leak",
        ),
        (
            LeakConsistency::Drift(least),
            "the flow sensor's zero stands 0.0 mL/s off: that fakes a leak",
        ),
        (
            LeakConsistency::Drift(Flow::ZERO),
            "the flow sensor's zero stands 0.0 mL/s off: that hides a leak",
        ),
        (
            LeakConsistency::Drift(Flow::from_int(-3)),
            "the flow sensor's zero stands -3.0 mL/s off: that hides a leak",
        ),
        (
            LeakConsistency::Steeper(Flow::from_int(-3)),
            "the leak grows faster with pressure than one round a tube: it opens above the baseline, \
             or the flow sensor's zero stands -3.0 mL/s off",
        ),
        (
            LeakConsistency::Gain(Share::from_percent(7)),
            "more comes out than went in, by 7 %: the flow sensor reads the two unequally",
        ),
    ]);
    let threshold = Threshold::new(Flow::from_milli_l_per_min(200).value).unwrap();
    let of = |l_min| Flow::from_milli_l_per_min(l_min).value;
    let noise = Noise { reach: of(50), spread: of(20) };
    let floor = NoiseFloor { leak: of(120), noise: Some(noise), pressure: Pressure::from_int(5) };
    all(&[
        (
            threshold.check(Some(floor)),
            "threshold 0.20 L/min: clear; leak at 5.0 cmH2O is 0.12 L/min, noise and ripple reach \
             0.05 L/min above it, margin over both 0.03 L/min",
        ),
        (
            threshold.check(None),
            "threshold 0.20 L/min: cannot be judged; no quiet flow was seen and no leak is known yet",
        ),
    ]);
    all(&[
        (ThresholdVerdict::Clear, "clear"),
        (ThresholdVerdict::InNoise, "within noise or ripple"),
        (ThresholdVerdict::AboveLeak, "above the leak, noise not known"),
        (ThresholdVerdict::BelowLeak, "below the leak"),
        (ThresholdVerdict::Unknown, "cannot be judged"),
    ]);
    all(&[
        (
            ThresholdAdvice::None(NoThreshold::TooFewBreaths),
            "none yet: fewer than twenty breaths with a quiet flow or a known leak",
        ),
        (
            ThresholdAdvice::None(NoThreshold::SealTheLeak),
            "none: what clears the leak is above the infant's effort or the grid; seal the leak first",
        ),
        (
            ThresholdAdvice::None(NoThreshold::TooNoisy),
            "none: what clears noise and ripple is above the infant's effort or the grid",
        ),
    ]);
    let names = [Cause::Timed, Cause::Effort, Cause::SelfLeak, Cause::SelfRipple].map(Cause::name);
    assert_eq!(names, ["timed", "effort", "self-leak", "self-ripple"]);
    assert_eq!(Cause::Unknown(NoCause::NoFloor).name(), "unknown");
}

#[test]
fn what_is_proposed() {
    let peak = |bound, short| Proposed::Peak { peak: Pressure::from_int(18), bound, short };
    all(&[
        (peak(Bound::None, 0), "18.0 cmH2O would be the next peak pressure"),
        (
            peak(Bound::Step, 0),
            "18.0 cmH2O would be the next peak pressure, held by the largest step",
        ),
        (
            peak(Bound::LeastRise, 0),
            "18.0 cmH2O would be the next peak pressure, held by the least rise above baseline",
        ),
        (
            peak(Bound::Ceiling, 4),
            "18.0 cmH2O would be the next peak pressure, the ceiling: the target needed more for 4 \
             inflations in a row",
        ),
        (
            peak(Bound::CeilingLowered, 0),
            "18.0 cmH2O would be the next peak pressure, the ceiling, which lies below the last peak; \
             the target needs no more",
        ),
        (Proposed::Hold(Hold::Flagged), "no proposal: the breath carries a flag"),
        (Proposed::Hold(Hold::Leak), "no proposal: too much leak to aim at a volume"),
        (Proposed::Hold(Hold::NoVolume), "no proposal: the breath moved nothing"),
    ]);
}

#[test]
fn what_is_made_of_weaning() {
    all(&[
        (LoadVerdict::NoSign, "no sign of overload in what flow shows"),
        (LoadVerdict::Hold(LoadSigns::PAUSES), "hold: more pauses"),
        (LoadVerdict::StepBack(LoadSigns::MISSED), "step back: more missed efforts"),
        (LoadVerdict::CannotTell(NoVerdict::TooSoon), "cannot tell: the step is too young"),
        (
            LoadVerdict::CannotTell(NoVerdict::TooLittleKnown),
            "cannot tell: too many breaths are flagged, or nobody can tell who began them",
        ),
        (
            LoadVerdict::CannotTell(NoVerdict::NoVolume),
            "cannot tell: too few volumes can be believed",
        ),
        (
            LoadVerdict::CannotTell(NoVerdict::SelfCycling),
            "cannot tell: the machine sets itself off",
        ),
        (
            LoadVerdict::CannotTell(NoVerdict::NotBreathing),
            "cannot tell: the infant does not breathe",
        ),
        (
            LoadVerdict::CannotTell(NoVerdict::Implausible),
            "cannot tell: the numbers of most breaths cannot be",
        ),
        (
            LoadVerdict::CannotTell(NoVerdict::NoInput),
            "cannot tell: nothing usable comes from the sensor",
        ),
    ]);
    assert_eq!(LoadVerdict::CannotTell(NoVerdict::TooSoon).name(), "cannot tell");
    let half = Share::from_percent(50);
    let unknown = RatioOutcome::Unknown;
    all(&[
        (RatioOutcome::Reached(half), "own minute volume 50.0 %: reached"),
        (RatioOutcome::NotReached(half), "own minute volume 50.0 %: not reached"),
        (unknown(NoRatio::TooShort), "own minute volume cannot be judged: the run was too short"),
        (
            unknown(NoRatio::TooFewBreaths),
            "own minute volume cannot be judged: too few breaths were seen",
        ),
        (unknown(NoRatio::NoOwn), "own minute volume cannot be judged: it is not known"),
        (
            unknown(NoRatio::NoMechanical),
            "own minute volume cannot be judged: the minute volume with inflations is not known",
        ),
        (
            unknown(NoRatio::OutOfRange),
            "own minute volume cannot be judged: the ratio is out of range",
        ),
    ]);
    all(&[(Met::Met, "met"), (Met::NotMet, "not met"), (Met::NotKnown, "not known")]);
    all(&[
        (Sufficiency::Carried, "carried by what was measured"),
        (
            Sufficiency::NotCarried(MinuteVolumePerKg::from_int(40)),
            "not carried by what was measured: 40 mL/min/kg short",
        ),
        (
            Sufficiency::CannotTell(NoSufficiency::Own),
            "cannot be told: own minute volume not known",
        ),
        (
            Sufficiency::CannotTell(NoSufficiency::Assured),
            "cannot be told: minute volume of the set inflations not known",
        ),
        (Sufficiency::CannotTell(NoSufficiency::Mass), "cannot be told: body mass not known"),
        (
            Sufficiency::CannotTell(NoSufficiency::Needed),
            "cannot be told: needed minute volume not known",
        ),
        (
            Sufficiency::CannotTell(NoSufficiency::OutOfRange),
            "cannot be told: a volume is out of range",
        ),
        (
            Sufficiency::CannotTell(NoSufficiency::Effort),
            "cannot be told: it depends on how much of the own volume is the support's",
        ),
    ]);
    all(&[
        (BelowShare::Unknown(NoBelowShare::TooShort), "not known: recording too short"),
        (
            BelowShare::Unknown(NoBelowShare::TooMuchUnknown),
            "not known: too much time without a minute volume",
        ),
    ]);
    let (at, span) = (Instant::from_us(5_000_000), Duration::from_millis(2_500));
    all(&[
        (TrialOutcome::NotBegun, "not begun"),
        (TrialOutcome::Running(span), "running, 2.500 s left"),
        (TrialOutcome::Completed, "lasted its time, and the heart was not slow for too long"),
        (TrialOutcome::Failed { at }, "failed: the heart was slow for too long"),
        (
            TrialOutcome::Unknown(NoTrialOutcome::Unwatched),
            "cannot be judged: part of it was not watched",
        ),
        (
            TrialOutcome::Unknown(NoTrialOutcome::OutOfOrder),
            "cannot be judged: an event came out of order",
        ),
    ]);
}

#[test]
fn what_an_alarm_says() {
    let event = |condition, priority, value| AlarmEvent {
        at: Instant::from_us(1),
        condition,
        priority,
        change: Change::On,
        value,
    };
    let low = Condition::Low;
    all(&[
        (
            event(low(Measure::Volume(BreathKind::Supported)), Priority::Medium, None),
            "volume of supported breaths low, medium priority",
        ),
        (
            event(
                low(Measure::MinuteVolume),
                Priority::Medium,
                Some(AlarmValue::Volume(Volume::from_int(120))),
            ),
            "minute volume low at 120.0 mL, medium priority",
        ),
        (
            event(
                Condition::High(Measure::Pressure),
                Priority::High,
                Some(AlarmValue::Pressure(Pressure::from_int(31))),
            ),
            "peak pressure high at 31.0 cmH2O, high priority",
        ),
        (
            event(
                Condition::High(Measure::Rate),
                Priority::Low,
                Some(AlarmValue::Rate(Rate::from_int(75))),
            ),
            "rate high at 75 /min, low priority",
        ),
        (
            event(
                Condition::High(Measure::Leak),
                Priority::Low,
                Some(AlarmValue::Share(Share::from_percent(45))),
            ),
            "leak high at 45 %, low priority",
        ),
        // 327 steps below zero are 0.499 %, 328 are 0.5005.
        (
            event(
                Condition::Disconnection,
                Priority::High,
                Some(AlarmValue::Share(Share::from_bits(-327))),
            ),
            "disconnection at 0 %, high priority",
        ),
        (
            event(
                Condition::Disconnection,
                Priority::High,
                Some(AlarmValue::Share(Share::from_bits(-328))),
            ),
            "disconnection at -1 %, high priority",
        ),
        (
            event(
                Condition::Apnoea,
                Priority::High,
                Some(AlarmValue::Span(Duration::from_millis(20_000))),
            ),
            "apnoea for 20.000 s, high priority",
        ),
    ]);
}

#[test]
fn what_an_event_says() {
    let at = Instant::from_us(9_000_000);
    let since = Instant::from_us(7_500_000);
    let effort = |during| {
        EventKind::MissedEffort(Effort { at, size: Pressure::from_int(4), during, after: None })
    };
    let made = Effort {
        at,
        size: Pressure::from_int(4),
        during: Phase::Inspiration,
        after: Some(Duration::from_millis(150)),
    };
    let reversed = EventKind::ReverseTrigger(made);
    let ml = |milli| Compliance::from_milli(milli).value;
    let stiffer = Jump::Compliance { since: at, before: ml(500), after: ml(300) };
    let narrower = Jump::Resistance {
        since: at,
        before: Resistance::from_int(80),
        after: Resistance::from_int(160),
    };
    let volume = Saturated::exact(Volume::from_int(6));
    let alarm = |change| {
        let (condition, priority) = (Condition::Disconnection, Priority::High);
        EventKind::Alarm(AlarmEvent { at, condition, priority, change, value: None })
    };
    let nothing = MachineSettings::default();
    let tiring = LoadVerdict::StepBack(LoadSigns::PAUSES);
    let words = [
        (EventKind::Gap { since, cut: false }, "gap", "no usable sample for 1.500 s"),
        (
            EventKind::Gap { since, cut: true },
            "gap",
            "no usable sample for 1.500 s; breath cut, counting afresh",
        ),
        (EventKind::Stuck, "stuck", "readings do not change"),
        (EventKind::Clipped, "clipped", "flow sits at one extreme"),
        (
            EventKind::OpenCircuit,
            "open-circuit",
            "the circuit stands open, or suction draws; nothing is learned from it",
        ),
        (EventKind::Refused(Refusal::FlowOutOfRange), "out-of-range", "flow out of range, refused"),
        (
            EventKind::Refused(Refusal::PressureOutOfRange),
            "out-of-range",
            "pressure out of range, refused",
        ),
        (EventKind::Refused(Refusal::NotLater), "disorder", "time not later, refused"),
        (EventKind::Refused(Refusal::FarAhead), "disorder", "time far ahead, refused"),
        (EventKind::ClockReset { since }, "clock-reset", "time went back; counting afresh"),
        (
            effort(Phase::Expiration),
            "missed-effort",
            "muscle pressure rose by about 4.0 cmH2O in expiration",
        ),
        (
            effort(Phase::Inspiration),
            "missed-effort",
            "muscle pressure rose by about 4.0 cmH2O during an inflation",
        ),
        (
            reversed,
            "reverse-trigger",
            "muscle pressure rose by about 4.0 cmH2O after a timed inflation, as after those before",
        ),
        (
            EventKind::LungChanged(stiffer),
            "lung-changed",
            "passive breaths: compliance from 0.50 mL/cmH2O to 0.30 mL/cmH2O",
        ),
        (
            EventKind::LungChanged(narrower),
            "lung-changed",
            "passive breaths: resistance from 80 cmH2O*s/L to 160 cmH2O*s/L",
        ),
        (
            EventKind::ZeroDrift(Flow::from_int(-2)),
            "zero-drift",
            "the flow sensor's zero stands -2.0 mL/s off",
        ),
        (alarm(Change::On), "alarm-on", "disconnection, high priority"),
        (alarm(Change::Off), "alarm-off", "disconnection, high priority, ended"),
        (EventKind::SettingsChanged(nothing), "settings", "nothing given"),
        (EventKind::WeanStep(nothing), "wean-step", "nothing given"),
        (EventKind::Load(tiring), "step-back", "step back: more pauses"),
        (
            EventKind::Tiring(LoadSigns::RAPID_SHALLOW.with(LoadSigns::COSTLY_STEP)),
            "tiring",
            "faster and smaller breaths, too large a step",
        ),
        (EventKind::Load(LoadVerdict::NoSign), "load", "no sign of overload in what flow shows"),
        (
            EventKind::DoubleTrigger,
            "double-trigger",
            "second inflation within half an inspiratory time",
        ),
        (EventKind::LimitReached(volume), "volume-limit", "limit reached at 6.0 mL"),
        (
            EventKind::Implausible(Implausible::TooMuch),
            "implausible",
            "more than 1000 mL/kg a minute; the unit of flow or the weight may be wrong",
        ),
        (
            EventKind::LimitUnknown,
            "volume-limit-unknown",
            "readings missing in this inspiration; what it moved is not known",
        ),
    ];
    for (what, name, text) in words {
        assert_eq!((what.name(), Event { at, what }.to_string().as_str()), (name, text));
        let left_out = ["stuck", "clipped", "missed-effort", "reverse-trigger", "double-trigger"];
        assert_eq!(what.is_for_journal(), !left_out.contains(&name));
    }
}
