//! Feeds a source through one monitor, and tells a listener what came of it.

use crate::blind::Blind;
use crate::config::{Change, Course, Setup};
use crate::source::Source;
use crate::stream::{Step, Stream};
use crate::timeline::Timeline;
use anyhow::{Result, bail};
use tidevane::alarm::VitalSigns;
use tidevane::monitor::{EventKind, Monitor, Report, Settings};
use tidevane::quantity::Instant;
use tidevane::signal::Reading;

/// What is told along the way.
pub(crate) trait Listener {
    /// A reading is about to be pushed.
    fn reading(&mut self, at: Instant, reading: Reading, timeline: &Timeline) -> Result<()>;

    /// Something was changed on the machine, or another monitor shows something else; the monitor has these signs, and
    /// its settings still.
    fn change(
        &mut self,
        _at: Instant,
        _to: &Settings,
        _signs: VitalSigns,
        _monitor: &Monitor,
        _timeline: &Timeline,
    ) {
    }

    /// The monitor has something to say.
    fn report(&mut self, report: &Report, monitor: &Monitor, timeline: &Timeline) -> Result<()>;
}

/// What a source was fed through, as it is at the end.
pub(crate) struct Fed {
    pub(crate) monitor: Monitor,
    pub(crate) timeline: Timeline,
    pub(crate) blind: Blind,
    /// The end on the monitor's own time, where anything was usable.
    pub(crate) end: Option<Instant>,
    pub(crate) samples: u64,
    /// Changes that lie after the end.
    pub(crate) unmade: usize,
    signs: VitalSigns,
}

/// Feeds everything through; `strict` stops at the first reading that the monitor does not take.
///
/// # Errors
/// What cannot be read, or holds no sample; what the listener says.
pub(crate) fn feed(
    source: &mut Source,
    setup: &Setup,
    strict: bool,
    listener: &mut impl Listener,
) -> Result<Fed> {
    let mut course = match &setup.changes {
        Some(changes) => Course::of_file(changes.clone())?,
        None => source.course().unwrap_or_default(),
    };
    let mut fed = Fed {
        monitor: Monitor::new(setup.settings),
        timeline: Timeline::new(setup.cut),
        blind: Blind::default(),
        end: None,
        samples: 0,
        unmade: 0,
        signs: VitalSigns::default(),
    };
    let mut report = Report::default();
    let mut stream = Stream::new(source, setup.cut);
    while let Some(step) = stream.next()? {
        let reading = match step {
            Step::Lost => {
                fed.monitor.lost_into(&mut report);
                None
            }
            Step::Silent(at) => {
                fed.monitor.tick_at_into(at, &mut report);
                None
            }
            Step::Reading(at, reading) => {
                fed.samples += 1;
                fed.timeline.reading(at);
                listener.reading(at, reading, &fed.timeline)?;
                while let Some(change) = course.due(fed.timeline.seconds()) {
                    fed.change(at, &change, listener)?;
                }
                fed.monitor.push_at_into(at, reading, &mut report);
                if strict {
                    refuse(&report, &stream)?;
                }
                Some(at)
            }
        };
        fed.blind.follow(reading, &fed.monitor);
        fed.tell(&report, listener)?;
    }
    loop {
        let report = fed.monitor.finish();
        if report.is_silent() {
            break;
        }
        fed.tell(&report, listener)?;
    }
    if fed.samples == 0 {
        bail!("{}", source.unusable());
    }
    fed.unmade = course.left();
    fed.end = fed.blind.finish(&fed.monitor);
    Ok(fed)
}

impl Fed {
    fn tell(&self, report: &Report, listener: &mut impl Listener) -> Result<()> {
        if report.is_silent() {
            return Ok(());
        }
        listener.report(report, &self.monitor, &self.timeline)
    }

    fn change(&mut self, at: Instant, change: &Change, listener: &mut impl Listener) -> Result<()> {
        // A breath that is still being worked out belongs to what was set before: nothing changed yet.
        let report = self.monitor.settings_changed(at, *self.monitor.settings());
        self.tell(&report, listener)?;
        self.signs = change.signs(self.signs);
        self.monitor.set_vital_signs(self.signs);
        let settings = change.apply(self.monitor.settings())?;
        listener.change(at, &settings, self.signs, &self.monitor, &self.timeline);
        let report = self.monitor.settings_changed(at, settings);
        self.tell(&report, listener)
    }
}

/// Stops at a reading that the monitor did not take.
fn refuse(report: &Report, stream: &Stream<'_>) -> Result<()> {
    for event in &report.events {
        if matches!(event.what, EventKind::Refused(_)) {
            bail!("{}: {event}", stream.place());
        }
    }
    Ok(())
}
