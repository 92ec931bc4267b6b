//! Settings from a file and the command line.

mod alarms;
mod bedside;
mod course;
pub(crate) mod grams;
mod number;
mod range;
mod unknown;

use crate::args::Args;
use crate::input::layout::{Layout, Said};
use alarms::AlarmFile;
use anyhow::{Context, Result, anyhow, bail};
pub(crate) use bedside::Bedside;
use course::WRITTEN;
pub(crate) use course::{Change, Course};
use jiff::tz::TimeZone;
use number::{Spelled, number};
use serde::Deserialize;
use std::fs;
use std::path::Path;
use tidevane::breath::Segmenter;
use tidevane::leak::{LeakPath, Tube};
use tidevane::mechanics::Fit;
use tidevane::monitor::Settings;
use tidevane::quantity::{Duration, Flow, Mass, Pressure, Rate, Share, Volume};
use tidevane::signal::Gate;
use tidevane::trend::LoadCriteria;
use tidevane::trigger::{MOST_STEPS, Threshold, ThresholdGrid, TriggerKind};
use tidevane::volume::{Limiter, Proposal};
use tidevane_sim::demo;

/// What a settings file may hold; every entry is optional, an unknown one is an error.
#[derive(Debug, Default, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
#[expect(non_snake_case, reason = "entries are spelled with their unit")]
pub(crate) struct File {
    #[serde(default, deserialize_with = "grams::of_entry")]
    pub(crate) weight_g: Option<u32>,
    pub(crate) threshold_lpm: Option<f64>,
    trigger: Option<String>,
    pub(crate) set_rate: Option<f64>,
    peak_cmH2O: Option<f64>,
    support_peak_cmH2O: Option<f64>,
    oxygen_percent: Option<f64>,
    needed_ml_per_kg_min: Option<f64>,
    pressure_step_cmH2O: Option<f64>,
    tube_mm: Option<f64>,
    tube_length_mm: Option<u16>,
    tube_k1: Option<f64>,
    tube_k2: Option<f64>,
    flow_offset_ml_per_s: Option<f64>,
    target_ml: Option<f64>,
    target_step_cmH2O: Option<f64>,
    target_ceiling_cmH2O: Option<f64>,
    target_least_rise_cmH2O: Option<f64>,
    grid_lowest_lpm: Option<f64>,
    grid_step_lpm: Option<f64>,
    limit_ml: Option<f64>,
    limit_delay_ms: Option<u32>,
    min_flow_ml_per_s: Option<f64>,
    min_volume_ml: Option<f64>,
    inflation_rise_cmH2O: Option<f64>,
    flow_range_ml_per_s: Option<f64>,
    pressure_range_cmH2O: Option<f64>,
    gap_ms: Option<u32>,
    cut_ms: Option<u32>,
    alarms: Option<AlarmFile>,
    changes: Option<Vec<Change>>,
    frozen_ms: Option<u32>,
    recording: Option<Said>,
}

impl File {
    /// The file that the arguments name; nothing where they name none.
    pub(crate) fn read(args: &Args) -> Result<Self> {
        match &args.settings {
            None => Ok(Self::default()),
            Some(path) => read(path).map(|(file, _)| file),
        }
    }

    /// Of entries put together from several places.
    pub(crate) fn of_entries(entries: toml::Table) -> Result<Self> {
        entries.try_into().map_err(|error| unknown::explained(None, error)).context("settings")
    }

    /// The layout of the recording: the command line before the file.
    pub(crate) fn layout(&self, args: &Args) -> Result<Layout> {
        match &self.recording {
            Some(said) => args.recording.or(said).layout(),
            None => args.recording.layout(),
        }
    }

    /// What the built-in demo shift says of itself.
    pub(crate) fn of_demo() -> Self {
        let set = demo::settings_at(&demo::shift(), 0.0);
        Self {
            weight_g: Some(demo::WEIGHT_G),
            threshold_lpm: Some(set.threshold * 0.06),
            set_rate: Some(set.set_rate),
            peak_cmH2O: Some(set.peak),
            oxygen_percent: Some(demo::OXYGEN_PERCENT.into()),
            tube_mm: Some(f64::from(demo::TUBE.0) / 10.0),
            tube_length_mm: Some(demo::TUBE.1),
            alarms: Some(AlarmFile::of_demo()),
            ..Self::default()
        }
    }
}

