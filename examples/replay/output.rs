//! The files written: whole or not at all.

use crate::args::Args;
use crate::chart::Chart;
use crate::doc::Doc;
use crate::page::Page;
use crate::place::Aside;
use crate::steps::Steps;
use crate::text::decimals;
use crate::timeline::Timeline;
use anyhow::{Context, Result};
use csv::Writer;
use std::io::Write;
use std::path::Path;
use tidevane::breath::Kind;
use tidevane::leak::LungVolume;
use tidevane::mechanics::FitOutcome;
use tidevane::monitor::{BreathReport, Event};
use tidevane::quantity::{Compliance, Pressure, Resistance, Share, Volume};
use tidevane::signal::Reading;

const BREATHS: [&str; 17] = [
    "onset_us",
    "end_insp_us",
    "end_us",
    "kind",
    "initiation",
    "insp_ml",
    "exp_ml",
    "leak_share",
    "corrected_ml",
    "corrected_sd_ml",
    "peak_cmH2O",
    "baseline_cmH2O",
    "mean_cmH2O",
    "compliance_ml_per_cmH2O",
    "resistance_cmH2O_s_per_l",
    "fit_r2",
    "flags",
];

/// The files asked for, kept aside until the whole recording has been read.
pub(crate) struct Outputs {
    breaths: Option<Table>,
    events: Option<Table>,
    drawing: Option<Chart>,
    chart: Option<Aside>,
    report: Option<(Aside, Page)>,
}

impl Outputs {
    pub(crate) fn create(args: &Args) -> Result<Self> {
        Ok(Self {
            breaths: args.breaths.as_deref().map(|to| Table::create(to, &BREATHS)).transpose()?,
            events: args
                .events
                .as_deref()
                .map(|to| Table::create(to, &["t_us", "event", "detail"]))
                .transpose()?,
            drawing: (args.chart.is_some() || args.report.is_some()).then(Chart::default),
            chart: args.chart.as_deref().map(Aside::create).transpose()?,
            report: match &args.report {
                None => None,
                Some(to) => Some((Aside::create(to)?, Page::of(to)?)),
            },
        })
    }

    pub(crate) fn reading(&mut self, timeline: &Timeline, reading: Reading) {
        if let Some(chart) = &mut self.drawing {
            chart.reading(timeline, reading);
        }
    }

    pub(crate) fn breath(&mut self, report: &BreathReport, timeline: &Timeline) -> Result<()> {
        if let Some(chart) = &mut self.drawing {
            chart.breath(report, timeline);
        }
        let Some(table) = &mut self.breaths else { return Ok(()) };
        let breath = &report.breath;
        let none = String::new;
        let fit = |cell: fn(Compliance, Resistance, Share) -> String| match report.mechanics {
            FitOutcome::Known { compliance, resistance, goodness, .. } => {
                cell(compliance, resistance, goodness)
            }
            FitOutcome::Unknown(_) => none(),
        };
        let lung = match report.lung {
            LungVolume::Known { volume, sd } => Some((volume, sd)),
            LungVolume::Unknown(_) => None,
        };
        table.row([
            breath.onset.to_us().to_string(),
            breath.end_insp.to_us().to_string(),
            breath.end.to_us().to_string(),
            match breath.kind {
                Kind::Inflation => "inflation".into(),
                Kind::Own => "own".into(),
            },
            report.initiation.map_or_else(none, |i| i.cause.name().into()),
            ml(breath.inspired().within()),
            ml(breath.expired().within()),
            report.leak.share().map_or_else(none, |s| decimals(s.get().to_num(), 4)),
            ml(lung.map(|(volume, _)| volume)),
            ml(lung.map(|(_, sd)| sd)),
            cmh2o(Some(breath.peak)),
            cmh2o(Some(breath.baseline)),
            cmh2o(breath.mean_pressure()),
            fit(|c, _, _| decimals(c.get().to_num(), 3)),
            fit(|_, r, _| decimals(r.get().to_num(), 1)),
            fit(|_, _, g| decimals(g.get().to_num(), 4)),
            breath.flags.to_string(),
        ])
    }

    pub(crate) fn event(&mut self, event: &Event) -> Result<()> {
        let Some(table) = &mut self.events else { return Ok(()) };
        table.row([event.at.to_us().to_string(), event.what.name().into(), event.to_string()])
    }

    /// The recording was read to its end: everything is made ready, then takes its place. What
    /// goes into pipes goes first, since those can fail.
    pub(crate) fn keep(self, report: &Doc, steps: &Steps) -> Result<()> {
        let mut ready = Vec::new();
        if let Some(mut chart) = self.drawing {
            chart.steps(steps);
            let svg = chart.draw().context("cannot draw the chart")?;
            let mut put = |mut aside: Aside, text: &str| {
                aside.write_all(text.as_bytes()).with_context(|| aside.cannot_write())?;
                ready.push(aside);
                Ok::<_, anyhow::Error>(())
            };
            if let Some(aside) = self.chart {
                put(aside, &svg)?;
            }
            if let Some((aside, page)) = self.report {
                put(aside, &page.render(report, &svg))?;
            }
        }
        for table in [self.breaths, self.events].into_iter().flatten() {
            ready.push(table.finish()?);
        }
        ready.sort_by_key(Aside::is_replacing);
        ready.into_iter().try_for_each(Aside::keep)
    }
}

fn ml(volume: Option<Volume>) -> String {
    volume.map_or_else(String::new, |v| decimals(v.get().to_num(), 3))
}

fn cmh2o(pressure: Option<Pressure>) -> String {
    pressure.map_or_else(String::new, |p| decimals(p.get().to_num(), 2))
}

struct Table {
    writer: Writer<Aside>,
}

impl Table {
    fn create(to: &Path, header: &[&str]) -> Result<Self> {
        let mut writer = Writer::from_writer(Aside::create(to)?);
        writer.write_record(header)?;
        Ok(Self { writer })
    }

    fn row<const N: usize>(&mut self, cells: [String; N]) -> Result<()> {
        let written = self.writer.write_record(cells);
        written.with_context(|| self.writer.get_ref().cannot_write())
    }

    fn finish(mut self) -> Result<Aside> {
        self.writer.flush().with_context(|| self.writer.get_ref().cannot_write())?;
        self.writer.into_inner().map_err(|e| e.into_error().into())
    }
}
