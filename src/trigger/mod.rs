//! Is the trigger threshold above leak, noise and ripple yet below the infant's effort, and which
//! inflations did the infant ask for?

mod advice;
mod cause;
mod judgement;
mod kind;
mod measured;
mod muscle;
mod noise_floor;
mod regular;
mod synchrony;
mod tally;
mod threshold;

pub use advice::{
    MOST_STEPS, NoThreshold, ThresholdAdvice, ThresholdAdviceState, ThresholdGrid, ThresholdOutlook,
};
pub use cause::{Cause, CauseCheck, CauseState, Initiation, NoCause, TriggerEvidence};
pub use judgement::{NoJudgement, ThresholdAnswer, ThresholdEvidence, ThresholdJudgement};
pub use kind::TriggerKind;
pub use measured::CountAccuracy;
pub use muscle::{Effort, EffortContext, EffortState, EffortWatch, Pull, SeenEffort};
pub use noise_floor::{Noise, NoiseFloor, NoiseFloorState};
pub use synchrony::{Delays, Synchrony};
pub use tally::{TriggerCounts, TriggerTally};
pub use threshold::{Threshold, ThresholdVerdict, TriggerCheck};