/// A settings file, and its entries as they stand.
pub(crate) fn read(path: &Path) -> Result<(File, toml::Table)> {
    let text = fs::read_to_string(path)
        .with_context(|| format!("cannot read settings {}", path.display()))?;
    let context = || format!("settings {}", path.display());
    let file = toml::from_str(&text).map_err(|error| unknown::explained(Some(&text), error));
    Ok((file.with_context(context)?, toml::from_str(&text).with_context(context)?))
}

/// What the program works by.
pub(crate) struct Setup {
    pub(crate) settings: Settings,
    /// A longer silence cuts the recording in two.
    pub(crate) cut: Duration,
    pub(crate) changes: Option<Vec<Change>>,
    pub(crate) bedside: Bedside,
    /// The alarms that are set, in words, and whether any limit is among them.
    pub(crate) alarms: Vec<String>,
    pub(crate) has_limits: bool,
    /// Of the clock that times are told by.
    pub(crate) zone: TimeZone,
}

/// The settings: command line before file before the source's own.
pub(crate) fn setup(args: &Args, file: File, defaults: File) -> Result<Setup> {
    let cut = Duration::from_millis(file.cut_ms.unwrap_or(1_000));
    let inflation_rise =
        Pressure::new(number("inflation_rise_cmH2O", file.inflation_rise_cmH2O.unwrap_or(2.0))?);
    let gate = Gate::new(
        Flow::new(number("flow_range_ml_per_s", file.flow_range_ml_per_s.unwrap_or(5_000.0))?),
        Pressure::new(number("pressure_range_cmH2O", file.pressure_range_cmH2O.unwrap_or(200.0))?),
        Duration::from_millis(file.gap_ms.unwrap_or(100)),
        cut,
        Duration::from_millis(file.frozen_ms.unwrap_or(500)),
    )
    .spelled(&[
        ("flow_limit", "flow_range_ml_per_s"),
        ("pressure_limit", "pressure_range_cmH2O"),
        ("gap", "gap_ms"),
        ("cut", "cut_ms"),
        ("frozen", "frozen_ms"),
    ])?;
    let segment = Segmenter::new(
        Flow::new(number("min_flow_ml_per_s", file.min_flow_ml_per_s.unwrap_or(1.0))?),
        Volume::new(number("min_volume_ml", file.min_volume_ml.unwrap_or(0.25))?),
        inflation_rise,
    )
    .spelled(&[
        ("min_flow", "min_flow_ml_per_s"),
        ("min_volume", "min_volume_ml"),
        ("inflation_rise", "inflation_rise_cmH2O"),
    ])?;
    let mut builder =
        Settings::builder().gate(gate).segment(segment).fit(Fit::default().with_bend());
    if let Some(offset) = file.flow_offset_ml_per_s {
        builder = builder.flow_offset(Flow::new(number("flow_offset_ml_per_s", offset)?));
    }
    if let Some(grams) = args.weight_g.or(file.weight_g).or(defaults.weight_g) {
        builder = builder.weight(Mass::from_grams(grams).spelled(&[])?);
    }
    if let Some(lpm) = args.threshold_lpm.or(file.threshold_lpm).or(defaults.threshold_lpm) {
        let flow = Flow::from_l_per_min(number("threshold_lpm", lpm)?)
            .within()
            .ok_or_else(|| anyhow!("threshold_lpm {lpm} is out of range"))?;
        builder = builder.threshold(Threshold::new(flow).spelled(&WRITTEN)?);
    }
    if let Some(word) = &file.trigger {
        builder = builder.trigger(trigger(word)?);
    }
    if let Some(rate) = args.set_rate.or(file.set_rate).or(defaults.set_rate) {
        builder = builder.set_rate(Rate::new(number("set_rate", rate)?));
    }
    if let Some(peak) = file.peak_cmH2O.or(defaults.peak_cmH2O) {
        builder = builder.peak(Pressure::new(number("peak_cmH2O", peak)?));
    }
    if let Some(peak) = file.support_peak_cmH2O {
        builder = course::support(builder, peak)?;
    }
    if let Some(limit) = file.limit_ml {
        let delay = Duration::from_millis(file.limit_delay_ms.unwrap_or(0));
        let limit = Volume::new(number("limit_ml", limit)?);
        let names = [("limit", "limit_ml"), ("delay", "limit_delay_ms")];
        builder = builder.limiter(Limiter::new(limit, delay).spelled(&names)?);
    } else if file.limit_delay_ms.is_some() {
        bail!("limit_delay_ms is given without limit_ml");
    }
    let limits = file.alarms.clone().or(defaults.alarms.clone()).unwrap_or_default();
    builder = builder.alarms(limits.alarms()?);
    let (alarms, has_limits) = (limits.words(), limits.has_limits());
    if let Some(proposal) = proposal(&file)? {
        builder = builder.proposal(proposal);
    }
    if let Some(grid) = grid(&file)? {
        builder = builder.grid(grid);
    }
    let bedside = Bedside::of(&file, &defaults)?;
    if let Some(tube) = bedside.tube {
        let known = if bedside.tube_is_bound { Tube::Likely(tube) } else { Tube::Measured(tube) };
        builder = builder.load(LoadCriteria::default().with_tube(tube));
        builder = builder.leak_path(LeakPath::default().with_tube(known));
    }
    let settings = builder.build().spelled(&WRITTEN)?;
    if let Some(changes) = &file.changes {
        // What cannot be set is told before hours of a recording, not after.
        changes.iter().try_fold(settings, |settings, change| change.apply(&settings))?;
    }
    let zone = file.layout(args)?.zone.unwrap_or(TimeZone::UTC);
    Ok(Setup { settings, cut, changes: file.changes, bedside, alarms, has_limits, zone })
}

