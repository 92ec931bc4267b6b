//! What comes in: samples, losses and changes of settings, from the demo shift or from bytes.

use crate::settings::machine;
use tidevane::monitor::MachineSettings;
use tidevane::quantity::{Flow, Instant, Pressure, Rate};
use tidevane::signal::Reading;
use tidevane::trigger::{Threshold, TriggerKind};
use tidevane_sim::{Scenario, ScenarioError, SimSample, Simulator, demo};

/// One thing that came in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Item {
    /// A sample.
    Sample(Instant, Reading),
    /// A sample was lost.
    Lost,
    /// These were set on the machine at a moment.
    Machine(Instant, MachineSettings),
}

/// How long an item is in bytes.
pub const BYTES: usize = 28;

impl Item {
    /// What the simulated sensor gave at a moment.
    #[must_use]
    pub fn simulated(at: Instant, sample: Option<SimSample>) -> Self {
        sample.map_or(Self::Lost, |sample| {
            let flow = Flow::from_bits(sample.flow_bits());
            Self::Sample(
                at,
                Reading { flow, pressure: Pressure::from_bits(sample.pressure_bits()) },
            )
        })
    }

    /// A kind, a moment and four values, the lowest byte first; a value that is not there is zero.
    #[must_use]
    pub fn to_bytes(self) -> [u8; BYTES] {
        let (kind, at, values) = match self {
            Self::Sample(at, r) => {
                (0_u32, at.to_us(), [r.flow.to_bits(), r.pressure.to_bits(), 0, 0])
            }
            Self::Lost => (1, 0, [0; 4]),
            Self::Machine(at, set) => (2, at.to_us(), values(&set)),
        };
        let mut bytes = [0; BYTES];
        bytes[..4].copy_from_slice(&kind.to_le_bytes());
        bytes[4..12].copy_from_slice(&at.to_le_bytes());
        for (place, value) in bytes[12..].chunks_exact_mut(4).zip(values) {
            place.copy_from_slice(&value.to_le_bytes());
        }
        bytes
    }

    /// Back from bytes; `None` for a kind that does not exist.
    #[must_use]
    pub fn from_bytes(bytes: &[u8; BYTES]) -> Option<Self> {
        let four = |at: usize| [bytes[at], bytes[at + 1], bytes[at + 2], bytes[at + 3]];
        let low = u64::from(u32::from_le_bytes(four(4)));
        let high = u64::from(u32::from_le_bytes(four(8)));
        let at = Instant::from_us(high << 32 | low);
        let [a, b, c, d] = [12, 16, 20, 24].map(|at| i32::from_le_bytes(four(at)));
        match u32::from_le_bytes(four(0)) {
            0 => {
                let reading =
                    Reading { flow: Flow::from_bits(a), pressure: Pressure::from_bits(b) };
                Some(Self::Sample(at, reading))
            }
            1 => Some(Self::Lost),
            2 => Some(Self::Machine(at, set([a, b, c, d])?)),
            _ => None,
        }
    }
}

fn values(set: &MachineSettings) -> [i32; 4] {
    [
        set.threshold.map_or(0, |t| t.flow().to_bits()),
        set.set_rate.map_or(0, |r| r.to_bits()),
        set.peak.map_or(0, |p| p.to_bits()),
        set.support_peak.map_or(0, |p| p.to_bits()),
    ]
}

fn set([threshold, rate, peak, support]: [i32; 4]) -> Option<MachineSettings> {
    let pressure = |bits| Some(Pressure::from_bits(bits)).filter(|p| *p > Pressure::ZERO);
    Some(MachineSettings {
        trigger: TriggerKind::Flow,
        threshold: Some(Threshold::new(Flow::from_bits(threshold)).ok()?),
        set_rate: Some(Rate::from_bits(rate)),
        peak: pressure(peak),
        support_peak: pressure(support),
    })
}

/// The demo shift as the simulator makes it, up to a number of samples.
#[derive(Debug)]
pub struct Demo {
    shift: Scenario,
    simulator: Simulator,
    left: u32,
    set: Option<MachineSettings>,
    next: Option<Item>,
}

impl Demo {
    /// The first `samples` of the shift, or all of it.
    ///
    /// # Errors
    /// As the simulator says.
    pub fn new(samples: u32) -> Result<Self, ScenarioError> {
        let shift = demo::shift();
        let simulator = Simulator::new(&shift)?;
        Ok(Self { shift, simulator, left: samples, set: None, next: None })
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
        let us = output.at_us;
        if us >= u64::from(demo::DURATION_S) * 1_000_000 {
            self.left = 0;
            return None;
        }
        let item = Item::simulated(Instant::from_us(us), output.sample);
        let set = machine(&demo::settings_at(&self.shift, us as f64 / 1e6)).ok()?;
        if self.set == Some(set) {
            return Some(item);
        }
        self.set = Some(set);
        self.next = Some(item);
        Some(Item::Machine(Instant::from_us(us), set))
    }
}
