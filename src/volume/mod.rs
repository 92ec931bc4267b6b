//! Is the target volume reached inside the limits?

mod limiter;

pub use limiter::{Limiter, LimiterState, Outcome};
