//! What the tests of the program share.
#![allow(dead_code, reason = "each test crate uses its own part")]

pub(crate) mod case;
pub(crate) mod cli;
pub(crate) mod recording;
pub(crate) mod top;
pub(crate) mod written;
