#!/usr/bin/env python3
"""Figures of a recording: volumes by kind of breath, leak and minute volume.

    python3 example.py RECORDING [OUT.png]

Advisory only; not a medical device.
"""

import sys

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt

import tidevane

source = sys.argv[1]
out = sys.argv[2] if len(sys.argv) > 2 else "figures.png"
seen = tidevane.replay(source, {"weight_g": 980, "threshold_lpm": 0.2})
breaths, minutes = seen.breaths.to_pandas(), seen.minutes.to_pandas()
breaths = breaths[breaths["flags"] == ""]

figure, (volumes, leak, minute) = plt.subplots(3, 1, sharex=True, figsize=(9, 8), layout="constrained")
for kind, mark in (("inflation", "."), ("own", "x")):
    some = breaths[breaths["kind"] == kind]
    volumes.plot(some["time_us"] / 60e6, some["exp_ml"], mark, ms=3, label=kind)
volumes.set_ylabel("expired volume (mL)")
volumes.legend()
leak.plot(minutes["minute"] + 0.5, 100 * minutes["leak_share"], ".-")
leak.set_ylabel("leak (% of inspired)")
minute.plot(minutes["minute"] + 0.5, minutes["trusted_exp_ml"], ".-")
minute.set_ylabel("expired a minute (mL),\nbreaths without a flag")
minute.set_xlabel("time (min)")
figure.suptitle("Advisory only; not a medical device", fontsize=9)
figure.savefig(out, dpi=100)
print(f"{seen.breaths.num_rows} breaths; {out}. Advisory only, not a medical device.")
