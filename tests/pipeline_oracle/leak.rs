//! The leak path, learned as the documents of `leak` say: ∫Q = k·∫f(P) over whole breaths in a
//! window that keeps seven eighths, started afresh after two like misfits.

/// Net flow (mL), drive and time of a stretch.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Stretch {
    pub(crate) flow: f64,
    pub(crate) drive: f64,
    pub(crate) time: f64,
}

impl Stretch {
    fn with(self, o: Self) -> Self {
        Self { flow: self.flow + o.flow, drive: self.drive + o.drive, time: self.time + o.time }
    }

    fn faded(self) -> Self {
        let f = 7.0 / 8.0;
        Self { flow: self.flow * f, drive: self.drive * f, time: self.time * f }
    }
}

#[derive(Debug, Default)]
pub(crate) struct Leak {
    pub(crate) k: Option<f64>,
    pub(crate) window: Stretch,
    previous: Option<Stretch>,
    inspired: f64,
    pub(crate) misfit: i8,
    pub(crate) scatter: f64,
    quiet_guess: bool,
    beginning: Beginning,
}

/// What the time before the first breath says.
#[derive(Debug, Default)]
struct Beginning {
    bounds: Option<(f64, f64)>,
    sums: Stretch,
    /// When the next guess is due, in microseconds of clear time.
    next_us: u64,
    clear_us: u64,
    moved: bool,
}

fn conclude(window: Stretch) -> Option<f64> {
    (window.time > 0.0 && window.drive / window.time >= 1.0).then(|| window.flow / window.drive)
}

impl Leak {
    pub(crate) fn is_guessing(&self) -> bool {
        self.previous.is_none()
    }

    /// An interval before the first breath: flows at its ends, its sums where it carries no flag.
    pub(crate) fn settle(&mut self, flows: (f64, f64), us: u64, sums: Option<Stretch>) {
        if !self.is_guessing() {
            return;
        }
        let b = &mut self.beginning;
        if let Some(sums) = sums {
            b.sums = b.sums.with(sums);
            b.clear_us += us;
        }
        if !b.moved {
            let (low, high) = b.bounds.unwrap_or((flows.0, flows.0));
            let (low, high) = (low.min(flows.1), high.max(flows.1));
            b.bounds = Some((low, high));
            if sums.is_none() || high - low > 4.0 {
                b.moved = true;
                b.next_us = 3_000_000;
                if b.clear_us < 600_000 {
                    (self.k, self.quiet_guess) = (None, false);
                }
                return;
            }
        }
        if b.clear_us < b.next_us {
            return;
        }
        b.next_us = b.clear_us + if b.moved { 1_000_000 } else { 40_000 };
        self.quiet_guess = !b.moved;
        self.k = conclude(b.sums);
    }

    /// A trusted breath: its sums and what was inspired.
    pub(crate) fn learn(&mut self, whole: Stretch, inspired: f64) {
        let miss = self.k.map_or(0.0, |k| whole.flow - k * whole.drive);
        let misfit = i8::from(miss > inspired / 4.0) - i8::from(miss < -inspired / 4.0);
        if misfit != 0 && misfit == self.misfit {
            self.window = self.previous.unwrap_or_default().with(whole);
            self.inspired = 2.0 * inspired;
            self.misfit = 0;
        } else {
            self.window = self.window.faded().with(whole);
            self.inspired = self.inspired * 7.0 / 8.0 + inspired;
            self.misfit = misfit;
        }
        self.scatter += (miss.abs() - self.scatter) / 4.0;
        self.previous = Some(whole);
        self.k = conclude(self.window);
    }

    /// Leak over the window as a share of what was inspired.
    pub(crate) fn share(&self) -> Option<f64> {
        self.k.filter(|_| !self.is_guessing()).map(|_| self.window.flow / self.inspired)
    }
}
