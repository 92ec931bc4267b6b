//! Codes as words.

use core::ffi::{CStr, c_char};

const EVENTS: [&CStr; 19] = [
    c"gap",
    c"stuck",
    c"clipped",
    c"refused",
    c"clock-reset",
    c"missed-effort",
    c"zero-drift",
    c"settings",
    c"wean-step",
    c"load",
    c"alarm",
    c"double-trigger",
    c"volume-limit",
    c"volume-limit-unknown",
    c"implausible",
    c"tiring",
    c"open-circuit",
    c"lung-changed",
    c"reverse-trigger",
];
const ALARMS: [&CStr; 25] = [
    c"apnoea",
    c"disconnection",
    c"sensor fault",
    c"volume of own breaths low",
    c"volume of supported breaths low",
    c"volume of assured breaths low",
    c"minute volume low",
    c"rate low",
    c"peak pressure low",
    c"leak low",
    c"volume of own breaths high",
    c"volume of supported breaths high",
    c"volume of assured breaths high",
    c"minute volume high",
    c"rate high",
    c"peak pressure high",
    c"leak high",
    c"volume of own breaths cannot be known",
    c"volume of supported breaths cannot be known",
    c"volume of assured breaths cannot be known",
    c"minute volume cannot be known",
    c"rate cannot be known",
    c"peak pressure cannot be known",
    c"leak cannot be known",
    c"no input from the sensor",
];
const PRIORITIES: [&CStr; 3] = [c"low", c"medium", c"high"];
const BREATHS: [&CStr; 3] = [c"own", c"supported", c"assured"];
const CAUSES: [&CStr; 5] = [c"timed", c"effort", c"self-leak", c"self-ripple", c"unknown"];
const THRESHOLDS: [&CStr; 5] = [
    c"clear",
    c"within noise or ripple",
    c"above the leak, noise not known",
    c"below the leak",
    c"cannot be judged",
];
const LOADS: [&CStr; 4] = [c"no sign", c"hold", c"step back", c"cannot tell"];
const FLAGS: [&CStr; 13] = [
    c"gap",
    c"out-of-range",
    c"disorder",
    c"stuck",
    c"clipped",
    c"saturated",
    c"begun-before",
    c"cut",
    c"noisy",
    c"zero-drift",
    c"unsettled",
    c"implausible",
    c"open",
];
const SIGNS: [&CStr; 12] = [
    c"faster and smaller breaths",
    c"less minute volume",
    c"the infant breathes less",
    c"more pauses",
    c"more missed efforts",
    c"more pressure lost in the tube",
    c"too large a step",
    c"little minute volume",
    c"less volume beyond the dead space",
    c"small breaths",
    c"a slow heart",
    c"a low saturation",
];
const NO_LEAK: [&CStr; 4] = [
    c"nothing went in",
    c"a volume is out of range",
    c"the breath carries a flag",
    c"no breath was heard yet",
];
const NO_LUNG: [&CStr; 5] = [
    c"the breath carries a flag",
    c"the leak path is not known",
    c"",
    c"the uncertainty is above half of the volume",
    c"the volume is out of range",
];
const NO_FIT: [&CStr; 8] = [
    c"too few samples",
    c"the breath was not passive",
    c"volume and flow do not move apart",
    c"the time constant is shorter than three samples",
    c"outside the range of lungs",
    c"the breath carries a flag",
    c"not asked for",
    c"the time constant is longer than the breath",
];
const NO_CAUSE: [&CStr; 5] = [
    c"the breath carries a flag",
    c"no trigger threshold was given",
    c"no quiet flow was seen yet",
    c"flow comes after its pressure",
    c"pressure comes after its flow",
];
const NO_VERDICT: [&CStr; 7] = [
    c"the step is too young",
    c"too many breaths are flagged, or nobody can tell who began them",
    c"too few volumes can be believed",
    c"the machine sets itself off",
    c"the infant does not breathe",
    c"nothing usable comes from the sensor",
    c"the numbers of most breaths cannot be",
];

