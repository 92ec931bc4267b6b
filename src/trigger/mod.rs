//! Is the trigger threshold above leak, noise and ripple yet below the infant's effort, and which
//! inflations did the infant ask for?

mod advice;
mod cause;
mod floor;
mod judgement;
mod kind;
mod measured;
mod muscle;
mod regular;
mod synchrony;
mod tally;
mod threshold;

pub use advice::{Advice, AdviceState, Expected, Grid, MOST_STEPS, NoThreshold};
pub use cause::{Cause, CauseCheck, CauseState, Evidence, Initiation, NoCause};
pub use floor::{Floor, FloorState, Noise};
pub use judgement::{NoJudgement, ThresholdAnswer, ThresholdEvidence, ThresholdJudgement};
pub use kind::TriggerKind;
pub use measured::CountAccuracy;
pub use muscle::{Effort, EffortState, EffortWatch, Pull, SeenEffort, Surroundings};
pub use synchrony::{Delays, Synchrony, acceptable_delay, asynchrony_index, is_double};
pub use tally::{TriggerCounts, TriggerTally};
pub use threshold::{Threshold, TriggerCheck, Verdict};
