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
