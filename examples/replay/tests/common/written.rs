//! One recording, written in many ways, and what must come of each.

use super::cli::Outcome;
use super::recording::{Folder, wave};

/// Time in µs, flow and pressure of ten breaths, 10 ms apart.
pub(crate) fn samples() -> Vec<(i64, f64, f64)> {
    let of = |line: &str| {
        let cells: Vec<_> = line.split(',').collect();
        (cells[0].parse().unwrap(), cells[1].parse().unwrap(), cells[2].parse().unwrap())
    };
    wave(0, 10).lines().map(of).collect()
}

/// The recording as text: a header, and a line of each sample.
pub(crate) fn text(header: &str, line: impl Fn(i64, f64, f64) -> String) -> String {
    let lines = samples().into_iter().map(|(us, flow, pressure)| line(us, flow, pressure));
    std::iter::once(header.to_owned()).chain(lines).map(|line| line + "\n").collect()
}

/// The breaths of the plain recording, and of one written otherwise: times moved to begin at zero.
pub(crate) fn breaths(folder: &Folder, args: &[&str]) -> (Outcome, Vec<Vec<String>>) {
    let outcome = folder.run(&[args, &["--quiet", "--breaths", "b.csv"]].concat());
    assert_eq!(outcome.code, 0, "{args:?}: {}", outcome.stderr);
    let table = folder.read("b.csv");
    let mut rows: Vec<Vec<String>> =
        table.lines().skip(1).map(|row| row.split(',').map(Into::into).collect()).collect();
    let start: i64 = rows[0][0].parse().unwrap();
    for row in &mut rows {
        for cell in [0, 1, 2, 17] {
            row[cell] = (row[cell].parse::<i64>().unwrap() - start).to_string();
        }
    }
    (outcome, rows)
}

/// Each breath the same: words and times to the letter, numbers within a hundredth.
pub(crate) fn same(folder: &Folder, args: &[&str]) -> Outcome {
    let (_, plain) = breaths(folder, &["in.csv"]);
    let (outcome, found) = breaths(folder, args);
    assert_eq!(plain.len(), 10);
    assert_eq!(plain.len(), found.len(), "{args:?}");
    for (plain, found) in plain.iter().zip(&found) {
        for (plain, found) in plain.iter().zip(found) {
            let near = match (plain.parse::<f64>(), found.parse::<f64>()) {
                (Ok(plain), Ok(found)) => (plain - found).abs() <= 0.011,
                _ => plain == found,
            };
            assert!(near, "{args:?}: {found} where the plain recording gives {plain}");
        }
    }
    outcome
}