/// A target volume with its bounds; bounds without a target are an error.
fn proposal(file: &File) -> Result<Option<Proposal>> {
    let bounds = [file.target_step_cmH2O, file.target_ceiling_cmH2O, file.target_least_rise_cmH2O];
    let Some(target) = file.target_ml else {
        if bounds.iter().any(Option::is_some) {
            bail!("bounds of a target are given without target_ml");
        }
        return Ok(None);
    };
    let Some(ceiling) = file.target_ceiling_cmH2O else {
        bail!("target_ml needs target_ceiling_cmH2O");
    };
    let pressure = |name, value| Ok::<_, anyhow::Error>(Pressure::new(number(name, value)?));
    let proposal = Proposal::new(
        Volume::new(number("target_ml", target)?),
        pressure("target_step_cmH2O", file.target_step_cmH2O.unwrap_or(2.0))?,
        pressure("target_ceiling_cmH2O", ceiling)?,
        pressure("target_least_rise_cmH2O", file.target_least_rise_cmH2O.unwrap_or(2.0))?,
        Share::from_percent(50),
    );
    let names = [
        ("target", "target_ml"),
        ("pressure_step", "target_step_cmH2O"),
        ("ceiling", "target_ceiling_cmH2O"),
        ("least_rise", "target_least_rise_cmH2O"),
    ];
    proposal.spelled(&names).map(Some)
}

/// What the trigger watches, by its word.
fn trigger(word: &str) -> Result<TriggerKind> {
    TriggerKind::ALL.into_iter().find(|kind| kind.name() == word).ok_or_else(|| {
        let words = TriggerKind::ALL.map(TriggerKind::name).join(", ");
        anyhow!("trigger {word:?} is none of {words}")
    })
}

/// The thresholds that can be set on the machine, sixteen from the lowest on.
fn grid(file: &File) -> Result<Option<ThresholdGrid>> {
    let flow = |name: &str, lpm: f64| {
        Flow::from_l_per_min(number(name, lpm)?)
            .within()
            .ok_or_else(|| anyhow!("{name} {lpm} is out of range"))
    };
    match (file.grid_lowest_lpm, file.grid_step_lpm) {
        (None, None) => Ok(None),
        (Some(lowest), Some(step)) => {
            let grid = ThresholdGrid::new(
                flow("grid_lowest_lpm", lowest)?,
                flow("grid_step_lpm", step)?,
                MOST_STEPS,
            );
            grid.spelled(&[("lowest", "grid_lowest_lpm"), ("step", "grid_step_lpm")]).map(Some)
        }
        _ => bail!("grid_lowest_lpm and grid_step_lpm go together"),
    }
}
