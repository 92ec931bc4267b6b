//! What the monitor decided of the leak's level: read from its memory, for it stands in no report.

use tidevane::monitor::Monitor;
use tidevane::quantity::{Record, Sink};

/// The still flow and pressure that the monitor holds, raw, and whether they are off the line.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Level {
    pub(crate) still: Option<(i64, i64)>,
    pub(crate) lifted: bool,
}

#[derive(Default)]
struct Walk {
    path: Vec<&'static str>,
    still: Vec<i64>,
    lift: Option<i64>,
}

impl Sink for Walk {
    fn number(&mut self, bits: i64, _: u8) {
        match self.path.as_slice() {
            [.., "leak_path", "still", _] => self.still.push(bits),
            [.., "leak_path", "lift"] => self.lift = Some(bits),
            _ => {}
        }
    }

    fn code(&mut self, _: u8) {}

    fn enter(&mut self, name: &'static str) {
        self.path.push(name);
    }

    fn enter_item(&mut self, _: usize) {
        self.path.push("");
    }

    fn leave(&mut self) {
        self.path.pop();
    }
}

pub(crate) fn of(monitor: &Monitor) -> Level {
    let mut walk = Walk::default();
    monitor.save(&mut walk);
    let still = match walk.still[..] {
        [] => None,
        [flow, pressure] => Some((flow, pressure)),
        _ => panic!("the level's place has moved: {:?}", walk.still),
    };
    Level { still, lifted: walk.lift.expect("the lift's place has moved") != 0 }
}
