//! Units that recordings come in, by the words that stand for them.

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Role {
    Time,
    Flow,
    Pressure,
    /// Of the time, where that stands apart.
    Date,
}

/// A unit: how it is spelled, and what one of it is: microseconds, mL/s or cmH2O.
#[derive(Debug)]
pub(crate) struct Unit {
    /// As it is printed.
    pub(crate) name: &'static str,
    /// Spelled in lower case, without blanks.
    words: &'static [&'static str],
    pub(crate) factor: f64,
}

const fn unit(name: &'static str, words: &'static [&'static str], factor: f64) -> Unit {
    Unit { name, words, factor }
}

/// The conventional centimetre of water in pascals: ISO 80000-4, 98.0665.
const CMH2O_PA: f64 = 98.066_5;
/// The conventional millimetre of mercury in pascals: ISO 80000-4, 133.322.
const MMHG_PA: f64 = 133.322;

const TIME: [Unit; 4] = [
    unit("us", &["us", "µs", "μs", "microseconds"], 1.0),
    unit("ms", &["ms", "msec", "milliseconds"], 1e3),
    unit("s", &["s", "sec", "seconds"], 1e6),
    unit("min", &["min", "minutes"], 60e6),
];

const FLOW: [Unit; 4] = [
    unit("mL/s", &["ml/s", "ml_per_s", "ml/sec"], 1.0),
    unit("L/s", &["l/s", "l_per_s", "l/sec"], 1e3),
    unit("L/min", &["l/min", "l_per_min", "lpm"], 1e3 / 60.0),
    unit("mL/min", &["ml/min", "ml_per_min"], 1.0 / 60.0),
];

const PRESSURE: [Unit; 6] = [
    unit("cmH2O", &["cmh2o", "cmh₂o", "cmh20"], 1.0),
    unit("hPa", &["hpa"], 100.0 / CMH2O_PA),
    unit("mbar", &["mbar"], 100.0 / CMH2O_PA),
    unit("Pa", &["pa"], 1.0 / CMH2O_PA),
    unit("kPa", &["kpa"], 1e3 / CMH2O_PA),
    unit("mmHg", &["mmhg"], MMHG_PA / CMH2O_PA),
];

impl Role {
    pub(crate) const ALL: [Self; 4] = [Self::Time, Self::Flow, Self::Pressure, Self::Date];

    /// As `--columns` spells it.
    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::Time => "time",
            Self::Flow => "flow",
            Self::Pressure => "pressure",
            Self::Date => "date",
        }
    }

    /// What no infant's airway gives, in mL/s or cmH2O: chosen here, no source.
    pub(crate) const fn beyond(self) -> f64 {
        match self {
            Self::Flow => 400.0,
            Self::Pressure => 80.0,
            Self::Time | Self::Date => f64::INFINITY,
        }
    }

    const fn units(self) -> &'static [Unit] {
        match self {
            Self::Time => &TIME,
            Self::Flow => &FLOW,
            Self::Pressure => &PRESSURE,
            Self::Date => &[],
        }
    }

    /// The unit that a word stands for, in brackets or without.
    pub(crate) fn unit(self, word: &str) -> Option<&'static Unit> {
        let is_around = |c: char| c.is_whitespace() || "()[]".contains(c);
        let word: String = word.chars().filter(|c| !is_around(*c)).collect();
        let word = word.to_lowercase();
        self.units().iter().find(|unit| unit.words.contains(&word.as_str()))
    }

    /// Units that differ from the one of this factor, each with what one of that is times in it.
    pub(crate) fn others(self, factor: f64) -> impl Iterator<Item = (&'static str, f64)> {
        let units = self.units().iter().map(move |unit| (unit.name, unit.factor / factor));
        // Two that are nearly the same make no difference.
        units.filter(|(_, times)| (times - 1.0).abs() > 0.05)
    }

    /// All units, for a message.
    pub(crate) fn unit_names(self) -> String {
        let names: Vec<_> = self.units().iter().map(|unit| unit.name).collect();
        names.join(", ")
    }

    /// What a name says by itself: whose it is, and its unit where that is written behind it, as in
    /// `flow_l_per_min`, `Flow (L/min)`, `Paw [hPa]` or `Paw / kPa`.
    pub(crate) fn of_name(name: &str) -> Option<(Self, Option<&'static Unit>)> {
        let lower = name.trim().to_lowercase();
        Self::ALL.into_iter().find_map(|role| {
            let behind = role.words().iter().find_map(|own| lower.strip_prefix(own))?;
            if behind.is_empty() {
                return Some((role, None));
            }
            let spelled = behind.strip_prefix([' ', '_', '/', ',', ':', '-', '(', '['])?;
            Some((role, Some(role.unit(spelled.trim_start_matches([' ', '/', '-']))?)))
        })
    }

    /// What columns are called, longer words before those they begin with.
    const fn words(self) -> &'static [&'static str] {
        match self {
            Self::Time => &["timestamp", "datetime", "date time", "date/time", "time", "t"],
            Self::Flow => &["airway flow", "airflow", "flow"],
            Self::Pressure => &["airway pressure", "pressure", "paw"],
            Self::Date => &["date"],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_say_what_they_hold() {
        let said = |name| {
            Role::of_name(name).map(|(role, unit)| (role.name(), unit.map_or("", |unit| unit.name)))
        };
        assert_eq!(said("t_us"), Some(("time", "us")));
        assert_eq!(said("flow_l_per_min"), Some(("flow", "L/min")));
        assert_eq!(said("paw_cmH2O"), Some(("pressure", "cmH2O")));
        assert_eq!(said(" Flow (L/min)"), Some(("flow", "L/min")));
        assert_eq!(said("Airway pressure [mbar]"), Some(("pressure", "mbar")));
        assert_eq!(said("Paw / kPa"), Some(("pressure", "kPa")));
        assert_eq!(said("Pressure, mmHg"), Some(("pressure", "mmHg")));
        assert_eq!(said("Flow L/min"), Some(("flow", "L/min")));
        assert_eq!(said("time"), Some(("time", "")));
        // another quantity, a unit of another, or none that is known
        for name in [
            "flow_target",
            "temperature",
            "paw_s",
            "flow (gal/h)",
            "t",
            "ptrach_hpa",
            "ts",
            "flow 2",
        ] {
            assert!(!matches!(said(name), Some((_, unit)) if !unit.is_empty()), "{name}");
        }
    }

    #[test]
    fn factors_are_those_of_the_units() {
        let one = |role: Role, word| role.unit(word).unwrap().factor;
        // 6 L/min = 100 mL/s; 10 hPa = 1000 Pa / 98.0665 = 10.197 cmH2O; 1 mmHg = 1.3595 cmH2O
        assert!((6.0 * one(Role::Flow, "L / min") - 100.0).abs() < 1e-9);
        assert!((10.0 * one(Role::Pressure, "mbar") - 10.197).abs() < 1e-3);
        assert!((one(Role::Pressure, "mmHg") - 1.3595).abs() < 1e-4);
        assert!((one(Role::Pressure, "kPa") - 10.197).abs() < 1e-3);
    }
}
