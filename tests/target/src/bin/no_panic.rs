//! Links only if no panic can be reached from any public function, whatever its arguments are.
//!
//! `.ci/every` writes a table of the addresses of all of them from the snapshot of the interface, so that none can be
//! left out; those that no address names are called below. The panic handler calls a function that nobody defines:
//! where the linker drops the handler, no path leads to a panic.
#![no_std]
#![no_main]

use core::convert::Infallible;
use core::hint::black_box as opaque;
use embedded_hal::digital::{self, OutputPin};
use embedded_hal::pwm::{self, SetDutyCycle};
use tidevane::alarm::Condition;
use tidevane::bedside::Plan;
use tidevane::monitor::snapshot::{SnapshotError, read, read_into, room, write};
use tidevane::monitor::{Journal, Monitor, Settings, SettingsBuilder};
use tidevane::quantity::{Flow, Mass, Pressure, Rate, Record, Saturated, Sink, Source, Volume};
use tidevane::signal::Flags;
use tidevane::trend::LoadSigns;
use tidevane::trigger::{Threshold, ThresholdGrid};
use tidevane::volume::{Limiter, Proposal};

unsafe extern "C" {
    fn a_panic_can_be_reached() -> !;
}

#[panic_handler]
fn panic(_: &core::panic::PanicInfo) -> ! {
    // SAFETY: never linked into a program that runs; the missing function is the proof's alarm.
    unsafe { a_panic_can_be_reached() }
}

/// Addresses of functions.
#[repr(transparent)]
struct Every<const N: usize>([*const (); N]);

// SAFETY: nobody calls through them.
unsafe impl<const N: usize> Sync for Every<N> {}

include!(env!("EVERY"));

/// A pin that drives nothing.
struct Pin;

impl digital::ErrorType for Pin {
    type Error = Infallible;
}

impl OutputPin for Pin {
    fn set_low(&mut self) -> Result<(), Infallible> {
        opaque(Ok(()))
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        opaque(Ok(()))
    }
}

impl pwm::ErrorType for Pin {
    type Error = Infallible;
}

impl SetDutyCycle for Pin {
    fn max_duty_cycle(&self) -> u16 {
        opaque(1)
    }

    fn set_duty_cycle(&mut self, duty: u16) -> Result<(), Infallible> {
        opaque(duty);
        opaque(Ok(()))
    }
}

/// Takes and gives anything.
struct Any;

impl Sink for Any {
    fn number(&mut self, bits: i64, fraction: u8) {
        opaque((bits, fraction));
    }

    fn code(&mut self, code: u8) {
        opaque(code);
    }
}

impl Source for Any {
    fn number(&mut self) -> Option<i64> {
        opaque(Some(1))
    }

    fn code(&mut self) -> Option<u8> {
        opaque(Some(1))
    }
}

// by hand: quantity::Record::save
fn save<T: Record>(it: &T, to: &mut Any) {
    it.save(to);
}

// by hand: quantity::Record::load
fn load<T: Record>(from: &mut Any) -> Option<T> {
    T::load(from)
}

