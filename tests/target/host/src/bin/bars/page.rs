//! The table as a page shows it: whether it is the one just measured, and the page with that.

/// Two builds of the same code may differ by a handful of instructions.
const ALIKE: f64 = 0.002;

fn rows(table: &str) -> impl Iterator<Item = Vec<&str>> {
    table.lines().map(|line| line.split('|').map(str::trim).collect())
}

fn is_alike(shown: &str, measured: &str) -> bool {
    match (shown.parse::<f64>(), measured.parse::<f64>()) {
        // A ratio is shown with two digits.
        (Ok(shown), Ok(measured)) => {
            (shown - measured).abs()
                <= (measured.abs() * ALIKE).max(0.025 * f64::from(measured < 10.0))
        }
        _ => shown == measured,
    }
}

/// The lines of the page from the table's first to its last, by number; `None` where its heading is not
/// there.
fn place(page: &[&str], table: &str) -> Option<std::ops::Range<usize>> {
    let heading = table.lines().next()?;
    let first = page.iter().position(|line| *line == heading)?;
    let length = page[first..].iter().take_while(|line| line.starts_with('|')).count();
    Some(first..first + length)
}

/// What the page shows otherwise than the table just measured.
pub(crate) fn stale(page: &str, table: &str) -> Vec<String> {
    let lines: Vec<_> = page.lines().collect();
    let Some(place) = place(&lines, table) else {
        return vec!["the page has no such table".into()];
    };
    let shown = lines[place].join("\n");
    if shown.lines().count() != table.lines().count() {
        return vec!["the page's table has other rows".into()];
    }
    let mut out = Vec::new();
    for (shown, measured) in rows(&shown).zip(rows(table)) {
        let other =
            shown.iter().zip(&measured).find(|(shown, measured)| !is_alike(shown, measured));
        if let Some((shown, now)) = other {
            out.push(format!("{}: the page shows {shown}, measured {now}", measured[1]));
        } else if shown.len() != measured.len() {
            out.push(format!("{}: the page shows other boards", measured[1]));
        }
    }
    out
}

/// The page with the table in the place of its own; `None` where it has none.
pub(crate) fn renewed(page: &str, table: &str) -> Option<String> {
    let lines: Vec<_> = page.lines().collect();
    let place = place(&lines, table)?;
    let after = lines[place.end..].join("\n");
    Some(format!("{}\n{table}{after}\n", lines[..place.start].join("\n")))
}

#[cfg(test)]
mod tests {
    use super::*;

    const TABLE: &str = "| what | M0 |\n|---|---:|\n| mean | 4800.5 |\n| ratio | 2.81 |\n";

    #[test]
    fn a_table_that_was_measured_otherwise_is_stale() {
        let page = format!("text\n\n{TABLE}\nmore\n");
        assert_eq!(stale(&page, TABLE), [""; 0]);
        // 4 807 and 2.83 are another build's; 4 850 is another code's.
        let near = TABLE.replace("4800.5", "4807").replace("2.81", "2.83");
        assert_eq!(stale(&page, &near), [""; 0]);
        let other = TABLE.replace("4800.5", "4850");
        assert_eq!(stale(&page, &other), ["mean: the page shows 4800.5, measured 4850"]);
        assert_eq!(stale(&page, &format!("{TABLE}| flash | 1 |\n")).len(), 1);
        assert_eq!(stale("text\n", TABLE).len(), 1);
    }

    #[test]
    fn a_page_takes_the_new_table_and_keeps_the_rest() {
        let page = format!("text\n\n{TABLE}\nmore\n");
        let other = TABLE.replace("4800.5", "4850");
        assert_eq!(renewed(&page, &other), Some(format!("text\n\n{other}\nmore\n")));
        assert_eq!(renewed("text\n", &other), None);
    }
}
