#!/usr/bin/env python3
"""A folder of recordings as tables, on Spark: what is distributed are the names of recordings, never rows.

    spark-submit by_spark.py RECORDINGS OUT              (or: python3 by_spark.py ..., on two cores here)

Both folders must be seen by every worker. `local[2,4]` tries a task four times; `local[2]` would never try again.
Advisory only; not a medical device.
"""

import sys

import pyarrow
from pyspark.sql import SparkSession

import tidevane

SETTINGS = {"weight_g": 1000}  # as in a settings file; single recordings have theirs beside them, as NAME.toml


def main(folder, out):
    archive = tidevane.Archive(folder, out, SETTINGS)

    def replay(batches):
        for batch in batches:
            for name in batch["name"].to_pylist():
                name, why = archive.replay(name)
                yield pyarrow.RecordBatch.from_pydict({"name": [name], "why": pyarrow.array([why], pyarrow.string())})

    spark = SparkSession.builder.master("local[2,4]").appName("tidevane").getOrCreate()
    names = [(name,) for name in archive.recordings()]
    paths = spark.createDataFrame(names, "name string").repartition(len(names))
    rows = paths.mapInArrow(replay, "name string, why string").collect()
    spark.stop()
    hours, breaths, failures = archive.finish([(row["name"], row["why"]) for row in rows])
    print(f"{breaths} breaths in {hours:.1f} h of {len(rows) - len(failures)} recordings; {len(failures)} failed")
    print("Advisory only, not a medical device.")
    return 2 if failures else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
