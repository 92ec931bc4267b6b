//! Which of a recording's columns hold what: as the caller says, or by what their names tell.

use super::layout::{Layout, Named, Which};
use super::unit::{Role, Unit};
use crate::text::quoted;
use fixed::types::I16F16;
use tidevane::quantity::{Flow, Pressure};
use tidevane::signal::Reading;

/// A column's name, and its unit where that stands beside it.
pub(crate) struct Label {
    pub(crate) name: String,
    pub(crate) unit: Option<String>,
}

impl Label {
    pub(crate) fn new(name: String) -> Self {
        Self { name, unit: None }
    }
}

/// Where a number stands, and what makes microseconds, mL/s or cmH2O of it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Column {
    pub(crate) role: Role,
    pub(crate) at: usize,
    pub(crate) factor: f64,
    /// No reading is so large, as it stands there.
    pub(crate) beyond: f64,
}

impl Column {
    fn new(role: Role, at: usize, factor: f64) -> Self {
        Self { role, at, factor, beyond: role.beyond() / factor.abs() }
    }
}

/// Where the time of a sample comes from.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Time {
    /// A number with what makes microseconds of it.
    Number(Column),
    /// Dates and times, in one column or two.
    Dates { date: Option<usize>, time: usize },
    /// The recording's own count of samples, so many microseconds apart.
    Counted(f64),
}

#[derive(Debug, Clone)]
pub(crate) struct Columns {
    pub(crate) count: usize,
    pub(crate) time: Time,
    /// Times that stand there though the caller tells a rate.
    pub(crate) beside: Option<Time>,
    pub(crate) flow: Column,
    pub(crate) pressure: Column,
    /// What was found without being told, in words; empty where the names are those of `--help`.
    pub(crate) guessed: Vec<String>,
}

/// Names that need no word.
const PLAIN: [&str; 6] = ["t_us", "t_s", "flow_ml_per_s", "flow_l_per_min", "paw_cmH2O", "paw_hpa"];

/// So many names are listed.
const LISTED: usize = 12;

/// What was found of one role.
struct Found {
    at: usize,
    unit: Option<&'static Unit>,
    turned: bool,
    guessed: bool,
}

impl Columns {
    /// Among these; `interval` where the recording itself counts its samples, in microseconds.
    pub(crate) fn find(
        labels: &[Label],
        layout: &Layout,
        interval: Option<f64>,
    ) -> Result<Self, String> {
        let mut guessed = Vec::new();
        let time = match (interval, layout.interval_us) {
            (Some(_), Some(_)) => {
                return Err("the recording itself says its rate; leave --rate-hz away".into());
            }
            (Some(interval), None) | (None, Some(interval)) => Time::Counted(interval),
            (None, None) => Time::find(labels, layout, &mut guessed)?,
        };
        let is_told = layout.interval_us.is_some();
        let beside = is_told.then(|| Time::find(labels, layout, &mut Vec::new()).ok()).flatten();
        let mut number = |role: Role| {
            let found = find(role, labels, layout)?;
            guessed.extend(found.said(role, labels));
            let unit = found.unit.ok_or_else(|| {
                let name = &labels[found.at].name;
                format!(
                    "column {} has no unit; say --columns {}={name}:UNIT with one of {}",
                    quoted(name),
                    role.name(),
                    role.unit_names()
                )
            })?;
            let factor = if found.turned { -unit.factor } else { unit.factor };
            Ok::<_, String>(Column::new(role, found.at, factor))
        };
        let (flow, pressure) = (number(Role::Flow)?, number(Role::Pressure)?);
        if flow.at == pressure.at {
            return Err("flow and pressure are the same column".into());
        }
        Ok(Self { count: labels.len(), time, beside, flow, pressure, guessed })
    }
}

impl Columns {
    /// Whether the same is read from the same places in the same units.
    pub(crate) fn read_alike(&self, other: &Self) -> bool {
        let alike = |a: Column, b: Column| (a.at, a.factor) == (b.at, b.factor);
        let timed = match (self.time, other.time) {
            (Time::Number(a), Time::Number(b)) => alike(a, b),
            (Time::Dates { date, time }, Time::Dates { date: other_date, time: other_time }) => {
                (date, time) == (other_date, other_time)
            }
            (Time::Counted(a), Time::Counted(b)) => a == b,
            _ => false,
        };
        let same = self.count == other.count && timed;
        same && alike(self.flow, other.flow) && alike(self.pressure, other.pressure)
    }
}

impl Time {
    /// In a column or two; what was found goes to `guessed`.
    fn find(labels: &[Label], layout: &Layout, guessed: &mut Vec<String>) -> Result<Self, String> {
        let found = find(Role::Time, labels, layout)?;
        if let Some(unit) = found.unit {
            guessed.extend(found.said(Role::Time, labels));
            return Ok(Self::Number(Column::new(Role::Time, found.at, unit.factor)));
        }
        let date = date(labels, layout)?.filter(|at| *at != found.at);
        let two = date.map(|at| {
            let name = |at: usize| quoted(&labels[at].name);
            format!("time = {} and {} in dates", name(at), name(found.at))
        });
        guessed.extend(two.or_else(|| found.said(Role::Time, labels)));
        Ok(Self::Dates { date, time: found.at })
    }
}

