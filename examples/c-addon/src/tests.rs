//! What the calls do one after another, as a C program sees it.

use crate::*;
use core::ffi::c_void;
use std::vec::Vec;

/// A monitor in memory of the caller's, and all that it told.
struct Bed {
    memory: Vec<u64>,
    outcome: TvOutcome,
    breaths: Vec<TvBreath>,
    events: Vec<TvEvent>,
}

fn defaults() -> TvSettings {
    let mut settings = core::mem::MaybeUninit::<TvSettings>::uninit();
    // SAFETY: `tv_defaults` fills it.
    unsafe {
        assert_eq!(tv_defaults(settings.as_mut_ptr(), size_of::<TvSettings>()), TV_OK);
        settings.assume_init()
    }
}

/// The `n`th of samples of 10 ms: a breath a second, 0.3 s in and 0.3 s out.
fn sample(tick_us: u32, n: u32) -> TvSample {
    let (flow, pressure) = match (n % 100) as i32 {
        k @ 0..30 => (40 - k, 15),
        k @ 30..60 => (k - 70, 5),
        _ => (0, 5),
    };
    TvSample { tick_us, flow_q16: flow << 16, pressure_q16: pressure << 16 }
}

impl Bed {
    fn new(settings: &TvSettings) -> Self {
        let mut bed = Self {
            memory: vec![0; tv_size().div_ceil(8)],
            // SAFETY: all zeros is one.
            outcome: unsafe { core::mem::zeroed() },
            breaths: vec![],
            events: vec![],
        };
        bed.start(settings);
        bed
    }

    fn start(&mut self, settings: &TvSettings) {
        let (memory, bytes) = (self.at(), self.memory.len() * 8);
        // SAFETY: memory of so many bytes.
        assert_eq!(unsafe { tv_start(memory, bytes, settings, size_of::<TvSettings>()) }, TV_OK);
    }

    fn at(&mut self) -> *mut c_void {
        self.memory.as_mut_ptr().cast()
    }

    fn told(&mut self, returned: i32) {
        assert_eq!(returned, TV_OK);
        let told = self.outcome;
        self.events.extend(&told.events[..told.event_count as usize]);
        self.breaths.extend((told.has_breath == 1).then_some(told.breath));
    }

    fn push(&mut self, sample: TvSample) {
        let memory = self.at();
        // SAFETY: as in `start`.
        let returned =
            unsafe { tv_push(memory, sample, &raw mut self.outcome, size_of::<TvOutcome>()) };
        self.told(returned);
    }

    fn lost(&mut self) {
        let memory = self.at();
        // SAFETY: as in `start`.
        let returned = unsafe { tv_lost(memory, &raw mut self.outcome, size_of::<TvOutcome>()) };
        self.told(returned);
    }

    /// Until nothing is told.
    fn finish(&mut self) {
        loop {
            let memory = self.at();
            // SAFETY: as in `start`.
            let returned =
                unsafe { tv_finish(memory, &raw mut self.outcome, size_of::<TvOutcome>()) };
            self.told(returned);
            if self.outcome.has_breath == 0 && self.outcome.event_count == 0 {
                return;
            }
        }
    }

    fn resume(&mut self, tick_us: u32) -> i32 {
        let memory = self.at();
        // SAFETY: as in `start`.
        unsafe { tv_resume(memory, tick_us) }
    }

    fn snapshot(&mut self) -> Vec<u8> {
        let (memory, mut kept, mut used) = (self.at(), vec![0; tv_snapshot_size()], 0);
        // SAFETY: as in `start`; room for it.
        let returned = unsafe { tv_snapshot(memory, kept.as_mut_ptr(), kept.len(), &raw mut used) };
        assert_eq!(returned, TV_OK);
        kept.truncate(used);
        kept
    }

    fn restore(&mut self, kept: &[u8]) -> i32 {
        let memory = self.at();
        // SAFETY: as in `start`.
        unsafe { tv_restore(memory, kept.as_ptr(), kept.len()) }
    }

    fn settings(&mut self) -> TvSettings {
        let (memory, mut settings) = (self.at(), defaults());
        // SAFETY: as in `start`.
        let returned = unsafe { tv_settings(memory, &raw mut settings, size_of::<TvSettings>()) };
        assert_eq!(returned, TV_OK);
        settings
    }
}

