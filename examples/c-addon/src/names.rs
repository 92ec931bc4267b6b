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

fn word(words: &[&'static CStr], code: u8) -> *const c_char {
    words.get(usize::from(code)).map_or(c"", |word| word).as_ptr()
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

/// The name of `TV_PRIORITY_...`; empty for none.
#[unsafe(no_mangle)]
pub extern "C" fn tv_priority_name(priority: u8) -> *const c_char {
    word(&PRIORITIES, priority)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::codes::*;
    use crate::memory::{bits, code};
    use std::string::ToString;
    use tidevane::alarm::{BreathKind, Condition, Measure, Priority};
    use tidevane::leak::{NoLeak, NoLungVolume};
    use tidevane::mechanics::NoFit;
    use tidevane::monitor::EventKind;
    use tidevane::signal::Flags;
    use tidevane::trend::{LoadSigns, LoadVerdict, NoVerdict};
    use tidevane::trigger::{Cause, NoCause, ThresholdVerdict};

    #[test]
    fn the_words_are_the_library_s() {
        let said = |word: &CStr| word.to_str().unwrap().to_string();
        let alarms: Vec<_> = Condition::all().map(|condition| condition.to_string()).collect();
        assert_eq!(ALARMS.map(said).to_vec(), alarms);
        for priority in Priority::ALL {
            assert_eq!(said(PRIORITIES[usize::from(code(&priority))]), priority.name());
        }
        for event in [
            EventKind::Stuck,
            EventKind::DoubleTrigger,
            EventKind::OpenCircuit,
            EventKind::LimitUnknown,
        ] {
            assert_eq!(said(EVENTS[usize::from(code(&event))]), event.name());
        }
    }

    /// The numbers of the header are the stable codes of the library.
    #[test]
    fn the_codes_are_the_library_s() {
        for (told, written) in [
            (code(&NoLeak::NoBreath), TV_NO_LEAK_NO_BREATH),
            (code(&NoLungVolume::TooUncertain), TV_NO_LUNG_TOO_UNCERTAIN),
            (code(&NoFit::NotAsked), TV_NO_FIT_NOT_ASKED),
            (code(&NoFit::TooSlow), TV_NO_FIT_TOO_SLOW),
            (code(&NoCause::NoFloor), TV_NO_CAUSE_NO_FLOOR),
            (code(&NoVerdict::Implausible), TV_NO_VERDICT_IMPLAUSIBLE),
            (code(&Cause::SelfRipple), TV_CAUSE_RIPPLE),
            (code(&ThresholdVerdict::BelowLeak), TV_THRESHOLD_BELOW_LEAK),
            (code(&LoadVerdict::NoSign), TV_LOAD_NO_SIGN),
            (code(&LoadVerdict::CannotTell(NoVerdict::NoInput)), TV_LOAD_CANNOT_TELL),
            (code(&BreathKind::Assured), TV_BREATH_ASSURED),
            (code(&Priority::High), TV_PRIORITY_HIGH),
        ] {
            assert_eq!(told, written);
        }
        for (told, written) in [
            (bits(&Flags::OPEN), TV_FLAG_OPEN),
            (bits(&Flags::BEGUN_BEFORE), TV_FLAG_BEGUN_BEFORE),
            (bits(&LoadSigns::LOW_SATURATION), TV_SIGN_LOW_SATURATION),
            (bits(&LoadSigns::COSTLY_STEP), TV_SIGN_COSTLY_STEP),
        ] {
            assert_eq!(told, written);
        }
        let place = |condition: Condition| u32::try_from(condition.index()).unwrap();
        assert_eq!(place(Condition::Low(Measure::Leak)), TV_ALARM_LOW + TV_LEAK);
        assert_eq!(place(Condition::High(Measure::Rate)), TV_ALARM_HIGH + TV_RATE);
        let unknown = Condition::CannotKnow(Measure::MinuteVolume);
        assert_eq!(place(unknown), TV_ALARM_CANNOT_KNOW + TV_MINUTE_VOLUME);
        assert_eq!(place(Condition::NoInput), TV_ALARM_NO_INPUT);
    }
}
