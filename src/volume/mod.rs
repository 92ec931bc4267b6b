//! Is the target volume reached inside the limits?

mod limiter;
mod proposal;

pub use limiter::{Limiter, LimiterState, Outcome};
pub use proposal::{
    Bound, Hold, LastBreath, PUBLISHED_TARGETS, Proposal, ProposalState, Proposed, PublishedTarget,
};