/// Ten seconds, half a second into a breath, kept; the memory is lost and the tick counter begins anew.
fn reset() -> (Bed, Vec<u8>) {
    let mut bed = Bed::new(&TvSettings { weight_g: 980, ..defaults() });
    for n in 0..1_050 {
        bed.push(sample(n * 10_000, n));
    }
    let kept = bed.snapshot();
    bed.memory.fill(0);
    bed.start(&TvSettings { weight_g: 1_500, ..defaults() });
    (bed, kept)
}

/// The events of the second after a reset, by their code.
fn after(mut bed: Bed) -> Vec<u8> {
    bed.events.clear();
    for n in 1_050..1_150 {
        bed.push(sample((n - 1_049) * 10_000, n));
    }
    bed.events.iter().map(|event| event.what).collect()
}

#[test]
fn after_a_reset_a_restored_monitor_is_resumed() {
    let (mut bed, kept) = reset();
    assert_eq!(bed.restore(&kept), TV_OK);
    // The settings of the snapshot, not those that `tv_start` was given.
    assert_eq!(bed.settings().weight_g, 980);
    assert_eq!(bed.resume(0), TV_OK);
    // One gap, and no clock that was set back.
    assert_eq!(after(bed), [TV_EVENT_GAP]);
    // The room that it was written into will do; a byte less than it took will not.
    let (mut bed, mut kept) = reset();
    let used = kept.len();
    kept.resize(tv_snapshot_size(), 0);
    assert_eq!(bed.restore(&kept[..used - 1]), TV_BAD_SNAPSHOT);
    assert_eq!(bed.restore(&kept), TV_OK);
}

#[test]
fn what_was_not_restored_is_not_resumed() {
    let (mut bed, kept) = reset();
    assert_eq!(bed.resume(0), TV_NONE);
    assert_eq!(bed.restore(&kept), TV_OK);
    // Its ticks are behind those that were heard: refused, and at the eighth the clock was set back.
    assert_eq!(after(bed), [TV_EVENT_REFUSED, TV_EVENT_CLOCK_RESET]);
    // One that has heard something may be resumed.
    let mut bed = Bed::new(&defaults());
    bed.push(sample(10_000, 0));
    assert_eq!(bed.resume(0), TV_OK);
    // A tick that is not below the first sample's: that sample is refused.
    let (mut bed, kept) = reset();
    assert_eq!((bed.restore(&kept), bed.resume(10_000)), (TV_OK, TV_OK));
    assert_eq!(after(bed), [TV_EVENT_REFUSED, TV_EVENT_GAP]);
}

#[test]
fn where_the_counter_is_set_back_at_us_jumps_and_time_us_goes_on() {
    let mut bed = Bed::new(&defaults());
    for n in 0..2_000 {
        bed.push(sample(n * 10_000, n));
    }
    let (breaths, events) = (bed.breaths.len(), bed.events.len());
    // From 1 ms on; then 300 samples of 10 ms are lost, 3 s: a sensor fault rings after 2 s, and ends after a gap.
    for n in 2_000..2_500 {
        bed.push(sample((n - 2_000) * 10_000 + 1_000, n));
    }
    for _ in 0..300 {
        bed.lost();
    }
    for n in 2_800..3_000 {
        bed.push(sample((n - 2_000) * 10_000 + 1_000, n));
    }
    let of = |what, begins| {
        let found = bed.events.iter().find(|event| event.what == what && event.begins == begins);
        found.map(|event| (event.at_us, event.time_us)).unwrap()
    };
    // The last sample before was at 19.990 s; the usual interval passed. Seven are refused, the eighth is
    // believed: 70 ms of guessed time more.
    let shift = of(TV_EVENT_CLOCK_RESET, 0).1 - of(TV_EVENT_CLOCK_RESET, 0).0;
    assert!((19_999_000..=20_080_000).contains(&shift), "{shift}");
    // The first after the loss is at 8.001 s; so far ahead, the eighth is believed: 70 ms later.
    assert_eq!(of(TV_EVENT_GAP, 0), (8_071_000, 8_071_000 + shift));
    let (at, time) = of(TV_EVENT_ALARM, 1);
    assert!((6_900_000..7_200_000).contains(&at) && time == at + shift, "{at}, {time}");
    // Nothing of the 10 s after the counter was set back lies before it, but for the tick that was refused.
    let later = &bed.events[events..];
    assert_eq!((later[0].what, later[0].time_us), (TV_EVENT_REFUSED, 1_000));
    for event in &later[1..] {
        assert!((19_990_000..30_080_000).contains(&event.time_us), "{event:?}");
    }
    for breath in bed.breaths.iter().skip(breaths + 1) {
        assert_eq!(breath.time_us, breath.onset_us + shift);
    }
    // The journal keeps the time of an alarm; of the rest that of the ticks alone.
    let mut times = vec![];
    loop {
        let (memory, mut entry) = (bed.at(), TvEntry { number: 0, event: bed.events[0] });
        // SAFETY: as in `start`.
        let returned = unsafe { tv_journal(memory, &raw mut entry, size_of::<TvEntry>()) };
        if returned == TV_NONE {
            break;
        }
        times.push((entry.event.what, entry.event.time_us));
    }
    assert!(times.contains(&(TV_EVENT_ALARM, time)), "{times:?}");
    assert!(times.iter().all(|(what, time)| (*what == TV_EVENT_ALARM) == (*time != TV_NO_TIME)));
}

