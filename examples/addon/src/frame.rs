//! What goes over the serial line: records as raw bits and stable codes, each frame ended by a zero
//! byte (COBS: S. Cheshire, M. Baker, IEEE/ACM Trans Netw 7:159-172, 1999).

use tidevane::breath::Kind;
use tidevane::leak::{Leak, LungVolume};
use tidevane::mechanics::FitOutcome;
use tidevane::monitor::{BreathReport, Event, JournalEntry};
use tidevane::quantity::{Instant, Pressure, Record, Saturated, Sink, Source, Volume};
use tidevane::record;
use tidevane::signal::Flags;
use tidevane::trigger::Cause;

/// Changes with every change of a frame.
pub const FORMAT: u8 = 3;
/// No frame is longer.
pub const LONGEST: usize = 128;
/// Its zero byte, and the one more that its other bytes take.
const AROUND: usize = 2;

record! {
    /// One message.
    #[derive(Debug, Clone, Copy, PartialEq)]
    pub enum Frame {
        /// The first frame after power-up.
        Hello {
            /// [`FORMAT`].
            format: u8,
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

    /// The bytes to send, in a buffer of [`LONGEST`]; none for a frame that does not fit.
    #[must_use]
    pub fn bytes<'b>(&self, buffer: &'b mut [u8; LONGEST]) -> &'b [u8] {
        let mut plain = [0; LONGEST - AROUND];
        let mut written = Writer { to: &mut plain, len: 0, fits: true };
        self.save(&mut written);
        let (len, fits) = (written.len, written.fits);
        let room = buffer.get_mut(..LONGEST - 1).unwrap_or_default();
        let packed = plain.get(..len).filter(|_| fits).map(|bytes| cobs::try_encode(bytes, room));
        match packed {
            // Behind what was packed stands the zero that ends it.
            Some(Ok(packed)) => buffer.get(..=packed).unwrap_or_default(),
            _ => &[],
        }
    }

    /// The frame that these bytes hold, up to the zero that ends them, which are unpacked in place;
    /// `None` where they hold none.
    #[must_use]
    pub fn of_bytes(bytes: &mut [u8]) -> Option<Self> {
        let len = cobs::decode_in_place(bytes).ok()?;
        let mut read = Reader(bytes.get(..len)?);
        Self::load(&mut read).filter(|_| read.0.is_empty())
    }
}

/// Writes a number in as few bytes as it needs: seven bits a byte, the sign in the lowest bit of all.
struct Writer<'a> {
    to: &'a mut [u8],
    len: usize,
    fits: bool,
}

impl Sink for Writer<'_> {
    fn number(&mut self, bits: i64, _: u8) {
        let mut rest = (bits << 1 ^ bits >> 63).cast_unsigned();
        while rest > 0x7f {
            self.code(rest as u8 | 0x80);
            rest >>= 7;
        }
        self.code(rest as u8);
    }

    fn code(&mut self, code: u8) {
        match self.to.get_mut(self.len) {
            Some(place) => {
                *place = code;
                self.len += 1;
            }
            None => self.fits = false,
        }
    }
}

struct Reader<'a>(&'a [u8]);

impl Source for Reader<'_> {
    fn number(&mut self) -> Option<i64> {
        let (mut bits, mut shift) = (0_u64, 0);
        loop {
            let byte = self.code()?;
            bits |= u64::from(byte & 0x7f).checked_shl(shift)?;
            if byte < 0x80 {
                return Some((bits >> 1).cast_signed() ^ -((bits & 1).cast_signed()));
            }
            shift += 7;
        }
    }

    fn code(&mut self) -> Option<u8> {
        let (first, rest) = self.0.split_first()?;
        self.0 = rest;
        Some(*first)
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
            Frame::Hello { format: FORMAT, period_us: u32::MAX },
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
    fn small_numbers_take_few_bytes() {
        // Hello: its code, 3 as 6, 10 000 as 20 000 = 0x4e20: 0xa0, 0x9c, 0x01; COBS puts the
        // distance to the first zero (the first byte) before them and a zero behind.
        let mut buffer = [0; LONGEST];
        let hello = Frame::Hello { format: 3, period_us: 10_000 };
        assert_eq!(hello.bytes(&mut buffer), [1, 5, 6, 0xa0, 0x9c, 0x01, 0]);
    }

    #[test]
    fn what_is_no_frame_is_refused() {
        for bytes in [&mut [0][..], &mut [1, 2, 9, 0], &mut [1, 2, 6, 0], &mut [9, 1, 0]] {
            assert_eq!(Frame::of_bytes(bytes), None);
        }
    }
}
