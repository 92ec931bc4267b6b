//! Pages for readers: what to take, what it costs, what it is worth.

#[doc = include_str!("c.md")]
pub mod c {}
#[doc = include_str!("evidence.md")]
pub mod evidence {}
#[doc = include_str!("firmware.md")]
pub mod firmware {}
#[doc = include_str!("hazards.md")]
pub mod hazards {}
#[doc = include_str!("report.md")]
pub mod report {}
#[doc = include_str!("researcher.md")]
pub mod researcher {}
#[doc = include_str!("tester.md")]
pub mod tester {}
