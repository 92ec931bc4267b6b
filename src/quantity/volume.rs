//! Gas volume.

use super::newtype::quantity;

quantity! {
    /// Volume in mL, at the conditions of the flow it came from. Range ±32 768 mL.
    Volume, "mL"
}
