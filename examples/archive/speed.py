#!/usr/bin/env python3
"""What the doors cost: the same recordings from text, from Parquet, from Python, by Dask, by Spark, and what numpy
and scipy take for less, in one run on one machine. Prints the table of src/guide/researcher.md.

    python3 speed.py REPLAY [RECORDINGS]        (the program; 24 hours of the built-in demo)

What is not installed is left out, and said.
"""

import os
import subprocess
import sys
import tempfile
import time
from multiprocessing import Pool
from pathlib import Path

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent))
HOUR = 360_000  # samples
RUNS = 3


def by_python(path):
    import tidevane

    tidevane.replay(path, {"weight_g": 1000})


def main(replay, recordings=24):
    recordings = int(recordings)
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        for kind in ("csv", "parquet"):
            (folder / kind).mkdir()
            subprocess.run([replay, "--save-demo", folder / f"demo.{kind}"], check=True)
            for n in range(recordings):
                os.link(folder / f"demo.{kind}", folder / kind / f"r{n:03}.{kind}")

        def many(kind, cores):
            args = [replay, "--many", folder / kind, "--out", folder / "out", "--quiet"]
            subprocess.run(args, env=os.environ | {"RAYON_NUM_THREADS": str(cores)}, check=True)

        def engine(name):
            args = [sys.executable, HERE / f"by_{name}.py", folder / "parquet", folder / "out"]
            subprocess.run(args, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

        def pool():
            with Pool(2) as workers:
                workers.map(by_python, sorted((folder / "parquet").iterdir()))

        def numpy():
            from compare import by_numpy

            by_numpy(folder / "demo.csv")

        ways = [
            ("`--many`, CSV", 1, recordings, lambda: many("csv", 1)),
            ("`--many`, CSV", 2, recordings, lambda: many("csv", 2)),
            ("`--many`, Parquet", 1, recordings, lambda: many("parquet", 1)),
            ("`--many`, Parquet", 2, recordings, lambda: many("parquet", 2)),
            ("Python, `multiprocessing`, Parquet", 2, recordings, pool),
            ("Dask, Parquet, with its start", 2, recordings, lambda: engine("dask")),
            ("Spark, Parquet, with its start", 2, recordings, lambda: engine("spark")),
            ("numpy and scipy, CSV, volumes and a fit alone", 1, 1, numpy),
        ]
        for name, cores, hours, run in ways:
            took = []
            try:
                for _ in range(RUNS):
                    subprocess.run(["rm", "-rf", folder / "out"], check=True)
                    begun = time.perf_counter()
                    run()
                    took.append(time.perf_counter() - begun)
            except (ImportError, subprocess.CalledProcessError) as why:
                print(f"SKIPPED: {name}: {why}")
                continue
            rows.append((name, cores, hours * HOUR / min(took) / 1e6))
    print("| way | cores | million samples/s | 10,000 patient-days at 100 Hz, core-hours |\n|---|---:|---:|---:|")
    for name, cores, speed in rows:
        print(f"| {name} | {cores} | {speed:.2f} | {10_000 * 86_400 * 100 / (speed * 1e6) * cores / 3_600:.0f} |")


if __name__ == "__main__":
    main(*sys.argv[1:])
