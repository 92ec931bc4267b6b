//! The breaths of a recording: the latest in memory, those before in a temporary file, so that memory hardly
//! grows with its length.

use crate::output::place::not_temporary;
use crate::row::Row;
use anyhow::{Context, Result};
use std::cell::RefCell;
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::rc::Rc;

/// So many breaths are written and read at once.
const BLOCK: usize = 1_024;

/// Breaths in the order they began.
#[derive(Default)]
pub(crate) struct BreathLog {
    blocks: Vec<Block>,
    /// How many before are forgotten, where none is kept in a file: a number of blocks.
    forgotten: usize,
    forgets: bool,
    /// Has no name: it is gone with the program, whatever ends it.
    file: Option<File>,
    /// Those after the last block: at least a block of them, once there is one.
    latest: Vec<Row>,
    /// Why a block could not be read again: what is told of the breaths then lacks it.
    failed: RefCell<Option<io::Error>>,
}

/// A block in the file.
struct Block {
    /// When its first breath began.
    from_s: f64,
    at: u64,
    bytes: usize,
}

impl BreathLog {
    /// Of which only the latest are kept, a thousand or more.
    pub(crate) fn of_late() -> Self {
        Self { forgets: true, ..Self::default() }
    }

    pub(crate) fn push(&mut self, row: Row) -> Result<()> {
        if self.latest.len() == 2 * BLOCK {
            self.spill().context("cannot keep the breaths in a temporary file")?;
        }
        self.latest.push(row);
        Ok(())
    }

    fn spill(&mut self) -> Result<()> {
        if self.forgets {
            self.forgotten += self.latest.drain(..BLOCK).len();
            return Ok(());
        }
        if self.file.is_none() {
            self.file = Some(tempfile::tempfile().map_err(not_temporary)?);
        }
        let Some(file) = &mut self.file else { return Ok(()) };
        let rows: Vec<Row> = self.latest.drain(..BLOCK).collect();
        let from_s = rows.first().map_or(0.0, |row| row.onset_s);
        let bytes = postcard::to_allocvec(&rows)?;
        let at = self.blocks.last().map_or(0, |last| last.at + last.bytes as u64);
        file.seek(SeekFrom::Start(at))?;
        file.write_all(&bytes)?;
        self.blocks.push(Block { from_s, at, bytes: bytes.len() });
        Ok(())
    }

    /// None of the last so many is to be trusted: of those still in memory, a thousand or more.
    pub(crate) fn distrust(&mut self, last: usize) {
        self.latest.iter_mut().rev().take(last).for_each(|row| row.trusted = false);
    }

    /// Whether all are kept.
    pub(crate) fn is_whole(&self) -> bool {
        self.forgotten == 0
    }

    /// How many there were, kept or not.
    pub(crate) fn len(&self) -> usize {
        self.before_latest() + self.latest.len()
    }

    /// How many came before the latest.
    fn before_latest(&self) -> usize {
        self.forgotten + BLOCK * self.blocks.len()
    }

    pub(crate) fn iter(&self) -> Iter<'_> {
        Iter { log: self, front: self.forgotten, back: self.len(), held: [None, None] }
    }

    /// Those that began at a time or later.
    pub(crate) fn since(&self, from_s: f64) -> Iter<'_> {
        Iter { front: self.before(from_s), ..self.iter() }
    }

    /// Those that began at a time or later, and before another.
    pub(crate) fn between(&self, from_s: f64, to_s: f64) -> Iter<'_> {
        Iter { back: self.before(to_s), ..self.since(from_s) }
    }

    /// How many began before a time.
    fn before(&self, time_s: f64) -> usize {
        let first = self.blocks.partition_point(|block| block.from_s < time_s).saturating_sub(1);
        let front = self.forgotten + BLOCK * first;
        let from = Iter { front, ..self.iter() };
        front + from.take_while(|row| row.onset_s < time_s).count()
    }

    /// Whether all that was kept could be read.
    ///
    /// # Errors
    /// Where it could not.
    pub(crate) fn check(&self) -> Result<()> {
        let failed = self.failed.borrow_mut().take();
        failed.map_or(Ok(()), |why| {
            Err(why).context("cannot read the breaths kept in a temporary file")
        })
    }

    fn read(&self, block: usize) -> Rc<[Row]> {
        let read = || -> io::Result<Vec<Row>> {
            let (Some(Block { at, bytes, .. }), Some(mut file)) =
                (self.blocks.get(block), self.file.as_ref())
            else {
                return Err(io::ErrorKind::NotFound.into());
            };
            let mut buffer = vec![0; *bytes];
            file.seek(SeekFrom::Start(*at))?;
            file.read_exact(&mut buffer)?;
            postcard::from_bytes(&buffer).map_err(io::Error::other)
        };
        let rows = read().unwrap_or_else(|why| {
            self.failed.borrow_mut().get_or_insert(why);
            Vec::new()
        });
        rows.into()
    }
}

/// A block that was read, and its number.
type Held = Option<(usize, Rc<[Row]>)>;

/// Goes through breaths from either end.
#[derive(Clone)]
pub(crate) struct Iter<'a> {
    log: &'a BreathLog,
    front: usize,
    back: usize,
    held: [Held; 2],
}

impl Iter<'_> {
    /// The breath of a place; which of the blocks held is for this end.
    fn at(&mut self, place: usize, end: usize) -> Option<Row> {
        let block = place / BLOCK;
        if place >= self.log.before_latest() {
            return self.log.latest.get(place - self.log.before_latest()).copied();
        }
        let held = self.held.get_mut(end)?;
        if held.as_ref().is_none_or(|(number, _)| *number != block) {
            *held = Some((block, self.log.read(block)));
        }
        held.as_ref()?.1.get(place % BLOCK).copied()
    }
}

