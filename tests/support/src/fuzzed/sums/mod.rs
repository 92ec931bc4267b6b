//! The calculators that no stream of samples feeds, over any arguments: each beside a second count in whole numbers
//! or `f64` from its documents.

mod advice;
mod burden;
mod emptying;
mod fits;
mod gas;
mod geometry;
mod jumps;
mod leak;
mod tube;
mod units;

use super::bytes::Bytes;

/// Holds what each file says.
///
/// # Panics
/// Where one of them does not hold.
pub fn check(data: &[u8]) {
    let mut bytes = Bytes(data);
    while let Some(what) = bytes.u8() {
        let done = match what % 15 {
            0 => units::numbers(&mut bytes),
            1 => units::times(&mut bytes),
            2 => gas::states(&mut bytes),
            3 => gas::zero(&mut bytes),
            4 | 5 => emptying::check(&mut bytes),
            6 => tube::check(&mut bytes),
            7 => geometry::check(&mut bytes),
            8 => leak::check(&mut bytes),
            9 | 10 => burden::check(&mut bytes),
            11 => advice::check(&mut bytes),
            12 => jumps::check(&mut bytes),
            _ => fits::check(&mut bytes),
        };
        if done.is_none() {
            return;
        }
    }
}
