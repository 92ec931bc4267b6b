//! Every calculator of `bedside` over any arguments, each beside a second count in whole numbers or `f64` from
//! its documents.

mod index;
mod plan;
mod published;
mod support;

use super::bytes::Bytes;

/// Holds what each file says.
///
/// # Panics
/// Where one of them does not hold.
pub fn check(data: &[u8]) {
    let mut bytes = Bytes(data);
    while let Some(what) = bytes.u8() {
        let done = match what % 8 {
            0 => support::grid(&mut bytes),
            1 => support::share(&mut bytes),
            2 => plan::check(&mut bytes),
            3 | 4 => index::shallow(&mut bytes),
            5 => published::check(&mut bytes),
            // No longer asked.
            _ => Some(()),
        };
        if done.is_none() {
            return;
        }
    }
}