#[test]
fn what_a_counter_that_was_set_back_cuts_off_ends_where_the_new_time_begins() {
    use tidevane::monitor::{Event, EventKind, Monitor, Report, Settings};
    use tidevane::quantity::Instant;
    use tidevane::signal::Reading;

    let (mut monitor, mut report) = (Monitor::new(Settings::default()), Report::default());
    let reading = Reading::default();
    let push = |monitor: &mut Monitor, report: &mut Report, ms: u64| {
        monitor.push_at_into(Instant::from_us(ms * 1_000), reading, report);
    };
    (0..2_000).for_each(|n| push(&mut monitor, &mut report, n * 10));
    let is_reset = |event: &Event| matches!(event.what, EventKind::ClockReset { .. });
    for n in 0..8 {
        push(&mut monitor, &mut report, n * 10);
    }
    let set_back = *report.events.iter().find(|event| is_reset(event)).unwrap();
    // A double trigger of the time before, told with it, and one of the time after.
    let at = |ms: u64| Event { at: Instant::from_us(ms * 1_000), what: EventKind::DoubleTrigger };
    let mut told = Report::default();
    for event in [at(19_900), set_back, at(80)] {
        told.events.push(event).unwrap();
    }
    let told = TvOutcome::of(&told, &monitor);
    let [before, reset, after] =
        [0, 1, 2].map(|i: usize| (told.events[i].at_us, told.events[i].time_us));
    // The eighth sample, 70 ms on the ticks; 20 s and some on the monitor's time.
    assert_eq!((before.0, reset.0, after.0), (19_900_000, 70_000, 80_000));
    assert_eq!((before.1, after.1), (reset.1, reset.1 + 10_000));
    assert!((19_990_000..20_200_000).contains(&reset.1), "{}", reset.1);
}

/// What rings at the end of three breaths and a half, the last of which is cut: by its code.
fn rings_at_the_end(delay_ms: u32) -> Vec<u8> {
    let mut settings = defaults();
    // A peak of 15 cmH2O violates nothing.
    settings.limits[TV_PRESSURE as usize].high_q16 = 25 << 16;
    settings.limits[TV_PRESSURE as usize].delay_ms = delay_ms;
    let mut bed = Bed::new(&settings);
    for n in 0..350 {
        bed.push(sample(n * 10_000, n));
    }
    bed.events.clear();
    bed.finish();
    assert_eq!(bed.breaths.last().map(|breath| breath.flags), Some(TV_FLAG_CUT));
    bed.events.iter().filter(|event| event.begins == 1).map(|event| event.alarm).collect()
}

#[test]
fn without_a_delay_the_breath_that_the_end_cuts_cannot_be_known() {
    assert_eq!(rings_at_the_end(0), [(TV_ALARM_CANNOT_KNOW + TV_PRESSURE) as u8]);
    assert!(rings_at_the_end(20_000).is_empty());
}

