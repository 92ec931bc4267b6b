//! A drifted zero: flow that no pressure drives, from the quiet flow and the mean over breaths.

use crate::leak::Leak;
use crate::quiet::Quiet;

#[derive(Debug, Default)]
pub(crate) struct Zero {
    quiet: Option<(f64, f64)>,
    /// The offset, smoothed.
    pub(crate) offset: Option<f64>,
    breaths: u32,
    /// Mean flow over the leak's window.
    pub(crate) mean: f64,
}

impl Zero {
    /// A breath, with its quiet end and what drove the leak there.
    pub(crate) fn learn(&mut self, leak: &Leak, quiet: Option<(Quiet, f64)>) {
        let window = leak.window;
        if leak.is_guessing() || window.time <= 0.0 {
            return;
        }
        let (flow, drive) = (window.flow / window.time, window.drive / window.time);
        self.mean = flow;
        if let Some((quiet, driven)) = quiet.filter(|(quiet, _)| quiet.span >= 150_000.0) {
            self.quiet = Some(match self.quiet {
                None => (quiet.flow, driven),
                Some((f, d)) => (f + (quiet.flow - f) / 8.0, d + (driven - d) / 8.0),
            });
            self.breaths += 1;
        }
        if self.breaths < 8 {
            return;
        }
        let Some((quiet_flow, quiet_drive)) = self.quiet else { return };
        if drive - quiet_drive < 0.15 {
            return;
        }
        // The line through both points, at no drive.
        let now = quiet_flow - (flow - quiet_flow) / (drive - quiet_drive) * quiet_drive;
        self.offset = Some(self.offset.map_or(now, |was| was + (now - was) / 8.0));
    }
}
