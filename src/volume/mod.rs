//! Is the target volume reached inside the limits?

mod limiter;
mod proposal;

pub use limiter::{Limiter, LimiterOutcome, LimiterState};
pub use proposal::{Bound, Hold, Proposal, ProposalState, Proposed};