#[test]
fn an_outcome_is_written_only_where_the_call_returns_ok() {
    let mut bed = Bed::new(&defaults());
    (bed.outcome.has_breath, bed.outcome.event_count) = (7, 7);
    bed.memory.fill(0);
    let memory = bed.at();
    // SAFETY: as in `start`; it holds zeros.
    let returned =
        unsafe { tv_push(memory, sample(0, 0), &raw mut bed.outcome, size_of::<TvOutcome>()) };
    assert_eq!((returned, bed.outcome.has_breath), (TV_NOT_STARTED, 7));
    // And nothing of what stood there is left where it does.
    bed.start(&defaults());
    bed.push(sample(0, 0));
    assert_eq!((bed.outcome.has_breath, bed.outcome.event_count), (0, 0));
}

/// Why settings are refused: empty where they are not, as `tv_start` must find, too.
fn refusal(settings: &TvSettings) -> std::string::String {
    let (mut text, mut memory) = ([0_u8; 96], vec![0_u64; tv_size().div_ceil(8)]);
    let bytes = size_of::<TvSettings>();
    // SAFETY: all of these are here, and as long as said.
    let (told, started) = unsafe {
        (
            tv_refusal(settings, bytes, text.as_mut_ptr().cast(), text.len()),
            tv_start(memory.as_mut_ptr().cast(), memory.len() * 8, settings, bytes),
        )
    };
    let text = core::ffi::CStr::from_bytes_until_nul(&text).unwrap().to_str().unwrap();
    assert_eq!(told, TV_OK);
    assert_eq!(started, if text.is_empty() { TV_OK } else { TV_BAD_SETTING }, "{text}");
    text.into()
}

#[test]
fn what_was_scaled_wrongly_is_refused_by_name() {
    const LARGE: &str = "is above the largest allowed value";
    const SMALL: &str = "is below the smallest allowed value";
    type Of<'a, T> = (&'a str, fn(&mut TvSettings) -> &mut T);
    let refused = |set: &dyn Fn(&mut TvSettings)| {
        let mut settings = defaults();
        set(&mut settings);
        refusal(&settings)
    };
    // A number as it is; 0.1 times 65 536 is 6,553.6, of which the macro keeps 6,553.
    let whole: [Of<'_, i32>; 7] = [
        ("threshold_q16", |s| &mut s.threshold_q16),
        ("set_rate_q16", |s| &mut s.set_rate_q16),
        ("peak_q16", |s| &mut s.peak_q16),
        ("support_peak_q16", |s| &mut s.support_peak_q16),
        ("limit_q16", |s| &mut s.limit_q16),
        ("limits[TV_RATE].high_q16", |s| &mut s.limits[TV_RATE as usize].high_q16),
        ("limits[TV_MINUTE_VOLUME].low_q16", |s| &mut s.limits[TV_MINUTE_VOLUME as usize].low_q16),
    ];
    for (name, field) in whole {
        for value in [1, 200, 6_552] {
            assert_eq!(refused(&|s| *field(s) = value), std::format!("{name} {SMALL}"), "{value}");
        }
        assert_eq!(refused(&|s| *field(s) = 6_553), "", "{name}");
    }
    let shares: [Of<'_, i32>; 3] = [
        ("limits[TV_LEAK].low_q16", |s| &mut s.limits[TV_LEAK as usize].low_q16),
        ("limits[TV_LEAK].high_q16", |s| &mut s.limits[TV_LEAK as usize].high_q16),
        ("limits[TV_LEAK].hysteresis_q16", |s| &mut s.limits[TV_LEAK as usize].hysteresis_q16),
    ];
    for (name, field) in shares {
        for value in [40 << 16, 65_537] {
            assert_eq!(refused(&|s| *field(s) = value), std::format!("{name} {LARGE}"), "{value}");
        }
        // 40 %, the whole, and a hundredth of a percent.
        for value in [26_214, 65_536, 7] {
            assert_eq!(refused(&|s| *field(s) = value), "", "{name}");
        }
    }
    let switches: [Of<'_, u32>; 4] = [
        ("fit_bend", |s| &mut s.fit_bend),
        ("apnoea_latching", |s| &mut s.apnoea_latching),
        ("disconnection_latching", |s| &mut s.disconnection_latching),
        ("limits[TV_LEAK].latching", |s| &mut s.limits[TV_LEAK as usize].latching),
    ];
    for (name, field) in switches {
        assert_eq!(refused(&|s| *field(s) = 2), std::format!("{name} {LARGE}"));
        assert_eq!(refused(&|s| *field(s) = 1), "", "{name}");
    }
}