impl Iterator for Iter<'_> {
    type Item = Row;

    fn next(&mut self) -> Option<Row> {
        if self.front >= self.back {
            return None;
        }
        self.front += 1;
        self.at(self.front - 1, 0)
    }

    fn size_hint(&self) -> (usize, Option<usize>) {
        (0, Some(self.back.saturating_sub(self.front)))
    }
}

impl DoubleEndedIterator for Iter<'_> {
    fn next_back(&mut self) -> Option<Row> {
        if self.front >= self.back {
            return None;
        }
        self.back -= 1;
        self.at(self.back, 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tidevane::alarm::BreathKind;
    use tidevane::breath::Kind;
    use tidevane::signal::Flags;

    /// Breaths 0.5 s apart, the first at 0 s: two blocks in the file and 1,452 in memory.
    const ALL: usize = 3_500;

    fn filled() -> BreathLog {
        let mut log = BreathLog::default();
        for i in 0..ALL {
            log.push(row(0.5 * i as f64)).unwrap();
        }
        assert_eq!((log.blocks.len(), log.latest.len()), (2, 1_452));
        log
    }

    fn row(onset_s: f64) -> Row {
        Row {
            onset_s,
            kind: Kind::Own,
            cause: None,
            insp_s: 0.2,
            exp_s: 0.3,
            mean_pressure: None,
            whose: BreathKind::Own,
            trusted: true,
            flags: Flags::NONE,
            self_cycled: false,
            inspired_ml: 5.25,
            expired_ml: 5.0,
            peak: 6.0,
            baseline: 5.0,
            peak_flow: 30.0,
            rate: Some(60.0),
            minute_ml: None,
            leak_window: None,
            lung_ml: None,
            mechanics: Some([0.5, 0.1, 0.05]),
            bend: None,
            short: None,
            verdict: None,
        }
    }

    fn onsets(rows: impl Iterator<Item = Row>) -> Vec<f64> {
        rows.map(|row| row.onset_s).collect()
    }

    #[test]
    fn all_come_back_in_order_from_either_end() {
        let log = filled();
        let mut all: Vec<f64> = (0..ALL).map(|i| 0.5 * i as f64).collect();
        assert_eq!((log.len(), onsets(log.iter())), (ALL, all.clone()));
        // One that went halfway goes on where it stood.
        let mut halfway = log.iter();
        halfway.by_ref().take(1_500).for_each(drop);
        assert_eq!(onsets(halfway.clone()), all[1_500..]);
        all.reverse();
        assert_eq!(onsets(log.iter().rev()), all);
        let first = log.iter().next().unwrap();
        assert_eq!((first.mechanics, first.rate), (Some([0.5, 0.1, 0.05]), Some(60.0)));
        log.check().unwrap();
    }

    #[test]
    fn a_stretch_is_found_wherever_a_block_ends() {
        let log = filled();
        // Breath 1,024 at 512 s begins the second block, 2,048 at 1,024 s what is in memory.
        for (from, to, first, count) in [
            (0.0, 0.4, 0.0, 1),
            (511.5, 512.5, 511.5, 2),
            (511.6, 512.5, 512.0, 1),
            (512.0, 1_024.0, 512.0, 1_024),
            (1_023.5, 1_024.5, 1_023.5, 2),
            (1_749.5, 9e9, 1_749.5, 1),
        ] {
            let found = onsets(log.between(from, to));
            assert_eq!((found.first(), found.len()), (Some(&first), count), "{from} to {to} s");
        }
        assert_eq!(onsets(log.since(-1.0)).len(), ALL);
        assert_eq!(log.since(1_749.6).count(), 0);
        assert_eq!(log.between(600.0, 500.0).count(), 0);
    }

    #[test]
    fn what_is_forgotten_still_counts() {
        let mut log = BreathLog::of_late();
        for i in 0..ALL {
            log.push(row(0.5 * i as f64)).unwrap();
        }
        // The first 2,048 of 3,500 are gone; 1,024 s is when the next began.
        assert!(log.file.is_none() && !log.is_whole() && filled().is_whole());
        assert_eq!((log.len(), log.iter().count()), (ALL, 1_452));
        for (from, first, count) in [(0.0, 1_024.0, 1_452), (1_700.0, 1_700.0, 100)] {
            let found = onsets(log.since(from));
            assert_eq!((found.first(), found.len()), (Some(&first), count));
        }
        assert_eq!(onsets(log.between(1_100.0, 1_101.0)), [1_100.0, 1_100.5]);
        assert_eq!(onsets(log.iter().rev()).last(), Some(&1_024.0));
        log.distrust(2);
        assert_eq!(log.iter().filter(|row| !row.trusted).count(), 2);
        log.check().unwrap();
    }

    #[test]
    fn the_last_ones_lose_trust() {
        let mut log = filled();
        log.distrust(3);
        let lost = log.iter().filter(|row| !row.trusted);
        assert_eq!(onsets(lost), [1_748.5, 1_749.0, 1_749.5]);
    }

    #[test]
    fn what_cannot_be_read_again_is_told() {
        let log = filled();
        log.file.as_ref().unwrap().set_len(10).unwrap();
        assert!(log.iter().count() < ALL);
        let told = format!("{:#}", log.check().unwrap_err());
        assert!(told.starts_with("cannot read the breaths kept in a temporary file"), "{told}");
    }
}
