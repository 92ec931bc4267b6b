//! What goes over the serial line: snapshots of records, which carry a CRC and tell a frame of another version, each
//! ended by a zero byte (COBS: S. Cheshire, M. Baker, IEEE/ACM Trans Netw 7:159-172, 1999).

use tidevane::breath::Kind;
use tidevane::leak::{Leak, LungVolume};
use tidevane::mechanics::FitOutcome;
use tidevane::monitor::snapshot::{read, room, write};
use tidevane::monitor::{BreathReport, Event, JournalEntry};
use tidevane::quantity::{Instant, Pressure, Saturated, Volume};
use tidevane::record;
use tidevane::signal::Flags;
use tidevane::trigger::Cause;

/// No frame is longer before it is packed.
const PLAIN: usize = room::<Frame>();
/// No frame is longer: packed it has a byte more for each 254, and the zero behind it.
pub const LONGEST: usize = PLAIN + PLAIN / 254 + 2;

record! {
    /// One message.
    #[derive(Debug, Clone, Copy, PartialEq)]
    pub enum Frame {
        /// The first frame after power-up.
        Hello {
            /// Time between samples, µs.
            period_us: u32,
        } = 0,
        /// A breath was closed.
        Breath(ClosedBreath) = 1,
        /// Something happened between breaths that is not for the journal.
        Event(Event) = 2,
        /// An entry of the journal, and how many made room before they could be sent.
        Journal { entry: JournalEntry, lost: u32 } = 3,
    }
}

record! {
    /// What is sent of a breath.
    #[derive(Debug, Clone, Copy, PartialEq)]
    pub struct ClosedBreath {
        /// When it began, turned outward and ended.
        pub onset: Instant,
        pub end_insp: Instant,
        pub end: Instant,
        /// Whether the machine inflated.
        pub kind: Kind,
        /// Volumes at the sensor.
        pub inspired: Saturated<Volume>,
        pub expired: Saturated<Volume>,
        /// Volume in the lung.
        pub lung: LungVolume,
        pub peak: Pressure,
        pub baseline: Pressure,
        /// Share over the last breaths.
        pub leak: Leak,
        pub mechanics: FitOutcome,
        /// What started it; none for an own breath.
        pub cause: Option<Cause>,
        /// What was wrong with it.
        pub flags: Flags,
    }
}

impl Frame {
    /// A closed breath.
    #[must_use]
    pub fn of_breath(closed: &BreathReport) -> Self {
        let breath = &closed.breath;
        Self::Breath(ClosedBreath {
            onset: breath.onset,
            end_insp: breath.end_insp,
            end: breath.end,
            kind: breath.kind,
            inspired: breath.inspired,
            expired: breath.expired,
            lung: closed.lung,
            peak: breath.peak,
            baseline: breath.baseline,
            leak: closed.leak_window,
            mechanics: closed.mechanics,
            cause: closed.initiation.map(|initiation| initiation.cause),
            flags: breath.flags,
        })
    }

    /// The bytes to send, in a buffer of [`LONGEST`], which holds any frame.
    #[must_use]
    pub fn bytes<'b>(&self, buffer: &'b mut [u8; LONGEST]) -> &'b [u8] {
        let mut plain = [0; PLAIN];
        let written = write(self, &mut plain).unwrap_or(0);
        let room = buffer.get_mut(..LONGEST - 1).unwrap_or_default();
        let plain = plain.get(..written).unwrap_or_default();
        // Behind what was packed stands the zero that ends it.
        let packed = cobs::try_encode(plain, room).unwrap_or(0);
        buffer.get(..=packed).unwrap_or_default()
    }

    /// The frame that these bytes hold, up to the zero that ends them, which are unpacked in place;
    /// `None` where they hold none, or were changed on the way.
    #[must_use]
    pub fn of_bytes(bytes: &mut [u8]) -> Option<Self> {
        let len = cobs::decode_in_place(bytes).ok()?;
        read(bytes.get(..len)?).ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tidevane::monitor::EventKind;
    use tidevane::signal::Refusal;

    #[test]
    fn frames_come_back_as_they_were() {
        let event = |us, what| Frame::Event(Event { at: Instant::from_us(us), what });
        let frames = [
            Frame::Hello { period_us: u32::MAX },
            event(u64::MAX, EventKind::Refused(Refusal::NotLater)),
            event(0, EventKind::DoubleTrigger),
        ];
        for frame in frames {
            let mut buffer = [0; LONGEST];
            let len = frame.bytes(&mut buffer).len();
            // One zero, at the end.
            assert_eq!(buffer[..len].iter().position(|byte| *byte == 0), Some(len - 1));
            assert_eq!(Frame::of_bytes(&mut buffer[..len]), Some(frame));
        }
    }

    #[test]
    fn what_was_changed_on_the_way_is_refused() {
        let mut buffer = [0; LONGEST];
        let len = Frame::Hello { period_us: 10_000 }.bytes(&mut buffer).len();
        for place in 0..len - 1 {
            let mut changed = buffer;
            changed[place] ^= 0x04;
            assert_eq!(Frame::of_bytes(&mut changed[..len]), None, "byte {place}");
        }
        for bytes in [&mut [0][..], &mut [1, 2, 9, 0], &mut [9, 1, 0]] {
            assert_eq!(Frame::of_bytes(bytes), None);
        }
    }
}
