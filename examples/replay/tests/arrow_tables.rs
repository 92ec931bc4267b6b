//! Recordings as tables of Arrow: the breaths are those of the same recording as text.

mod common;

use arrow_array::{ArrayRef, Date32Array, Float64Array, Int64Array, RecordBatch, StringArray};
use arrow_array::{Time64MicrosecondArray, Time64NanosecondArray};
use arrow_array::{TimestampMicrosecondArray, TimestampNanosecondArray};
use arrow_ipc::writer::{FileWriter, StreamWriter};
use common::cli::replay_from;
use common::recording::Folder;
use common::written::{same, samples};
use parquet::arrow::ArrowWriter;
use std::fs::{self, File};
use std::sync::Arc;

fn batch(times: ArrayRef, name: &str) -> RecordBatch {
    let column = |of: fn(&(i64, f64, f64)) -> f64| -> ArrayRef {
        Arc::new(samples().iter().map(|sample| Some(of(sample))).collect::<Float64Array>())
    };
    let bed: ArrayRef = Arc::new(StringArray::from(vec!["4"; samples().len()]));
    RecordBatch::try_from_iter([
        ("bed", bed),
        ("paw_cmH2O", column(|sample| sample.2)),
        (name, times),
        ("flow_ml_per_s", column(|sample| sample.1)),
    ])
    .unwrap()
}

fn micros() -> Vec<i64> {
    samples().iter().map(|sample| sample.0).collect()
}

fn parquet(folder: &Folder, name: &str, batch: &RecordBatch) {
    let file = File::create(folder.path(name)).unwrap();
    let mut writer = ArrowWriter::try_new(file, batch.schema(), None).unwrap();
    writer.write(batch).unwrap();
    writer.close().unwrap();
}

#[test]
fn arrow_tables_are_read() {
    let folder = Folder::new();
    let whole = batch(Arc::new(Int64Array::from(micros())), "t_us");
    parquet(&folder, "a.parquet", &whole);
    same(&folder, &["a.parquet"]);
    let mut file =
        FileWriter::try_new(File::create(folder.path("a.arrow")).unwrap(), &whole.schema())
            .unwrap();
    // Two batches, and one without rows between.
    for part in [whole.slice(0, 411), whole.slice(411, 0), whole.slice(411, whole.num_rows() - 411)]
    {
        file.write(&part).unwrap();
    }
    file.finish().unwrap();
    same(&folder, &["a.arrow"]);
    let mut stream =
        StreamWriter::try_new(File::create(folder.path("s.arrows")).unwrap(), &whole.schema())
            .unwrap();
    stream.write(&whole).unwrap();
    stream.finish().unwrap();
    same(&folder, &["s.arrows"]);
    // From a pipe, a stream is read and a table is not.
    assert_eq!(replay_from(&folder.path("s.arrows"), folder.0.path(), &["-", "--quiet"]).code, 0);
    let piped = replay_from(&folder.path("a.parquet"), folder.0.path(), &["-"]);
    assert!(piped.code == 2 && piped.stderr.contains("give it as a file"), "{}", piped.stderr);
}

