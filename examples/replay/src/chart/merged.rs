//! A list that never grows beyond a bound: neighbours are merged in pairs.

/// Enough to fill the width several times. Even, so that the newest stays alone when pairs merge.
const CAPACITY: usize = 4_096;

/// What can be merged with what comes after it.
pub(super) trait Join: Copy {
    fn join(&mut self, next: &Self);
}

/// Merged neighbours, each of equally many but the last.
pub(super) struct Merged<T> {
    items: Vec<T>,
    each: u64,
    in_last: u64,
}

impl<T> Default for Merged<T> {
    fn default() -> Self {
        Self { items: Vec::new(), each: 1, in_last: 0 }
    }
}

impl<T: Join> Merged<T> {
    pub(super) fn push(&mut self, one: T) {
        match self.items.last_mut() {
            Some(last) if self.in_last < self.each => {
                last.join(&one);
                self.in_last += 1;
            }
            _ => {
                self.items.push(one);
                self.in_last = 1;
            }
        }
        if self.items.len() > CAPACITY {
            self.items = self
                .items
                .chunks(2)
                .map(|pair| {
                    let mut both = pair[0];
                    pair[1..].iter().for_each(|next| both.join(next));
                    both
                })
                .collect();
            self.each *= 2;
        }
    }

    /// Whether nothing had to be merged.
    pub(super) fn is_single(&self) -> bool {
        self.each == 1
    }

    pub(super) fn items(&self) -> &[T] {
        &self.items
    }
}

/// Items by time, in bins of one width: start of the bin, end of it, and its items merged. Bins
/// without any are left out.
pub(super) fn binned<T: Join>(
    items: &[T],
    at: impl Fn(&T) -> f64,
    width: f64,
    end: f64,
) -> Vec<(f64, f64, T)> {
    let mut bins: Vec<(f64, f64, T)> = Vec::new();
    for item in items {
        let number = (at(item).clamp(0.0, end) / width).floor();
        match bins.last_mut() {
            Some((from, _, all)) if *from >= number * width => all.join(item),
            _ => bins.push((number * width, ((number + 1.0) * width).min(end), *item)),
        }
    }
    bins
}
