//! Taking support away: sums on settings and on what was measured, beside what was published.
//!
//! Every number here is for somebody who knows the infant and holds to the local protocol. Nothing
//! says that an infant is ready, and nothing says what to do.

mod grid;
mod levels;
mod published;
mod receivers;
mod support;

pub use grid::{Inflation, PressureGrid};
pub use levels::{
    PUBLISHED_BANDS, PUBLISHED_SUPPORT, PublishedBand, PublishedSupport, SupportMeasure,
};
pub use published::{Evidence, Figures, PUBLISHED_TESTS, PublishedTest, TwoByTwo};
pub use receivers::{SharedOut, Supported};
pub use support::{Held, NoShare, ShareOfPeak, ShareOfRise, Support};
