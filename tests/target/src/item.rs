//! What comes in: samples, losses and changes of settings, from the demo shift or from bytes.

use crate::settings::{flow, rate};
use tidevane::quantity::{Flow, Moment, Pressure, Rate, SettingError};
use tidevane::signal::Reading;
use tidevane::sim::{Simulator, demo};

/// One thing that came in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Item {
    /// A sample.
    Sample(Moment, Reading),
    /// A sample was lost.
    Lost,
    /// On the machine were set: the threshold and the rate.
    Machine(Flow, Rate),
}

/// How long an item is in bytes.
pub const BYTES: usize = 20;

impl Item {
    /// A kind, a moment and two values, the lowest byte first.
    #[must_use]
    pub fn to_bytes(self) -> [u8; BYTES] {
        let (kind, at, a, b) = match self {
            Self::Sample(at, r) => (0_u32, at.to_us(), r.flow.to_bits(), r.pressure.to_bits()),
            Self::Lost => (1, 0, 0, 0),
            Self::Machine(threshold, rate) => (2, 0, threshold.to_bits(), rate.to_bits()),
        };
        let mut bytes = [0; BYTES];
        bytes[..4].copy_from_slice(&kind.to_le_bytes());
        bytes[4..12].copy_from_slice(&at.to_le_bytes());
        bytes[12..16].copy_from_slice(&a.to_le_bytes());
        bytes[16..].copy_from_slice(&b.to_le_bytes());
        bytes
    }

    /// Back from bytes; `None` for a kind that does not exist.
    #[must_use]
    pub fn from_bytes(bytes: &[u8; BYTES]) -> Option<Self> {
        let four = |at: usize| [bytes[at], bytes[at + 1], bytes[at + 2], bytes[at + 3]];
        let low = u64::from(u32::from_le_bytes(four(4)));
        let high = u64::from(u32::from_le_bytes(four(8)));
        let (a, b) = (i32::from_le_bytes(four(12)), i32::from_le_bytes(four(16)));
        match u32::from_le_bytes(four(0)) {
            0 => {
                let reading =
                    Reading { flow: Flow::from_bits(a), pressure: Pressure::from_bits(b) };
                Some(Self::Sample(Moment::from_us(high << 32 | low), reading))
            }
            1 => Some(Self::Lost),
            2 => Some(Self::Machine(Flow::from_bits(a), Rate::from_bits(b))),
            _ => None,
        }
    }
}

/// The demo shift as the simulator makes it, up to a number of samples.
#[derive(Debug)]
pub struct Demo {
    simulator: Simulator,
    left: u32,
    set: Option<(Flow, Rate)>,
    next: Option<Item>,
}

impl Demo {
    /// The first `samples` of the shift, or all of it.
    ///
    /// # Errors
    /// As the simulator says.
    pub fn new(samples: u32) -> Result<Self, SettingError> {
        let simulator = Simulator::new(&demo::shift())?;
        Ok(Self { simulator, left: samples, set: None, next: None })
    }
}

impl Iterator for Demo {
    type Item = Item;

    fn next(&mut self) -> Option<Item> {
        if let Some(item) = self.next.take() {
            return Some(item);
        }
        self.left = self.left.checked_sub(1)?;
        let output = self.simulator.step();
        let us = output.at.to_us();
        if us >= u64::from(demo::DURATION_S) * 1_000_000 {
            self.left = 0;
            return None;
        }
        let item = output.sample.map_or(Item::Lost, |sample| {
            Item::Sample(output.at, Reading { flow: sample.flow, pressure: sample.pressure })
        });
        let (threshold, per_minute) = demo::settings_at(us as f64 / 1e6);
        let set = (flow(threshold), rate(per_minute));
        if self.set == Some(set) {
            return Some(item);
        }
        self.set = Some(set);
        self.next = Some(item);
        Some(Item::Machine(set.0, set.1))
    }
}