fn word(words: &[&'static CStr], code: u8) -> *const c_char {
    words.get(usize::from(code)).map_or(c"", |word| word).as_ptr()
}

/// The word of a single bit.
fn word_of_bit(words: &[&'static CStr], bit: u32) -> *const c_char {
    if bit.is_power_of_two() {
        word(words, bit.trailing_zeros() as u8)
    } else {
        word(words, u8::MAX)
    }
}

/// The name of `TV_EVENT_...`; empty for no such event.
#[unsafe(no_mangle)]
pub extern "C" fn tv_event_name(what: u8) -> *const c_char {
    word(&EVENTS, what)
}

/// The name of `TV_ALARM_...`; empty for no such alarm.
#[unsafe(no_mangle)]
pub extern "C" fn tv_alarm_name(alarm: u8) -> *const c_char {
    word(&ALARMS, alarm)
}

/// The name of `TV_PRIORITY_...`; empty for `TV_PRIORITY_NONE`.
#[unsafe(no_mangle)]
pub extern "C" fn tv_priority_name(priority: u8) -> *const c_char {
    word(&PRIORITIES, priority)
}

/// The name of `TV_BREATH_...`; empty for no such number, as with all below.
#[unsafe(no_mangle)]
pub extern "C" fn tv_breath_name(breath: u8) -> *const c_char {
    word(&BREATHS, breath)
}

/// The name of `TV_CAUSE_...`; empty for none.
#[unsafe(no_mangle)]
pub extern "C" fn tv_cause_name(cause: u8) -> *const c_char {
    word(&CAUSES, cause)
}

/// What `TV_THRESHOLD_...` says; empty for none.
#[unsafe(no_mangle)]
pub extern "C" fn tv_threshold_name(threshold: u8) -> *const c_char {
    word(&THRESHOLDS, threshold)
}

/// The name of `TV_LOAD_...`.
#[unsafe(no_mangle)]
pub extern "C" fn tv_load_name(load: u8) -> *const c_char {
    word(&LOADS, load)
}

/// Why, of `TV_NO_LEAK_...`; empty for 255, where it is known, as with all reasons.
#[unsafe(no_mangle)]
pub extern "C" fn tv_no_leak_name(no_leak: u8) -> *const c_char {
    word(&NO_LEAK, no_leak)
}

/// Why, of `TV_NO_LUNG_...`.
#[unsafe(no_mangle)]
pub extern "C" fn tv_no_lung_name(no_lung: u8) -> *const c_char {
    word(&NO_LUNG, no_lung)
}

/// Why, of `TV_NO_FIT_...`.
#[unsafe(no_mangle)]
pub extern "C" fn tv_no_fit_name(no_fit: u8) -> *const c_char {
    word(&NO_FIT, no_fit)
}

/// Why, of `TV_NO_CAUSE_...`.
#[unsafe(no_mangle)]
pub extern "C" fn tv_no_cause_name(no_cause: u8) -> *const c_char {
    word(&NO_CAUSE, no_cause)
}

/// Why, of `TV_NO_VERDICT_...`.
#[unsafe(no_mangle)]
pub extern "C" fn tv_no_verdict_name(no_verdict: u8) -> *const c_char {
    word(&NO_VERDICT, no_verdict)
}

/// The name of one `TV_FLAG_...` of `flags`; empty for none, or for several at once.
#[unsafe(no_mangle)]
pub extern "C" fn tv_flag_name(flag: u32) -> *const c_char {
    word_of_bit(&FLAGS, flag)
}

/// The name of one `TV_SIGN_...` of `signs`; empty for none, or for several at once.
#[unsafe(no_mangle)]
pub extern "C" fn tv_sign_name(sign: u32) -> *const c_char {
    word_of_bit(&SIGNS, sign)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::codes::*;
    use crate::memory::{bits, code};
    use std::string::{String, ToString};
    use tidevane::alarm::{AlarmEvent, BreathKind, Change, Condition, Measure, Priority};
    use tidevane::breath::{Implausible, Phase};
    use tidevane::leak::{NoLeak, NoLungVolume};
    use tidevane::mechanics::{Jump, NoFit};
    use tidevane::monitor::{EventKind, MachineSettings};
    use tidevane::quantity::{
        Compliance, Flow, Instant, Pressure, Record, Saturated, Source, Volume,
    };
    use tidevane::signal::{Flags, Refusal};
    use tidevane::trend::{LoadSigns, LoadVerdict, NoVerdict};
    use tidevane::trigger::{Cause, Effort, NoCause, ThresholdVerdict};

    /// Every event, and the number that stands for it.
    fn events() -> [(EventKind, u8); 19] {
        let (at, during, size) = (Instant::default(), Phase::Expiration, Pressure::ZERO);
        let effort = Effort { at, size, during, after: None };
        let stiff = Compliance::ZERO;
        let (condition, priority, change) = (Condition::Apnoea, Priority::High, Change::On);
        let alarm = AlarmEvent { at, condition, priority, change, value: None };
        let machine = MachineSettings::default();
        [
            (EventKind::Gap { since: at, cut: false }, TV_EVENT_GAP),
            (EventKind::Stuck, TV_EVENT_STUCK),
            (EventKind::Clipped, TV_EVENT_CLIPPED),
            (EventKind::Refused(Refusal::NotLater), TV_EVENT_REFUSED),
            (EventKind::ClockReset { since: at }, TV_EVENT_CLOCK_RESET),
            (EventKind::MissedEffort(effort), TV_EVENT_MISSED_EFFORT),
            (EventKind::ZeroDrift(Flow::ZERO), TV_EVENT_ZERO_DRIFT),
            (EventKind::SettingsChanged(machine), TV_EVENT_SETTINGS),
            (EventKind::WeanStep(machine), TV_EVENT_WEAN_STEP),
            (EventKind::Load(LoadVerdict::NoSign), TV_EVENT_LOAD),
            (EventKind::Alarm(alarm), TV_EVENT_ALARM),
            (EventKind::DoubleTrigger, TV_EVENT_DOUBLE_TRIGGER),
            (EventKind::LimitReached(Saturated::exact(Volume::ZERO)), TV_EVENT_LIMIT_REACHED),
            (EventKind::LimitUnknown, TV_EVENT_LIMIT_UNKNOWN),
            (EventKind::Implausible(Implausible::TooMuch), TV_EVENT_IMPLAUSIBLE),
            (EventKind::Tiring(LoadSigns::NONE), TV_EVENT_TIRING),
            (EventKind::OpenCircuit, TV_EVENT_OPEN_CIRCUIT),
            (
                EventKind::LungChanged(Jump::Compliance { since: at, before: stiff, after: stiff }),
                TV_EVENT_LUNG_CHANGED,
            ),
            (EventKind::ReverseTrigger(effort), TV_EVENT_REVERSE_TRIGGER),
        ]
    }

    #[test]
    fn the_words_are_the_library_s() {
        let said = |word: &CStr| word.to_str().unwrap().to_string();
        let alarms: Vec<_> = Condition::all().map(|condition| condition.to_string()).collect();
        assert_eq!(ALARMS.map(said).to_vec(), alarms);
        for priority in Priority::ALL {
            assert_eq!(said(PRIORITIES[usize::from(code(&priority))]), priority.name());
        }
        for (event, code) in events() {
            // One word for both kinds of refusal, and for an alarm that begins or ends.
            let word = match event {
                EventKind::Refused(_) => "refused",
                EventKind::Alarm(_) => "alarm",
                _ => event.name(),
            };
            assert_eq!(said(EVENTS[usize::from(code)]), word);
        }
    }

    fn named(name: *const c_char) -> String {
        // SAFETY: a text of this file.
        unsafe { CStr::from_ptr(name) }.to_str().unwrap().to_string()
    }

    /// A code, and zeros for all that follows it.
    struct Code(Option<u8>);
    impl Source for Code {
        fn number(&mut self) -> Option<i64> {
            Some(0)
        }
        fn code(&mut self) -> Option<u8> {
            Some(self.0.take().unwrap_or(0))
        }
    }

    /// Every number that stands for something has the library's word, and no other has one.
    fn all_named<T: Record>(name: extern "C" fn(u8) -> *const c_char, word: impl Fn(&T) -> String) {
        for code in 0..=u8::MAX {
            let of = T::load(&mut Code(Some(code)));
            assert_eq!(named(name(code)), of.map_or(String::new(), |of| word(&of)), "{code}");
        }
    }

    #[test]
    fn every_code_has_the_library_s_word_and_no_other_has_one() {
        all_named(tv_breath_name, |kind: &BreathKind| match kind {
            BreathKind::Own => "own".into(),
            BreathKind::Supported => "supported".into(),
            BreathKind::Assured => "assured".into(),
        });
        all_named(tv_cause_name, |cause: &Cause| cause.name().into());
        all_named(tv_threshold_name, ThresholdVerdict::to_string);
        all_named(tv_load_name, |verdict: &LoadVerdict| verdict.name().into());
        all_named(tv_no_leak_name, NoLeak::to_string);
        all_named(tv_no_lung_name, NoLungVolume::to_string);
        all_named(tv_no_fit_name, NoFit::to_string);
        all_named(tv_no_cause_name, NoCause::to_string);
        all_named(tv_no_verdict_name, NoVerdict::to_string);
    }

    #[test]
    fn every_bit_has_the_library_s_word_and_no_other_has_one() {
        for at in 0..32 {
            let bit = 1 << at;
            let flag = Flags::ALL.iter().find(|(flag, _)| bits(flag) == bit);
            assert_eq!(named(tv_flag_name(bit)), flag.map_or("", |(_, name)| name), "flag {bit}");
            let sign = LoadSigns::ALL.iter().find(|(sign, _)| bits(sign) == bit);
            assert_eq!(named(tv_sign_name(bit)), sign.map_or("", |(_, name)| name), "sign {bit}");
        }
        for several in [0, TV_FLAG_GAP | TV_FLAG_STUCK, u32::MAX] {
            assert_eq!(
                (named(tv_flag_name(several)), named(tv_sign_name(several))),
                ("".into(), "".into())
            );
        }
    }

    /// The numbers of the header are the stable codes of the library, each of them.
    #[test]
    fn the_codes_are_the_library_s() {
        for (event, written) in events() {
            assert_eq!(code(&event), written, "{event:?}");
        }
        macro_rules! same {
            ($of:ident: $($what:expr => $written:ident),+) => {
                $(assert_eq!($of(&$what), $written, "{}", stringify!($written));)+
            };
        }
        same!(code:
            NoLeak::NothingInspired => TV_NO_LEAK_NOTHING_INSPIRED,
            NoLeak::OutOfRange => TV_NO_LEAK_OUT_OF_RANGE,
            NoLeak::Flagged => TV_NO_LEAK_FLAGGED,
            NoLeak::NoBreath => TV_NO_LEAK_NO_BREATH,
            NoLungVolume::Flagged => TV_NO_LUNG_FLAGGED,
            NoLungVolume::NoLeakPath => TV_NO_LUNG_NO_LEAK_PATH,
            NoLungVolume::TooUncertain => TV_NO_LUNG_TOO_UNCERTAIN,
            NoLungVolume::OutOfRange => TV_NO_LUNG_OUT_OF_RANGE,
            NoFit::TooFewSamples => TV_NO_FIT_TOO_FEW_SAMPLES,
            NoFit::NotPassive => TV_NO_FIT_NOT_PASSIVE,
            NoFit::Degenerate => TV_NO_FIT_DEGENERATE,
            NoFit::TooCoarse => TV_NO_FIT_TOO_COARSE,
            NoFit::OutOfRange => TV_NO_FIT_OUT_OF_RANGE,
            NoFit::Flagged => TV_NO_FIT_FLAGGED,
            NoFit::NotAsked => TV_NO_FIT_NOT_ASKED,
            NoFit::TooSlow => TV_NO_FIT_TOO_SLOW,
            NoCause::Flagged => TV_NO_CAUSE_FLAGGED,
            NoCause::NoThreshold => TV_NO_CAUSE_NO_THRESHOLD,
            NoCause::NoFloor => TV_NO_CAUSE_NO_FLOOR,
            NoCause::FlowLate => TV_NO_CAUSE_FLOW_LATE,
            NoCause::PressureLate => TV_NO_CAUSE_PRESSURE_LATE,
            NoVerdict::TooSoon => TV_NO_VERDICT_TOO_SOON,
            NoVerdict::TooLittleKnown => TV_NO_VERDICT_TOO_LITTLE_KNOWN,
            NoVerdict::NoVolume => TV_NO_VERDICT_NO_VOLUME,
            NoVerdict::SelfCycling => TV_NO_VERDICT_SELF_CYCLING,
            NoVerdict::NotBreathing => TV_NO_VERDICT_NOT_BREATHING,
            NoVerdict::NoInput => TV_NO_VERDICT_NO_INPUT,
            NoVerdict::Implausible => TV_NO_VERDICT_IMPLAUSIBLE,
            Cause::Timed => TV_CAUSE_TIMED,
            Cause::Effort => TV_CAUSE_EFFORT,
            Cause::SelfLeak => TV_CAUSE_LEAK,
            Cause::SelfRipple => TV_CAUSE_RIPPLE,
            Cause::Unknown(NoCause::NoFloor) => TV_CAUSE_UNKNOWN,
            ThresholdVerdict::Clear => TV_THRESHOLD_CLEAR,
            ThresholdVerdict::InNoise => TV_THRESHOLD_IN_NOISE,
            ThresholdVerdict::AboveLeak => TV_THRESHOLD_ABOVE_LEAK,
            ThresholdVerdict::BelowLeak => TV_THRESHOLD_BELOW_LEAK,
            ThresholdVerdict::Unknown => TV_THRESHOLD_UNKNOWN,
            LoadVerdict::NoSign => TV_LOAD_NO_SIGN,
            LoadVerdict::Hold(LoadSigns::NONE) => TV_LOAD_HOLD,
            LoadVerdict::StepBack(LoadSigns::NONE) => TV_LOAD_STEP_BACK,
            LoadVerdict::CannotTell(NoVerdict::NoInput) => TV_LOAD_CANNOT_TELL,
            BreathKind::Own => TV_BREATH_OWN,
            BreathKind::Supported => TV_BREATH_SUPPORTED,
            BreathKind::Assured => TV_BREATH_ASSURED,
            Priority::Low => TV_PRIORITY_LOW,
            Priority::Medium => TV_PRIORITY_MEDIUM,
            Priority::High => TV_PRIORITY_HIGH
        );
        same!(bits:
            Flags::GAP => TV_FLAG_GAP,
            Flags::OUT_OF_RANGE => TV_FLAG_OUT_OF_RANGE,
            Flags::DISORDER => TV_FLAG_DISORDER,
            Flags::STUCK => TV_FLAG_STUCK,
            Flags::CLIPPED => TV_FLAG_CLIPPED,
            Flags::SATURATED => TV_FLAG_SATURATED,
            Flags::BEGUN_BEFORE => TV_FLAG_BEGUN_BEFORE,
            Flags::CUT => TV_FLAG_CUT,
            Flags::NOISY => TV_FLAG_NOISY,
            Flags::ZERO_DRIFT => TV_FLAG_ZERO_DRIFT,
            Flags::UNSETTLED => TV_FLAG_UNSETTLED,
            Flags::IMPLAUSIBLE => TV_FLAG_IMPLAUSIBLE,
            Flags::OPEN => TV_FLAG_OPEN,
            LoadSigns::RAPID_SHALLOW => TV_SIGN_RAPID_SHALLOW,
            LoadSigns::LESS_VOLUME => TV_SIGN_LESS_VOLUME,
            LoadSigns::FEWER_OWN => TV_SIGN_FEWER_OWN,
            LoadSigns::PAUSES => TV_SIGN_PAUSES,
            LoadSigns::MISSED => TV_SIGN_MISSED,
            LoadSigns::TUBE_LOSS => TV_SIGN_TUBE_LOSS,
            LoadSigns::COSTLY_STEP => TV_SIGN_COSTLY_STEP,
            LoadSigns::LITTLE_VOLUME => TV_SIGN_LITTLE_VOLUME,
            LoadSigns::LESS_ALVEOLAR => TV_SIGN_LESS_ALVEOLAR,
            LoadSigns::SMALL => TV_SIGN_SMALL,
            LoadSigns::SLOW_HEART => TV_SIGN_SLOW_HEART,
            LoadSigns::LOW_SATURATION => TV_SIGN_LOW_SATURATION
        );
        let place = |condition: Condition| u32::try_from(condition.index()).unwrap();
        for (measure, limits) in [
            (Measure::Volume(BreathKind::Own), TV_VOLUME_OWN),
            (Measure::Volume(BreathKind::Supported), TV_VOLUME_SUPPORTED),
            (Measure::Volume(BreathKind::Assured), TV_VOLUME_ASSURED),
            (Measure::MinuteVolume, TV_MINUTE_VOLUME),
            (Measure::Rate, TV_RATE),
            (Measure::Pressure, TV_PRESSURE),
            (Measure::Leak, TV_LEAK),
        ] {
            for (condition, written) in [
                (Condition::Low(measure), TV_ALARM_LOW),
                (Condition::High(measure), TV_ALARM_HIGH),
                (Condition::CannotKnow(measure), TV_ALARM_CANNOT_KNOW),
            ] {
                assert_eq!(place(condition), written + limits, "{condition}");
            }
        }
        for (condition, written) in [
            (Condition::Apnoea, TV_ALARM_APNOEA),
            (Condition::Disconnection, TV_ALARM_DISCONNECTION),
            (Condition::SensorFault, TV_ALARM_SENSOR_FAULT),
            (Condition::NoInput, TV_ALARM_NO_INPUT),
        ] {
            assert_eq!(place(condition), written, "{condition}");
        }
    }
}