macro_rules! fields {
    ($of:expr; $($field:ident)*) => { [$((stringify!($field), i64::from($of.$field))),*] };
}

/// Every "default" beside a field is the one that `tv_defaults` gives, and none is left out.
#[test]
fn the_defaults_are_those_that_are_written() {
    let of = defaults();
    let mut given: Vec<(&str, i64)> =
        fields!(of.limits[0]; low_q16 high_q16 hysteresis_q16 delay_ms latching).into();
    for limits in of.limits {
        assert_eq!(given, fields!(limits; low_q16 high_q16 hysteresis_q16 delay_ms latching));
    }
    given.extend(fields!(of;
        weight_g trigger threshold_q16 set_rate_q16 peak_q16 support_peak_q16 flow_offset_q16 flow_limit_q16
        pressure_limit_q16 gap_ms cut_ms frozen_ms min_flow_q16 min_volume_q16 inflation_rise_q16 zero_limit_q16
        least_effort_q16 tube tube_k1_q16 tube_k2_q16 limit_q16 limit_delay_ms target_q16 target_step_q16
        target_ceiling_q16 target_least_rise_q16 target_most_leak_q16 fit_least_samples fit_least_goodness_q16
        fit_bend grid_lowest_q16 grid_step_q16 grid_count settle_minutes baseline_minutes load_change_q16
        load_sustain_minutes apnoea_ms apnoea_latching short_apnoea_ms heart_below saturation_below
        disconnection_level_q16 disconnection_hysteresis_q16 disconnection_breaths disconnection_latching
        sensor_fault_ms no_input_ms));
    let source = concat!(include_str!("limits.rs"), include_str!("settings.rs"));
    let mut written = vec![];
    let mut doc = std::string::String::new();
    for line in source.lines().map(str::trim) {
        if let Some(text) = line.strip_prefix("///") {
            doc += text;
        } else {
            if let Some((name, _)) =
                line.strip_prefix("pub ").and_then(|field| field.split_once(':'))
                && let Some((_, default)) = doc.split_once("default ")
                && !["limits", "priorities"].contains(&name)
            {
                let default = default.trim_end_matches(['.', ',', ')']);
                let number = default
                    .split([' ', ')'])
                    .next()
                    .unwrap()
                    .trim_end_matches(',')
                    .replace(',', "");
                let value = match number.as_str() {
                    "none" => i64::from(TV_UNSET),
                    number => {
                        let scale = if name.ends_with("_q16") { 65_536.0 } else { 1.0 };
                        (number.parse::<f64>().unwrap() * scale) as i64
                    }
                };
                written.push((name, value));
            }
            doc.clear();
        }
    }
    let names = |of: &[(&str, i64)]| {
        of.iter().map(|(name, _)| std::string::String::from(*name)).collect::<Vec<_>>()
    };
    assert_eq!(names(&written), names(&given));
    for ((name, written), (_, given)) in written.into_iter().zip(given) {
        // Fractions are written to a ten-thousandth: 6.6 steps of 65 536.
        let far = if name.ends_with("_q16") { 7 } else { 0 };
        assert!(written.abs_diff(given) <= far, "{name}: {written} is written, {given} is given");
    }
    for (alarm, priority) in (0..).zip(of.priorities) {
        const LOW_MINUTE_VOLUME: u32 = TV_ALARM_LOW + TV_MINUTE_VOLUME;
        const HIGH_PRESSURE: u32 = TV_ALARM_HIGH + TV_PRESSURE;
        const HIGH_RATE: u32 = TV_ALARM_HIGH + TV_RATE;
        const HIGH_LEAK: u32 = TV_ALARM_HIGH + TV_LEAK;
        let written = match alarm {
            TV_ALARM_APNOEA | TV_ALARM_DISCONNECTION | TV_ALARM_NO_INPUT => TV_PRIORITY_HIGH,
            LOW_MINUTE_VOLUME | HIGH_PRESSURE => TV_PRIORITY_HIGH,
            HIGH_RATE | HIGH_LEAK | TV_ALARM_CANNOT_KNOW.. => TV_PRIORITY_LOW,
            _ => TV_PRIORITY_MEDIUM,
        };
        assert_eq!(priority, written, "{alarm}");
    }
}