#[test]
fn dates_and_times_of_day_are_read() {
    let folder = Folder::new();
    let parquet = |name: &str, batch: &RecordBatch| parquet(&folder, name, batch);
    let whole = batch(Arc::new(Int64Array::from(micros())), "t_us");
    // Times as dates, with and without a zone.
    let nanos: Vec<_> = micros().iter().map(|us| (1_711_843_200_000_000 + us) * 1_000).collect();
    let zoned = TimestampNanosecondArray::from(nanos).with_timezone("UTC");
    parquet("zoned.parquet", &batch(Arc::new(zoned), "time"));
    same(&folder, &["zoned.parquet"]);
    let local = TimestampMicrosecondArray::from(micros());
    parquet("local.parquet", &batch(Arc::new(local), "time"));
    same(&folder, &["local.parquet", "--zone", "Europe/Berlin"]);
    let days: ArrayRef = Arc::new(StringArray::from(vec!["31/03/2024"; whole.num_rows()]));
    let clocks = micros().into_iter().map(|us| format!("10:00:{:09.6}", us as f64 / 1e6));
    let clocks: ArrayRef = Arc::new(clocks.map(Some).collect::<StringArray>());
    let values = || {
        ["flow_ml_per_s", "paw_cmH2O"]
            .map(|name| (name, whole.column_by_name(name).unwrap().clone()))
    };
    let two = [("Date", days), ("Time", clocks)].into_iter().chain(values());
    parquet("two.parquet", &RecordBatch::try_from_iter(two).unwrap());
    let said = same(&folder, &["two.parquet", "--zone", "UTC"]).stderr;
    assert!(said.contains("\"Date\" and \"Time\" in dates; dates with the day first"), "{said}");
    // Days and times of day in types of their own: 2024-03-31 is day 19,813; from a second before midnight on, over it.
    let day: ArrayRef = Arc::new(Date32Array::from(vec![19_813; whole.num_rows()]));
    let of_day = |us: i64| (86_399_000_000 + us) % 86_400_000_000;
    let clock: ArrayRef =
        Arc::new(micros().into_iter().map(Some).collect::<Time64MicrosecondArray>());
    let two = [("Date", day.clone()), ("Time", clock)].into_iter().chain(values());
    parquet("day.parquet", &RecordBatch::try_from_iter(two).unwrap());
    same(&folder, &["day.parquet", "--zone", "UTC"]);
    let nanos = micros().into_iter().map(|us| Some(1_000 * of_day(us)));
    let clock = Arc::new(nanos.collect::<Time64NanosecondArray>());
    parquet("clock.parquet", &batch(clock, "time"));
    let said = same(&folder, &["clock.parquet"]).stderr;
    assert!(said.contains("times of day without a date"), "{said}");
    parquet("days.parquet", &batch(day, "time"));
    let no = folder.run(&["days.parquet"]);
    assert!(no.code == 2 && no.stderr.contains("days alone tell no time"), "{}", no.stderr);
    let unsaid = folder.run(&["local.parquet"]);
    assert!(unsaid.code == 2 && unsaid.stderr.contains("--zone"), "{}", unsaid.stderr);
}

#[test]
fn hostile_files_are_errors() {
    let folder = Folder::new();
    let whole = batch(Arc::new(Int64Array::from(micros())), "t_us");
    parquet(&folder, "a.parquet", &whole);
    let good = fs::read(folder.path("a.parquet")).unwrap();
    let refused = |bytes: &[u8]| {
        fs::write(folder.path("bad.parquet"), bytes).unwrap();
        let outcome = folder.run(&["bad.parquet", "--breaths", "b.csv"]);
        assert!(!outcome.stderr.contains("overflow"), "{}", outcome.stderr);
        let refused = outcome.code == 2;
        assert!(!refused || outcome.stderr.contains("bad.parquet"), "{}", outcome.stderr);
        assert_eq!(refused, !folder.names().contains(&"b.csv".into()));
        let _ = fs::remove_file(folder.path("b.csv"));
        refused
    };
    assert!(refused(&good[..good.len() / 2]) && refused(b"PAR1") && refused(b"PAR1PAR1"));
    // A byte turned anywhere: an error or a table, never a crash.
    let turned = |at: usize| {
        let mut bytes = good.clone();
        bytes[at] ^= 0x55;
        bytes
    };
    let refusals =
        (4..good.len()).step_by(good.len() / 40).filter(|at| refused(&turned(*at))).count();
    // Most bytes are numbers, which may be others.
    assert!(refusals >= 3, "{refusals}");
    for bytes in [
        &b"ARROW1\0\0"[..],
        &[0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0x7f],
        &[0x1f, 0x8b, 8],
        &[0x28, 0xb5, 0x2f, 0xfd],
    ] {
        assert!(refused(bytes), "{bytes:?}");
    }
    // Columns without end.
    let many = (0..20_000).map(|n| n.to_string()).collect::<Vec<_>>().join(",");
    assert!(refused(format!("{}\n1\n", &many[..60_000]).as_bytes()));
}
