//! Holds every figure against its bar and against the committed budget.
//!
//! Arguments: the budgets; a folder of one file a board, with lines `figure NAME NUMBER`; the page that
//! shows the table; `--save` where that is to be written there. Ends badly where a figure exceeds its
//! budget or is missing, or the page shows another table.

mod page;

use anyhow::{Context, Result, ensure};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::fmt::Write;
use std::fs;
use std::process::ExitCode;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Budgets {
    row: Vec<Row>,
}

/// One figure that is held to a budget on some boards.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    name: String,
    unit: String,
    /// What it says on a page.
    says: Option<String>,
    /// More is better.
    #[serde(default)]
    least: bool,
    /// By board.
    #[serde(default)]
    bar: BTreeMap<String, f64>,
    budget: BTreeMap<String, f64>,
}

type Figures = BTreeMap<String, BTreeMap<String, f64>>;

fn main() -> Result<ExitCode> {
    let mut arguments = std::env::args().skip(1);
    let budgets = arguments.next().context("the budgets")?;
    let folder = arguments.next().context("the folder of figures")?;
    let page = arguments.next().context("the page")?;
    let save = arguments.next().is_some_and(|word| word == "--save");
    let text = fs::read_to_string(&budgets).with_context(|| budgets.clone())?;
    let budgets: Budgets = toml::from_str(&text).context(budgets)?;
    let figures = figures(&folder)?;
    let (mut held, mut missed, mut wrong) = (0, 0, Vec::new());
    println!(
        "{:34} {:5} {:>9} {:>9} {:>9}  {}",
        "figure", "board", "measured", "bar", "budget", ""
    );
    for row in &budgets.row {
        for (board, &budget) in &row.budget {
            let bar = row.bar.get(board).copied();
            let Some(&value) = figures.get(board).and_then(|all| all.get(&row.name)) else {
                wrong.push(format!("{} on {board}: not measured", row.name));
                continue;
            };
            let beyond = |limit: f64| if row.least { value < limit } else { value > limit };
            let verdict = if beyond(budget) {
                wrong
                    .push(format!("{} on {board}: {value} against a budget of {budget}", row.name));
                "OVER BUDGET"
            } else if bar.is_some_and(beyond) {
                missed += 1;
                "missed"
            } else {
                held += 1;
                if bar.is_some() { "held" } else { "" }
            };
            let bar = bar.map_or_else(|| "-".into(), |bar| bar.to_string());
            println!("{:34} {board:5} {value:>9} {bar:>9} {budget:>9}  {verdict}", row.name);
        }
    }
    for (board, all) in &figures {
        if let (Some(seen), Some(walked)) = (all.get("stack painted"), all.get("stack walked"))
            && seen > walked
        {
            wrong.push(format!("on {board} the stack went deeper than the walk says"));
        }
    }
    let table = table(&budgets, &figures)?;
    let shown = fs::read_to_string(&page).with_context(|| page.clone())?;
    if save {
        let renewed = page::renewed(&shown, &table).context("the page has no such table")?;
        fs::write(&page, renewed).context(page)?;
    } else {
        wrong.extend(page::stale(&shown, &table));
    }
    wrong.iter().for_each(|what| println!("WRONG: {what}"));
    println!(
        "target: {held} figures hold, {missed} miss their bar but keep their budget, {} wrong",
        wrong.len()
    );
    Ok(if wrong.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

fn figures(folder: &str) -> Result<Figures> {
    let mut boards = Figures::new();
    for entry in fs::read_dir(folder).context(folder.to_owned())? {
        let path = entry?.path();
        let board = path.file_stem().context("a name")?.to_string_lossy().into_owned();
        let mut all = BTreeMap::new();
        for line in fs::read_to_string(&path)?.lines() {
            let Some((name, value)) = line.strip_prefix("figure ").and_then(|l| l.rsplit_once(' '))
            else {
                continue;
            };
            let value = value.parse().with_context(|| line.to_owned())?;
            ensure!(all.insert(name.to_owned(), value).is_none(), "{name} twice on {board}");
        }
        boards.insert(board, all);
    }
    Ok(boards)
}

/// The rows that have something to say, a column a board.
fn table(budgets: &Budgets, figures: &Figures) -> Result<String> {
    let mut boards: Vec<&String> = figures.keys().collect();
    // M33 comes after M7.
    boards.sort_by_key(|board| (board.len(), board.as_str()));
    let mut out = String::from("| what |");
    boards.iter().try_for_each(|board| write!(out, " {board} |"))?;
    out.push_str(" bar |\n|---|");
    boards.iter().for_each(|_| out.push_str("---:|"));
    out.push_str("---|\n");
    for row in budgets.row.iter().filter(|row| row.says.is_some()) {
        let says = row.says.as_deref().unwrap_or_default();
        write!(out, "| {says} ({}) |", row.unit)?;
        for board in &boards {
            match figures.get(*board).and_then(|all| all.get(&row.name)) {
                Some(value) => write!(out, " {value} |")?,
                None => out.push_str(" – |"),
            }
        }
        let mut bars: Vec<String> = row.bar.values().map(f64::to_string).collect();
        bars.dedup();
        let named = |(board, bar): (&String, &f64)| format!("{board} {bar}");
        if bars.len() > 1 {
            bars = row.bar.iter().map(named).collect();
        }
        writeln!(out, " {} |", bars.join(", "))?;
    }
    Ok(out)
}
