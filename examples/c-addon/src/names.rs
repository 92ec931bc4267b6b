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
    use crate::memory::code;
    use std::string::ToString;
    use tidevane::alarm::{Condition, Priority};
    use tidevane::monitor::EventKind;

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
}
