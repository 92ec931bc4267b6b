//! The interval between two readings: what everything above integrates over.

use super::{Flags, Reading};
use crate::quantity::{Duration, Flow, Instant, Pressure, Share};
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
    /// The point so far on the way to another, on straight lines.
    fn toward(&self, to: &Self, share: Share) -> Self {
        Self {
            flow: self.flow.between(to.flow, share),
            lung: self.lung.between(to.lung, share),
            pressure: self.pressure.between(to.pressure, share),
            tip: self.tip.between(to.tip, share),
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

    /// The parts before and after the point so far on the way, values on straight lines.
    pub(crate) fn split(&self, share: Share) -> (Self, Self) {
        let before = self.span.short_part(share);
        let (at, middle) = (self.start().after(before), self.from.toward(&self.to, share));
        let after = self.span.saturating_sub(before);
        (
            Self { at, span: before, to: middle, ..*self },
            Self { span: after, from: middle, ..*self },
        )
    }
}
