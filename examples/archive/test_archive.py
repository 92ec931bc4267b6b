"""Forty recordings over two worker processes, one of which is killed half way: the rows of one process.

The engine is the one that ENGINE names: dask, or spark. The program is the one that REPLAY names.
"""

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pyarrow.parquet as pq
import pytest

HERE = Path(__file__).parent
REPLAY = os.environ["REPLAY"]
ENGINE = os.environ["ENGINE"]
RECORDINGS = 40


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("archive")
    subprocess.run([REPLAY, "--save-demo", folder / "demo.parquet"], check=True)
    demo = pq.read_table(folder / "demo.parquet")
    for n in range(RECORDINGS):
        ward = folder / "all" / f"ward{n % 3}"
        ward.mkdir(parents=True, exist_ok=True)
        pq.write_table(demo.slice(n * 6_000, 120_000), ward / f"r{n:02}.parquet")
    (folder / "all" / "broken.csv").write_text("when,flow\n1,2\n")
    (folder / "s.toml").write_text("weight_g = 1000\n")
    args = ["--many", "all", "--out", "alone", "--settings", "s.toml", "--quiet"]
    assert subprocess.run([REPLAY, *args], cwd=folder).returncode == 2
    return folder


def tables(folder):
    return sorted(path.relative_to(folder) for path in folder.rglob("*") if path.is_file())


def workers(parent):
    """The processes below one that replay: those that have the package's library mapped."""
    found, left = [], [parent]
    while left:
        pid = left.pop()
        try:
            for thread in Path(f"/proc/{pid}/task").iterdir():
                left += map(int, (thread / "children").read_text().split())
            if pid != parent and "_tidevane" in Path(f"/proc/{pid}/maps").read_text():
                found.append(pid)
        except (FileNotFoundError, ProcessLookupError):
            pass
    return found


def test_a_killed_worker_costs_nothing(folder):
    program = HERE / f"by_{ENGINE}.py"
    run = subprocess.Popen([sys.executable, program, "all", "out"], cwd=folder, stdout=subprocess.PIPE, text=True)
    done = lambda: len(list((folder / "out" / "summary").rglob("*.csv")))
    killed = []

    def kill():
        while run.poll() is None and not killed:
            if done() >= RECORDINGS // 4:
                for pid in workers(run.pid)[-1:]:
                    os.kill(pid, signal.SIGKILL)
                    killed.append((pid, done()))
            time.sleep(0.005)

    thread = threading.Thread(target=kill)
    thread.start()
    said = run.communicate(timeout=600)[0]
    thread.join()
    assert killed and killed[0][1] < RECORDINGS, f"no worker was killed half way: {killed}"
    # One recording is broken, and said so.
    assert run.returncode == 2 and f"{RECORDINGS} recordings; 1 failed" in said, said
    names = [name for name in tables(folder / "alone")]
    assert tables(folder / "out") == names and len(names) == 4 * RECORDINGS + 2
    for name in names:
        if name.suffix == ".parquet":
            assert pq.read_table(folder / "out" / name).equals(pq.read_table(folder / "alone" / name)), name
    rows = lambda out: [line.rsplit(",", 1)[0] for line in (folder / out / "summary.csv").read_text().splitlines()]
    assert rows("out") == rows("alone")
