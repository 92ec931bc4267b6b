//! The interval between two readings: what everything above integrates over.

use super::{Flags, Reading};
use crate::quantity::{Duration, Flow, Instant, Pressure, arith};
use crate::record;

record! {
    #[const_default]
    /// One end of an interval: a reading with what the leak model made of it when it came. What is
    /// learned later changes no end that has been passed on.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct End {
        /// Flow at the airway opening, positive into the patient.
        pub flow: Flow,
        /// That flow less the modelled leak: the flow into the lung.
        pub lung: Flow,
        /// Airway pressure relative to ambient.
        pub pressure: Pressure,
        /// Pressure at the tip of the tube, where the leak begins: the airway pressure less what the tube
        /// takes.
        pub tip: Pressure,
    }
}

impl From<Reading> for End {
    /// A reading of which neither leak nor tube is known: all of its flow goes into the lung, and the
    /// pressure is that at the tip.
    fn from(Reading { flow, pressure }: Reading) -> Self {
        Self { flow, lung: flow, pressure, tip: pressure }
    }
}

impl End {
    /// The point `share_q16` of the way to another, on straight lines.
    fn toward(&self, to: &Self, share_q16: i32) -> Self {
        let at = |a: i32, b: i32| arith::between(a, b, share_q16);
        Self {
            flow: Flow::from_bits(at(self.flow.to_bits(), to.flow.to_bits())),
            lung: Flow::from_bits(at(self.lung.to_bits(), to.lung.to_bits())),
            pressure: Pressure::from_bits(at(self.pressure.to_bits(), to.pressure.to_bits())),
            tip: Pressure::from_bits(at(self.tip.to_bits(), to.tip.to_bits())),
        }
    }
}

record! {
    #[const_default]
    /// The interval between two accepted readings.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct Interval {
        /// When the later reading was taken.
        pub at: Instant,
        /// Time since the earlier reading; above zero.
        pub span: Duration,
        /// The earlier reading.
        pub from: End,
        /// The later reading.
        pub to: End,
        /// What was wrong in this interval. With [`Flags::GAP`](super::Flags::GAP) set, nothing is
        /// known of the flow between the readings and nothing is integrated.
        pub flags: Flags,
    }
}

impl Interval {
    /// When the earlier reading was taken.
    #[must_use]
    pub const fn start(&self) -> Instant {
        Instant::from_us(self.at.to_us().saturating_sub(self.span.to_us()))
    }

    /// The parts before and after the point `share_q16` of the way, values on straight lines.
    pub(crate) fn split(&self, share_q16: i32) -> (Self, Self) {
        let before = arith::portion_u32(self.span.to_short_us().value, share_q16);
        let before = Duration::from_us(arith::widen_u32(before));
        let (at, middle) = (self.start().after(before), self.from.toward(&self.to, share_q16));
        let after = self.span.saturating_sub(before);
        (
            Self { at, span: before, to: middle, ..*self },
            Self { span: after, from: middle, ..*self },
        )
    }
}
