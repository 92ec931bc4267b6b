#!/usr/bin/env python3
"""A folder of recordings as tables, on a Dask cluster: what is distributed are the names of recordings, never rows.

    python3 by_dask.py RECORDINGS OUT [SCHEDULER]        (tcp://host:8786; without one: two workers here)

Both folders must be seen by every worker. A worker that dies has its recordings tried again elsewhere; a run that
was killed goes on where it was. Advisory only; not a medical device.
"""

import sys

from dask.distributed import Client, LocalCluster, as_completed

import tidevane

SETTINGS = {"weight_g": 1000}  # as in a settings file; single recordings have theirs beside them, as NAME.toml


def main(folder, out, scheduler=None):
    archive = tidevane.Archive(folder, out, SETTINGS)
    with Client(scheduler or LocalCluster(n_workers=2, threads_per_worker=1)) as client:
        futures = client.map(archive.replay, archive.recordings(), pure=False, retries=3)
        outcomes = [outcome for _, outcome in as_completed(futures, with_results=True)]
    hours, breaths, failures = archive.finish(outcomes)
    print(f"{breaths} breaths in {hours:.1f} h of {len(outcomes) - len(failures)} recordings; {len(failures)} failed")
    print("Advisory only, not a medical device.")
    return 2 if failures else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
