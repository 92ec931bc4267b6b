//! What stands for a value that is missing.

use super::columns::Column;
use super::layout::Layout;
use crate::text::quoted;

/// Cells that say so, in lower case: common practice, no source.
const WORDS: [&str; 11] =
    ["", "na", "n/a", "#n/a", "nan", "null", "none", "-", "--", "---", "missing"];
/// Numbers that do, where they are beyond what an airway gives and the caller does not say otherwise: common practice, no
/// source.
const NUMBERS: [f64; 3] = [-999.0, -9_999.0, 9_999.0];
/// So many of them that could be readings, and so large a share of all values, are no chance: chosen here, no source.
const ENOUGH: u64 = 20;
const SHARE: u64 = 200;

/// What is missing so far.
#[derive(Debug)]
pub(crate) struct Missing {
    numbers: Vec<f64>,
    /// The least of the numbers without its sign: none of a smaller value is.
    least: f64,
    words: Vec<String>,
    is_told: bool,
    pub(crate) count: u64,
    /// Numbers that could stand for none and could be readings.
    doubtful: u64,
}

impl Missing {
    pub(crate) fn new(layout: &Layout) -> Self {
        let told = layout.missing.iter().map(|word| word.parse::<f64>().map_err(|_| word));
        let numbers: Vec<f64> = match layout.missing[..] {
            [] => NUMBERS.into(),
            _ => told.clone().filter_map(Result::ok).collect(),
        };
        Self {
            least: numbers.iter().fold(f64::INFINITY, |least, number| least.min(number.abs())),
            numbers,
            words: told.filter_map(|word| word.err().map(|word| word.to_lowercase())).collect(),
            is_told: !layout.missing.is_empty(),
            count: 0,
            doubtful: 0,
        }
    }

    /// Why a number, as it stands in its column, is none.
    pub(crate) fn number(&mut self, value: f64, column: Column) -> Result<(), String> {
        if value.abs() < self.least || !self.numbers.contains(&value) {
            return Ok(());
        }
        if !self.is_told && value.abs() < column.beyond {
            self.doubtful += 1;
            return Ok(());
        }
        self.count += 1;
        let what = column.role.name();
        Err(if self.is_told {
            format!("{what} of {value} stands for none")
        } else {
            format!("{what} of {value} is taken for none; --missing NA says that it is a number")
        })
    }

    /// Why a cell is no number, where it says so.
    pub(crate) fn cell(&mut self, text: &str, column: Column) -> Result<(), String> {
        let word = text.to_lowercase();
        if !WORDS.contains(&&*word) && !self.words.contains(&word) {
            return Ok(());
        }
        self.count += 1;
        Err(match text {
            "" => format!("cell {} is empty", column.at + 1),
            _ => format!("{} is missing: {}", column.role.name(), quoted(text)),
        })
    }

    /// Why nothing can be told of so many rows before the caller says more.
    pub(crate) fn refused(&self, rows: u64) -> Option<String> {
        (self.doubtful >= ENOUGH && self.doubtful * SHARE >= rows).then(|| {
            format!(
                "{} values are -999, -9999 or 9999: do they stand for none? say --missing -999, or --missing NA where \
                 they are numbers",
                self.doubtful
            )
        })
    }
}
