//! What goes over the serial line: `postcard` frames, each ended by a zero byte (COBS).

use serde::{Deserialize, Serialize};
use tidevane::breath::Kind;
use tidevane::leak::LungVolume;
use tidevane::mechanics::FitOutcome;
use tidevane::monitor::{BreathReport, Entry, Event};

/// Changes with every change of a frame.
pub const FORMAT: u8 = 2;
/// No frame is longer.
pub const LONGEST: usize = 96;

/// One message. Quantities are raw: one step is 1/65 536 of mL, mL/s or cmH2O.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Frame<'a> {
    /// The first frame after power-up.
    Hello {
        /// [`FORMAT`].
        format: u8,
        /// Time between samples, µs.
        period_us: u32,
    },
    /// A breath was closed.
    Breath {
        /// When it began, turned outward and ended, µs.
        onset_us: u64,
        end_insp_us: u64,
        end_us: u64,
        /// Whether the machine inflated.
        inflation: bool,
        /// Volumes at the sensor.
        inspired: i32,
        expired: i32,
        /// Volume in the lung, where it can be known.
        lung: Option<i32>,
        peak: i32,
        baseline: i32,
        /// Share over the last breaths, where it can be known.
        leak: Option<i32>,
        /// mL/cmH2O and cmH2O/(L/s), where they can be known.
        compliance_resistance: Option<(i32, i32)>,
        /// What started it, where the machine inflated.
        cause: Option<&'a str>,
        /// Whether nothing was wrong with it.
        trusted: bool,
    },
    /// Something happened between breaths that is not for the journal.
    Event { at_us: u64, what: &'a str },
    /// An entry of the journal, and how many made room before they could be sent.
    Journal { entry: Entry, lost: u32 },
}

impl Frame<'_> {
    /// A closed breath.
    #[must_use]
    pub fn of_breath(closed: &BreathReport) -> Self {
        let breath = &closed.breath;
        Self::Breath {
            onset_us: breath.onset.to_us(),
            end_insp_us: breath.end_insp.to_us(),
            end_us: breath.end.to_us(),
            inflation: breath.kind == Kind::Inflation,
            inspired: breath.inspired.value.to_bits(),
            expired: breath.expired.value.to_bits(),
            lung: match closed.lung {
                LungVolume::Known { volume, .. } => Some(volume.to_bits()),
                LungVolume::Unknown(_) => None,
            },
            peak: breath.peak.to_bits(),
            baseline: breath.baseline.to_bits(),
            leak: closed.leak_window.share().map(|share| share.to_bits()),
            compliance_resistance: match closed.mechanics {
                FitOutcome::Known { compliance, resistance, .. } => {
                    Some((compliance.to_bits(), resistance.to_bits()))
                }
                FitOutcome::Unknown(_) => None,
            },
            cause: closed.initiation.map(|initiation| initiation.cause.name()),
            trusted: breath.is_trusted(),
        }
    }

    /// An event.
    #[must_use]
    pub fn of_event(event: &Event) -> Self {
        Self::Event { at_us: event.at.to_us(), what: event.what.name() }
    }

    /// The bytes to send, in a buffer of [`LONGEST`]; none for a frame that does not fit.
    #[must_use]
    pub fn bytes<'b>(&self, buffer: &'b mut [u8; LONGEST]) -> &'b [u8] {
        postcard::to_slice_cobs(self, buffer).map_or(&[], |bytes| bytes)
    }
}