impl Found {
    /// In words, where it was guessed of a name that needs one.
    fn said(&self, role: Role, labels: &[Label]) -> Option<String> {
        let name = &labels[self.at].name;
        let unit = self.unit.map_or("dates", |unit| unit.name);
        (self.guessed && !PLAIN.contains(&name.as_str()))
            .then(|| format!("{} = {} in {unit}", role.name(), quoted(name)))
    }
}

/// The column of a role.
fn find(role: Role, labels: &[Label], layout: &Layout) -> Result<Found, String> {
    match layout.column(role) {
        Some(named) => told(role, named, labels),
        None => guessed(role, labels, layout),
    }
}

/// The column of the date, where there is one.
fn date(labels: &[Label], layout: &Layout) -> Result<Option<usize>, String> {
    let is_there =
        layout.column(Role::Date).is_some() || named(Role::Date, labels).next().is_some();
    is_there.then(|| find(Role::Date, labels, layout).map(|found| found.at)).transpose()
}

/// As the caller says it.
fn told(role: Role, named: &Named, labels: &[Label]) -> Result<Found, String> {
    let at = match &named.which {
        Which::Place(at) if *at < labels.len() => *at,
        Which::Place(at) => {
            return Err(format!("there is no column {}; there are {}", at + 1, labels.len()));
        }
        Which::Name(name) => {
            let same = |other: &Label| other.name.trim() == name;
            let mut places = labels.iter().enumerate().filter(|(_, label)| same(label));
            match (places.next(), places.next()) {
                (Some((at, _)), None) => at,
                (Some(_), Some(_)) => {
                    return Err(format!(
                        "two columns are called {}; count them instead: {}=1 is the first",
                        quoted(name),
                        role.name()
                    ));
                }
                (None, _) => {
                    return Err(format!("no column is called {}; {}", quoted(name), list(labels)));
                }
            }
        }
    };
    let unit = match named.unit {
        Some(unit) => Some(unit),
        None => unit(role, &labels[at])?,
    };
    Ok(Found { at, unit, turned: named.turned, guessed: false })
}

/// By the names.
fn guessed(role: Role, labels: &[Label], layout: &Layout) -> Result<Found, String> {
    let mut places = named(role, labels).peekable();
    if role == Role::Time && places.peek().is_none() && named(Role::Date, labels).next().is_some() {
        // A date that is whole.
        return guessed(Role::Date, labels, layout);
    }
    let Some(at) = places.next() else {
        let is_missing = |other: &Role| {
            *other == role
                || layout.column(*other).is_none() && named(*other, labels).next().is_none()
        };
        let missing = || [Role::Time, Role::Flow, Role::Pressure].into_iter().filter(is_missing);
        let flags: Vec<_> = missing().map(|role| format!("{}=NAME:UNIT", role.name())).collect();
        let or = match role {
            Role::Time => ", or --rate-hz N where none is the time",
            Role::Flow | Role::Pressure | Role::Date => "",
        };
        return Err(format!(
            "no column is the {}; say which by name or number: --columns {}{or}. {}",
            missing().map(Role::name).collect::<Vec<_>>().join(", the "),
            flags.join(","),
            list(labels)
        ));
    };
    if let Some(other) = places.next() {
        return Err(format!(
            "columns {} and {} both give the {2}; say which: --columns {2}=NAME:UNIT",
            quoted(&labels[at].name),
            quoted(&labels[other].name),
            role.name()
        ));
    }
    Ok(Found { at, unit: unit(role, &labels[at])?, turned: false, guessed: true })
}

/// Where names are those of a role.
fn named(role: Role, labels: &[Label]) -> impl Iterator<Item = usize> {
    let is_role =
        move |label: &Label| Role::of_name(&label.name).is_some_and(|(own, _)| own == role);
    labels.iter().enumerate().filter(move |(_, label)| is_role(label)).map(|(at, _)| at)
}

/// The unit that a label has in its name or beside it.
fn unit(role: Role, label: &Label) -> Result<Option<&'static Unit>, String> {
    let own = Role::of_name(&label.name).filter(|(own, _)| *own == role).and_then(|(_, unit)| unit);
    let beside = label.unit.as_deref().and_then(|word| role.unit(word));
    match (own, beside) {
        (Some(own), Some(beside)) if own.name != beside.name => Err(format!(
            "column {0} is in {1} by its name and in {2} by its unit; say --columns {3}={4}:UNIT",
            quoted(&label.name),
            own.name,
            beside.name,
            role.name(),
            label.name
        )),
        _ => Ok(own.or(beside)),
    }
}

/// The names, for a message.
fn list(labels: &[Label]) -> String {
    let names: Vec<_> = labels.iter().take(LISTED).map(|label| quoted(&label.name)).collect();
    let more = if labels.len() > LISTED { " and more" } else { "" };
    format!("The columns are {}{more}", names.join(", "))
}

/// A reading from numbers as they stand in the recording; what is no number has a reason.
pub(crate) fn reading(flow: f64, pressure: f64) -> Result<Reading, String> {
    Ok(Reading {
        flow: Flow::new(value("flow", flow)?),
        pressure: Pressure::new(value("pressure", pressure)?),
    })
}

/// Rounded to the nearest 1/65 536.
fn value(what: &str, value: f64) -> Result<I16F16, String> {
    if value.is_nan() {
        return Err(format!("{what} is no number"));
    }
    I16F16::checked_from_num(value).ok_or_else(|| format!("{what} {value} is out of range"))
}
