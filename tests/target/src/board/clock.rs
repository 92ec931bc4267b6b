//! Counts instructions. In an emulator that runs one instruction a nanosecond (`-icount shift=0`)
//! the system timer tells time in ticks of some tens of instructions; polling for the edges of a
//! tick finds the rest, to within one round of the poll.

use core::arch::asm;
use core::hint::black_box;
use cortex_m::peripheral::SYST;
use cortex_m::peripheral::syst::SystClkSource;

/// Ticks a second, from the board's memory file.
const HZ: u32 = match u32::from_str_radix(env!("BOARD_HZ"), 10) {
    Ok(hz) => hz,
    Err(_) => panic!("the board's clock is no number"),
};
/// Half nanoseconds a tick: whole on every board.
const HALVES: u32 = 2_000_000_000 / HZ;
/// The timer counts down from here.
const MOST: u32 = 0x00ff_ffff;
/// Instructions of one round of the poll.
const ROUND: u32 = 4;

/// Counts the instructions between two edges of the system timer.
#[derive(Debug)]
pub struct Clock {
    /// What measuring nothing counts.
    nothing: u32,
}

impl Clock {
    /// Starts the timer and looks whether it counts instructions: a loop of known length.
    ///
    /// # Panics
    /// Where it does not: the emulator was started without `-icount shift=0`.
    #[must_use]
    pub fn start(mut timer: SYST) -> Self {
        timer.set_clock_source(SystClkSource::Core);
        timer.set_reload(MOST);
        timer.clear_current();
        timer.enable_counter();
        let mut clock = Self { nothing: 0 };
        clock.nothing = (0..8).map(|_| clock.count(|| ()).1).max().unwrap_or(0);
        let known = clock.count(|| loops(1_000)).1;
        // Two instructions a round, and a few around them.
        assert!((2_000..2_016).contains(&known), "{known} instructions counted where 2000 ran");
        clock
    }

    /// What a call returns, and how many instructions it took.
    pub fn count<R>(&self, call: impl FnOnce() -> R) -> (R, u32) {
        let (from, _) = edge();
        let result = black_box(through(call));
        let (to, rounds) = edge();
        let ticks = from.wrapping_sub(to) & MOST;
        let halves = ticks.wrapping_mul(HALVES) >> 1;
        (result, halves.saturating_sub(rounds * ROUND).saturating_sub(self.nothing))
    }
}

/// A call that stays one.
#[inline(never)]
fn through<R>(call: impl FnOnce() -> R) -> R {
    call()
}

#[inline(never)]
fn loops(rounds: u32) {
    // SAFETY: counts a register down.
    unsafe { asm!("1: subs {0}, {0}, #1", "bne 1b", inout(reg) rounds => _) };
}

/// Waits for the timer's next tick: its count, and how many rounds that took.
#[inline(never)]
fn edge() -> (u32, u32) {
    let now = SYST::PTR.cast::<u32>().wrapping_add(2);
    let (was, is, rounds): (u32, u32, u32);
    // SAFETY: reads the timer's counter, which reading does not change.
    unsafe {
        asm!(
            "ldr {was}, [{now}]",
            "1: adds {rounds}, {rounds}, #1",
            "ldr {is}, [{now}]",
            "cmp {is}, {was}",
            "beq 1b",
            now = in(reg) now, was = out(reg) was, is = out(reg) is,
            rounds = inout(reg) 0_u32 => rounds,
        );
    }
    let _ = was;
    (is, rounds)
}

/// How often something ran, and how many instructions it took in all and at worst.
#[derive(Debug, Clone, Copy, Default)]
pub struct Meter {
    /// Calls.
    pub calls: u32,
    /// Instructions of all of them.
    pub total: u64,
    /// Instructions of the longest.
    pub worst: u32,
}

impl Meter {
    /// One more call.
    pub fn add(&mut self, instructions: u32) {
        self.calls += 1;
        self.total += u64::from(instructions);
        self.worst = self.worst.max(instructions);
    }

    /// Tenths of instructions a call.
    #[must_use]
    pub fn tenths(&self) -> u64 {
        self.total * 10 / u64::from(self.calls.max(1))
    }
}
