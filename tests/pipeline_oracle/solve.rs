//! Least squares by centred normal equations, solved by elimination.

/// One reading: what explains it, and what is explained.
type Row<const N: usize> = ([f64; N], f64);

/// Slopes of `y` on the columns, the constant, and R²; `None` where nothing tells them apart.
pub(crate) fn fit<const N: usize>(rows: &[Row<N>]) -> Option<([f64; N], f64, f64)> {
    let n = rows.len() as f64;
    let means: [f64; N] = std::array::from_fn(|i| rows.iter().map(|row| row.0[i]).sum::<f64>() / n);
    let y = rows.iter().map(|row| row.1).sum::<f64>() / n;
    let (mut a, mut b, mut all) = ([[0.0; N]; N], [0.0; N], 0.0);
    for (x, value) in rows {
        let dy = value - y;
        all += dy * dy;
        for i in 0..N {
            b[i] += (x[i] - means[i]) * dy;
            for j in 0..N {
                a[i][j] += (x[i] - means[i]) * (x[j] - means[j]);
            }
        }
    }
    let right = b;
    for i in 0..N {
        if a[i][i].abs() < 1e-12 {
            return None;
        }
        let pivot = a[i];
        for j in i + 1..N {
            let factor = a[j][i] / pivot[i];
            a[j].iter_mut().zip(pivot).for_each(|(x, p)| *x -= factor * p);
            b[j] -= factor * b[i];
        }
    }
    let mut slopes = [0.0; N];
    for i in (0..N).rev() {
        let known: f64 = (i + 1..N).map(|k| a[i][k] * slopes[k]).sum();
        slopes[i] = (b[i] - known) / a[i][i];
    }
    let explained: f64 = (0..N).map(|i| slopes[i] * right[i]).sum();
    let constant = y - (0..N).map(|i| slopes[i] * means[i]).sum::<f64>();
    Some((slopes, constant, explained / all))
}