// What takes closures and sinks, what this crate asks of others, and what the iterators do that others give.
// by hand: quantity::Sink::number
// by hand: quantity::Sink::code
// by hand: quantity::Sink::enter
// by hand: quantity::Sink::enter_item
// by hand: quantity::Sink::leave
// by hand: quantity::Source::number
// by hand: quantity::Source::code
// by hand: monitor::snapshot::read
// by hand: monitor::snapshot::read_into
// by hand: quantity::Record::load_into
// by hand: monitor::snapshot::room
// by hand: monitor::snapshot::write
// by hand: quantity::Quantity::milli
// by hand: quantity::Quantity::milli_lpm
// by hand: quantity::Saturated::map
// by hand: alarm::Condition::all
// by hand: monitor::Journal::entries
// by hand: monitor::Monitor::threshold_table
// by hand: signal::Flags::names
// by hand: trigger::ThresholdGrid::levels
// by hand: trend::LoadSigns::names
// by hand: bedside::Plan::steps
// by hand: monitor::SettingsBuilder::weight
// by hand: monitor::SettingsBuilder::threshold
// by hand: monitor::SettingsBuilder::limiter
// by hand: monitor::SettingsBuilder::proposal
// by hand: monitor::SettingsBuilder::set_rate
// by hand: monitor::SettingsBuilder::peak
// by hand: monitor::SettingsBuilder::support_peak
fn by_hand() {
    fn run<T>(items: impl Iterator<Item = T>) {
        items.for_each(|item| {
            opaque(item);
        });
    }
    let mut any = Any;
    (any.enter("a"), any.enter_item(opaque(1)), any.leave());
    opaque(read::<Monitor> as fn(&[u8]) -> Result<Monitor, SnapshotError>);
    opaque(read::<Settings> as fn(&[u8]) -> Result<Settings, SnapshotError>);
    opaque(read::<Journal<8>> as fn(&[u8]) -> Result<Journal<8>, SnapshotError>);
    opaque(read_into::<Monitor> as fn(&mut Monitor, &[u8]) -> Result<(), SnapshotError>);
    opaque((|e: &mut Settings| e.load_into(&mut Any)) as fn(&mut Settings) -> Option<()>);
    opaque(write::<Monitor> as fn(&Monitor, &mut [u8]) -> Result<usize, SnapshotError>);
    opaque(write::<Settings> as fn(&Settings, &mut [u8]) -> Result<usize, SnapshotError>);
    opaque(write::<Journal<8>> as fn(&Journal<8>, &mut [u8]) -> Result<usize, SnapshotError>);
    opaque(
        (|| (room::<Monitor>(), (Volume::milli::<5>(), Flow::milli_lpm::<5>())))
            as fn() -> (usize, (Volume, Flow)),
    );
    opaque((|v: Saturated<Volume>| v.map(opaque)) as fn(Saturated<Volume>) -> Saturated<Volume>);
    opaque((|| run(Condition::all())) as fn());
    opaque((|j: &Journal<8>| run(j.entries())) as fn(&Journal<8>));
    opaque((|m: &Monitor| run(m.threshold_table())) as fn(&Monitor));
    opaque((|f: Flags| run(f.names())) as fn(Flags));
    opaque((|g: &ThresholdGrid| run(g.levels())) as fn(&ThresholdGrid));
    opaque((|s: LoadSigns| run(s.names())) as fn(LoadSigns));
    opaque((|p: &Plan| run(p.steps())) as fn(&Plan));
    type Set = SettingsBuilder;
    opaque((|b: Set, it: Option<Mass>| b.weight(it)) as fn(Set, Option<Mass>) -> Set);
    opaque((|b: Set, it: Option<Threshold>| b.threshold(it)) as fn(Set, Option<Threshold>) -> Set);
    opaque((|b: Set, it: Option<Limiter>| b.limiter(it)) as fn(Set, Option<Limiter>) -> Set);
    opaque((|b: Set, it: Option<Proposal>| b.proposal(it)) as fn(Set, Option<Proposal>) -> Set);
    opaque((|b: Set, it: Option<Rate>| b.set_rate(it)) as fn(Set, Option<Rate>) -> Set);
    opaque((|b: Set, it: Option<Pressure>| b.peak(it)) as fn(Set, Option<Pressure>) -> Set);
    opaque((|b: Set, it: Option<Pressure>| b.support_peak(it)) as fn(Set, Option<Pressure>) -> Set);
}

/// With the feature `bad` one address more, of what can panic: then the proof must fail.
#[cfg(feature = "bad")]
fn bad(of: &[u8], at: usize) -> u8 {
    of[at]
}

#[unsafe(no_mangle)]
extern "C" fn _start() -> ! {
    opaque(&EVERY);
    by_hand();
    #[cfg(feature = "bad")]
    opaque(bad as fn(&[u8], usize) -> u8);
    loop {}
}
