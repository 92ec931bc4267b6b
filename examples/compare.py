#!/usr/bin/env python3
"""The same recording through numpy and scipy, as a researcher would write it, and through the
release build of `replay`: timed side by side in one run, with the differences of the results.

    python3 examples/compare.py [RECORDING.csv]

Without a recording it makes one: an hour of a simulated passive lung on a leaky tube at 200 Hz.
No part of `cargo test`. Packages, pinned: numpy==2.4.6 scipy==1.17.1
"""

import csv
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

try:
    import numpy as np
    from scipy.integrate import cumulative_trapezoid
    from scipy.signal import butter, sosfiltfilt
except ImportError as missing:
    print(f"SKIPPED: {missing}; pip install numpy==2.4.6 scipy==1.17.1")
    sys.exit(0)

HERE = Path(__file__).resolve().parent.parent


def simulated(path, minutes=60, hertz=200):
    """C 1 mL/cmH2O, R 80 cmH2O·s/L, 15 over 5 cmH2O for 0.35 s, 40 a minute, k 0.8 mL/s/√cmH2O."""
    rng = np.random.default_rng(1)
    n, dt = minutes * 60 * hertz, 1 / hertz
    phase = (np.arange(n) * dt) % 1.5
    paw = 5 + 10 * np.clip(phase / 0.06, 0, 1) * (phase < 0.35)
    paw += 10 * np.clip(1 - (phase - 0.35) / 0.04, 0, 1) * (phase >= 0.35)
    flow, volume = np.empty(n), 5.0
    for i in range(n):
        flow[i] = (paw[i] - volume / 1.0) / 0.080
        volume += flow[i] * dt
    flow += 0.8 * np.sqrt(paw) + rng.normal(0, 0.3, n)
    paw = paw + rng.normal(0, 0.05, n)
    with open(path, "w") as out:
        out.write("t_us,flow_ml_per_s,paw_cmH2O\n")
        for i in range(n):
            out.write(f"{round(i * dt * 1e6)},{flow[i]:.4f},{paw[i]:.4f}\n")


def by_numpy(path):
    """Low-pass, leak, zero crossings, trapezoid, least squares; a row for each breath."""
    t, flow, paw = np.loadtxt(path, delimiter=",", skiprows=1, unpack=True)
    begun = time.perf_counter()
    t = t / 1e6
    hertz = 1 / np.median(np.diff(t))
    sos = butter(2, min(20, hertz / 4), fs=hertz, output="sos")
    smooth, drive = sosfiltfilt(sos, flow), np.sqrt(np.clip(paw, 0, None))
    # Over the whole recording the lung keeps its volume: what flows in net is leak.
    k = np.trapezoid(flow, t) / np.trapezoid(drive, t)
    lung = smooth - k * drive
    inward = lung > 0
    onsets = np.flatnonzero(~inward[:-1] & inward[1:]) + 1
    turns = np.flatnonzero(inward[:-1] & ~inward[1:]) + 1
    volume = cumulative_trapezoid(flow, t, initial=0)
    pure = cumulative_trapezoid(flow - k * drive, t, initial=0)
    # A breath moves a millilitre and goes in for a tenth of a second; noise about zero does not.
    breaths = []
    for onset in onsets:
        after = np.searchsorted(turns, onset)
        if after == turns.size:
            break
        turn = turns[after]
        if pure[turn] - pure[onset] > 1 and t[turn] - t[onset] > 0.1:
            breaths.append((onset, turn))
    rows = []
    for (onset, turn), (end, _) in zip(breaths[:-1], breaths[1:]):
        part = slice(onset, end)
        v, q = pure[part] - pure[onset], (flow - k * drive)[part]
        a = np.column_stack([np.ones(v.size), v, q])
        (_, elastance, resistance), *_ = np.linalg.lstsq(a, paw[part], rcond=None)
        rows.append(
            {
                "onset": t[onset],
                "insp_ml": volume[turn] - volume[onset],
                "exp_ml": volume[turn] - volume[end],
                "corrected_ml": pure[turn] - pure[onset],
                "compliance_ml_per_cmH2O": 1 / elastance,
                "resistance_cmH2O_s_per_l": resistance * 1e3,
            }
        )
    return rows, time.perf_counter() - begun


def by_replay(path, folder):
    build = ["cargo", "build", "--release", "--quiet", "-p", "tidevane-replay"]
    subprocess.run(build, cwd=HERE, check=True)
    about = ["cargo", "metadata", "--no-deps", "--format-version", "1"]
    about = json.loads(subprocess.check_output(about, cwd=HERE))
    program = Path(about["target_directory"]) / "release/replay"
    out = Path(folder) / "breaths.csv"
    begun = time.perf_counter()
    subprocess.run([program, path, "--quiet", "--breaths", out], check=True)
    took = time.perf_counter() - begun
    with open(out) as breaths:
        rows = [{k: float(v or "nan") for k, v in row.items() if k not in
                 ("kind", "initiation", "flags", "support")} | {"onset": float(row["onset_us"]) / 1e6}
                for row in csv.DictReader(breaths) if not row["flags"]]
    return rows, took


def main():
    with tempfile.TemporaryDirectory() as folder:
        path = sys.argv[1] if len(sys.argv) > 1 else Path(folder) / "simulated.csv"
        if len(sys.argv) < 2:
            simulated(path)
        ours, ours_took = by_replay(path, folder)
        begun = time.perf_counter()
        theirs, counting = by_numpy(path)
        theirs_took = time.perf_counter() - begun
    print(f"replay       {ours_took:8.3f} s, reading included; {len(ours)} breaths without a flag")
    print(f"numpy, scipy {theirs_took:8.3f} s, reading included ({counting:.3f} s without); "
          f"{len(theirs)} breaths")
    onsets = np.array([row["onset"] for row in theirs])
    pairs = []
    for row in ours:
        i = int(np.argmin(np.abs(onsets - row["onset"]))) if onsets.size else None
        if i is not None and abs(onsets[i] - row["onset"]) < 0.1:
            pairs.append((row, theirs[i]))
    print(f"{len(pairs)} breaths of both, onsets within 0.1 s")
    print(f"{'quantity':<28}{'n':>7}{'median here':>13}{'median there':>14}{'rms apart':>11}")
    for name in ("onset", "insp_ml", "exp_ml", "corrected_ml", "compliance_ml_per_cmH2O",
                 "resistance_cmH2O_s_per_l"):
        both = np.array([(a[name], b[name]) for a, b in pairs])
        both = both[~np.isnan(both).any(axis=1)] if both.size else both
        if not both.size:
            continue
        apart = np.sqrt(np.mean((both[:, 0] - both[:, 1]) ** 2))
        here, there = np.median(both, axis=0) if name != "onset" else (np.nan, np.nan)
        print(f"{name:<28}{len(both):>7}{here:>13.3f}{there:>14.3f}{apart:>11.4f}")


if __name__ == "__main__":
    main()
