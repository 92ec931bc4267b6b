//! The files written: whole or not at all.

use crate::args::Args;
use crate::chart::Chart;
use crate::figures::float;
use crate::output::format::Format;
use crate::output::place::Aside;
use crate::output::sheet::Sheet;
use crate::page::{self, Windows};
use crate::report::Report;
use crate::tables::column::Column;
use crate::tables::minutes::Minutes;
use crate::tables::{breaths, events, minutes, steps};
use crate::timeline::Timeline;
use anyhow::{Context, Result};
use std::io::Write;
use std::path::Path;
use tidevane::monitor::{BreathReport, Event};
use tidevane::quantity::Instant;
use tidevane::signal::Reading;

/// The files asked for, kept aside until the whole recording has been read.
pub(crate) struct Outputs {
    breaths: Option<Sheet>,
    events: Option<Sheet>,
    minutes: Option<(Sheet, Minutes)>,
    steps: Option<Sheet>,
    drawing: Option<Chart>,
    chart: Option<Aside>,
    report: Option<(Aside, Format)>,
    /// Of a page that shows waveforms.
    windows: Option<Windows>,
}

impl Outputs {
    pub(crate) fn create(args: &Args) -> Result<Self> {
        let report = match &args.report {
            None => None,
            Some(to) => Some((Aside::create(to)?, Format::of(to)?)),
        };
        let is = |format| report.as_ref().is_some_and(|(_, kind)| *kind == format);
        Ok(Self {
            drawing: (args.chart.is_some() || is(Format::Markdown)).then(Chart::default),
            windows: is(Format::Html).then(Windows::default),
            breaths: table(args.breaths.as_deref(), &breaths::COLUMNS)?,
            events: table(args.events.as_deref(), &events::COLUMNS)?,
            minutes: table(args.minutes.as_deref(), &minutes::COLUMNS)?
                .map(|sheet| (sheet, Minutes::default())),
            steps: table(args.steps.as_deref(), &steps::COLUMNS)?,
            chart: args.chart.as_deref().map(Aside::create).transpose()?,
            report,
        })
    }

    pub(crate) fn reading(
        &mut self,
        at: Instant,
        timeline: &Timeline,
        reading: Reading,
    ) -> Result<()> {
        if let Some((sheet, minutes)) = &mut self.minutes {
            minutes.reading(at, timeline.seconds());
            while let Some(row) = minutes.next(Some(timeline.seconds())) {
                sheet.row(&row)?;
            }
        }
        if let Some(chart) = &mut self.drawing {
            chart.reading(timeline, reading);
        }
        if let Some(windows) = &mut self.windows {
            let (flow, pressure) = (reading.flow.to_bits(), reading.pressure.to_bits());
            windows.reading(timeline.seconds(), float(flow), float(pressure));
        }
        Ok(())
    }

    pub(crate) fn breath(&mut self, report: &BreathReport, timeline: &Timeline) -> Result<()> {
        if let Some(chart) = &mut self.drawing {
            chart.breath(report, timeline);
        }
        if let Some((_, minutes)) = &mut self.minutes {
            minutes.breath(report, timeline.seconds_at(report.breath.onset));
        }
        if let Some(windows) = &mut self.windows
            && report.initiation.is_some_and(|initiation| initiation.cause.is_self_cycled())
        {
            let at = timeline.seconds_at(report.breath.onset);
            windows.choose("The first inflation that the machine set off by itself", at);
        }
        let Some(table) = &mut self.breaths else { return Ok(()) };
        table.row(&breaths::of(report))
    }

    /// An event with its moment on the monitor's own time.
    pub(crate) fn event(
        &mut self,
        event: &Event,
        time: Instant,
        timeline: &Timeline,
    ) -> Result<()> {
        if let Some((_, minutes)) = &mut self.minutes {
            minutes.event(event, timeline.seconds_at(event.at));
        }
        if let (Some(windows), Some(title)) = (&mut self.windows, page::moment(&event.what)) {
            windows.choose(title, timeline.seconds_at(event.at));
        }
        let Some(table) = &mut self.events else { return Ok(()) };
        table.row(&events::of(event, time))
    }

    /// The recording was read to its end: everything is made ready, then takes its place. What
    /// goes into pipes goes first, since those can fail.
    pub(crate) fn keep(self, report: &Report<'_>) -> Result<()> {
        let mut ready = Vec::new();
        let mut put = |mut aside: Aside, text: &str| {
            aside.write_all(text.as_bytes()).with_context(|| aside.cannot_write())?;
            ready.push(aside);
            Ok::<_, anyhow::Error>(())
        };
        let svg = match self.drawing {
            None => String::new(),
            Some(mut chart) => {
                chart.steps(&report.summary.steps);
                chart.draw(&report.summary.wall).context("cannot draw the chart")?
            }
        };
        if let Some(aside) = self.chart {
            put(aside, &svg)?;
        }
        if let Some((aside, format)) = self.report {
            let mut windows = self.windows.unwrap_or_default();
            windows.finish(report.summary.seconds);
            let text = match format {
                Format::Html => page::write(report, &windows),
                Format::Markdown => format!("{}{}", report.markdown(), Chart::as_markdown(&svg)),
            };
            put(aside, &text)?;
        }
        let minutes = match self.minutes {
            None => None,
            Some((mut sheet, mut minutes)) => {
                while let Some(row) = minutes.next(None) {
                    sheet.row(&row)?;
                }
                Some(sheet)
            }
        };
        let steps = match self.steps {
            None => None,
            Some(mut sheet) => {
                for (i, step) in report.summary.steps.all.iter().enumerate() {
                    sheet.row(&steps::of(i + 1, step, report.summary.settings.weight()))?;
                }
                Some(sheet)
            }
        };
        for table in [self.breaths, self.events, minutes, steps].into_iter().flatten() {
            ready.push(table.finish()?);
        }
        report.summary.rows.check()?;
        ready.sort_by_key(Aside::is_replacing);
        ready.into_iter().try_for_each(Aside::keep)
    }
}

fn table(to: Option<&Path>, columns: &[Column]) -> Result<Option<Sheet>> {
    to.map(|to| Sheet::create(to, columns, None)).transpose()
}
