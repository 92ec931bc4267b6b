//! Whether an inflation was support of an effort or one that the machine assures.

use super::MachineSettings;
use crate::alarm::BreathKind;
use crate::breath::{Breath, Kind};
use crate::quantity::Pressure;
use crate::record;
use crate::trigger::{Cause, Initiation};

record! {
    #[const_default]
    /// The peak of the latest inflation that the timer started.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct KindState {
        assured: Option<Pressure>,
    }
}

/// A peak this far above the one set for support is another inflation. Chosen here, no source.
const NEAR: Pressure = Pressure::from_int(1);

impl KindState {
    /// Judges a closed breath by the peak set for support. Without one every inflation counts as
    /// assured. With one, an inflation that the timer did not start is support where its peak lies
    /// nearer to that than to the peak set for assured ones (or, where that was not given, of the
    /// latest timed one), or, before any, no more than 1 cmH2O above it.
    pub(super) fn judge(
        &mut self,
        machine: &MachineSettings,
        breath: &Breath,
        initiation: Option<Initiation>,
    ) -> BreathKind {
        let timed = initiation.is_some_and(|initiation| initiation.cause == Cause::Timed);
        if timed && breath.is_trusted() {
            self.assured = Some(breath.peak);
        }
        let Some(support) =
            machine.support_peak.filter(|_| breath.kind == Kind::Inflation && !timed)
        else {
            return BreathKind::of(breath.kind, true);
        };
        let off = |other: Pressure| breath.peak.saturating_sub(other).value.magnitude();
        let supported = match machine.peak.or(self.assured) {
            Some(assured) => off(support) < off(assured),
            None => breath.peak.saturating_sub(support).value <= NEAR,
        };
        BreathKind::of(breath.kind, !supported)
    }
}
